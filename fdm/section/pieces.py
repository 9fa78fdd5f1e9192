"""What a section is made of. Each piece checks its own values and raises InputError where one is impossible.

Every message names the table and the key as a section file has them. What must hold between pieces, such as names that
exist, is in `fdm.section.rules`.
"""

import math
from dataclasses import dataclass, field, replace
from functools import cached_property

from fdm.errors import InputError, require_types, require_visible
from fdm.section.by_temperature import GUESS, AirGap, Curve, Spans
from fdm.section.shapes import Rectangle, Segment, Shape
from fdm.surroundings import moist
from fdm.surroundings.film import Film
from fdm.surroundings.questions import Following

VIEWS = ("section", "axisymmetric", "plate")
UNITS = {"mm": 1e-3, "cm": 1e-2, "m": 1.0}  # of length, in metres
SIDES = ("left", "right", "bottom", "top")  # of a drawing; the order of `Border`
DOWN = (*SIDES, "depth")  # ways that are down: towards a side, or along the depth, as in a level cut
FACES = ("back", "front")  # of a plate seen face on
ABSOLUTE_ZERO = -273.15  # degC
LEAST, MOST = 1e-12, 1e12  # of any number in SI units but 0: beyond all that exists, and too near for any overflow


def require_positive(where: str, value: float | None, or_zero: bool = False) -> None:
    """Raise InputError, which begins with `where`, unless the value is above 0 (or is 0) and such as exists."""
    if value is None or not math.isfinite(value) or value < 0 or (value == 0 and not or_zero):
        raise InputError(f"{where}: {value!r} is not a number {'of 0 or more' if or_zero else 'above 0'}")
    if value and not LEAST <= value <= MOST:
        raise InputError(f"{where}: {value:g} is beyond all that exists; give a number from {LEAST:g} to {MOST:g}")


def require_temperature(where: str, value: float) -> None:
    if not ABSOLUTE_ZERO <= value <= MOST:
        raise InputError(f"{where}: {value!r} is not a temperature in degC ({ABSOLUTE_ZERO} or more)")


@dataclass(frozen=True)
class Material:
    """`conductivity` is (along x, along y), W/(m K); density kg/m3; specific heat J/(kg K). `through` is the one
    through the thickness of a plate, where it is not that of both directions in the plane. Where it depends on the
    temperature, `by_temperature` says how, and `conductivity` is that of one temperature."""

    name: str
    conductivity: tuple[float, float]
    density: float | None = None
    specific_heat: float | None = None
    source: str = ""
    spread: float | None = None  # relative standard spread of the conductivity
    through: float | None = None
    by_temperature: Curve | None = None

    def __post_init__(self) -> None:
        require_types(self)
        where = f"material {self.name!r}"
        require_visible(where, self.name)
        for k in self.conductivity:
            require_positive(f"{where}, conductivity", k)
        others = ("conductivity z", self.through), ("density", self.density), ("specific_heat", self.specific_heat)
        for key, value in others:
            if value is not None:
                require_positive(f"{where}, {key}", value)

    def at(self, temperature: float | Spans) -> "Material":
        """The same material with its conductivity at a temperature (degC), or its mean over spans of temperatures.
        Raises InputError where it has none there.

        >>> from fdm.section.by_temperature import Line
        >>> foam = Material("foam", (0.033, 0.033), by_temperature=Line(0.033, 10, 0.00015))
        >>> round(foam.at(30).conductivity[0], 6), Material("steel", (50, 50)).at(30).conductivity[0]
        (0.036, 50)
        """
        if self.by_temperature is None:
            return self
        try:
            curve = self.by_temperature
            k = curve.over(temperature) if isinstance(temperature, Spans) else curve(temperature)
        except InputError as error:
            raise InputError(f"material {self.name!r}, conductivity: {error}") from None
        return replace(self, conductivity=(k, k))


CLOSED_AIR = Material("air in a closed gap", (GUESS, GUESS), 1.2, 1006.0)


