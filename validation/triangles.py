"""Triangles for sections with round and slanted edges, for the finite elements of `validation.finite_elements`.

Every edge that something meets at is cut into pieces where it crosses others. A size is wanted everywhere: it grows in
proportion to the distance from the nearest corner, from the nearest narrow gap and from round edges:

    size(p) = min over sites s of (size_s + slope |p - s|)

Points are laid along the pieces in steps of that size, and between them in the cells of a quadtree. None lies in the
circle over a step as its diameter, so Delaunay's triangulation keeps every step as an edge. Steps on round edges are
curved: parabolas through their middles.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import Delaunay, cKDTree
from skfem import MeshTri, MeshTri2

from fdm.errors import InputError
from fdm.section.model import Disc, Section

Array = NDArray[np.float64]
Integers = NDArray[np.intp]

SAMPLES = 16  # places on a piece at which its distance to others is taken
SLOPE, ROUND, LARGEST = 1.6, 0.7, 0.6  # over `cells`: of sizes; of the radius of an arc; of the section
FEATURE = 0.6  # size over the width of a gap
CLEAR = 0.78  # distance of inner points from those on edges, over the size: above 1 / sqrt 2


@dataclass(frozen=True)
class Piece:
    """A straight edge from `start` to `end`, or an arc about `centre` from angle `turn[0]` to `turn[1]`."""

    start: Array
    end: Array
    centre: Array | None = None
    radius: float = 0.0
    turn: tuple[float, float] = (0.0, 0.0)

    def at(self, s: Array) -> Array:
        """(n, 2) places at shares s (n,) of the length."""
        if self.centre is None:
            return self.start + s[:, None] * (self.end - self.start)
        angle = self.turn[0] + s * (self.turn[1] - self.turn[0])
        return self.centre + self.radius * np.column_stack([np.cos(angle), np.sin(angle)])

    def normal(self, s: float) -> Array:
        """Across the edge."""
        if self.centre is None:
            dx, dy = (self.end - self.start) / np.hypot(*(self.end - self.start))
            return np.array([-dy, dx])
        return (self.at(np.array([s]))[0] - self.centre) / self.radius

    def between(self, a: float, b: float) -> "Piece":
        start, end = self.at(np.array([a, b]))
        span = self.turn[1] - self.turn[0]
        return Piece(start, end, self.centre, self.radius, (self.turn[0] + a * span, self.turn[0] + b * span))

    @property
    def length(self) -> float:
        if self.centre is None:
            return float(np.hypot(*(self.end - self.start)))
        return self.radius * abs(self.turn[1] - self.turn[0])

    def share(self, p: Array) -> Array:
        """(n,) shares of the length at which points (n, 2) on the edge, or on its line or circle, lie."""
        if self.centre is None:
            along = self.end - self.start
            return (p - self.start) @ along / (along @ along)
        angle = np.arctan2(*(p - self.centre).T[::-1])
        return np.mod(angle - self.turn[0] + 1e-12, 2 * np.pi) / (self.turn[1] - self.turn[0])

    def distance(self, p: Array) -> Array:
        """(n,) from points (n, 2)."""
        s = np.clip(self.share(p), 0, 1)
        ends = np.minimum(np.hypot(*(p - self.start).T), np.hypot(*(p - self.end).T))
        return np.minimum(ends, np.hypot(*(p - self.at(s)).T))


@dataclass(frozen=True)
class Sites:
    """What the wanted size comes from."""

    place: Array  # (S, 2)
    size: Array  # (S,)
    slope: float
    largest: float

    def at(self, p: Array) -> Array:
        """(n,) wanted size at points (n, 2)."""
        out = np.full(len(p), self.largest)
        for k in range(0, len(p), 4096):
            some = p[k : k + 4096]
            away = np.hypot(some[:, :1] - self.place[:, 0], some[:, 1:] - self.place[:, 1])
            out[k : k + 4096] = np.minimum(out[k : k + 4096], (self.size + self.slope * away).min(1))
        return out


def triangles(section: Section, cells: int) -> MeshTri2:
    """A mesh of the section's solid parts; the size of its triangles falls as 1 / `cells`, at corners faster."""
    pieces = _met(section, _crossed(section))
    sites = _sites(section, pieces, cells)
    steps = [_steps(piece, sites) for piece in pieces]
    inner = _inner(section, sites)
    fixed = np.array([s.at for s in section.sensors if s.at]).reshape(-1, 2)
    for _ in range(20):
        on_edges = np.concatenate([piece.at(s) for piece, s in zip(pieces, steps)])
        known = _apart(np.concatenate([on_edges, fixed]), 1e-9 * section.size)
        near, _ = cKDTree(known).query(inner)
        p = np.concatenate([known, inner[near > CLEAR * sites.at(inner)]])
        t = Delaunay(p).simplices
        tree = cKDTree(p)
        ends = [tree.query(piece.at(s))[1] for piece, s in zip(pieces, steps)]
        missing = _missing(t, ends)
        if not any(m.any() for m in missing):
            return _curved(*_solid(section, p, t), p, pieces, steps, ends)
        steps = [np.sort(np.concatenate([s, (s[:-1] + s[1:])[m] / 2])) for s, m in zip(steps, missing)]
    raise InputError("finite elements: the edges lie too close to each other, or at too small an angle, to be meshed")


