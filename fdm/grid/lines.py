"""Grid lines: through every place where they must pass, growing geometrically away from it, and split by halves."""

import math

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError
from fdm.grid.edges import Places, layers_at_ends, places
from fdm.grid.layers import first_layers
from fdm.grid.raster import middles
from fdm.section.model import Section
from fdm.section.shapes import SAME

Array = NDArray[np.float64]

GROWTH = 1.2  # of cell size per distance from an edge, on the first grid
FIRST = 0.4  # cell size at an edge, as part of the gap to the next line
# cell size around a shape without lines, over its half width, and the most cells for which it is taken
AROUND = ((0.35, 2000), (0.7, 10_000), (1.4, 20_000), (2.8, math.inf))
SAMPLES = 4000  # of the size of cells, along an axis
MOST_LINES = 20_000


def first_lines(section: Section) -> tuple[Array, ...]:
    """The coarsest grid: lines (n + 1,), (m + 1,) in metres; and lines between layers, where a plate is resolved
    through its thickness. Raises InputError where the drawing has too many edges."""
    return *_lines_in_plane(section), *first_layers(section)


def _lines_in_plane(section: Section) -> tuple[Array, Array]:
    x, y = places(section)
    low_x, high_x, low_y, high_y = section.extent
    at_x, at_y = _merged(x, low_x, high_x, section, "x"), _merged(y, low_y, high_y, section, "y")
    layers_x, layers_y = layers_at_ends(section, at_x, at_y)
    size_x, size_y = _sizes(at_x, layers_x), _sizes(at_y, layers_y)
    if not (x.around or y.around):
        return _graded(at_x, size_x), _graded(at_y, size_y)
    for width, most in AROUND:
        lines = _narrow(at_x, size_x, x.around, width), _narrow(at_y, size_y, y.around, width)
        if (len(lines[0]) - 1) * (len(lines[1]) - 1) <= most:
            break
    return lines


def halved(lines: Array) -> Array:
    """Every interval split in its middle."""
    return split(lines, np.ones(len(lines) - 1, bool))


def split(lines: Array, chosen: NDArray[np.bool_]) -> Array:
    """The chosen intervals (n,) split in their middle.

    >>> split(np.array([0.0, 1.0, 3.0]), np.array([False, True]))
    array([0., 1., 2., 3.])
    """
    return np.sort(np.concatenate([lines, middles(lines)[chosen]]))


def _merged(found: Places, low: float, high: float, section: Section, axis: str) -> Array:
    """Places (m) in rising order from low to high, each once. Raises InputError where the drawing has too many."""
    at: Array = np.unique(np.clip([*found.at, low, high], low, high))
    at = at[np.concatenate([[True], np.diff(at) > SAME * section.size])]
    if (drawn := max(len(at), found.drawn)) > MOST_LINES:
        raise InputError(
            f"part: the drawing has {drawn} different edges along {axis}; at most {MOST_LINES} can be solved"
        )
    at[0], at[-1] = low, high
    return at


def _sizes(at: Array, layers: list[tuple[float, float]]) -> Array:
    """(n,) m, the size of cells at each place `at`: FIRST of the smaller gap beside it, at most the thickness of the
    layer behind a segment that ends there."""
    gap = np.diff(at)
    size: Array = FIRST * np.minimum(np.append(gap[0], gap), np.append(gap, gap[-1]))
    for place, thickness in layers:
        k = np.argmin(abs(at - place))
        size[k] = min(size[k], thickness)
    return size


def _graded(at: Array, size: Array) -> Array:
    """Lines through all places `at`, beside each of which cells have its `size`, and grow by GROWTH of the distance
    from it.

    At a distance s from a place where cells have the size a, cells have the size a + GROWTH s, so that
    log(1 + GROWTH s / a) / GROWTH of them lie within s. This count is rounded to whole cells in each gap.
    """
    gap = np.diff(at)
    left, right = size[:-1], size[1:]
    # cell size grows from both ends of a gap; s is the distance from its left end where both sizes meet
    s = np.clip((right - left + GROWTH * gap) / (2 * GROWTH), 0.0, gap)
    from_left, from_right = np.log1p(GROWTH * s / left) / GROWTH, np.log1p(GROWTH * (gap - s) / right) / GROWTH
    count = np.maximum(1, np.rint(from_left + from_right)).astype(int)
    of = np.repeat(np.arange(len(gap)), count)  # the gap in which each line after the first lies
    step = np.arange(1, len(of) + 1) - (np.cumsum(count) - count)[of]
    u = step / count[of] * (from_left + from_right)[of]
    inside = np.where(
        u < from_left[of],
        left[of] / GROWTH * np.expm1(GROWTH * u),
        gap[of] - right[of] / GROWTH * np.expm1(GROWTH * ((from_left + from_right)[of] - u)),
    )
    lines = at[of] + inside
    lines[np.cumsum(count) - 1] = at[1:]
    return np.concatenate([at[:1], lines])


def _narrow(at: Array, size_at: Array, around: list[tuple[float, float, float]], width: float) -> Array:
    """Lines as of `_graded`, between which the size of cells is besides at most `width` times the half width of each
    shape between its ends (low, high, half width; m), and from there grows alike."""
    if not around:
        return _graded(at, size_at)
    shapes = np.array(around)
    ends = np.clip(shapes[:, :2], at[0], at[-1])
    s = np.unique(np.concatenate([at, ends.ravel(), np.linspace(at[0], at[-1], SAMPLES)]))
    size, gap = np.full(len(s), np.inf), np.diff(at)
    size[np.searchsorted(s, at)] = size_at
    for (low, high), most in zip(np.searchsorted(s, ends), width * shapes[:, 2]):
        size[low : high + 1] = np.minimum(size[low : high + 1], most)
    size = np.minimum.accumulate(size - GROWTH * s) + GROWTH * s
    size = np.minimum.accumulate((size + GROWTH * s)[::-1])[::-1] - GROWTH * s
    cells = np.append(0.0, np.cumsum(2 * np.diff(s) / (size[1:] + size[:-1])))  # up to each sample
    to = cells[np.searchsorted(s, at)]
    count = np.maximum(1, np.rint(np.diff(to))).astype(int)
    of = np.repeat(np.arange(len(gap)), count)
    step = np.arange(1, len(of) + 1) - (np.cumsum(count) - count)[of]
    lines = np.interp(to[of] + step / count[of] * np.diff(to)[of], cells, s)
    lines[np.cumsum(count) - 1] = at[1:]
    return np.concatenate([at[:1], lines])
