"""A whole cabinet as frozen dataclasses: what its file says, in SI units and degC. No solving here.

Every dataclass checks its own figures and raises InputError, with their place, where one is impossible; `Cabinet`
checks that they fit together.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import accumulate, pairwise

from fdm.cabinet.checks import require_count, require_known, require_not_negative, require_positive, require_temperature
from fdm.cabinet.datasheet import DataSheet
from fdm.cabinet.films import FollowingFilm
from fdm.cabinet.module import ThermoelectricModule
from fdm.cabinet.supply import Supply
from fdm.cabinet.zones import CLOSED, Exchange, Facing, Zone, air_shares, check_zones, wall_shares
from fdm.errors import InputError, nearest, require_visible
from fdm.section.model import Material, Section, Uncertain
from fdm.section.pieces import LEAST, require_moisture, vapour_pressure
from fdm.surroundings import moist

FACES = ("left", "right", "front", "back", "bottom", "top")
AIR = "air"
WARMEST_LOAD = 90.0  # degC up to which what a wet load gives off to air is bounded
LAYER_ROUNDS = 5  # in which layers and their temperatures agree far below all else: each is a hundredth of the last
OTHER_NODES = ("room", "load", "cold face", "hot face", "cold plate", "hot plate")  # no zone of air is called so


@dataclass(frozen=True)
class SectionFile:
    """A section, and the file, overrides and moves of uncertain numbers that it comes from: two uses of the same are
    solved once. One that is `made` of a bolt through a wall has no file: its path says what it is, and `moved` holds
    all of its numbers."""

    path: str
    let: tuple[tuple[str, str], ...]
    section: Section = field(compare=False)
    moved: tuple[tuple[str, float], ...] = ()
    made: bool = False


@dataclass(frozen=True)
class Layer:
    """One layer of a wall."""

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

    def __post_init__(self) -> None:
        where = f"wall {self.name!r}"
        require_visible(where, self.name)
        if not self.layers:
            raise InputError(f"{where}, layers: missing; give at least one layer of material and thickness")
        for layer in self.layers:
            require_positive(f"{where}, layer of {layer.material.name!r}, thickness", layer.thickness)
        require_positive(f"{where}, film_inside", self.film_inside)
        require_positive(f"{where}, film_outside", self.film_outside)
        if bool(self.faces) == (self.area is not None):
            raise InputError(f"{where}: give exactly one of faces and area")
        for face in self.faces:
            require_known(f"{where}, faces", face, FACES, "face")
        if self.area is not None:
            require_positive(f"{where}, area", self.area)

    def between(self, inside: float, outside: float) -> "Wall":
        """The same wall, whose layers have the conductivity of their mean temperatures between two faces (degC)."""
        layers = self.layers
        if all(x.material.by_temperature is None for x in layers):
            return self
        for _ in range(LAYER_ROUNDS):
            resistances = [x.thickness / x.material.conductivity[0] for x in layers]
            ends = list(accumulate(resistances, initial=0.0))
            means = [inside + (outside - inside) * (a + b) / 2 / ends[-1] for a, b in pairwise(ends)]
            layers = tuple(replace(x, material=x.material.at(mean)) for x, mean in zip(layers, means))
        return replace(self, layers=layers)


@dataclass(frozen=True)
class LineLoss:
    """A linear bridge or a seal: `length` (m) times psi, W/(m K), given or from a section's bridge."""

    name: str
    length: float
    psi: float | None = None
    file: SectionFile | None = None
    bridge: str | None = None
    inside: tuple[str, ...] = ()  # environments of the section that are the cabinet's air, and the room's; none: those
    outside: tuple[str, ...] = ()  # that have the names of the modules' and the thermostat's
    zone: str | None = None  # of air inside; as the walls lie, if left out

    def __post_init__(self) -> None:
        where = f"line {self.name!r}"
        require_visible(where, self.name)
        require_positive(f"{where}, length", self.length)
        _check_loss(where, "psi", self.psi, self.file)
        if self.file is not None:
            _check_bridge(where, "psi", ("section",), self.file, self.bridge)
        _check_named_sides(where, self.file, self.inside, self.outside)


