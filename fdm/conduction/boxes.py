"""Boxes between four cell centres that a round or slanted edge between two solids crosses: linear finite elements.

Across such an edge neither the gradient nor the flux along a grid line is continuous; what is, is the temperature, its
gradient along the edge, and the flux normal to it. The box is cut into triangles, each within one solid, with corners at
the centres and where the edge crosses the lines between them. At a crossing the temperature follows from the six
centres around: that of two resistances in series along the line, set right by the gradient along the edge (as I-L. Chern
& Y.-C. Shu, J. Comput. Phys. 225 (2007) 2138, couple both sides; cited from memory). Both boxes that share a line share
its crossing, so the field is continuous, its energy is symmetric and positive, and any field that is linear on either
side of a straight edge is met exactly: the coupling is of second order.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from fdm.conduction.conductances import Array, Bools, Integers, Palette
from fdm.grid.cut import SUB, Cut, owners_at
from fdm.grid.raster import Raster, middles
from fdm.section.model import Disc, Rectangle, Section

Links = tuple[Integers, Integers, Array]  # flat numbers of two cells, and the W/K between them

SLIVER = 1e-9  # nearer to a centre, as part of a length, is in it
RIDGE = 1e-13
UNLIKE = 0.15  # of a box's area that may lie on the other side of the straight cut between its two crossings
# corners of a box are counted from the south-west one, anticlockwise; side k is from corner k to k + 1
CORNER = np.array([(-1, -1), (0, -1), (0, 0), (-1, 0)])
OUTWARD = np.array([(0, -1), (1, 0), (0, 1), (-1, 0)])
# corners 0 to 3 of a box turned so that 4 lies on side 0, and 5 on side 3 where corner 0 is alone, or on side 2
ALONE = ((1.0, 0, (0, 4, 5)), (1.0, 2, (2, 1, 4)), (1.0, 2, (2, 4, 5)), (1.0, 2, (2, 5, 3)))
HALVES = (
    (0.5, 0, (0, 4, 5)), (0.5, 0, (0, 5, 3)), (0.5, 0, (0, 4, 3)), (0.5, 0, (4, 5, 3)),
    (0.5, 2, (4, 1, 2)), (0.5, 2, (4, 2, 5)), (0.5, 2, (4, 1, 5)), (0.5, 2, (1, 2, 5)),
)  # fmt: skip


@dataclass(frozen=True)
class Boxes:
    """V boxes around inner grid points (i, j), and the conductances that they make between cells."""

    i: Integers  # (V,)
    j: Integers
    sides: Array  # (V, 4) W/K along each side by itself, its two resistances in series: what multigrid goes by
    links: Links  # (L,) what has to be added to that; some negative


@dataclass(frozen=True)
class _Crossings:
    """Of slanted edges with the lines between neighbouring centres along one axis, one a line at most."""

    first: Integers  # (K,) flat number of the line's first cell, rising
    point: Array  # (K, 2) m
    normal: Array  # (K, 2)


def slanted_boxes(
    section: Section, raster: Raster, p: Palette, conductivity: Array, cut: Cut, without: Collection[str] = ()
) -> Boxes:
    """Those boxes that one edge between two isotropic solids without a joint crosses once; `conductivity` (P + 5, 2) is
    times thickness in the plate view."""
    n, m = raster.shape
    crossings = _crossings(section, raster, 0, without), _crossings(section, raster, 1, without)
    near = []
    for axis, c in enumerate(crossings):
        i, j = np.divmod(c.first, m)
        near += [((i + 1, j), (i + 1, j + 1)), ((i, j + 1), (i + 1, j + 1))][axis]
    i, j = (np.concatenate(v) for v in zip(*near))
    inner = (i > 0) & (i < n) & (j > 0) & (j < m)
    i, j = np.divmod(np.unique(i[inner] * (m + 1) + j[inner]), m + 1)

    corner = np.stack([i, j], 1)[:, None] + CORNER  # (V, 4, 2)
    owner = raster.owner[corner[..., 0] + 1, corner[..., 1] + 1]
    crossing = np.stack([_number(crossings[k % 2], corner[:, low] @ [m, 1]) for k, low in enumerate((0, 1, 3, 0))], 1)
    changes = owner != np.roll(owner, -1, 1)
    good = (changes.sum(1) == 2) & (changes == (crossing >= 0)).all(1)
    good &= p.solid[owner].all(1) & (conductivity[owner, 0] == conductivity[owner, 1]).all(1)
    if p.joint is not None:
        good &= (p.joint[owner, np.roll(owner, -1, 1)] == 0).all(1)
    i, j, owner, crossing, changes = i[good], j[good], owner[good], crossing[good], changes[good]

    # turned so that side 0 is crossed, and side 3 or 2
    turn = np.argmax(changes & ~np.roll(changes, -1, 1), 1)
    alone = np.take_along_axis(changes, (turn[:, None] + 3) % 4, 1)[:, 0]
    order = (turn[:, None] + np.arange(4)) % 4
    second = np.where(alone, 3, 2)
    box = _Turned(raster, p, conductivity, i, j, order)
    points, nodes, weights = [], [box.cell], []
    for side in (np.zeros_like(second), second):
        at = np.take_along_axis(crossing, (turn + side)[:, None] % 4, 1)[:, 0]
        odd = (turn + side) % 2 == 1
        point, normal = (
            np.where(odd[:, None], getattr(crossings[1], name)[np.where(odd, at, 0)] if len(crossings[1].first) else 0.0,
                     getattr(crossings[0], name)[np.where(odd, 0, at)] if len(crossings[0].first) else 0.0)
            for name in ("point", "normal")
        )
        extra, weight = box.temperature(side, point, normal)
        points.append(point)
        nodes.append(extra)
        weights.append(weight)
    good = _straight(raster, p, conductivity, cut, box, points, alone)
    corners = np.concatenate([box.centre, np.stack(points, 1)], 1)
    energy = np.where(alone[:, None, None], box.energy(section, corners, ALONE), box.energy(section, corners, HALVES))
    part = np.zeros((len(i), 6, 8))
    part[:, np.arange(4), np.arange(4)] = 1.0
    part[:, 4, :6] = weights[0]
    part[:, 5, :4], part[:, 5, 6:] = weights[1][:, :4], weights[1][:, 4:]
    matrix = np.einsum("vka,vkl,vlb->vab", part, energy, part, optimize=True)
    in_series = box.sides(section, np.where(alone, 3, 2), points)
    for side in range(4):
        ends = side, (side + 1) % 4
        matrix[:, ends, ends[::-1]] += in_series[:, side, None]
    node, (a, b) = np.concatenate(nodes, 1), np.triu_indices(8, 1)
    sides = np.empty_like(in_series)
    np.put_along_axis(sides, order, in_series, 1)
    return Boxes(
        i[good], j[good], sides[good], (node[good][:, a].ravel(), node[good][:, b].ravel(), -matrix[good][:, a, b].ravel())
    )


class _Turned:
    """Boxes around grid points (i, j), (V,), with their corners in `order` (V, 4)."""

    def __init__(self, raster: Raster, p: Palette, conductivity: Array, i: Integers, j: Integers, order: Integers) -> None:
        self.raster, self.conductivity, self.solid = raster, conductivity, p.solid
        self.i, self.j, self.order = i, j, order
        self.at = np.stack([i, j], 1)[:, None] + CORNER[order]
        self.cell = self.at @ np.array([raster.shape[1], 1])
        self.owner = self._owner(self.at)
        self.k = conductivity[self.owner, 0]  # (V, 4)
        self.centre = self._centre(self.at)  # (V, 4, 2)

    def _owner(self, at: Integers) -> Integers:
        n, m = self.raster.shape
        return self.raster.owner[np.clip(at[..., 0], -1, n) + 1, np.clip(at[..., 1], -1, m) + 1]

    def _centre(self, at: Integers) -> Array:
        n, m = self.raster.shape
        x, y = middles(self.raster.x), middles(self.raster.y)
        return np.stack([x[np.clip(at[..., 0], 0, n - 1)], y[np.clip(at[..., 1], 0, m - 1)]], -1)

    def temperature(self, side: Integers, point: Array, normal: Array) -> tuple[Integers, Array]:
        """Where an edge crosses a `side` (V,): two cells beyond it (V, 2), and the weights (V, 6) with which the
        temperature there follows from the box's corners and these."""
        rows, ends = np.arange(len(side)), np.stack([side, (side + 1) % 4], 1)
        outer = self.at[rows[:, None], ends] + OUTWARD[self.order[rows, side]][:, None]
        inside = (outer >= 0).all(2) & (outer < self.raster.shape).all(2)
        owner = self._owner(outer)
        k = np.concatenate([self.k, self.conductivity[owner, 0]], 1)
        # beyond, only what belongs to the same two solids
        same = (self.conductivity[owner] == self.k[rows[:, None], ends][:, :1, None]).all(2)
        same |= (self.conductivity[owner] == self.k[rows[:, None], ends][:, 1:, None]).all(2)
        known = np.concatenate([np.ones((len(side), 4), bool), inside & self.solid[owner] & same], 1)
        far = np.concatenate([self.centre, self._centre(outer)], 1) - point[:, None]  # (V, 6, 2)
        along = np.stack([-normal[:, 1], normal[:, 0]], 1)
        first, last = (self.centre[rows, ends[:, d]] for d in (0, 1))
        k0, k1 = (self.k[rows, ends[:, d]] for d in (0, 1))
        length = np.hypot(*(last - first).T)
        share = np.clip(np.hypot(*(point - first).T) / length, SLIVER, 1 - SLIVER)
        # T = T_point + gradient along the edge * s + flux / conductivity * distance, by least squares
        least = np.minimum(k0, k1)
        model = np.stack(
            [np.ones(known.shape), np.einsum("vad,vd->va", far, along) / length[:, None],
             np.einsum("vad,vd->va", far, normal) / length[:, None] * (least[:, None] / k)], 2,
        ) * known[..., None]  # fmt: skip
        weighted = model * k[..., None]
        square = np.einsum("vak,val->vkl", model, weighted)
        square += RIDGE * np.trace(square, axis1=1, axis2=2)[:, None, None] * np.eye(3)
        gradient = np.linalg.solve(square, weighted.transpose(0, 2, 1))[:, 1]  # (V, 6) per metre and `length`
        in_series = share * k1 / (share * k1 + (1 - share) * k0)
        slope = np.einsum("vd,vd->v", (last - first) / length[:, None], along)
        weight = gradient * (slope * (share - in_series))[:, None]
        weight[rows, ends[:, 0]] += 1 - in_series
        weight[rows, ends[:, 1]] += in_series
        cell = np.where(known[:, 4:], outer @ np.array([self.raster.shape[1], 1]), self.cell[:, :1])
        return cell, weight

    def sides(self, section: Section, second: Integers, points: list[Array]) -> Array:
        """(V, 4) W/K between the two ends of each side, half of what lies around it in the box taking part."""
        out = np.empty((len(self.i), 4))
        for side in range(4):
            first, last = self.centre[:, side], self.centre[:, (side + 1) % 4]
            length = np.hypot(*(last - first).T)
            resistivity = length / self.k[:, side]
            for on, point in ((np.full(len(second), side == 0), points[0]), (second == side, points[1])):
                to = np.hypot(*(point - first).T), np.hypot(*(last - point).T)
                resistivity = np.where(on, to[0] / self.k[:, side] + to[1] / self.k[:, (side + 1) % 4], resistivity)
            corner = np.array([self.raster.x[self.i], self.raster.y[self.j]]).T
            width = abs(corner - first)[np.arange(len(first)), np.where(self.order[:, side] % 2 == 0, 1, 0)]
            breadth = {"section": section.depth, "axisymmetric": np.pi * (first + last)[:, 0], "plate": 1.0}[section.view]
            out[:, side] = width * breadth / resistivity
        return out

    def energy(self, section: Section, corners: Array, triangles: tuple[tuple[float, int, tuple[int, int, int]], ...]) -> Array:
        """(V, 6, 6) stiffness of linear triangles between `corners` (V, 6, 2), the four centres and the two crossings."""
        out = np.zeros((len(corners), 6, 6))
        for weight, owner, triangle in triangles:
            p = corners[:, triangle]
            side = np.roll(p, -1, 1) - np.roll(p, 1, 1)  # opposite each corner
            double = abs(side[:, 0, 0] * side[:, 1, 1] - side[:, 0, 1] * side[:, 1, 0])
            size = self.raster.x[self.i + 1] - self.raster.x[self.i - 1]
            breadth = {"section": section.depth, "axisymmetric": 2 * np.pi * p[..., 0].mean(1), "plate": 1.0}[section.view]
            scale = weight * self.k[:, owner] * breadth / (2 * np.maximum(double, 1e-14 * size**2))
            out[np.ix_(range(len(p)), triangle, triangle)] += scale[:, None, None] * np.einsum("vad,vbd->vab", side, side)
        return out


