"""From values on three grids, each of half the last one's cell sizes, to a value and its band.

The scheme is of second order, so Richardson extrapolation from the finer two gives the value, v = v2 + (v2 - v1) / 3.
Re-entrant corners, and those where conductivities meet, add an error of a lower order, on graded grids about 3/2. Where
most answers of a solve fall as slowly as that, both terms are taken out, one after the other, with all three grids.
Either is linear in the values, which leaves sums of weights and symmetry intact.

The band is what another order would have added: the changes from grid to grid show a ratio q = (v1 - v0) / (v2 - v1), 4
at second order, with which the error of v2 would be (v2 - v1) / (q - 1). Their difference, with the safety of a grid
convergence index of three grids, and a part of the last change at least.

L.F. Richardson 1911; several orders: D.C. Joyce, SIAM Review 13 (1971) 435 (from memory); P.J. Roache, J. Fluids Eng.
116 (1994) 405; I. Celik et al., J. Fluids Eng. 130 (2008) 078001.
"""

import numpy as np
from numpy.typing import NDArray

from fdm.answers.values import GridValues, arrays_of, replaced
from fdm.conduction.arrays import Array

SAFETY = 1.8
# where the answers of a solve commonly come this close to second order, the next term is of fourth, of which another
# order would have added five times as much
SMOOTH, SAFETY_SMOOTH = 0.025, 1.0
LEAST = 0.01  # of the last change, before safety
UNEVEN = 0.5  # of the last change, where edges cut cells
CORNERED = 3.2  # ratio of changes that is common in a solve, below which corners are taken to set the pace
CORNER = 2**1.5  # ratio of what corners make
# of the last change, and the ratio from which other orders count besides: an error left when both terms are out, one in
# a hundred are greater (own trials, 100 sections with corners)
LEAST_CORNERED, SLOW = 0.3, 2.6
SLOWEST = 1.6  # ratio of changes that is believed; slower ones, and changes that turn around, count as this
ROUNDING = 1e-9  # relative to the value


def extrapolated(coarse: Array, middle: Array, fine: Array, cut: bool = False) -> tuple[Array, Array]:
    """Value and band (half-width) of each answer, (K,) from one solve; NaN stays NaN.

    `cut`: round or slanted edges cut cells; the error falls less evenly then, so that the last change is added to the
    band.

    >>> h = np.array([4.0, 2.0, 1.0])
    >>> value, band = extrapolated(*(10 + 0.01 * h**2)[:, None])
    >>> float(value[0]), round(float(band[0]), 6)
    (10.0, 0.0003)
    """
    before, last = middle - coarse, fine - middle
    # a change that falls by more than 4 has met an error of the other sign, no better than one that falls by less
    size = np.maximum(abs(last), abs(before) / 4)
    changed = size > 10 * ROUNDING * abs(fine)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(last * before > 0, before / last, SLOWEST)
        mirrored = np.clip(np.minimum(ratio, 16 / ratio), SLOWEST, 4.0)
    if not cut and changed.any() and np.median(mirrored[changed]) < CORNERED:
        better, better_before = fine + last / (CORNER - 1), middle + before / (CORNER - 1)
        value = better + (better - better_before) / 3
        with np.errstate(divide="ignore"):
            ratio = np.clip(np.where(ratio > 4, (16 / ratio) ** 2 / 4, ratio), SLOWEST, 4.0)
        slow = np.maximum(1 / (ratio - 1) - 1 / (SLOW - 1), 0.0)
        return value, size * (LEAST_CORNERED + SAFETY * slow) + ROUNDING * abs(value)
    value, missed = fine + last / 3, abs(1 / (mirrored - 1) - 1 / 3)
    # a single ratio near 4 may be luck: what one solve's answers commonly miss holds for each of them
    common = max(LEAST, np.median(missed[changed]) if changed.any() else 0.0)
    band = size * (SAFETY if common > SMOOTH else SAFETY_SMOOTH) * np.maximum(missed, common)
    if cut:
        band = band + UNEVEN * size
    return value, band + ROUNDING * abs(value)


def extrapolated_values(results: list[GridValues], cut: bool) -> tuple[GridValues, GridValues]:
    """Values and bands from three grids; NaN (nothing to be read) stays NaN."""
    coarse, middle, fine = (np.concatenate([a.ravel() for a in arrays_of(r)]) for r in results)
    ends = np.cumsum([a.size for a in arrays_of(results[-1])])[:-1]
    value, band = (np.split(v, ends) for v in extrapolated(coarse, middle, fine, cut))
    return replaced(results[-1], value), replaced(results[-1], band)


def endless_couplings(results: list[GridValues], held: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(F, F) couplings of two `held` surfaces (F,) that grow with every refinement: they meet at a point, with any heat
    between."""
    coarse, middle, fine = (r.network.coupling for r in results)
    return (fine - middle > 0.8 * (middle - coarse)) & (middle - coarse > 0.01 * fine) & held & held[:, None]