@dataclass(frozen=True)
class PointLoss:
    """Point bridges: `count` times chi, W/K, given or from an axisymmetric section's bridge."""

    name: str
    count: int
    chi: float | None = None
    file: SectionFile | None = None
    bridge: str | None = None
    inside: tuple[str, ...] = ()  # environments of the section that are the cabinet's air, and the room's; none: those
    outside: tuple[str, ...] = ()  # that have the names of the modules' and the thermostat's
    zone: str | None = None

    def __post_init__(self) -> None:
        where = f"point {self.name!r}"
        require_visible(where, self.name)
        require_count(f"{where}, count", self.count)
        _check_loss(where, "chi", self.chi, self.file)
        if self.file is not None:
            _check_bridge(where, "chi", ("axisymmetric", "plate"), self.file, self.bridge)
        _check_named_sides(where, self.file, self.inside, self.outside)


@dataclass(frozen=True)
class Sink:
    """The resistance (K/W, all modules together) between a face of the modules and its air, where no section gives
    it; None for a cold sink that gives the air what its natural flow takes (`Exchange`). And the watts of its fan."""

    resistance: float | None
    fan_power: float = 0.0


@dataclass(frozen=True)
class Block:
    """A block of metal between each module and its place on a plate: `length` (m) through the wall, and `area` (m2)
    across; None: that of the place."""

    material: Material
    length: float
    area: float | None = None


@dataclass(frozen=True)
class PlateSink:
    """A plate with fins, drawn face on, and the `places` on it (heat sources) where one module each sits; other sources
    of the plate stay empty. There are as many plates as all modules take.

    `inside` and `outside` name its fixed terminals that are the cabinet's air and the room's. `joint` (m2 K/W) lies
    wherever plate, block and module meet. `fan_power` (W) is that of all fans of this sink.
    """

    file: SectionFile
    places: tuple[str, ...]
    inside: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    joint: float = 0.0
    block: Block | None = None
    fan_power: float = 0.0

    def check(self, where: str, modules: int) -> None:
        """Raises InputError, which begins with `where`, for what cannot be."""
        path, section = self.file.path, self.file.section
        if section.view != "plate":
            raise InputError(
                f'{where}, section: {path} has the view {section.view!r}; draw a sink face on, with view = "plate"'
            )
        for name in self.places:
            require_known(f"{where}, sources", name, section.heat_names, f"source with heat of {path}")
        if not self.places or len(set(self.places)) < len(self.places):
            raise InputError(f"{where}, sources: name each source of {path} once where a module sits")
        if modules % len(self.places):
            raise InputError(
                f"{where}: {modules} module{'s do' if modules > 1 else ' does'} not fill plates with "
                f"{len(self.places)} places each; name in sources those places that are taken, or give other modules"
            )
        _check_sides(where, self.file, self.inside, self.outside)
        require_not_negative(f"{where}, joint", self.joint)
        if self.block is not None:
            require_positive(f"{where}, block, length", self.block.length)
            if self.block.area is not None:
                require_positive(f"{where}, block, area", self.block.area)


