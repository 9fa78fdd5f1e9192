"""What is thinner than its cells, between edges of which one is round or slanted: sheets, gaps, rings, necks. And grid
lines that are fine enough for it.

A sheet that passes between the sub-cells of a cell leaves no trace in the fields. A cell that reaches across a gap ties
what lies on both sides. No estimate of errors can tell either. So the drawing itself is asked: a *look* goes from a
point p of one edge to the nearest point q of another.

      before        It sees something thin if the same lies all the way between, and something else before and behind.
    ────p────       Near p and q, nothing but what lies between may be seen within FAN of the look's direction: else it
        | between   cuts off a corner, or crosses a wedge. A wedge, or a cusp between arcs, narrows to nothing at its
    ────q────       tip; that is no sheet, however thin it is there.
      behind

Looks begin at all corners, where circles come nearest to other edges, and at samples along all round and slanted edges.
Beside places where edges come close to each other, samples lie the closer together, the nearer to such a place.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from fdm.grid.edges import parts_at
from fdm.grid.lines import split
from fdm.grid.outlines import (
    Outlines,
    directions_at,
    nearest,
    outlines,
    places_at,
    points_in_boxes,
    points_of,
    shares_of,
)
from fdm.section.model import Rectangle, Section

Array = NDArray[np.float64]
Integers = NDArray[np.intp]
Bools = NDArray[np.bool_]

FINE, COARSE = 1.0, 3.0  # cell size over what is thin: the size wanted, and the largest that follows it
GAP = 0.5  # the same for a gap between solids, over that of a solid: one cell must not hold both of its sides
THICK = 0.05  # of the drawing's size: what is thicker is not thin, whatever the cells
FAN = np.radians(np.linspace(-70, 70, 9))  # from a look's direction
SQUARE = math.sin(math.radians(25))  # a look's part along an edge that it leaves, at most; FAN tells more exactly
NONE = np.zeros((1, 1, 2))  # no direction
STRAIGHT = np.zeros(1)
BESIDE = 0.1  # of a look's length: how far from its ends owners are looked up
MARKED = 0.25  # the same from which on edges count as close; so they still do where lines have been split for them
WIDENING = 2.0 ** np.arange(6)  # around the place where edges come closest, in lengths of the look
TIP = 0.25  # of an edge between two corners: so near to one, what narrows towards it is its tip
TAPER = 1.5  # over the thickness of a wedge so far from its tip; a cusp between arcs has half of it
ALONG = (0.25, 0.5, 0.75)  # samples on a piece of an edge, as shares of its length
CLOSING = 0.5 ** np.arange(3, 11)  # more of them beside an end at which another edge is close, as shares from that end
ARCS = np.linspace(0, 1, 9)  # shares of a circle between which an arc rises or falls along x and y all the way


@dataclass(frozen=True)
class Thin:
    """Something thinner than the cells that it crosses."""

    name: str  # of the part; or which gap it is, where nothing is drawn
    thickness: float  # m
    place: tuple[float, float]  # m


@dataclass(frozen=True)
class _Looks:
    """K looks, each for what lies between two edges."""

    start: Array  # (K, 2) m, on one edge
    end: Array  # (K, 2) m, on another edge
    low: Array  # (K, 2) m, the bounds of what the look stands for
    high: Array  # (K, 2) m
    thickness: Array  # (K,) m, what cells may not be wider than
    owner: Integers  # (K, 3) numbers of the parts before, between and behind; -1 where nothing is drawn
    gap: Bools  # (K,) between solids there is none

    def sizes(self, over: float) -> Array:
        """(K, 2) m, the largest cells along x and y that are `over` times as wide as what is thin, or less in gaps;
        along it, cells may be wider."""
        apart = abs(self.end - self.start)
        with np.errstate(divide="ignore", invalid="ignore"):
            along = np.minimum(1.0, 2 * apart / np.hypot(*apart.T)[:, None])
            out: Array = over * (np.where(self.gap, GAP, 1.0) * self.thickness)[:, None] / along
        return out

    def widening(self) -> "_Looks":
        """The same looks, and more in gaps, for what opens around them: cells there may be as wide as they are far
        away."""
        more, gaps = [self], self[self.gap]
        for times in WIDENING:
            around = times * gaps.thickness
            low, high = gaps.low - around[:, None], gaps.high + around[:, None]
            more.append(replace(gaps, low=low, high=high, thickness=around / GAP))
        return _joined(more)

    def __getitem__(self, rows: Bools) -> "_Looks":
        return _Looks(*(getattr(self, f.name)[rows] for f in fields(self)))


def follow_thin(section: Section, x: Array, y: Array, max_cells: int) -> tuple[Array, Array]:
    """Lines x, y (m), split until their cells are as fine as wanted for all that they do not follow yet, or until one
    more split would make more than `max_cells`."""
    if (len(x) - 1) * (len(y) - 1) > max_cells:
        return x, y
    looks = _looks(section, x, y, COARSE)
    if not len(looks.start):
        return x, y
    low, high = looks.low, looks.high
    for size in (looks.sizes(over) for over in (COARSE, FINE)):  # the coarser first, should cells be too few for both
        while True:
            wide_x, wide_y = (_too_wide(at, low[:, k], high[:, k], size[:, k]) for k, at in enumerate((x, y)))
            cells = (len(x) - 1 + wide_x.sum()) * (len(y) - 1 + wide_y.sum())
            if cells > max_cells or not (wide_x.any() or wide_y.any()):
                break
            x, y = split(x, wide_x), split(y, wide_y)
    return x, y


def too_thin(section: Section, x: Array, y: Array) -> tuple[Thin, ...]:
    """What cells between these lines (m) do not follow: where it is thinnest, each name once."""
    looks = _looks(section, x, y, COARSE)
    found: dict[str, Thin] = {}
    for k in np.argsort(looks.thickness, kind="stable").tolist():
        name = _name(section, looks.owner[k].tolist())
        px, py = ((looks.start[k] + looks.end[k]) / 2).tolist()
        found.setdefault(name, Thin(name, math.dist(looks.start[k], looks.end[k]), (px, py)))
    return tuple(found.values())


def _name(section: Section, owner: list[int]) -> str:
    one, between, other = owner
    if between >= 0:
        return f"part {section.parts[between].name!r}"
    return "the gap between {!r} and {!r}".format(*(section.parts[k].name for k in sorted((one, other))))


def _too_wide(lines: Array, low: Array, high: Array, size: Array) -> Bools:
    """(n,) which intervals between lines overlap bounds (K,), m, and are wider than the size (K,), m, that these
    allow."""
    first, last = _intervals(lines, low, high)
    count = last - first
    at = np.repeat(first - np.cumsum(count) + count, count) + np.arange(count.sum())
    allowed = np.full(len(lines) - 1, np.inf)
    np.minimum.at(allowed, at, np.repeat(size, count))
    out: Bools = np.diff(lines) > allowed
    return out


def _intervals(lines: Array, low: Array, high: Array) -> tuple[Integers, Integers]:
    """The first interval between lines that overlaps bounds (K,), and the one after the last."""
    first = np.maximum(np.searchsorted(lines, low, side="right") - 1, 0)
    last = np.minimum(np.searchsorted(lines, high, side="left"), len(lines) - 1)
    return first, np.maximum(last, first)


def _widest(lines: Array, low: Array, high: Array) -> Array:
    """(K,) m, the widest interval between lines that overlaps bounds (K,), 0 where there is none."""
    first, last = _intervals(lines, low, high)
    width = np.append(np.diff(lines), 0.0)
    out: Array = np.maximum.reduceat(width, np.ravel([first, last], order="F"))[::2]
    return np.where(last > first, out, 0.0)


@dataclass(frozen=True)
class _Drawn:
    """A drawing and lines between which its cells lie."""

    section: Section
    edges: Outlines
    lines: tuple[Array, Array]  # m, along x and y
    over: float  # how many times as wide as what is thin cells must be for it to be looked at


@dataclass(frozen=True)
class _Samples:
    """P points on edges, each for a piece of its edge."""

    point: Array  # (P, 2) m
    low: Array  # (P, 2) m, the bounds of that piece
    high: Array  # (P, 2) m
    edge: Integers  # (P,) the edge; -1: a point of several edges
    bent: Bools  # (P,) whether a round or slanted edge passes through
    tip: Array  # (P,) m, how far away edges meet in a corner; 0: far away


def _looks(section: Section, x: Array, y: Array, over: float) -> _Looks:
    """All looks at what is thinner than cells between these lines, so that they are more than `over` times as wide."""
    none = np.empty((0, 2))
    nothing = _Looks(none, none, none, none, np.empty(0), np.empty((0, 3), np.intp), np.empty(0, bool))
    if all(isinstance(s, Rectangle) for p in section.parts for s in p.shapes):
        return nothing
    edges = outlines(section)
    if not edges.bent.any():
        return nothing
    drawn, marked = (_Drawn(section, edges, (x, y), some) for some in (over, MARKED))
    near = _neighbourhoods(marked)
    corners, (circles, of) = points_of(edges), _towards_edges(edges, near)
    bent, leaving = _leaving(edges, corners)
    at_corners = _Samples(corners, corners, corners, np.full(len(corners), -1), bent, np.zeros(len(corners)))
    on_circles = _Samples(circles, circles, circles, of, np.ones(len(of), bool), np.zeros(len(of)))
    short = _joined([_seen(marked, near, at_corners, leaving), _seen(marked, near, on_circles)])
    samples = _along(edges, corners, np.concatenate([short.start, short.end]))
    looks = _joined([short[_wider(drawn, short)].widening(), _seen(drawn, _neighbourhoods(drawn), samples)])
    return looks[_wider(drawn, looks)]


def _joined(looks: Sequence[_Looks]) -> _Looks:
    return _Looks(*(np.concatenate([getattr(some, f.name) for some in looks]) for f in fields(_Looks)))


def _neighbourhoods(drawn: _Drawn) -> tuple[Array, Array]:
    """The bounds (N, 2), (N, 2) m, of all edges, wider by as much as is looked at from there."""
    edges = drawn.edges
    wide = np.zeros((len(edges.low), 1))
    for _ in range(2):  # the second time with the cells around it
        low, high = edges.low - 2 * wide, edges.high + 2 * wide
        wide = np.max([_widest(at, low[:, k], high[:, k]) for k, at in enumerate(drawn.lines)], axis=0)[:, None]
    reach = np.minimum(wide / (GAP * drawn.over), THICK * drawn.section.size)
    return edges.low - reach, edges.high + reach


def _leaving(edges: Outlines, corner: Array) -> tuple[Bools, Array]:
    """Whether (P,) a round or slanted edge passes through corners (P, 2); and (P, 2, 2) the directions in which two
    straight edges leave a corner, if these are all there are, else 0."""
    edge, point = _marked(edges, corner, np.arange(len(edges.length)))
    bent = np.zeros(len(corner), bool)
    bent[point[edges.bent[edge]]] = True
    only = np.bincount(point, minlength=len(corner)) == 2
    only[point[edge >= len(edges.start)]] = False
    some = only[point]
    edge, point = edge[some], point[some]
    order = np.argsort(point, kind="stable")
    edge, point = edge[order], point[order]
    leaving = np.zeros((len(corner), 2, 2))
    share = shares_of(edges, edge, corner[point])
    along = edges.step[edge] / edges.length[edge, None] * np.where(share < 0.5, 1, -1)[:, None]
    at_end = abs(share - 0.5) * edges.length[edge] > edges.length[edge] / 2 - 10 * edges.tolerance
    leaving[point[::2]] = (along * at_end[:, None]).reshape(-1, 2, 2)  # an edge that passes leaves both ways
    return bent, leaving


def _marked(edges: Outlines, mark: Array, among: Integers) -> tuple[Integers, Integers]:
    """Pairs of an edge, some of which count, and a point (P, 2) that lies on it."""
    near = 10 * edges.tolerance
    edge, point = points_in_boxes(edges.low[among] - near, edges.high[among] + near, mark)
    edge = among[edge]
    on = np.hypot(*(nearest(edges, edge, mark[point]) - mark[point]).T) <= near
    return edge[on], point[on]


def _towards_edges(edges: Outlines, near: tuple[Array, Array]) -> tuple[Array, Integers]:
    """(P, 2) m, the points of circles in the direction of the nearest points of edges, and, between circles, opposite
    to these; and (P,) the number of each one's circle."""
    found, of = [np.empty((0, 2))], [np.empty(0, np.intp)]
    (low, high), straight = near, len(edges.start)
    for k, (centre, radius) in enumerate(zip(edges.centre, edges.radius), straight):
        edge = np.nonzero(((low < centre + radius) & (high > centre - radius)).all(1))[0]
        away = nearest(edges, edge, np.broadcast_to(centre, (len(edge), 2))) - centre
        length = np.hypot(*away.T)
        for sign, on in ((1, length > 0), (-1, (length > 0) & (edge >= straight))):
            found.append(centre + sign * away[on] * (radius / length[on])[:, None])
            of.append(np.full(on.sum(), k))
    return np.concatenate(found), np.concatenate(of)