# ---- edges ----------------------------------------------------------------------------------------------------------


def _raw(section: Section) -> list[Piece]:
    out: list[Piece] = []
    for shape in (s for part in section.parts for s in part.shapes):
        if isinstance(shape, Disc):
            c, r = np.array(shape.centre, float), shape.radius
            for k in range(4):
                turn = k * np.pi / 2, (k + 1) * np.pi / 2
                ends = [c + r * np.array([math.cos(a), math.sin(a)]) for a in turn]
                out.append(Piece(*ends, c, r, turn))
        else:
            corners = shape.outline()
            out += [Piece(a, b) for a, b in zip(corners, np.roll(corners, -1, 0))]
    for segment in (s.segment for s in section.sources if s.segment):
        out.append(Piece(*(np.array(end, float) for end in zip(segment.x, segment.y))))
    return out


def _crossed(section: Section) -> list[Piece]:
    """All edges, cut where they cross or touch others, each once."""
    raw, tiny = _raw(section), 1e-9 * section.size
    points = np.concatenate([[p.start, p.end] for p in raw] + [[s.at] for s in section.sensors if s.at])
    out: list[Piece] = []
    seen: set[tuple[int, ...]] = set()
    for piece in raw:
        crossings = [_crossings(piece, other) for other in raw if other is not piece]
        candidates = np.concatenate([points, *crossings])
        s = piece.share(candidates)
        s = s[(s > 0) & (s < 1) & (piece.distance(candidates) < tiny)]
        cuts = np.sort(np.concatenate([[0.0, 1.0], s]))
        cuts = cuts[np.append(True, np.diff(cuts) * piece.length > 10 * tiny)]
        cuts[-1] = 1.0
        for a, b in pairwise(cuts):
            part = piece.between(a, b)
            middle = part.at(np.array([0.5]))[0]
            mark = tuple(np.round(np.concatenate([middle, part.start + part.end]) / (100 * tiny)).astype(int).tolist())
            if mark not in seen:
                seen.add(mark)
                out.append(part)
    return out