def _straight(
    raster: Raster, p: Palette, conductivity: Array, cut: Cut, box: _Turned, points: list[Array], alone: Bools
) -> Bools:
    """(V,) whether what owns a box's sub-cells is like what the straight cut between its two crossings leaves."""
    i, j, half = box.i, box.j, SUB // 2
    number = np.full(raster.shape, -1, np.intp)
    number[cut.i, cut.j] = np.arange(len(cut.i))
    t = (np.arange(SUB) + 0.5) / SUB
    across = points[1] - points[0]
    start = box.centre[:, 0] - points[0]
    towards = across[:, 0] * start[:, 1] - across[:, 1] * start[:, 0]
    unlike, whole = np.zeros(len(i)), np.zeros(len(i))
    for a in (0, 1):
        for b in (0, 1):
            ci, cj = i - 1 + a, j - 1 + b
            own = np.broadcast_to(raster.owner[ci + 1, cj + 1][:, None, None], (len(i), half, half)).copy()
            of = number[ci, cj]
            own[of >= 0] = cut.owner[of[of >= 0]][:, half * (1 - a) : half * (2 - a), half * (1 - b) : half * (2 - b)]
            wide, high = np.diff(raster.x)[ci], np.diff(raster.y)[cj]
            x = raster.x[ci, None] + wide[:, None] * t[half * (1 - a) : half * (2 - a)] - points[0][:, :1]
            y = raster.y[cj, None] + high[:, None] * t[half * (1 - b) : half * (2 - b)] - points[0][:, 1:]
            side = across[:, 0, None, None] * y[:, None, :] - across[:, 1, None, None] * x[:, :, None]
            k = np.where(side * towards[:, None, None] > 0, box.k[:, 0, None, None], box.k[:, 2, None, None])
            other = (conductivity[own] != k[..., None]).any(3) | ~p.solid[own]
            unlike += other.sum((1, 2)) * wide * high
            whole += half * half * wide * high
    return unlike < UNLIKE * whole


