"""Corners of the drawing at which the temperature is singular, and how strongly, known before any solve.

Around a point where straight edges meet, the temperature goes as r^lambda u(angle), with (k u')' + lambda^2 k u = 0 and
u and k u' continuous from one wedge to the next:

      \\  k2  /             r^lambda: gradients grow without end where lambda < 1;
    k1 \\    /  k3          cells of size h at the point leave an error of h^(2 lambda)
    ----- o -----          in couplings and resistances
      held, or void

Within a wedge of conductivity k let k u = R sin(phi) and k u' / lambda = R cos(phi) (Pruefer's angle). Over the wedge
phi grows by lambda times its angle; from one wedge to the next it keeps its quarter turn, and tan(phi) is multiplied
by the ratio of conductivities. The turn of phi over a row of wedges rises with lambda, so that each exponent has a
bracket and none is missed. (E. A. Coddington & N. Levinson, Theory of Ordinary Differential Equations, 1955, chapter
8, from memory.) Where solids lie all round, the exponent is the first zero of 2 - trace of the transfer matrix. It
lies between the first two exponents of the same circle cut open and held at the cut.

A conductivity that differs along x and y is stretched to one that does not, sqrt(kx ky), within its own wedge.
"""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from fdm.grid.edges import SAME, cross, edges_of
from fdm.section.model import SIDES, Disc, Rectangle, Section

Array = NDArray[np.float64]
Integers = NDArray[np.intp]
Bools = NDArray[np.bool_]

NEAR = 1e-7  # of the drawing's size: how far from a point its wedges are looked up
PARALLEL = 1e-6  # rad, between edges that are one at a point
REGULAR = 1 - 1e-6  # exponents from here on leave gradients finite
SLOW = 0.45  # exponents below this make errors that fall more slowly than three grids can tell
SCALE = 1e-3  # of the drawing's size: over less than that, a point does not matter that films or joints bypass
FREE, HELD = 0.0, -math.inf  # in place of a wedge's conductivity: what is beside it

Wedges = tuple[tuple[float, float, float], ...]  # conductivity, angle, and logarithm of the stretch from start to end


@dataclass(frozen=True)
class Wedge:
    """What lies between two directions from a point. `owner` is the name of a part or of an environment beyond the
    border, or "" where nothing is drawn. `kind`: "solid"; "fixed" or "adiabatic", as the solids beside it feel it."""

    start: float  # rad, from the x axis towards the y axis
    end: float  # rad, above `start`
    owner: str
    kind: str


@dataclass(frozen=True)
class Corner:
    """A point at which gradients are infinite. `heated`: a heated segment ends there, and r log r is as singular as the
    exponent, or more so."""

    place: tuple[float, float]  # m
    exponent: float
    wedges: tuple[Wedge, ...]
    reach: float  # m, to the nearest edge that does not pass through it
    heated: bool = False

    @property
    def solids(self) -> tuple[str, ...]:
        """Names of the solid parts around it, each once."""
        return tuple(dict.fromkeys(w.owner for w in self.wedges if w.kind == "solid"))


def corners(
    section: Section, cell: float = 0.0, without: Collection[str] = (), below: float = REGULAR
) -> tuple[Corner, ...]:
    """The points of a drawing with exponents below `below`, and ends of heated segments if that is REGULAR; by place,
    and without some parts by name.

    `cell` (m) is the scale that matters; 0 is the limit towards the point, where films and joints leave the surfaces
    beside them free. A film that lets more heat through than the solid beside it over a length `cell` holds its
    surface; a joint that lets more through than the least of the solids around the point counts as none.

    About an axis, points off it are as in the plane; those on it are left out.
    """
    return _found(section, _directions(section), cell, without, below)


def slow_corners(section: Section) -> tuple[Corner, ...]:
    """Corners of the drawing, or of the drawing without a bridge's parts, at which the error falls too slowly to be
    told from three grids: exponents below SLOW both in the limit and, with films and joints, at SCALE of the drawing.
    Where a film or a joint lets heat past the point, what is singular within a thousandth of the drawing hardly counts.
    """
    if _is_a_rectangle(section):
        return ()
    directions = _directions(section)
    found: dict[tuple[float, float], Corner] = {}
    for without in ((), *(bridge.remove for bridge in section.bridges)):
        if wide := _found(section, directions, SCALE * section.size, without, SLOW):
            places = {corner.place for corner in _found(section, directions, 0.0, without, SLOW)}
            found |= {corner.place: corner for corner in wide if corner.place in places}
    return tuple(found.values())


