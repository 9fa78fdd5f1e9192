"""Where grid lines must pass: every straight edge, segment end, sensor, and point where a round or slanted edge meets
another."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.grid.raster import middles
from fdm.section.model import Disc, Polygon, Rectangle, Section, Shape
from fdm.section.shapes import SAME

Array = NDArray[np.float64]
Integers = NDArray[np.intp]

NEAR = 0.003  # of the smaller of two shapes' sizes: a line that passes this near to their meeting serves for it
STRAIGHT, CORNER, CURVE = range(3)  # kinds of places, the most important first
FREE = 24  # lines along an axis that corners, discs, and meetings may have
SHARP = 30.0  # degrees by which the outline of a polygon turns at a corner that follows no curve
RING = 1.5  # thicknesses of a ring that count like the radius of a disc
AROUND = np.linspace(0, 2 * np.pi, 90)  # directions in which owners are looked up around a meeting


@dataclass(frozen=True)
class Places:
    """Where grid lines must pass along one axis, and how narrow cells must be around shapes that none passes."""

    at: list[float]  # m, in the order of the drawing
    around: list[tuple[float, float, float]]  # ends, m, of each such shape, and its half width, m
    drawn: int  # different places in the drawing, with and without a line


def edge_places(section: Section) -> tuple[list[float], list[float]]:
    """x and y, m, of everything that grid lines must pass through, in the order of the drawing."""
    x, y = places(section)
    return x.at, y.at


def places(section: Section) -> tuple[Places, Places]:
    """Along x and along y.

    Straight edges along an axis, segment ends and sensors always have a line. Edges that are round or slanted cut
    cells, with or without lines; lines through their corners, centres and sides, and where they meet others, only
    make errors fall more evenly. Where there are more than FREE of these along an axis, they would make most of the
    grid, so the least important kinds are left out: first the sides and centres of discs and corners that follow a
    curve, then sharper corners, then meetings.
    """
    size = SAME * section.size
    found = [_shape_places(section, axis) for axis in (0, 1)]
    out = []
    for axis, (at, kind) in enumerate(found):
        last = CURVE
        while last > STRAIGHT and _count([p for p, k in zip(at, kind) if STRAIGHT < k <= last], size) > FREE:
            last -= 1
        out.append(Places([p for p, k in zip(at, kind) if k <= last], _around(section, axis, last), _count(at, size)))
    meetings = _meetings(section)
    for axis in (0, 1):
        at = out[axis].at
        more: list[float] = []
        for point, near in meetings:
            if min((abs(point[axis] - p) for p in at + more), default=np.inf) > near:
                more.append(point[axis])
        if _count(more, size) <= FREE:
            at += more
    return out[0], out[1]


def _count(at: list[float], same: float) -> int:
    """How many different places there are."""
    return int((np.diff(np.sort(at)) > same).sum()) + bool(at)


def _shape_places(section: Section, axis: int) -> tuple[list[float], list[int]]:
    """Places, m, of everything drawn along an axis, and the kind of each."""
    at: list[float] = []
    kind: list[int] = []
    for shape in (s for part in section.parts for s in part.shapes):
        if isinstance(shape, Disc):
            at += [shape.centre[axis] + d * shape.radius for d in (-1, 0, 1)]
            kind += [CURVE] * 3
        elif isinstance(shape, Rectangle):
            at += (shape.x, shape.y)[axis]
            kind += [STRAIGHT] * 2
        else:
            at += [corner[axis] for corner in shape.points]
            kind += _corner_kinds(shape, axis, SAME * section.size).tolist()
    for source in section.sources:
        if source.segment:
            at += (source.segment.x, source.segment.y)[axis]
    for patch in [*(s.rectangle for s in section.sources), *(f.rectangle for f in section.fins)]:
        if patch is not None:
            at += (patch.x, patch.y)[axis]
    at += [sensor.at[axis] for sensor in section.sensors if sensor.at]
    return at, kind + [STRAIGHT] * (len(at) - len(kind))


def _corner_kinds(polygon: Polygon, axis: int, same: float) -> NDArray[np.intp]:
    """(n,) the kind of each corner's place along an axis: STRAIGHT where an edge across the axis ends."""
    _, after = edges_of(polygon)
    before = np.roll(after, 1, 0)
    turn = abs(np.arctan2(cross(before, after), (before * after).sum(1)))
    ends = (abs(np.stack([before, after])[..., axis]) <= same).any(0)
    return np.where(ends, STRAIGHT, np.where(turn > np.radians(SHARP), CORNER, CURVE))


def _around(section: Section, axis: int, last: int) -> list[tuple[float, float, float]]:
    """Of each shape whose places along an axis are left out, as they are of a kind beyond the last: its ends, m, and
    the smaller half of its widths, m; of a disc that a later one leaves a ring of, RING of its thickness if less."""
    shapes = [s for part in section.parts for s in part.shapes if not isinstance(s, Rectangle)]
    kinds = (CURVE if isinstance(s, Disc) else _corner_kinds(s, axis, SAME * section.size).max() for s in shapes)
    shapes = [s for s, kind in zip(shapes, kinds) if kind > last]
    discs = [s for s in shapes if isinstance(s, Disc)]
    radius, centre = np.array([d.radius for d in discs]), np.reshape([d.centre for d in discs], (len(discs), 2))
    out = []
    for shape in shapes:
        low_x, high_x, low_y, high_y = shape.bounds
        half = min(high_x - low_x, high_y - low_y) / 2
        if isinstance(shape, Disc):
            thickness = shape.radius - radius[np.hypot(*(centre - shape.centre).T) + radius < shape.radius]
            half = min(half, RING * thickness.min(initial=np.inf))
        low, high = ((low_x, high_x), (low_y, high_y))[axis]
        out.append((low, high, half))
    return out


