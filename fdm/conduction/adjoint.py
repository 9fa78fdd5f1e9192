"""Unit fields and adjoints of a section, and of its variants for spreading and bridges, on one grid.

What an answer gains or loses by an input, to first order, needs no other grid's fields and no finest grid: the one
before it will do, with a quarter of the cells.

They also tell what becomes of the answers where inputs move further, without another grid or factorisation: the fields
of the moved section are sought among sums of unit fields, adjoints, and the fields' own first change (Ritz; the three
make the error of a network entry one of the fourth order in the move, and none at all where one of several resistances
in series is moved).
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.cut_derivatives import varied
from fdm.conduction.derivatives import Tangent, tangent
from fdm.conduction.inputs import rows_of
from fdm.conduction.network import NetworkValues
from fdm.conduction.readings import (
    PointWeights,
    at_points,
    extended,
    face_temperatures,
    heated_points,
    parabola_top,
    point_weights,
    sensor_load,
    sensor_point,
)
from fdm.conduction.solver import Load, Solver, heat_loads, prepared
from fdm.conduction.surfaces import SurfacePlaces, SurfaceTemperatures, surface_factors
from fdm.conduction.system import System

STEP = 1e-6  # relative, of the differences that stand for a derivative of the weights of grid points
OPEN = 1e-12  # part of the largest, of a direction among the sought fields that rounding alone tells from the others


@dataclass(frozen=True)
class Reader:
    """What an answer reads of a field: cells and faces where heat enters, or the grid point (i, j)."""

    cell: Integers
    weight: Array
    face: Array  # (N,) weights of the tangent's faces
    point: tuple[int, int] | None = None


@dataclass(frozen=True)
class Found:
    """What moved fields answer."""

    network: NetworkValues
    surfaces: SurfaceTemperatures | None


@dataclass(frozen=True)
class _Basis:
    """K fields, among whose sums others are sought: their drops, and what is read of them."""

    drops: Array  # (K, L)
    mean: Array  # (K, H) of each heat terminal
    read: Array  # (K, R) by readers of cells
    near: Array  # (K, 4, P) around the grid points that are read
    on_faces: Array  # (K, N) where heat enters
    behind: Array  # (K, P) in the cells behind the places on surfaces

    def joined(self, other: "_Basis") -> "_Basis":
        return _Basis(*(np.concatenate([getattr(b, f.name) for b in (self, other)]) for f in fields(_Basis)))


@dataclass(frozen=True)
class AdjointSystem:
    """A system with its unit fields and the adjoints of what is read: fields of one watt by the reader's weights.

    Nodes as in a `Tangent`. Readers are the sensors, then the highest temperatures of `peaks`.
    """

    system: System
    solver: Solver
    tangent: Tangent
    nodes: Array  # (F + H, nodes)
    ext: Array  # (F + H, n + 2, m + 2), as `extended` gives it
    peaks: tuple[tuple[int, int], ...]  # heat terminals: the warmest of one, by a watt at another
    readers: tuple[Reader, ...]
    surfaces: SurfacePlaces | None  # places that are read besides
    adjoints: Array  # (R, nodes)

    @cached_property
    def drops(self) -> Array:
        """(F + H, L) of the unit fields."""
        return self.tangent.drops(self.nodes)

    @cached_property
    def adjoint_drops(self) -> Array:
        """(R, L)"""
        return self.tangent.drops(self.adjoints)

    def changes(self) -> NetworkValues:
        """Of the network's values, per relative change of each input (I): one more axis at the end."""
        t, fixed, heat = self.tangent, len(self.system.boundary.direct), len(self.system.heat_inputs)
        network = np.array([-t.effects(one, self.drops) for one in self.drops]).transpose(0, 2, 1)
        read = np.array([-t.effects(one, self.drops).T for one in self.adjoint_drops])
        read = read.reshape(len(self.readers), fixed + heat, t.change.shape[0])
        if self._points and len(self._about_points[0]):
            i, j = self._places
            own = at_points(self.ext, self._own_weights, i, j)
            *others, last = self._about_points[0]
            # of degree 0 in all conductances together, but for what watts raise, of degree -1
            rest = np.concatenate([np.zeros((fixed, len(i))), -self._own_weights.heat.T])
            for row in others:
                factors = np.ones(read.shape[2])
                factors[row] += STEP
                change = (at_points(self.ext, self._weights(factors), i, j) - own) / STEP
                read[self._points, :, row] += change.T
                rest -= t.sign[row] * change
            read[self._points, :, last] += (t.sign[last] * rest).T
        sensors = len(self.readers) - len(self.peaks)
        rows = np.concatenate([network[fixed:], read[:sensors]])
        peak = np.zeros((heat, heat, read.shape[2]))
        for (h, q), of in zip(self.peaks, read[sensors:]):
            peak[h, q] = of[fixed + q]
        coupling = network[:fixed, :fixed] * (1 - np.eye(fixed))[..., None]
        return NetworkValues(coupling, rows[:, :fixed], rows[:, fixed:], peak)

    @cached_property
    def here(self) -> Found:
        """The network's values, and what is read on surfaces."""
        return self._sought(self._known, np.ones((1, self.tangent.change.shape[0])))[0]

    def moved(self, ends: Array) -> list[Found]:
        """The same at two `ends` (2, I): with each input as many times as large as these say."""
        return self._sought(self._known.joined(self._seen(*self._first_change(ends[1] - ends[0]))), ends)

    def _sought(self, basis: "_Basis", factors: Array) -> list[Found]:
        """The network's values by each row of factors (E, I), of the fields that are sought among sums of `basis`,
        which begins with the unit fields."""
        fixed = len(self.system.boundary.direct)
        conductance = np.ascontiguousarray(self.tangent.moved(factors).T)[:, None]
        energy = (basis.drops * conductance) @ basis.drops.T
        mean = np.broadcast_to(basis.mean[fixed:], (len(energy), *basis.mean[fixed:].shape))
        right = np.concatenate([-energy[:, fixed:, :fixed], mean], 2)
        sought = np.zeros((*energy.shape[:2], right.shape[2]))
        sought[:, :fixed, :fixed] = np.eye(fixed)
        sought[:, fixed:] = _solved(energy[:, fixed:, fixed:], right)
        coupling = -energy[:, :fixed] @ sought[:, :, :fixed] * (1 - np.eye(fixed))
        return [self._read(basis, *one) for one in zip(sought, coupling, factors)]

    def _first_change(self, move: Array) -> tuple[Array, Array]:
        """(K, nodes) and (K, L) change of the unit fields and their drops by a relative move (I,) of the inputs; where
        spreading is perfect, of those by heat alone."""
        t, system = self.tangent, self.system
        cells, fixed = system.solid.size, len(system.boundary.direct)
        flow = (t.by_link @ (t.sign * move)) * self.drops[fixed if self.system.layout.variant.spread else 0 :]
        size = self.nodes.shape[1]
        if not len(flow):
            return np.empty((0, size)), flow
        watts = np.array([np.bincount(t.link[1], f, size) - np.bincount(t.link[0], f, size) for f in flow])
        solid, on_faces = np.nonzero(system.solid.ravel())[0], watts[:, cells + fixed :]
        for node, g in zip(t.face, t.face_conductance):  # what enters a face enters the cells beside it
            on = (node >= 0) & (node < cells)
            for w, of in zip(watts, on_faces):
                np.add.at(w, node[on], (of * g / (t.face_conductance[0] + t.face_conductance[1]))[on])
        found = self.solver.fields([(solid, w[solid]) for w in watts], refine=False)
        nodes = t.at_nodes(found.reshape(len(watts), -1), np.zeros((len(watts), fixed)), on_faces)
        return nodes, t.drops(nodes)

    @cached_property
    def _known(self) -> "_Basis":
        """The unit fields, then the adjoints."""
        units = self._seen(self.nodes, self.drops)
        if self._points:  # beside these, environments and edges have temperatures of their own
            i, j = self._places
            units = replace(units, near=self.ext[:, [i, i + 1, i, i + 1], [j, j, j + 1, j + 1]])
        return units.joined(self._seen(self.adjoints, self.adjoint_drops))

    def _seen(self, nodes: Array, drops: Array) -> "_Basis":
        """Fields (K, nodes) and what is read of them."""
        system, t = self.system, self.tangent
        n, m = system.raster.shape
        mean = np.zeros((len(nodes), len(system.heat_inputs)))
        on_faces = nodes[:, system.solid.size + len(system.boundary.direct) :]
        for h, heat_input in enumerate(system.heat_inputs):
            share = heat_input.face_share
            mean[:, h] = (
                nodes[:, heat_input.cell] @ heat_input.share if share is None else on_faces[:, t.face_of == h] @ share
            )
        read = [nodes[:, r.cell] @ r.weight if r.point is None else np.zeros(len(nodes)) for r in self.readers]
        near = np.zeros((len(nodes), 4, len(self._points)))
        if self._points:
            i, j = self._places
            for k, (a, b) in enumerate(((i - 1, j - 1), (i, j - 1), (i - 1, j), (i, j))):
                inside = (a >= 0) & (b >= 0) & (a < n) & (b < m)
                near[:, k, inside] = nodes[:, (a * m + b)[inside]]
        behind = nodes[:, [] if self.surfaces is None else self.surfaces.cell]
        return _Basis(drops, mean, np.reshape(read, (len(self.readers), len(nodes))).T, near, on_faces, behind)

    def _read(self, basis: "_Basis", sought: Array, coupling: Array, factors: Array) -> Found:
        """What is read of fields that are sums of `basis` (K), weighed by `sought` (K, F + H)."""
        t, fixed, heat = self.tangent, len(self.system.boundary.direct), len(self.system.heat_inputs)
        read = basis.read.T @ sought
        if self._points:
            weights = self._weights(factors)
            values = np.einsum("kcp,pc->pk", basis.near, weights.cell) @ sought
            read[self._points] = values + np.concatenate([weights.fixed, weights.heat], 1)
        sensors = len(self.readers) - len(self.peaks)
        rows = np.concatenate([basis.mean.T @ sought, read[:sensors]])
        peak = np.zeros((heat, heat))
        for (h, q), reader, of in zip(self.peaks, self.readers[sensors:], read[sensors:]):
            peak[h, q] = of[fixed + q]
            if reader.point is None:
                on_faces = sought[:, fixed + q] @ basis.on_faces[:, t.face_of == h]
                peak[h, q] = parabola_top(_middles(self.system, h), on_faces)
        network = NetworkValues(coupling, rows[:, :fixed], rows[:, fixed:], peak)
        if self.surfaces is None:
            return Found(network, None)
        moved = surface_factors(self.system, self.surfaces, factors)
        on_surfaces = self.surfaces.rows(sought.T @ basis.behind, moved)
        return Found(network, SurfaceTemperatures(self.surfaces, on_surfaces))

    @cached_property
    def _points(self) -> list[int]:
        """Numbers of the readers that read a grid point."""
        return [k for k, r in enumerate(self.readers) if r.point is not None]

    @cached_property
    def _places(self) -> tuple[Integers, Integers]:
        i, j = np.array([r.point for r in self.readers if r.point is not None]).T
        return i, j

    @cached_property
    def _about_points(self) -> tuple[Integers, bool]:
        """Rows of the inputs on which the weights of the read grid points depend; whether cells are cut there."""
        system, steps = self.system, range(-2, 2)
        (i, j), owner = self._places, np.pad(system.raster.owner, 1, mode="edge")
        owners = [owner[i + a + 2, j + b + 2].ravel() for a in steps for b in steps]
        near: Bools = np.zeros(0, bool)
        if system.cut is not None:
            beside = (abs(system.cut.i + 0.5 - i[:, None]) < 2) & (abs(system.cut.j + 0.5 - j[:, None]) < 2)
            near = np.asarray(beside.any(0))
            owners.append(system.cut.owner[near].ravel())
        return rows_of(system.layout, np.unique(np.concatenate(owners))), bool(near.any())

    def _weights(self, factors: Array) -> PointWeights:
        about = self._about_points[0]
        better = factors[about] ** self.tangent.sign[about]
        if not len(about):
            return self._own_weights
        if (better == better[0]).all():  # alike: nothing moves but what watts raise
            return replace(self._own_weights, heat=self._own_weights.heat / better[0])
        return point_weights(varied(self._uncut, factors, *self._places), *self._places)

    @cached_property
    def _own_weights(self) -> PointWeights:
        return point_weights(self._uncut, *self._places)

    @cached_property
    def _uncut(self) -> System:
        """The system, without its cut cells where none of them lies beside a point that is read."""
        system = self.system
        return system if self._about_points[1] else replace(system, layout=replace(system.layout, cut=None))