def _is_a_rectangle(section: Section) -> bool:
    """Whether one rectangle is all that is drawn: its corners have exponents of 1 and more."""
    shapes = [s for p in section.parts for s in p.shapes]
    return len(shapes) == 1 and isinstance(shapes[0], Rectangle) and all(s.segment is None for s in section.sources)


# ---- the exponent of a point -----------------------------------------------------------------------------------------


def chain_exponent(wedges: Wedges, held: tuple[bool, bool], below: float = math.inf) -> float:
    """The smallest exponent above 0 of wedges in a row, between two surfaces that are held or else adiabatic; infinite
    if it is not below `below`.

    >>> quarter = math.pi / 2
    >>> round(chain_exponent(((1.0, 3 * quarter, 0.0),), (False, False)), 6)
    0.666667
    """
    start = 0.0 if held[0] else math.pi / 2
    # an adiabatic surface has phi at a quarter turn, a held one at a half; the least that is further than the start
    end = math.pi if held[1] else (math.pi / 2 if held[0] else 3 * math.pi / 2)
    return _exponent_at(wedges, start, end) if _turn(wedges, below, start) > end else math.inf


def ring_exponent(wedges: Wedges, below: float = math.inf) -> float:
    """The smallest exponent above 0 of wedges all round a point; infinite if it is not below `below`.

    >>> round(ring_exponent(tuple((k, math.pi / 2, 0.0) for k in (1.0, 3.0, 1.0, 3.0))), 6)
    0.666667
    """
    turn = _turn(wedges, below, 0.0)
    if turn <= math.pi or (turn < 2 * math.pi and _mismatch(wedges, below) > 0):
        return math.inf
    low, high = (_exponent_at(wedges, 0.0, end) for end in (math.pi, 2 * math.pi))
    # equal to 0 there where two exponents are one, as in one material; above 0, by unlike stretches alone, where they
    # are complex, of a real part smaller than this (0.7 at least where this is 1, own trials with contrasts up to 100)
    if _mismatch(wedges, high) > -1e-10:
        return high
    return float(brentq(lambda exponent: _mismatch(wedges, exponent), low, high, xtol=1e-13))


def _exponent_at(wedges: Wedges, start: float, end: float) -> float:
    """The exponent with which Pruefer's angle goes from `start` to `end`; in the widest wedge alone it gets beyond."""
    above = (end + math.pi) / max(angle for _, angle, _ in wedges)
    return float(brentq(lambda exponent: _turn(wedges, exponent, start) - end, 0.0, above, xtol=1e-13))


def _turn(wedges: Wedges, exponent: float, start: float) -> float:
    """Pruefer's angle after the last wedge."""
    if math.isinf(exponent):
        return math.inf
    phi, before = start, wedges[0][0]
    for k, angle, _ in wedges:
        if k != before:
            quarters = math.floor(phi / math.pi + 0.5) * math.pi  # atan2 within half a turn of it
            phi = quarters + math.atan2(k * math.sin(phi - quarters), before * math.cos(phi - quarters))
        phi += exponent * angle
        before = k
    return phi


def _mismatch(wedges: Wedges, exponent: float) -> float:
    """Zero where u and k u' come back to themselves all round: c + 1/c - trace, with c what stretches leave."""
    a, b, c, d = 1.0, 0.0, 0.0, 1.0  # of u and k u' / lambda
    left = 0.0
    for k, angle, stretch in wedges:
        cosine, sine = math.cos(exponent * angle), math.sin(exponent * angle)
        a, b, c, d = (
            cosine * a + sine / k * c,
            cosine * b + sine / k * d,
            cosine * c - k * sine * a,
            cosine * d - k * sine * b,
        )
        left += stretch
    return 2 * math.cosh(exponent * left) - a - d


