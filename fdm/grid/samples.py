"""Where looks at what is thin begin (`fdm.grid.sheets`): at all corners, where circles come nearest to other edges, and
at samples along all round and slanted edges. Beside places where edges come close to each other, samples lie the closer
together, the nearer to such a place.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.grid.outlines import Outlines, nearest, places_at, points_in_boxes, shares_of

Array = NDArray[np.float64]
Integers = NDArray[np.intp]
Bools = NDArray[np.bool_]

TIP = 0.25  # of an edge between two corners: so near to one, what narrows towards it is its tip
ALONG = (0.25, 0.5, 0.75)  # samples on a piece of an edge, as shares of its length
CLOSING = 0.5 ** np.arange(3, 11)  # more of them beside an end at which another edge is close, as shares from that end
ARCS = np.linspace(0, 1, 9)  # shares of a circle between which an arc rises or falls along x and y all the way


@dataclass(frozen=True)
class Samples:
    """P points on edges, each for a piece of its edge."""

    point: Array  # (P, 2) m
    low: Array  # (P, 2) m, the bounds of that piece
    high: Array  # (P, 2) m
    edge: Integers  # (P,) the edge; -1: a point of several edges
    bent: Bools  # (P,) whether a round or slanted edge passes through
    tip: Array  # (P,) m, how far away edges meet in a corner; 0: far away


def leaving_edges(edges: Outlines, corner: Array) -> tuple[Bools, Array]:
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


def towards_edges(edges: Outlines, near: tuple[Array, Array]) -> tuple[Array, Integers]:
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


def along_edges(edges: Outlines, corners: Array, close: Array) -> Samples:
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


def _on_pieces(edges: Outlines, ends: _Marks, marks: _Marks) -> Samples:
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
    return Samples(at, np.minimum(one, other), np.maximum(one, other), number, bent, tip)


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
