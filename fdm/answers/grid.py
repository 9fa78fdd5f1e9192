"""A section solved on one grid, and what its unit fields answer: everything that is independent of temperatures and
watts.

A section with F fixed terminals and H heat terminals has F + H unit fields: one for each fixed terminal at 1 with the
others at 0, one for each heat terminal with 1 W. Any field at any temperatures and watts is a weighted sum of these, so
they are solved once, and every answer follows from them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from fdm.answers.quantity import Array
from fdm.conduction.fields import Field
from fdm.conduction.fins import FinTemperatures
from fdm.conduction.layout import Variant
from fdm.conduction.network import NetworkValues
from fdm.conduction.protocol import ConductionSystem
from fdm.conduction.surfaces import SurfaceTemperatures
from fdm.conduction.systems import conduction_system
from fdm.section.model import Section

KELVIN = 4.0  # K to which targets of temperatures refer: 0.5 % are 0.02 K

FieldName = tuple[str, int]  # "unit", "sensor" (its adjoint) or "highest" (its adjoint), and a number
Key = tuple[str, str]  # of a further system: the kind of answer that asks for it, and the name of the question


@dataclass(frozen=True)
class FurtherSystem:
    """A variant of a section that a question needs besides the section itself."""

    key: Key
    section: Section
    lines: Callable[[Array, Array], tuple[Array, Array]]  # its grid lines in the plane, from those of the section
    variant: Variant

    def system(self, x: Array, y: Array, *layers: Array) -> ConductionSystem:
        """The system on the section's grid lines x, y (m), and between the same layers."""
        return conduction_system(self.section, *self.lines(x, y), *layers, variant=self.variant)


@dataclass(frozen=True)
class UnitAnswers:
    """What the unit fields of one grid answer; or, with one more axis in all arrays, how that changes with inputs."""

    network: NetworkValues
    further: Mapping[Key, NetworkValues] = field(default_factory=dict)
    surfaces: SurfaceTemperatures | None = None  # None: not known
    fins: FinTemperatures | None = None


@dataclass(frozen=True)
class Goal:
    """A product of two fields on which answers depend. Its error should be below the target times `size`; the bands of
    these answers are `lack` times as wide as allowed."""

    field: FieldName
    adjoint: FieldName
    size: float
    lack: float


@dataclass(frozen=True)
class SolvedGrid:
    """A section solved on one grid."""

    system: ConductionSystem
    units: Array  # (F + H, ...) unit fields
    answers: UnitAnswers

    @cached_property
    def field(self) -> Field:
        """At the section's own temperatures and watts."""
        return self.system.field(self.units, self.system.section.fixed_temperatures, self.system.section.watts)


def further_values(further: FurtherSystem, lines: tuple[Array, ...]) -> NetworkValues:
    """The network of a further system on the section's grid lines. Where parts spread perfectly, only its resistances
    are computed; the rest is 0."""
    system = further.system(*lines)
    return system.network(system.watt_fields() if further.variant.spread else system.unit_fields())
