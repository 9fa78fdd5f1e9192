"""Grid lines: through every straight edge, segment end and sensor, growing geometrically away from them."""

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError
from fdm.section.model import Disc, Rectangle, Section

Array = NDArray[np.float64]

SAME = 1e-9  # lines closer than this part of the drawing's size are one line
GROWTH = 1.2  # of cell size per distance from an edge, on the first grid
FIRST = 0.4  # cell size at an edge, as part of the gap to the next line
MOST_LINES = 20_000


def first_lines(section: Section) -> tuple[Array, Array]:
    """The coarsest grid: lines (n + 1,), (m + 1,) in metres."""
    x, y = edge_places(section)
    low_x, high_x, low_y, high_y = section.extent
    return _graded(_merged(x, low_x, high_x, section, "x")), _graded(_merged(y, low_y, high_y, section, "y"))


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


def edge_places(section: Section) -> tuple[list[float], list[float]]:
    """x and y, m, of everything that grid lines pass through, in the order of the drawing."""
    x, y = [], []
    for part in section.parts:
        for shape in part.shapes:
            if isinstance(shape, Disc):
                for d in (-1, 0, 1):
                    x.append(shape.centre[0] + d * shape.radius)
                    y.append(shape.centre[1] + d * shape.radius)
            elif isinstance(shape, Rectangle):
                x += shape.x
                y += shape.y
            else:
                for corner in shape.points:
                    x.append(corner[0])
                    y.append(corner[1])
    for source in section.sources:
        if source.segment:
            x += source.segment.x
            y += source.segment.y
    for sensor in section.sensors:
        if sensor.at:
            x.append(sensor.at[0])
            y.append(sensor.at[1])
    return x, y


def _merged(values: list[float], low: float, high: float, section: Section, axis: str) -> Array:
    at = np.unique(np.clip(values, low, high))
    at = at[np.concatenate([[True], np.diff(at) > SAME * max(np.ptp(section.extent[:2]), np.ptp(section.extent[2:]))])]
    if len(at) > MOST_LINES:
        raise InputError(
            f"part: the drawing has {len(at)} different edges along {axis}; at most {MOST_LINES} can be solved"
        )
    at[0], at[-1] = low, high
    return at


def _graded(at: Array) -> Array:
    gap = np.diff(at)
    size = FIRST * np.minimum(np.concatenate([gap[:1], gap]), np.concatenate([gap, gap[-1:]]))
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