@dataclass(frozen=True)
class _Marks:
    """M places on edges, by edge, then along it; those of circles once more before the beginning and after the end."""

    edge: Integers  # (M,)
    share: Array  # (M,) of the edge's length
    close: Bools  # (M,) whether another edge comes close there; else the edge meets others

    def merged(self, edges: Outlines) -> "_Marks":
        """The same in order, and each once."""
        order = np.lexsort((self.share, self.edge))
        edge, share, close = self.edge[order], self.share[order], self.close[order]
        far = np.diff(share, prepend=-9) * edges.length[edge] > 20 * edges.tolerance
        new = np.nonzero(far | (np.diff(edge, prepend=-1) != 0))[0]
        return _Marks(edge[new], share[new], np.logical_or.reduceat(close, new) if len(new) else close)


def _along(edges: Outlines, corners: Array, close: Array) -> _Samples:
    """Samples on all round and slanted edges: on each of their pieces between `corners` (P, 2), with more of them
    beside points (Q, 2) of edges that come `close` to each other."""
    straight = len(edges.start)
    point = np.concatenate([corners, close])
    edge, mark = _marked(edges, point, np.nonzero(edges.bent)[0])
    share, is_close = shares_of(edges, edge, point[mark]), mark >= len(corners)
    around = np.nonzero(edge >= straight)[0]
    k = np.concatenate([np.arange(len(edge)), around, around])
    turn = np.repeat([0, -1, 1], [len(edge), len(around), len(around)])
    marks = _Marks(edge[k], share[k] + turn, is_close[k]).merged(edges)
    same = 10 * edges.tolerance / edges.length[marks.edge]
    on = (marks.share > -same) & (marks.share < 1 + same)
    arcs = np.repeat(np.arange(straight, len(edges.length)), len(ARCS))
    ends = _Marks(
        np.concatenate([marks.edge[on], arcs]),
        np.concatenate([np.clip(marks.share[on], 0, 1), np.tile(ARCS, len(edges.radius))]),
        np.concatenate([marks.close[on], np.zeros(len(arcs), bool)]),
    ).merged(edges)
    return _on_pieces(edges, ends, marks)


