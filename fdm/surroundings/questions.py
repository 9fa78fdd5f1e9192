"""Any question about a film, answered; and how the answer goes with flow, speed or temperature."""

from dataclasses import dataclass, replace

import numpy as np

from fdm.errors import InputError, checked, require_types
from fdm.surroundings.air import Array, air_at
from fdm.surroundings.driven import AlongPlate, Channels, Impinging
from fdm.surroundings.fans import HOUR, at_density
from fdm.surroundings.film import COLDEST, HOTTEST, Conditions, Film
from fdm.surroundings.plausible import unlikely_numbers
from fdm.surroundings.rooms import Indoors, Outdoors
from fdm.surroundings.still import Gap, StillFace, StillFins

Question = StillFace | StillFins | Gap | AlongPlate | Channels | Impinging | Indoors | Outdoors

PLACES = 41  # on a curve
BEYOND = 1.6  # a curve without a fan goes so far beyond what was asked
WIDEST_DIFFERENCE = 60.0  # K, at least, of a curve over it
LEAST_DIFFERENCE = 0.1  # K: no air is so still that it moves less than with this


@checked
def film_of(question: Question, at: Conditions) -> Film:
    """The film that answers a question at these conditions.

    Raises InputError where the relation needs a temperature of the surface and there is none, where a fan's curve is
    not met, and where the numbers come to no finite film.

    >>> from fdm.surroundings.fins import fins_across
    >>> fins = fins_across(width=0.1, length=0.1, height=0.03, thickness=0.001, count=25)
    >>> found = film_of(Channels(fins, speed=5.0381, conductivity=200), Conditions(temperature=25))
    >>> round(found.convective, 2), round(found.film, 1), round(found.uncertainty, 3)
    (35.21, 485.9, 0.055)
    """
    try:
        with np.errstate(all="ignore"):
            found = question.film(at)
    except InputError:
        raise
    except (ArithmeticError, ValueError):  # a number too large or too small for a relation, or for a root to be found
        found = None
    if found is None or not (np.isfinite(found.film) and found.film > 0):
        raise InputError("flow: with these numbers the relation comes to no film; give dimensions and flows that exist")
    surface = at.surface if depends_on_surface(question, at) else None
    return replace(found, surface=surface, notes=(*unlikely_numbers(question), *found.notes))


def depends_on_surface(question: Question, at: Conditions) -> bool:
    """Whether a film needs the temperature of its surface: where air moves by its own warmth, and for radiation."""
    return isinstance(question, (StillFace, StillFins, Gap)) or at.emissivity is not None


@dataclass(frozen=True)
class Following:
    """A film that follows the temperature of its surface: all that its question is asked at but the two temperatures.
    The film is `factor` times what the relation gives."""

    question: Question
    emissivity: float | None = None
    altitude: float = 0.0
    factor: float = 1.0

    def __post_init__(self) -> None:
        require_types(self)

    def film(self, temperature: float, surface: float) -> Film:
        """The film between air and a surface (degC). One that is as warm as the air is taken to be a little warmer, and
        none is taken to be beyond what relations know of.

        >>> face = Following(StillFace("vertical", height=0.1))
        >>> [round(face.film(25, surface).film, 2) for surface in (25, 45, 1e9)]
        [1.51, 5.15, 7.45]
        """
        surface = min(max(surface, COLDEST), HOTTEST)
        if abs(surface - temperature) < LEAST_DIFFERENCE:
            surface = temperature + (LEAST_DIFFERENCE if surface >= temperature else -LEAST_DIFFERENCE)
        found = film_of(self.question, Conditions(temperature, surface, self.emissivity, self.altitude))
        return replace(found, film=self.factor * found.film)


@dataclass(frozen=True)
class Curve:
    """Films (P,) over `x` (P,), of which `words` say what it is; `here` is the x that was asked. With a flow (m3/h) for
    x there are the `pressure` that the fins ask for and, with a fan, what it gives (P,), Pa."""

    words: str
    x: Array
    film: Array
    here: float
    pressure: Array | None = None
    fan: Array | None = None


@checked
def curve_of(question: Question, at: Conditions) -> Curve | None:
    """How a film goes with the flow, the speed or the temperature difference; None where it depends on none."""
    match question:
        case Channels() | Impinging() if question.fins.count is not None and not getattr(question, "open", False):
            return _over_flow(question, at)
        case Channels():
            asked = film_of(question, at)
            here = asked.number("speed")
            alone = replace(question, speed=here, approach=None, open=False)
            speeds = _up_to(BEYOND * here)
            films = [film_of(replace(alone, speed=u), at).film for u in speeds]
            return Curve("speed between the fins (m/s)", speeds, np.array(films), here)
        case AlongPlate() | Outdoors():
            here = 4.0 if question.speed is None else question.speed
            speeds = _up_to(BEYOND * max(here, 1.0))
            films = [film_of(replace(question, speed=u), at).film for u in speeds]
            return Curve("speed (m/s)", speeds, np.array(films), here)
        case StillFace() | StillFins() | Gap():
            here = at.needed_surface("the film") - at.temperature
            differences = np.copysign(_up_to(max(BEYOND * abs(here), WIDEST_DIFFERENCE)), here)
            films = [film_of(question, replace(at, surface=at.temperature + d)).film for d in differences]
            words = "between the faces (K)" if isinstance(question, Gap) else "surface warmer than the air by (K)"
            return Curve(words, differences, np.array(films), here)
    return None


def _over_flow(question: Channels | Impinging, at: Conditions) -> Curve:
    air = air_at(at.temperature, at.altitude)
    asked = film_of(question, at)
    here = asked.number("volume_flow") / asked.number("share", 1.0)  # m3/h, of the duct
    flows = _up_to(BEYOND * here)
    if question.fan is not None:
        flows = np.unique(np.append(_up_to(HOUR * question.fan.free_flow), HOUR * np.array(question.fan.flow)))
        flows = flows[flows > 0]
    found = [film_of(question.with_flow(q / HOUR), at) for q in flows]
    fan = None
    if question.fan is not None:
        fan = at_density(question.fan, float(air.density)).pressure_at(flows / HOUR)
    return Curve(
        "flow (m³/h)",
        flows,
        np.array([f.film for f in found]),
        here,
        np.array([f.number("pressure_drop") for f in found]),
        fan,
    )


def _up_to(most: float) -> Array:
    """Places up to `most`, closer where films change fast."""
    return np.asarray(most * np.linspace(0.02, 1, PLACES) ** 2)
