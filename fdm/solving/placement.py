"""Where to put a sensor: what it would misread at any place of a solved section, and the best places.

What a bead reads is linear in the temperatures and watts of the terminals. So while R of them lie anywhere in ranges,
its misreading at a place is furthest from 0 at a corner of their box,

    worst = m + s sum_r |d_r|      m in the middle of all ranges, s its sign, d_r its change to the end of range r

and the fields of R + 1 operating points give it for all places.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from fdm.answers.grid import KELVIN
from fdm.answers.quantity import Array
from fdm.answers.sensors import Reading
from fdm.answers.stems import pull_in, without_still_films
from fdm.conduction.arrays import Bools, Integers
from fdm.conduction.fields import Field, LayeredField
from fdm.conduction.places import temperatures_at
from fdm.errors import InputError, is_number, nearest, what_is
from fdm.grid.edges import parts_at
from fdm.grid.raster import middles
from fdm.section.model import UNITS, Section
from fdm.section.sensors import Sensor, Touched
from fdm.solving.operating_point import at_operating_point
from fdm.solving.places import places_in_metres, shaped
from fdm.solving.ranges import Ranges, checked_ranges
from fdm.solving.solution import Solution, superposed

WITHIN = 0.5  # K that a sensor may misread where nobody says: common practice, no source
OFF = 1.0  # mm by which a bead may lie off its place, in the choice of the best places: common practice, no source
# of the way from a surface to the middle of its cell: the first that is in the part
INWARDS = (1e-6, 1e-3, 0.1, 0.5, 1.0)
FELT = 1e-9  # K; a terminal that changes less does not count


@dataclass(frozen=True)
class Place:
    """The best place for a bead in a part, on its surface, or in an air."""

    part: str  # "" in an air
    where: str  # "in" a part; "on" its surface in the air; on the "front" or "back" of a plate; "air"
    air: str  # "" in and on parts
    x: float  # in the file's unit; NaN in an air, which is alike everywhere
    y: float
    misreading: float  # K; over ranges the one furthest from 0
    band: float  # K
    slope: float  # K/mm, how fast that changes beside it
    share: float  # of the part, its surface or its face, in which a bead misreads no more than the limit
    at: Mapping[str, float]  # the temperatures and watts, of those with a range, at which it misreads so much


@dataclass(frozen=True)
class Placement:
    """What a bare bead would misread at each place of a solved section, in place of one sensor; over ranges, the
    misreading furthest from 0. Printed, and in notebooks, it shows its table.

    A bare bead in a solid reads what that has there, on a surface what the solid has, and in an air that air. A sensor
    with a stem or watts of its own is pulled from that as if it lay there, in still air where it is in air. What it
    sees of warm and cold surfaces is left out. The arrays are of the finest grid; of a plate
    in layers they are those of its front.
    """

    sensor: str  # or the terminal whose temperature is to be read
    should_read: str | float  # a name, or degC
    within: float  # K, the limit
    ranges: Ranges
    points: tuple[Solution, ...] = field(repr=False)  # in the middle of all ranges, then at the high end of each

    @property
    def section(self) -> Section:
        return self.points[0].section

    @property
    def unit(self) -> str:
        """Of all lengths: mm, cm or m, as in the file."""
        return self.section.unit

    @property
    def kept(self) -> bool:
        """Whether numbers that follow the temperature keep what they are in the middle of the ranges."""
        return bool(self.ranges) and self.points[0].frozen is not None

    @property
    def faces(self) -> tuple[str, ...]:
        """Front and back of a plate in layers; else one without a name."""
        return ("front", "back") if self.section.layered else ("",)

    @property
    def x(self) -> Array:
        """(n,) the middles of the cells along x."""
        return middles(self.points[0].field.x) / UNITS[self.unit]

    @property
    def y(self) -> Array:
        """(m,)"""
        return middles(self.points[0].field.y) / UNITS[self.unit]

    @cached_property
    def misreading(self) -> Array:
        """(n, m) K, in the middles of the cells; NaN in voids and where nothing is drawn."""
        fields = self.fields()
        return self.worst(np.stack([f.temperature for f in fields]), fields[0].part)

    def at(self, x: ArrayLike, y: ArrayLike, face: str = "") -> Any:
        """K that a bead misreads at points x, y in the file's unit, given as for `SolvedField.at`, from three grids; of
        a plate in layers on its front, or that `face` ("back")."""
        px, py, shape = places_in_metres(x, y, self.unit)
        return shaped(self.read(px, py, face)[0], shape)

    def band_at(self, x: ArrayLike, y: ArrayLike, face: str = "") -> Any:
        """K by which `at` may be off, as far as the grids go; infinite where they cannot tell."""
        px, py, shape = places_in_metres(x, y, self.unit)
        return shaped(self.read(px, py, face)[1], shape)

    @cached_property
    def best(self) -> tuple[Place, ...]:
        """The best place in each part and on each of its surfaces, and each air; first where least is misread by a bead
        that may lie a millimetre off."""
        found = [p for face in self.faces for p in _in_parts(self, face)] + list(_in_airs(self))
        return tuple(sorted(found, key=lambda p: abs(p.misreading) + OFF * p.slope))

    @property
    def solid(self) -> tuple[Place, ...]:
        """Those of the best places that are no air."""
        return tuple(p for p in self.best if p.where != "air")

    @property
    def now(self) -> tuple[float, float] | None:
        """K that the sensor misreads where it is, over the ranges as above, and its band; None where there is none."""
        reading = self.reading_now
        return None if reading is None else (reading.misreading or 0.0, reading.misreading_band or 0.0)

    @cached_property
    def reading_now(self) -> Reading | None:
        """The same with what it is made of."""
        if self.sensor not in (s.name for s in self.section.sensors):
            return None
        path = ("sensors", self.sensor, "misreading")
        m = np.array([p.answers.at(path)[0] for p in self.points])
        corner = self._corner(m)
        return (superposed(self.points[0], corner) if corner else self.points[0]).sensors[self.sensor]

    def fields(self, face: str = "") -> list[Field]:
        """The field of the finest grid at each of the operating points."""
        return [_on_face(point.field, face) for point in self.points]

    @cached_property
    def probe(self) -> Sensor | None:
        """The sensor, where it has a stem or watts of its own; None: a bare bead."""
        sensor = next((s for s in self.section.sensors if s.name == self.sensor), None)
        return without_still_films(sensor) if sensor is not None and sensor.is_pulled else None

    def worst(self, temperatures: Array, owner: Integers, face: str = "") -> Array:
        """(...) K that is misread where places in parts number `owner` (...), -1 for an air, have `temperatures`
        (R + 1, ...) at the operating points."""
        m = self.misread(temperatures, owner, np.full(owner.shape, bool(face)))
        return _combined(m, _signs(m))

    def misread(self, temperatures: Array, owner: Integers, on_surface: Bools) -> Array:
        """(R + 1, ...) K that is misread then, at each of the operating points; `on_surface` (...) says whether a bead
        is sunk into its part by half."""
        wanted = self._wanted[-1].reshape(-1, *(1,) * owner.ndim)
        return np.asarray(self._sensed(temperatures, owner, on_surface) - wanted)

    def read(
        self, x: Array, y: Array, face: str = "", on_surface: Bools | None = None
    ) -> tuple[Array, Array, list[dict[str, float]]]:
        """(K,) misreadings at points x, y (K,), m, their bands, and where in the ranges each is."""
        on_grids = [[_on_face(f, face) for f in p.field.on_grids] for p in self.points]
        read = [[temperatures_at(p.section, f, x, y) for f in own] for p, own in zip(self.points, on_grids)]
        on = np.full(x.shape, bool(face)) if on_surface is None else on_surface
        return self.judged(np.array(read).swapaxes(0, 1), parts_at(self.section, x, y), on)

    def judged(
        self, temperatures: Array, owner: Integers, on_surface: Bools
    ) -> tuple[Array, Array, list[dict[str, float]]]:
        """The same of what places have, (3, R + 1, K), on each grid at each of the operating points."""
        m = self._sensed(temperatures, owner, on_surface) - self._wanted[..., None]
        signs = _signs(m[-1])
        value, band = self.points[0].field.with_band([_combined(own, signs) for own in m], KELVIN)
        return value, band, [self._corner(own) for own in m[-1].T]

    def shares(self, owner: Integers, on_surface: Bools) -> tuple[Array, Array]:
        """(...) what share the stem has in what the sensor reads in or on parts number `owner` (...), -1 for an air;
        and by how many K its own watts warm it."""
        if self.probe is None:
            return np.zeros(owner.shape), np.zeros(owner.shape)
        materials = [p.material for p in self.section.parts]
        of_parts = [math.sqrt(math.prod(m.conductivity)) if m is not None else 0.0 for m in materials]
        watts, out = self.probe.self_heating or 0.0, []
        for solid in (1.0, 0.5):
            each = [pull_in(self.probe, Touched(solid if k else 0.0, k)) for k in (*of_parts, 0.0)]
            out.append(np.array([(p.share, watts * p.resistance) for p in each]).T[:, owner])
        share, rise = np.where(on_surface, out[1], out[0])
        return share, rise

    def _sensed(self, temperatures: Array, owner: Integers, on_surface: Bools) -> Array:
        """(..., R + 1, ...) what the sensor reads at places that have these temperatures."""
        if self.probe is None:
            return temperatures
        share, rise = self.shares(owner, on_surface)
        far = np.zeros(len(self.points))
        if self.probe.stem is not None:
            k = self.section.fixed_names.index(self.probe.stem.to)
            far = np.array([p.section.fixed_temperatures[k] for p in self.points])
        return np.asarray((1 - share) * temperatures + share * far.reshape(-1, *(1,) * owner.ndim) + rise)

    @cached_property
    def _wanted(self) -> Array:
        """(3, R + 1) degC that should be read, on each grid, at each of the operating points."""
        goal = self.should_read
        if not isinstance(goal, str):
            return np.full((3, len(self.points)), float(goal))
        drawn = goal in (s.name for s in self.section.sensors)
        path = ("sensors", goal, "reading") if drawn else ("terminals", goal, "temperature")
        at = self.points[0].answers.place[path]
        return np.array([[p.asked.values(p.grids[k].answers)[at] for p in self.points] for k in range(3)])

    def _corner(self, m: Array) -> dict[str, float]:
        """The ends of the ranges at which a misreading, `m` (R + 1,) at the operating points, is furthest from 0."""
        ends = ((name, *both) for name, both in self.ranges.items())
        change = m[1:] - m[0]
        return {
            name: high if sign > 0 else low
            for (name, low, high), sign, d in zip(ends, _signs(m), change)
            if abs(d) > FELT
        }


def placement(solution: Solution, sensor: str, within: float = WITHIN, between: Ranges | None = None) -> Placement:
    """What a bare bead would misread at each place of the section, in place of `sensor`; without a new solve, but for
    one where films or other numbers follow the temperature: over ranges they keep what they are in the middle of these.

    `sensor` is one of the section's that has a `should_read`; or an environment or source, whose temperature a sensor
    that is not drawn yet should read. `within` (K) is how much it may misread. With `between`, ranges (low, high) of
    the temperatures (degC) or watts of terminals by name, it is the worst over these. Raises InputError for a name that
    is none of these, for a limit that is no number above 0, and for what is no range.

    >>> import fdm
    >>> found = placement(fdm.solve("geometries/bolt.toml"), "cabinet air")
    >>> best = found.solid[0]
    >>> best.part, best.where, best.air, round(best.misreading, 2)
    ('cold plate', 'on', 'cabinet air', 1.04)
    """
    if not isinstance(solution, Solution):
        raise InputError(f"placement: {what_is(solution)} is no solution; give one that solve returned")
    goal = wanted_by(solution.section, sensor)
    if not is_number(within) or not 0 < within < math.inf:
        raise InputError(f"within: {what_is(within)} is not a number of kelvins above 0, such as {WITHIN:g}")
    ranges = checked_ranges(solution.section, {} if between is None else between)
    if not ranges:
        return Placement(sensor, goal, float(within), ranges, (solution,))
    middle = at_operating_point(solution, {name: (low + high) / 2 for name, (low, high) in ranges.items()})
    points = (middle, *(superposed(middle, {name: high}) for name, (_, high) in ranges.items()))
    return Placement(sensor, goal, float(within), ranges, points)


def wanted_by(section: Section, name: str) -> str | float:
    """What a sensor should read, by its own name or that of a terminal. Raises InputError as `placement` does."""
    sensors = {s.name: s for s in section.sensors}
    terminals = (*section.fixed_names, *section.heat_names)
    if not isinstance(name, str):
        raise InputError(f"place: {what_is(name)} is no name; give that of a sensor, an environment or a source")
    if name in sensors:
        goal = sensors[name].should_read
        if goal is None:
            raise InputError(
                f"place: sensor {name!r} has no should_read, so that nothing is misread; give it one, or name what a "
                f"sensor should read, such as {terminals[0]!r}"
            )
        return goal
    if name not in terminals:
        raise InputError(
            f"place: there is no sensor, environment or source {name!r}; {nearest(name, [*sensors, *terminals])}"
        )
    return name


def _on_face(own: Field, face: str) -> Field:
    """The field of one face, where it has several."""
    if face not in ("", "front", "back"):
        raise InputError(f'face: {face!r} is no face of a plate; give "front" or "back"')
    if isinstance(own, LayeredField) and face == "back":
        return own.back
    return own


def _signs(m: Array) -> Array:
    """(R, ...) of the changes from the middle that lead furthest from 0, for misreadings `m` (R + 1, ...)."""
    return np.where(m[0] >= 0, 1.0, -1.0) * np.where(m[1:] >= m[0], 1.0, -1.0)


def _combined(values: Array, signs: Array) -> Array:
    """(...) at a corner, of values (R + 1, ...) at the operating points that are linear in temperatures and watts."""
    return np.asarray(values[0] + (signs * (values[1:] - values[0])).sum(0))


# ---- the best places -------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Candidates:
    """C places on the finest grid, each in a part or on one of its surfaces."""

    kinds: tuple[tuple[str, str, str], ...]  # part, where and air, as of a `Place`
    kind: Integers  # (C,)
    at: Array  # (C, 2) m
    misreading: Array  # (C,) K
    slope: Array  # (C,) K/mm
    size: Array  # (C,) of the cell or piece of surface, for shares


def _in_airs(found: Placement) -> Iterator[Place]:
    """Each air: a bead reads its temperature."""
    names = [e.name for e in found.section.environments]
    own = np.array([p.section.fixed_temperatures[: len(names)] for p in found.points])
    nowhere = np.full(len(names), -1), np.zeros(len(names), bool)
    value, band, at = found.judged(np.broadcast_to(own, (3, *own.shape)), *nowhere)
    for name, v, b, corner in zip(names, value.tolist(), band.tolist(), at):
        yield Place("", "air", name, math.nan, math.nan, v, b, 0.0, float(abs(v) <= found.within), corner)


def _in_parts(found: Placement, face: str) -> Iterator[Place]:
    """The best place in each solid part, or on a face of a plate in layers; and on each surface of what is no plate."""
    cells, slope = _cells(found, face)
    several = [cells] if found.section.view == "plate" else [cells, _surfaces(found, slope)]
    chosen = [pair for c in several for pair in _chosen(c, found.within)]
    x, y = np.array([place for _, place in chosen]).reshape(-1, 2).T
    on_surface = np.array([p.where != "in" for p, _ in chosen], bool)
    value, band, at = found.read(x, y, face, on_surface)
    unit = UNITS[found.unit]
    digits = 5 - math.floor(math.log10(found.section.size / unit))
    for (p, place), v, b, corner in zip(chosen, value.tolist(), band.tolist(), at):
        rounded = [round(float(a) / unit, digits) + 0.0 for a in place]
        yield replace(p, x=rounded[0], y=rounded[1], misreading=v, band=b, at=corner)


def _chosen(of: _Candidates, within: float) -> Iterator[tuple[Place, Array]]:
    """Of each kind the candidate where least is misread a millimetre off, and where it is, (2,) m."""
    score = abs(of.misreading) + OFF * of.slope
    for k, (part, where, air) in enumerate(of.kinds):
        on = np.nonzero((of.kind == k) & np.isfinite(score))[0]
        if not len(on):
            continue
        best = on[score[on].argmin()]
        share = float(of.size[on[abs(of.misreading[on]) <= within]].sum() / of.size[on].sum())
        yield Place(part, where, air, 0.0, 0.0, 0.0, 0.0, float(of.slope[best]), share, {}), of.at[best]


def _cells(found: Placement, face: str) -> tuple[_Candidates, Array]:
    """The solid cells, and the slope (n, m) K/mm in all cells."""
    fields, section = found.fields(face), found.section
    f, temperature = fields[0], np.stack([own.temperature for own in fields])
    on_surface = np.full(f.part.shape, bool(face))
    signs = _signs(found.misread(temperature, f.part, on_surface))[..., None]
    gradient = _combined(np.stack([_gradient(own) for own in fields]), signs)
    slope = (1 - found.shares(f.part, on_surface)[0]) * np.hypot(*np.moveaxis(gradient, -1, 0)) / 1e3
    x, y = np.meshgrid(middles(f.x), middles(f.y), indexing="ij")
    size = np.outer(np.diff(f.x), np.diff(f.y)) * (x if section.view == "axisymmetric" else 1.0)
    kinds = tuple((p.name, face or "in", "") for p in section.parts)
    on, worst = f.solid, found.worst(temperature, f.part, face)
    at = np.column_stack([x[on], y[on]])
    return _Candidates(kinds, f.part[on], at, worst[on], slope[on], size[on]), slope


def _gradient(own: Field) -> Array:
    """(n, m, 2) K/m; 0 where nothing conducts."""
    return np.divide(-own.flux, own.conductivity, out=np.zeros_like(own.flux), where=own.conductivity > 0)


def _surfaces(found: Placement, slope: Array) -> _Candidates:
    """The middles of all faces and pieces of edge on surfaces, a bit within their part; slopes are those of the cells
    behind them, from `slope` (n, m)."""
    section, places, f = found.section, found.points[0].system.surfaces, found.fields()[0]
    loads = [np.concatenate([p.section.fixed_temperatures, p.section.watts]) for p in found.points]
    surfaces = [p.grids[-1].answers.surfaces for p in found.points]
    temperature = np.stack([own.rows @ load for own, load in zip(surfaces, loads) if own is not None])
    i, j = np.divmod(places.cell, f.solid.shape[1])
    middle, centre = places.ends.mean(1), np.column_stack([middles(f.x)[i], middles(f.y)[j]])
    at, outside = centre.copy(), np.ones(len(centre), bool)
    for share in INWARDS:
        tried = middle + share * (centre - middle)
        now = outside & (parts_at(section, *tried.T) == places.owner)
        at[now], outside = tried[now], outside & ~now
    kinds = tuple((part, "on", air) for part, air in places.pairs)
    worst = found.worst(temperature, places.owner, "on")
    return _Candidates(kinds, places.pair, at, worst, slope.ravel()[places.cell], places.area)
