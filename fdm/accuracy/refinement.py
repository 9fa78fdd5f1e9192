"""Which error each answer may have, and grid lines that are refined until the estimated errors are that small."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fdm.answers.grid import FieldName, SolvedGrid
from fdm.answers.kinds import Asked
from fdm.answers.quantity import Array
from fdm.conduction.arrays import Bools, Integers
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import split

TARGET = 0.005  # relative
NEARLY = 0.6  # of the allowed band: answers with a wider one are refined together with those that miss their target
LEAST_STEP, LARGEST_STEP = 2.0, 8.0  # factors by which another pass makes the estimated errors of these smaller
NARROWEST = 1e-7  # cell on the coarsest of three grids, as part of the drawing's size


def refined(
    grid: SolvedGrid, asked: Asked, values: Array, aim: float, max_cells: int, lacking: Array | None = None
) -> tuple[Array, ...]:
    """The grid's lines (m), split where the estimated errors are largest.

    Without `lacking`, until every estimated error is below `aim` times the size to which its target refers, at `values`
    (Q,). With `lacking` (Q,), the bands over what is allowed, only the answers that miss their targets, or nearly do,
    count, until their errors are smaller in proportion. Splitting ends before it would make more than `max_cells`."""
    system = grid.system
    section, lines = system.section, system.lines
    goals = goals_of(asked, values, lacking)
    if not len(goals.pairs):
        return lines
    fields, aims = system.with_adjoints(grid.units), np.full(len(goals.pairs), aim)
    if lacking is not None:
        # twice the cells should halve a band at least: a grid that takes more is refined in the wrong places
        max_cells = min(max_cells, int(max(4.0, 2.0 * goals.lack.max()) * system.cells))
        errors, _ = system.interval_errors(fields, goals.pairs, goals.size, aims)
        step = np.clip(1.5 * goals.lack, LEAST_STEP, LARGEST_STEP)
        aims = np.where(goals.lack > NEARLY, np.minimum(errors, aim) / step, np.inf)
    while True:
        errors, parts = system.interval_errors(fields, goals.pairs, goals.size, aims)
        if (errors <= aims).all():
            return lines
        chosen = _largest(lines, parts)
        cells = math.prod(len(old) - 1 + int(some.sum()) for old, some in zip(lines, chosen))
        if not any(some.any() for some in chosen) or cells > max_cells:
            return lines
        lines = tuple(split(old, some) for old, some in zip(lines, chosen))
        system = conduction_system(section, *lines)
        fields = system.with_adjoints()


def _largest(lines: Sequence[Array], errors: Sequence[Array]) -> list[Bools]:
    """The intervals along each axis with the largest errors, which hold half of the total. Intervals with equal errors,
    as in a symmetric drawing, are treated alike."""
    all_errors = np.sort(np.concatenate(errors))[::-1]
    total = np.cumsum(all_errors)
    limit = (1 - 1e-6) * all_errors[np.searchsorted(total, (1 - 1e-6) * total[-1] / 2)]
    return [(e >= limit) & (np.diff(at) > NARROWEST * np.ptp(at)) for at, e in zip(lines, errors)]


@dataclass(frozen=True)
class Goals:
    """K products of two fields on which the answers depend."""

    pairs: Integers  # (K, 2) fields in the order of `ConductionSystem.with_adjoints`
    size: Array  # (K,) the error should be below the target times this
    lack: Array  # (K,) how much the answers behind it lack


def goals_of(asked: Asked, values: Array, lacking: Array | None = None) -> Goals:
    """The products of fields whose errors affect the quantities, which have these `values` (Q,). A product that affects
    several quantities gets the smallest size that any of them asks for. Products without a limit are left out, and so
    are those of size 0 or less: rounding alone makes them, in a solve that fails its checks."""
    lacks = np.zeros(len(values)) if lacking is None else lacking
    network, place = asked.network(values), _places(asked)
    found: dict[tuple[int, int], tuple[float, float]] = {}
    for kind, (value, lack) in asked.by_kind(values, lacks):
        for goal in kind.goals(asked.section, network, value, lack):
            pair = place[goal.field], place[goal.adjoint]
            size, lack_so_far = found.get(pair, (np.inf, 0.0))
            found[pair] = min(size, goal.size), max(lack_so_far, goal.lack)
    kept = {pair: (size, lack) for pair, (size, lack) in found.items() if 1e-300 < size < np.inf and lack < np.inf}
    sizes, lacks = np.reshape(list(kept.values()), (len(kept), 2)).T
    return Goals(np.reshape(list(kept), (len(kept), 2)).astype(np.intp), sizes, lacks)


def _places(asked: Asked) -> Mapping[FieldName, int]:
    """The number of each field in the order of `ConductionSystem.with_adjoints`."""
    section = asked.section
    units, sensors = len(section.fixed_names) + len(section.heat_names), len(section.sensors)
    heat = len(section.heat_names)
    names = [("unit", units), ("sensor", sensors), ("highest", heat)]
    return {name: k for k, name in enumerate((kind, n) for kind, count in names for n in range(count))}


def bands_over_allowed(asked: Asked, values: Array, bands: Array, target: float) -> Array:
    """(Q,) each band over the band that its target allows; infinite where an answer has no limit, 0 without a
    target."""
    allowed = np.maximum(target * asked.sizes(values), 1e-300)
    return np.where(np.isinf(allowed), 0.0, bands / allowed)


def furthest(asked: Asked, lacking: Array) -> tuple[float, str]:
    """The largest band over what is allowed, and its answer in words. Couplings without a limit do not count; warnings
    name them."""
    ratios = np.where(np.isfinite(lacking), lacking, 0.0)
    k = int(np.argmax(ratios)) if len(ratios) else 0
    return (float(ratios[k]), asked.quantities[k].words) if len(ratios) and ratios[k] > 0 else (0.0, "")
