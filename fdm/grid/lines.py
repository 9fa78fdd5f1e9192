"""Grid lines: through every straight edge, segment end, sensor and point where a round or slanted edge meets another,
growing geometrically away from them."""

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError
from fdm.section.model import Bounds, Disc, Polygon, Rectangle, Section, Shape

Array = NDArray[np.float64]

SAME = 1e-9  # lines closer than this part of the drawing's size are one line
GROWTH = 1.2  # of cell size per distance from an edge, on the first grid
FIRST = 0.4  # cell size at an edge, as part of the gap to the next line
MOST_LINES = 20_000
NEAR = 0.003  # of the smaller of two shapes' sizes: where they meet that near to another line, that one serves
FINE, COARSE = 1.0, 3.0  # cells of the first grid along a slanted sheet over its thickness: wanted, and still followed
ALONG = np.array([0.25, 0.5, 0.75])  # of an edge, where the thickness behind it is measured
AROUND = np.linspace(0, 2 * np.pi, 90)  # directions in which to look who owns what


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


def followed(section: Section, x: Array, y: Array, most: int) -> tuple[Array, Array]:
    """Lines split until their cells follow every slanted sheet, as far as `most` cells go: a sheet between cells'
    sub-cells is lost without a trace, which no estimate of errors can tell."""
    sheets = [(bounds, FINE * thickness) for _, bounds, thickness in _slanted_edges(section)]
    while True:
        wide_x, wide_y = (_wider(lines, sheets, axis) for axis, lines in enumerate((x, y)))
        cells = (len(x) - 1 + wide_x.sum()) * (len(y) - 1 + wide_y.sum())
        if cells > most or not (wide_x.any() or wide_y.any()):
            return x, y
        x, y = split(x, wide_x), split(y, wide_y)


def too_thin(section: Section, x: Array, y: Array) -> tuple[str, ...]:
    """Parts that lie at a slant and are too thin for a first grid of these lines."""
    names = dict.fromkeys(
        name
        for name, bounds, thickness in _slanted_edges(section)
        if any(_wider(lines, [(bounds, COARSE * thickness)], axis).any() for axis, lines in enumerate((x, y)))
    )
    return tuple(names)


def _wider(lines: Array, sheets: list[tuple[Bounds, float]], axis: int) -> NDArray[np.bool_]:
    """Intervals beside some sheet's edge that are wider than is said of it."""
    out, width = np.zeros(len(lines) - 1, bool), np.diff(lines)
    for bounds, size in sheets:
        low, high = bounds[2 * axis : 2 * axis + 2]
        out |= (lines[1:] > low) & (lines[:-1] < high) & (width > size)
    return out


def _slanted_edges(section: Section) -> list[tuple[str, Bounds, float]]:
    """Of every slanted edge of a polygon: its part, bounds (m), and how thick (m) the polygon is behind, at least."""
    found = []
    for part in section.parts:
        for shape in part.shapes:
            if not isinstance(shape, Polygon):
                continue
            p = shape.outline()
            step = np.roll(p, -1, 0) - p
            inward = np.stack([-step[:, 1], step[:, 0]], 1) * np.sign(_cross(p - p.mean(0), step).sum())
            size = np.ptp(p, 0).max()
            for k in np.nonzero((abs(step) > SAME * size).all(1))[0]:
                at = p[k] + ALONG[:, None] * step[k]
                with np.errstate(divide="ignore", invalid="ignore"):  # parallel to it: no crossing
                    apart, across = p - at[:, None], _cross(inward[k], step)
                    depth, place = _cross(apart, step) / across, _cross(apart, inward[k]) / across
                depth = depth[(place >= 0) & (place <= 1) & (depth > SAME)] * np.hypot(*inward[k])
                (x0, y0), (x1, y1) = np.sort([p[k], p[k] + step[k]], 0)
                if len(depth):
                    found.append((part.name, (x0, x1, y0, y1), float(depth.min())))
    return found


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
    for point, near in _meetings(section):
        for places, place in zip((x, y), point):
            if min(abs(place - p) for p in places) > near:
                places.append(place)
    return x, y


def _meetings(section: Section) -> list[tuple[list[float], float]]:
    """Points, m, where a round or slanted edge meets another, and three owners; and how near a line is one through it.

    The field has a corner there. With lines through it, each grid lies about it as the last one did, and the error
    falls evenly.
    """
    shapes = [s for part in section.parts for s in part.shapes]
    if all(isinstance(s, Rectangle) for s in shapes):
        return []
    low_x, high_x, low_y, high_y = np.array([s.bounds for s in shapes]).T
    touch = (low_x[:, None] <= high_x) & (low_y[:, None] <= high_y)
    bent = np.array([not isinstance(s, Rectangle) for s in shapes])
    found = [(np.empty((0, 2)), np.empty(0))]
    for a, b in zip(*np.nonzero(np.triu(touch & touch.T & (bent[:, None] | bent), 1))):
        at = _crossings(shapes[a], shapes[b])
        size = min(high_x[a] - low_x[a], high_y[a] - low_y[a], high_x[b] - low_x[b], high_y[b] - low_y[b])
        found.append((at, np.full(len(at), NEAR * size)))
    point, near = (np.concatenate(v) for v in zip(*found))
    x, y = (point[:, d, None] + 0.1 * near[:, None] * turn(AROUND) for d, turn in enumerate((np.cos, np.sin)))
    owner = np.full(x.shape, -1)
    for number, part in enumerate(section.parts):
        for s in part.shapes:
            owner[s.contains(x, y)] = number
    several = (np.diff(np.sort(owner, 1), axis=1) > 0).sum(1) >= 2
    return list(zip(point[several].tolist(), near[several].tolist()))


def _crossings(a: Shape, b: Shape) -> Array:
    """(K, 2) m, where the outlines of two shapes cross."""
    if not isinstance(a, Disc):
        a, b = b, a
    if not isinstance(a, Disc):
        p, q = a.outline(), b.outline()
        step, other = np.roll(p, -1, 0) - p, np.roll(q, -1, 0) - q
        apart = q - p[:, None]
        with np.errstate(divide="ignore", invalid="ignore"):  # parallel: NaN or infinite, and no crossing
            t, u = (_cross(apart, s) / _cross(step[:, None], other) for s in (other, step[:, None]))
        i, k = np.nonzero((t >= 0) & (t <= 1) & (u >= 0) & (u <= 1))
        return p[i] + t[i, k, None] * step[i]
    if isinstance(b, Disc):  # on the line through both crossings
        between = np.subtract(b.centre, a.centre)
        square = between @ between
        if not square:
            return np.empty((0, 2))
        along = np.array([-between[1], between[0]]) * 2 * a.radius / np.sqrt(square)
        start = between * (square + a.radius**2 - b.radius**2) / (2 * square) - along
        start, step = start[None], 2 * along[None]
    else:
        p = b.outline()
        start, step = p - a.centre, np.roll(p, -1, 0) - p
    square, half = (step**2).sum(1), (start * step).sum(1)
    root = np.sqrt(np.maximum(half**2 - square * ((start**2).sum(1) - a.radius**2), 0))
    t = (np.stack([-root, root]) - half) / square
    which, k = np.nonzero((root > 0) & (t >= 0) & (t <= 1))
    return a.centre + start[k] + t[which, k, None] * step[k]


def _cross(a: Array, b: Array) -> Array:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


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
