"""The kinds of answers. Each kind is one file with its quantities, their values on one grid, the further systems that
must be solved for them, the sizes to which its targets refer, and the fields whose errors affect it.

To add a kind, write such a file, put it into `KINDS`, and read its question in `fdm.section.reader`, if it has one. All
that works on quantities (targets, extrapolation, uncertainties, studies, fits, JSON) then includes it.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol, cast

import numpy as np

from fdm.answers import bridges, fins, following, moisture, network, sensors, spreading, surfaces, terminals
from fdm.answers.grid import FurtherSystem, Goal, SolvedGrid, UnitAnswers, further_values
from fdm.answers.quantity import Array, Quantity
from fdm.answers.stems import with_stems
from fdm.conduction.network import NetworkValues
from fdm.conduction.protocol import ConductionSystem
from fdm.section.model import Section


class Kind(Protocol):
    """One kind of answer; q is the number of its quantities."""

    def quantities(self, system: ConductionSystem) -> list[Quantity]:
        """(q) the quantities, in the order of all arrays below."""

    def values(self, section: Section, grid: UnitAnswers, asked: Sequence[Quantity]) -> Array:
        """(q, ...) values on one grid, at the section's own temperatures and watts; NaN where there is none."""

    def sizes(self, section: Section, network: NetworkValues, vector: Array) -> Array:
        """(q,) the sizes to which targets refer, from the values (q,); infinite where there is no target."""

    def goals(self, section: Section, network: NetworkValues, vector: Array, lacking: Array) -> list[Goal]:
        """The products of fields on which the quantities depend; `lacking` (q,) are their bands over what is
        allowed."""

    def further(self, section: Section) -> list[FurtherSystem]:
        """Systems to solve beside the section's own."""


KINDS = cast(tuple[Kind, ...], (terminals, sensors, spreading, bridges, surfaces, moisture, fins, following, network))
NETWORK = KINDS.index(cast(Kind, network))


@dataclass(frozen=True)
class Asked:
    """All Q quantities that a section answers, kind by kind. Values and bands are vectors (Q,) in their order."""

    section: Section
    quantities: tuple[Quantity, ...]
    ends: tuple[int, ...]  # where each kind's part of a vector ends

    def at(self, section: Section) -> "Asked":
        """The same quantities of a section that differs only in numbers."""
        first = terminals.heated(section)  # a terminal may be cooled now that was heated
        return replace(self, section=section, quantities=(*first, *self.quantities[len(first) :]))

    def on(self, grids: Sequence[UnitAnswers]) -> "Asked":
        """Those of the quantities that have a value on each of these grids."""
        kept = surfaces.found_on(grids, self.quantities)
        ends = tuple(int(kept[:end].sum()) for end in self.ends)
        return replace(self, quantities=tuple(q for q, k in zip(self.quantities, kept) if k), ends=ends)

    def values(self, grid: UnitAnswers) -> Array:
        """(Q, ...) values on one grid, at the section's own temperatures and watts."""
        grid = replace(grid, network=with_stems(self.section, grid.network))
        parts = zip(KINDS, (0, *self.ends), self.ends)
        return np.concatenate([k.values(self.section, grid, self.quantities[a:b]) for k, a, b in parts if a < b])

    def changes(self, of: UnitAnswers) -> Array:
        """(Q, I) change of all quantities with each of I inputs, from the changes `of` what the unit fields answer."""
        zero = UnitAnswers(_zero(of.network), {key: _zero(n) for key, n in of.further.items()})
        return self.values(of) - self.values(zero)  # what does not depend on the fields cancels

    def by_kind(self, *vectors: Array) -> Iterator[tuple[Kind, list[Array]]]:
        """Each kind with its part of every vector (Q,)."""
        starts = (0, *self.ends[:-1])
        for kind, start, end in zip(KINDS, starts, self.ends):
            yield kind, [v[start:end] for v in vectors]

    def sizes(self, vector: Array) -> Array:
        """(Q,) what the target of each quantity is relative to at the values `vector` (Q,); infinite without one."""
        network = self.network(vector)
        some = ((kind, value) for kind, (value,) in self.by_kind(vector) if len(value))
        return np.concatenate([kind.sizes(self.section, network, value) for kind, value in some])

    def network(self, vector: Array) -> NetworkValues:
        """The network's matrices in a vector (Q,)."""
        start, end = (0, *self.ends)[NETWORK : NETWORK + 2]
        return network.network_in(self.section, vector[start:end])


def asked_of(system: ConductionSystem) -> Asked:
    """Everything that a section answers; `system` is the section laid out on any grid."""
    by_kind = [kind.quantities(system) for kind in KINDS]
    ends = np.cumsum([len(some) for some in by_kind]).tolist()
    return Asked(system.section, tuple(q for some in by_kind for q in some), tuple(ends))


def _zero(n: NetworkValues) -> NetworkValues:
    return NetworkValues(*(np.zeros_like(a) for a in (n.coupling, n.weight, n.resistance, n.resistance_max)))


def solved(system: ConductionSystem) -> SolvedGrid:
    """An assembled section, solved with all further systems that its questions need."""
    section = system.section
    units = system.unit_fields()
    own = system.network(units)
    further = {f.key: further_values(f, system.lines) for f in further_systems(section)}
    answers = UnitAnswers(own, further, system.surface_temperatures(units), system.fin_temperatures(units))
    return SolvedGrid(system, units, answers)


def further_systems(section: Section) -> list[FurtherSystem]:
    """All systems that the section's questions need besides its own."""
    return [f for kind in KINDS for f in kind.further(section)]
