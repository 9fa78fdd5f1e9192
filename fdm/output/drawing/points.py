"""Temperatures at grid points, fit to draw and export."""

import numpy as np
from numpy.typing import NDArray

from fdm.answers.fields import Field
from fdm.section.model import Disc, Polygon, Section

Array = NDArray[np.float64]


def point_temperatures(section: Section, field: Field) -> Array:
    """(n + 1, m + 1) degC; finite at every corner of a solid cell.

    Along round and oblique edges a grid point may lie outside the solid that its cell stands for; there the cells'
    own slope is carried on to the corner.
    """
    points = field.point_temperature
    doubtful = _touched(~field.solid, outside=True) & _touched(field.solid)
    doubtful &= np.isnan(points) | _near_slanted(section, field)
    if not doubtful.any():
        return points
    known = np.where(doubtful, np.nan, points)
    total, count = np.zeros_like(points), np.zeros_like(points)
    n, m = field.solid.shape
    for i in (0, 1):
        for j in (0, 1):
            opposite = known[1 - i : n + 1 - i, 1 - j : m + 1 - j]
            carried = np.where(np.isnan(opposite), field.temperature, 2 * field.temperature - opposite)
            total[i : n + i, j : m + j] += np.where(field.solid, carried, 0.0)
            count[i : n + i, j : m + j] += field.solid
    return np.where(doubtful, total / np.maximum(count, 1), points)


def _touched(cells: NDArray[np.bool_], outside: bool = False) -> NDArray[np.bool_]:
    """Grid points with such a cell among their four; what lies beyond the drawing counts as `outside`."""
    c = np.pad(cells, 1, constant_values=outside)
    return c[1:, 1:] | c[1:, :-1] | c[:-1, 1:] | c[:-1, :-1]


def _near_slanted(section: Section, field: Field) -> NDArray[np.bool_]:
    """Grid points within the bounds of a disc, or of a polygon with an oblique edge."""
    out = np.zeros(field.point_temperature.shape, bool)
    reach = 1e-9 * max(np.ptp(field.x), np.ptp(field.y))
    for shape in (s for p in section.parts for s in p.shapes):
        corners = shape.outline()
        oblique = isinstance(shape, Polygon) and (np.roll(corners, -1, 0) != corners).all(1).any()
        if isinstance(shape, Disc) or oblique:
            (x0, y0), (x1, y1) = corners.min(0) - reach, corners.max(0) + reach
            out |= ((field.x >= x0) & (field.x <= x1))[:, None] & ((field.y >= y0) & (field.y <= y1))[None]
    return out
