"""Unit fields and adjoints of a section and of its further systems, on one grid: what answers feel of their inputs.

What an answer gains or loses by an input, to first order, needs no other grid's fields and no finest grid: the one
before it will do, with a quarter of the cells. How fields move with the inputs is told in `fdm.conduction.adjoint`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.answers.grid import Key, SolvedGrid, UnitAnswers
from fdm.answers.kinds import further_systems
from fdm.answers.quantity import Array
from fdm.conduction.adjoint import AdjointSystem


@dataclass(frozen=True)
class AdjointSystems:
    """A section's system and the further ones of its questions, on one grid."""

    own: AdjointSystem
    further: Mapping[Key, AdjointSystem]

    @cached_property
    def here(self) -> UnitAnswers:
        """What the unit fields answer, as they are."""
        further = {key: one.here.network for key, one in self.further.items()}
        return UnitAnswers(self.own.here.network, further, self.own.here.surfaces)

    def moved(self, ends: Array) -> list[UnitAnswers]:
        """The same at two `ends` (2, I): with each input as many times as large as these say."""
        if (ends == 1).all():
            return [self.here, self.here]
        own, further = self.own.moved(ends), {key: one.moved(ends) for key, one in self.further.items()}
        return [
            UnitAnswers(own[k].network, {key: both[k].network for key, both in further.items()}, own[k].surfaces)
            for k in (0, 1)
        ]

    def changes(self) -> UnitAnswers:
        """Per relative change of each input (I): one more axis at the end of all arrays."""
        return UnitAnswers(self.own.changes(), {key: one.changes() for key, one in self.further.items()})


def adjoint_systems(grid: SolvedGrid) -> AdjointSystems:
    """Of a section solved on a grid: one preparation of the solver for itself and for each further system."""
    section, (x, y) = grid.system.section, grid.system.lines
    heat = range(len(section.heat_names))
    pairs, places = [(h, q) for h in heat for q in heat], None
    if (surfaces := grid.answers.surfaces) is not None:  # an extreme changes as the place does where it lies
        places = surfaces.near_extremes(np.concatenate([section.fixed_temperatures, section.watts])).places
    own = grid.system.adjoint_system(pairs, grid.units, places)
    further = {}
    for f in further_systems(section):
        peaks = [(h, h) for h in range(len(f.section.heat_names))]
        further[f.key] = f.system(x, y).adjoint_system(peaks)
    return AdjointSystems(own, further)