def require_moisture(where: str, temperature: float, humidity: float | None, dew_point: float | None) -> None:
    """Raise InputError unless air at degC can be as moist as its relative humidity (%) or its dew point (degC) says,
    one of which may be given."""
    low, high = moist.COLDEST, moist.WARMEST
    if humidity is not None and dew_point is not None:
        raise InputError(f"{where}: give either humidity or dew_point")
    if (humidity is not None or dew_point is not None) and not low <= temperature <= high:
        key = "dew_point" if humidity is None else "humidity"
        raise InputError(
            f"{where}, {key}: belongs to air of {low:g} to {high:g} degC, and this is at {temperature:g}; "
            "look at the temperature (degC, not kelvin), or leave this out"
        )
    if humidity is not None and not LEAST <= humidity <= 100:
        raise InputError(f"{where}, humidity: {humidity:g} is no relative humidity in % (above 0, up to 100)")
    if dew_point is not None and not low <= dew_point <= temperature:
        above = f"above the air's temperature of {temperature:g}; give at most that"
        below = f"out of range; give at least {low:g}"
        raise InputError(f"{where}, dew_point: {dew_point:g} degC is {above if dew_point > low else below}")


def vapour_pressure(temperature: float, humidity: float | None, dew_point: float | None) -> float:
    """Pa, of air at degC with a relative humidity (%) or a dew point (degC); NaN where neither is given."""
    if dew_point is not None:
        return float(moist.saturation_over_water(dew_point))
    return math.nan if humidity is None else float(moist.vapour_pressure(temperature, humidity))


@dataclass(frozen=True)
class Environment:
    """Air or water at one temperature (degC) behind a film (W/(m2 K), may be infinite).

    How moist air is, is said by its relative `humidity` (%) or its `dew_point` (degC, over water), or not at all.
    """

    name: str
    temperature: float
    film: float
    film_from: Film | None = field(default=None, compare=False)  # the relation that gave it, where one did
    humidity: float | None = None
    dew_point: float | None = None
    follows: Following | None = None  # how the film follows the temperature of its surface; None: it does not

    def __post_init__(self) -> None:
        require_types(self)
        where = f"environment {self.name!r}"
        require_temperature(f"{where}, temperature", self.temperature)
        if self.film != math.inf:
            require_positive(f"{where}, film", self.film)
        require_moisture(where, self.temperature, self.humidity, self.dew_point)

    @property
    def moist(self) -> bool:
        """Whether it is known how moist it is."""
        return self.humidity is not None or self.dew_point is not None

    @cached_property
    def vapour_pressure(self) -> float:
        """Pa; NaN where it is not known."""
        return vapour_pressure(self.temperature, self.humidity, self.dew_point)

    @cached_property
    def settling_point(self) -> float:
        """degC below which its vapour settles on surfaces: its dew point, below 0 degC its frost point; NaN where it
        is not known how moist it is."""
        return float(moist.settling_point(self.vapour_pressure)) if self.moist else math.nan

    def at(self, temperature: float) -> "Environment":
        """The same air at another temperature (degC): with the same relative humidity, or the same dew point as far as
        air so cold can have it."""
        known = moist.COLDEST <= temperature <= moist.WARMEST
        dew_point = None if self.dew_point is None else min(self.dew_point, temperature)
        humidity = self.humidity
        if not known:
            humidity = dew_point = None
        return replace(self, temperature=temperature, humidity=humidity, dew_point=dew_point)

    @property
    def film_digits(self) -> str:
        """The film as text; where a relation gave it, to three digits."""
        return f"{self.film:g}" if self.film_from is None else f"{self.film:.3g}"


