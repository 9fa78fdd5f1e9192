"""A whole cabinet as frozen dataclasses: what its file says, in SI units and degC. No solving here."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from fdm.cabinet.module import Supply, ThermoelectricModule
from fdm.errors import InputError, nearest
from fdm.section.model import Material, Section, Uncertain

FACES = ("left", "right", "front", "back", "bottom", "top")
AIR = "air"


@dataclass(frozen=True)
class SectionFile:
    """A section, and the file, overrides and moves of uncertain numbers that it comes from: two uses of the same are
    solved once."""

    path: str
    let: tuple[tuple[str, str], ...]
    section: Section = field(compare=False)
    moved: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Layer:
    material: Material
    thickness: float  # m


@dataclass(frozen=True)
class Wall:
    """Layers from inside out over some faces of the box, or over a given area (m2); films W/(m2 K)."""

    name: str
    layers: tuple[Layer, ...]
    film_inside: float
    film_outside: float
    faces: tuple[str, ...] = ()
    area: float | None = None


@dataclass(frozen=True)
class LineLoss:
    """A linear bridge or a seal: `length` (m) times psi, W/(m K), given or from a section's bridge."""

    name: str
    length: float
    psi: float | None = None
    file: SectionFile | None = None
    bridge: str | None = None


@dataclass(frozen=True)
class PointLoss:
    """Point bridges: `count` times chi, W/K, given or from an axisymmetric section's bridge."""

    name: str
    count: int
    chi: float | None = None
    file: SectionFile | None = None
    bridge: str | None = None


@dataclass(frozen=True)
class Sink:
    """Between a face and its air where no section says it: K/W, of all modules together."""

    resistance: float


@dataclass(frozen=True)
class Bank:
    """All modules, alike, each in one `file`'s section with heat terminals `cold` and `hot`; or between two sinks.

    `inside` and `outside` name the section's fixed terminals that are the cabinet's air and the room's. The section
    takes the place of its own piece of `wall`, `wall_area` (m2) a module.
    """

    module: ThermoelectricModule
    supply: Supply
    file: SectionFile | None = None
    cold: str = "cold face"
    hot: str = "hot face"
    inside: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    wall: str | None = None
    wall_area: float = 0.0
    cold_sink: Sink | None = None
    hot_sink: Sink | None = None
    cold_capacity: float = 0.0  # J/K, of all modules together, beside what the section's materials have
    hot_capacity: float = 0.0
    stated_heat: float | None = None  # W, the data sheet's greatest heat of one module, to compare with
    stated_current: float | None = None  # A
    stated_hot_side: float | None = None  # degC


@dataclass(frozen=True)
class Load:
    """What is kept cold: kg, J/(kg K), m2, W/(m2 K), degC at the start, W that it gives off itself."""

    mass: float
    specific_heat: float
    surface: float
    film: float
    start: float
    heat: float = 0.0


@dataclass(frozen=True)
class Thermostat:
    """Switches the modules at the setpoint +- hysteresis / 2 (K), by a sensor of a section, or by the air itself."""

    hysteresis: float
    file: SectionFile | None = None
    sensor: str = AIR
    inside: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    switches: str = "all"  # or "half" of the modules


