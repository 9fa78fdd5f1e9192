"""Solve a section: refine where it matters, solve on three grids, extrapolate, and state the band."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from fdm.accuracy.extrapolation import (
    CORNER,
    SlowCorners,
    endless_couplings,
    last_change,
    rule_of,
)
from fdm.accuracy.refinement import TARGET, bands_over_allowed, furthest, refined
from fdm.answers.grid import KELVIN, SolvedGrid
from fdm.answers.kinds import Asked, asked_of, solved
from fdm.answers.quantity import Answers, Array
from fdm.conduction.arrays import Bools
from fdm.conduction.systems import conduction_system
from fdm.errors import InputError, require_count, require_share, what_is
from fdm.grid.corners import Corner, corners, slow_corners
from fdm.grid.sheets import too_thin
from fdm.section.depths import mixed, slices
from fdm.section.model import UNITS, Section
from fdm.section.reader import Given, section_of
from fdm.solving.check import MOST_CELLS, refuse, warnings_of
from fdm.solving.flattened import flattened_plate
from fdm.solving.frozen import (
    AGREED,
    CLOSE,
    Coefficient,
    Frozen,
    coefficients_of,
    compared,
    off_by,
    settled,
    step,
    unsettled,
    with_values,
)
from fdm.solving.grids import (
    Lines,
    Progress,
    grids_again,
    refuse_large_grids,
    shape_of,
    solved_grids,
    starting_lines,
    three_grids,
)
from fdm.solving.left_out import doubts
from fdm.solving.on_joints import sensors_on_joints
from fdm.solving.plausible import far_surfaces, implausible_answers
from fdm.solving.slices import between_bounds, without_slices
from fdm.solving.solution import LAYERS, ONE, Balance, Extrapolation, GridReport, Solution, flows_into
from fdm.solving.verdict import FAILED, failure

# of the largest change in a network and what sensors read, each over what its target is relative to: a change that is
# smaller by chance hides an error of that size (`validation.battery`: with it, half as many values lie outside)
COMMON = 0.005
# of what its target is relative to, every band has this besides, as changes can all be small by chance: the first, the
# second over the number of cells (both no more than the largest change), and, where round or slanted edges cut cells,
# the third over the square root of that number (`validation.battery`)
LEAST, LEAST_COARSE, LEAST_CUT = 2e-5, 0.1, 0.005
HOPELESS = 0.1  # exponents below this leave 4 % of what they act on within the narrowest cells, 1e-7 of a drawing
MOST_SOLVES = 4  # of a section whose coefficients follow the temperature, until they agree
IN_SLICES = 0.02  # target of slices, a bound that need not be known as well as the answers
COARSE_ERROR = 40.0  # estimated error of the coarsest of three grids, over the target


@np.errstate(invalid="ignore")  # the verdict names what cannot be computed
def solve(
    section: Given,
    target: float = TARGET,
    max_cells: int = MOST_CELLS,
    cells: int | None = None,
    progress: Progress | None = None,
    like: Solution | None = None,
) -> Solution:
    """Solve a section until every answer is within `target` of the truth, or the next grid would pass `max_cells`.

    `section` is a Section; or the path of a section file; or a function that returns a Section. `target` is relative;
    for temperatures, 0.005 means 0.02 K, and others in proportion. `cells` forces a grid of at least that many cells
    instead. `progress` is called with a line of text before each longer step. `like` is a solved section with the same
    drawing, which may differ in conductivities, films, joints, temperatures and watts: its grids are used again, and
    refined further where the new numbers need it. Where parts are less deep than the drawing, the section is solved as
    `fdm.section.depths.mixed`, and its slices besides.

    Raises InputError where a source touches no solid, a sensor lies in a void, or solid parts are tied to no
    temperature.

    >>> from fdm.section.model import Border, Environment, Material, Part, Rectangle, Section, Segment, Source
    >>> plate = Part("plate", (Rectangle((0, 0.1), (0, 0.01)),), Material("steel", (50.0, 50.0)))
    >>> heater = Source("heater", Segment((0, 0.1), (0.01, 0.01)), heat=2)  # W on the whole upper face
    >>> air, below = Environment("air", 20, 10), Border(bottom="air")
    >>> section = Section("warm plate", (plate,), (air,), border=below, sources=(heater,))
    >>> solution = solve(section)  # 2 W through a film of 10 W/(m2 K) and 10 mm of steel, on 0.1 m2
    >>> round(solution.answers.at("heater")[0], 6)  # degC: 20 + 2 / 0.1 * (1 / 10 + 0.01 / 50)
    22.004
    """
    section = mixed(section_of(section, "solve"))
    require_share("target", target)
    require_count("max_cells", max_cells, "cells")
    if cells is not None:
        require_count("cells", cells, "cells")
    if not isinstance(like, Solution | None):
        raise InputError(f"like: {what_is(like)} is no solution; give one that solve returned, or leave it out")
    limits = Limits(target, max_cells, cells)
    coefficients = coefficients_of(section)
    if coefficients:
        return _following(section, coefficients, limits, progress, like)
    return _solved(section, limits, progress, like)


@dataclass(frozen=True)
class Limits:
    """How well a section is to be solved, as `solve` is asked."""

    target: float
    max_cells: int
    cells: int | None


def _following(
    section: Section,
    coefficients: Sequence[Coefficient],
    limits: Limits,
    progress: Progress | None,
    like: Solution | None,
) -> Solution:
    """The section solved with coefficients that agree with its temperatures: on a coarse grid first, then well."""
    known = grids_again(like, section, limits.max_cells)
    lines = known[0].system.lines if known else starting_lines(section, limits.max_cells)
    refuse_large_grids(section, lines, limits.max_cells, limits.cells)
    refuse(conduction_system(section, *lines, like=[g.system for g in known]))
    if progress:
        progress("finding what follows the temperature")
    frozen = settled(section, coefficients, lines)
    section, there = frozen.coarse, [v.coefficient for v in frozen.values]
    tried: list[tuple[Array, Array]] = []
    for _ in range(MOST_SOLVES):
        solution = _solved(section, limits, progress, like)
        section, values, apart = compared(section, there, solution.grids[-1])
        found = replace(frozen, values=values, off=max(off_by(apart), 0.0 if frozen.agreed else frozen.off))
        if found.off <= CLOSE or not frozen.agreed:
            break
        like, at = solution, np.log([v.value for v in values])
        tried.append((at, apart))
        section = with_values(section, values, np.exp(at + step(tried)))
    return _with_frozen(solution, section, found)


def _with_frozen(solution: Solution, section: Section, frozen: Frozen) -> Solution:
    """The solution that says what its coefficients are; where they have not settled, it failed its checks."""
    answers, off = solution.answers, max(frozen.off, AGREED)
    band = answers.band + off * _felt(solution.asked, answers.value)
    for v in frozen.values:
        if v.coefficient.path in answers.place:
            band[answers.place[v.coefficient.path]] = v.value * off
    answers = replace(answers, band=band)
    warnings = (*solution.warnings, *doubts(section, frozen))
    asked = solution.asked.at(section)
    solution = replace(solution, asked=asked, answers=answers, frozen=frozen, warnings=warnings)
    if frozen.agreed:
        return solution
    failed = unsettled(frozen)
    report = replace(solution.grid, target_met=False, note=FAILED)
    return replace(solution, grid=report, warnings=(*solution.warnings, failed), failed=failed)


def _felt(asked: Asked, value: Array) -> Array:
    """(Q,) by how much answers with these values change at most, relative to a change of all coefficients: temperatures
    by all that temperatures differ by, others by what their targets refer to."""
    kelvins = np.array([q.unit in ("degC", "K") for q in asked.quantities], bool)
    known = np.array([q.unit == "degC" for q in asked.quantities], bool) & np.isfinite(value)
    sizes = asked.sizes(value)
    spread = np.ptp([*asked.section.fixed_temperatures, *value[known]])
    return np.where(kelvins, spread, np.where(np.isfinite(sizes), sizes, abs(value)))


def _solved(section: Section, limits: Limits, progress: Progress | None, like: Solution | None) -> Solution:
    """A section, whose coefficients are numbers, solved as `solve` says."""
    target, max_cells, cells = limits.target, limits.max_cells, limits.cells
    known, aim = grids_again(like, section, max_cells), COARSE_ERROR * target
    lines = known[0].system.lines if known else starting_lines(section, max_cells)
    most = max_cells // 4 ** len(lines)  # cells of the coarsest of three grids
    refuse_large_grids(section, lines, max_cells, cells)
    system = conduction_system(section, *lines, like=[g.system for g in known])
    if not known:  # another section that is seen alike was solved
        refuse(system)
    asked = asked_of(system)
    warnings = warnings_of(system)
    coarse = solved(system)
    flattened = flattened_plate(coarse, asked, target)
    if flattened is not None:
        known, in_layers, coarse = (), coarse, flattened
    if not known:
        lines = refined(coarse, asked, asked.values(coarse.answers), aim, most)
    slow = slow_corners(section)
    others = corners(section) if slow else ()
    grew = np.zeros((len(section.fixed_names),) * 2, bool)  # couplings that grew without end on the last three grids
    while True:
        grids = tuple(solved_grids(section, three_grids(lines, cells), (coarse, *known), progress))
        coarse, sizes = grids[0], tuple(grid.system.cells for grid in grids)
        asked = asked.on([grid.answers for grid in grids])
        on_grids = [asked.values(grid.answers) for grid in grids]
        extrapolation, suspect = _extrapolation(asked, grids, on_grids, grew, _slow_corners(slow, others, grids[-1]))
        grew = suspect
        if flattened is not None:
            extrapolation = replace(extrapolation, flattened=(in_layers.answers, flattened.answers))
        value, band = extrapolation.of_values(asked, on_grids)
        lacking = bands_over_allowed(asked, value, band, target)
        excess, worst = furthest(asked, lacking)
        lost = too_thin(section, *coarse.system.lines[:2])
        met, full = excess <= 1 and not lost, sizes[-1] * 2 > max_cells
        if met or cells is not None or full:
            break
        lines = refined(coarse, asked, on_grids[-1], aim, most, lacking)
        if shape_of(lines) == shape_of(coarse.system.lines):
            break
    too_singular = () if met else tuple(c for c in slow if c.exponent < HOPELESS)
    note = _why_ended(met, cells is not None, full)
    if lost or too_singular:
        extrapolation = replace(extrapolation, lost=lost, too_singular=too_singular)
        value, band = extrapolation.of_values(asked, on_grids)
    if lost:
        worst = f"all that depends on {lost[0].name}"
    finest = grids[-1].system.lines
    report = GridReport(shape_of(finest), sizes, target, met, worst, note, resolved_through(section, finest))
    solution = _concluded(asked, Answers(asked.quantities, value, band), grids, extrapolation, report, warnings)
    return solution if all(p.piece is None for p in section.parts) else _with_slices(solution, max_cells, progress)


def resolved_through(section: Section, lines: Lines) -> str:
    """How a plate is resolved through its thickness, in a word; nothing in other views."""
    if section.view != "plate":
        return ""
    return LAYERS if len(lines) > 2 and ((lines[2] > 0) & (lines[2] < 1)).any() else ONE


def _concluded(
    asked: Asked,
    answers: Answers,
    grids: tuple[SolvedGrid, ...],
    extrapolation: Extrapolation,
    report: GridReport,
    warnings: tuple[str, ...],
) -> Solution:
    """The solution with its verdict: answers that fail their own checks do not meet their target. Raises InputError
    where that is because a part hangs loose."""
    section = asked.section
    checks = [g.system.checks(g.units, g.answers.network) for g in grids]
    further = [n for g in grids for n in g.answers.further.values()]
    failed = failure(asked, checks, further, answers.value, answers.band)
    if failed:
        for g in grids:
            g.system.refuse_unsolvable()  # a part may hang loose that the coarsest cells have tied to others
        report, warnings = replace(report, target_met=False, note=FAILED), (*warnings, failed)
    finest = grids[-1]
    field = cache(lambda: finest.system.field(finest.units, section.fixed_temperatures, section.watts))
    warnings += (
        *_doubts(section, extrapolation),
        *sensors_on_joints(section, answers, report.target * KELVIN, field),
        *implausible_answers(section, answers),
        *far_surfaces(section, answers),
    )
    balance = Balance(flow=flows_into(section, answers), **vars(checks[-1]))
    return Solution(asked, answers, report, warnings, extrapolation, grids, balance, failed)


def _with_slices(solution: Solution, max_cells: int, progress: Progress | None) -> Solution:
    """The solution with those of its slices, which are the other bound, or with a warning of why there are none."""
    section, target = solution.section, max(solution.grid.target, IN_SLICES)
    try:
        limits = Limits(target, max_cells, None)
        parts = tuple((share, _solved(s, limits, progress, None)) for share, s in slices(section))
    except InputError as fault:
        return replace(solution, warnings=(*solution.warnings, without_slices(section, str(fault))))
    whole = replace(solution, slices=parts)
    return replace(whole, warnings=(*whole.warnings, *between_bounds(section, whole.answers, whole.in_slices)))


def _extrapolation(
    asked: Asked, grids: Sequence[SolvedGrid], on_grids: Sequence[Array], grew: Bools, slow: SlowCorners | None
) -> tuple[Extrapolation, Bools]:
    """How these grids are extrapolated, from the values (Q,) on each of them; and (F, F) the couplings that grow
    without end on these grids. Such a coupling has no limit if it grew without end on the three grids before, `grew`,
    as well."""
    section = asked.section
    weight = np.array([q.counted for q in asked.quantities], float)
    coarse, middle, fine = on_grids
    change, size = last_change(coarse, middle, fine), asked.sizes(fine)
    layered = len(grids[-1].system.lines) > 2
    if layered:  # few answers, of which some hardly change, and that by chance
        weight *= np.where(np.isfinite(change), change, 0.0) / np.maximum(size, 1e-300)
    rule = rule_of(coarse, middle, fine, weight, cut=grids[-1].system.uneven, layered=layered)
    held = np.isinf([*(e.film for e in section.environments), *(math.inf for _ in section.held_sources)])
    suspect = endless_couplings([g.answers.network for g in grids], held, slow.slowest if slow else math.inf)
    direct = np.array([q.path[0] in ("network", "sensors") for q in asked.quantities], bool)  # no small differences
    known = direct & np.isfinite(size) & np.isfinite(change) & (weight > 0)
    largest = float(np.max(change[known] / np.maximum(size[known], 1e-300), initial=0.0))
    cells = grids[-1].system.cells
    least = min(LEAST + LEAST_COARSE / cells, largest) + LEAST_CUT * rule.cut / math.sqrt(cells)
    return Extrapolation(replace(rule, slow=slow), COMMON * largest + least, suspect & grew), suspect


def _slow_corners(slow: Sequence[Corner], others: Sequence[Corner], finest: SolvedGrid) -> SlowCorners | None:
    """What the slow corners of a drawing, and all others, make of the changes from grid to grid."""
    if not slow:
        return None
    cells = [
        max(float(np.diff(lines)[max(k - 1, 0) : k + 1].max()) for lines, k in zip(finest.system.lines, at))
        for at in (
            [int(abs(lines - v).argmin()) for lines, v in zip(finest.system.lines, corner.place)] for corner in slow
        )
    ]
    return SlowCorners(
        4 ** min(c.exponent for c in slow),
        min(4 ** max(c.exponent for c in (*slow, *others)), CORNER),
        max((cell / c.reach) ** (2 * c.exponent) for cell, c in zip(cells, slow)),
    )


def _why_ended(met: bool, given: bool, full: bool) -> str:
    if met:
        return "target met"
    if given:
        return "the given number of cells is used"
    return "the limit of cells is reached" if full else "narrower cells help no more"


def _doubts(section: Section, extrapolation: Extrapolation) -> Iterator[str]:
    """Warnings of what the grids cannot tell."""
    unit = UNITS[section.unit]
    for thin in extrapolation.lost:
        thickness, x, y = (v / unit for v in (thin.thickness, *thin.place))
        yield (
            f"{thin.name} is too thin for this grid at x = {x:.4g}, y = {y:.4g} {section.unit}, where it is "
            f"{thickness:.2g} {section.unit} thick: what it does is not known; draw it thicker, or along x or y, or "
            "draw a joint in its place"
        )
    for corner in extrapolation.too_singular:
        x, y = (v / unit for v in corner.place)
        solids = ", ".join(map(repr, corner.solids))
        yield (
            f"at x = {x:g}, y = {y:g} {section.unit}, where the temperature of {solids} goes as the distance to the "
            f"power {corner.exponent:.2g}, no grid can tell what passes: it depends on how they touch there; let them "
            "overlap, or draw what parts them"
        )
    names = section.fixed_names
    for a, b in zip(*np.nonzero(np.tril(extrapolation.endless))):
        yield f"the coupling of {names[a]!r} and {names[b]!r} has no limit: they meet at a point"
