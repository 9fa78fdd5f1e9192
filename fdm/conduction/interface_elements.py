"""Boxes between four cell centres that a round or slanted edge between two solids crosses: linear finite elements.

Across such an edge neither the gradient nor the flux along a grid line is continuous; what is, is the temperature, its
gradient along the edge, and the flux normal to it. The box is cut into triangles, each within one solid, with corners
at the centres and where the edge crosses the lines between them. At a crossing the temperature follows from the six
centres around: that of two resistances in series along the line, set right by the gradient along the edge (as I-L.
Chern & Y.-C. Shu, J. Comput. Phys. 225 (2007) 2138, couple both sides; cited from memory). Both boxes that share a line
share its crossing, so the field is continuous and its energy symmetric and positive; and any field that is linear on
either side of a straight edge is met exactly. The coupling is of second order, whatever the contrast. A joint on the
edge sets the temperatures of both sides apart by flux times resistance: a crossing has two temperatures then, and the
joint conducts between them all along its length in the box.

Corners of a box are counted from the south-west one, anticlockwise; side k goes from corner k to the next.
"""

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from fdm.conduction.faces import Array, Bools, Integers, PartProperties
from fdm.grid.cut import SUB, Cut, owners_at
from fdm.grid.raster import Raster, middles
from fdm.section.model import SIDES, Disc, Rectangle, Section

Triangle = tuple[float, int, tuple[int, int, int]]  # weight, the corner whose solid it lies in, its own corners
Links = tuple[Integers, Integers, Array]  # flat numbers of two cells, and the W/K between them

