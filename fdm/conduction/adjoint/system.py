"""Unit fields and adjoints of a section on one grid, or of its variant for a spreading resistance or a bridge."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fdm.conduction.adjoint.readers import Readers, readers_of
from fdm.conduction.adjoint.ritz import FieldAnswers, TrialFields, answers_with, trial_fields
from fdm.conduction.arrays import Array
from fdm.conduction.derivatives import Tangent, tangent
from fdm.conduction.network import NetworkValues
from fdm.conduction.readings import extended
from fdm.conduction.solver import Solver, heat_loads, prepared
from fdm.conduction.surfaces import SurfacePlaces
from fdm.conduction.system import System


@dataclass(frozen=True)
class AdjointSystem:
    """A system with its unit fields, and the adjoints of its R readers. Nodes are those of the `Tangent`."""

    solver: Solver
    readers: Readers
    nodes: Array  # (F + H, nodes) unit fields
    ext: Array  # (F + H, n + 2, m + 2) the same, as `extended` gives them
    adjoints: Array  # (R, nodes)

    @property
    def system(self) -> System:
        return self.readers.system

    @property
    def tangent(self) -> Tangent:
        return self.readers.tangent

    @cached_property
    def drops(self) -> Array:
        """(F + H, L) of the unit fields across all conductances."""
        return self.tangent.drops(self.nodes)

    @cached_property
    def adjoint_drops(self) -> Array:
        """(R, L)"""
        return self.tangent.drops(self.adjoints)

    def changes(self) -> NetworkValues:
        """Change of the network's values per relative change of each input (I): one more axis at the end."""
        t, fixed, heat = self.tangent, len(self.system.boundary.direct), len(self.system.heat_inputs)
        network = np.array([-t.effects(one, self.drops) for one in self.drops]).transpose(0, 2, 1)
        read = np.array([-t.effects(one, self.drops).T for one in self.adjoint_drops])
        read = read.reshape(len(self.adjoints), fixed + heat, t.change.shape[0])
        if self.readers.points is not None:
            points = self.readers.points
            np.add.at(read, points.reader, points.share[:, None, None] * points.weight_changes(self.ext))
        sensors = self.readers.sensors
        rows = np.concatenate([network[fixed:], read[:sensors]])
        peak = np.zeros((heat, heat, read.shape[2]))
        for (h, by), of in zip(self.readers.peaks, read[sensors:]):
            peak[h, by] = of[fixed + by]
        coupling = network[:fixed, :fixed] * (1 - np.eye(fixed))[..., None]
        return NetworkValues(coupling, rows[:, :fixed], rows[:, fixed:], peak)

    @cached_property
    def as_solved(self) -> FieldAnswers:
        """What the fields answer with the inputs as they are."""
        return answers_with(self.readers, self._known_fields, np.ones((1, self.tangent.change.shape[0])))[0]

    def with_scaled_inputs(self, factors: Array) -> list[FieldAnswers]:
        """What two sets of inputs answer, each input being `factors` (2, I) times as large."""
        first_change = trial_fields(self.readers, *self._first_change(factors[1] - factors[0]))
        return answers_with(self.readers, self._known_fields.joined(first_change), factors)

    @cached_property
    def _known_fields(self) -> TrialFields:
        """The unit fields, then the adjoints."""
        units = trial_fields(self.readers, self.nodes, self.drops)
        if (points := self.readers.points) is not None:  # unit fields are known in environments and beyond edges, too
            i, j = points.i, points.j
            units = replace(units, around_points=self.ext[:, [i, i + 1, i, i + 1], [j, j, j + 1, j + 1]])
        return units.joined(trial_fields(self.readers, self.adjoints, self.adjoint_drops))

    def _first_change(self, change: Array) -> tuple[Array, Array]:
        """(K, nodes) and (K, L) change of the unit fields and their drops, to first order, by a relative change (I,) of
        the inputs; where parts spread perfectly, of the heat terminals' fields alone."""
        t, system = self.tangent, self.system
        cells, fixed = system.solid.size, len(system.boundary.direct)
        flow = (t.by_link @ (t.sign * change)) * self.drops[fixed if system.layout.variant.spread else 0 :]
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


def adjoint_system(
    system: System,
    peaks: Sequence[tuple[int, int]],
    units: Array | None = None,
    surfaces: SurfacePlaces | None = None,
) -> AdjointSystem:
    """The adjoints of all sensors and of the highest temperatures of `peaks`: the warmest place of one heat terminal by
    a watt at another. `units` (F + H, n, m) are the unit fields, where they are known; `surfaces` are places that are
    read as well."""
    fixed, sensors = len(system.boundary.direct), len(system.section.sensors)
    loads = heat_loads(system)
    solver = prepared(system, fixed + len(loads) + sensors + len(peaks))
    units, t = solver.fields(loads, with_fixed=True) if units is None else units, tangent(system)
    ext = extended(system, units)
    readers = readers_of(system, t, ext, peaks, surfaces)
    count = len(readers.readers)
    fields = solver.fields(readers.loads()).reshape(count, -1) if count else np.empty((0, units[0].size))
    adjoints = t.at_nodes(fields, np.zeros((count, fixed)), readers.on_faces)
    return AdjointSystem(solver, readers, t.units(units), ext, adjoints)
