"""A whole cabinet as a frozen dataclass: what its file says, in SI units and degC. No solving here.

Its pieces (`walls`, `losses`, `bank`, `load`, `thermostat`, `zones`) check their own figures and raise InputError, with
their place, where one is impossible; `Cabinet` checks that they fit together.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from fdm.cabinet.bank import Bank, Sink
from fdm.cabinet.checks import require_known, require_not_negative, require_positive, require_temperature
from fdm.cabinet.films import FollowingFilm
from fdm.cabinet.load import Load
from fdm.cabinet.losses import LineLoss, Opening, PointLoss
from fdm.cabinet.section_file import SectionFile, check_sides
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.walls import FACES, Wall
from fdm.cabinet.zones import AIR, Exchange, Zone, air_shares, check_zones, wall_shares
from fdm.errors import InputError, require_visible
from fdm.section.model import Uncertain
from fdm.section.pieces import LEAST, require_moisture, vapour_pressure
from fdm.surroundings import moist

WARMEST_LOAD = 90.0  # degC up to which what a wet load gives off to air is bounded
AT_SINKS = ("air at the cold sink", "air at the hot sink")
OTHER_NODES = ("room", "load", "cold face", "hot face", "cold plate", "hot plate", *AT_SINKS)  # no zone is called so


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
    film_notes: tuple[str, ...] = ()  # on films by a relation that do not
    unused: tuple[str, ...] = ()  # a sentence on each named number that the file does not use
    humidity: float | None = None  # % of the room's air; or its dew point, degC; or neither
    dew_point: float | None = None
    inside_humidity: float | None = None  # % at which the air inside is kept; None: as it comes
    altitude: float = 0.0  # m; air that moves and what it holds are thinner there

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
    def losses(self) -> tuple[LineLoss | PointLoss, ...]:
        """The lines, then the points."""
        return (*self.lines, *self.points)

    @property
    def section_files(self) -> tuple[SectionFile | None, ...]:
        """Of every line, point, the module, the thermostat and the module's plates, in this order; None where one has
        no section."""
        sinks = (sink.file for sink in self.bank.plates.values())
        return (*(x.file for x in self.losses), self.bank.file, self.thermostat.file, *sinks)

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
        if face in ("left", "right"):
            return depth * height
        return width * (height if face in ("front", "back") else depth)

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
        if name in OTHER_NODES or name.startswith(("lining of ", "load (")):
            other = "air above the bulbs" if name in AT_SINKS else f"air at the {name}"
            raise InputError(f"zone {name!r}: the name is taken; call it by its air, such as {other!r}")
    _check_names("exchange", [x.name for x in c.exchanges])
    check_zones(c.zones, c.exchanges, c.inside[2], [w.name for w in c.walls])
    placed = [
        *((f"line {x.name!r}, zone", x.zone) for x in c.lines),
        *((f"point {x.name!r}, zone", x.zone) for x in c.points),
        *((f"opening {x.name!r}, zone", x.zone) for x in c.openings),
        *(("load, zones" if len(c.load.zones) > 1 else "load, zone", name) for name, _ in c.load.zones),
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
    check_sides("thermostat", file, thermostat.inside, thermostat.outside, bank.held if file == bank.file else ())
    own = (bank.file, *(sink.file for sink in bank.plates.values()))
    if file not in own and file.section.heat_names:
        raise InputError(
            f"thermostat, section: {file.path} has the heat terminal {file.section.heat_names[0]!r}, whose "
            "watts are not known here; take the modules' own section or a sink's, or leave it out of the file"
        )
