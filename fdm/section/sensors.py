"""Sensors: where they read, what they should read, and what pulls them from it: a stem, and watts of their own.

A sensor that is a small bead reads its place only as well as it is tied to it. What it touches there is found in the
drawing (`touched`): within a solid it is tied by the spreading of heat into that, in air by a film.
"""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdm.errors import InputError, require_types
from fdm.section.materials import find_material
from fdm.section.pieces import Border, Material, Part, require_face, require_positive, require_temperature
from fdm.section.tables import Table
from fdm.section.uncertain import spread_about
from fdm.surroundings.stems import STILL_SPREAD, still_bead_film, still_lead_film

SENSOR = ("name", "at", "part", "face", "depth", "should_read", "stem", "bead", "self_heating")
STEM = ("material", "diameter", "wall", "count", "length", "through", "film", "insulation", "to")
BEAD = ("diameter", "film", "dissipation")
MOST_LEADS = 1000
BESIDE = 1e-7  # of the drawing's size: so far from a point its surroundings are looked at


@dataclass(frozen=True)
class Stem:
    """Leads, a tube or a screw between a sensor and the environment `to`: `count` of them, of an outer `diameter` (m),
    solid or with a `wall` (m), behind an `insulation` (m) of plastic. `length` (m) of it lies at the sensor's own
    surroundings, behind a `film` (W/(m2 K); None: as these have it, see `touched`); before that `through` (m) lies in a
    wall, where its sides give and take nothing."""

    material: Material
    diameter: float
    length: float
    to: str
    count: int = 1
    wall: float | None = None
    insulation: float = 0.0
    film: float | None = None
    through: float = 0.0

    def __post_init__(self) -> None:
        require_types(self)
        for key in ("diameter", "length"):
            require_positive(f"stem, {key}", getattr(self, key))
        for key in ("insulation", "through"):
            require_positive(f"stem, {key}", getattr(self, key), or_zero=True)
        if self.film is not None:
            require_positive("stem, film", self.film)
        if self.wall is not None:
            require_positive("stem, wall", self.wall)
            if self.wall > self.diameter / 2:
                raise InputError(
                    f"stem, wall: {1e3 * self.wall:g} mm is more than half of its {1e3 * self.diameter:g} mm; "
                    "give the thickness of a tube's wall; of what is solid leave it out"
                )
        if not 1 <= self.count <= MOST_LEADS:
            raise InputError(f"stem, count: {self.count} is not a number of leads from 1 to {MOST_LEADS}")
        if self.length <= self.width:
            raise InputError(
                f"stem, length: {1e3 * self.length:g} mm is not more than its own width, {1e3 * self.width:g} mm; give "
                "the length that lies at the sensor's own surroundings, and look at the units"
            )
        if self.material.conductivity[0] != self.material.conductivity[1]:
            raise InputError(f"stem, material: {self.material.name!r} conducts better one way; give one number")

    @property
    def width(self) -> float:
        """m, with its insulation."""
        return self.diameter + 2 * self.insulation

    @property
    def conduction(self) -> float:
        """W m/K of one: conductivity times area."""
        inner = 0.0 if self.wall is None else self.diameter - 2 * self.wall
        return self.material.conductivity[0] * math.pi / 4 * (self.diameter**2 - inner**2)


@dataclass(frozen=True)
class Bead:
    """The body of a sensor, a sphere of a `diameter` (m) behind a `film` (W/(m2 K)). In a solid it is that of its
    contact (None: perfect), else that of the air (None: as still air has it). Or its `dissipation` (W/K) is known."""

    diameter: float | None = None
    film: float | None = None
    dissipation: float | None = None

    def __post_init__(self) -> None:
        require_types(self)
        if (self.diameter is None) == (self.dissipation is None):
            raise InputError("bead: give exactly one of diameter and dissipation")
        for key in BEAD:
            if getattr(self, key) is not None:
                require_positive(f"bead, {key}", getattr(self, key))
        if self.dissipation is not None and self.film is not None:
            raise InputError("bead, film: is in its dissipation already; leave out one of the two")


@dataclass(frozen=True)
class Sensor:
    """A point (m), or a part by name, and what it should read: an environment, source or sensor by name, or degC.

    In the plate view it reads the mean through the thickness; with `face` that face, or a point `depth` (m) below it.

    Without a `stem` and `self_heating` it has the temperature of its place. Else it is a `bead`, or the end of the stem
    where there is none.
    """

    name: str
    at: tuple[float, float] | None = None
    part: str | None = None
    should_read: str | float | None = None
    face: str | None = None
    depth: float = 0.0
    stem: Stem | None = None
    bead: Bead | None = None
    self_heating: float | None = None  # W

    def __post_init__(self) -> None:
        require_types(self)
        where = f"sensor {self.name!r}"
        if (self.at is None) == (self.part is None):
            raise InputError(f"{where}: give exactly one of at and part")
        if self.face is not None:
            require_face(f"{where}, face", self.face)
            if self.at is None:
                raise InputError(f"{where}, face: a sensor on a face is a point; give at")
        require_positive(f"{where}, depth", self.depth, or_zero=True)
        if self.depth and self.face is None:
            raise InputError(f"{where}, depth: from which face it is measured is missing; give face")
        if self.should_read == self.name:
            raise InputError(f"{where}, should_read: it names the sensor itself; name another or give degC")
        if self.should_read is not None and not isinstance(self.should_read, str):
            require_temperature(f"{where}, should_read", self.should_read)
        if self.self_heating is None:
            return
        require_positive(f"{where}, self_heating (W)", self.self_heating, or_zero=True)
        if self.stem is None and self.bead is None:
            raise InputError(
                f"{where}, self_heating: what it warms is missing; give bead = {{ diameter = .. }}, or its dissipation "
                "in mW/K"
            )

    @property
    def is_pulled(self) -> bool:
        """Whether it may differ from the temperature of its place."""
        return self.stem is not None or self.self_heating is not None