@dataclass(frozen=True)
class Bank:
    """All modules, alike, each in one `file`'s section with heat terminals `cold` and `hot`; or between two sinks.

    On the side of a sink that is a plate, the section ends where the plate begins: its `cold` or `hot` is a source
    there that is held at a temperature.

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
    cold_sink: Sink | PlateSink | None = None
    hot_sink: Sink | PlateSink | None = None
    cold_capacity: float = 0.0  # J/K, of all modules together, beside what the section's materials have
    hot_capacity: float = 0.0
    data_sheet: DataSheet | None = None  # that the module's figures come from
    zone: str | None = None  # in whose air the cold sink stands

    def __post_init__(self) -> None:
        if self.file is None:
            for key in ("cold_sink", "hot_sink"):
                if getattr(self, key) is None:
                    raise InputError(
                        f"module, {key}: missing; without a section the module needs a cold_sink and a hot_sink"
                    )
        else:
            self._check_faces(self.file)
            _check_sides("module", self.file, self.inside, self.outside, self.held)
        for key in ("cold_sink", "hot_sink"):
            sink = getattr(self, key)
            if isinstance(sink, PlateSink):
                sink.check(f"module, {key}", self.supply.modules)
            elif sink is not None and (sink.resistance is not None or key == "hot_sink"):
                require_positive(f"module, {key}, resistance", sink.resistance)
            if sink is not None:
                require_not_negative(f"module, {key}, fan_power", sink.fan_power)
        for key in ("cold_capacity", "hot_capacity", "wall_area"):
            require_not_negative(f"module, {key}", getattr(self, key))

    @property
    def faces(self) -> dict[str, str]:
        """By the key of each sink, the name of the face on its side in the modules' section."""
        return {"cold_sink": self.cold, "hot_sink": self.hot}

    @property
    def held(self) -> tuple[str, ...]:
        """The faces of the modules' section where a plate begins."""
        return tuple(self.faces[key] for key in self.plates)

    @property
    def plates(self) -> dict[str, PlateSink]:
        """The sinks that are plates, by key."""
        both = {"cold_sink": self.cold_sink, "hot_sink": self.hot_sink}
        return {key: sink for key, sink in both.items() if isinstance(sink, PlateSink)}

    @property
    def inside_fan_power(self) -> float:
        """W of the fan of the cold sink, which warms the air inside."""
        return 0.0 if self.cold_sink is None else self.cold_sink.fan_power

    @property
    def fan_power(self) -> float:
        """W of the fans of both sinks."""
        return sum(sink.fan_power for sink in (self.cold_sink, self.hot_sink) if sink is not None)

    def _check_faces(self, file: SectionFile) -> None:
        section = file.section
        if self.cold == self.hot:
            raise InputError("module: cold and hot name the same face; name the two faces of the module")
        held = tuple(s.name for s in section.held_sources)
        for key, name in (("cold", self.cold), ("hot", self.hot)):
            if name not in self.held:
                names, what = section.heat_names, "source with heat"
            elif name in section.heat_names:
                raise InputError(
                    f"module, {key}: {name!r} of {file.path} takes watts, so the section draws its own way from the "
                    f"module to the air, and {key}_sink would count that twice; draw the wall only as far as the plate "
                    f"and give {name!r} a temperature there, or leave {key}_sink out"
                )
            else:
                names, what = held, "source with a temperature, where the plate begins,"
            if name not in names:
                raise InputError(f"module, {key}: {file.path} has no {what} named {name!r}; {nearest(name, names)}")
        for name in section.heat_names:
            if name not in (self.cold, self.hot):
                raise InputError(
                    f"module, section: {file.path} has a third heat terminal {name!r}; leave it out of the file"
                )


@dataclass(frozen=True)
class Load:
    """What is kept cold: kg, J/(kg K), m2, W/(m2 K), degC at the start, W that it gives off itself, kg/s of water that
    evaporate from it.

    `zones` has the shares of it that stand in zones of air, each with a temperature of its own. It may touch the cold
    plate (`contact` W/K), or face it.
    """

    mass: float
    specific_heat: float
    surface: float
    film: float
    start: float
    heat: float = 0.0
    moisture: float = 0.0
    zones: tuple[tuple[str, float], ...] = ()
    contact: float = 0.0
    facing: Facing | None = None

    def __post_init__(self) -> None:
        require_not_negative("load, moisture", self.moisture)
        for key in ("mass", "specific_heat", "surface", "film"):
            require_positive(f"load, {key}", getattr(self, key))
        require_not_negative("load, cold_plate, contact", self.contact)
        if self.zones and abs(sum(share for _, share in self.zones) - 1) > CLOSED:
            raise InputError("load, zones: the shares do not come to 1; give the share of the load in each zone")
        for name, share in self.zones:
            if not 0 < share <= 1:
                raise InputError(f"load, zones, {name}: {share:g} is not a share of the load, above 0 and at most 1")
        require_temperature("load, start", self.start)
        if not math.isfinite(self.heat):
            raise InputError(f"load, heat: {self.heat!r} is not a number of watts")


@dataclass(frozen=True)
class Thermostat:
    """Switches the modules at the setpoint +- hysteresis / 2 (K), by a sensor of a section, or by the air itself."""

    hysteresis: float
    file: SectionFile | None = None
    sensor: str = AIR
    inside: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    switches: str = "all"  # or "half" of the modules
    zone: str | None = None  # whose air the sensor is in, or its section's `inside`

    def __post_init__(self) -> None:
        require_positive("thermostat, hysteresis", self.hysteresis)
        if self.switches not in ("all", "half"):
            raise InputError(f'thermostat, switches: {self.switches!r} is neither "all" nor "half" of the modules')
        if self.sensor == AIR:
            return
        if self.file is None:
            raise InputError(
                f'thermostat, sensor: {self.sensor!r} needs the section it is in; name a section, or take "{AIR}"'
            )
        sensors = [s.name for s in self.file.section.sensors]
        require_known("thermostat, sensor", self.sensor, sensors, f"sensor of {self.file.path}")


