"""Unit fields and adjoints of a stack, and what it answers with other inputs; see `fdm.conduction.adjoint`.

All that is read of a stack is a sum over its nodes. Weights of points beside edges between materials change with the
inputs; those with which a face under a film is read are kept as they are.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp

from fdm.conduction.adjoint.readers import ReadPoints
from fdm.conduction.adjoint.ritz import FieldAnswers, least_energy
from fdm.conduction.arrays import Array, Integers
from fdm.conduction.derivatives import Tangent
from fdm.conduction.network import NetworkValues
from fdm.conduction.peaks import around_points, heated_points
from fdm.conduction.readings import at_points, extended, point_weights, sensor_point
from fdm.conduction.stack.readings import face_weights, heated_field, heated_layers, sensor_weights, stack_fins
from fdm.conduction.stack.system import Stack
from fdm.conduction.stack.tangent import stack_tangent
from fdm.conduction.surfaces import SurfacePlaces, SurfaceTemperatures
from fdm.section.model import FACES


@dataclass(frozen=True)
class PlanPoints:
    """The grid points of the plan that a sensor or a highest temperature is read at."""

    points: ReadPoints
    on_plan: sp.csr_matrix  # (n m, nodes) what each cell of the plan has the temperature of

    def _extended(self, nodes: Array) -> Array:
        """(K, n + 2, m + 2) fields of the plan, from those of all nodes (K, nodes): unit fields come first."""
        plan = self.points.system
        return extended(plan, (self.on_plan @ nodes.T).T.reshape(-1, *plan.raster.shape))

    def changes(self, nodes: Array) -> Array:
        """(F + H, I) change of what is read in the unit fields by the weights alone, per relative change of inputs."""
        by_point = self.points.weight_changes(self._extended(nodes))
        return np.asarray(np.tensordot(self.points.share, by_point, 1))

    def moved(self, nodes: Array, factors: Array) -> Array:
        """(K,) by how much each field is read otherwise with each input `factors` (I,) times as large."""
        at, before, after = self.points, self.points.weights, self.points.scaled_weights(factors)
        i, j, fixed = at.i, at.j, before.fixed.shape[1]
        around = self._extended(nodes)[:, [i, i + 1, i, i + 1], [j, j, j + 1, j + 1]]
        out = (around * (after.cell - before.cell).T).sum(1)
        out[:fixed] += (after.fixed - before.fixed).T
        return np.asarray(out @ at.share)


@dataclass(frozen=True)
class StackAdjoints:
    """A stack with its unit fields, and the adjoints of the S sensors and of P highest temperatures."""

    stack: Stack
    tangent: Tangent
    peaks: tuple[tuple[int, int], ...]  # two heat terminals: the warmest place of the first by a watt at the second
    nodes: Array  # (F + H, nodes) unit fields
    readers: sp.csr_matrix  # (S + P, nodes)
    adjoints: Array  # (S + P, nodes)
    at: tuple[PlanPoints | None, ...]  # (S + P,) the points that each reader reads; None: a part
    surfaces: SurfacePlaces | None

    @cached_property
    def drops(self) -> Array:
        """(F + H, L) of the unit fields across all conductances."""
        return self.tangent.drops(self.nodes)

    @cached_property
    def adjoint_drops(self) -> Array:
        """(S + P, L)"""
        return self.tangent.drops(self.adjoints)

    @property
    def _fixed(self) -> int:
        return len(self.stack.boundary.direct)

    def changes(self) -> NetworkValues:
        """Change of the network's values per relative change of each input (I): one more axis at the end."""
        t, fixed, sensors = self.tangent, self._fixed, len(self.stack.section.sensors)
        network = np.array([-t.effects(one, self.drops) for one in self.drops]).transpose(0, 2, 1)
        read = np.array([-t.effects(one, self.drops).T for one in self.adjoint_drops])
        read = read.reshape(len(self.adjoints), len(self.nodes), t.change.shape[0])
        for of, points in zip(read, self.at):
            if points is not None:
                of += points.changes(self.nodes)
        rows = np.concatenate([network[fixed:], read[:sensors]])
        peak = np.zeros((len(self.stack.heat_inputs),) * 2 + (read.shape[2],))
        for (h, by), of in zip(self.peaks, read[sensors:]):
            peak[h, by] = of[fixed + by]
        coupling = network[:fixed, :fixed] * (1 - np.eye(fixed))[..., None]
        return NetworkValues(coupling, rows[:, :fixed], rows[:, fixed:], peak)

    @cached_property
    def as_solved(self) -> FieldAnswers:
        """What the fields answer with the inputs as they are."""
        return self._answers(self._known, np.ones((1, self.tangent.change.shape[0])))[0]

    def with_scaled_inputs(self, factors: Array) -> list[FieldAnswers]:
        """What two sets of inputs answer, each input being `factors` (2, I) times as large."""
        first_change = self._first_change(factors[1] - factors[0])
        return self._answers(np.concatenate([self._known, first_change]), factors)

    @cached_property
    def _known(self) -> Array:
        return np.concatenate([self.nodes, self.adjoints])

    def _first_change(self, change: Array) -> Array:
        """(K, nodes) change of the unit fields, to first order, by a relative change (I,) of the inputs; where parts
        spread perfectly, of the heat terminals' fields alone."""
        t, fixed = self.tangent, self._fixed
        flow = (t.by_link @ (t.sign * change)) * self.drops[fixed if self.stack.plan.layout.variant.spread else 0 :]
        size = self.nodes.shape[1]
        watts = [np.bincount(t.link[1], f, size) - np.bincount(t.link[0], f, size) for f in flow]
        return _fields(self.stack, t, np.reshape(watts, (len(flow), size)))

    def _answers(self, trial: Array, factors: Array) -> list[FieldAnswers]:
        """What the best sums of trial fields (K, nodes) answer, which begin with the unit fields; see
        `fdm.conduction.adjoint.ritz.answers_with`."""
        fixed, t = self._fixed, self.tangent
        drops = t.drops(trial)
        means = np.zeros((len(trial), len(self.stack.heat_inputs)))
        on_faces = trial[:, self.stack.solid.size + fixed :]
        for h, heat in enumerate(self.stack.heat_inputs):
            share = heat.face_share
            means[:, h] = trial[:, heat.cell] @ heat.share if share is None else on_faces[:, t.face_of == h] @ share
        readings, out = (self.readers @ trial.T).T, []
        for factor, g in zip(factors, t.scaled_conductances(factors).T):
            energy = (drops * g) @ drops.T
            right = np.concatenate([-energy[fixed:, :fixed], means[fixed:]], 1)
            weights = np.zeros((len(trial), len(self.nodes)))
            weights[:fixed, :fixed] = np.eye(fixed)
            weights[fixed:] = least_energy(energy[None, fixed:, fixed:], right[None])[0]
            coupling = -energy[:fixed] @ weights[:, :fixed] * (1 - np.eye(fixed))
            moved = [np.zeros(len(trial)) if p is None else p.moved(trial, factor) for p in self.at]
            now = readings + np.reshape(moved, readings.T.shape).T
            out.append(self._read(trial, weights, coupling, means, now, factor))
        return out

    def _read(
        self, trial: Array, weights: Array, coupling: Array, means: Array, readings: Array, factor: Array
    ) -> FieldAnswers:
        fixed, sensors, heat = self._fixed, len(self.stack.section.sensors), len(self.stack.heat_inputs)
        read = readings.T @ weights
        rows, peak = np.concatenate([means.T @ weights, read[:sensors]]), np.zeros((heat, heat))
        for (h, by), of in zip(self.peaks, read[sensors:]):
            peak[h, by] = of[fixed + by]
        network = NetworkValues(coupling, rows[:, :fixed], rows[:, fixed:], peak)
        in_cells = weights.T @ trial[:, : self.stack.solid.size]
        fins = stack_fins(self.stack, in_cells, factor**-self.tangent.sign)
        if self.surfaces is None:
            return FieldAnswers(network, None, fins)
        at = self.surfaces.rows(in_cells[:, self.surfaces.cell], _surface_factors(self, self.surfaces, factor))
        return FieldAnswers(network, SurfaceTemperatures(self.surfaces, at), fins)