def _crossings(a: Piece, b: Piece) -> Array:
    """(n, 2) points where the lines or circles of two edges cross."""
    if a.centre is not None and b.centre is not None:
        apart = float(np.hypot(*(b.centre - a.centre)))
        if apart < 1e-12 or not abs(a.radius - b.radius) <= apart <= a.radius + b.radius:
            return np.empty((0, 2))
        along = (apart**2 + a.radius**2 - b.radius**2) / (2 * apart)
        high = math.sqrt(max(a.radius**2 - along**2, 0.0))
        u = (b.centre - a.centre) / apart
        across = np.array([-u[1], u[0]])
        return np.array([a.centre + along * u + sign * high * across for sign in (-1, 1)])
    if b.centre is not None:
        a, b = b, a
    d = b.end - b.start
    if a.centre is not None:
        from_centre = b.start - a.centre
        p, q = (from_centre @ d) / (d @ d), (from_centre @ from_centre - a.radius**2) / (d @ d)
        root = math.sqrt(max(p * p - q, 0.0))
        return np.array([b.start + (-p + sign * root) * d for sign in (-1, 1)]) if p * p >= q else np.empty((0, 2))
    e = a.end - a.start
    det = float(e[0] * d[1] - e[1] * d[0])
    if abs(det) < 1e-12 * float(np.hypot(*e) * np.hypot(*d)):
        return np.empty((0, 2))
    gap = b.start - a.start
    return np.array([a.start + (gap[0] * d[1] - gap[1] * d[0]) / det * e])


def _met(section: Section, pieces: list[Piece]) -> list[Piece]:
    """Those with different parts on their two sides, or on a source's segment."""
    tiny = 1e-6 * section.size
    middle = np.array([p.at(np.array([0.5]))[0] for p in pieces])
    normal = np.array([p.normal(0.5) for p in pieces])
    sides = [owner_of(section, (middle + sign * tiny * normal).T) for sign in (1, -1)]
    on = sides[0] != sides[1]
    for segment in (s.segment for s in section.sources if s.segment):
        nearest = np.clip(middle, (segment.x[0], segment.y[0]), (segment.x[1], segment.y[1]))
        on |= np.hypot(*(middle - nearest).T) < 1e-9 * section.size
    return [piece for piece, keep in zip(pieces, on) if keep]


def owner_of(section: Section, points: Array) -> Integers:
    """Index of the last part that covers each point (2, n); -1 where nothing is drawn."""
    owner = np.full(points.shape[1], -1)
    for number, part in enumerate(section.parts):
        for shape in part.shapes:
            owner[shape.contains(points[0], points[1])] = number
    return owner


# ---- sizes ----------------------------------------------------------------------------------------------------------


def _sites(section: Section, pieces: list[Piece], cells: int) -> Sites:
    place = list(_corners(section, pieces))
    size = [section.size * 10 ** -min(2 + cells / 2, 6.0)] * len(place)
    tiny, s = 1e-9 * section.size, np.linspace(0, 1, SAMPLES + 2)[1:-1]
    for piece in pieces:
        samples = piece.at(s)
        width = np.full(SAMPLES, np.inf if piece.centre is None else ROUND / cells * piece.radius / FEATURE)
        for other in pieces:
            ends = [np.hypot(*(a - b)) for a in (piece.start, piece.end) for b in (other.start, other.end)]
            if min(ends) > tiny:
                width = np.minimum(width, other.distance(samples))
        place += list(samples[np.isfinite(width)])
        size += (FEATURE * width[np.isfinite(width)]).tolist()
    return Sites(np.array(place), np.array(size), SLOPE / cells, LARGEST / cells * section.size)


def _corners(section: Section, pieces: list[Piece]) -> Array:
    """(n, 2) ends of pieces, but where one runs on smoothly into another, and nothing else is there."""
    ends = np.concatenate([[p.start, p.end] for p in pieces])
    tangents = np.concatenate([[p.normal(0.0), p.normal(1.0)] for p in pieces])
    tree, out = cKDTree(ends), []
    sources = [s.segment for s in section.sources if s.segment]
    stops = np.array([(x, y) for g in sources for x, y in zip(g.x, g.y)]).reshape(-1, 2)
    for group in {tuple(sorted(g)) for g in tree.query_ball_point(ends, 1e-8 * section.size)}:
        here = ends[group[0]]
        smooth = len(group) == 2 and abs(tangents[group[0]] @ tangents[group[1]]) > 1 - 1e-9
        if not smooth or (np.hypot(*(stops - here).T) < 1e-8 * section.size).any():
            out.append(here)
    return np.array(out).reshape(-1, 2)


