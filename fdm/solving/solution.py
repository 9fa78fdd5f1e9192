"""A solved section: its answers with their bands, and the three grids behind them.

The grids are kept with their unit fields, so that answers at other temperatures and watts need no solve: every quantity
is evaluated on each of the three, and extrapolated by the rule of the solve.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fdm.accuracy.extrapolation import Rule, last_change
from fdm.answers.bridges import BridgeLoss, bridge_losses
from fdm.answers.grid import KELVIN, SolvedGrid, UnitAnswers
from fdm.answers.kinds import Asked
from fdm.answers.moisture import Wetted, wetted
from fdm.answers.network import Network
from fdm.answers.quantity import Answers, Array
from fdm.answers.sensors import Reading, readings
from fdm.answers.spreading import SpreadingResistance, spreading_resistances
from fdm.answers.stems import self_heating
from fdm.conduction.arrays import Bools
from fdm.conduction.fields import Field, LayeredField
from fdm.conduction.protocol import ConductionSystem
from fdm.errors import InputError
from fdm.grid.corners import Corner
from fdm.grid.sheets import Thin
from fdm.section.model import Section
from fdm.solving.frozen import Frozen
from fdm.solving.places import SolvedField, SolvedLayers
from fdm.solving.slices import side_by_side

# times the last change from grid to grid: added to the bands of local quantities and of points, and the least band of
# peaks
LOCAL, POINT, PEAK = 2.0, 0.3, 0.36
PLACE = 1.0  # the same, of what is read between the lines of the grids
# what stands for the size of quantities without a target, by unit or family: some 4 K are 28 % humidity
WITHOUT_TARGET = {"degC": KELVIN, "K": KELVIN, "sweats_from": 7 * KELVIN, "temperature_factor": 1.0}


@dataclass(frozen=True)
class Balance:
    """How far the solve on the finest grid departs from what must hold exactly; checked in every solve."""

    flow: Mapping[str, float]  # terminal -> W into the section
    imbalance: float  # sum of flows over the largest
    weight_error: float  # largest departure of a sum of weights from 1
    asymmetry: float  # largest departure from symmetry, over the largest coupling
    outside: float  # how far temperatures lie beyond those of the terminals, over their range


LAYERS, ONE = "layers", "one temperature"


@dataclass(frozen=True)
class GridReport:
    """The grids an answer comes from."""

    shape: tuple[int, ...]  # cells along x and y of the finest grid, and layers of a plate resolved through them
    cells: tuple[int, ...]  # of each grid, coarse to fine
    target: float  # relative
    target_met: bool  # False as well where the answers failed their own checks
    worst: str  # the answer furthest from its target
    note: str  # in words: why refinement ended
    through: str = ""  # how a plate is resolved through its thickness: LAYERS or ONE; empty in other views


@dataclass(frozen=True)
class Extrapolation:
    """How the answers of one solve come from its three grids, at any temperatures and watts."""

    rule: Rule
    common: float  # part of what its target is relative to that every band has at least
    endless: Bools  # (F, F) couplings that grow without limit as cells get smaller
    lost: tuple[Thin, ...] = ()  # what is too thin for the grids, so that its effect is unknown
    too_singular: tuple[Corner, ...] = ()  # points that no grid resolves, and which the answers feel
    # of a plate in layers that is solved with one temperature through its thickness: both ways on a coarse grid
    flattened: tuple[UnitAnswers, UnitAnswers] | None = None

    def of(self, asked: Asked, grids: Sequence[SolvedGrid]) -> tuple[Array, Array]:
        """(Q,) values and bands of everything that is asked, at the temperatures and watts of `asked.section`."""
        return self.of_values(asked, [asked.values(grid.answers) for grid in grids])

    def of_values(self, asked: Asked, on_grids: Sequence[Array]) -> tuple[Array, Array]:
        """The same from the values (Q,) on the three grids."""
        value, band = self.rule.extrapolated(*on_grids)
        finest = np.array([q.finest for q in asked.quantities], bool)
        change = last_change(*on_grids)
        more = np.array([LOCAL * q.local + POINT * q.point for q in asked.quantities])
        least = np.array([PEAK * q.peak for q in asked.quantities])
        with np.errstate(invalid="ignore"):  # NaN: a quantity without a value
            band = np.where(more > 0, band + more * change, band)
            band = np.where(least > 0, np.maximum(band, least * change), band)
        size = asked.sizes(value)
        without_target = [WITHOUT_TARGET.get(q.unit, WITHOUT_TARGET.get(q.family, 0.0)) for q in asked.quantities]
        size = np.where(np.isfinite(size), size, without_target)
        band = band + self.common * np.where(change == 0, 0.0, size)  # a given temperature has no band
        band = np.where(finest, band + abs(on_grids[-1] - value), band)
        if self.flattened is not None:
            band = band + abs(np.subtract(*(asked.values(way) for way in self.flattened)))
        value = np.where(finest, on_grids[-1], value)
        names = asked.section.fixed_names
        endless = {("network", "coupling", names[a], names[b]) for a, b in zip(*np.nonzero(np.triu(self.endless)))}
        unknown = bool(self.lost or self.too_singular)
        if endless or unknown:
            band[[unknown or q.path in endless for q in asked.quantities]] = np.inf
        return value, band

    def of_places(self, on_grids: Sequence[Array], size: float, more: float = PLACE) -> tuple[Array, Array]:
        """(K,) values and bands of what is read at places, from its values (K,) on the three grids. `size` is what a
        target is relative to, `more` how many times the last change is added to the bands."""
        value, band = self.rule.extrapolated(*on_grids)
        change = last_change(*on_grids)
        band = band + more * change + self.common * np.where(change == 0, 0.0, size)
        unknown = bool(self.lost or self.too_singular)
        return value, np.full(len(band), np.inf) if unknown else band


@dataclass(frozen=True)
class Solution:
    """A solved section. `answers` has everything by path; `network`, `sensors`, `spreading` and `bridges` show the same
    numbers by name; `field` has temperatures and heat at any place. Temperatures are in degC, differences in K, heat in
    W, couplings in W/K, resistances in K/W, psi in W/(m K), chi in W/K; each has a band, in the same unit. Printed, and
    in notebooks, it shows its tables.

    >>> import fdm
    >>> solution = fdm.solve(fdm.read_section("geometries/bolt.toml"))
    >>> bolt = solution.bridges["bolt with its bush"]
    >>> bolt.symbol, round(bolt.value, 4), bolt.band < 1e-4  # W/K
    ('chi', 0.0059, True)
    >>> solution.grid.target_met, solution.field.temperature.shape == solution.grid.shape
    (True, True)
    """

    asked: Asked = field(repr=False)
    answers: Answers = field(repr=False)
    grid: GridReport
    warnings: tuple[str, ...]
    extrapolation: Extrapolation = field(repr=False)
    grids: tuple[SolvedGrid, ...] = field(repr=False)  # three, each with every second line of the next
    balance: Balance
    failed: str = ""  # which of its own checks the solve failed, in a sentence, also among the warnings; empty: none
    slices: "tuple[tuple[float, Solution], ...]" = field(default=(), repr=False)  # with their shares of the depth
    frozen: Frozen | None = None  # coefficients that follow the temperature, as they were found; None: there are none

    @property
    def section(self) -> Section:
        return self.asked.section

    @property
    def system(self) -> ConductionSystem:
        """The system on the finest grid."""
        return self.grids[-1].system

    @property
    def unit_fields(self) -> Array:
        """(F + H, ...) unit fields on the finest grid."""
        return self.grids[-1].units

    @cached_property
    def network(self) -> Network:
        """The exact network of the terminals and sensors."""
        section, names = self.section, tuple(s.name for s in self.section.sensors)
        value, band = self.asked.network(self.answers.value), self.asked.network(self.answers.band)
        np.fill_diagonal(band.coupling, 0.0)
        return Network(section.fixed_names, section.heat_names, names, value, band, self_heating(section))

    @cached_property
    def sensors(self) -> Mapping[str, Reading]:
        """By sensor."""
        return readings(self.section, self.network.values, self.answers)

    @cached_property
    def spreading(self) -> Mapping[str, Mapping[str, SpreadingResistance]]:
        """By plate, then by heat terminal."""
        return spreading_resistances(self.section, self.answers)

    @cached_property
    def bridges(self) -> Mapping[str, BridgeLoss]:
        """By bridge."""
        return bridge_losses(self.section, self.answers)

    @cached_property
    def in_slices(self) -> Answers:
        """The other bound, where parts are less deep than the drawing: what the linear answers would be if no heat
        passed along the depth. Empty where there are no such parts, or where it cannot be told."""
        return side_by_side(self.asked.quantities, [(share, s.answers) for share, s in self.slices])

    @cached_property
    def wetted(self) -> tuple[Wetted, ...]:
        """Where surfaces sweat and freeze in air whose humidity is known, on the finest grid."""
        surfaces = self.grids[-1].answers.surfaces
        return () if surfaces is None else wetted(self.section, surfaces)

    @cached_property
    def field(self) -> SolvedField:
        """The field at the section's own temperatures and watts: `at(x, y)`, `heat_through(line)`, `table()`."""
        temperatures, watts = self.section.fixed_temperatures, self.section.watts

        def coarser() -> tuple[Field, ...]:
            return tuple(grid.system.field(grid.units, temperatures, watts) for grid in self.grids[:-1])

        finest = self.field_at(temperatures, watts)
        kind = SolvedLayers if isinstance(finest, LayeredField) else SolvedField
        return kind(**vars(finest), section=self.section, coarser=coarser, extrapolated=self.extrapolation.of_places)

    def field_at(self, temperatures: Array, watts: Array) -> Field:
        """The field at any operating point, by superposition: degC of the fixed terminals (F,), W of the heat terminals
        (H,), in the order of `network.fixed` and `network.heat`."""
        given = np.asarray(temperatures, float), np.asarray(watts, float)
        for name, values, own in zip(("temperatures", "watts"), given, (self.network.fixed, self.network.heat)):
            if values.shape != (len(own),):
                raise InputError(f"field_at: {name} has the shape {values.shape}; give one for each of {own}")
        return self.system.field(self.unit_fields, *given)


