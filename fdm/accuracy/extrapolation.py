"""From values on three grids, each of half the last one's cell sizes, to a value and its band.

The scheme is of second order, so Richardson extrapolation from the finer two gives the value, v = v2 + (v2 - v1) / 3.
Re-entrant corners, and those where conductivities meet, add an error of a lower order, on graded grids about 3/2. Where
most answers of a solve fall as slowly as that, both terms are taken out, one after the other, with all three grids.
Either is linear in the values, which leaves sums of weights and symmetry intact.

Few corners make errors that fall so slowly that three grids do not tell their order, but it follows from the drawing
(`fdm.grid.corners`): it is taken out instead of 3/2, and where other corners could be what an answer feels, the value
lies in the middle between both.

The band is what another order would have added: the changes from grid to grid show a ratio q = (v1 - v0) / (v2 - v1), 4
at second order, with which the error of v2 would be (v2 - v1) / (q - 1). Their difference, with the safety of a grid
convergence index of three grids, and a part of the last change at least.

L.F. Richardson 1911; several orders: D.C. Joyce, SIAM Review 13 (1971) 435 (from memory); P.J. Roache, J. Fluids Eng.
116 (1994) 405; I. Celik et al., J. Fluids Eng. 130 (2008) 078001.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.answers.quantity import Array
from fdm.conduction.network import NetworkValues

SAFETY = 1.8
# where the answers of a solve commonly come this close to second order, and one answer about as close, the next term is
# of fourth, of which another order would have added five times as much
SMOOTH, SAFETY_SMOOTH = 0.025, 1.0
LEAST_MISSED = 0.01  # of the last change, before safety
# the same of plates in layers: where heat ends on a face, errors go as h^2 log h, which second order alone misses
LEAST_LAYERED = 0.03
UNEVEN = 0.5  # of the last change, where edges cut cells
UNEVEN_LAYERED = 0.15  # the same of plates in layers, where ends of sources and fins make most of that change
CORNERED = 3.2  # ratio of changes that is common in a solve, below which corners are taken to set the pace
CORNER = 2**1.5  # ratio of what corners make
# of the last change: what is left when both terms are out. It is about what second order commonly misses in the solve,
# within these limits (`validation.battery`: where that is little, what is left is half as large)
LEAST_CORNERED, MOST_CORNERED = 0.1, 0.6
SLOW = 2.6  # the ratio from which other orders count besides
SLOWEST = 1.6  # ratio of changes that is believed; slower ones, and changes that turn around, count as this
# of what the term of a slow corner adds beyond the finest grid, at least: the other terms, which it makes look larger
LEAST_SLOW = 0.1
LEFT_SLOW = 0.3  # of the last change: what is left besides
ROUNDING = 1e-9  # relative to the value


@dataclass(frozen=True)
class SlowCorners:
    """What is known of a drawing's corners where some make errors that fall too slowly to be told from three grids.

    Which of its corners an answer feels is not known, so that the ratio of its changes lies between two bounds. The
    slowest term is a power of the cell size, e = (h / reach)^(2 lambda), and next comes e^2.
    """

    slowest: float  # ratio of changes, 4^lambda
    fastest: float
    power: float  # e on the finest grid


@dataclass(frozen=True)
class Rule:
    """How the quantities of one solve are extrapolated. It comes from those that count, at the section's own
    temperatures and watts; all others, and other operating points, take it as it is."""

    cut: bool  # round or slanted edges cut cells: the error falls less evenly, so part of the last change is added
    cornered: bool  # corners set the pace
    common: float  # what second order commonly misses, over the last change
    slow: SlowCorners | None = None
    layered: bool = False  # a plate in layers

    def extrapolated(self, coarse: Array, middle: Array, fine: Array) -> tuple[Array, Array]:
        """Value and band (half-width), (K,) each, from values (K,) on three grids; NaN stays NaN."""
        last, size, ratio = _changes(coarse, middle, fine)
        uneven = self.cut * (UNEVEN_LAYERED if self.layered else UNEVEN)
        if self.slow is not None:
            slowest, fastest = (
                _without_corner(q, coarse, middle, fine) for q in (self.slow.slowest, self.slow.fastest)
            )
            value, beyond = (slowest + fastest) / 2, abs(slowest - fine)
            # a change that turns around, or falls faster than at second order, is small by chance beside slow corners
            before = abs(middle - coarse)
            lucky = (ratio > 4) | (last * (middle - coarse) < 0)
            size = np.where(lucky, np.maximum(size, before / self.slow.slowest), size)
            beyond = np.where(lucky, np.maximum(beyond, size / (self.slow.slowest - 1)), beyond)
            unknown = max(LEAST_SLOW, self.slow.power, uneven) * beyond
            band = abs(slowest - fastest) / 2 + unknown + LEFT_SLOW * size
            return value, band + ROUNDING * abs(value)
        if self.cornered:
            value = _without_corner(CORNER, coarse, middle, fine)
            with np.errstate(divide="ignore", invalid="ignore"):
                ratio = np.clip(np.where(ratio > 4, (16 / ratio) ** 2 / 4, ratio), SLOWEST, 4.0)
            slow = np.maximum(1 / (ratio - 1) - 1 / (SLOW - 1), 0.0)
            left = min(max(self.common, LEAST_CORNERED), MOST_CORNERED)
            return value, size * (left + SAFETY * slow) + ROUNDING * abs(value)
        value, missed = fine + last / 3, _missed(ratio)
        # a single ratio near 4 may be luck: what one solve's answers commonly miss holds for each of them
        smooth = (self.common <= SMOOTH) & (missed <= 2 * SMOOTH)
        safety = np.where(smooth, SAFETY_SMOOTH, SAFETY)
        band = size * safety * np.maximum(missed, self.common)
        if self.cut:
            band = band + uneven * size
        return value, band + ROUNDING * abs(value)


def rule_of(coarse: Array, middle: Array, fine: Array, weight: Array, cut: bool = False, layered: bool = False) -> Rule:
    """The rule for one solve, from its quantities (K,) on three grids and how much each of them counts (K,)."""
    _, size, ratio = _changes(coarse, middle, fine)
    changed = (size > 10 * ROUNDING * abs(fine)) & (weight > 0)
    least = LEAST_LAYERED if layered else LEAST_MISSED
    if not changed.any():
        return Rule(cut, False, least, layered=layered)
    weight, ratio = weight[changed], ratio[changed]
    cornered = bool(not cut and _median(_mirrored(ratio), weight) < CORNERED)
    return Rule(cut, cornered, max(least, _median(_missed(ratio), weight)), layered=layered)


def _median(values: Array, weight: Array) -> float:
    """Of values (K,), each of which counts by its weight (K,)."""
    order = np.argsort(values)
    share = np.cumsum(weight[order]) / weight.sum()
    middle = np.searchsorted(share, (0.5 - ROUNDING, 0.5 + ROUNDING))
    return float(values[order][middle].mean())


def extrapolated(coarse: Array, middle: Array, fine: Array, cut: bool = False) -> tuple[Array, Array]:
    """Value and band of each quantity (K,) of one solve, where all of them count.

    >>> h = np.array([4.0, 2.0, 1.0])
    >>> value, band = extrapolated(*(10 + 0.01 * h**2)[:, None])
    >>> float(value[0]), round(float(band[0]), 6)
    (10.0, 0.0003)
    """
    rule = rule_of(coarse, middle, fine, np.ones(len(fine), int), cut)
    return rule.extrapolated(coarse, middle, fine)


def _without_corner(ratio: float, coarse: Array, middle: Array, fine: Array) -> Array:
    """(K,) values without the term whose changes fall by `ratio`, and then without that of second order."""
    better, better_before = fine + (fine - middle) / (ratio - 1), middle + (middle - coarse) / (ratio - 1)
    value: Array = better + (better - better_before) / 3
    return value


def last_change(coarse: Array, middle: Array, fine: Array) -> Array:
    """(K,) size of the last change from grid to grid, as bands are measured by it."""
    return _changes(coarse, middle, fine)[1]


def _changes(coarse: Array, middle: Array, fine: Array) -> tuple[Array, Array, Array]:
    """The last change from grid to grid, its size, and the ratio of the one before to it."""
    with np.errstate(divide="ignore", invalid="ignore"):
        before, last = middle - coarse, fine - middle
        ratio = np.where(last * before > 0, before / last, SLOWEST)
    # a change that falls by more than 4 has met an error of the other sign, no better than one that falls by less
    return last, np.maximum(abs(last), abs(before) / 4), ratio


def _mirrored(ratio: Array) -> Array:
    """Ratios above 4 as if they were as far below it, within what is believed."""
    with np.errstate(divide="ignore"):
        return np.clip(np.minimum(ratio, 16 / ratio), SLOWEST, 4.0)


def _missed(ratio: Array) -> Array:
    """What second order would miss, over the last change, if this ratio were the true one."""
    return abs(1 / (_mirrored(ratio) - 1) - 1 / 3)


def endless_couplings(
    grids: Sequence[NetworkValues], held: NDArray[np.bool_], slowest: float = np.inf
) -> NDArray[np.bool_]:
    """(F, F) couplings of two `held` surfaces (F,) that grow with every refinement: they meet at a point, with any heat
    between. `slowest`: a ratio of changes that the drawing's corners make besides."""
    coarse, middle, fine = (n.coupling for n in grids)
    first, last = middle - coarse, fine - middle
    return (last > max(0.8, 2 / (1 + slowest)) * first) & (first > 0.01 * fine) & held & held[:, None]
