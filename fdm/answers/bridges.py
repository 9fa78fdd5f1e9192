"""Bridges: the heat that some parts leak beyond what would pass without them, as psi and chi of ISO 10211.

The loss is the difference between two couplings: of the section as it is, and of the section without these parts, in
which what they cover takes their place. Both are solved on the same grid lines, so that most of the grid's error
cancels.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fdm.answers.grid import FurtherSystem, Goal, UnitAnswers
from fdm.answers.network import SMALL
from fdm.answers.quantity import Answers, Array, Quantity
from fdm.conduction.layout import Variant
from fdm.conduction.network import NetworkValues
from fdm.conduction.protocol import ConductionSystem
from fdm.section.model import Section


@dataclass(frozen=True)
class BridgeLoss:
    """Loss that some parts cause between two fixed terminals."""

    between: tuple[str, str]
    symbol: str  # "psi", W/(m K), in the section view; "chi", W/K, otherwise
    value: float
    band: float
    watts: float  # at the section's own temperatures, for the whole depth or turn, from the first to the second
    watts_band: float


def quantities(system: ConductionSystem) -> list[Quantity]:
    """psi or chi of all bridges, then their watts."""
    section = system.section
    symbol, unit = symbol_of(section)
    names = [b.name for b in section.bridges]
    out = [
        Quantity(("bridge", name, symbol), f"{symbol} of {name}", unit, "bridge", main=3, counted=1) for name in names
    ]
    return out + [Quantity(("bridge", name, "watts"), f"loss by {name}", "W", "loss") for name in names]


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity] = ()) -> Array:
    input_axes = grid.network.coupling.shape[2:]
    loss, drop = np.empty((len(section.bridges), *input_axes)), np.empty(len(section.bridges))
    for k, without in enumerate(further(section)):
        a, b = ends(section, k)
        loss[k] = grid.network.coupling[a, b] - grid.further[without.key].coupling[a, b]
        drop[k] = section.fixed_temperatures[a] - section.fixed_temperatures[b]
    return np.concatenate([loss / metres(section), (loss.T * drop).T])


def sizes(section: Section, network: NetworkValues, vector: Array) -> Array:
    count = len(section.bridges)
    out = np.full(len(vector), np.inf)
    out[:count] = np.maximum(abs(vector[:count]), SMALL * _whole(section, network) / metres(section))
    return out


def goals(section: Section, network: NetworkValues, vector: Array, lacking: Array) -> list[Goal]:
    loss = abs(vector[: len(section.bridges)]) * metres(section)
    wanted = np.maximum(loss, SMALL * _whole(section, network))
    fields = [sorted(ends(section, k), reverse=True) for k in range(len(section.bridges))]
    return [Goal(("unit", a), ("unit", b), v, lack) for (a, b), v, lack in zip(fields, wanted, lacking)]


def further(section: Section) -> list[FurtherSystem]:
    """The section without the parts of each bridge."""
    return [
        FurtherSystem(("bridge", b.name), section.unheated, lambda x, y: (x, y), Variant(without=b.remove))
        for b in section.bridges
    ]


def ends(section: Section, number: int) -> tuple[int, int]:
    """Numbers of the two fixed terminals that bridge `number` lies between."""
    between = section.bridges[number].between
    return (0, 1) if between is None else (section.fixed_names.index(between[0]), section.fixed_names.index(between[1]))


def symbol_of(section: Section) -> tuple[str, str]:
    """What a bridge's loss is called, and its unit."""
    return ("psi", "W/(m K)") if section.view == "section" else ("chi", "W/K")


def metres(section: Section) -> float:
    """The length (m) to which a bridge's loss refers; 1 where it is given apiece."""
    return section.depth if section.view == "section" else 1.0


def bridge_losses(section: Section, answers: Answers) -> dict[str, BridgeLoss]:
    """The losses by name of the bridge; `answers` are extrapolated."""
    out, (symbol, _) = {}, symbol_of(section)
    for k, bridge in enumerate(section.bridges):
        a, b = ends(section, k)
        loss, watts = answers.at(("bridge", bridge.name, symbol)), answers.at(("bridge", bridge.name, "watts"))
        out[bridge.name] = BridgeLoss((section.fixed_names[a], section.fixed_names[b]), symbol, *loss, *watts)
    return out


def _whole(section: Section, network: NetworkValues) -> Array:
    return np.array([network.coupling[ends(section, k)] for k in range(len(section.bridges))])