@dataclass(frozen=True)
class Touched:
    """What a sensor touches: the share of its surroundings that is solid, and the mean conductivity (W/(m K)) of that;
    the rest is air."""

    solid: float
    conductivity: float


def touched(parts: Sequence[Part], border: Border, sensor: Sensor) -> Touched:
    """What a sensor touches: its part, or what lies in the four quarters around its point. Beyond an edge without
    border, which is a cut or the axis, all goes on alike."""
    if sensor.at is None:
        materials = [next(p.material for p in parts if p.name == sensor.part)]
    else:
        materials = _around(parts, border, sensor.at)
    solid = [math.sqrt(math.prod(m.conductivity)) for m in materials if m is not None]
    half = 0.5 if sensor.face is not None and not sensor.depth else 1.0
    return Touched(half * len(solid) / max(len(materials), 1), sum(solid) / max(len(solid), 1))


def _around(parts: Sequence[Part], border: Border, at: tuple[float, float]) -> list[Material | None]:
    """The materials in the quarters around a point; None for what is no solid."""
    low_x, high_x, low_y, high_y = zip(*(s.bounds for p in parts for s in p.shapes))
    x0, x1, y0, y1 = min(low_x), max(high_x), min(low_y), max(high_y)
    off = BESIDE * max(x1 - x0, y1 - y0)
    x, y = (c + off * np.array(sign) for c, sign in zip(at, ((-1, 1, -1, 1), (-1, -1, 1, 1))))
    beyond = (x < x0, border.left), (x > x1, border.right), (y < y0, border.bottom), (y > y1, border.top)
    kept = ~np.any([outside for outside, air in beyond if air is None], 0) & np.ones(4, bool)
    x, y = x[kept], y[kept]
    owner = np.full(len(x), -1)
    number = {p.name: k for k, p in enumerate(parts)}
    for k, part in enumerate(parts):
        inside = np.any([s.contains(x, y) for s in part.shapes], 0)
        if part.piece is not None:
            inside &= owner == number[part.piece.beneath]
        owner[inside] = k
    return [None if k < 0 else parts[k].material for k in owner.tolist()]


def read_sensor(
    t: Table, names: Collection[str], materials: Mapping[str, Material], parts: Sequence[Part], border: Border
) -> Sensor:
    """The sensor of a table, with its stem, bead and self-heating. `names` are those that it may be meant to read.
    Where it gives no film, and air is beside it, the film is that of still air, which is uncertain."""
    sensor = Sensor(
        t.text("name"),
        t.optional(t.pair, "at"),
        t.optional(t.text, "part"),
        _should_read(t, names),
        t.optional(t.text, "face"),
        t.optional(t.length, "depth") or 0.0,
    )
    try:
        stem = _stem(t.table("stem", STEM), materials) if "stem" in t.values else None
        bead = _bead(t.table("bead", BEAD)) if "bead" in t.values else None
    except InputError as error:
        raise error if str(error).startswith(t.where) else InputError(f"{t.where}, {error}") from None
    watts = t.optional(lambda key: 1e-3 * t.number(key), "self_heating")
    probe = replace(sensor, stem=stem, bead=bead, self_heating=watts)
    lies = parts if sensor.at is not None else [p for p in parts if p.name == sensor.part]
    if not lies or (stem is None and bead is None):
        return probe  # nothing of it depends on where it lies; or there is no such place, which a rule refuses
    around = touched(parts, border, sensor)
    if stem is not None and stem.film is None and around.solid < 1:
        stem = replace(stem, film=_still(t, "stem", still_lead_film(stem.width, dull=stem.insulation > 0)))
    if bead is not None and bead.diameter is not None and bead.film is None and not around.solid:
        bead = replace(bead, film=_still(t, "bead", still_bead_film(bead.diameter)))
    return replace(probe, stem=stem, bead=bead)


def _should_read(t: Table, names: Collection[str]) -> str | float | None:
    given = t.values.get("should_read")
    if isinstance(given, str) and given not in names:
        try:
            return t.number("should_read")
        except InputError:
            return given  # neither a name nor an expression: the section refuses it with the nearest name
    return given if isinstance(given, str) else t.optional(t.number, "should_read")


def _still(t: Table, key: str, film: float) -> float:
    """A film of still air, which may be moved, at its place."""
    place = f"{t.place(key)}, film"
    t.uncertain[place] = spread_about(place, film, STILL_SPREAD)
    return film + t.moved.get(place, 0.0)


def _stem(t: Table, materials: Mapping[str, Material]) -> Stem:
    with t.at("material"):
        material = find_material(t.text("material"), materials)
    count = t.number("count") if "count" in t.values else 1.0
    if not (1 <= count <= MOST_LEADS and count == int(count)):
        raise t.fault("count", f"{count:g} is not a whole number of leads from 1 to {MOST_LEADS}")
    if "to" not in t.values:
        raise t.fault("to", "missing; name the environment on the other side, where the stem comes from")
    return Stem(
        material,
        t.length("diameter"),
        t.length("length"),
        t.text("to"),
        int(count),
        t.optional(t.length, "wall"),
        t.optional(t.length, "insulation") or 0.0,
        t.optional(lambda key: t.number(key, "film"), "film"),
        t.optional(t.length, "through") or 0.0,
    )


def _bead(t: Table) -> Bead:
    dissipation = t.optional(t.number, "dissipation")
    film = t.optional(lambda key: t.number(key, "film"), "film")
    return Bead(t.optional(t.length, "diameter"), film, None if dissipation is None else 1e-3 * dissipation)