def _exponent_of(numbers: Array, cell: float, below: float) -> tuple[float, bool]:
    """The smallest exponent of what lies round a point, infinite if it is not below `below`, and whether a heated
    segment's end adds r log r to it. Rows: a wedge's conductivity, or what stands for it, its angle and stretch; of the
    ray before it whether it is held and its joint's resistance; and whether a heated segment ends at the point."""
    rows: list[list[float]] = numbers.tolist()
    n = len(rows)
    least = min((row[0] for row in rows if row[0] > 0), default=0.0)
    solid = [row[0] > 0 for row in rows]
    joined = [row[4] > 0 and cell <= least * row[4] for row in rows]
    cut = [not (solid[k] and solid[k - 1]) or bool(rows[k][3]) or joined[k] for k in range(n)]
    log = bool(rows[0][5]) and below == REGULAR
    limit = 1.1 if log else below  # r log r comes with the exponent 1
    if not any(cut):
        exponent = ring_exponent(tuple((k, angle, stretch) for k, angle, stretch, *_ in rows), limit)
        return exponent, log and abs(exponent - 1) < 1e-6
    exponent, begin = math.inf, cut.index(True)
    for k in range(begin, begin + n):
        if not (cut[k % n] and solid[k % n]):
            continue
        stop = next(m for m in range(k + 1, k + n + 1) if cut[m % n])
        row = tuple((rows[m % n][0], rows[m % n][1], rows[m % n][2]) for m in range(k, stop))
        ends = (
            _is_held(rows[k % n], rows[(k - 1) % n][0], row[0][0]),
            _is_held(rows[stop % n], rows[stop % n][0], row[-1][0]),
        )
        exponent = min(exponent, chain_exponent(row, ends, limit))
    return exponent, log and abs(exponent - 1) < 1e-6


def _is_held(ray: Sequence[float], beside: float, conductivity: float) -> bool:
    """Whether what ends a row of wedges holds it: a held segment, a held part, or a film that is strong over a cell."""
    return bool(ray[3]) or -beside > conductivity


# ---- what lies round each point --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Edges:
    """Straight edges: of the drawing, of parts, and segments of sources; and circles."""

    start: Array  # (E, 2) m
    step: Array  # (E, 2) m
    held: Bools  # (E,) segments that are held at a temperature
    heated: Bools  # (E,) segments that give watts
    centre: Array  # (D, 2) m
    radius: Array  # (D,) m
    tolerance: float  # m, below which places are the same


@dataclass(frozen=True)
class _Rays:
    """R directions from points in which edges leave them, by point, then by angle."""

    point: Integers  # (R,)
    angle: Array  # (R,) rad, from 0 to 2 pi
    held: Bools  # (R,) a held segment lies along it
    heated: Bools  # (R,) a heated segment begins at the point, along it


@dataclass(frozen=True)
class _Directions:
    """The directions in which edges leave points, and those of the wedges between them."""

    edges: _Edges
    points: Array  # (P, 2) m
    rays: _Rays
    first: Integers  # (P,) ray of each point
    count: Integers  # (P,) rays of each point
    before: Integers  # (R,) the ray before each, round its point
    end: Array  # (R,) rad, the angle of the ray after it
    inside: Array  # (R, 2) m, a place in the wedge after it


def _directions(section: Section) -> _Directions:
    edges = _edges(section)
    points = _points(edges)
    if section.view == "axisymmetric":
        points = points[points[:, 0] > edges.tolerance]
    rays = _rays(edges, points)
    first = np.nonzero(np.diff(rays.point, prepend=-1))[0]
    count = np.diff(np.append(first, len(rays.point)))
    before, end = np.arange(-1, len(rays.point) - 1), np.append(rays.angle[1:], 0.0)
    before[first], end[first + count - 1] = first + count - 1, rays.angle[first] + 2 * math.pi
    middle = (rays.angle + end) / 2
    inside = points[rays.point] + NEAR * section.size * np.column_stack([np.cos(middle), np.sin(middle)])
    return _Directions(edges, points, rays, first, count, before, end, inside)


