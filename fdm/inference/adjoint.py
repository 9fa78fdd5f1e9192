"""The adjoint systems of a section: of the section itself, and of the variants that spreading and bridges need.

`fdm.conduction.adjoint` explains how fields change with the inputs, and why one grid before the finest will do.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.answers.grid import Key, SolvedGrid, UnitAnswers
from fdm.answers.kinds import further_systems
from fdm.answers.quantity import Array
from fdm.conduction.protocol import Adjoints


@dataclass(frozen=True)
class AdjointSystems:
    """The adjoint systems of a section and of the further systems that its questions need, on one grid."""

    of_section: Adjoints
    further: Mapping[Key, Adjoints]

    @cached_property
    def as_solved(self) -> UnitAnswers:
        """What the unit fields answer with the inputs as they are."""
        further = {key: one.as_solved.network for key, one in self.further.items()}
        own = self.of_section.as_solved
        return UnitAnswers(own.network, further, own.surfaces, own.fins)

    def with_scaled_inputs(self, factors: Array) -> list[UnitAnswers]:
        """What two sets of inputs answer, each input being `factors` (2, I) times as large."""
        if (factors == 1).all():
            return [self.as_solved, self.as_solved]
        own = self.of_section.with_scaled_inputs(factors)
        further = {key: one.with_scaled_inputs(factors) for key, one in self.further.items()}
        return [
            UnitAnswers(one.network, {key: both[k].network for key, both in further.items()}, one.surfaces, one.fins)
            for k, one in enumerate(own)
        ]

    def changes(self) -> UnitAnswers:
        """Change of what the unit fields answer per relative change of each input (I): one more axis at the end."""
        return UnitAnswers(self.of_section.changes(), {key: one.changes() for key, one in self.further.items()})


def adjoint_systems(grid: SolvedGrid) -> AdjointSystems:
    """The adjoint systems of a section solved on a grid. The solver is prepared once for each system."""
    section, lines = grid.system.section, grid.system.lines
    heat = range(len(section.heat_names))
    pairs, places = [(h, q) for h in heat for q in heat], None
    if (surfaces := grid.answers.surfaces) is not None:  # an extreme changes as the place does where it lies
        places = surfaces.near_extremes(np.concatenate([section.fixed_temperatures, section.watts])).places
    own = grid.system.adjoint_system(pairs, grid.units, places)
    further = {}
    for f in further_systems(section):
        peaks = [(h, h) for h in range(len(f.section.heat_names))]
        further[f.key] = f.system(*lines).adjoint_system(peaks)
    return AdjointSystems(own, further)