@dataclass(frozen=True)
class Part:
    """One piece of the drawing; exactly one of `material`, `environment` (a name), `gap` and `void` says what it is.

    Parts are laid in order: where two overlap, the later one covers the earlier one. `thickness` (m), `front` and
    `back` (names of environments) belong to the plate view.

    In the section view a part may be less deep than the drawing: `count` pieces of a `depth` (m) each, one behind the
    other. `fdm.section.depths.mixed` lays it as pieces, each with its `piece`.

    The material of a closed air gap is a solid that conducts as the gap does.
    """

    name: str
    shapes: tuple[Shape, ...]
    material: Material | None = None
    environment: str | None = None
    void: bool = False
    thickness: float | None = None
    front: str | None = None
    back: str | None = None
    depth: float | None = None
    count: int = 1
    piece: "Piece | None" = None
    gap: AirGap | None = None

    @property
    def layers(self) -> "tuple[tuple[float, Material | None], ...]":
        """What fills the drawing's depth: shares of it, and the material of each; None where that is no solid."""
        return ((1.0, self.material),) if self.piece is None else self.piece.filling

    @property
    def follows(self) -> bool:
        """Whether its conductivity follows its temperature."""
        materials = [m for _, m in self.layers if m is not None]
        return any(m.by_temperature is not None or m.name == CLOSED_AIR.name for m in materials)

    def __post_init__(self) -> None:
        require_types(self)
        where = f"part {self.name!r}"
        if self.gap is not None and self.material is None:
            object.__setattr__(self, "material", CLOSED_AIR)
        if (self.material is not None) + (self.environment is not None) + self.void != 1:
            raise InputError(f"{where}: give exactly one of material, environment, gap = true and void = true")
        if not self.shapes:
            raise InputError(f"{where}: it has no shape; give a rectangle, disc or polygon")


@dataclass(frozen=True)
class Piece:
    """A piece of part `of`, which is less deep than the drawing: it lies on the part named `beneath` alone, and
    `filling` says which share of the depth each material fills there."""

    of: Part
    beneath: str
    filling: tuple[tuple[float, Material | None], ...]  # from the plane where all such parts begin; None: void


@dataclass(frozen=True)
class Border:
    """Names of the environments beyond the drawing's outer edge; None is adiabatic."""

    left: str | None = None
    right: str | None = None
    bottom: str | None = None
    top: str | None = None

    def __post_init__(self) -> None:
        require_types(self)


@dataclass(frozen=True)
class Joint:
    """Contact resistance (m2 K/W) where the two named parts meet."""

    between: tuple[str, str]
    resistance: float

    def __post_init__(self) -> None:
        require_types(self)
        if self.between[0] == self.between[1]:
            raise InputError(f"{self.where}: a part has no joint with itself; name two parts")
        require_positive(f"{self.where}, resistance", self.resistance, or_zero=True)

    @property
    def where(self) -> str:
        """Its place, as messages give it."""
        return "joint between " + " and ".join(map(repr, self.between))


def require_face(where: str, face: str) -> None:
    """Raise InputError, which begins with `where`, unless this is a face of a plate."""
    if face not in FACES:
        raise InputError(f'{where}: {face!r} is no face of a plate; give "front" or "back"')


@dataclass(frozen=True)
class Fins:
    """Plate fins that stand on one face of a plate, side by side, and run along x or y. The environment is between them
    and around them.

    They stand evenly on all of the named parts, or on that of it which lies in `rectangle`: so many of them (`count`),
    or one at each `pitch` (m). `joint` (m2 K/W) is the resistance at their roots.
    """

    name: str
    parts: tuple[str, ...]
    face: str
    along: str
    thickness: float  # m, of one fin
    height: float  # m
    environment: str
    material: Material
    count: float | None = None
    pitch: float | None = None
    joint: float = 0.0
    rectangle: Rectangle | None = None

    @property
    def follows(self) -> bool:
        """Whether its conductivity follows its temperature."""
        return self.material.by_temperature is not None

    def __post_init__(self) -> None:
        require_types(self)
        where = f"fins {self.name!r}"
        if not self.parts:
            raise InputError(f"{where}, part: names no part; name at least one")
        require_face(f"{where}, face", self.face)
        if self.along not in ("x", "y"):
            raise InputError(f'{where}, along: {self.along!r} is no direction; give "x" or "y", along which a fin runs')
        for key in ("thickness", "height"):
            require_positive(f"{where}, {key}", getattr(self, key))
        require_positive(f"{where}, joint", self.joint, or_zero=True)
        if (self.count is None) == (self.pitch is None):
            raise InputError(f"{where}: give exactly one of count and pitch")
        if self.pitch is not None:
            require_positive(f"{where}, pitch", self.pitch)
        elif not (self.count and 1 <= self.count <= MOST and self.count == int(self.count)):
            raise InputError(f"{where}, count: {self.count!r} is not a whole number of fins, 1 or more")
        if self.material.conductivity[0] != self.material.conductivity[1]:
            raise InputError(f"{where}, material: {self.material.name!r} conducts better one way; give one number")


