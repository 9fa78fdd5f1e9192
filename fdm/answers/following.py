"""Films and conductivities that follow the temperature of their surface or part, and what air in closed gaps conducts,
as they were found. The grid leaves nothing open in them: they are numbers of the section that is solved."""

from collections.abc import Iterator, Sequence

import numpy as np

from fdm.answers.grid import UnitAnswers
from fdm.answers.quantity import Array, Quantity
from fdm.answers.untargeted import further, goals, sizes  # noqa: F401  they make this file a `Kind`
from fdm.conduction.protocol import ConductionSystem
from fdm.section.model import Fins, Part, Section


def _found(section: Section) -> Iterator[tuple[Quantity, float]]:
    """Each with its value."""
    for e in section.environments:
        if e.follows is not None:
            yield Quantity(("films", e.name, "film"), f"film of {e.name}", "W/(m2 K)", "films"), e.film
    owners: list[Part | Fins] = [*section.parts, *section.fins]
    for owner in owners:
        if owner.follows and owner.material is not None:
            path, words = ("conductivity", owner.name), f"conductivity of {owner.name}"
            yield Quantity(path, words, "W/(m K)", "conductivity"), owner.material.conductivity[0]


def quantities(system: ConductionSystem) -> list[Quantity]:
    return [quantity for quantity, _ in _found(system.section)]


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity]) -> Array:
    found = np.array([value for _, value in _found(section)], float)
    shape = grid.network.coupling.shape[2:]  # changes with inputs: one more axis
    return np.broadcast_to(found.reshape(-1, *(1 for _ in shape)), (len(found), *shape))