def layers_at_ends(section: Section, x: Array, y: Array) -> tuple[list[tuple[float, float]], ...]:
    """Along x and y: the place of each end of a source's segment, and the thickness, m, of the thinner of the layers on
    both sides of it there, from the places `x`, `y` of all edges.

    The field under the end of a heater changes over the thickness of the layer, which may be far from any line across
    the segment.
    """
    found: tuple[list[tuple[float, float]], ...] = ([], [])
    inside = 10 * SAME * section.size
    for segment in (s.segment for s in section.sources if s.segment):
        along = 0 if segment.x[0] != segment.x[1] else 1
        (low, high), (at, _) = (segment.x, segment.y) if along == 0 else (segment.y, segment.x)
        across = y if along == 0 else x
        middle = middles(across)
        first = int(np.argmin(abs(across - at)))  # the line of the segment
        for place, probe in ((low, low + inside), (high, high - inside)):
            points = (np.full(len(middle), probe), middle)
            owner = parts_at(section, *(points if along == 0 else points[::-1]))
            solid = np.array([part.material is not None for part in section.parts] + [False])[owner]
            for side in (np.arange(first, len(middle)), np.arange(first - 1, -1, -1)):
                if len(side) and solid[side[0]]:
                    same = owner[side] == owner[side[0]]
                    reach = side[len(side) - 1 if same.all() else int(np.argmin(same)) - 1]
                    end = across[reach + 1] if reach >= first else across[reach]
                    found[along].append((place, float(abs(end - across[first]))))
    return found


def _meetings(section: Section) -> list[tuple[list[float], float]]:
    """Points, m, where a round or slanted edge meets another one and three owners touch; and for each the distance, m,
    within which another line serves for it.

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
    owner = parts_at(section, x, y)
    three = (np.diff(np.sort(owner, 1), axis=1) > 0).sum(1) >= 2
    return list(zip(point[three].tolist(), near[three].tolist()))


def parts_at(section: Section, x: Array, y: Array, without: Collection[str] = ()) -> NDArray[np.intp]:
    """The number of the part laid last at each point x, y (m), -1 where there is none; parts named in `without` are
    left out."""
    order = np.argsort(x, axis=None, kind="stable")
    xs, ys = x.ravel()[order], y.ravel()[order]
    laid = np.full(x.size, -1)
    for number, part in enumerate(section.parts):
        if part.name not in without:
            for s in part.shapes:
                low, high = np.searchsorted(xs, s.bounds[:2])
                there = laid[low:high]  # a view
                there[section.covered_by(number, s.contains(xs[low:high], ys[low:high]), there)] = number
    owner = np.empty(x.size, np.intp)
    owner[order] = laid
    return owner.reshape(x.shape)


def _crossings(a: Shape, b: Shape) -> Array:
    """(K, 2) m, where the outlines of two shapes cross."""
    if isinstance(a, Disc) and isinstance(b, Disc):
        return _on_lines(a, *_common_chord(a, b))
    if isinstance(b, Disc):
        return _crossings(b, a)
    if isinstance(a, Disc):
        start, step = edges_of(b)
        return _on_lines(a, start - a.centre, step)
    (p, step_p), (q, step_q) = edges_of(b), edges_of(a)
    apart = q - p[:, None]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # parallel: NaN or infinite, and no crossing
        t, u = (cross(apart, s) / cross(step_p[:, None], step_q) for s in (step_q, step_p[:, None]))
    i, k = np.nonzero((t >= 0) & (t <= 1) & (u >= 0) & (u <= 1))
    return p[i] + t[i, k, None] * step_p[i]


def _on_lines(disc: Disc, start: Array, step: Array) -> Array:
    """(K, 2) m, where a circle is crossed by straight lines (L, 2) from `start`, as seen from its centre, over
    `step`."""
    k, t = circle_crossings(disc.radius, start, step)
    points: Array = disc.centre + start[k] + t[:, None] * step[k]
    return points


def _common_chord(a: Disc, b: Disc) -> tuple[Array, Array]:
    """Start, from the centre of `a`, and step, (1, 2) m, of a line through both crossings of two circles that reaches
    beyond `a`; both are (0, 2) for circles about one centre."""
    between = np.subtract(b.centre, a.centre)
    square = between @ between
    if not square:
        return np.empty((0, 2)), np.empty((0, 2))
    along = np.array([-between[1], between[0]]) * 2 * a.radius / np.sqrt(square)
    start = between * (square + a.radius**2 - b.radius**2) / (2 * square) - along
    return start[None], 2 * along[None]


def circle_crossings(radius: float, start: Array, step: Array) -> tuple[Integers, Array]:
    """(K,) numbers of the straight lines (L, 2), from `start` over `step`, that cross a circle about the origin, and
    how far along each it is crossed, from 0 to 1."""
    square, half = (step**2).sum(1), (start * step).sum(1)
    root = half**2 - square * ((start**2).sum(1) - radius**2)
    crossed = np.nonzero(root > 0)[0]
    square, half, root = square[crossed], half[crossed], np.sqrt(root[crossed])
    t = (np.stack([-root, root]) - half) / square
    which, k = np.nonzero((t >= 0) & (t <= 1))
    return crossed[k], t[which, k]


def edges_of(shape: Shape) -> tuple[Array, Array]:
    """Start and step, (n, 2) m, of each edge of an outline."""
    start = shape.outline()
    return start, np.roll(start, -1, 0) - start


def cross(a: Array, b: Array) -> Array:
    """(...) the third component of the cross product of plane vectors (..., 2)."""
    product: Array = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return product