def _steps(piece: Piece, sites: Sites) -> Array:
    """(n + 1,) shares of the length, in steps of the wanted size."""
    fine = np.geomspace(1e-9, 0.5, 400)
    s = np.concatenate([[0.0], fine, 1 - fine[-2::-1], [1.0]])
    size = sites.at(piece.at(s))
    passed = np.concatenate([[0.0], np.cumsum(np.diff(s) * piece.length * 2 / (size[1:] + size[:-1]))])
    return np.interp(np.linspace(0, passed[-1], math.ceil(passed[-1]) + 1), passed, s)


def _inner(section: Section, sites: Sites) -> Array:
    """(n, 2) centres of a quadtree's cells, as wide as wanted, in solid parts."""
    x0, x1, y0, y1 = section.extent
    size = max(x1 - x0, y1 - y0)
    cell, found = np.array([[x0 + size / 2, y0 + size / 2]]), []
    solid = np.array([p.material is not None for p in section.parts] + [False])
    while len(cell):
        small = size <= sites.at(cell)
        found.append(cell[small])
        cell, size = cell[~small], size / 2
        cell = (cell[:, None] + size / 2 * np.array([[-1, -1], [1, -1], [-1, 1], [1, 1]])).reshape(-1, 2)
        cell = cell[(cell[:, 0] - size / 2 < x1) & (cell[:, 1] - size / 2 < y1)]
    p = np.concatenate(found)
    return p[solid[owner_of(section, p.T)]]


# ---- triangles ------------------------------------------------------------------------------------------------------


def _apart(p: Array, tiny: float) -> Array:
    """Points without those that are another one again."""
    pairs = cKDTree(p).query_pairs(tiny, output_type="ndarray")
    return np.delete(p, np.unique(pairs[:, 1]), 0) if len(pairs) else p


def _missing(t: Integers, ends: list[Integers]) -> list[NDArray[np.bool_]]:
    """By piece, its steps that are no edge of a triangle."""
    edges = np.sort(np.concatenate([t[:, [0, 1]], t[:, [1, 2]], t[:, [2, 0]]]), 1)
    count = int(t.max()) + 1
    known = np.unique(edges[:, 0].astype(np.int64) * count + edges[:, 1])
    out = []
    for e in ends:
        low, high = np.minimum(e[:-1], e[1:]).astype(np.int64), np.maximum(e[:-1], e[1:])
        out.append(~np.isin(low * count + high, known))
    return out


def _solid(section: Section, p: Array, t: Integers) -> tuple[Array, Integers]:
    """Points and triangles of solid parts alone."""
    solid = np.array([part.material is not None for part in section.parts] + [False])
    a, b = p[t[:, 1]] - p[t[:, 0]], p[t[:, 2]] - p[t[:, 0]]
    flat = abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]) < 1e-7 * (a**2 + b**2).sum(1)
    t = t[solid[owner_of(section, p[t].mean(1).T)] & ~flat]
    used, inverse = np.unique(t, return_inverse=True)
    return p[used], inverse.reshape(t.shape)


def _curved(
    p: Array, t: Integers, all_p: Array, pieces: list[Piece], steps: list[Array], ends: list[Integers]
) -> MeshTri2:
    """Quadratic triangles, with the middles of steps on arcs moved onto these."""
    mesh = MeshTri(p.T.copy(), t.T.copy())
    place = mesh.p[:, mesh.facets].mean(1).T
    tree = cKDTree(place)
    for piece, s, e in zip(pieces, steps, ends):
        if piece.centre is not None:
            chord = (all_p[e[:-1]] + all_p[e[1:]]) / 2
            length = np.hypot(*(all_p[e[:-1]] - all_p[e[1:]]).T)
            away, facet = tree.query(chord)
            on = away < 1e-7 * length
            place[facet[on]] = piece.at((s[:-1] + s[1:]) / 2)[on]
    return MeshTri2(np.concatenate([mesh.p, place.T], 1), mesh.t)
