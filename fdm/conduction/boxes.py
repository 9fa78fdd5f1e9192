"""Boxes between four cell centres that a round or slanted edge between two solids crosses: linear finite elements.

Across such an edge neither the gradient nor the flux along a grid line is continuous; what is, is the temperature, its
gradient along the edge, and the flux normal to it. The box is cut into triangles, each within one solid, with corners at
the centres and where the edge crosses the lines between them. At a crossing the temperature follows from the six
centres around: that of two resistances in series along the line, set right by the gradient along the edge (as I-L. Chern
& Y.-C. Shu, J. Comput. Phys. 225 (2007) 2138, couple both sides; cited from memory). Both boxes that share a line share
its crossing, so the field is continuous and its energy symmetric and positive; and any field that is linear on either
side of a straight edge is met exactly. The coupling is of second order, whatever the contrast.

Corners of a box are counted from the south-west one, anticlockwise; side k goes from corner k to the next.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from fdm.conduction.conductances import Array, Bools, Integers, Palette
from fdm.grid.cut import SUB, Cut, owners_at
from fdm.grid.raster import Raster, middles
from fdm.section.model import Disc, Rectangle, Section
from fdm.section.rules import SIDES

Links = tuple[Integers, Integers, Array]  # flat numbers of two cells, and the W/K between them

UNLIKE = 0.15  # of a box's area that may lie on the other side of the straight cut between its two crossings
SLIVER = 1e-9  # of a line's length: a crossing that near to a centre
STIFF = 1e-3  # keeps a gradient that only the poorer conductor tells of from the better one, which it would stiffen
CORNER = np.array([(-1, -1), (0, -1), (0, 0), (-1, 0)])  # cells, from the grid point in the middle
OUTWARD = np.array([(0, -1), (1, 0), (0, 1), (-1, 0)])  # of each side
# Weight, the corner whose solid it lies in, and corners of each triangle. Number 4 is the crossing on side 0, and 5 that
# on side 3, where corner 0 is alone; or on side 2, with two corners on either side and the mean of both ways to cut.
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
    sides: Array  # (V, 4) W/K along each side by itself, its two resistances in series
    links: Links  # (L,) what the triangles add to that, between any two of eight cells; may be negative


@dataclass(frozen=True)
class _Crossings:
    """Where slanted edges cross the lines between neighbouring centres along one axis; one a line at most."""

    first: Integers  # (K,) flat number of the line's first cell, rising
    point: Array  # (K, 2) m
    normal: Array  # (K, 2)


@dataclass(frozen=True)
class _Turned:
    """V boxes whose corners are counted anew, so that side 0 is crossed, and side 3 or 2."""

    i: Integers
    j: Integers
    order: Integers  # (V, 4) the corners' own numbers
    second: Integers  # (V,) the other side that is crossed
    at: Integers  # (V, 4, 2) cells
    centre: Array  # (V, 4, 2) m
    owner: Integers  # (V, 4)
    k: Array  # (V, 4) W/(m K)
    crossing: tuple[Array, Array]  # (V, 2) m, on side 0 and on `second`
    normal: tuple[Array, Array]


def slanted_boxes(
    section: Section, raster: Raster, p: Palette, conductivity: Array, cut: Cut, without: Collection[str] = ()
) -> Boxes:
    """The boxes that an edge between two isotropic solids without a joint crosses once; `conductivity` (P + 5, 2) is
    times thickness in the plate view."""
    box = _turned_boxes(section, raster, p, conductivity, without)
    box = _chosen(box, _is_straight(raster, cut, box))
    count, m = len(box.i), raster.shape[1]
    reading = np.zeros((count, 6, 8))  # temperatures of four centres and two crossings, from those of eight cells
    reading[:, np.arange(4), np.arange(4)] = 1.0
    cells = [box.at @ [m, 1]]
    for which, side, (low, high) in ((0, np.zeros_like(box.second), (4, 6)), (1, box.second, (6, 8))):
        beyond, weight = _at_crossing(raster, conductivity, box, side, which)
        reading[:, 4 + which, :4], reading[:, 4 + which, low:high] = weight[:, :4], weight[:, 4:]
        cells.append(beyond)
    alone = box.second == 3
    energy = np.empty((count, 6, 6))
    for on, triangles in ((alone, ALONE), (~alone, HALVES)):
        energy[on] = _stiffness(section, _chosen(box, on), triangles)
    matrix = reading.transpose(0, 2, 1) @ energy @ reading
    in_series = _sides(section, raster, box)
    for side in range(4):
        matrix[:, [side, (side + 1) % 4], [(side + 1) % 4, side]] += in_series[:, side, None]
    sides, cell, (a, b) = np.empty_like(in_series), np.concatenate(cells, 1), np.triu_indices(8, 1)
    np.put_along_axis(sides, box.order, in_series, 1)
    return Boxes(box.i, box.j, sides, (cell[:, a].ravel(), cell[:, b].ravel(), -matrix[:, a, b].ravel()))


def _turned_boxes(
    section: Section, raster: Raster, p: Palette, conductivity: Array, without: Collection[str]
) -> _Turned:
    n, m = raster.shape
    crossings = _crossings(section, raster, 0, without), _crossings(section, raster, 1, without)
    beside = []
    for (di, dj), c in zip(((1, 0), (0, 1)), crossings):
        i, j = np.divmod(c.first, m)
        beside += [(i + di, j + dj), (i + 1, j + 1)]
    i, j = (np.concatenate(v) for v in zip(*beside))
    inner = (i > 0) & (i < n) & (j > 0) & (j < m)
    i, j = np.divmod(np.unique(i[inner] * (m + 1) + j[inner]), m + 1)

    at = np.stack([i, j], 1)[:, None] + CORNER
    owner = raster.owner[at[..., 0] + 1, at[..., 1] + 1]
    crossing = np.stack([_number(crossings[k % 2], at[:, low] @ [m, 1]) for k, low in enumerate((0, 1, 3, 0))], 1)
    changes = owner != np.roll(owner, -1, 1)
    good = (changes.sum(1) == 2) & (changes == (crossing >= 0)).all(1)
    good &= p.solid[owner].all(1) & (conductivity[owner, 0] == conductivity[owner, 1]).all(1)
    if p.joint is not None:
        good &= (p.joint[owner, np.roll(owner, -1, 1)] == 0).all(1)
    # an edge within one material is none; by the section's own numbers, so that varying one leaves the links in place
    k = [p.material.conductivity[0] * (p.thickness or 1.0) if p.material else 0.0 for p in section.parts]
    own = np.append(k, np.zeros(len(SIDES) + 1))[owner]
    good &= (own != own[:, :1]).any(1)
    i, j, at, owner, crossing, changes = (v[good] for v in (i, j, at, owner, crossing, changes))

    turn = np.argmax(changes & ~np.roll(changes, -1, 1), 1)[:, None]
    order = (turn + np.arange(4)) % 4
    second = np.where(np.take_along_axis(changes, order, 1)[:, 3], 3, 2)
    at = np.take_along_axis(at, order[..., None], 1)
    point, normal = [], []
    for side in (turn[:, 0], (turn[:, 0] + second) % 4):
        k = crossing[np.arange(len(i)), side]
        for out, name in ((point, "point"), (normal, "normal")):
            both = np.concatenate([getattr(c, name) for c in crossings])
            out.append(both[k + np.where(side % 2 == 1, len(crossings[0].first), 0)])
    owner = np.take_along_axis(owner, order, 1)
    k = conductivity[owner, 0]
    return _Turned(
        i, j, order, second, at, _centres(raster, at), owner, k, (point[0], point[1]), (normal[0], normal[1])
    )


def _chosen(box: _Turned, on: Bools) -> _Turned:
    return _Turned(
        box.i[on], box.j[on], box.order[on], box.second[on], box.at[on], box.centre[on], box.owner[on], box.k[on],
        (box.crossing[0][on], box.crossing[1][on]), (box.normal[0][on], box.normal[1][on]),
    )  # fmt: skip


def _centres(raster: Raster, at: Integers) -> Array:
    n, m = raster.shape
    x, y = middles(raster.x), middles(raster.y)
    return np.stack([x[np.clip(at[..., 0], 0, n - 1)], y[np.clip(at[..., 1], 0, m - 1)]], -1)


def _at_crossing(
    raster: Raster, conductivity: Array, box: _Turned, side: Integers, which: int
) -> tuple[Integers, Array]:
    """Two cells beyond the `side` (V,) with crossing number `which`, (V, 2), and the weights with which the temperature
    there follows from the box's four corners and these, (V, 6)."""
    n, m = raster.shape
    rows, ends = np.arange(len(side)), np.stack([side, (side + 1) % 4], 1)
    outer = box.at[rows[:, None], ends] + OUTWARD[box.order[rows, side]][:, None]
    owner = raster.owner[np.clip(outer[..., 0], -1, n) + 1, np.clip(outer[..., 1], -1, m) + 1]
    pair = box.k[rows[:, None], ends]
    # what lies beyond tells something only if it is of the same two solids
    known = (outer >= 0).all(2) & (outer < raster.shape).all(2)
    known &= (owner[:, :, None] == box.owner[rows[:, None], ends][:, None]).any(2)
    k = np.concatenate([box.k, np.where(known, conductivity[owner, 0], 0.0)], 1)  # none where not known: no weight
    first, last = (box.centre[rows, ends[:, d]] for d in (0, 1))
    point, normal = box.crossing[which], box.normal[which]
    along = np.stack([-normal[:, 1], normal[:, 0]], 1)
    length = np.hypot(*(last - first).T)
    # temperature = at the crossing + gradient along the edge * s + flux / conductivity * distance from it: least squares
    # by the conductivity, since the better conductor tells the gradient
    away = (np.concatenate([box.centre, _centres(raster, outer)], 1) - point[:, None]) / length[:, None, None]
    s, distance = (np.einsum("vad,vd->va", away, v) for v in (along, normal))
    flux = pair.min(1)[:, None] * np.divide(distance, k, out=np.zeros_like(k), where=k > 0)
    model = np.stack([np.ones_like(k), s, flux], 2)
    weighted = model * k[..., None]
    square = model.transpose(0, 2, 1) @ weighted
    square += 1e-13 * np.trace(square, axis1=1, axis2=2)[:, None, None] * np.eye(3)
    square[:, 1, 1] += STIFF * k.max(1)
    gradient = np.linalg.solve(square, weighted.transpose(0, 2, 1))[:, 1]  # (V, 6), times length

    share = np.clip(np.hypot(*(point - first).T) / length, SLIVER, 1 - SLIVER)
    in_series = share * pair[:, 1] / (share * pair[:, 1] + (1 - share) * pair[:, 0])
    weight = gradient * (np.einsum("vd,vd->v", (last - first) / length[:, None], along) * (share - in_series))[:, None]
    weight[rows, ends[:, 0]] += 1 - in_series
    weight[rows, ends[:, 1]] += in_series
    return np.where(known, outer @ [m, 1], (box.at[:, 0] @ [m, 1])[:, None]), weight