def _surface_factors(adjoints: StackAdjoints, places: SurfacePlaces, factors: Array) -> tuple[Array, Array]:
    """(K,) each, by which factors `inner` and `film` change with each input `factors` (I,) times as large."""
    section = adjoints.stack.section
    parts, before_fins = len(section.parts), len(section.parts) + len(section.environments) + len(section.joints)
    row = np.where(places.owner < parts, places.owner, before_fins + 2 * (places.owner - parts))
    return factors[row], factors[parts + places.terminal]


def stack_adjoints(
    stack: Stack, peaks: Sequence[tuple[int, int]], units: Array, surfaces: SurfacePlaces | None
) -> StackAdjoints:
    """The adjoints of all sensors and of the highest temperatures of `peaks`, from unit fields (F + H, L, n, m)."""
    t = stack_tangent(stack)
    nodes = t.units(units)
    found = [_sensor_reader(stack, t, k) for k in range(len(stack.section.sensors))]
    found += [_peak_reader(stack, t, units, h, by) for h, by in peaks]
    readers = sp.vstack([sp.csr_matrix((0, nodes.shape[1])), *(row for row, _ in found)], format="csr")
    adjoints = _fields(stack, t, readers.toarray())
    return StackAdjoints(stack, t, tuple(peaks), nodes, readers, adjoints, tuple(at for _, at in found), surfaces)


