"""Free room for labels: which part of the axes is occupied, and where a box of a given size fits best.

Places are looked for on a coarse grid over the axes. All lengths here are steps of that grid, `STEP` pixels each, and
all places are (along x, along y) from the lower left corner of the axes.

    +--------------------------+
    | ############  label      |     `occupied` cells (#) hold labels and marks already. A spot costs its distance
    | ############  /          |     from the anchor (o), the edges of the drawing under the label, and much more
    |              o           |     where it covers something or its leader (/) would cross something.
    +--------------------------+
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Integers = NDArray[np.int64]
Mask = NDArray[np.bool_]
Owners = NDArray[np.int32]
Place = tuple[float, float]
Size = tuple[int, int]
Pixel = tuple[int, int]

STEP = 3  # pixels
SMALLEST_LABEL = 8  # no label with its margin is narrower or lower than that

# What a spot for a label costs, beside its distance from the anchor.
EDGE_COST = 0.4  # for each step with an edge of the drawing under the label
OVERLAP_COST = 1e3  # for each occupied step under the label
CROSSING_COST = 100  # where the leader would cross something
TOUCHING_COST = 50  # where the label is nearer than `TOUCHING` to its anchor
TOUCHING = 3
ALIEN_COST = 40  # where another mark is nearer than the label's own anchor
OFF_CENTRE_COST = 0.03  # for each step from the middle of a line that is labelled


@dataclass(frozen=True)
class Anchor:
    """What a label belongs to: a point, or the box around a line along x or y."""

    low: Place
    high: Place
    mark: float  # a leader may cross what is occupied so near to its start: the anchor's own mark


@dataclass(frozen=True)
class Spot:
    """A place for a label: its cost, the distance from the anchor to the label, and the label's middle."""

    cost: float
    distance: float
    middle: Place


class Occupancy:
    """Remembers what is `occupied` (n, m) by labels and marks."""

    def __init__(self, owner: Owners) -> None:
        """`owner` holds a number for each pixel of the axes; an edge of the drawing passes where it changes."""
        owner = owner[::STEP, ::STEP]
        self.occupied: Mask = np.zeros(owner.shape, bool)
        edge = np.zeros(owner.shape, bool)
        edge[1:] |= owner[1:] != owner[:-1]
        edge[:, 1:] |= owner[:, 1:] != owner[:, :-1]
        self.edge_sums = _running_sums(edge)

    def occupy_box(self, middle: Place, size: tuple[float, float]) -> None:
        (i, j), (width, height) = middle, size
        self.occupied[
            max(0, math.floor(i - width / 2)) : max(0, math.ceil(i + width / 2)),
            max(0, math.floor(j - height / 2)) : max(0, math.ceil(j + height / 2)),
        ] = True

    def occupy_line(self, line: Array, thickness: float) -> None:
        """Occupy a line through the points (K, 2)."""
        for (i0, j0), (i1, j1) in pairwise(line):
            for f in np.linspace(0, 1, int(math.hypot(i1 - i0, j1 - j0)) + 2):
                self.occupy_box((i0 + f * (i1 - i0), j0 + f * (j1 - j0)), (thickness, thickness))

    def is_free(self, middle: Place, size: Size) -> bool:
        """Whether a box lies on the axes and covers nothing that is occupied."""
        (width, height), (n, m) = size, self.occupied.shape
        a, b = math.floor(middle[0] - width / 2), math.floor(middle[1] - height / 2)
        on_axes = a >= 0 and b >= 0 and a + width < n and b + height < m
        return on_axes and not self.occupied[a : a + width + 1, b : b + height + 1].any()

    def free_region(self, region: Mask) -> "FreeRegion | None":
        """What is free of a region (pixels along x, along y); None where no label could fit."""
        free = region[::STEP, ::STEP] & ~self.occupied
        if not free.any():
            return None
        columns, rows = (np.flatnonzero(free.any(axis)) for axis in (1, 0))
        free = free[columns[0] : columns[-1] + 1, rows[0] : rows[-1] + 1]
        sums = _running_sums(free)
        if not (_box_sums(sums, SMALLEST_LABEL, SMALLEST_LABEL) == SMALLEST_LABEL**2).any():
            return None
        return FreeRegion((int(columns[0]), int(rows[0])), free, sums)

    def search(self) -> "SpotSearch":
        return SpotSearch(self.occupied, _running_sums(self.occupied), self.edge_sums)


@dataclass(frozen=True)
class FreeRegion:
    """A region, cut out with its lower left corner at `corner`, and where it is `free`."""

    corner: tuple[int, int]
    free: Mask
    free_sums: Integers

    def spot(self, size: Size) -> Place | None:
        """The middle of the best spot for a box that lies in the region with a margin; None where it does not fit."""
        width, height = size[0] + 2, size[1] + 1
        fits = _box_sums(self.free_sums, width, height) == width * height
        if not fits.any():
            return None
        from scipy.ndimage import distance_transform_cdt

        depth = np.minimum(distance_transform_cdt(np.pad(self.free, 1))[1:-1, 1:-1], 40)
        low_i, low_j = np.nonzero(fits)
        i, j = low_i + width / 2, low_j + height / 2
        centre_i, centre_j = (float(np.mean(k)) for k in np.nonzero(self.free))
        # far from the region's edge counts more than near to its centre
        k = np.argmin(np.hypot(i - centre_i, j - centre_j) - 3.0 * depth[i.astype(int), j.astype(int)])
        return self.corner[0] + float(i[k]), self.corner[1] + float(j[k])


