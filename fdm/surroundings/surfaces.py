"""Surface resistances of building elements, ISO 6946:2017: what designers of walls take for a film.

Values from memory of the standard; those of walls were seen elsewhere, and the formula rounds to all of them.
"""

from fdm.errors import InputError, nearest
from fdm.surroundings.radiation import radiative_film

DIRECTIONS = ("up", "horizontal", "down")  # of the heat
INDOOR_RESISTANCE = dict(zip(DIRECTIONS, (0.10, 0.13, 0.17)))  # m2 K/W
OUTDOOR_RESISTANCE = 0.04
INDOOR_CONVECTION = dict(zip(DIRECTIONS, (5.0, 2.5, 0.7)))  # W/(m2 K)


def require_direction(heat: str) -> None:
    """Raise InputError for what is no direction of heat."""
    if heat not in DIRECTIONS:
        raise InputError(f"heat: {heat!r} is no direction of heat; {nearest(heat, DIRECTIONS)}")


def outdoor_convection(wind: float) -> float:
    """4 + 4 v, W/(m2 K), v being the speed of the wind near the surface, m/s.

    >>> outdoor_convection(4)
    20
    """
    return 4 + 4 * wind


def mean_radiation(emissivity: float, temperature: float) -> float:
    """h_r = 4 e s T^3 at the mean temperature (degC) of a surface and what it faces, W/(m2 K).

    >>> round(mean_radiation(0.9, 20), 3), round(1 / (INDOOR_CONVECTION["horizontal"] + mean_radiation(0.9, 20)), 3)
    (5.143, 0.131)
    """
    return float(radiative_film(emissivity, temperature, temperature))