def _fields(stack: Stack, t: Tangent, watts: Array) -> Array:
    """(K, nodes) fields by watts (K, nodes) into cells and faces, with all fixed terminals at 0."""
    cells, fixed = stack.solid.size, len(stack.boundary.direct)
    into, on_faces = watts[:, :cells].copy(), watts[:, cells + fixed :]
    for node, g in zip(t.face, t.face_conductance):  # what enters a face enters the cells beside it
        on = (node >= 0) & (node < cells)
        for one, of in zip(into, on_faces):
            np.add.at(one, node[on], (of * g / (t.face_conductance[0] + t.face_conductance[1]))[on])
    every = np.arange(cells)
    found = stack.solver.fields([(every, one) for one in into]).reshape(len(watts), cells)
    return t.at_nodes(found, np.zeros((len(watts), fixed)), on_faces)


# ---- what is read, as sums over nodes --------------------------------------------------------------------------------


def _selection(stack: Stack, t: Tangent, node: Integers) -> sp.csr_matrix:
    """(n m, nodes) that the cells of the plan have the temperatures of these nodes (n m,)."""
    cells = stack.columns.cells
    return sp.csr_matrix((np.ones(cells), (np.arange(cells), node)), (cells, t.first_face + len(t.face_of)))


def _on_face(stack: Stack, t: Tangent, face: str) -> sp.csr_matrix:
    """(n m, nodes) what each cell of a face has the temperature of."""
    cells, every = stack.columns.cells, np.arange(stack.columns.cells)
    weight, fixed, rises = face_weights(stack, face)
    terminal, cell = np.nonzero(fixed)
    rows, columns = [every, cell], [stack.columns.node(stack.layers.beside(face), every), stack.solid.size + terminal]
    values = [weight, fixed[terminal, cell]]
    for h in stack.faces[FACES.index(face)].heated:
        heat, on = stack.heat_inputs[h], stack.heat_inputs[h].cell % cells
        share = rises[h][on] / np.maximum(stack.rises[h], 1e-300)  # of the cell's area
        rows += [on, on]
        columns += [t.first_face + np.nonzero(t.face_of == h)[0], heat.cell]
        values += [share, -share]
    return sp.csr_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
        (cells, t.first_face + len(t.face_of)),
    )