def _on_pieces(edges: Outlines, ends: _Marks, marks: _Marks) -> _Samples:
    """Samples on the pieces between the ends; some of them are near marks where edges meet."""
    shares = np.array([*CLOSING[::-1], *ALONG, *(1 - CLOSING)])
    middle, n = (shares[1:] + shares[:-1]) / 2, len(CLOSING)
    piece = np.nonzero(np.diff(ends.edge) == 0)[0]
    first = np.where(ends.close[piece], 0, n)
    last = np.where(ends.close[piece + 1], len(shares) - 1, n + len(ALONG) - 1)
    k = np.arange(len(shares))
    of, k = np.nonzero((k >= first[:, None]) & (k <= last[:, None]))
    low = np.where(k == first[of], 0.0, np.append(0.0, middle)[k])
    high = np.where(k == last[of], 1.0, np.append(middle, 1.0)[k])
    piece = piece[of]
    number, start, step = ends.edge[piece], ends.share[piece], ends.share[piece + 1] - ends.share[piece]
    at, one, other = (places_at(edges, number, start + step * share) for share in (shares[k], low, high))
    tip = _from_tips(edges, number, start + step * shares[k], marks)
    bent = np.ones(len(number), bool)
    return _Samples(at, np.minimum(one, other), np.maximum(one, other), number, bent, tip)


