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

Where looks begin, `fdm.grid.samples` says.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from fdm.grid.edges import parts_at
from fdm.grid.lines import split
from fdm.grid.outlines import Outlines, directions_at, nearest, outlines, points_in_boxes, points_of
from fdm.grid.samples import Samples, along_edges, leaving_edges, towards_edges
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
TAPER = 1.5  # over the thickness of a wedge so far from its tip; a cusp between arcs has half of it


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
    corners, (circles, of) = points_of(edges), towards_edges(edges, near)
    bent, leaving = leaving_edges(edges, corners)
    at_corners = Samples(corners, corners, corners, np.full(len(corners), -1), bent, np.zeros(len(corners)))
    on_circles = Samples(circles, circles, circles, of, np.ones(len(of), bool), np.zeros(len(of)))
    short = _joined([_seen(marked, near, at_corners, leaving), _seen(marked, near, on_circles)])
    samples = along_edges(edges, corners, np.concatenate([short.start, short.end]))
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


def _seen(drawn: _Drawn, near: tuple[Array, Array], samples: Samples, leaving: Array = NONE) -> _Looks:
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