@dataclass(frozen=True)
class SpotSearch:
    """Looks for spots near an anchor while nothing more gets occupied."""

    occupied: Mask
    occupied_sums: Integers
    edge_sums: Integers

    def cheapest(self, size: Size, anchor: Anchor, reach: float, others: Sequence[Anchor] = ()) -> Spot | None:
        """The cheapest spot for a box within `reach` of its anchor; None where no such spot lies on the axes. `others`
        are the places of marks that have labels of their own.

        Spots that are further away cost more than `reach`. Where the cheapest one found costs more, a larger reach may
        find a better one.
        """
        first = [max(0, math.floor(low - side - reach)) for low, side in zip(anchor.low, size)]
        last = [max(0, math.ceil(high + reach) + side) for high, side in zip(anchor.high, size)]
        window = tuple(slice(a, b + 1) for a, b in zip(first, last))
        overlap = _box_sums(self.occupied_sums[window], *size)
        if not overlap.size:
            return None
        i, j = (np.arange(n) + a + side / 2 for n, a, side in zip(overlap.shape, first, size))
        i, j = i[:, None], j[None]
        distance = _distance(i, j, size, anchor)
        cost = distance + EDGE_COST * _box_sums(self.edge_sums[window], *size) + OVERLAP_COST * overlap
        cost = cost + np.where(distance < TOUCHING, TOUCHING_COST, 0)
        middle_i, middle_j = ((low + high) / 2 for low, high in zip(anchor.low, anchor.high))
        cost += OFF_CENTRE_COST * np.hypot(i - middle_i, j - middle_j)
        for other in others:
            cost += ALIEN_COST * (_distance(i, j, size, other) < distance)
        k = self._cheapest_with_leader(cost, (i, j), size, anchor)
        return Spot(float(cost[k]), float(distance[k]), (float(i[k[0], 0]), float(j[0, k[1]])))

    def _cheapest_with_leader(self, cost: Array, middle: tuple[Array, Array], size: Size, anchor: Anchor) -> Pixel:
        """Where the cost (n, m) is least once leaders that cross something are paid for, which it then holds; the
        cheapest are looked at first, as most leaders need not be known."""
        flat = cost.ravel()
        for most in (100, flat.size):
            few = np.argpartition(flat, most - 1)[:most] if most < flat.size else np.arange(flat.size)
            a, b = np.unravel_index(few, cost.shape)
            total = flat[few] + CROSSING_COST * self._leader_crosses(middle[0][a, 0], middle[1][0, b], size, anchor)
            best = int(np.lexsort((few, total))[0])
            if total[best] <= flat[few].max():
                break  # all others cost as much, even without their leaders
        cost[a[best], b[best]] = total[best]
        return int(a[best]), int(b[best])

    def _leader_crosses(self, i: Array, j: Array, size: Size, anchor: Anchor) -> Mask:
        """Whether leaders to boxes with their middles at (i, j) would cross anything but the anchor's own mark."""
        start, end = leader((i, j), size, anchor)
        length = np.hypot(end[0] - start[0], end[1] - start[1])
        out = np.zeros(length.shape, bool)
        n, m = self.occupied.shape
        for f in np.linspace(0.1, 1, 12):
            a, b = (np.broadcast_to((s + f * (e - s)).astype(int), out.shape) for s, e in zip(start, end))
            out |= self.occupied[np.clip(a, 0, n - 1), np.clip(b, 0, m - 1)] & (f * length > anchor.mark)
        return out


def _distance(i: Array, j: Array, size: Size, anchor: Anchor) -> Array:
    """(n, m) from boxes with their middles at i (n, 1) and j (1, m) to an anchor."""
    gap_i, gap_j = (
        np.maximum(np.maximum(low - k - side / 2, k - side / 2 - high), 0)
        for k, side, low, high in zip((i, j), size, anchor.low, anchor.high)
    )
    distance: Array = np.hypot(gap_i, gap_j)
    return distance


def leader(middle: tuple[Array, Array], size: Size, anchor: Anchor) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Start and end of the line that leads from an anchor to a box, or to many; each (i, j)."""
    (i, j), (width, height) = middle, size
    start = np.clip(i, anchor.low[0], anchor.high[0]), np.clip(j, anchor.low[1], anchor.high[1])
    end = np.clip(start[0], i - width / 2, i + width / 2), np.clip(start[1], j - height / 2, j + height / 2)
    return start, end


def _running_sums(of: Mask) -> Integers:
    """(n + 1, m + 1) sums over all cells below and to the left of each corner."""
    return np.pad(np.cumsum(np.cumsum(of, 0, dtype=np.int64), 1), ((1, 0), (1, 0)))


def _box_sums(sums: Integers, width: int, height: int) -> Integers:
    """From running sums, the sums over every box of that size that lies within, by its lower left corner."""
    if width >= sums.shape[0] or height >= sums.shape[1]:
        return np.zeros((0, 0), np.int64)
    return sums[width:, height:] - sums[:-width, height:] - sums[width:, :-height] + sums[:-width, :-height]