UNLIKE = 0.15  # of a box's area that may lie on the other side of the straight cut between its two crossings
SLIVER = 1e-9  # of a line's length: a crossing that near to a centre
OBLIQUE = 1e-3  # least cosine at which a line meets a joint
THIN = 0.005  # least area of a triangle beside a joint, over the sum of its squared sides
STIFF = 1e-3  # keeps a gradient that only the poorer conductor tells of from the better one, which it would stiffen
CORNER = np.array([(-1, -1), (0, -1), (0, 0), (-1, 0)])  # cells, from the grid point in the middle
OUTWARD = np.array([(0, -1), (1, 0), (0, 1), (-1, 0)])  # of each side
# Number 4 is the crossing on side 0, and 5 that on side 3, where corner 0 is alone; or on side 2, with two corners on
# either side and the mean of both ways to cut. Across the edge from corner 0 the same are 6 and 7.
ALONE = ((1.0, 0, (0, 4, 5)), (1.0, 2, (2, 1, 6)), (1.0, 2, (2, 6, 7)), (1.0, 2, (2, 7, 3)))
HALVES = (
    (0.5, 0, (0, 4, 5)), (0.5, 0, (0, 5, 3)), (0.5, 0, (0, 4, 3)), (0.5, 0, (4, 5, 3)),
    (0.5, 2, (6, 1, 2)), (0.5, 2, (6, 2, 7)), (0.5, 2, (6, 1, 7)), (0.5, 2, (1, 2, 7)),
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
class TurnedBoxes:
    """V boxes that a straight edge crosses once, corners counted anew so that side 0 is crossed, and side 3 or 2."""

    i: Integers
    j: Integers
    order: Integers  # (V, 4) the corners' own numbers
    second: Integers  # (V,) the other side that is crossed
    at: Integers  # (V, 4, 2) cells
    centre: Array  # (V, 4, 2) m
    owner: Integers  # (V, 4)
    k: Array  # (V, 4) W/(m K)
    joint: Array  # (V,) m2 K/W; over thickness in the plate view
    crossing: tuple[Array, Array]  # (V, 2) m, on side 0 and on `second`
    normal: tuple[Array, Array]


def slanted_boxes(section: Section, raster: Raster, p: PartProperties, conductivity: Array, box: TurnedBoxes) -> Boxes:
    """What the boxes conduct, with the numbers of the properties; `conductivity` (P + 5, 2) is times thickness in the
    plate view."""
    box = replace(box, k=conductivity[box.owner, 0], joint=_joints(p, box.owner))
    count, m = len(box.i), raster.shape[1]
    reading = np.zeros((count, 8, 8))  # temperatures of centres, and of crossings on either side, from those of cells
    reading[:, np.arange(4), np.arange(4)] = 1.0
    cells = [box.at @ np.array([m, 1])]
    for which, side, (low, high) in ((0, np.zeros_like(box.second), (4, 6)), (1, box.second, (6, 8))):
        beyond, *weights = _at_crossing(raster, conductivity, box, side, which)
        for near, weight in zip((6, 4) if which else (4, 6), weights):  # corner 0 is the first of its side, or the last
            reading[:, near + which, :4], reading[:, near + which, low:high] = weight[:, :4], weight[:, 4:]
        cells.append(beyond)
    alone = box.second == 3
    energy = np.empty((count, 8, 8))
    for on, triangles in ((alone, ALONE), (~alone, HALVES)):
        energy[on] = _stiffness(section, _chosen(box, on), triangles)
    matrix = reading.transpose(0, 2, 1) @ energy @ reading
    in_series = _sides(section, raster, box)
    for k in range(4):
        matrix[:, [k, (k + 1) % 4], [(k + 1) % 4, k]] += in_series[:, k, None]
    sides, cell, (a, b) = np.empty_like(in_series), np.concatenate(cells, 1), np.triu_indices(8, 1)
    np.put_along_axis(sides, box.order, in_series, 1)
    return Boxes(box.i, box.j, sides, (cell[:, a].ravel(), cell[:, b].ravel(), -matrix[:, a, b].ravel()))


def turned_boxes(
    section: Section, raster: Raster, p: PartProperties, conductivity: Array, cut: Cut, without: Collection[str] = ()
) -> TurnedBoxes:
    """The boxes that an edge between two isotropic solids crosses once; `conductivity` (P + 5, 2) is times thickness in
    the plate view."""
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
    joint = _joints(p, owner)
    if p.joint is not None:
        pair = owner, np.roll(owner, -1, 1)
        good &= (p.joint[pair] == closed_joints(raster, cut, p)[pair]).all(1)
    # an edge within one material is none; by the section's own numbers, so that varying one leaves the links in place
    k = [p.material.conductivity[0] * (p.thickness or 1.0) if p.material else 0.0 for p in section.parts]
    own = np.append(k, np.zeros(len(SIDES) + 1))[owner]
    good &= (own != own[:, :1]).any(1) | (joint > 0)
    i, j, at, owner, joint, crossing, changes = (v[good] for v in (i, j, at, owner, joint, crossing, changes))

    turn = np.argmax(changes & ~np.roll(changes, -1, 1), 1)[:, None]
    order = (turn + np.arange(4)) % 4
    second = np.where(np.take_along_axis(changes, order, 1)[:, 3], 3, 2)
    at = np.take_along_axis(at, order[..., None], 1)
    side = np.stack([turn[:, 0], (turn[:, 0] + second) % 4])
    met = crossing[np.arange(len(i)), side] + np.where(side % 2 == 1, len(crossings[0].first), 0)
    point, normal = (np.concatenate(v)[met] for v in zip(*((c.point, c.normal) for c in crossings)))
    owner = np.take_along_axis(owner, order, 1)
    k = conductivity[owner, 0]
    box = TurnedBoxes(
        i, j, order, second, at, _centres(raster, at), owner, k, joint, (point[0], point[1]), (normal[0], normal[1])
    )
    return _chosen(box, _is_straight(raster, cut, box))


def _joints(p: PartProperties, owner: Integers) -> Array:
    """(V,) the joint between the owners (V, 4) of a box's corners, over thickness in the plate view."""
    if p.joint is None:
        return np.zeros(len(owner))
    return (p.joint[owner, np.roll(owner, -1, 1)] / p.thickness[owner].min(1, keepdims=True)).max(1)


def _chosen(box: TurnedBoxes, on: Bools) -> TurnedBoxes:
    return TurnedBoxes(
        box.i[on], box.j[on], box.order[on], box.second[on], box.at[on], box.centre[on], box.owner[on], box.k[on],
        box.joint[on], (box.crossing[0][on], box.crossing[1][on]), (box.normal[0][on], box.normal[1][on]),
    )  # fmt: skip


def _centres(raster: Raster, at: Integers) -> Array:
    n, m = raster.shape
    x, y = middles(raster.x), middles(raster.y)
    return np.stack([x[np.clip(at[..., 0], 0, n - 1)], y[np.clip(at[..., 1], 0, m - 1)]], -1)


def _at_crossing(
    raster: Raster, conductivity: Array, box: TurnedBoxes, side: Integers, which: int
) -> tuple[Integers, Array, Array]:
    """Two cells beyond the `side` (V,) with crossing number `which`, (V, 2), and the weights with which the
    temperatures there, on the side of either end, follow from the box's four corners and these, (V, 6)."""
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
    # temperature = at the crossing + gradient along the edge * s + flux / conductivity * distance from it: least
    # squares by the conductivity, since the better conductor tells the gradient. A joint sets both sides apart: the
    # temperatures by flux * joint, and the gradients, the poorer conductor's more than the better one's
    away = (np.concatenate([box.centre, _centres(raster, outer)], 1) - point[:, None]) / length[:, None, None]
    s, distance = (np.einsum("vad,vd->va", away, v) for v in (along, normal))
    facing = np.einsum("vd,vd->v", (last - first) / length[:, None], normal)
    mean = pair.prod(1) / pair.sum(1)
    joint = (box.joint * mean / length)[:, None]
    lean = pair[:, ::-1] / pair.sum(1)[:, None] * (-1, 1)  # of either side
    on_first = np.concatenate([box.owner, owner], 1) == box.owner[rows, ends[:, 0], None]
    lean_at = np.where(on_first, lean[:, :1], lean[:, 1:])
    flux = np.divide(distance * mean[:, None], k, out=np.zeros_like(k), where=k > 0)
    flux += np.sign(facing)[:, None] * joint * lean_at
    apart = joint / (1 + joint)  # how far the gradients may be
    model = np.stack([np.ones_like(k), s, flux / (1 + joint), apart * s * lean_at], 2)
    weighted = model * k[..., None]
    square = model.transpose(0, 2, 1) @ weighted
    square += 1e-13 * np.trace(square, axis1=1, axis2=2)[:, None, None] * np.eye(4)
    square[:, 1, 1] += STIFF * k.max(1)
    square[:, 3, 3] += STIFF * mean
    fit = np.linalg.solve(square, weighted.transpose(0, 2, 1))
    across = np.einsum("vd,vd->v", (last - first) / length[:, None], along)[:, None]
    # (V, 6) gradients along the edge on either side, times length, and what they make along the line
    gradient = [across * (fit[:, 1] + lean[:, d, None] * apart * fit[:, 3]) for d in (0, 1)]

    share = np.clip(np.hypot(*(point - first).T) / length, SLIVER, 1 - SLIVER)
    parts = np.stack(
        [share / pair[:, 0], box.joint / length / np.maximum(abs(facing), OBLIQUE), (1 - share) / pair[:, 1]]
    )
    to, _, back = (parts / parts.sum(0))[..., None]
    share = share[:, None]
    drop = -share * gradient[0] - (1 - share) * gradient[1]  # from end to end, less what goes along the edge
    drop[rows, ends[:, 0]] -= 1
    drop[rows, ends[:, 1]] += 1
    before, after = share * gradient[0] + to * drop, -(1 - share) * gradient[1] - back * drop
    before[rows, ends[:, 0]] += 1
    after[rows, ends[:, 1]] += 1
    return np.where(known, outer @ [m, 1], (box.at[:, 0] @ [m, 1])[:, None]), before, after


def _stiffness(section: Section, box: TurnedBoxes, triangles: tuple[Triangle, ...]) -> Array:
    """(V, 8, 8) W/K of linear triangles between the centres and the two crossings, and of a joint between these."""
    corners = np.concatenate([box.centre, *(np.stack(box.crossing, 1),) * 2], 1)
    out = np.zeros((len(corners), 8, 8))
    for weight, solid, triangle in triangles:
        at = corners[:, triangle]
        opposite = np.roll(at, -1, 1) - np.roll(at, 1, 1)  # the side opposite each corner
        double = abs(opposite[:, 0, 0] * opposite[:, 1, 1] - opposite[:, 0, 1] * opposite[:, 1, 0])
        # a sliver ties two crossings together, which beside a joint differ a little
        double = np.maximum(double, np.where(box.joint > 0, THIN, 1e-14) * (opposite**2).sum((1, 2)))
        scale = weight * box.k[:, solid] * _breadth(section, at[..., 0].mean(1)) / 2
        scale = np.divide(scale, double, out=np.zeros_like(double), where=double > 0)
        rows, columns = np.ix_(triangle, triangle)
        out[:, rows, columns] += scale[:, None, None] * (opposite @ opposite.transpose(0, 2, 1))
    start, end = box.crossing
    area = np.hypot(*(end - start).T) * _breadth(section, (start + end)[:, 0] / 2)
    through = np.divide(area, box.joint, out=np.zeros_like(area), where=box.joint > 0)
    jump = np.zeros((2, 8))
    jump[[0, 1], [4, 5]], jump[[0, 1], [6, 7]] = 1.0, -1.0
    return out + through[:, None, None] * (jump.T @ np.array([(2, 1), (1, 2)]) @ jump / 6)


def _sides(section: Section, raster: Raster, box: TurnedBoxes) -> Array:
    """(V, 4) W/K along each side, the half of it that lies in the box: resistances in series."""
    out = np.empty(box.k.shape)
    middle = np.stack([raster.x[box.i], raster.y[box.j]], 1)
    for side in range(4):
        first, last = box.centre[:, side], box.centre[:, (side + 1) % 4]
        along_y = box.order[:, side] % 2 == 1
        width = np.where(along_y, abs(middle - first)[:, 0], abs(middle - first)[:, 1])
        resistivity = np.hypot(*(last - first).T) / box.k[:, side]
        for crossed, point, normal in zip((np.full(len(out), side == 0), box.second == side), box.crossing, box.normal):
            to, from_ = np.hypot(*(point - first).T), np.hypot(*(last - point).T)
            facing = abs(np.where(along_y, normal[:, 1], normal[:, 0]))
            joint = box.joint / np.maximum(facing, OBLIQUE)
            in_series = to / box.k[:, side] + joint + from_ / box.k[:, (side + 1) % 4]
            resistivity = np.where(crossed, in_series, resistivity)
        out[:, side] = width * _breadth(section, (first + last)[:, 0] / 2) / resistivity
    return out


def _breadth(section: Section, x: Array) -> Array | float:
    """m, across the drawing; 1 in the plate view, whose thickness is in the conductivity."""
    if section.view == "axisymmetric":
        return 2 * np.pi * x
    return section.depth if section.view == "section" else 1.0


def closed_joints(raster: Raster, cut: Cut, p: PartProperties) -> Array:
    """(P + 5, P + 5) m2 K/W of those joints on slanted edges that end at solids only, or at the outer edge. What ends
    in a void or an environment keeps the rows of its faces all along, whose length is right as a whole."""
    assert p.joint is not None
    on = p.joint[cut.sides[:, 0], cut.sides[:, 1]] > 0
    half = np.stack([-cut.normal[on, 1], cut.normal[on, 0]], 1) * cut.length[on, None] / 2
    ends, sides = np.concatenate([cut.middle[on] - half, cut.middle[on] + half]), np.tile(cut.sides[on], (2, 1))
    near = 1e-3 * min(np.diff(raster.x).min(), np.diff(raster.y).min())
    _, which, count = np.unique(np.round(ends / near), axis=0, return_inverse=True, return_counts=True)
    ends, sides = (v[count[which.ravel()] == 1] for v in (ends, sides))
    out, box = p.joint.copy(), [np.searchsorted(middles(g), v) for g, v in zip((raster.x, raster.y), ends.T)]
    for around in np.ndindex(3, 3):
        i, j = (np.clip(k + d - 1, 1, n - 1) for k, d, n in zip(box, around, raster.shape))
        a, b = sides[~p.solid[sub_owners(raster, cut, i, j)].all((1, 2))].T
        out[a, b] = out[b, a] = 0.0
    return out


def _is_straight(raster: Raster, cut: Cut, box: TurnedBoxes) -> Bools:
    """(V,) whether what owns a box's sub-cells is like what the straight cut between its crossings leaves there."""
    start, across = box.crossing[0], box.crossing[1] - box.crossing[0]
    towards = box.centre[:, 0] - start
    turn = across[:, 0] * towards[:, 1] - across[:, 1] * towards[:, 0]
    x, y = sub_lines(raster.x, box.i), sub_lines(raster.y, box.j)
    off_x, off_y = (x[:, 1:] + x[:, :-1]) / 2 - start[:, :1], (y[:, 1:] + y[:, :-1]) / 2 - start[:, 1:]
    side = across[:, 0, None, None] * off_y[:, None, :] - across[:, 1, None, None] * off_x[:, :, None]
    ought = np.where(side * turn[:, None, None] > 0, box.owner[:, 0, None, None], box.owner[:, 2, None, None])
    area = np.diff(x)[:, :, None] * np.diff(y)[:, None]
    unlike = sub_owners(raster, cut, box.i, box.j) != ought
    return (unlike * area).sum((1, 2)) < UNLIKE * area.sum((1, 2))


def boxes_around(raster: Raster, cut: Cut) -> tuple[Integers, Integers]:
    """(V,) all inner grid points beside cut cells."""
    n, m = raster.shape
    i, j = (np.concatenate([v + d for d in ds]) for v, ds in ((cut.i, (0, 0, 1, 1)), (cut.j, (0, 1, 0, 1))))
    inner = (i > 0) & (i < n) & (j > 0) & (j < m)
    i, j = np.divmod(np.unique(i[inner] * (m + 1) + j[inner]), m + 1)
    return i, j


def sub_lines(lines: Array, number: Integers) -> Array:
    """(V, SUB + 1) the lines between the sub-cells of boxes around grid lines."""
    half, cell = np.arange(SUB // 2) / SUB, np.diff(lines)
    at, before, after = lines[number, None], cell[number - 1, None], cell[number, None]
    return np.concatenate([at - before * (0.5 - half), at + after * half, at + after / 2], 1)


def sub_owners(raster: Raster, cut: Cut, i: Integers, j: Integers) -> Integers:
    """(V, SUB, SUB) owners of the sub-cells of boxes, each quarter of which is one of its cell."""
    half = SUB // 2
    number = np.full(raster.shape, -1, np.intp)
    number[cut.i, cut.j] = np.arange(len(cut.i))
    out = np.empty((len(i), SUB, SUB), np.intp)
    for a, b in CORNER + 1:
        ci, cj = i - 1 + a, j - 1 + b
        of = number[ci, cj]
        owner = np.broadcast_to(raster.owner[ci + 1, cj + 1][:, None, None], (len(ci), half, half)).copy()
        owner[of >= 0] = cut.owner[of[of >= 0]][:, half * (1 - a) : half * (2 - a), half * (1 - b) : half * (2 - b)]
        out[:, half * a : half * (1 + a), half * b : half * (1 + b)] = owner
    return out


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
        seen &= owners_at(section, raster, i, j, beside[0], beside[1], without) == end_owner[end]
    seen &= end_owner[0] != end_owner[1]
    i, j = (number, k)[:: 1 if axis == 0 else -1]
    first, one = np.unique((i * raster.shape[1] + j)[seen], return_index=True)
    point, normal = np.stack([place, lines[k]], 1)[seen][one], normal[seen][one]
    return _Crossings(first, point[:, :: 1 if axis == 0 else -1], normal[:, :: 1 if axis == 0 else -1])


def _outline_crossings(
    section: Section, lines: Array, axis: int, without: Collection[str]
) -> tuple[Integers, Array, Array]:
    """Of all round and slanted outlines with lines along an axis: the line, place on it, normal (along, across)."""
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