def _found(section: Section, d: _Directions, cell: float, without: Collection[str], below: float) -> tuple[Corner, ...]:
    """The corners, as `corners` gives them."""
    rays, first, count = d.rays, d.first, d.count
    owner = _owners(section, d.inside, without)
    bent = np.logical_or.reduceat((owner != owner[d.before]) | rays.held | rays.heated, first)
    conductivity, longer = _conductivities(section, cell)
    heated = np.repeat(np.logical_or.reduceat(rays.heated, first), count)
    joint = _joint_resistances(section)[owner[d.before], owner]
    angle, stretch = _stretched(rays.angle, d.end, longer[owner])
    numbers = np.column_stack([conductivity[owner], angle, stretch, rays.held, joint, heated])
    rounded = np.round(numbers, 9) + 0.0
    names = [*(p.name for p in section.parts), *(getattr(section.border, side) or "" for side in SIDES), ""]
    known: dict[bytes, tuple[float, bool]] = {}
    found = []
    for k, n in zip(first[bent].tolist(), count[bent].tolist()):
        rows = slice(k, k + n)
        key = rounded[rows].tobytes()
        if key not in known:  # most points of a drawing are alike
            known[key] = _exponent_of(numbers[rows], cell, below)
        exponent, log = known[key]
        if exponent < below or log:
            x, y = point = d.points[rays.point[k]]
            wedges = _wedges(rays.angle[rows], d.end[rows], [names[o] for o in owner[rows]], numbers[rows])
            found.append(Corner((float(x), float(y)), exponent, wedges, _reach(d.edges, point), log))
    return tuple(sorted(found, key=lambda c: c.place))


def _edges(section: Section) -> _Edges:
    # the drawing's own edges reach beyond it, as the environments of two borders end at its corners
    x0, x1, y0, y1 = section.extent
    low_x, high_x, low_y, high_y = np.array(section.extent) + 0.1 * section.size * np.array([-1, 1, -1, 1])
    frame_start = np.array([[x0, low_y], [x1, low_y], [low_x, y0], [low_x, y1]])
    frame_step = np.array([[0, high_y - low_y]] * 2 + [[high_x - low_x, 0]] * 2)
    shapes = [s for p in section.parts for s in p.shapes]
    sources = [(s, s.segment) for s in section.sources if s.segment is not None]
    ends = np.array([list(zip(s.x, s.y)) for _, s in sources]).reshape(-1, 2, 2)
    straight = [edges_of(s) for s in shapes if not isinstance(s, Disc)]
    start, step = (np.concatenate(v) for v in zip((frame_start, frame_step), *straight, (ends[:, 0], np.ptp(ends, 1))))
    drawn = np.zeros(len(start) - len(sources), bool)
    discs = [s for s in shapes if isinstance(s, Disc)]
    return _Edges(
        start,
        step,
        np.concatenate([drawn, np.array([s.temperature is not None for s, _ in sources], bool)]),
        np.concatenate([drawn, np.array([s.heat is not None for s, _ in sources], bool)]),
        np.array([d.centre for d in discs]).reshape(-1, 2),
        np.array([d.radius for d in discs]),
        SAME * section.size,
    )


def _points(edges: _Edges) -> Array:
    """(P, 2) m, ends of edges and where edges and circles cross, each once."""
    start, step, tolerance = edges.start, edges.step, edges.tolerance
    end = start + step
    a, b = _overlapping(np.minimum(start, end), np.maximum(start, end), tolerance)
    with np.errstate(divide="ignore", invalid="ignore"):  # parallel: NaN or infinite, and no crossing
        t, u = (cross(start[b] - start[a], step[k]) / cross(step[a], step[b]) for k in (b, a))
    on = (t >= 0) & (t <= 1) & (u >= 0) & (u <= 1)
    found = [start, end, start[a[on]] + t[on, None] * step[a[on]]]
    for k, (centre, radius) in enumerate(zip(edges.centre, edges.radius)):
        between = edges.centre[:k] - centre
        square = (between**2).sum(1)
        apart = square > tolerance**2
        between, square, other = between[apart], square[apart], edges.radius[:k][apart]
        # the common chord of two circles: from its middle, as far as it can reach
        middle = between * ((square + radius**2 - other**2) / (2 * square))[:, None]
        along = np.column_stack([-between[:, 1], between[:, 0]]) * (radius / np.sqrt(square))[:, None]
        lines = np.concatenate([start - centre, middle - along]), np.concatenate([step, 2 * along])
        found.append(centre + _on_circle(radius, *lines))
    points = np.concatenate(found)
    _, once = np.unique(np.round(points / (8 * tolerance)), axis=0, return_index=True)
    out: Array = points[once]
    return out


