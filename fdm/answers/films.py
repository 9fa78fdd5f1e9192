"""Films that follow the temperature of their surface, as they were found. The grid leaves nothing open in them: they
are numbers of the section that is solved."""

from collections.abc import Sequence

import numpy as np

from fdm.answers.grid import FurtherSystem, Goal, UnitAnswers
from fdm.answers.quantity import Array, Quantity
from fdm.conduction.face import ConductionSystem
from fdm.conduction.network import NetworkValues
from fdm.section.model import Section


def quantities(system: ConductionSystem) -> list[Quantity]:
    return [
        Quantity(("films", e.name, "film"), f"film of {e.name}", "W/(m2 K)", "films")
        for e in system.section.environments
        if e.follows is not None
    ]


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity]) -> Array:
    film = np.array([e.film for e in section.environments if e.follows is not None], float)
    shape = grid.network.coupling.shape[2:]  # changes with inputs: one more axis
    return np.broadcast_to(film.reshape(-1, *(1 for _ in shape)), (len(film), *shape))


def sizes(section: Section, network: NetworkValues, vector: Array) -> Array:
    return np.full(len(vector), np.inf)  # no target of their own


def goals(section: Section, network: NetworkValues, vector: Array, lacking: Array) -> list[Goal]:
    return []


def further(section: Section) -> list[FurtherSystem]:
    return []