def _stiffness(section: Section, box: _Turned, triangles: tuple[tuple[float, int, tuple[int, int, int]], ...]) -> Array:
    """(V, 6, 6) W/K of linear triangles between the four centres and the two crossings."""
    corners = np.concatenate([box.centre, np.stack(box.crossing, 1)], 1)
    out = np.zeros((len(corners), 6, 6))
    for weight, solid, triangle in triangles:
        at = corners[:, triangle]
        opposite = np.roll(at, -1, 1) - np.roll(at, 1, 1)  # the side opposite each corner
        double = abs(opposite[:, 0, 0] * opposite[:, 1, 1] - opposite[:, 0, 1] * opposite[:, 1, 0])
        double = np.maximum(double, 1e-14 * (opposite**2).sum((1, 2)))
        scale = weight * box.k[:, solid] * _breadth(section, at[..., 0].mean(1)) / 2
        scale = np.divide(scale, double, out=np.zeros_like(double), where=double > 0)
        rows, columns = np.ix_(triangle, triangle)
        out[:, rows, columns] += scale[:, None, None] * (opposite @ opposite.transpose(0, 2, 1))
    return out


def _sides(section: Section, raster: Raster, box: _Turned) -> Array:
    """(V, 4) W/K along each side, the half of it that lies in the box: resistances in series."""
    out = np.empty(box.k.shape)
    middle = np.stack([raster.x[box.i], raster.y[box.j]], 1)
    for side in range(4):
        first, last = box.centre[:, side], box.centre[:, (side + 1) % 4]
        along_y = box.order[:, side] % 2 == 1
        width = np.where(along_y, abs(middle - first)[:, 0], abs(middle - first)[:, 1])
        resistivity = np.hypot(*(last - first).T) / box.k[:, side]
        for crossed, point in zip((np.full(len(out), side == 0), box.second == side), box.crossing):
            to, from_ = np.hypot(*(point - first).T), np.hypot(*(last - point).T)
            resistivity = np.where(crossed, to / box.k[:, side] + from_ / box.k[:, (side + 1) % 4], resistivity)
        out[:, side] = width * _breadth(section, (first + last)[:, 0] / 2) / resistivity
    return out