def _on_circle(radius: float, start: Array, step: Array) -> Array:
    """(K, 2) m, where a circle about the origin is crossed by straight lines (L, 2) from `start` over `step`."""
    square, half = (step**2).sum(1), (start * step).sum(1)
    root = half**2 - square * ((start**2).sum(1) - radius**2)
    crossed = root > 0
    start, step, square, half, root = (v[crossed] for v in (start, step, square, half, root))
    t = (np.stack([-np.sqrt(root), np.sqrt(root)]) - half) / square
    _, k = np.nonzero((t >= 0) & (t <= 1))
    out: Array = start[k] + t[(t >= 0) & (t <= 1)][:, None] * step[k]
    return out


def _overlapping(low: Array, high: Array, tolerance: float) -> tuple[Integers, Integers]:
    """Pairs of boxes (N, 2) that overlap or touch, each pair once."""
    order = np.argsort(low[:, 0], kind="stable")
    begin = low[order, 0] - tolerance
    first = np.arange(len(order)) + 1
    count = np.maximum(np.searchsorted(begin, high[order, 0], side="right") - first, 0)
    a = np.repeat(np.arange(len(order)), count)
    b = a + 1 + np.arange(len(a)) - np.repeat(np.cumsum(count) - count, count)
    a, b = order[a], order[b]
    on = (low[a, 1] - tolerance <= high[b, 1]) & (low[b, 1] - tolerance <= high[a, 1])
    return a[on], b[on]


def _rays(edges: _Edges, points: Array) -> _Rays:
    """The directions in which edges leave each point."""
    near = 10 * edges.tolerance
    edge, point = _points_in_boxes(edges, points, near)
    start, step = edges.start[edge], edges.step[edge]
    length, away = np.hypot(*step.T), points[point] - start
    place = (away * step).sum(1) / length
    on = (abs(cross(away, step)) <= near * length) & (place >= -near) & (place <= length + near)
    edge, point, place, length, step = (v[on] for v in (edge, point, place, length, step))
    found = []
    for way, leaves, begins in ((1, place < length - near, place <= near), (-1, place > near, place >= length - near)):
        angle = np.arctan2(way * step[:, 1], way * step[:, 0])
        heated = edges.heated[edge] & begins
        found.append((point[leaves], angle[leaves], edges.held[edge][leaves], heated[leaves]))
    for centre, radius in zip(edges.centre, edges.radius):
        apart = points - centre
        on_it = np.nonzero(abs(np.hypot(*apart.T) - radius) <= near)[0]
        outward, no = np.arctan2(apart[on_it, 1], apart[on_it, 0]), np.zeros(len(on_it), bool)
        found += [(on_it, outward + turn, no, no) for turn in (-math.pi / 2, math.pi / 2)]
    angle = np.mod(np.concatenate([v[1] for v in found]), 2 * math.pi)
    angle[angle > 2 * math.pi - PARALLEL] = 0.0
    point, held, heated = (np.concatenate([v[k] for v in found]) for k in (0, 2, 3))
    order = np.lexsort((angle, point))
    point, angle, held, heated = point[order], angle[order], held[order], heated[order]
    new = np.nonzero((np.diff(point, prepend=-1) != 0) | (np.diff(angle, prepend=-1.0) > PARALLEL))[0]
    return _Rays(point[new], angle[new], np.logical_or.reduceat(held, new), np.logical_or.reduceat(heated, new))


def _points_in_boxes(edges: _Edges, points: Array, near: float) -> tuple[Integers, Integers]:
    """Pairs of an edge and a point that lies in the edge's bounds."""
    end = edges.start + edges.step
    low, high = np.minimum(edges.start, end) - near, np.maximum(edges.start, end) + near
    order = np.argsort(points[:, 0], kind="stable")
    x = points[order, 0]
    first, last = np.searchsorted(x, low[:, 0], side="left"), np.searchsorted(x, high[:, 0], side="right")
    count = last - first
    edge = np.repeat(np.arange(len(low)), count)
    point = order[np.repeat(first - np.cumsum(count) + count, count) + np.arange(len(edge))]
    on = (points[point, 1] >= low[edge, 1]) & (points[point, 1] <= high[edge, 1])
    return edge[on], point[on]


def _reach(edges: _Edges, point: Array) -> float:
    """m, from a point (2,) to the nearest edge or circle that does not pass through it."""
    away, square = point - edges.start, (edges.step**2).sum(1)
    t = np.clip((away * edges.step).sum(1) / square, 0.0, 1.0)
    straight = np.hypot(*(away - t[:, None] * edges.step).T)
    round_ = abs(np.hypot(*(edges.centre - point).T) - edges.radius)
    distance = np.concatenate([straight, round_])
    return float(distance[distance > 10 * edges.tolerance].min())