@dataclass(frozen=True)
class Opening:
    """A lid or a door: how often a day it is opened, and the share of the air inside that is then replaced by the
    room's."""

    name: str
    a_day: float
    share: float
    zone: str | None = None  # whose air is lost; that of all zones alike, if left out

    def __post_init__(self) -> None:
        where = f"opening {self.name!r}"
        require_visible(where, self.name)
        require_not_negative(f"{where}, a_day", self.a_day)
        if not 0 <= self.share <= 1:
            raise InputError(f"{where}, share: {self.share!r} is not a share of the air inside, from 0 to 1")

    @property
    def changes(self) -> float:
        """Of the inside air with the room's, per hour, on average."""
        return self.a_day * self.share / 24


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
    openings: tuple[Opening, ...] = ()
    zones: tuple[Zone, ...] = ()  # of the air inside; none: all of it is alike
    exchanges: tuple[Exchange, ...] = ()  # of air between zones
    emissivity: float = 0.9  # of linings and load, which radiate from layer to layer
    start: float | None = None  # degC of air and linings at the start; the room's if left out
    unit: str = "m"
    let: Mapping[str, float] = field(default_factory=dict)
    uncertain: tuple[Uncertain, ...] = ()
    films: tuple[FollowingFilm, ...] = ()  # of walls, load and sinks, that follow the operating point
    humidity: float | None = None  # % of the room's air; or its dew point, degC; or neither
    dew_point: float | None = None
    inside_humidity: float | None = None  # % at which the air inside is kept; None: as it comes

    def __post_init__(self) -> None:
        require_visible("title", self.title)
        for size in self.inside:
            require_positive("cabinet, inside", size)
        require_temperature("cabinet, room", self.room)
        require_temperature("cabinet, setpoint", self.setpoint)
        if self.start is not None:
            require_temperature("cabinet, start", self.start)
        require_not_negative("cabinet, air_changes", self.air_changes)
        require_not_negative("cabinet, inside_heat", self.inside_heat)
        _check_moisture(self)
        _check_names("opening", [x.name for x in self.openings])
        _check_walls(self)
        _check_air(self)
        if self.bank.wall is not None:
            require_known("module, wall", self.bank.wall, [w.name for w in self.walls], "wall")
        _check_thermostat(self)

    @property
    def section_files(self) -> tuple[SectionFile | None, ...]:
        """Of every line, point, the module, the thermostat and the module's plates, in this order; None where one has
        no section."""
        losses: tuple[LineLoss | PointLoss, ...] = (*self.lines, *self.points)
        sinks = (sink.file for sink in self.bank.plates.values())
        return (*(x.file for x in losses), self.bank.file, self.thermostat.file, *sinks)

    @property
    def moist(self) -> bool:
        """Whether it is known how moist the room's air is."""
        return self.humidity is not None or self.dew_point is not None

    @property
    def room_pressure(self) -> float:
        """Pa of vapour in the room's air; NaN where it is not known how moist that is."""
        return vapour_pressure(self.room, self.humidity, self.dew_point)

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

    @cached_property
    def zone_names(self) -> tuple[str, ...]:
        """The first one holds whatever is not said to be in another."""
        return tuple(z.name for z in self.zones) or (AIR,)

    @cached_property
    def air_shares(self) -> dict[str, float]:
        """By zone, of the air inside."""
        return air_shares(self.zones, self.inside[2]) or {AIR: 1.0}

    def wall_shares(self, wall: Wall) -> dict[str, float]:
        """By zone, of a wall's inside area."""
        areas = {face: self.face_area(face) for face in wall.faces}
        return wall_shares(wall.name, areas, self.zones, self.inside[2]) if self.zones else {AIR: 1.0}

    def loss_shares(self, zone: str | None) -> dict[str, float]:
        """By zone, of a line or a point that is in a given zone, or lies along the walls as their areas do."""
        if zone is not None or not self.zones:
            return {zone or AIR: 1.0}
        areas = dict.fromkeys(self.zone_names, 0.0)
        for wall in self.walls:
            for name, share in self.wall_shares(wall).items():
                areas[name] += share * self.wall_area(wall)
        whole = sum(areas.values())
        return {name: area / whole for name, area in areas.items() if area} if whole else {self.zone_names[0]: 1.0}

    @cached_property
    def load_shares(self) -> dict[str, float]:
        """By zone, of the load."""
        return dict(self.load.zones) or {self.zone_names[0]: 1.0}

    @cached_property
    def load_zone(self) -> str:
        """Where most of the load stands: its air is what is meant to be at the setpoint."""
        shares = self.load_shares
        return max(shares, key=lambda name: shares[name])

    @cached_property
    def thermostat_zone(self) -> str:
        """Whose air the thermostat's sensor is in."""
        return self.thermostat.zone or (self.sink_zones[0] if self.thermostat_at_sink else self.zone_names[0])

    @property
    def thermostat_at_sink(self) -> bool:
        """Whether the thermostat's sensor is in the modules' section, or in that of one of their plates."""
        file = self.thermostat.file
        return file is not None and file in (self.bank.file, *(sink.file for sink in self.bank.plates.values()))

    @property
    def moves_with_temperature(self) -> bool:
        """Whether temperatures inside set how much heat a kelvin passes there."""
        return bool(self.zones) or self.load.facing is not None

    @cached_property
    def sink_zones(self) -> tuple[str, str]:
        """From which zone air comes to the cold sink, and which it enters behind it."""
        if along := [x.between for x in self.exchanges if x.along_sink]:
            return along[0]
        return (self.bank.zone or self.zone_names[0],) * 2