def superposed(solution: Solution, terminals: Mapping[str, float]) -> Solution:
    """The same section at other temperatures (degC) and watts of its terminals, by name, without a new solve; those
    that are left out keep their own. Numbers that follow the temperature keep their values."""
    section = solution.section
    known = dict(zip((*section.fixed_names, *section.heat_names), (*section.fixed_temperatures, *section.watts)))
    at = known | dict(terminals)
    asked = solution.asked.at(
        replace(
            section,
            environments=tuple(e.at(at[e.name]) for e in section.environments),
            sources=tuple(
                replace(s, heat=at[s.name]) if s.heat is not None else replace(s, temperature=at[s.name])
                for s in section.sources
            ),
        )
    )
    answers = Answers(asked.quantities, *solution.extrapolation.of(asked, solution.grids))
    balance = replace(solution.balance, flow=flows_into(asked.section, answers))
    slices = tuple((share, superposed(s, terminals)) for share, s in solution.slices)
    return replace(solution, asked=asked, answers=answers, balance=balance, slices=slices)


def flows_into(section: Section, answers: Answers) -> dict[str, float]:
    """W into the section from each terminal: from the answers for fixed terminals, as given for heat terminals."""
    fixed = {name: answers.at(("terminals", name, "heat"))[0] for name in section.fixed_names}
    return fixed | dict(zip(section.heat_names, section.watts.tolist()))
