"""Closed air gaps and cavities as a solid: the conductivity that, in their place, passes as much heat.

    k = d (h_a + h_r)        d along the heat flow, b across it

The air conducts or, where that carries more, moves: h_a. What the two faces radiate is h_r. The forms are those of the
standards, ISO 6946 for wide gaps and ISO 10077-2 for cavities in frames (both from memory). Both standards take air of
10 degC, 0.025 W/(m K), for resting air; here it has its own temperature. Numbers and arrays broadcast.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fdm.surroundings.air import ZERO_CELSIUS, Array, air_at
from fdm.surroundings.film import outside
from fdm.surroundings.radiation import between_plates, radiative_film

UP, LEVEL, DOWN = 1, 0, -1  # which way heat goes
NARROW = 0.005  # m; air between walls so near does not move (ISO 10077-2)
WIDEST = 0.3  # m; beyond, both standards take a gap for a room
DEEP = 3.0  # times: cavities so much deeper than wide radiate less than the form says
UNCERTAINTY = 0.10  # relative, standard: common practice, no source; h_r is 15 % off where d = 3 b


def moving_air(thickness: ArrayLike, difference: ArrayLike, heat: ArrayLike) -> Array:
    """h_a of air that moves between two faces, W/(m2 K): ISO 6946 and, where heat goes level, ISO 10077-2. `heat` is
    UP, LEVEL or DOWN.

        up 1.14 dT^(1/3)      level 0.73 dT^(1/3)      down 0.09 dT^0.187 d^-0.44

    ISO 6946 has the values of 5 K for all that is less.

    >>> moving_air(0.05, 5, [UP, LEVEL, DOWN]).round(2)
    array([1.95, 1.25, 0.45])
    """
    d, rise = np.asarray(thickness, float), np.asarray(heat)
    dt = np.abs(np.asarray(difference, float))
    from_below = np.where(rise == UP, 1.14, 0.73) * np.cbrt(dt)
    return np.asarray(np.where(rise == DOWN, 0.09 * dt**0.187 * d**-0.44, from_below))


def seen_across(thickness: ArrayLike, width: ArrayLike) -> Array:
    """How much two faces see of each other and, by way of walls between them that take no heat, exchange: 1 where they
    are wide. F = (1 + sqrt(1 + (d/b)^2) - d/b) / 2, ISO 10077-2.

    >>> seen_across([0.001, 0.01, 0.02], [1, 0.03, 0.02]).round(3)
    array([1.   , 0.86 , 0.707])
    """
    deep = np.asarray(thickness, float) / np.asarray(width, float)
    return np.asarray((1 + np.sqrt(1 + deep**2) - deep) / 2)


@dataclass(frozen=True)
class Cavities:
    """K closed gaps at their temperatures, as arrays (K,) or numbers: `thickness` along the heat flow and `width`
    across it (m), the mean temperature of their faces (degC), the difference between these (K), and which way heat
    goes: UP, LEVEL or DOWN."""

    thickness: Array
    width: Array
    mean: Array
    difference: Array
    heat: Array

    def films(self, emissivity: tuple[float, float]) -> tuple[Array, Array]:
        """h_a and h_r, W/(m2 K), between faces of two emissivities.

        >>> cavity = Cavities(0.010, 0.030, 10.0, 10.0, LEVEL)  # the fixed values of ISO 10077-2
        >>> h_a, h_r = cavity.films((0.9, 0.9))
        >>> float((cavity.thickness * (h_a + h_r)).round(4))
        0.0614
        """
        still = air_at(self.mean).conductivity / self.thickness
        moving = moving_air(self.thickness, self.difference, self.heat)
        carried = np.where(np.asarray(self.width) < NARROW, still, np.maximum(still, moving))
        half = np.minimum(np.asarray(self.difference) / 2, self.mean + ZERO_CELSIUS)  # no face is below absolute zero
        radiated = radiative_film(between_plates(*emissivity), self.mean + half, self.mean - half)
        return carried, np.asarray(radiated * seen_across(self.thickness, self.width))

    def conductivity(self, emissivity: tuple[float, float]) -> Array:
        """(K,) W/(m K) of a solid in their place."""
        carried, radiated = self.films(emissivity)
        return np.asarray(self.thickness * (carried + radiated))

    def notes(self) -> tuple[str, ...]:
        """What is outside of the forms' range, in words."""
        thickest, deepest = float(np.max(self.thickness)), float(np.max(self.thickness / self.width))
        return (
            *outside(
                "thickness (m)", thickest, 0, WIDEST, "it is more a room than a gap; give the air of an environment"
            ),
            *outside("thickness over width", deepest, 0, DEEP, "radiation along it is less, by a third and more"),
        )