def _check_air(cabinet: Cabinet) -> None:
    """The zones are sound, and whatever is in one names one that exists."""
    c = cabinet
    if not 0 <= c.emissivity <= 1:
        raise InputError(f"cabinet, emissivity: {c.emissivity!r} is not from 0 to 1")
    _check_names("zone", [z.name for z in c.zones])
    for name in c.zone_names:
        if name in OTHER_NODES or name.startswith(("lining of ", f"{OTHER_NODES[1]} (")):
            raise InputError(f"zone {name!r}: the name is taken; call it by its air, such as 'air at the {name}'")
    _check_names("exchange", [x.name for x in c.exchanges])
    check_zones(c.zones, c.exchanges, c.inside[2], [w.name for w in c.walls])
    placed = [
        *((f"line {x.name!r}, zone", x.zone) for x in c.lines),
        *((f"point {x.name!r}, zone", x.zone) for x in c.points),
        *((f"opening {x.name!r}, zone", x.zone) for x in c.openings),
        *(("load, zones", name) for name, _ in c.load.zones),
        ("module, zone", c.bank.zone),
        ("thermostat, zone", c.thermostat.zone),
    ]
    for where, zone in placed:
        if zone is not None:
            if not c.zones:
                raise InputError(f"{where}: there are no zones; give [[zone]] tables, or leave it out")
            require_known(where, zone, c.zone_names, "zone")
    along = next((x for x in c.exchanges if x.along_sink), None)
    if c.bank.zone is not None and along is not None:
        raise InputError(f"module, zone: the exchange {along.name!r} says whose air passes the cold sink; leave it out")
    if c.thermostat.zone is not None and c.thermostat_at_sink:
        raise InputError(
            "thermostat, zone: its sensor is in the modules' section, whose air is the sink's; leave it out"
        )
    by_flow = isinstance(c.bank.cold_sink, Sink) and c.bank.cold_sink.resistance is None
    if by_flow and (along is None or along.height is None):
        raise InputError(
            "module, cold_sink, natural: no air passes it by itself; give an [[exchange]] with "
            'along = "cold sink", height and perimeter'
        )
    for wall in c.walls:
        c.wall_shares(wall)


def _check_names(what: str, names: Sequence[str]) -> None:
    for k, name in enumerate(names):
        if name in names[:k]:
            raise InputError(f"{what} {name!r}: the name is used twice; give each {what} a name of its own")


def _check_walls(cabinet: Cabinet) -> None:
    """Every face has one wall, and every wall is as large as what the modules' sections take of it."""
    taken: dict[str, str] = {}
    _check_names("wall", [w.name for w in cabinet.walls])
    for w in cabinet.walls:
        where = f"wall {w.name!r}"
        for face in w.faces:
            if taken.setdefault(face, w.name) != w.name:
                raise InputError(
                    f"{where}, faces: {face!r} belongs to wall {taken[face]!r} already; give each face one wall"
                )
        if cabinet.wall_area(w) < 0:
            raise InputError(
                f"{where}: the modules' sections take more than its whole area; "
                "give the module less wall_area, or fewer modules"
            )
    missing = [f for f in FACES if f not in taken]
    if missing and all(w.area is None for w in cabinet.walls):
        raise InputError(f"wall: no wall covers the face {missing[0]!r}; name it in the faces of a wall")


