"""A plate in layers, with its fins, as a `protocol.ConductionSystem`; fields are (E, L, n, m)."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fdm.conduction import soundness
from fdm.conduction.arrays import Array, Integers
from fdm.conduction.derivatives import Tangent
from fdm.conduction.fields import Field
from fdm.conduction.fins import FinTemperatures
from fdm.conduction.layout import AS_DRAWN, Variant
from fdm.conduction.network import Checks, NetworkValues, checks, network_of
from fdm.conduction.plane import plane_system
from fdm.conduction.protocol import ConductionSystem
from fdm.conduction.stack.adjoint import StackAdjoints, stack_adjoints
from fdm.conduction.stack.fields import layered_field
from fdm.conduction.stack.interval_errors import stack_interval_errors
from fdm.conduction.stack.readings import hottest, hottest_load, observed, sensor_loads, stack_fins
from fdm.conduction.stack.surfaces import stack_surfaces
from fdm.conduction.stack.system import Stack, stack
from fdm.conduction.stack.tangent import stack_tangent
from fdm.conduction.surfaces import SurfacePlaces, SurfaceTemperatures
from fdm.section.model import Section


@dataclass(frozen=True)
class StackSystem(Stack):
    """A plate resolved through its thickness, as `fdm.conduction.protocol.ConductionSystem`."""

    @property
    def lines(self) -> tuple[Array, ...]:
        return *self.plan.lines, self.layers.lines

    @property
    def cells(self) -> int:
        return self.solid.size

    @property
    def uneven(self) -> bool:
        return self.plan.uneven

    def unit_fields(self) -> Array:
        boundary, fixed, size = self.boundary, len(self.boundary.direct), self.solid.size
        into = np.bincount(boundary.terminal * size + boundary.cell, boundary.value, fixed * size)
        watts: Array = np.asarray(into, float).reshape(fixed, *self.shape)
        # with all of them at 1 all is, so the field of the one that is felt most follows from the others
        others = np.arange(fixed + len(self.heat_inputs)) != watts.sum((1, 2, 3)).argmax()
        out = np.zeros((len(others), *self.shape))
        out[others] = self.solver.fields(self._heat_loads, watts[others[:fixed]])
        out[~others] = np.where(self.solid, 1 - out[:fixed].sum(0), 0.0)
        return out

    def watt_fields(self) -> Array:
        nothing = np.zeros((len(self.boundary.direct), *self.shape))
        return np.concatenate([nothing, self.solver.fields(self._heat_loads)])

    @property
    def _heat_loads(self) -> list[tuple[Integers, Array]]:
        return [(h.cell, h.share) for h in self.heat_inputs]

    def network(self, units: Array) -> NetworkValues:
        return network_of(self, units, observed(self, units), hottest(self, units))

    def checks(self, units: Array, network: NetworkValues) -> Checks:
        return checks(self, units, network)

    def field(self, units: Array, temperatures: Array, watts: Array) -> Field:
        return layered_field(self, units, temperatures, watts)

    def part_volumes(self, number: int) -> tuple[Integers, Array]:
        first_fins = len(self.section.parts)
        return self.part_cells(number) if number < first_fins else self.fin_cells(number - first_fins)

    def part_integrals(self, number: int, units: Array) -> Array:
        cell, volume = self.part_volumes(number)
        return np.asarray(units.reshape(len(units), -1)[:, cell] @ volume)

    @cached_property
    def surfaces(self) -> SurfacePlaces:
        return stack_surfaces(self)

    def surface_temperatures(self, units: Array) -> SurfaceTemperatures:
        cells = units.reshape(len(units), -1)[:, self.surfaces.cell]
        return SurfaceTemperatures(self.surfaces, self.surfaces.rows(cells))

    def fin_temperatures(self, units: Array) -> FinTemperatures:
        return stack_fins(self, units)

    def with_adjoints(self, units: Array | None = None) -> Array:
        if units is None:
            units = self.unit_fields()
        loads = [sensor_loads(self, k) for k in range(len(self.section.sensors))]
        loads += [hottest_load(self, units, h) for h in range(len(self.heat_inputs))]
        return np.concatenate([units, self.solver.fields(loads)]) if loads else units

    def interval_errors(self, of: Array, pairs: Integers, sizes: Array, aim: Array) -> tuple[Array, tuple[Array, ...]]:
        return stack_interval_errors(self, of, pairs, sizes, aim)

    @cached_property
    def tangent(self) -> Tangent:
        return stack_tangent(self)

    def adjoint_system(
        self, peaks: Sequence[tuple[int, int]], units: Array | None = None, surfaces: SurfacePlaces | None = None
    ) -> StackAdjoints:
        return stack_adjoints(self, peaks, self.unit_fields() if units is None else units, surfaces)

    def covered_parts(self) -> list[str]:
        return soundness.covered_parts(self.plan)

    def untouched_environments(self) -> list[str]:
        return soundness.untouched_environments(self.section, self)

    def refuse_unsolvable(self) -> None:
        beside = replace(self.boundary, cell=self.boundary.cell % self.columns.cells)
        soundness.refuse_loose_parts(replace(self.plan, boundary=beside))
        soundness.refuse_blind_sensors(self.plan)


def stack_system(
    section: Section, x: Array, y: Array, z: Array, variant: Variant = AS_DRAWN, like: Sequence[ConductionSystem] = ()
) -> StackSystem:
    """The plate on grid lines x, y (m), with lines z between its layers; see
    `fdm.conduction.systems.conduction_system`."""
    plans = [s.plan for s in like if isinstance(s, StackSystem)]
    made = stack(section, plane_system(section.faceless, x, y, variant, plans), z)
    return StackSystem(**vars(made))
