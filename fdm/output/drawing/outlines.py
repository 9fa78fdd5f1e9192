"""The outlines of the parts, as far as they are seen: later parts cover earlier ones."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fdm.grid.edges import parts_at
from fdm.section.model import Disc, Section, Shape

Array = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class Edge:
    """A piece of an outline along which the same two parts meet, or a part and nothing (None)."""

    line: Array  # points (K, 2) m
    between: tuple[str | None, str | None]


def visible_edges(section: Section) -> list[Edge]:
    """All pieces of outlines that are seen: none that a later part covers, and no seam between shapes of one part."""
    x0, x1, y0, y1 = section.extent
    size = max(x1 - x0, y1 - y0)
    corners = [s.outline() for p in section.parts for s in p.shapes if not isinstance(s, Disc)]
    cuts = [np.unique(np.concatenate(corners)[:, k]) if corners else np.empty(0) for k in (0, 1)]
    shapes = [s for p in section.parts for s in p.shapes]
    paths = [_fine_path(s, cuts, size / 300) for s in shapes]
    middle = np.concatenate([_middles_on(s, p) for s, p in zip(shapes, paths)])
    along = np.concatenate([np.diff(p, axis=0) for p in paths])
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.maximum(np.hypot(*along.T), 1e-300)[:, None]
    sides = [part_seen_at(section, *(middle + d * 1e-6 * size * normal).T) for d in (1, -1)]
    pairs = np.sort(np.column_stack(sides), 1)
    names = [p.name for p in section.parts]
    out, first = [], 0
    for path in paths:
        here = pairs[first : first + len(path) - 1]
        first += len(path) - 1
        starts = np.concatenate([[0], np.nonzero((here[1:] != here[:-1]).any(1))[0] + 1, [len(here)]])
        for a, b in pairwise(starts):
            i, j = here[a]
            if i != j:
                out.append(Edge(path[a : b + 1], (names[i] if i >= 0 else None, names[j] if j >= 0 else None)))
    return out


def _fine_path(shape: Shape, cuts: Sequence[Array], step: float) -> Array:
    """(K, 2) a closed outline with a point at least every `step`, and where it meets the `cuts`: the x and the y of
    all corners, where another outline may begin to cover it."""
    if isinstance(shape, Disc):
        a = np.linspace(0, 2 * np.pi, 361)
        return np.column_stack([shape.centre[0] + shape.radius * np.cos(a), shape.centre[1] + shape.radius * np.sin(a)])
    corners = shape.outline()
    points = []
    for a, b in zip(corners, np.roll(corners, -1, 0)):
        f = [np.linspace(0, 1, max(1, math.ceil(float(np.hypot(*(b - a))) / step)) + 1)]
        for k in (0, 1):
            if a[k] != b[k]:
                f.append((cuts[k] - a[k]) / (b[k] - a[k]))
        at = np.unique(np.concatenate(f))
        at = at[(at >= 0) & (at < 1)]
        points.append(a + at[:, None] * (b - a))
    return np.concatenate([*points, corners[:1]])


def _middles_on(shape: Shape, path: Array) -> Array:
    """(K - 1, 2) between the points (K, 2) of an outline, on the outline itself: the chords of a disc lie within it."""
    middle = (path[1:] + path[:-1]) / 2
    if isinstance(shape, Disc):
        arm = middle - shape.centre
        middle = shape.centre + arm * (shape.radius / np.hypot(*arm.T))[:, None]
    return middle


def part_seen_at(section: Section, x: Array, y: Array) -> Integers:
    """(K,) number of the part seen at places x (K,), y (K,) m, the last one laid there; -1 where there is none, as
    beyond the drawing's left edge, where a disc on the axis reaches."""
    out = parts_at(section, x, y)
    out[x < section.extent[0]] = -1
    return out