def adjoint_system(
    system: System,
    peaks: Sequence[tuple[int, int]],
    units: Array | None = None,
    surfaces: SurfacePlaces | None = None,
) -> AdjointSystem:
    fixed, sensors = len(system.boundary.direct), range(len(system.section.sensors))
    loads = heat_loads(system)
    solver = prepared(system, fixed + len(loads) + len(sensors) + len(peaks))
    units, t = solver.fields(loads, with_fixed=True) if units is None else units, tangent(system)
    ext = extended(system, units)
    readers = [_sensor_reader(system, k, t) for k in sensors]
    readers += [_peak_reader(system, t, ext, h, q) for h, q in peaks]
    count = len(readers)
    adjoints = (
        solver.fields([_load(t, r) for r in readers]).reshape(count, -1) if readers else np.empty((0, units[0].size))
    )
    on_faces = np.reshape([r.face for r in readers], (count, len(t.face_of)))
    nodes = t.at_nodes(adjoints, np.zeros((count, fixed)), on_faces)
    return AdjointSystem(system, solver, t, t.units(units), ext, tuple(peaks), tuple(readers), surfaces, nodes)


def _solved(energy: Array, right: Array) -> Array:
    """The sums of fields (E, K, ..) that are at rest, for their energy (E, K, K); they may be hardly independent."""
    size = np.sqrt(np.maximum(np.diagonal(energy, 0, 1, 2), 1e-300))[..., None]
    value, vector = np.linalg.eigh(energy / size / size.swapaxes(1, 2))
    on = value > OPEN * value.max(1, initial=0.0, keepdims=True)
    inverse = np.divide(1.0, value, out=np.zeros_like(value), where=on)
    return np.asarray((vector * inverse[:, None]) @ (vector.swapaxes(1, 2) @ (right / size)) / size)


