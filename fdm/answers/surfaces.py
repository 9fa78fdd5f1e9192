"""Surfaces: the highest and the lowest temperature of each solid part in each environment that it touches."""

from collections.abc import Sequence

import numpy as np

from fdm.answers.grid import UnitAnswers
from fdm.answers.quantity import Array, Quantity, names_in
from fdm.answers.untargeted import further, goals, sizes  # noqa: F401  they make this file a `Kind`
from fdm.conduction.arrays import Bools
from fdm.conduction.protocol import ConductionSystem
from fdm.conduction.surfaces import Pair
from fdm.section.model import Section

WHICH = ("lowest", "highest")


def quantities(system: ConductionSystem) -> list[Quantity]:
    return _of(system.surfaces.pairs)


def thinkable(section: Section) -> list[Quantity]:
    """Those that a section drawn with other numbers may have."""
    return _of(thinkable_pairs(section))


def thinkable_pairs(section: Section) -> list[Pair]:
    """Each part with a material in each environment."""
    solids = [part.name for part in section.parts if part.material is not None]
    return [(part, air.name) for part in solids for air in section.environments]


def may_be_lacking(asked: str) -> bool:
    """Whether a path, or the beginning of one, is of surfaces, which some designs of a section have and others have
    not.

    >>> may_be_lacking("surface.fins.air.lowest"), may_be_lacking("sensors.surface.reading")
    (True, False)
    """
    names = names_in(asked)
    return "surface" in (names[2:3] if names[:1] == ["sections"] else names[:1])


def _of(pairs: Sequence[tuple[str, str]]) -> list[Quantity]:
    return [
        Quantity(("surface", part, air, which), f"{which} surface of {part} in {air}", "degC", "surface", local=True)
        for part, air in pairs
        for which in WHICH
    ]


def found_on(grids: Sequence[UnitAnswers], asked: Sequence[Quantity]) -> Bools:
    """(Q,) which of all quantities have a value on each of these grids. A part that meets an environment in one point
    alone seems to touch it on some grids, and on others not."""
    pairs = [set(g.surfaces.places.pairs) for g in grids if g.surfaces is not None]
    return np.array([q.path[0] != "surface" or all(q.path[1:3] in found for found in pairs) for q in asked], bool)


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity]) -> Array:
    if grid.surfaces is None:  # not known: changes with inputs, one more axis
        return np.full((len(asked), *grid.network.coupling.shape[2:]), np.nan)
    found, nothing = extremes(section, grid), (np.nan, np.nan)
    both = (found.get((q.path[1], q.path[2]), nothing) for q in asked)
    return np.array([pair[WHICH.index(q.path[3])] for pair, q in zip(both, asked)], np.float64)


def extremes(section: Section, grid: UnitAnswers) -> dict[Pair, tuple[float, float]]:
    """Lowest and highest degC by part and environment on one grid; empty where surfaces are not known."""
    if grid.surfaces is None:
        return {}
    found = grid.surfaces.extremes(np.concatenate([section.fixed_temperatures, section.watts]))
    return dict(zip(grid.surfaces.places.pairs, map(tuple, found.tolist())))