def _check_moisture(cabinet: Cabinet) -> None:
    """The room's air is as moist as can be, and what becomes of the water inside can be told."""
    require_moisture("cabinet", cabinet.room, cabinet.humidity, cabinet.dew_point)
    for where, value in (
        ("load, moisture", cabinet.load.moisture),
        ("cabinet, inside_humidity", cabinet.inside_humidity),
    ):
        if value and not cabinet.moist:
            raise InputError(
                f"{where}: what becomes of the water depends on the room's air; give [cabinet] a humidity or dew_point"
            )
    most, load = most_evaporated(cabinet), cabinet.load
    if load.moisture > most:
        raise InputError(
            f"load, moisture: {86400e3 * load.moisture:g} g a day are more than {load.surface:g} m2 of wet surface "
            f"give off in dry air as warm as the room, {86400e3 * most:.0f} g; give g a day, or look at the surface"
        )
    if cabinet.inside_humidity is not None:
        if not LEAST <= cabinet.inside_humidity <= 100:
            raise InputError(
                f"cabinet, inside_humidity: {cabinet.inside_humidity:g} is no relative humidity in % (above 0, up to "
                "100)"
            )
        if cabinet.load.moisture:
            raise InputError(
                "cabinet, inside_humidity: says how moist the air is kept, whatever it takes; leave out the load's "
                "moisture, or this"
            )


def most_evaporated(cabinet: Cabinet) -> float:
    """kg/s that a load without any resistance to vapour loses to perfectly dry air (Lewis' relation), at the warmer of
    room and setpoint, and by its own heat; through a film of 10 W/(m2 K) at least, as one that follows may rise."""
    load, warmest = cabinet.load, min(max(cabinet.room, cabinet.setpoint), WARMEST_LOAD)
    dry = (
        max(load.film, 10.0) * load.surface / 1006.0 * float(moist.humidity_ratio(moist.saturation_over_water(warmest)))
    )
    return dry + max(load.heat, 0.0) / float(moist.evaporation_heat(warmest))


def _check_thermostat(cabinet: Cabinet) -> None:
    """The supply can be switched as the thermostat asks, and no heat enters the sensor's section that is not known."""
    thermostat, bank = cabinet.thermostat, cabinet.bank
    if thermostat.switches == "half":
        bank.supply.half_off()
    file = thermostat.file
    if thermostat.sensor == AIR or file is None:
        return
    _check_sides("thermostat", file, thermostat.inside, thermostat.outside, bank.held if file == bank.file else ())
    own = (bank.file, *(sink.file for sink in bank.plates.values()))
    if file not in own and file.section.heat_names:
        raise InputError(
            f"thermostat, section: {file.path} has the heat terminal {file.section.heat_names[0]!r}, whose "
            "watts are not known here; take the modules' own section or a sink's, or leave it out of the file"
        )


def _check_loss(where: str, symbol: str, value: float | None, file: SectionFile | None) -> None:
    if (value is None) == (file is None):
        raise InputError(f"{where}: give exactly one of {symbol} and section")
    if value is not None:
        require_not_negative(f"{where}, {symbol}", value)


def _check_bridge(where: str, symbol: str, views: tuple[str, ...], file: SectionFile, bridge: str | None) -> None:
    """The section of a loss has a view that gives this kind of loss, and the bridge that is named."""
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
    require_known(f"{where}, bridge", bridge, names, f"bridge of {file.path}")


def _check_named_sides(where: str, file: SectionFile | None, inside: tuple[str, ...], outside: tuple[str, ...]) -> None:
    """The sides of a loss's section, if they are named at all."""
    if inside or outside:
        if file is None:
            raise InputError(f"{where}, {'inside' if inside else 'outside'}: belongs to a section, and none is given")
        _check_sides(where, file, inside, outside)


def _check_sides(
    where: str, file: SectionFile, inside: tuple[str, ...], outside: tuple[str, ...], held: Sequence[str] = ()
) -> None:
    """Every fixed terminal of the section is named as the cabinet's air, or as the room's, but for the `held` ones."""
    names = [name for name in file.section.fixed_names if name not in held]
    for key, group in (("inside", inside), ("outside", outside)):
        for name in group:
            require_known(f"{where}, {key}", name, names, f"environment of {file.path}")
    for name in names:
        if (name in inside) == (name in outside):
            raise InputError(f"{where}: {name!r} of {file.path} must be named in exactly one of inside and outside")
