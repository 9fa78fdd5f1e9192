"""Still air: plates, fins and closed gaps, from their dimensions and temperatures to a film."""

import math
from dataclasses import dataclass

from fdm.errors import InputError, nearest, require_types
from fdm.surroundings.air import air_at, notes, rayleigh
from fdm.surroundings.film import (
    FACE,
    USED_ALL_THE_SAME,
    Conditions,
    Film,
    Number,
    combined,
    doubled_outside,
    outside,
    require_positive,
)
from fdm.surroundings.finned import finned, walls
from fdm.surroundings.fins import FinArray
from fdm.surroundings.gaps import gap_heated_below, vertical_gap
from fdm.surroundings.natural import (
    channel,
    horizontal_plate_stable,
    horizontal_plate_unstable,
    optimum_gap,
    vertical_plate,
    vertical_plate_laminar,
)
from fdm.surroundings.radiation import between_plates, radiative_film
from fdm.surroundings.surfaces import require_direction

FACES = ("vertical", "up", "down")
NATURAL = "natural convection"
SMALL = 0.3  # m: up to this height a plate's flow is taken as laminar
PLATE, UNSTABLE, STABLE, CHANNEL, GAP = 0.10, 0.20, 0.25, 0.10, 0.10  # relative standard uncertainties
LEVEL_BASE, LEVEL_SPREAD = 0.9, 0.06  # fins up on a level base, beside upright ones: 0.8 to 1.0 (from memory)
BOX = 0.5  # of fins that lie otherwise, taken as a solid box
APART, LAMINAR = 100.0, 1e9  # El from which each fin warms air of its own; Ra of a length up to which that is laminar
SHORT = 2.0  # fins shorter than so many gaps breathe through their front


@dataclass(frozen=True)
class StillFace:
    """A bare face in still air: `face` "vertical" with its `height` (m), or level, "up" or "down", with `length` and
    `width`."""

    face: str
    height: float | None = None
    length: float | None = None
    width: float | None = None

    def __post_init__(self) -> None:
        require_types(self)
        _require_face(self.face)
        for key in ("height",) if self.face == "vertical" else ("length", "width"):
            if getattr(self, key) is None:
                raise InputError(f"{key}: missing; the film of a face that is {self.face} depends on it")
        for key in ("height", "length", "width"):
            require_positive(key, getattr(self, key))

    def film(self, at: Conditions) -> Film:
        surface = at.needed_surface(NATURAL)
        air, difference = air_at(at.mean, at.altitude), surface - at.temperature
        numbers: tuple[Number, ...] = ()
        if self.face == "vertical":
            length = self.height or 0.0
        else:
            sides = (self.length or 0.0, self.width or 0.0)
            length = sides[0] * sides[1] / (2 * sum(sides))
        ra, pr = float(rayleigh(air, difference, length)), float(air.prandtl)
        if self.face == "vertical":
            both = [float(form(ra, pr)) for form in (vertical_plate_laminar, vertical_plate)]
            small = length <= SMALL
            nu, other = both if small else both[::-1]
            unsure = (PLATE**2 + (0.5 * (other / nu - 1)) ** 2) ** 0.5
            relation = f"Churchill and Chu 1975, {'laminar' if small else 'all flows'}"
            limits = (1e3, 1e9) if small else (1e3, 1e12)
            words = f"film by their form for {'all flows' if small else 'laminar flow'}"
            numbers += (Number("film_other_form", words, other * float(air.conductivity) / length, "W/(m2 K)"),)
        elif (self.face == "up") == (difference > 0):
            nu, unsure, relation = float(horizontal_plate_unstable(ra, pr)), UNSTABLE, "Raithby and Hollands, unstable"
            limits = (1.0, 1e10)
        else:
            nu, unsure, relation = float(horizontal_plate_stable(ra, pr)), STABLE, "Raithby and Hollands, stable"
            limits = (1e3, 1e10)
        beyond = outside("Ra", ra, *limits, USED_ALL_THE_SAME)
        convective = nu * float(air.conductivity) / length
        radiative = 0.0
        if at.emissivity is not None:
            radiative = float(radiative_film(at.emissivity, surface, at.temperature))
        return Film(
            convective + radiative,
            combined(convective, doubled_outside(unsure, beyond), radiative),
            convective,
            radiative,
            FACE,
            relation,
            (Number("rayleigh", "Ra", ra), Number("nusselt", "Nu", nu), *numbers),
            (*notes(air), *beyond),
        )


