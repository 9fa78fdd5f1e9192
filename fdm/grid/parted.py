"""Cut cells in which a gap parts solids: what conducts there is what lies around the cell's centre.

A cell has one temperature. Where both sides of a narrow gap lie in one cell, heat would pass from one to the other
through that temperature; and along a gap that begins in a point some cells are wider than the gap, however small they
are. So what the gap parts from the centre counts as nothing.

    +------/-/------+
    |     / /       |      the gap runs between the two strokes; the centre o lies on one side of it, and the solid on
    |    / /    o   |      the other side is apart
    |   / /         |
    +--/-/----------+
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Integers = NDArray[np.intp]
Owners = NDArray[np.int32]

LONGER = 1e-6  # by which pieces of edge are longer than drawn, over their length, so that no way slips between two
STEPS = (
    ((slice(None), slice(None, -1)), (slice(None), slice(1, None))),
    ((slice(None), slice(None), slice(None, -1)), (slice(None), slice(None), slice(1, None))),
)  # points (K, N, N) from which ways lead to the next point, along x and along y, and where to


@dataclass(frozen=True)
class Surfaces:
    """S pieces of edge between a solid and what is none. Places are within their cells, as parts of its widths."""

    cell: Integers  # (S,) number of the cell, in rising order
    start: Array  # (S, 2)
    end: Array
    outward: Array  # (S, 2) normal, away from the solid

    @property
    def middle(self) -> Array:
        return (self.start + self.end) / 2

    def chosen(self, cells: Integers) -> "Surfaces":
        """Those in some cells, which are numbered anew."""
        on = np.isin(self.cell, cells)
        return Surfaces(np.searchsorted(cells, self.cell[on]), self.start[on], self.end[on], self.outward[on])


def cells_with_gaps(s: Surfaces) -> Integers:
    """Numbers of the cells in which two surfaces face each other across a gap. What faces one way in a cell, within an
    eighth of a turn, counts as one surface."""
    way = np.floor(np.arctan2(s.outward[:, 1], s.outward[:, 0]) / (np.pi / 4)).astype(np.intp) + 4
    each, one, count = np.unique(9 * s.cell + way, return_inverse=True, return_counts=True)
    middle, outward = (
        np.column_stack([np.bincount(one, v[:, d]) for d in (0, 1)]) / count[:, None] for v in (s.middle, s.outward)
    )
    cell, found = each // 9, np.zeros(len(each), bool)
    for step in range(1, int(np.bincount(cell).max(initial=0))):
        a = np.nonzero(cell[step:] == cell[:-step])[0]
        b = a + step
        across = middle[b] - middle[a]
        facing = ((across * outward[a]).sum(1) > 0) & ((across * outward[b]).sum(1) < 0)
        found[a[facing & ((outward[a] * outward[b]).sum(1) < 0)]] = True
    return np.unique(cell[found])


def apart(s: Surfaces, owner: Owners, solid: Bools, at: Array, centre: Owners) -> tuple[Bools, Bools]:
    """(K, N, N) which points of K cells are solid, but parted from what lies around the centre; and (S,) behind which
    surfaces the solid is.

    `owner` (K, N, N) has the owners at points `at` (N,) along both axes, as parts of a cell's widths; `solid` (...,)
    tells of each owner whether it is solid; `centre` (K,) are the owners at the centres. Where that is no solid, the
    larger part is kept.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    count, n = len(owner), len(at)
    conducts: Bools = solid[owner]
    conducts[:, [0, 0, -1, -1], [0, -1, 0, -1]] = False  # corners belong to four cells
    number = np.arange(owner.size).reshape(owner.shape)
    ways = [
        np.stack([number[before], number[after]], -1)[conducts[before] & conducts[after] & ~crossed]
        for (before, after), crossed in zip(STEPS, _crossed(s, at, count))
    ]
    a, b = np.concatenate(ways).T
    _, group = connected_components(coo_array((np.ones(len(a)), (a, b)), (owner.size, owner.size)), directed=False)
    size = np.where(conducts, np.bincount(group)[group].reshape(owner.shape), 0)
    middle = slice(n // 2 - 1, n // 2 + 1)
    around = np.where(conducts & (owner == centre[:, None, None]), owner[0].size, 0)
    size[:, middle, middle] += around[:, middle, middle]
    kept = group.reshape(count, -1)[np.arange(count), size.reshape(count, -1).argmax(1)]
    out: Bools = conducts & (group.reshape(owner.shape) != kept[:, None, None])
    behind = np.zeros(len(s.cell), bool)
    some = np.nonzero(np.asarray(out.any((1, 2)))[s.cell])[0]
    if len(some):  # a surface belongs to the nearest solid point behind it
        x, y = (at - s.middle[some, d, None] for d in (0, 1))
        depth = x[:, :, None] * s.outward[some, 0, None, None] + y[:, None] * s.outward[some, 1, None, None]
        distance = np.where(conducts[s.cell[some]] & (depth < 0), np.hypot(x[:, :, None], y[:, None]), np.inf)
        nearest = distance.reshape(len(some), -1).argmin(1)
        behind[some] = out[s.cell[some]].reshape(len(some), -1)[np.arange(len(some)), nearest]
    return out, behind


def _crossed(s: Surfaces, at: Array, count: int) -> Iterator[Bools]:
    """Whether a surface crosses the way from each point to the next: along x (K, N - 1, N), along y (K, N, N - 1)."""
    longer = LONGER * (s.end - s.start)
    start, end = s.start - longer, s.end + longer
    for axis in (0, 1):
        below = start[:, 1 - axis, None] <= at
        piece, row = np.nonzero(below != (end[:, 1 - axis, None] <= at))
        share = (at[row] - start[piece, 1 - axis]) / (end - start)[piece, 1 - axis]
        step = np.searchsorted(at, start[piece, axis] + share * (end - start)[piece, axis]) - 1
        within = (step >= 0) & (step < len(at) - 1)
        out = np.zeros((count, len(at) - 1, len(at)), bool)
        out[s.cell[piece[within]], step[within], row[within]] = True
        yield out if axis == 0 else out.transpose(0, 2, 1)