# ---- what is read ---------------------------------------------------------------------------------------------------


def _sensor_reader(system: System, sensor: int, t: Tangent) -> Reader:
    point = sensor_point(system, sensor) if system.section.sensors[sensor].at is not None else None
    return Reader(*sensor_load(system, sensor), np.zeros(len(t.face_of)), point)


def _peak_reader(system: System, t: Tangent, ext: Array, heat: int, by: int) -> Reader:
    """The highest temperature of one heat terminal by a watt at another, as `points.highest` finds it."""
    fixed, heat_input = len(system.boundary.direct), system.heat_inputs[heat]
    m = system.raster.shape[1]
    faces = np.zeros(len(t.face_of))
    i, j = np.divmod(heated_points(system, heat), m + 1)
    weights = point_weights(system, i, j)
    points = at_points(ext, weights, i, j)[fixed + by]
    k = int(np.argmax(points))
    if heat_input.axis is not None and heat_input.at is not None:
        on_faces = face_temperatures(system, ext, heat)[fixed + by]
        peak = _peak_weights(_middles(system, heat), on_faces)
        if peak @ on_faces >= points[k]:
            faces[t.face_of == heat] = peak
            return Reader(np.empty(0, np.intp), np.empty(0), faces)
    a, b = i[k] - 1 + np.array([0, 1, 0, 1]), j[k] - 1 + np.array([0, 0, 1, 1])
    on = np.pad(system.solid, 1)[a + 1, b + 1]
    return Reader((a * m + b)[on], weights.cell[k][on], faces, (int(i[k]), int(j[k])))