@dataclass(frozen=True)
class StillFins:
    """Fins in still air on a base whose `face` is "vertical", "up" or "down". They run `along` the "vertical" (up and
    down) or the "horizontal". `conductivity` of the fins (W/(m K)) asks for the film of the base."""

    fins: FinArray
    face: str = "vertical"
    along: str | None = None
    conductivity: float | None = None

    def __post_init__(self) -> None:
        require_types(self)
        _require_face(self.face)
        if self.along not in (None, "vertical", "horizontal"):
            raise InputError(f"along: {self.along!r} is no direction; {nearest(self.along or '', FACES[:1])}")
        if self._lies_otherwise and self.fins.count is None:
            raise InputError("width: missing; fins that lie so are taken as a box, whose size depends on it")
        if self.face != "vertical" and self.along == "vertical":
            raise InputError(f"along: fins cannot run up and down on a base that faces {self.face}; leave it out")
        require_positive("conductivity", self.conductivity)

    @property
    def _lies_otherwise(self) -> bool:
        """Whether the fins lie in a way that no relation is known for."""
        return self.face == "down" or (self.face == "vertical" and self.along == "horizontal")

    def film(self, at: Conditions) -> Film:
        surface = at.needed_surface(NATURAL)
        if self._lies_otherwise:
            return self._as_box(at, surface)
        air, difference = air_at(at.mean, at.altitude), surface - at.temperature
        fins, level = self.fins, self.face == "up"
        elenbaas = float(rayleigh(air, difference, fins.gap)) * fins.gap / fins.length
        nu = float(channel(elenbaas)) * (LEVEL_BASE if level else 1.0)
        convective, unsure, told = nu * float(air.conductivity) / fins.gap, CHANNEL, notes(air)
        if elenbaas > APART:
            beyond = outside(
                "Ra of the length", float(rayleigh(air, difference, fins.length)), 0, LAMINAR, USED_ALL_THE_SAME
            )
            unsure, told = doubled_outside(unsure, beyond), (*told, *beyond)
        if level:
            unsure = math.hypot(unsure, LEVEL_SPREAD)
            told += (f"fins up on a level base: taken as {LEVEL_BASE:g} of upright ones (0.8 to 1.0, from memory)",)
            if difference < 0:
                told += ("a cold base that faces up holds its cold air: the film may be far less",)
        if fins.height < SHORT * fins.gap:
            told += (
                f"the fins are {fins.height / fins.gap:.2g} times as high as the gap between them is wide, below "
                + f"{SHORT:g}: air comes in from the front, and the film is higher than said",
            )
        best = optimum_gap(air, difference, fins.length, fins.thickness)
        numbers = (
            Number("elenbaas", "El", elenbaas),
            Number("nusselt", "Nu", nu),
            Number("optimum_gap", "gap that would take most heat from this base", 1e3 * best, "mm"),
        )
        relation = "Bar-Cohen and Rohsenow 1984, walls of one temperature"
        outside_plate = StillFace("vertical", height=fins.height if level else fins.length)
        outer = outside_plate.film(at).film if fins.count is not None else 0.0
        carried = walls(convective, unsure, relation, numbers, told)
        return finned(fins, at, self.conductivity, carried, outer)

    def _as_box(self, at: Conditions, surface: float) -> Film:
        """The fins as a solid box: a lower bound, as no relation is known that would hold for any such fins."""
        fins = self.fins
        if self.face == "down":
            front = StillFace("down", length=fins.length, width=fins.width)
        else:
            front = StillFace("vertical", height=fins.width)
        outer = fins.width * fins.length + 2 * fins.height * (fins.width + fins.length)
        found = front.film(Conditions(at.temperature, surface, None, at.altitude))
        lie = "under a base that faces down" if self.face == "down" else "level on an upright base"
        said = (f"fins that lie {lie} are not modelled: taken as a solid box, of which only the outside takes part; "
                "the true film is higher")  # fmt: skip
        relation = f"{found.relation}, on the outside of the fins as a box"
        convective = found.film * outer / fins.area
        carried = walls(convective, BOX, relation, found.numbers[:2], (*found.notes, said))
        return finned(fins, at, self.conductivity, carried)


@dataclass(frozen=True)
class Gap:
    """A closed gap of air, `thickness` from face to face and `height` high (m), through which `heat` goes "up", "down"
    or "horizontal". One face has the temperature of the conditions, the other that of the surface; both have the same
    emissivity, unless `other_emissivity` is given."""

    thickness: float
    heat: str
    height: float | None = None
    other_emissivity: float | None = None

    def __post_init__(self) -> None:
        require_types(self)
        require_direction(self.heat)
        require_positive("thickness", self.thickness)
        require_positive("height", self.height)
        if self.heat == "horizontal" and self.height is None:
            raise InputError("height: missing; the flow in an upright gap depends on it")
        if self.other_emissivity is not None and not 0 < self.other_emissivity <= 1:
            raise InputError(f"other_emissivity: {self.other_emissivity:g} is not above 0 and at most 1")

    def film(self, at: Conditions) -> Film:
        other = at.needed_surface("the flow in the gap")
        air, d = air_at(at.mean, at.altitude), self.thickness
        ra = float(rayleigh(air, other - at.temperature, d))
        beyond: tuple[str, ...] = ()
        if self.heat == "horizontal":
            aspect = (self.height or 0.0) / d
            nu, relation = float(vertical_gap(ra, aspect)), "ElSherbiny, Raithby and Hollands 1982"
            beyond = (
                *outside("Ra", ra, 0, 2e7, USED_ALL_THE_SAME),
                *outside("height over thickness", aspect, 5, 110, USED_ALL_THE_SAME),
            )
        elif self.heat == "up":
            nu, relation = float(gap_heated_below(ra)), "Hollands et al. 1976"
            beyond = outside("Ra", ra, 0, 1e5, USED_ALL_THE_SAME)
        else:
            nu, relation = 1.0, "air at rest, heated from above"
        convective, radiative = nu * float(air.conductivity) / d, 0.0
        if at.emissivity is not None:
            factor = float(between_plates(at.emissivity, self.other_emissivity or at.emissivity))
            radiative = float(radiative_film(factor, other, at.temperature))
        elif self.other_emissivity is not None:
            raise InputError("emissivity: missing; other_emissivity is that of the second face")
        film = convective + radiative
        return Film(
            film,
            combined(convective, doubled_outside(GAP if nu > 1 else 0.02, beyond), radiative),
            convective,
            radiative,
            "the gap, from face to face",
            relation,
            (
                Number("rayleigh", "Ra", ra),
                Number("nusselt", "Nu", nu),
                Number("equivalent_conductivity", "conductivity of a solid in its place", film * d, "W/(m K)"),
            ),
            (*notes(air), *beyond),
        )


def _require_face(face: str) -> None:
    if face not in FACES:
        raise InputError(f"face: {face!r} is no way to face; {nearest(face, FACES)}")
