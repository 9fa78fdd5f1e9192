"""The system as a sparse matrix, factorised once for any number of right-hand sides.

The matrix is symmetric and positive definite: SuperLU takes its columns in the order of minimum degree on the symmetric
pattern. After the first solution the residual is summed up from heat flows, conductance times difference, and solved
for once more: flows round off far less than products with the matrix, and the heat balance closes to rounding even
where conductances span many powers of ten.

>>> rod = np.array([[0, 1, 2]])  # three unknowns in a row, 2 W/K between neighbours, 1 W/K from the first to 0 K
>>> direct = factorised(rod, np.empty((0, 3)), np.full((1, 2), 2.0), None, np.array([1.0, 0.0, 0.0]))
>>> direct.solve(np.array([[0.0], [0.0], [1.0]])).ravel()  # K, for 1 W into the last
array([1. , 1.5, 2. ])
"""

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from scipy.sparse.linalg import SuperLU, splu

from fdm.conduction.arrays import Array, Integers, Links
from fdm.errors import InputError


@dataclass(frozen=True)
class Direct:
    """Unknowns, what links them, and the factors of their matrix."""

    links: Links  # between unknowns
    to_fixed: Array  # (unknowns,) W/K to all fixed temperatures
    lu: SuperLU

    def solve(self, right: Array, refine: bool = True) -> Array:
        """Temperatures (unknowns, K) by watts (unknowns, K) into each unknown, with all fixed temperatures at 0.
        Without `refine`, rounding in the factors leaves a relative error of some 1e-9."""
        x: Array = self.lu.solve(right)
        if refine:
            x += self.lu.solve(right - self.outflow(x))
        return x

    def outflow(self, x: Array) -> Array:
        """W out of each unknown at temperatures x (unknowns, K)."""
        a, b, g = self.links
        out = self.to_fixed[:, None] * x
        if len(g):
            for k in range(x.shape[1]):
                flow = g * (x[a, k] - x[b, k])
                out[:, k] += np.bincount(a, flow, len(x)) - np.bincount(b, flow, len(x))
        return out


def factorised(unknown: Integers, gx: Array, gy: Array, links: Links | None, to_fixed: Array) -> Direct:
    """The factors for cells with unknowns numbered `unknown` (n, m): -1 where there is none, and several cells may
    share one. Conductances: gx (n - 1, m) and gy (n, m - 1) between neighbours, `links` between any two cells (flat
    numbers), and `to_fixed` (unknowns,), W/K. Raises InputError where the matrix is singular."""
    size = len(to_fixed)
    between = _between_unknowns(unknown, gx, gy, links)
    merged = size < (unknown >= 0).sum()
    if merged or links is not None:
        matrix = _matrix_of_links(between, to_fixed)
    else:
        matrix = _five_point_matrix(unknown, gx, gy, to_fixed)
    # panels of several columns, SuperLU's default, cost a quarter more time here: too few columns are alike
    return Direct(between, to_fixed, symmetric_factors(matrix, panel_size=1))


def symmetric_factors(matrix: sp.csc_matrix, panel_size: int | None = None) -> SuperLU:
    """The factors of a symmetric matrix. Raises InputError where it is singular."""
    try:
        return splu(
            matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, panel_size=panel_size,
            options={"SymmetricMode": True},
        )  # fmt: skip
    except RuntimeError as fault:
        raise InputError(
            "the temperatures of this drawing cannot be told: somewhere in it a sliver of a solid is tied to nothing; "
            "look for slanted and round parts that meet in a point, or lie a hair's breadth apart"
        ) from fault


def _between_unknowns(unknown: Integers, gx: Array, gy: Array, links: Links | None) -> Links:
    """All conductances between two different unknowns."""
    a = np.concatenate([unknown[1:].ravel(), unknown[:, 1:].ravel()])
    b = np.concatenate([unknown[:-1].ravel(), unknown[:, :-1].ravel()])
    g = np.concatenate([gx.ravel(), gy.ravel()])
    if links is not None:
        a, b = (np.concatenate([v, unknown.ravel()[cell]]) for v, cell in zip((a, b), links))
        g = np.concatenate([g, links[2]])
    on = (g != 0) & (a != b)
    return a[on], b[on], g[on]


def _matrix_of_links(links: Links, to_fixed: Array) -> sp.csc_matrix:
    (a, b, g), size = links, len(to_fixed)
    d, diagonal = np.arange(size), to_fixed + np.bincount(a, g, size) + np.bincount(b, g, size)
    at = np.concatenate([a, b, d], dtype=np.int32), np.concatenate([b, a, d], dtype=np.int32)
    return sp.csc_matrix((np.concatenate([-g, -g, diagonal]), at), (size, size))


def _five_point_matrix(unknown: Integers, gx: Array, gy: Array, to_fixed: Array) -> sp.csc_matrix:
    """The matrix of cells that exchange heat with their neighbours only. Built column by column, as scipy takes three
    times as long from coordinates."""
    n, m = unknown.shape
    value, row = np.zeros((n, m, 5)), np.zeros((n, m, 5), np.int32)  # neighbours' numbers rise in this order
    value[1:, :, 0], value[:, 1:, 1], value[:, :-1, 3], value[:-1, :, 4] = -gx, -gy, -gy, -gx
    row[1:, :, 0], row[:, 1:, 1] = unknown[:-1], unknown[:, :-1]
    row[:, :-1, 3], row[:-1, :, 4] = unknown[:, 1:], unknown[1:]
    value[..., 2], row[..., 2] = -value.sum(2), unknown
    solid = unknown >= 0
    value[..., 2][solid] += to_fixed
    on = value != 0
    on[..., 2] = solid
    starts = np.concatenate([[0], np.cumsum(on.sum(2)[solid])])
    return sp.csc_matrix((value[on], row[on], starts), (len(to_fixed), len(to_fixed)))
