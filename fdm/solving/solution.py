"""A solved section: its answers with their bands, and the three grids behind them.

The grids are kept with their unit fields, so that answers at other temperatures and watts need no solve: every quantity
is evaluated on each of the three, and extrapolated by the rule of the solve.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fdm.accuracy.extrapolation import Rule
from fdm.answers.bridges import BridgeLoss, bridge_losses
from fdm.answers.grid import SolvedGrid
from fdm.answers.kinds import Asked
from fdm.answers.network import Network
from fdm.answers.quantity import Answers, Array
from fdm.answers.sensors import Reading, readings
from fdm.answers.spreading import SpreadingResistance, spreading_resistances
from fdm.conduction.arrays import Bools
from fdm.conduction.face import ConductionSystem
from fdm.conduction.fields import Field
from fdm.grid.corners import Corner
from fdm.section.model import Section

LOCAL = 2.0  # of the last change, added to the bands of what is read at one place


@dataclass(frozen=True)
class Balance:
    """What must close, checked in every solve, on the finest grid."""

    flow: Mapping[str, float]  # terminal -> W into the section
    imbalance: float  # sum of flows over the largest
    weight_error: float  # largest departure of a sum of weights from 1
    asymmetry: float  # largest departure from symmetry, over the largest coupling


@dataclass(frozen=True)
class GridReport:
    """The grids an answer comes from."""

    shape: tuple[int, int]  # cells along x and y of the finest grid
    cells: tuple[int, ...]  # of each grid, coarse to fine
    target: float  # relative
    target_met: bool
    worst: str  # the answer furthest from its target
    note: str  # in words: why refinement ended


@dataclass(frozen=True)
class Extrapolation:
    """How the answers of one solve come from its three grids, at any temperatures and watts."""

    rule: Rule
    endless: Bools  # (F, F) couplings that have no limit
    lost: tuple[str, ...] = ()  # parts too thin for the grids: with or without them, nobody knows
    too_singular: tuple[Corner, ...] = ()  # points that no grid resolves, and which the answers feel

    def of(self, asked: Asked, grids: Sequence[SolvedGrid]) -> tuple[Array, Array]:
        """(Q,) values and bands of everything that is asked, at the temperatures and watts of `asked.section`."""
        on_grids = [asked.values(grid.answers) for grid in grids]
        value, band = self.rule.extrapolated(*on_grids)
        finest = np.array([q.finest for q in asked.quantities], bool)
        local = np.array([q.local for q in asked.quantities], bool)
        with np.errstate(invalid="ignore"):  # what is not there
            band = np.where(local, band + LOCAL * abs(on_grids[-1] - on_grids[-2]), band)
        band = np.where(finest, band + abs(on_grids[-1] - value), band)
        value = np.where(finest, on_grids[-1], value)
        names = asked.section.fixed_names
        endless = {("network", "coupling", names[a], names[b]) for a, b in zip(*np.nonzero(np.triu(self.endless)))}
        unknown = bool(self.lost or self.too_singular)
        if endless or unknown:
            band[[unknown or q.path in endless for q in asked.quantities]] = np.inf
        return value, band


@dataclass(frozen=True)
class Solution:
    """A solved section. `answers` has everything by path; `network`, `sensors`, `spreading` and `bridges` are views of
    it; `field` has the temperatures on the finest grid."""

    asked: Asked = field(repr=False)
    answers: Answers = field(repr=False)
    grid: GridReport
    warnings: tuple[str, ...]
    extrapolation: Extrapolation = field(repr=False)
    grids: tuple[SolvedGrid, ...] = field(repr=False)  # three, each with every second line of the next
    balance: Balance

    @property
    def section(self) -> Section:
        return self.asked.section

    @property
    def system(self) -> ConductionSystem:
        """The finest grid's."""
        return self.grids[-1].system

    @property
    def unit_fields(self) -> Array:
        """(F + H, ...) on the finest grid."""
        return self.grids[-1].units

    @cached_property
    def network(self) -> Network:
        """The exact network of the terminals and sensors."""
        section, names = self.section, tuple(s.name for s in self.section.sensors)
        value, band = self.asked.network(self.answers.value), self.asked.network(self.answers.band)
        np.fill_diagonal(band.coupling, 0.0)
        return Network(section.fixed_names, section.heat_names, names, value, band)

    @cached_property
    def sensors(self) -> Mapping[str, Reading]:
        return readings(self.section, self.network.values, self.answers)

    @cached_property
    def spreading(self) -> Mapping[str, Mapping[str, SpreadingResistance]]:
        """By plate, then by heat terminal."""
        return spreading_resistances(self.section, self.answers)

    @cached_property
    def bridges(self) -> Mapping[str, BridgeLoss]:
        return bridge_losses(self.section, self.answers)

    @cached_property
    def field(self) -> Field:
        """At the section's own temperatures and watts."""
        return self.field_at(self.section.fixed_temperatures, self.section.watts)

    def field_at(self, temperatures: Array, watts: Array) -> Field:
        """At any operating point, by superposition: degC of the fixed terminals (F,), W of the heat terminals (H,)."""
        return self.system.field(self.unit_fields, np.asarray(temperatures, float), np.asarray(watts, float))


def at_operating_point(solution: Solution, terminals: Mapping[str, float]) -> Solution:
    """The same section at other temperatures (degC) and watts of its terminals, by name, without a new solve."""
    section = solution.section
    asked = solution.asked.at(
        replace(
            section,
            environments=tuple(replace(e, temperature=terminals[e.name]) for e in section.environments),
            sources=tuple(
                replace(s, heat=terminals[s.name]) if s.heat is not None else replace(s, temperature=terminals[s.name])
                for s in section.sources
            ),
        )
    )
    answers = Answers(asked.quantities, *solution.extrapolation.of(asked, solution.grids))
    balance = replace(solution.balance, flow=flows_into(asked.section, answers))
    return replace(solution, asked=asked, answers=answers, balance=balance)


def flows_into(section: Section, answers: Answers) -> dict[str, float]:
    """W into the section from each terminal: of the fixed ones as answered, of the heat terminals as given."""
    fixed = {name: answers.at(("terminals", name, "heat"))[0] for name in section.fixed_names}
    return fixed | dict(zip(section.heat_names, section.watts.tolist()))