def _breadth(section: Section, x: Array) -> Array | float:
    """m, across the drawing; 1 in the plate view, whose thickness is in the conductivity."""
    if section.view == "axisymmetric":
        return 2 * np.pi * x
    return section.depth if section.view == "section" else 1.0


def _is_straight(raster: Raster, cut: Cut, box: _Turned) -> Bools:
    """(V,) whether what owns a box's sub-cells is like what the straight cut between its crossings leaves on each side."""
    half = SUB // 2
    number = np.full(raster.shape, -1, np.intp)
    number[cut.i, cut.j] = np.arange(len(cut.i))
    start, across = box.crossing[0], box.crossing[1] - box.crossing[0]
    towards = box.centre[:, 0] - start
    turn = across[:, 0] * towards[:, 1] - across[:, 1] * towards[:, 0]
    t = (np.arange(SUB) + 0.5) / SUB
    unlike, whole = np.zeros(len(box.i)), np.zeros(len(box.i))
    for a, b in CORNER + 1:  # each quarter of a box is one of its cell
        ci, cj = box.i - 1 + a, box.j - 1 + b
        sub_x, sub_y = slice(half * (1 - a), half * (2 - a)), slice(half * (1 - b), half * (2 - b))
        owner = np.broadcast_to(raster.owner[ci + 1, cj + 1][:, None, None], (len(ci), half, half)).copy()
        of = number[ci, cj]
        owner[of >= 0] = cut.owner[of[of >= 0], sub_x, sub_y]
        wide, high = np.diff(raster.x)[ci], np.diff(raster.y)[cj]
        x = raster.x[ci, None] + wide[:, None] * t[sub_x] - start[:, :1]
        y = raster.y[cj, None] + high[:, None] * t[sub_y] - start[:, 1:]
        side = across[:, 0, None, None] * y[:, None, :] - across[:, 1, None, None] * x[:, :, None]
        ought = np.where(side * turn[:, None, None] > 0, box.owner[:, 0, None, None], box.owner[:, 2, None, None])
        unlike += (owner != ought).mean((1, 2)) * wide * high
        whole += wide * high
    return unlike < UNLIKE * whole


