"""Grid lines: through every place where they must pass, growing geometrically away from it, and split by halves."""

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError
from fdm.grid.edges import SAME, edge_places, layers_at_ends
from fdm.section.model import Section

Array = NDArray[np.float64]

GROWTH = 1.2  # of cell size per distance from an edge, on the first grid
FIRST = 0.4  # cell size at an edge, as part of the gap to the next line
MOST_LINES = 20_000


def first_lines(section: Section) -> tuple[Array, Array]:
    """The coarsest grid: lines (n + 1,), (m + 1,) in metres. Raises InputError where the drawing has too many edges."""
    low_x, high_x, low_y, high_y = section.extent
    places_x, places_y = edge_places(section)
    x, y = _merged(places_x, low_x, high_x, section, "x"), _merged(places_y, low_y, high_y, section, "y")
    layers_x, layers_y = layers_at_ends(section, x, y)
    return _graded(x, _widest(x, layers_x)), _graded(y, _widest(y, layers_y))


def halved(lines: Array) -> Array:
    """Every interval split in its middle."""
    return split(lines, np.ones(len(lines) - 1, bool))


def split(lines: Array, chosen: NDArray[np.bool_]) -> Array:
    """The chosen intervals (n,) split in their middle.

    >>> split(np.array([0.0, 1.0, 3.0]), np.array([False, True]))
    array([0., 1., 2., 3.])
    """
    middles = (lines[1:] + lines[:-1]) / 2
    return np.sort(np.concatenate([lines, middles[chosen]]))


def _merged(places: list[float], low: float, high: float, section: Section, axis: str) -> Array:
    """Places (m) in rising order from low to high, each once."""
    at: Array = np.unique(np.clip(places, low, high))
    at = at[np.concatenate([[True], np.diff(at) > SAME * section.size])]
    if len(at) > MOST_LINES:
        raise InputError(
            f"part: the drawing has {len(at)} different edges along {axis}; at most {MOST_LINES} can be solved"
        )
    at[0], at[-1] = low, high
    return at


def _widest(at: Array, layers: list[tuple[float, float]]) -> Array:
    """(n,) m, the largest size of cells at each place `at`: the thickness of the layer behind a segment that ends
    there."""
    widest = np.full(len(at), np.inf)
    for place, thickness in layers:
        k = np.argmin(abs(at - place))
        widest[k] = min(widest[k], thickness)
    return widest


def _graded(at: Array, widest: Array) -> Array:
    """Lines through all places `at`, between which the size of cells is FIRST of the smaller gap beside each place, at
    most `widest`, and grows by GROWTH of the distance from it.

    At a distance s from a place where cells have the size a, cells have the size a + GROWTH s, so that
    log(1 + GROWTH s / a) / GROWTH of them lie within s. This count is rounded to whole cells in each gap.
    """
    gap = np.diff(at)
    size = np.minimum(FIRST * np.minimum(np.concatenate([gap[:1], gap]), np.concatenate([gap, gap[-1:]])), widest)
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
