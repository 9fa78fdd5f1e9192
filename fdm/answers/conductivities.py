"""Conductivities that follow the temperature of their part, and of air in closed gaps, as they were found. As films
that follow, they have no band."""

from collections.abc import Sequence

import numpy as np

from fdm.answers.grid import FurtherSystem, Goal, UnitAnswers
from fdm.answers.quantity import Array, Quantity
from fdm.conduction.face import ConductionSystem
from fdm.conduction.network import NetworkValues
from fdm.section.model import Fins, Part, Section


def _following(section: Section) -> list[Part | Fins]:
    owners: list[Part | Fins] = [*section.parts, *section.fins]
    return [owner for owner in owners if owner.follows]


def quantities(system: ConductionSystem) -> list[Quantity]:
    return [
        Quantity(("conductivity", owner.name), f"conductivity of {owner.name}", "W/(m K)", "conductivity")
        for owner in _following(system.section)
    ]


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity]) -> Array:
    k = np.array([owner.material.conductivity[0] for owner in _following(section) if owner.material is not None], float)
    shape = grid.network.coupling.shape[2:]  # changes with inputs: one more axis
    return np.broadcast_to(k.reshape(-1, *(1 for _ in shape)), (len(k), *shape))


def sizes(section: Section, network: NetworkValues, vector: Array) -> Array:
    return np.full(len(vector), np.inf)  # no target of their own


def goals(section: Section, network: NetworkValues, vector: Array, lacking: Array) -> list[Goal]:
    return []


def further(section: Section) -> list[FurtherSystem]:
    return []
