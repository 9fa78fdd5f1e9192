"""How well each answer is wanted, and the grid lines refined until the estimated errors are that small."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fdm.answers.grid import FieldName, SolvedGrid
from fdm.answers.kinds import Asked
from fdm.answers.quantity import Array
from fdm.conduction.arrays import Bools, Integers
from fdm.conduction.plane import conduction_system
from fdm.grid.lines import split

TARGET = 0.005  # relative
NEARLY = 0.6  # of what is allowed: answers so near to it are refined with those that miss it
LEAST_STEP, LARGEST_STEP = 2.0, 8.0  # by which the estimated error of what lacks is made smaller for another pass
NARROWEST = 1e-7  # cell on the coarsest of three grids, as part of the drawing's size


def refined(
    grid: SolvedGrid, asked: Asked, values: Array, aim: float, most: int, lacking: Array | None = None
) -> tuple[Array, Array]:
    """The grid's lines, split where the estimated errors are largest, until each of these is below `aim`, relative to
    what its target is relative to at `values` (Q,), or a split would pass `most` cells. With bands over what is
    allowed, `lacking` (Q,), only for those answers that miss it, or nearly so, until their errors are smaller in
    proportion."""
    system = grid.system
    section, (x, y) = system.section, system.lines
    goals = goals_of(asked, values, lacking)
    if not len(goals.pairs):
        return x, y
    fields, aims = system.with_adjoints(grid.units), np.full(len(goals.pairs), aim)
    if lacking is not None:
        # with twice the cells a band should be half as wide at least: more cells than that asks for miss the mark
        most = min(most, int(max(4.0, 2.0 * goals.lack.max()) * system.cells))
        errors, _ = system.interval_errors(fields, goals.pairs, goals.size, aims)
        step = np.clip(1.5 * goals.lack, LEAST_STEP, LARGEST_STEP)
        aims = np.where(goals.lack > NEARLY, np.minimum(errors, aim) / step, np.inf)
    while True:
        errors, parts = system.interval_errors(fields, goals.pairs, goals.size, aims)
        if (errors <= aims).all():
            return x, y
        split_x, split_y = _largest(x, y, *parts)
        if not (split_x.any() or split_y.any()) or (len(x) - 1 + split_x.sum()) * (len(y) - 1 + split_y.sum()) > most:
            return x, y
        x, y = split(x, split_x), split(y, split_y)
        system = conduction_system(section, x, y)
        fields = system.with_adjoints()


def _largest(x: Array, y: Array, error_x: Array, error_y: Array) -> tuple[Bools, Bools]:
    """Intervals along x and y that hold half of the error; alike ones, as of a symmetric drawing, are split alike."""
    both = np.sort(np.concatenate([error_x, error_y]))[::-1]
    total = np.cumsum(both)
    limit = (1 - 1e-6) * both[np.searchsorted(total, (1 - 1e-6) * total[-1] / 2)]
    wide_x, wide_y = (np.diff(lines) > NARROWEST * np.ptp(lines) for lines in (x, y))
    return (error_x >= limit) & wide_x, (error_y >= limit) & wide_y


@dataclass(frozen=True)
class Goals:
    """K products of two fields that the answers are made of."""

    pairs: Integers  # (K, 2) fields in the order of `ConductionSystem.with_adjoints`
    size: Array  # (K,) an error of the target times this is what is wanted of it
    lack: Array  # (K,) how much the answers behind it lack


def goals_of(asked: Asked, values: Array, lacking: Array | None = None) -> Goals:
    """What the quantities with these `values` (Q,) feel of the grid's errors; a product behind several quantities is
    wanted as well as the most demanding of them needs it. Products that have no limit are left out."""
    lacks = np.zeros(len(values)) if lacking is None else lacking
    network, place = asked.network(values), _places(asked)
    found: dict[tuple[int, int], tuple[float, float]] = {}
    for kind, (value, lack) in asked.by_kind(values, lacks):
        for goal in kind.goals(asked.section, network, value, lack):
            pair = place[goal.field], place[goal.adjoint]
            size, most = found.get(pair, (np.inf, 0.0))
            found[pair] = min(size, goal.size), max(most, goal.lack)
    kept = {pair: both for pair, both in found.items() if np.isfinite(both).all()}
    sizes, lacks = np.reshape(list(kept.values()), (len(kept), 2)).T
    return Goals(np.reshape(list(kept), (len(kept), 2)).astype(np.intp), np.maximum(sizes, 1e-300), lacks)


def _places(asked: Asked) -> Mapping[FieldName, int]:
    """Where `with_adjoints` has each field."""
    section = asked.section
    units, sensors = len(section.fixed_names) + len(section.heat_names), len(section.sensors)
    heat = len(section.heat_names)
    names = [("unit", units), ("sensor", sensors), ("highest", heat)]
    return {name: k for k, name in enumerate((kind, n) for kind, count in names for n in range(count))}


def bands_over_allowed(asked: Asked, values: Array, bands: Array, target: float) -> Array:
    """(Q,) each band over what the target allows; infinite where there is no limit, 0 where there is no target."""
    network = asked.network(values)
    sizes = [kind.sizes(asked.section, network, value) for kind, (value,) in asked.by_kind(values)]
    allowed = np.maximum(target * np.concatenate(sizes), 1e-300)
    return np.where(np.isinf(allowed), 0.0, bands / allowed)


def furthest(asked: Asked, lacking: Array) -> tuple[float, str]:
    """Largest band over what is allowed, and that answer in words; but for couplings without limit, which are told in
    the warnings."""
    ratios = np.where(np.isfinite(lacking), lacking, 0.0)
    k = int(np.argmax(ratios)) if len(ratios) else 0
    return (float(ratios[k]), asked.quantities[k].words) if len(ratios) and ratios[k] > 0 else (0.0, "")
