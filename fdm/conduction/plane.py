"""The plane grid as a `protocol.ConductionSystem`: a section cut along its plane, about an axis, or a thin plate."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.conduction import adjoint, derivatives, interval_errors, network, soundness
from fdm.conduction.arrays import Array, Integers
from fdm.conduction.fields import Field, superposed
from fdm.conduction.fins import FinTemperatures, no_fins
from fdm.conduction.layout import AS_DRAWN, Variant
from fdm.conduction.network import Checks, NetworkValues
from fdm.conduction.peaks import highest_load
from fdm.conduction.protocol import ConductionSystem
from fdm.conduction.readings import extended, sensor_load
from fdm.conduction.solver import heat_loads, prepared, unit_fields
from fdm.conduction.surfaces import SurfacePlaces, SurfaceTemperatures, surface_places
from fdm.conduction.system import System, assemble
from fdm.section.model import Section


@dataclass(frozen=True)
class PlaneSystem(System):
    """A section on a plane grid, as `fdm.conduction.protocol.ConductionSystem`; fields are (E, n, m)."""

    @property
    def lines(self) -> tuple[Array, ...]:
        return self.raster.x, self.raster.y

    @property
    def cells(self) -> int:
        return self.solid.size

    @property
    def uneven(self) -> bool:
        return self.cut is not None

    def unit_fields(self) -> Array:
        return unit_fields(self)

    def watt_fields(self) -> Array:
        loads = heat_loads(self)
        nothing = np.zeros((len(self.boundary.direct), *self.solid.shape))
        return np.concatenate([nothing, prepared(self, len(loads)).fields(loads)])

    def network(self, units: Array) -> NetworkValues:
        return network.network_values(self, units)

    def checks(self, units: Array, network_values: NetworkValues) -> Checks:
        return network.checks(self, units, network_values)

    def field(self, units: Array, temperatures: Array, watts: Array) -> Field:
        return superposed(self, units, temperatures, watts)

    def part_volumes(self, number: int) -> tuple[Integers, Array]:
        return self.part_cells(number)

    def part_integrals(self, number: int, units: Array) -> Array:
        cell, volume = self.part_volumes(number)
        return np.asarray(units.reshape(len(units), -1)[:, cell] @ volume)

    @cached_property
    def surfaces(self) -> SurfacePlaces:
        return surface_places(self)

    def surface_temperatures(self, units: Array) -> SurfaceTemperatures:
        cells = units.reshape(len(units), -1)[:, self.surfaces.cell]
        return SurfaceTemperatures(self.surfaces, self.surfaces.rows(cells))

    def fin_temperatures(self, units: Array) -> FinTemperatures:
        return no_fins(units)

    def with_adjoints(self, units: Array | None = None) -> Array:
        sensors, heat = len(self.section.sensors), len(self.heat_inputs)
        if units is not None and sensors + heat == 0:
            return units
        solver = prepared(self, len(self.boundary.direct) + 2 * heat + sensors)
        if units is None:
            units = solver.fields(heat_loads(self), with_fixed=True, refine=False)
        loads = [sensor_load(self, k) for k in range(sensors)]
        if heat:
            ext = extended(self, units)
            loads += [highest_load(self, ext, h) for h in range(heat)]
        return np.concatenate([units, solver.fields(loads, refine=False)]) if loads else units

    def interval_errors(self, of: Array, pairs: Integers, sizes: Array, aim: Array) -> tuple[Array, tuple[Array, ...]]:
        return interval_errors.interval_errors(self, of, pairs, sizes, aim)

    @cached_property
    def tangent(self) -> derivatives.Tangent:
        return derivatives.tangent(self)

    def adjoint_system(
        self, peaks: Sequence[tuple[int, int]], units: Array | None = None, surfaces: SurfacePlaces | None = None
    ) -> adjoint.AdjointSystem:
        return adjoint.adjoint_system(self, peaks, units, surfaces)

    def covered_parts(self) -> list[str]:
        return soundness.covered_parts(self)

    def untouched_environments(self) -> list[str]:
        return soundness.untouched_environments(self.section, self)

    def refuse_unsolvable(self) -> None:
        soundness.refuse_loose_parts(self)
        soundness.refuse_blind_sensors(self)


def plane_system(
    section: Section, x: Array, y: Array, variant: Variant = AS_DRAWN, like: Sequence[ConductionSystem] = ()
) -> PlaneSystem:
    """The section on grid lines x, y (m), see `fdm.conduction.systems.conduction_system`."""
    same = (s.layout.laid for s in like if isinstance(s, PlaneSystem) and all(map(np.array_equal, s.lines, (x, y))))
    system = assemble(section, x, y, variant, next(same, None))
    return PlaneSystem(**vars(system))