def _owners(section: Section, place: Array, without: Collection[str]) -> Integers:
    """(K,) numbers of the parts at places (K, 2), m; beyond them the borders in the order of SIDES, then nothing."""
    x, y = place.T
    x0, x1, y0, y1 = section.extent
    parts = len(section.parts)
    beside, above = (y > y0) & (y < y1), (x > x0) & (x < x1)
    owner = np.full(len(place), parts + len(SIDES), np.intp)
    for k, there in enumerate((beside & (x < x0), beside & (x > x1), above & (y < y0), above & (y > y1))):
        owner[there] = parts + k
    order = np.argsort(x, kind="stable")
    x, y = x[order], y[order]
    for number, part in enumerate(section.parts):
        if part.name not in without:
            for shape in part.shapes:
                low, high = np.searchsorted(x, shape.bounds[:2])
                inside = shape.contains(x[low:high], y[low:high])
                owner[order[low:high][section.covered_by(number, inside, owner[order[low:high]])]] = number
    return owner


def _conductivities(section: Section, cell: float) -> tuple[Array, Array]:
    """(P + 5,) of each owner the conductivity, W/(m K), or what stands for it where it is not solid: HELD, FREE, or
    below 0 the film times `cell`; and (P + 5,) how much longer y gets where stretching makes it alike in x and y."""
    film = {e.name: HELD if math.isinf(e.film) else -e.film * cell for e in section.environments}
    held = {s.part for s in section.held_sources}
    thickest = max(part.thickness or 1.0 for part in section.parts)
    conductivity, longer = [], []
    for part in section.parts:
        k, ratio = film.get(part.environment or "", FREE), 1.0
        if part.name in held:
            k = HELD
        elif part.material is not None:
            kx, ky = part.material.conductivity
            k, ratio = math.sqrt(kx * ky) * (part.thickness or 1.0) / thickest, math.sqrt(kx / ky)
        conductivity.append(k)
        longer.append(ratio)
    borders = [film.get(getattr(section.border, side) or "", FREE) for side in SIDES]
    return np.array([*conductivity, *borders, FREE]), np.array([*longer, *(1.0 for _ in SIDES), 1.0])


def _stretched(start: Array, end: Array, longer: Array) -> tuple[Array, Array]:
    """Angles of wedges, and the logarithm of how much more their end is stretched than their start, after y has become
    `longer`."""
    turn = [np.arctan2(longer * np.sin(a), np.cos(a)) for a in (start, end)]
    length = [np.hypot(np.cos(a), longer * np.sin(a)) for a in (start, end)]
    angle = np.where(longer == 1, end - start, np.mod(turn[1] - turn[0], 2 * math.pi))
    return np.where(angle == 0, 2 * math.pi, angle), np.log(length[1] / length[0])


def _joint_resistances(section: Section) -> Array:
    """(P + 5, P + 5) m2 K/W of the joint between two owners, 0 where there is none."""
    number = {p.name: k for k, p in enumerate(section.parts)}
    resistance = np.zeros((len(section.parts) + len(SIDES) + 1,) * 2)
    for joint in section.joints:
        i, j = (number[name] for name in joint.between)
        resistance[i, j] = resistance[j, i] = joint.resistance
    return resistance


def _wedges(start: Array, end: Array, owners: list[str], numbers: Array) -> tuple[Wedge, ...]:
    """What lies round a point; what no edge parts is one wedge."""
    n, conductivity = len(owners), numbers[:, 0]
    begins = [k for k in range(n) if owners[k] != owners[k - 1] or numbers[k, 3]] or [0]
    out = []
    for k, stop in zip(begins, [*begins[1:], begins[0] + n]):
        beside = [conductivity[m % n] for m in (begins[0] - 1 if k == 0 else k - 1, stop) if conductivity[m % n] > 0]
        fixed = any(-conductivity[k] > other for other in beside) or conductivity[k] == HELD
        kind = "solid" if conductivity[k] > 0 else "fixed" if fixed else "adiabatic"
        turns = 2 * math.pi * (stop > n)
        out.append(Wedge(float(start[k]), float(end[(stop - 1) % n]) + turns, owners[k], kind))
    return tuple(out)
