"""The interface of all systems: what a section laid on grid lines offers to the later folders.

None of them asks what a system is made of: the plane grid (`plane.py`), or a plate in layers (`stack/plate.py`). Fields
are arrays (E, ...) of E fields; the other axes depend on the system.
"""

from collections.abc import Sequence
from typing import Protocol

from fdm.conduction.adjoint.ritz import FieldAnswers
from fdm.conduction.arrays import Array, Integers
from fdm.conduction.derivatives import Tangent
from fdm.conduction.fields import Field
from fdm.conduction.fins import FinTemperatures
from fdm.conduction.network import Checks, NetworkValues
from fdm.conduction.surfaces import SurfacePlaces, SurfaceTemperatures
from fdm.section.model import Section


class Adjoints(Protocol):
    """What a system answers with other inputs, from its unit fields and adjoints."""

    @property
    def as_solved(self) -> FieldAnswers:
        """What the fields answer with the inputs as they are."""

    def with_scaled_inputs(self, factors: Array) -> list[FieldAnswers]:
        """What two sets of inputs answer, each input being `factors` (2, I) times as large."""

    def changes(self) -> NetworkValues:
        """Change of the network's values per relative change of each input (I): one more axis at the end."""


class ConductionSystem(Protocol):
    """A section with F fixed terminals, H heat terminals and S sensors, ready to solve."""

    @property
    def section(self) -> Section:
        """The section that is laid out."""

    @property
    def lines(self) -> tuple[Array, ...]:
        """Grid lines (n + 1,) and (m + 1,), m; and lines between layers, where there are some, see
        `fdm.grid.layers`."""

    @property
    def cells(self) -> int:
        """Number of cells, including those that do not conduct."""

    @property
    def uneven(self) -> bool:
        """Whether round or slanted edges cut cells, so that errors fall unevenly as cells are halved."""

    def unit_fields(self) -> Array:
        """(F + H, ...) temperatures with each fixed terminal at 1 and the others at 0, then with one watt at each heat
        terminal."""

    def watt_fields(self) -> Array:
        """(F + H, ...) as `unit_fields`, but with 0 in place of the fixed terminals' fields, which are not solved."""

    def network(self, units: Array) -> NetworkValues:
        """Couplings, weights and resistances, from unit fields."""

    def checks(self, units: Array, network: NetworkValues) -> Checks:
        """How far unit fields depart from conservation, symmetry and sums of weights."""

    def field(self, units: Array, temperatures: Array, watts: Array) -> Field:
        """The field at temperatures (F,) degC and watts (H,), from unit fields."""

    def part_volumes(self, number: int) -> tuple[Integers, Array]:
        """Flat numbers of the cells that carry part `number`, and its volume in each, m3; numbers beyond the parts are
        those of groups of fins."""

    def part_integrals(self, number: int, units: Array) -> Array:
        """(F + H,) integrals of unit fields over the volume of part `number`, m3 times the field's unit; numbers beyond
        the parts are those of groups of fins."""

    @property
    def surfaces(self) -> SurfacePlaces:
        """Places on the surfaces between solid parts and environments."""

    def surface_temperatures(self, units: Array) -> SurfaceTemperatures:
        """Unit fields at the places on surfaces."""

    def fin_temperatures(self, units: Array) -> FinTemperatures:
        """What fins give off, and how warm their roots are, in unit fields."""

    def with_adjoints(self, units: Array | None = None) -> Array:
        """(F + H + S + H, ...) unit fields, then the adjoints of the sensors and of the highest temperatures."""

    def interval_errors(
        self, fields: Array, pairs: Integers, sizes: Array, aim: Array
    ) -> tuple[Array, tuple[Array, ...]]:
        """Estimated errors (K,) of the products of pairs (K, 2) of fields, relative to their sizes (K,); and the share
        of each grid interval along x, (n,), along y, (m,), and of each layer, in those errors that are above their aim
        (K,)."""

    @property
    def tangent(self) -> Tangent:
        """The conductances, and how they change with conductivities, films and joints."""

    def adjoint_system(
        self, peaks: Sequence[tuple[int, int]], units: Array | None = None, surfaces: SurfacePlaces | None = None
    ) -> Adjoints:
        """Unit fields with the adjoints of all sensors, and of the highest temperature of one heat terminal by a watt
        at another, for each pair in `peaks`. Temperatures at the places on `surfaces` are read as well."""

    def covered_parts(self) -> list[str]:
        """Parts that later ones cover wholly."""

    def untouched_environments(self) -> list[str]:
        """Environments that no solid part touches."""

    def refuse_unsolvable(self) -> None:
        """Raise InputError where solid parts are tied to no temperature, or a sensor cannot read."""