@dataclass(frozen=True)
class Cabinet:
    """The whole cabinet. `inside` is (width, depth, height) in metres. Raises InputError where it cannot be."""

    title: str
    inside: tuple[float, float, float]
    walls: tuple[Wall, ...]
    bank: Bank
    load: Load
    thermostat: Thermostat
    room: float  # degC
    setpoint: float  # degC
    lines: tuple[LineLoss, ...] = ()
    points: tuple[PointLoss, ...] = ()
    air_changes: float = 0.0  # of the inside air with the room's, per hour
    inside_heat: float = 0.0  # W given off inside: a fan, a lamp
    start: float | None = None  # degC of air and linings at the start; the room's if left out
    unit: str = "m"
    let: Mapping[str, float] = field(default_factory=dict)
    uncertain: tuple[Uncertain, ...] = ()

    def __post_init__(self) -> None:
        _check(self)

    @property
    def section_files(self) -> tuple[SectionFile | None, ...]:
        """Of every line, point, the module and the thermostat, in this order; None where one has no section."""
        losses: tuple[LineLoss | PointLoss, ...] = (*self.lines, *self.points)
        return (*(x.file for x in losses), self.bank.file, self.thermostat.file)

    def face_area(self, face: str) -> float:
        """Inside area of one face, m2."""
        width, depth, height = self.inside
        return {"left": depth * height, "front": width * height, "bottom": width * depth}[
            {"right": "left", "back": "front", "top": "bottom"}.get(face, face)
        ]

    def wall_area(self, wall: Wall) -> float:
        """Inside area of a wall, m2, less what the modules' sections take of it."""
        area = wall.area if wall.area is not None else sum(self.face_area(f) for f in wall.faces)
        return area - (self.bank.wall_area * self.bank.supply.modules if self.bank.wall == wall.name else 0.0)


def _check(c: Cabinet) -> None:
    for size in c.inside:
        _above("cabinet, inside", size)
    _degc("cabinet, room", c.room)
    _degc("cabinet, setpoint", c.setpoint)
    if c.start is not None:
        _degc("cabinet, start", c.start)
    _above("cabinet, air_changes", c.air_changes, zero=True)
    _above("cabinet, inside_heat", c.inside_heat, zero=True)
    _walls(c)
    for line in c.lines:
        _above(f"line {line.name!r}, length", line.length)
        _loss(f"line {line.name!r}", "psi", line.psi, line.file, line.bridge, ("section",))
    for point in c.points:
        if point.count < 1:
            raise InputError(f"point {point.name!r}, count: {point.count!r} is not a whole number of 1 or more")
        _loss(f"point {point.name!r}", "chi", point.chi, point.file, point.bridge, ("axisymmetric", "plate"))
    _bank(c)
    for key in ("mass", "specific_heat", "surface", "film"):
        _above(f"load, {key}", getattr(c.load, key))
    _degc("load, start", c.load.start)
    if not math.isfinite(c.load.heat):
        raise InputError(f"load, heat: {c.load.heat!r} is not a number of watts")
    _thermostat(c)


def _above(where: str, value: float, zero: bool = False) -> None:
    if not (math.isfinite(value) and (value > 0 or (zero and value == 0))):
        raise InputError(f"{where}: {value!r} is not a number {'of 0 or more' if zero else 'above 0'}")


def _degc(where: str, value: float) -> None:
    if not (math.isfinite(value) and value > -273.15):
        raise InputError(f"{where}: {value!r} is not a temperature in degC above -273.15")


def _known(where: str, name: str, known: Iterable[str], what: str) -> None:
    known = list(known)
    if name not in known:
        raise InputError(f"{where}: there is no {what} named {name!r}; {nearest(name, known)}")


def _walls(c: Cabinet) -> None:
    taken: dict[str, str] = {}
    names: set[str] = set()
    for w in c.walls:
        where = f"wall {w.name!r}"
        if w.name in names:
            raise InputError(f"{where}: the name is used twice; give each wall a name of its own")
        names.add(w.name)
        if not w.layers:
            raise InputError(f"{where}, layers: missing; give at least one layer of material and thickness")
        for layer in w.layers:
            _above(f"{where}, layer of {layer.material.name!r}, thickness", layer.thickness)
        _above(f"{where}, film_inside", w.film_inside)
        _above(f"{where}, film_outside", w.film_outside)
        if bool(w.faces) == (w.area is not None):
            raise InputError(f"{where}: give exactly one of faces and area")
        for face in w.faces:
            _known(f"{where}, faces", face, FACES, "face")
            if taken.setdefault(face, w.name) != w.name:
                raise InputError(
                    f"{where}, faces: {face!r} belongs to wall {taken[face]!r} already; give each face one wall"
                )
        if w.area is not None:
            _above(f"{where}, area", w.area)
        if c.wall_area(w) < 0:
            raise InputError(
                f"{where}: the modules' sections take more than its whole area; "
                "give the module less wall_area, or fewer modules"
            )
    missing = [f for f in FACES if f not in taken]
    if missing and all(w.area is None for w in c.walls):
        raise InputError(f"wall: no wall covers the face {missing[0]!r}; name it in the faces of a wall")


