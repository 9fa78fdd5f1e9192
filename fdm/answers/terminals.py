"""Terminals: the temperatures of heat terminals, and the heat that fixed terminals give to the section."""

from collections.abc import Sequence

import numpy as np

from fdm.answers.grid import UnitAnswers
from fdm.answers.network import observed_temperatures
from fdm.answers.quantity import Array, Quantity
from fdm.answers.untargeted import further, goals, sizes  # noqa: F401  they make this file a `Kind`
from fdm.conduction.protocol import ConductionSystem
from fdm.section.model import Section


def quantities(system: ConductionSystem) -> list[Quantity]:
    """Of the heat terminals, then of the fixed ones."""
    section = system.section
    out = heated(section)
    out += [
        Quantity(("terminals", a, "temperature"), f"temperature of {a}", "degC", "given", also=((a,),))
        for a in section.fixed_names
    ]
    return out + [
        Quantity(("terminals", a, "heat"), f"heat from {a} into the section", "W", "flow", finest=True)
        for a in section.fixed_names
    ]


def heated(section: Section) -> list[Quantity]:
    """Temperatures of the heat terminals, whose role depends on the sign of their watts."""
    return [
        Quantity(
            ("terminals", h, "temperature"),
            f"temperature of {h}",
            "degC",
            "temperature",
            also=((h,),),
            main=1 if watts > 0 else 5,
            role="heated" if watts > 0 else "cooled" if watts < 0 else "idle",
        )
        for h, watts in zip(section.heat_names, section.watts)
    ]


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity] = ()) -> Array:
    n, heat, given = grid.network, len(section.heat_names), section.fixed_temperatures
    temperature = observed_temperatures(section, n)[:heat]
    # out of each, to the others at their temperatures, less what it receives of the watts
    flow = (
        np.einsum("ab...,a->a...", n.coupling, given)
        - np.einsum("ab...,b->a...", n.coupling, given)
        - np.einsum("ha...,h->a...", n.weight[:heat], section.watts)
    )
    input_axes = temperature.shape[1:]
    held = np.broadcast_to(given.reshape(-1, *(1,) * len(input_axes)), (len(given), *input_axes))
    return np.concatenate([temperature, held, flow])