def _middles(system: System, heat: int) -> Array:
    """(K,) places along a heat terminal's segment of the middles of its faces."""
    heat_input = system.heat_inputs[heat]
    assert heat_input.axis is not None and heat_input.at is not None
    lines, along = system.raster.y if heat_input.axis == 0 else system.raster.x, heat_input.at[1 - heat_input.axis]
    return (lines[along] + lines[along + 1]) / 2


def _peak_weights(s: Array, t: Array) -> Array:
    """(K,) derivative of the top of the parabola through the warmest of t (K,) at places s and the two beside it. Being
    of first degree, its product with t is the top itself."""
    k, out = int(np.argmax(t)), np.zeros(len(t))
    out[k] = 1.0
    if not 0 < k < len(t) - 1:
        return out
    a, b = s[k - 1] - s[k], s[k + 1] - s[k]
    du, dv = np.array([1 / a, -1 / a, 0.0]), np.array([0.0, -1 / b, 1 / b])
    d_curvature = (dv - du) / (b - a)
    d_slope = du - d_curvature * a
    near = t[k - 1 : k + 2] - t[k]
    curvature, slope = d_curvature @ near, d_slope @ near
    if curvature < 0:
        out[k - 1 : k + 2] += slope**2 / (4 * curvature**2) * d_curvature - slope / (2 * curvature) * d_slope
    return out


def _load(t: Tangent, reader: Reader) -> Load:
    """The reader's weights on cells alone: those of a face go to the cells beside it as watts that enter there do."""
    cells, (g0, g1) = t.system.solid.size, t.face_conductance
    cell, weight = [reader.cell], [reader.weight]
    for node, g in zip(t.face, (g0, g1)):
        on = (reader.face != 0) & (node >= 0) & (node < cells)
        cell.append(node[on])
        weight.append((reader.face * g / (g0 + g1))[on])
    return np.concatenate(cell), np.concatenate(weight)
