"""Temperatures between grid points that bend as smoothly as the true ones.

Straight lines between the corners of large cells would give isotherms corners that heat knows nothing of. So lines are
added to the grid until its cells are small on the picture, and the temperatures there lie on cubic curves. Their slope
at a grid point is that of the parabola through it and its two neighbours. Where the material changes, temperatures do
bend: up to such a point goes the parabola from the interval's other end.
"""

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.fields import Field
from fdm.output.corner_temperatures import corner_temperatures
from fdm.output.drawing.flow import cells_of
from fdm.section.model import Section

Array = NDArray[np.float64]
Integers = NDArray[np.int64]
Mask = NDArray[np.bool_]


def smooth_temperatures(section: Section, field: Field, x: Array, y: Array, longest: float) -> tuple[Array, ...]:
    """Grid lines x (N + 1,) and y (M + 1,), m, no further apart than `longest` where they cover the places `x` and `y`,
    m, in rising order, and the temperatures (N + 1, M + 1) degC where they cross."""
    (i0, i1), (j0, j1) = (_cells_around(lines, at) for lines, at in ((field.x, x), (field.y, y)))
    old_x, old_y = field.x[i0 : i1 + 1], field.y[j0 : j1 + 1]
    points = corner_temperatures(section, field)[i0 : i1 + 1, j0 : j1 + 1]
    alike = _conducts_alike(section)[field.part[i0:i1, j0:j1]]
    across_x = np.pad(alike[1:] == alike[:-1], ((0, 0), (1, 1)), constant_values=True)
    new_x, new_y = _split(old_x, longest), _split(old_y, longest)
    points = _between(old_x, points, across_x[:, 1:] & across_x[:, :-1], new_x)
    column, share = cells_of(old_x, new_x)
    across_y = alike[:, 1:] == alike[:, :-1]
    smooth_y = across_y[column] & across_y[np.where(share == 0, np.maximum(column - 1, 0), column)]
    return new_x, new_y, _between(old_y, points.T, smooth_y.T, new_y).T


def _cells_around(lines: Array, at: Array) -> tuple[int, int]:
    """The first cell, and one behind the last, of those that hold places in rising order, and one more on each side."""
    first, last = cells_of(lines, at[[0, -1]])[0]
    return max(0, int(first) - 1), min(len(lines) - 1, int(last) + 2)


def _conducts_alike(section: Section) -> Integers:
    """A number for each part, and one for nothing at the end: equal where temperatures pass from part to part without a
    bend."""
    jointed = {name for j in section.joints for name in j.between}
    keys = [
        p.name if p.name in jointed else (p.material and p.material.conductivity, p.thickness) for p in section.parts
    ]
    numbers = {key: k for k, key in enumerate(dict.fromkeys(keys))}
    return np.array([*(numbers[key] for key in keys), -1])


def _split(lines: Array, longest: float) -> Array:
    """The lines, with others evenly between them."""
    pieces = np.ceil(np.diff(lines) / longest)
    ends = np.concatenate([[0], np.cumsum(pieces)])
    return np.interp(np.arange(ends[-1] + 1), ends, lines)


def _between(lines: Array, values: Array, smooth: Mask, at: Array) -> Array:
    """(K, m) at places (K,), between values (n + 1, m) on lines (n + 1,); `smooth` (n - 1, m) says where, on the lines
    between the first and the last, slopes do not change."""
    width = np.diff(lines)[:, None]
    secant = np.diff(values, axis=0) / width
    slope = (secant[:-1] * width[1:] + secant[1:] * width[:-1]) / (width[1:] + width[:-1])
    ends = np.full((1, values.shape[1]), np.nan)
    known = np.where(smooth, slope, np.nan)
    first, last = np.concatenate([ends, known]), np.concatenate([known, ends])  # of each interval
    free_first, free_last = np.isnan(first), np.isnan(last)
    first = np.where(free_first, np.where(free_last, secant, 2 * secant - last), first)
    last = np.where(free_last, np.where(free_first, secant, 2 * secant - first), last)
    k, share = cells_of(lines, at)
    t = share[:, None]
    bend = (first[k] - secant[k]) * (1 - t) - (last[k] - secant[k]) * t
    out: Array = values[k] * (1 - t) + values[k + 1] * t + width[k] * t * (1 - t) * bend
    return out