# ---- where edges cross lines between centres ------------------------------------------------------------------------


def _number(crossings: _Crossings, first: Integers) -> Integers:
    """Number of the crossing on each line, -1 where there is none."""
    k = np.searchsorted(crossings.first, first)
    found = np.append(crossings.first, -1)[k] == first
    return np.where(found, k, -1)


def _crossings(section: Section, raster: Raster, axis: int, without: Collection[str]) -> _Crossings:
    along, lines = (middles(g) for g in ((raster.x, raster.y) if axis == 0 else (raster.y, raster.x)))
    k, place, normal = _outline_crossings(section, lines, axis, without)
    # where an edge passes through a centre, the line on either side of it could be meant: what owns the ends decides
    near = SLIVER * np.ptp(along)
    before, after = (np.searchsorted(along, place + d) - 1 for d in (-near, near))
    twice = np.nonzero(before != after)[0]
    number, which = np.concatenate([before, after[twice]]), np.concatenate([np.arange(len(k)), twice])
    on = (number >= 0) & (number < len(along) - 1)
    number, k, place, normal = number[on], k[which][on], place[which][on], normal[which][on]

    seen = np.ones(len(k), bool)
    end_owner = []
    for end, sign in ((0, -1), (1, 1)):
        cell = (number + end, k)[:: 1 if axis == 0 else -1]
        end_owner.append(raster.owner[cell[0] + 1, cell[1] + 1])
        beside = (place + sign * 1e-6 * (along[number + 1] - along[number]), lines[k])[:: 1 if axis == 0 else -1]
        i, j = (np.clip(np.searchsorted(g, v) - 1, 0, len(g) - 2) for g, v in zip((raster.x, raster.y), beside))
        seen &= owners_at(section, raster, i, j, *beside, without) == end_owner[end]
    seen &= end_owner[0] != end_owner[1]
    i, j = (number, k)[:: 1 if axis == 0 else -1]
    first, one = np.unique((i * raster.shape[1] + j)[seen], return_index=True)
    point, normal = np.stack([place, lines[k]], 1)[seen][one], normal[seen][one]
    return _Crossings(first, point[:, :: 1 if axis == 0 else -1], normal[:, :: 1 if axis == 0 else -1])


def _outline_crossings(
    section: Section, lines: Array, axis: int, without: Collection[str]
) -> tuple[Integers, Array, Array]:
    """Of all round and slanted outlines with lines along an axis: number of the line, place on it, normal (along, across)."""
    found: list[tuple[Integers, Array, Array]] = [(np.empty(0, np.intp), np.empty(0), np.empty((0, 2)))]
    for shape in (s for p in section.parts if p.name not in without for s in p.shapes):
        if isinstance(shape, Disc):
            off = lines - shape.centre[1 - axis]
            k = np.nonzero(abs(off) < shape.radius)[0]
            reach = np.sqrt(shape.radius**2 - off[k] ** 2)
            for to in (-reach, reach):
                found.append((k, shape.centre[axis] + to, np.stack([to, off[k]], 1) / shape.radius))
        elif not isinstance(shape, Rectangle):
            outline = shape.outline()[:, :: 1 if axis == 0 else -1]
            for start, step in zip(outline, np.roll(outline, -1, 0) - outline):
                if step.all():
                    t = (lines - start[1]) / step[1]
                    k = np.nonzero((t >= 0) & (t <= 1))[0]
                    normal = np.array([step[1], -step[0]]) / np.hypot(*step)
                    found.append((k, start[0] + t[k] * step[0], np.broadcast_to(normal, (len(k), 2))))
    k, place, normal = (np.concatenate(v) for v in zip(*found))
    return k, place, normal
