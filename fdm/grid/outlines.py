"""The outlines of all parts as straight edges and circles: where they cross, and places on them."""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.grid.edges import circle_crossings, cross, edges_of
from fdm.section.model import Disc, Section
from fdm.section.shapes import SAME

Array = NDArray[np.float64]
Integers = NDArray[np.intp]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Outlines:
    """Straight edges and circles; numbered together, N of them, the straight ones first."""

    start: Array  # (E, 2) m
    step: Array  # (E, 2) m
    centre: Array  # (D, 2) m
    radius: Array  # (D,) m
    tolerance: float  # m, below which places are the same

    @cached_property
    def bent(self) -> Bools:
        """(N,) which are round or slanted."""
        return np.concatenate([abs(self.step).min(1) > self.tolerance, np.ones(len(self.radius), bool)])

    @cached_property
    def length(self) -> Array:
        """(N,) m"""
        return np.concatenate([np.hypot(*self.step.T), 2 * math.pi * self.radius])

    @cached_property
    def low(self) -> Array:
        """(N, 2) m, the least x and y of each."""
        least = np.minimum(self.start, self.start + self.step)
        return np.concatenate([least, self.centre - self.radius[:, None]])

    @cached_property
    def high(self) -> Array:
        """(N, 2) m, the greatest x and y of each."""
        greatest = np.maximum(self.start, self.start + self.step)
        return np.concatenate([greatest, self.centre + self.radius[:, None]])


def outlines(section: Section) -> Outlines:
    """Those of all parts."""
    shapes = [s for p in section.parts for s in p.shapes]
    straight = [edges_of(s) for s in shapes if not isinstance(s, Disc)]
    discs = [s for s in shapes if isinstance(s, Disc)]
    start, step = (np.concatenate(v) for v in zip(*straight)) if straight else np.empty((2, 0, 2))
    centre = np.array([d.centre for d in discs]).reshape(-1, 2)
    return Outlines(start, step, centre, np.array([d.radius for d in discs]), SAME * section.size)


def points_of(edges: Outlines) -> Array:
    """(P, 2) m, ends of edges and where edges and circles cross, each once."""
    start, step, tolerance = edges.start, edges.step, edges.tolerance
    end = start + step
    a, b = _overlapping(np.minimum(start, end), np.maximum(start, end), tolerance)
    with np.errstate(divide="ignore", invalid="ignore"):  # parallel: NaN or infinite, and no crossing
        t, u = (cross(start[b] - start[a], step[k]) / cross(step[a], step[b]) for k in (b, a))
    on = (t >= 0) & (t <= 1) & (u >= 0) & (u <= 1)
    found = [start, end, start[a[on]] + t[on, None] * step[a[on]]]
    for k, (centre, radius) in enumerate(zip(edges.centre, edges.radius)):
        between = edges.centre[:k] - centre
        square = (between**2).sum(1)
        apart = square > tolerance**2
        between, square, other = between[apart], square[apart], edges.radius[:k][apart]
        # the common chord of two circles: from its middle, as far as it can reach
        middle = between * ((square + radius**2 - other**2) / (2 * square))[:, None]
        along = np.column_stack([-between[:, 1], between[:, 0]]) * (radius / np.sqrt(square))[:, None]
        lines = np.concatenate([start - centre, middle - along]), np.concatenate([step, 2 * along])
        line, t = circle_crossings(radius, *lines)
        found.append(centre + (lines[0][line] + t[:, None] * lines[1][line]))
    points = np.concatenate(found)
    _, once = np.unique(np.round(points / (8 * tolerance)), axis=0, return_index=True)
    out: Array = points[once]
    return out


def _overlapping(low: Array, high: Array, tolerance: float) -> tuple[Integers, Integers]:
    """Pairs of boxes (N, 2) that overlap or touch, each pair once."""
    order = np.argsort(low[:, 0], kind="stable")
    begin = low[order, 0] - tolerance
    first = np.arange(len(order)) + 1
    count = np.maximum(np.searchsorted(begin, high[order, 0], side="right") - first, 0)
    a = np.repeat(np.arange(len(order)), count)
    b = a + 1 + np.arange(len(a)) - np.repeat(np.cumsum(count) - count, count)
    a, b = order[a], order[b]
    on = (low[a, 1] - tolerance <= high[b, 1]) & (low[b, 1] - tolerance <= high[a, 1])
    return a[on], b[on]


def points_in_boxes(low: Array, high: Array, points: Array) -> tuple[Integers, Integers]:
    """Pairs of a box, from `low` to `high` (B, 2), and a point (P, 2) in it."""
    order = np.argsort(points[:, 0], kind="stable")
    x = points[order, 0]
    first, last = np.searchsorted(x, low[:, 0], side="left"), np.searchsorted(x, high[:, 0], side="right")
    count = last - first
    box = np.repeat(np.arange(len(low)), count)
    point = order[np.repeat(first - np.cumsum(count) + count, count) + np.arange(len(box))]
    on = (points[point, 1] >= low[box, 1]) & (points[point, 1] <= high[box, 1])
    return box[on], point[on]


def nearest(edges: Outlines, number: Integers, point: Array) -> Array:
    """(K, 2) m, the places on edges (K,) that are nearest to points (K, 2); of the centre of a circle NaN."""
    straight = number < len(edges.start)
    out = np.empty(point.shape)
    k = number[straight]
    start, step = edges.start[k], edges.step[k]
    share = np.clip(((point[straight] - start) * step).sum(1) / (step**2).sum(1), 0, 1)
    out[straight] = start + share[:, None] * step
    k = number[~straight] - len(edges.start)
    away = point[~straight] - edges.centre[k]
    with np.errstate(invalid="ignore", divide="ignore"):
        out[~straight] = edges.centre[k] + away * (edges.radius[k] / np.hypot(*away.T))[:, None]
    return out


def shares_of(edges: Outlines, number: Integers, point: Array) -> Array:
    """(K,) how far along edges (K,) their points (K, 2) lie; on circles from the x axis on."""
    straight = number < len(edges.start)
    out = np.empty(len(number))
    k = number[straight]
    out[straight] = ((point[straight] - edges.start[k]) * edges.step[k]).sum(1) / (edges.step[k] ** 2).sum(1)
    away = point[~straight] - edges.centre[number[~straight] - len(edges.start)]
    out[~straight] = np.arctan2(away[:, 1], away[:, 0]) / (2 * math.pi) % 1
    return out


def directions_at(edges: Outlines, number: Integers, point: Array) -> Array:
    """(K, 2) the direction of edges (K,) at points (K, 2); of number -1 (0, 0)."""
    out = np.zeros(point.shape)
    k = np.nonzero((number >= 0) & (number < len(edges.start)))[0]
    out[k] = edges.step[number[k]] / np.hypot(*edges.step[number[k]].T)[:, None]
    k = np.nonzero(number >= len(edges.start))[0]
    away = point[k] - edges.centre[number[k] - len(edges.start)]
    out[k] = np.column_stack([-away[:, 1], away[:, 0]]) / np.hypot(*away.T)[:, None]
    return out


def places_at(edges: Outlines, number: Integers, share: Array) -> Array:
    """(K, 2) m, the places at shares (K,) of edges (K,)."""
    straight = number < len(edges.start)
    out = np.empty((len(number), 2))
    k = number[straight]
    out[straight] = edges.start[k] + share[straight, None] * edges.step[k]
    k, angle = number[~straight] - len(edges.start), 2 * math.pi * share[~straight]
    out[~straight] = edges.centre[k] + edges.radius[k, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    return out
