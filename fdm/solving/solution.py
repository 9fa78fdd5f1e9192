"""Solve a section: refine where it matters, solve on three grids, extrapolate, and state the band."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from fdm.accuracy.extrapolation import endless_couplings, extrapolated_values
from fdm.accuracy.refinement import TARGET, bands_over_allowed, furthest, refined
from fdm.answers.fields import superposed
from fdm.answers.results import (
    Balance,
    BridgeLoss,
    Field,
    GridReport,
    Network,
    NetworkValues,
    Reading,
    SpreadingResistance,
)
from fdm.answers.values import (
    Checks,
    GridValues,
    OneGrid,
    arrays_of,
    bridge_ends,
    flows,
    replaced,
    should_read,
    solved,
)
from fdm.conduction.arrays import Array
from fdm.conduction.system import System, assemble
from fdm.errors import InputError
from fdm.grid.lines import first_lines, followed, halved, too_thin
from fdm.section.model import Section
from fdm.solving.check import refuse, warnings_of

if TYPE_CHECKING:
    from fdm.inference.budget import Share

MOST_CELLS = 300_000
COARSE_ERROR = 40.0  # estimated error of the coarsest of three grids, over the target

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Solution:
    """A solved section. `repr` gives its tables; `field` the temperatures on the finest grid."""

    section: Section
    network: Network
    sensors: Mapping[str, Reading]
    spreading: Mapping[str, Mapping[str, SpreadingResistance]]  # plate -> heat terminal ->
    bridges: Mapping[str, BridgeLoss]
    balance: Balance
    grid: GridReport
    warnings: tuple[str, ...]
    grids: tuple[OneGrid, ...] = field(repr=False)  # three, each with every second line of the next

    @property
    def system(self) -> System:
        """The finest grid's."""
        return self.grids[-1].system

    @property
    def unit_fields(self) -> Array:
        """(F + H, n, m) on the finest grid."""
        return self.grids[-1].units

    @cached_property
    def field(self) -> Field:
        """At the section's own temperatures and watts."""
        return self.field_at(self.section.fixed_temperatures, self.section.watts)

    def field_at(self, temperatures: Array, watts: Array) -> Field:
        """At any operating point, by superposition: degC of the fixed terminals (F,), W of the heat terminals (H,)."""
        return superposed(self.system, self.unit_fields, np.asarray(temperatures, float), np.asarray(watts, float))

    @cached_property
    def budgets(self) -> tuple[dict[str, tuple["Share", ...]], dict[tuple[str, str], tuple["Share", ...]]]:
        """As `fdm.inference.budget.budgets` gives them."""
        from fdm.inference.budget import budgets

        return budgets(self)

    def __repr__(self) -> str:
        from fdm.output.tables.section import solution_text

        return solution_text(self)

    def _repr_html_(self) -> str:
        from fdm.output.tables.section import solution_html

        return solution_html(self)


