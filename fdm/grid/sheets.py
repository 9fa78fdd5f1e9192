"""Thin sheets that lie at a slant, thin rings, and grid lines fine enough to follow them."""

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
ROUND = np.arange(8) * math.pi / 4  # angles at which a ring is looked at
ALONG = np.array([0.25, 0.5, 0.75])  # places on an edge, as shares of its length, where the thickness is measured


def follow_slanted_sheets(section: Section, x: Array, y: Array, max_cells: int) -> tuple[Array, Array]:
    """Lines x, y (m), split until their cells follow every slanted sheet and every ring, or until one more split would
    make more than `max_cells`. A sheet that passes between the sub-cells of a cell leaves no trace in the fields, so no
    estimate of errors can tell that it is missing."""
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
    """Of every slanted edge of a polygon, and every ring: the part's name, bounds (m), and thickness (m)."""
    return [*_slanted_edges(section), *_rings(section)]


def _rings(section: Section) -> list[tuple[str, Bounds, float]]:
    """What is left of a disc by a smaller one of another material within it, that is drawn later."""
    discs = [(k, p, s) for k, p in enumerate(section.parts) for s in p.shapes if isinstance(s, Disc)]
    found = []
    for k, part, outer in discs:
        for later, other, inner in discs:
            thickness, alike = (
                outer.radius - inner.radius,
                part.material is not None and part.material == other.material,
            )
            if later <= k or alike or thickness <= SAME * outer.radius:
                continue
            if math.dist(outer.centre, inner.centre) > ECCENTRIC * thickness:
                continue
            x, y = np.array(outer.centre)[:, None] + (outer.radius - thickness / 4) * np.array(
                [np.cos(ROUND), np.sin(ROUND)]
            )
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