def _loss(
    where: str, symbol: str, value: float | None, file: SectionFile | None, bridge: str | None, views: tuple[str, ...]
) -> None:
    if (value is None) == (file is None):
        raise InputError(f"{where}: give exactly one of {symbol} and section")
    if value is not None:
        _above(f"{where}, {symbol}", value, zero=True)
    if file is not None:
        if file.section.view not in views:
            raise InputError(
                f"{where}, section: {file.path} has the view {file.section.view!r}, but {symbol} needs {views[0]!r}"
            )
        names = [b.name for b in file.section.bridges]
        if bridge is None:
            raise InputError(
                f"{where}, bridge: missing; name the bridge of {file.path} to count: "
                f"{', '.join(map(repr, names)) or 'it has none'}"
            )
        _known(f"{where}, bridge", bridge, names, f"bridge of {file.path}")


def _sides(where: str, file: SectionFile, inside: tuple[str, ...], outside: tuple[str, ...]) -> None:
    names = file.section.fixed_names
    for key, group in (("inside", inside), ("outside", outside)):
        for name in group:
            _known(f"{where}, {key}", name, names, f"environment of {file.path}")
    for name in names:
        if (name in inside) == (name in outside):
            raise InputError(f"{where}: {name!r} of {file.path} must be named in exactly one of inside and outside")


def _bank(c: Cabinet) -> None:
    b = c.bank
    if b.file is None:
        for key in ("cold_sink", "hot_sink"):
            if getattr(b, key) is None:
                raise InputError(
                    f"module, {key}: missing; without a section the module needs a cold_sink and a hot_sink"
                )
    else:
        for key in ("cold", "hot"):
            name = getattr(b, key)
            if name not in b.file.section.heat_names:
                raise InputError(
                    f"module, {key}: {b.file.path} has no source with heat named {name!r}; "
                    f"{nearest(name, b.file.section.heat_names)}"
                )
        if b.cold == b.hot:
            raise InputError("module: cold and hot name the same face; name the two faces of the module")
        for name in b.file.section.heat_names:
            if name not in (b.cold, b.hot):
                raise InputError(
                    f"module, section: {b.file.path} has a third heat terminal {name!r}; leave it out of the file"
                )
        _sides("module", b.file, b.inside, b.outside)
    for key in ("cold_sink", "hot_sink"):
        if (sink := getattr(b, key)) is not None:
            _above(f"module, {key}, resistance", sink.resistance)
    for key in ("cold_capacity", "hot_capacity", "wall_area"):
        _above(f"module, {key}", getattr(b, key), zero=True)
    if b.wall is not None:
        _known("module, wall", b.wall, [w.name for w in c.walls], "wall")


def _thermostat(c: Cabinet) -> None:
    t = c.thermostat
    _above("thermostat, hysteresis", t.hysteresis)
    if t.switches not in ("all", "half"):
        raise InputError(f'thermostat, switches: {t.switches!r} is neither "all" nor "half" of the modules')
    if t.switches == "half":
        c.bank.supply.half_off()
    if t.sensor != AIR:
        if t.file is None:
            raise InputError(
                f'thermostat, sensor: {t.sensor!r} needs the section it is in; name a section, or take "{AIR}"'
            )
        _known("thermostat, sensor", t.sensor, [s.name for s in t.file.section.sensors], f"sensor of {t.file.path}")
        _sides("thermostat", t.file, t.inside, t.outside)
        if t.file != c.bank.file and t.file.section.heat_names:
            raise InputError(
                f"thermostat, section: {t.file.path} has the heat terminal {t.file.section.heat_names[0]!r}, whose "
                "watts nobody knows here; take the modules' own section, or leave it out of the file"
            )