def solve(
    section: Section,
    target: float = TARGET,
    max_cells: int = MOST_CELLS,
    cells: int | None = None,
    progress: Progress | None = None,
    like: Solution | None = None,
) -> Solution:
    """Solve a section until every asked number is within `target` of its truth (relative; temperatures to 0.02 K at
    the default 0.005 and in proportion), or the next grid would pass `max_cells`. `cells` forces a grid of at least
    that many cells instead. `progress` is called with a line of text before each longer step. `like`: a solved section
    whose drawing is the same, but for numbers of materials, films, joints, temperatures and watts; its grids are used
    again, and refined further where these numbers ask for it.

    Raises InputError where a source touches no solid, a sensor lies in a void, or solid parts are tied to no
    temperature.
    """
    if not (0 < target < 1):
        raise InputError(f"target: {target!r} is not a share between 0 and 1, such as 0.005 or 0.5%")
    if max_cells < 1 or (cells is not None and cells < 1):
        raise InputError("max_cells and cells: give a number of cells above 0")
    say = progress or (lambda text: None)
    before = _grids_of(like, section, max_cells)
    x, y = _lines(before[0]) if before else followed(section, *first_lines(section), max_cells // 16)
    system = _assembled(section, x, y, before)
    refuse(system)
    warnings = warnings_of(system)
    coarse = solved(system)
    if not before:
        x, y = refined(coarse, coarse.values, COARSE_ERROR * target, max_cells // 16)
    held = np.isinf([*(e.film for e in section.environments), *(math.inf for _ in section.held_sources)])
    grew = np.zeros((len(section.fixed_names),) * 2, bool)  # couplings that grew without end on the grids before
    while True:
        grids: list[OneGrid] = []
        for lines in _grids(x, y, cells):
            shape = len(lines[0]) - 1, len(lines[1]) - 1
            say(f"solving {shape[0]} x {shape[1]} cells")
            known = not grids and coarse.system.raster.shape == shape
            grids.append(coarse if known else solved(_assembled(section, *lines, before)))
        (coarse, _, finest), results = grids, [grid.values for grid in grids]
        system, cells_of = finest.system, [grid.system.solid.size for grid in grids]
        final, band = extrapolated_values(results, system.cut is not None)
        suspect = endless_couplings(results, held)
        endless, grew = suspect & grew, suspect
        np.putmask(band.network.coupling, endless, np.inf)
        lacking = bands_over_allowed(section, final, band, target)
        excess, worst = furthest(section, lacking)
        lost = too_thin(section, *_lines(coarse))
        met = excess <= 1 and not lost
        if met or cells is not None or cells_of[-1] * 2 > max_cells:
            break
        x, y = refined(coarse, finest.values, COARSE_ERROR * target, max_cells // 16, lacking)
        if (len(x) - 1, len(y) - 1) == coarse.system.raster.shape:
            break
    note = (
        "target met"
        if met
        else "the given number of cells is used"
        if cells is not None
        else "the limit of cells is reached"
        if cells_of[-1] * 2 > max_cells
        else "narrower cells help no more"
    )
    if cells is None and cells_of[-1] > max_cells:
        warnings += (f"the drawing alone takes {cells_of[-1]} cells, more than the limit of {max_cells}",)
    if lost:  # with or without them, nobody knows
        band, worst = replaced(band, [np.full_like(a, np.inf) for a in arrays_of(band)]), f"all that hangs on {lost[0]}"
        warnings += tuple(
            f"part {name!r} lies at a slant and is too thin for this grid: what it does is not known; turn the drawing "
            "so that it lies along x or y, or draw a joint in its place"
            for name in lost
        )
    report = GridReport(system.raster.shape, tuple(cells_of), target, met, worst, note)
    warnings += tuple(
        f"the coupling of {section.fixed_names[a]!r} and {section.fixed_names[b]!r} has no limit: they meet at a point"
        for a, b in zip(*np.nonzero(np.tril(endless)))
    )
    return _answers(section, final, band, tuple(grids), report, warnings)


def _grids_of(like: Solution | None, section: Section, max_cells: int) -> tuple[OneGrid, ...]:
    """Those of a solved section that can be used again."""
    if like is None or like.section.drawn != section.drawn or like.system.solid.size > max_cells:
        return ()
    return like.grids


def _assembled(section: Section, x: Array, y: Array, before: Sequence[OneGrid]) -> System:
    """As `assemble` does; a grid of these lines that was laid before is not laid again."""
    same = (g.system.layout.laid for g in before if all(map(np.array_equal, _lines(g), (x, y))))
    return assemble(section, x, y, laid=next(same, None))


def _lines(grid: OneGrid) -> tuple[Array, Array]:
    return grid.system.raster.x, grid.system.raster.y


def _grids(x: Array, y: Array, cells: int | None) -> list[tuple[Array, Array]]:
    """Three grids, each of half the last one's cell sizes, from the given one, or up to at least `cells` cells."""
    grids = [(x, y)]
    while len(grids) < 3 or (cells is not None and (len(grids[-1][0]) - 1) * (len(grids[-1][1]) - 1) < cells):
        grids.append((halved(grids[-1][0]), halved(grids[-1][1])))
    return grids[-3:]


def _answers(
    section: Section,
    value: GridValues,
    band: GridValues,
    grids: tuple[OneGrid, ...],
    report: GridReport,
    warnings: tuple[str, ...],
) -> Solution:
    n = value.network
    names = tuple(s.name for s in section.sensors)
    temperatures, watts = section.fixed_temperatures, section.watts
    network = Network(section.fixed_names, section.heat_names, names, n, band.network)

    goals = should_read(section, n)
    sensors = {}
    for k, sensor in enumerate(section.sensors):
        row = len(section.heat_names) + k
        sensors[sensor.name] = Reading(
            float(value.reading[k]),
            None if np.isnan(goals[k]) else float(goals[k]),
            None if np.isnan(goals[k]) else float(value.misreading[k]),
            float(band.reading[k]),
            None if np.isnan(goals[k]) else float(band.misreading[k]),
            _split(section, n, row, goals[k]),
        )
    spreading = {
        plate.name: {
            h: SpreadingResistance(*(float(v) for v in (*value.spreading[k, i], *band.spreading[k, i])))
            for i, h in enumerate(section.heat_names)
        }
        for k, plate in enumerate(section.spreading)
    }
    bridges = {}
    for k, bridge in enumerate(section.bridges):
        a, b = bridge_ends(section, k)
        metres = section.depth if section.view == "section" else 1.0
        drop = float(temperatures[a] - temperatures[b])
        bridges[bridge.name] = BridgeLoss(
            (section.fixed_names[a], section.fixed_names[b]),
            "psi" if section.view == "section" else "chi",
            float(value.bridge[k] / metres), float(band.bridge[k] / metres),
            float(value.bridge[k] * drop), float(band.bridge[k] * abs(drop)),
        )  # fmt: skip
    system, units = grids[-1].system, grids[-1].units
    flow = flows(system, units.reshape(len(units), -1), temperatures, watts)
    checks = value.checks
    balance = Balance(
        {**dict(zip(section.fixed_names, flow.tolist())), **dict(zip(section.heat_names, watts.tolist()))},
        checks.imbalance, checks.weight_error, checks.asymmetry,
    )  # fmt: skip
    return Solution(section, network, sensors, spreading, bridges, balance, report, warnings, grids)


def at_operating_point(solution: Solution, terminals: Mapping[str, float]) -> Solution:
    """The same section at other temperatures (degC) and watts of its terminals, by name, without a new solve."""
    section = solution.section
    changed = replace(
        section,
        environments=tuple(replace(e, temperature=terminals[e.name]) for e in section.environments),
        sources=tuple(
            replace(s, heat=terminals[s.name]) if s.heat is not None else replace(s, temperature=terminals[s.name])
            for s in section.sources
        ),
    )
    n, band = solution.network.values, solution.network.band
    temperatures, watts = abs(changed.fixed_temperatures - changed.fixed_temperatures.mean()), abs(changed.watts)
    at = len(section.heat_names)
    goals = should_read(changed, n)
    reading = (n.weight @ changed.fixed_temperatures + n.resistance @ changed.watts)[at:]
    reading_band = (band.weight @ temperatures + band.resistance @ watts)[at:]
    spreading = np.array([[[r.mean, r.max] for r in by_heat.values()] for by_heat in solution.spreading.values()])
    spreading_band = np.array(
        [[[r.mean_band, r.max_band] for r in by_heat.values()] for by_heat in solution.spreading.values()]
    )
    metres = section.depth if section.view == "section" else 1.0
    bridge = np.array([b.value * metres for b in solution.bridges.values()])
    bridge_band = np.array([b.band * metres for b in solution.bridges.values()])
    checks = Checks(solution.balance.weight_error, solution.balance.asymmetry, solution.balance.imbalance)
    value = GridValues(n, reading, reading - goals, spreading, bridge, checks)
    bands = GridValues(band, reading_band, reading_band + 0 * goals, spreading_band, bridge_band, checks)
    return _answers(changed, value, bands, solution.grids, solution.grid, solution.warnings)


def _split(section: Section, n: NetworkValues, row: int, goal: float) -> dict[str, float]:
    """K of the misreading that each terminal is to blame for: weight x (its temperature - what should be read), and
    resistance x watts. Of the reading itself, weight x temperature in degC, where nothing should be read."""
    base = 0.0 if np.isnan(goal) else goal
    out = {
        name: float(w * (t - base))
        for name, w, t in zip(section.fixed_names, n.weight[row], section.fixed_temperatures)
    }
    return out | {name: float(z * q) for name, z, q in zip(section.heat_names, n.resistance[row], section.watts)}
