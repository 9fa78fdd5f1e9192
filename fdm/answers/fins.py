"""Fins: what they give to the air between them, and how well they do it.

Their efficiency is that heat over what they would give if all of them were as warm as their roots; their effectiveness
is that heat over what the film would take from the area of their roots alone.
"""

from collections.abc import Sequence

import numpy as np

from fdm.answers.grid import UnitAnswers
from fdm.answers.quantity import Array, Quantity
from fdm.answers.untargeted import further, goals, sizes  # noqa: F401  they make this file a `Kind`
from fdm.conduction.protocol import ConductionSystem
from fdm.section.model import Section

WHAT = (("efficiency", ""), ("effectiveness", ""), ("heat", "W"))
NOTHING = 1e-9  # of the largest temperature difference: roots that are no warmer than the air have no efficiency


def quantities(system: ConductionSystem) -> list[Quantity]:
    return [
        Quantity(("fins", f.name, which), f"{which} of {f.name}", unit, "fins", role=which)
        for f in system.section.fins
        for which, unit in WHAT
    ]


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity]) -> Array:
    if grid.fins is None:  # not known: changes with inputs, one more axis
        return np.full((len(asked), *grid.network.coupling.shape[2:]), np.nan)
    loads = np.concatenate([section.fixed_temperatures, section.watts])
    heat, above = grid.fins.heat @ loads, grid.fins.roots @ loads
    warmer = abs(above) > NOTHING * abs(loads).max(initial=0.0)
    per_kelvin = np.divide(heat, above, out=np.full_like(heat, np.nan), where=warmer)
    return np.stack([per_kelvin / grid.fins.wetted, per_kelvin / grid.fins.footprint, heat], 1).ravel()
