"""Surfaces: the highest and the lowest temperature of each solid part in each environment that it touches."""

from collections.abc import Sequence

import numpy as np

from fdm.answers.grid import FurtherSystem, Goal, UnitAnswers
from fdm.answers.quantity import Array, Quantity
from fdm.conduction.arrays import Bools
from fdm.conduction.face import ConductionSystem
from fdm.conduction.network import NetworkValues
from fdm.section.model import Section

WHICH = ("lowest", "highest")


def quantities(system: ConductionSystem) -> list[Quantity]:
    return [
        Quantity(("surface", part, air, which), f"{which} surface of {part} in {air}", "degC", "surface", local=True)
        for part, air in system.surfaces.pairs
        for which in WHICH
    ]


def found_on(grids: Sequence[UnitAnswers], asked: Sequence[Quantity]) -> Bools:
    """(Q,) which of all quantities have a value on each of these grids. A part that meets an environment in one point
    alone seems to touch it on some grids, and on others not."""
    pairs = [set(g.surfaces.places.pairs) for g in grids if g.surfaces is not None]
    return np.array([q.family != "surface" or all(q.path[1:3] in found for found in pairs) for q in asked], bool)


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity]) -> Array:
    if grid.surfaces is None:  # not known: changes with inputs, one more axis
        return np.full((len(asked), *grid.network.coupling.shape[2:]), np.nan)
    found = grid.surfaces.extremes(np.concatenate([section.fixed_temperatures, section.watts]))
    extremes = dict(zip(grid.surfaces.places.pairs, found))
    nothing = np.full(2, np.nan)
    both = (extremes.get((q.path[1], q.path[2]), nothing) for q in asked)
    return np.array([pair[WHICH.index(q.path[3])] for pair, q in zip(both, asked)], np.float64)


def sizes(section: Section, network: NetworkValues, vector: Array) -> Array:
    return np.full(len(vector), np.inf)  # no target of their own


def goals(section: Section, network: NetworkValues, vector: Array, lacking: Array) -> list[Goal]:
    return []


def further(section: Section) -> list[FurtherSystem]:
    return []
