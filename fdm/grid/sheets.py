"""Thin sheets and strips that lie at a slant, thin rings, and grid lines fine enough to follow them."""

import math

import numpy as np
from numpy.typing import NDArray

from fdm.grid.edges import cross, edges_of, parts_at
from fdm.grid.lines import split
from fdm.section.model import Bounds, Disc, Polygon, Section
from fdm.section.shapes import SAME

Array = NDArray[np.float64]

FINE, COARSE = 1.0, 3.0  # cell size over a slanted sheet's thickness: the size wanted, and the largest that follows it
ECCENTRIC = 0.5  # of a ring's mean thickness: a disc further from the middle of another leaves no ring of it
PARALLEL = 0.1  # sine of the angle between edges that run side by side, at most
THICK = 0.05  # of the drawing's size: thicker strips need no finer cells
ROUND = np.arange(8) * math.pi / 4  # angles at which a ring is looked at
ALONG = np.array([0.25, 0.5, 0.75])  # places on an edge, as shares of its length, where the thickness is measured


def follow_slanted_sheets(section: Section, x: Array, y: Array, max_cells: int) -> tuple[Array, Array]:
    """Lines x, y (m), split until their cells follow every slanted sheet or strip and every ring, or until one more
    split would make more than `max_cells`. A sheet that passes between the sub-cells of a cell leaves no trace in the
    fields, so no estimate of errors can tell that it is missing."""
    if (len(x) - 1) * (len(y) - 1) > max_cells:
        return x, y
    sheets = [(bounds, FINE * thickness) for _, bounds, thickness in _sheets(section)]
    while True:
        wide_x, wide_y = (_too_wide(lines, sheets, axis) for axis, lines in enumerate((x, y)))
        cells = (len(x) - 1 + wide_x.sum()) * (len(y) - 1 + wide_y.sum())
        if cells > max_cells or not (wide_x.any() or wide_y.any()):
            return x, y
        x, y = split(x, wide_x), split(y, wide_y)


def too_thin_sheets(section: Section, x: Array, y: Array) -> tuple[str, ...]:
    """Names of the parts that lie at a slant, or are rings, and are too thin for cells between these lines (m)."""
    names = dict.fromkeys(
        name
        for name, bounds, thickness in _sheets(section)
        if any(_too_wide(lines, [(bounds, COARSE * thickness)], axis).any() for axis, lines in enumerate((x, y)))
    )
    return tuple(names)


def _too_wide(lines: Array, sheets: list[tuple[Bounds, float]], axis: int) -> NDArray[np.bool_]:
    """(n,) which intervals between lines along an axis overlap the bounds (m) of a slanted edge and are wider than the
    size (m) that is given with these bounds."""
    out, width = np.zeros(len(lines) - 1, bool), np.diff(lines)
    for bounds, size in sheets:
        low, high = bounds[2 * axis : 2 * axis + 2]
        out |= (lines[1:] > low) & (lines[:-1] < high) & (width > size)
    return out


def _sheets(section: Section) -> list[tuple[str, Bounds, float]]:
    """Of every slanted edge of a polygon, every ring and every strip: the part's name, bounds and thickness (m)."""
    return [*_slanted_edges(section), *_rings(section), *_strips(section)]


def _strips(section: Section) -> list[tuple[str, Bounds, float]]:
    """What is seen of a part between slanted edges of two polygons that run side by side."""
    polygons = [s for p in section.parts for s in p.shapes if isinstance(s, Polygon)]
    edges = [(k, *edge) for k, s in enumerate(polygons) for edge in zip(*edges_of(s))]
    edges = [e for e in edges if (abs(e[2]) > SAME * section.size).all()]
    if len({k for k, *_ in edges}) < 2:
        return []
    of, start, step = (np.array(v) for v in zip(*edges))
    length = np.hypot(*step.T)
    along = step / length[:, None]
    first, second = np.nonzero((of[:, None] != of) & (abs(cross(along[:, None], along)) < PARALLEL))
    place = start[first, None] + ALONG[:, None] * step[first, None]  # (K, 3, 2) on the first edge
    apart = start[second, None] - place
    normal = along[second, None, ::-1] * np.array([-1, 1])
    depth, beside = (apart * normal).sum(2), -(apart * along[second, None]).sum(2)
    seen = (beside >= 0) & (beside <= length[second, None]) & (abs(depth) > SAME * section.size)
    k, at = np.nonzero(seen & (abs(depth) < THICK * section.size))
    across = depth[k, at, None] * normal[k, 0]
    before, strip, after = (parts_at(section, *(place[k, at] + share * across).T) for share in (-0.1, 0.5, 1.1))
    kinds = [(p.material, p.environment) for p in section.parts]
    number = np.array([*(kinds.index(kind) for kind in kinds), -1])
    own = (number[strip] != number[before]) & (number[strip] != number[after]) & (strip >= 0)
    found = []
    for name, edge, thickness in zip(strip[own].tolist(), first[k[own]].tolist(), abs(depth[k, at])[own].tolist()):
        (x0, x1), (y0, y1) = np.sort([start[edge], start[edge] + step[edge]], 0).T.tolist()
        found.append((section.parts[name].name, (x0, x1, y0, y1), thickness))
    return found


def _rings(section: Section) -> list[tuple[str, Bounds, float]]:
    """What is left of a disc by a smaller one of another material within it, that is drawn later."""
    discs = [(k, p, s) for k, p in enumerate(section.parts) for s in p.shapes if isinstance(s, Disc)]
    found = []
    for k, part, outer in discs:
        for later, other, inner in discs:
            thickness = outer.radius - inner.radius
            if later <= k or thickness <= SAME * outer.radius or (part.material and part.material == other.material):
                continue
            if math.dist(outer.centre, inner.centre) > ECCENTRIC * thickness:
                continue
            within = outer.radius - thickness / 4
            x, y = outer.centre[0] + within * np.cos(ROUND), outer.centre[1] + within * np.sin(ROUND)
            if (parts_at(section, x, y) == k).any():  # not covered by others
                found.append((part.name, outer.bounds, thickness))
    return found


def _slanted_edges(section: Section) -> list[tuple[str, Bounds, float]]:
    """For every slanted edge of a polygon: the part's name, the edge's bounds (m), and the least thickness (m) of the
    polygon behind the edge."""
    found = []
    for part in section.parts:
        for shape in part.shapes:
            if not isinstance(shape, Polygon):
                continue
            corners, step = edges_of(shape)
            inward = np.stack([-step[:, 1], step[:, 0]], 1) * np.sign(cross(corners - corners.mean(0), step).sum())
            size = np.ptp(corners, 0).max()
            for k in np.nonzero((abs(step) > SAME * size).all(1))[0]:
                start = corners[k] + ALONG[:, None] * step[k]
                with np.errstate(divide="ignore", invalid="ignore"):  # a parallel edge is not crossed
                    apart, across = corners - start[:, None], cross(inward[k], step)
                    depth, place = cross(apart, step) / across, cross(apart, inward[k]) / across
                depth = depth[(place >= 0) & (place <= 1) & (depth > SAME)] * np.hypot(*inward[k])
                (x0, y0), (x1, y1) = np.sort([corners[k], corners[k] + step[k]], 0)
                if len(depth):
                    found.append((part.name, (x0, x1, y0, y1), float(depth.min())))
    return found