def _from_tips(edges: Outlines, edge: Integers, share: Array, marks: _Marks) -> Array:
    """(K,) m, how far shares of edges (K,) are from the next mark where edges meet, if that is less than TIP of what
    lies between marks; else 0."""
    out = np.zeros(len(edge))
    after = np.searchsorted(4.0 * marks.edge + marks.share, 4.0 * edge + share)
    some = np.nonzero((after > 0) & (after < len(marks.edge)))[0]
    some = some[(marks.edge[after[some] - 1] == edge[some]) & (marks.edge[after[some]] == edge[some])]
    before, after = after[some] - 1, after[some]
    whole = marks.share[after] - marks.share[before]
    for mark in (before, after):
        apart = abs(share[some] - marks.share[mark])
        out[some] = np.where((apart < TIP * whole) & ~marks.close[mark], apart * edges.length[edge[some]], out[some])
    return out


def _seen(drawn: _Drawn, near: tuple[Array, Array], samples: _Samples, leaving: Array = NONE) -> _Looks:
    """The looks from samples to the edges near them that see something thin. In directions (P, R, 2), other edges may
    leave the samples."""
    edges = drawn.edges
    edge, sample = points_in_boxes(*near, samples.point)
    other = (edge != samples.edge[sample]) & (edges.bent[edge] | samples.bent[sample])
    edge, sample = edge[other], sample[other]
    start = samples.point[sample]
    end = nearest(edges, edge, start)
    thickness = np.hypot(*(end - start).T)
    # at a tip, edges meet under an angle whose sine is the look's part along its own edge
    slope = abs(((end - start) * directions_at(edges, samples.edge[sample], start)).sum(1))
    ahead = ((end - start)[:, None] * leaving[sample % len(leaving)]).sum(2).max(1)
    with np.errstate(invalid="ignore"):
        thin = (thickness > 10 * edges.tolerance) & (thickness < THICK * drawn.section.size)
        thin &= (thickness**2 >= TAPER * samples.tip[sample] * slope) & (np.maximum(slope, ahead) <= SQUARE * thickness)
    start, end, thickness, sample = start[thin], end[thin], thickness[thin], sample[thin]
    low, high = np.minimum(samples.low[sample], end), np.maximum(samples.high[sample], end)
    looks = _Looks(start, end, low, high, thickness, np.empty((len(start), 3), np.intp), np.ones(len(start), bool))
    looks = _confirmed(drawn.section, looks[_wider(drawn, looks)])
    return looks[_wider(drawn, looks)]  # those that are no gaps, after all