@dataclass(frozen=True)
class Source:
    """A segment, or a part by name, that receives `heat` (W, positive into the section) or is held at `temperature`.

    In the plate view the heat of a part enters all through its thickness; with `face` on that face, or on that of it
    which lies in `rectangle`. It covers what it touches: no film is there.

    `fills_depth` says that it is known to be as deep as a drawing in the section view: its depth is not doubted then.
    """

    name: str
    segment: Segment | None = None
    part: str | None = None
    heat: float | None = None
    temperature: float | None = None
    fills_depth: bool = False
    face: str | None = None
    rectangle: Rectangle | None = None

    def __post_init__(self) -> None:
        require_types(self)
        where = f"source {self.name!r}"
        if self.face is not None:
            require_face(f"{where}, face", self.face)
            if self.part is None:
                raise InputError(f"{where}, face: of which plate is missing; give its name as part")
            if self.heat is None:
                raise InputError(f"{where}, face: only the heat of a part enters on a face; give part and heat")
        if self.rectangle is not None and self.face is None:
            raise InputError(f"{where}, rectangle: on which face it lies is missing; give face")
        if (self.segment is None) == (self.part is None):
            raise InputError(f"{where}: give exactly one of segment and part")
        if (self.heat is None) == (self.temperature is None):
            raise InputError(f"{where}: give exactly one of heat and temperature")
        if self.heat is not None and not abs(self.heat) <= MOST:
            raise InputError(f"{where}, heat: {self.heat!r} is not a number of watts up to {MOST:g}")
        if self.temperature is not None:
            require_temperature(f"{where}, temperature", self.temperature)


@dataclass(frozen=True)
class Spreading:
    """Ask for the spreading resistance of the part(s), a plate that lies `along` x or y (None: its longer side)."""

    parts: tuple[str, ...]
    along: str | None = None

    def __post_init__(self) -> None:
        require_types(self)
        if self.along not in (None, "x", "y"):
            raise InputError(f'spreading of {self.name!r}, along: {self.along!r} is no direction; give "x" or "y"')

    @property
    def name(self) -> str:
        return " + ".join(self.parts)


@dataclass(frozen=True)
class Bridge:
    """Ask for the loss that the `remove`d parts cause between two fixed terminals (None: the section's only two)."""

    remove: tuple[str, ...]
    between: tuple[str, str] | None = None
    name: str = ""

    def __post_init__(self) -> None:
        require_types(self)
        if not self.name:
            object.__setattr__(self, "name", " + ".join(self.remove))
        where = f"bridge {self.name!r}"
        if not self.remove:
            raise InputError(f"{where}, remove: names no part; name at least one")
        if self.between is not None and self.between[0] == self.between[1]:
            raise InputError(f"{where}, between: names {self.between[0]!r} twice; name two")


@dataclass(frozen=True)
class Uncertain:
    """A number of a file that is only known within limits, in the file's own unit.

    Normal about `nominal`, or evenly likely `between` two bounds. `place` says where it stands, as error messages do.
    """

    place: str
    nominal: float
    uncertainty: float  # standard uncertainty
    between: tuple[float, float] | None = None
    table: str = ""  # which built-in table states the uncertainty, "materials" or "usual"; empty: the file does

    @property
    def from_table(self) -> bool:
        """Whether a built-in table states the uncertainty, not the file."""
        return bool(self.table)
