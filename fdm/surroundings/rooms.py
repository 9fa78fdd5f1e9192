"""Faces of walls indoors and outdoors, by ISO 6946."""

from dataclasses import dataclass

from fdm.errors import require_types
from fdm.surroundings.film import (
    FACE,
    USED_ALL_THE_SAME,
    Conditions,
    Film,
    Number,
    doubled_outside,
    outside,
    require_positive,
)
from fdm.surroundings.surfaces import (
    INDOOR_CONVECTION,
    INDOOR_RESISTANCE,
    OUTDOOR_RESISTANCE,
    mean_radiation,
    outdoor_convection,
    require_direction,
)

INDOOR, OUTDOOR = 0.2, 0.3  # relative standard uncertainties of one face at one time: common practice, no source
RELATION = "ISO 6946:2017"
FASTEST = 10.0  # m/s: the standard's table of wind goes so far (from memory)


@dataclass(frozen=True)
class Indoors:
    """A face in a room, through which `heat` goes "up", "down" or "horizontal"."""

    heat: str

    def __post_init__(self) -> None:
        require_types(self)
        require_direction(self.heat)

    def film(self, at: Conditions) -> Film:
        return _iso(at, INDOOR_RESISTANCE[self.heat], INDOOR_CONVECTION[self.heat], INDOOR)


@dataclass(frozen=True)
class Outdoors:
    """A face in the open, in wind of a `speed` near it (m/s)."""

    speed: float | None = None

    def __post_init__(self) -> None:
        require_types(self)
        require_positive("speed", self.speed, or_zero=True)

    def film(self, at: Conditions) -> Film:
        wind = 4.0 if self.speed is None else self.speed
        convection = outdoor_convection(wind)
        resistance = OUTDOOR_RESISTANCE
        if self.speed is not None:  # the standard's own emissivity, and its temperature in winter
            resistance = 1 / (convection + mean_radiation(0.9, 0.0))
        return _iso(at, resistance, convection, OUTDOOR, outside("wind (m/s)", wind, 0, FASTEST, USED_ALL_THE_SAME))


def _iso(
    at: Conditions, resistance: float, convective: float, uncertainty: float, beyond: tuple[str, ...] = ()
) -> Film:
    relation = RELATION
    if at.emissivity is None:
        film, relation = 1 / resistance, f"{RELATION}, with the radiation of an emissivity of 0.9 in it"
        convective = min(convective, film)
    else:
        film = convective + mean_radiation(at.emissivity, at.mean)
    numbers = (Number("surface_resistance", "surface resistance", 1 / film, "m2 K/W"),)
    unsure = doubled_outside(uncertainty, beyond)
    return Film(film, unsure, convective, film - convective, FACE, relation, numbers, beyond)
