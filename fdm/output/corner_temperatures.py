"""Temperatures at the corners of cells, which pictures and mesh files interpolate between."""

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.fields import Field
from fdm.section.model import Disc, Polygon, Section

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


def corner_temperatures(section: Section, field: Field) -> Array:
    """(n + 1, m + 1) degC at the grid points; finite at every corner of a solid cell.

    Along round and slanted edges a grid point may lie outside the solid that its cell stands for. Such a point gets
    the mean of its solid cells' linear extrapolations, from the opposite corner through the middle of the cell.
    """
    points = field.point_temperature
    doubtful = _corners_of(~field.solid, beyond=True) & _corners_of(field.solid, beyond=False)
    doubtful &= np.isnan(points) | _near_slanted_edges(section, field)
    if not doubtful.any():
        return points
    known = np.where(doubtful, np.nan, points)
    total, count = np.zeros_like(points), np.zeros_like(points)
    n, m = field.solid.shape
    for i in (0, 1):
        for j in (0, 1):
            opposite = known[1 - i : n + 1 - i, 1 - j : m + 1 - j]
            extrapolated = np.where(np.isnan(opposite), field.temperature, 2 * field.temperature - opposite)
            total[i : n + i, j : m + j] += np.where(field.solid, extrapolated, 0.0)
            count[i : n + i, j : m + j] += field.solid
    return np.where(doubtful, total / np.maximum(count, 1), points)


def _corners_of(cells: Mask, beyond: bool) -> Mask:
    """(n + 1, m + 1) grid points at a corner of one of `cells` (n, m); `beyond` says whether cells beyond the grid
    count among them."""
    c = np.pad(cells, 1, constant_values=beyond)
    return c[1:, 1:] | c[1:, :-1] | c[:-1, 1:] | c[:-1, :-1]


def _near_slanted_edges(section: Section, field: Field) -> Mask:
    """(n + 1, m + 1) grid points within the bounding box of a disc, or of a polygon with a slanted edge."""
    out = np.zeros(field.point_temperature.shape, bool)
    tolerance = 1e-9 * max(np.ptp(field.x), np.ptp(field.y))
    for shape in (s for p in section.parts for s in p.shapes):
        corners = shape.outline()
        slanted = isinstance(shape, Polygon) and (np.roll(corners, -1, 0) != corners).all(1).any()
        if isinstance(shape, Disc) or slanted:
            (x0, y0), (x1, y1) = corners.min(0) - tolerance, corners.max(0) + tolerance
            out |= ((field.x >= x0) & (field.x <= x1))[:, None] & ((field.y >= y0) & (field.y <= y1))[None]
    return out