def _wider(drawn: _Drawn, looks: _Looks) -> Bools:
    """(K,) whether cells are too wide for what is seen."""
    size = looks.sizes(drawn.over)
    wide = [_widest(at, looks.low[:, k], looks.high[:, k]) > size[:, k] for k, at in enumerate(drawn.lines)]
    out: Bools = np.any(wide, axis=0)
    return out


def _confirmed(section: Section, looks: _Looks) -> _Looks:
    """The looks that see the same all the way, and something else before and behind; a gap only between solids."""
    known: dict[object, int] = {}
    kinds = [None if p.void else (p.material, p.environment, p.thickness) for p in section.parts] + [None]
    kind = np.array([known.setdefault(k, len(known)) for k in kinds])  # of parts, and of nothing, by its number -1
    solid = np.array([p.material is not None for p in section.parts] + [False])
    straight = kind[_owners(section, looks, (BESIDE, 0.5, 1 - BESIDE))]
    looks = looks[(straight == straight[:, :1]).all(1)]
    near = [_owners(section, looks, (at,), FAN) for at in (BESIDE, 1 - BESIDE)]
    seen = near[0][:, len(FAN) // 2, None]
    good, owners = (kind[np.concatenate(near, 1)] == kind[seen]).all(1), [seen]
    for place, at in ((0, -BESIDE), (2, 1 + BESIDE)):
        beyond = _owners(section, looks, (at,), FAN)
        other = (kind[beyond] != kind[seen]) & (solid[beyond] | solid[seen])
        good &= other.any(1)
        owners.insert(place, np.take_along_axis(beyond, other.argmax(1)[:, None], 1))
    return replace(looks, owner=np.concatenate(owners, 1), gap=~solid[seen[:, 0]])[good]


def _owners(section: Section, looks: _Looks, shares: tuple[float, ...], fan: Array = STRAIGHT) -> Integers:
    """(K, shares x fan) numbers of the parts at shares of each look's length, as seen from its nearer end in directions
    within a fan (rad)."""
    step = looks.end - looks.start
    sine, cosine = np.sin(fan), np.cos(fan)
    turned = (np.stack([cosine, -sine, sine, cosine], -1).reshape(-1, 2, 2) @ step.T).transpose(2, 0, 1)
    places = [
        (looks.start if share < 0.5 else looks.end)[:, None] + (share - (share >= 0.5)) * turned for share in shares
    ]
    x, y = np.concatenate(places, 1).transpose(2, 0, 1)
    return parts_at(section, x, y)