def _at_points(
    stack: Stack, t: Tangent, on_plan: sp.csr_matrix, i: Integers, j: Integers, share: Array
) -> tuple[sp.csr_matrix, PlanPoints]:
    """(1, nodes) the sum of `share` times the temperatures at grid points (P,) of the plan, and these points."""
    plan, w = stack.plan, point_weights(stack.plan, i, j)
    n, m = plan.raster.shape
    around = [(i - 1, j - 1), (i, j - 1), (i - 1, j), (i, j)]
    out = sp.csr_matrix((1, on_plan.shape[1])).tolil()
    of_cells = np.zeros(n * m)
    fixed = (share[:, None] * w.fixed).sum(0)
    for k, (a, b) in enumerate(around):
        inside = (a >= 0) & (b >= 0) & (a < n) & (b < m)
        owner = plan.raster.owner[a + 1, b + 1]
        solid = inside & plan.properties.solid[owner]
        np.add.at(of_cells, (a * m + b)[solid], (share * w.cell[:, k])[solid])
        known = plan.properties.fixed[owner]
        np.add.at(fixed, known[known >= 0], (share * w.cell[:, k])[known >= 0])
    out[0, stack.solid.size : stack.solid.size + len(fixed)] = fixed
    points = ReadPoints(plan, t.sign, np.zeros(len(i), np.intp), share, i, j)
    return sp.csr_matrix(out + sp.csr_matrix(of_cells) @ on_plan), PlanPoints(points, on_plan)


def _sensor_reader(stack: Stack, t: Tangent, sensor: int) -> tuple[sp.csr_matrix, PlanPoints | None]:
    asked, size = stack.section.sensors[sensor], t.first_face + len(t.face_of)
    if asked.at is None:
        number = stack.plan.part_number(asked.part)
        if (terminal := stack.plan.properties.fixed[number]) >= 0:
            return sp.csr_matrix((np.ones(1), ([0], [stack.solid.size + int(terminal)])), (1, size)), None
        cell, volume = stack.part_cells(number)
        return sp.csr_matrix((volume / volume.sum(), (np.zeros(len(cell), int), cell)), (1, size)), None
    i, j = (np.array([v]) for v in sensor_point(stack.plan, sensor))
    back, *inner, front = sensor_weights(stack, sensor)
    on_plan = back * _on_face(stack, t, "back") + front * _on_face(stack, t, "front")
    for layer, weight in zip(stack.layers.of_plate.tolist(), inner):
        on_plan = on_plan + weight * _selection(stack, t, stack.columns.node(layer, np.arange(stack.columns.cells)))
    return _at_points(stack, t, on_plan, i, j, np.ones(1))


def _peak_reader(stack: Stack, t: Tangent, units: Array, heat: int, by: int) -> tuple[sp.csr_matrix, PlanPoints | None]:
    """The highest temperature of heat terminal `heat` by a watt at terminal `by`."""
    plan, row = stack.plan, len(stack.boundary.direct) + by
    points = heated_points(plan, heat)
    i, j = np.divmod(points, plan.raster.shape[1] + 1)
    weights = point_weights(plan, i, j)
    by_layer = {
        layer: at_points(extended(plan, heated_field(stack, units, heat, layer)), weights, i, j)[row]
        for layer in heated_layers(stack, heat)
    }
    layer = max(by_layer, key=lambda number: float(by_layer[number].max()))
    at_each = by_layer[layer]
    k = np.array([int(np.argmax(at_each))])
    on, share = k, np.ones(1)
    if plan.heat_inputs[heat].axis is None:
        around = around_points(plan, heat, points, k)
        on, share = around.point.ravel(), around.top_weights(at_each[around.point]).ravel()
    node = stack.columns.node(layer, np.arange(stack.columns.cells))
    if heat in stack.rises:
        entered = np.nonzero(t.face_of == heat)[0]
        node[stack.heat_inputs[heat].cell % stack.columns.cells] = t.first_face + entered
    return _at_points(stack, t, _selection(stack, t, node), i[on], j[on], share)