def _number(crossings: _Crossings, first: Integers) -> Integers:
    """Number of the crossing on each line, -1 where there is none."""
    if not len(crossings.first):
        return np.full(len(first), -1)
    k = np.minimum(np.searchsorted(crossings.first, first), len(crossings.first) - 1)
    return np.where(crossings.first[k] == first, k, -1)


def _crossings(section: Section, raster: Raster, axis: int, without: Collection[str]) -> _Crossings:
    x, y = middles(raster.x), middles(raster.y)
    along, lines = (x, y) if axis == 0 else (y, x)
    found: list[tuple[Integers, Array, Array]] = []  # number of the line across, place on it, normal
    for part in section.parts:
        for shape in part.shapes if part.name not in without else ():
            if isinstance(shape, Disc):
                c = np.array([shape.centre[axis], shape.centre[1 - axis]])
                k = np.nonzero(abs(lines - c[1]) < shape.radius)[0]
                off = lines[k] - c[1]
                for sign in (-1, 1):
                    place = sign * np.sqrt(shape.radius**2 - off**2)
                    found.append((k, c[0] + place, np.stack([place, off], 1) / shape.radius))
            elif not isinstance(shape, Rectangle):
                outline = shape.outline()[:, ::1 if axis == 0 else -1]
                for start, step in zip(outline, np.roll(outline, -1, 0) - outline):
                    if step[1] == 0 or step[0] == 0:
                        continue
                    t = (lines - start[1]) / step[1]
                    k = np.nonzero((t >= 0) & (t <= 1))[0]
                    normal = np.array([step[1], -step[0]]) / np.hypot(*step)
                    found.append((k, start[0] + t[k] * step[0], np.broadcast_to(normal, (len(k), 2))))
    if not found:
        return _Crossings(np.empty(0, np.intp), np.empty((0, 2)), np.empty((0, 2)))
    k, place, normal = (np.concatenate(v) for v in zip(*found))
    # an edge through a centre may count for the line on either side of it: what owns both ends decides
    near = SLIVER * np.ptp(along)
    before = [np.searchsorted(along, place + d) - 1 for d in (-near, near)]
    twice = np.nonzero(before[0] != before[1])[0]
    number = np.concatenate([before[0], before[1][twice]])
    k, place, normal = (np.concatenate([v, v[twice]]) for v in (k, place, normal))
    on = (number >= 0) & (number < len(along) - 1)
    number, k, place, normal = number[on], k[on], place[on], normal[on]
    first = (number, k) if axis == 0 else (k, number)
    last = (number + 1, k) if axis == 0 else (k, number + 1)
    ends = [raster.owner[i + 1, j + 1] for i, j in (first, last)]
    step = 1e-6 * (along[number + 1] - along[number])
    beside = []
    for (i, j), sign in ((first, -1), (last, 1)):
        at = [place + sign * step, lines[k]]
        # whichever cell the point lies in
        ci, cj = (np.clip(np.searchsorted(g, v) - 1, 0, len(g) - 2) for g, v in zip((raster.x, raster.y), at if axis == 0 else at[::-1]))
        beside.append(owners_at(section, raster, ci, cj, *(at if axis == 0 else at[::-1]), without))
    seen = (ends[0] != ends[1]) & (beside[0] == ends[0]) & (beside[1] == ends[1])
    flat = first[0] * raster.shape[1] + first[1]
    flat, which = np.unique(flat[seen], return_index=True)
    which = np.nonzero(seen)[0][which]
    point = np.stack([place[which], lines[k[which]]], 1)
    normal = normal[which]
    if axis == 1:
        point, normal = point[:, ::-1], normal[:, ::-1]
    return _Crossings(flat, point, normal)
