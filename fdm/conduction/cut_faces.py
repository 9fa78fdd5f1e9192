"""Conductances in and around cut cells, from sub-cell areas: in series across a face, in parallel along it.

A cell cut by a round or slanted edge keeps one temperature, at its centre. Heat crosses each of its faces in SUB
parallel rows; a row conducts as its sub-cells do one after the other, and not at all where it is void at the face.

Between two solids, boxes that an edge crosses have conductances of their own (`boxes.py`).

Towards an environment or a held part there are two ways, each exact for a temperature that is linear near the edge:

- a weak film (conductivity / film longer than a cell): every cell with some solid keeps a temperature, and heat leaves
  through the edge's true length, behind the film and the distance from the centre to the edge, which may be negative
  (H. Johansen & P. Colella, J. Comput. Phys. 147 (1998) 60, cited from memory, for the geometry);
- a strong one, where there is hardly a gradient along the edge: only cells whose centre is solid keep a temperature,
  and heat leaves along the grid lines, behind the distance from the centre to the edge on that line
  (F. Gibou et al., J. Comput. Phys. 176 (2002) 205, cited from memory).
"""

from collections.abc import Collection, Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.faces import Array, Bools, Faces, Integers, PartProperties, half_cells
from fdm.conduction.interface_elements import OBLIQUE, Boxes, TurnedBoxes, closed_joints
from fdm.grid.cut import SUB, Cut, owners_at
from fdm.grid.raster import Raster, middles
from fdm.section.model import Section

Tie = tuple[Integers, Integers, Array]  # flat numbers of cells, fixed terminals, W/K

RAY = 16  # samples a round, in two rounds, to find where a grid line meets an edge


def settled(raster: Raster, cut: Cut, p: PartProperties) -> tuple[Raster, Bools]:
    """The raster with a solid owner for every cut cell that keeps a temperature, and (C,) the cells of strong films."""
    owner = raster.owner.copy()
    pairs = np.concatenate([cut.sides, cut.sides[:, ::-1]])
    piece, of = np.tile(cut.piece, 2), p.solid[pairs[:, 0]] & (p.fixed[pairs[:, 1]] >= 0)
    pairs, piece = pairs[of], piece[of]
    diagonal = np.hypot(np.diff(raster.x)[cut.i], np.diff(raster.y)[cut.j])[piece]
    with np.errstate(divide="ignore"):
        strong_piece = p.conductivity[pairs[:, 0]].min(1) < diagonal * p.film[pairs[:, 1]]
    kind = pairs[:, 0] * len(p.solid) + pairs[:, 1]
    strong_piece = np.isin(kind, kind[strong_piece])  # alike all along an edge
    strong = np.zeros(len(cut.i), bool)
    strong[piece[strong_piece]] = True

    centre = owner[cut.i + 1, cut.j + 1]
    adopted = ~p.solid[centre] & p.solid[cut.owner].any((1, 2)) & ~(strong & (p.fixed[centre] >= 0))
    solids = np.nonzero(p.solid)[0]
    counts = np.stack([(cut.owner[adopted] == k).sum((1, 2)) for k in solids], 1)
    owner[cut.i[adopted] + 1, cut.j[adopted] + 1] = solids[counts.argmax(1)]
    return Raster(raster.x, raster.y, owner), strong


def part_cells(
    raster: Raster, cut: Cut | None, p: PartProperties, number: int, measure: Array
) -> tuple[Integers, Array]:
    """Flat numbers of the cells that carry a part, and how much of `measure` (n, m), volume or area, it has in each."""
    inner = raster.owner[1:-1, 1:-1]
    share = (inner == number).astype(float)
    if cut is not None:
        share[cut.i, cut.j] = (cut.owner == number).mean((1, 2))
    on = (share > 0) & p.solid[inner]
    return np.nonzero(on.ravel())[0], (share * measure)[on]


def face_films(
    section: Section, raster: Raster, cut: Cut | None, p: PartProperties
) -> Iterator[tuple[Integers, int, Array]]:
    """Plate view: of each part's front and back the nodes that lose heat there, the number of the environment, and W/K
    from each. Nodes are flat numbers of cells; n m and the number of a fixed terminal where a part lies in a cut cell
    whose centre has the temperature of that."""
    area, inner = np.diff(raster.x)[:, None] * np.diff(raster.y), raster.owner[1:-1, 1:-1]
    for number, part in enumerate(section.parts if section.view == "plate" else ()):
        for name in (part.front, part.back):
            if name is None or not p.solid[number]:
                continue
            node, part_area = part_cells(raster, cut, p, number, area)
            if cut is not None:
                at, share = p.fixed[inner[cut.i, cut.j]], (cut.owner == number).mean((1, 2))
                on = (at >= 0) & (share > 0)
                node = np.append(node, inner.size + at[on])
                part_area = np.append(part_area, (share * area[cut.i, cut.j])[on])
            terminal = section.fixed_names.index(name)
            yield node, terminal, section.environments[terminal].film * part_area


def faces_anew(raster: Raster, cut: Cut, boxes: Boxes | TurnedBoxes, axis: int) -> tuple[Integers, Integers]:
    """The faces before cells (i, j) along an axis that cut cells and boxes have a part in."""
    (di, dj), m = ((1, 0), (0, 1))[axis], raster.shape[1]
    near = [cut.i * (m + 2) + cut.j, (cut.i + di) * (m + 2) + cut.j + dj]
    near += [boxes.i * (m + 2) + boxes.j, (boxes.i - dj) * (m + 2) + boxes.j - di]
    i, j = np.divmod(np.unique(np.concatenate(near)), m + 2)
    return i, j


def cut_faces(
    section: Section, raster: Raster, p: PartProperties, conductivity: Array, faces: tuple[Faces, Faces], cut: Cut,
    strong: Bools, boxes: Boxes, without: Collection[str] = (),
) -> tuple[tuple[Faces, Faces], list[Tie]]:  # fmt: skip
    """Faces with those around cut cells done anew, and the conductances of cells there to fixed terminals.

    `raster` and `strong` as from `settled`; `conductivity` (P + 5, 2) is times thickness in the plate view.
    """
    n, m = raster.shape
    number = np.full((n + 2, m + 2), -1, np.intp)  # of the cut cell, by cell
    number[cut.i + 1, cut.j + 1] = np.arange(len(cut.i))
    strong_cell = np.append(strong, False)  # number -1 is no cut cell
    mean_normal = _mean_normals(cut, np.ones(len(cut.piece), bool))
    if p.joint is not None:
        joint_normal = np.append(_mean_normals(cut, p.joint[cut.sides[:, 0], cut.sides[:, 1]] > 0), np.ones((1, 2)), 0)
        joint_share = _joint_share(section, raster, cut, p, joint_normal, number, without)
    boundary = [_edge_ties(section, raster, p, cut, strong)]
    out = []
    for axis, (low, high, area) in enumerate(half_cells(section, raster)):
        f = faces[axis]
        step = np.array([1, 0]) if axis == 0 else np.array([0, 1])
        i, j = faces_anew(raster, cut, boxes, axis)
        cells = [(i - step[0] * (1 - side), j - step[1] * (1 - side)) for side in (0, 1)]
        x, y, off_x, off_y = _face_points(raster, axis, i, j)
        row_area = np.broadcast_to(area, f.area.shape)[i, j][:, None] / SUB
        cell_owner = [f.owner[side][i, j] for side in (0, 1)]
        is_strong = [strong_cell[number[ci + 1, cj + 1]] for ci, cj in cells]
        rows, own = [], []
        for side, sign, geometry in ((0, -1, high), (1, 1, low)):
            ci, cj = cells[side]
            o = owners_at(section, raster, ci[:, None], cj[:, None], x + sign * off_x, y + sign * off_y, without)
            # along a strong edge the field is continued through it, so that faces there count whole
            through_edge = (is_strong[side] & p.solid[cell_owner[side]])[:, None] & (p.fixed[o] >= 0)
            o = np.where(through_edge, cell_owner[side][:, None], o)
            k = _row_resistivity(o, number[ci + 1, cj + 1], cut, conductivity[:, axis], p, axis, side)
            r = np.broadcast_to(geometry, f.area.shape)[i, j][:, None] * SUB * k
            rows.append(r)
            own.append(o)
        thickness = np.minimum(p.thickness[own[0]], p.thickness[own[1]])
        solid = p.solid[own[0]], p.solid[own[1]]
        keeps = p.solid[cell_owner[0]], p.solid[cell_owner[1]]
        with np.errstate(divide="ignore", invalid="ignore"):
            face_area = row_area * np.where(np.isinf(thickness), 0.0, thickness)
            meets: Array | float = 0.0
            if p.joint is not None:  # a cell stands on its centre's side of a joint, which a grid line meets obliquely
                facing = np.minimum(*(joint_normal[number[ci + 1, cj + 1], axis] for ci, cj in cells))
                ends = joint_share[i, j], joint_share[i + step[1], j + step[0]]
                meets = (p.joint[cell_owner[0], cell_owner[1]] / np.maximum(facing, OBLIQUE))[:, None] / face_area
                meets = meets / np.repeat(np.stack(ends, 1), SUB // 2, 1)
            by_row = np.where(solid[0] & solid[1], 1 / (rows[0] + rows[1] + meets), 0.0)
            through = _with_boxes(raster, boxes, axis, i, j, by_row)
            ray = (
                (keeps[0] ^ keeps[1])
                & (is_strong[0] | is_strong[1])
                & ((p.fixed[cell_owner[0]] >= 0) | (p.fixed[cell_owner[1]] >= 0))
            )
            for side in (0, 1):
                other = own[1 - side]
                g = 1 / (rows[side] + 1 / (p.film[other] * face_area))
                at = np.nonzero(solid[side] & (p.fixed[other] >= 0) & (keeps[side] & ~ray)[:, None])
                boundary.append((f.cell[side][i[at[0]], j[at[0]]], p.fixed[other[at]], g[at]))
                on = np.nonzero(ray & keeps[side])[0]
                k_ray = conductivity[cell_owner[side][on], axis], p.thickness[cell_owner[side][on]]
                boundary.append(
                    _ray_ties(
                        section,
                        raster,
                        p,
                        number,
                        mean_normal,
                        axis,
                        side,
                        i[on],
                        j[on],
                        k_ray,
                        row_area[on, 0] * SUB,
                        without,
                    )
                )
            resistance = []
            for side in (0, 1):
                r = f.resistance[side].copy()
                conducts = np.where(solid[side], 1 / rows[side], 0.0).sum(1)
                r[i[keeps[side]], j[keeps[side]]] = 1 / conducts[keeps[side]]
                resistance.append(r)
        whole = f.through.copy()
        whole[i, j] = np.where(keeps[0] & keeps[1], through, 0.0)
        out.append(replace(f, resistance=(resistance[0], resistance[1]), through=whole))
    return (out[0], out[1]), boundary


def _with_boxes(raster: Raster, boxes: Boxes, axis: int, i: Integers, j: Integers, rows: Array) -> Array:
    """(K,) W/K through faces (i, j): their rows (K, SUB), or, where a box lies at that end of the face, its side's."""
    n, m = raster.shape
    number = np.full((n + 2, m + 2), -1, np.intp)
    number[boxes.i, boxes.j] = np.arange(len(boxes.i))
    half, out = SUB // 2, np.zeros(len(i))
    for end in (0, 1):  # the box after the face's middle along it has the face on its first side, south or west
        box, side = (number[i, j + end], 2 * (1 - end)) if axis == 0 else (number[i + end, j], 1 + 2 * end)
        own = boxes.sides[np.maximum(box, 0), side] if len(boxes.i) else out
        out = out + np.where(box >= 0, own, rows[:, half * end : half * (1 + end)].sum(1))
    return out


def _joint_share(
    section: Section,
    raster: Raster,
    cut: Cut,
    p: PartProperties,
    normal: Array,
    number: Integers,
    without: Collection[str],
) -> Array:
    """(n + 2, m + 2) by grid point: how long a joint is in the box around it, over what the rows of faces count of it.

    Rows that follow a slanted joint in stairs are right from end to end, but not between two boxes of triangles.
    """
    joint = closed_joints(raster, cut, p)
    conducts = np.divide(1, joint, out=np.zeros_like(joint), where=joint > 0)
    true, counted = np.zeros(number.shape), np.zeros(number.shape)
    along = np.stack([-cut.normal[:, 1], cut.normal[:, 0]], 1) * cut.length[:, None]
    at = cut.middle[:, None] + ((np.arange(SUB) + 0.5) / SUB - 0.5)[:, None] * along[:, None]
    box = tuple(np.searchsorted(middles(g), at[..., d]) for d, g in enumerate((raster.x, raster.y)))
    np.add.at(true, box, (cut.length * conducts[cut.sides[:, 0], cut.sides[:, 1]] / SUB)[:, None])
    for axis, (di, dj) in enumerate(((1, 0), (0, 1))):
        through = conducts[raster.owner[1 - di : -1 - di, 1 - dj : -1 - dj], raster.owner[1:-1, 1:-1]]
        i, j = np.nonzero(through)
        cells = (i - di, j - dj), (i, j)
        x, y, off_x, off_y = _face_points(raster, axis, i, j)
        before, after = (
            owners_at(section, raster, ci[:, None], cj[:, None], x + sign * off_x, y + sign * off_y, without)
            for (ci, cj), sign in zip(cells, (-1, 1))
        )
        facing = np.minimum(*(normal[number[ci + 1, cj + 1], axis] for ci, cj in cells))
        width = (np.diff(raster.y)[j] if axis == 0 else np.diff(raster.x)[i])[:, None] / SUB
        by_row = (through[i, j] * np.maximum(facing, OBLIQUE))[:, None] * (p.solid[before] & p.solid[after])
        for total, rows in ((counted, by_row * width), (true, conducts[before, after] * width)):  # straight on the face
            for end, half in enumerate((rows[:, : SUB // 2], rows[:, SUB // 2 :])):
                np.add.at(total, (i + end * dj, j + end * di), half.sum(1))
    return np.divide(true, counted, out=np.ones_like(true), where=(true > 0) & (counted > 0))


def _face_points(
    raster: Raster, axis: int, i: Integers, j: Integers
) -> tuple[Array, Array, Array | float, Array | float]:
    """Middles of the rows that cross faces, x and y broadcast to (K, SUB), and a step off the face along x and y."""
    t = (np.arange(SUB) + 0.5) / SUB
    n, m = raster.shape
    if axis == 0:
        thin = np.minimum(*(np.diff(raster.x)[np.clip(i - d, 0, n - 1)] for d in (0, 1)))
        return raster.x[i, None], raster.y[j, None] + np.diff(raster.y)[j, None] * t, 1e-6 * thin[:, None], 0.0
    thin = np.minimum(*(np.diff(raster.y)[np.clip(j - d, 0, m - 1)] for d in (0, 1)))
    return raster.x[i, None] + np.diff(raster.x)[i, None] * t, raster.y[j, None], 0.0, 1e-6 * thin[:, None]


def _row_resistivity(
    own: NDArray[np.int32], number: Integers, cut: Cut, conductivity: Array, p: PartProperties, axis: int, side: int
) -> Array:
    """(K, SUB) mean 1 / conductivity of the solid sub-cells of each row, from the cell's centre to the face."""
    out = np.broadcast_to(1 / conductivity[own], own.shape).copy()
    is_cut = number >= 0
    sub = _half(cut.owner[number[is_cut]], axis, side)
    solid = p.solid[sub]
    count = solid.sum(2)
    mean = np.where(solid, 1 / conductivity[sub], 0.0).sum(2) / np.maximum(count, 1)
    out[is_cut] = np.where(count > 0, mean, out[is_cut])
    return out


def _half(owner: NDArray[np.int32], axis: int, side: int) -> NDArray[np.int32]:
    """Sub-cell owners (K, SUB, SUB / 2): rows across the face, from the centre to the face before (side 1) or after."""
    rows = owner.transpose(0, 2, 1) if axis == 0 else owner
    return rows[:, :, SUB // 2 :] if side == 0 else rows[:, :, : SUB // 2]


def _mean_normals(cut: Cut, chosen: Bools) -> Array:
    """(C, 2) mean size of the components of the normal of a cell's chosen pieces of edge; 1 where there are none."""
    total, normal = np.zeros(len(cut.i)), np.zeros((len(cut.i), 2))
    np.add.at(total, cut.piece[chosen], cut.length[chosen])
    np.add.at(normal, cut.piece[chosen], cut.length[chosen, None] * abs(cut.normal[chosen]))
    return np.where(total[:, None] > 0, normal / np.maximum(total, 1e-300)[:, None], 1.0)


def _edge_ties(section: Section, raster: Raster, p: PartProperties, cut: Cut, strong: Bools) -> Tie:
    """Weak films: conductances through the pieces of edge between a solid and a fixed terminal."""
    n, m = raster.shape
    cells, terminals, values = [], [], []
    for solid_side, sign in ((0, 1), (1, -1)):
        own, other = cut.sides[:, solid_side], cut.sides[:, 1 - solid_side]
        outward, i, j = sign * cut.normal, cut.i[cut.piece], cut.j[cut.piece]
        # a sliver too thin for sub-cells hands its piece of edge to the cell behind: along the axis that the edge faces
        # most, along the other, or across the corner
        back, steep = -np.sign(outward).astype(int), abs(outward[:, 0]) >= abs(outward[:, 1])
        for along_x, along_y in ((steep, ~steep), (~steep, steep), (True, True)):
            sliver = ~p.solid[raster.owner[i + 1, j + 1]]
            ti, tj = np.clip(i + back[:, 0] * along_x, 0, n - 1), np.clip(j + back[:, 1] * along_y, 0, m - 1)
            take = sliver & p.solid[raster.owner[ti + 1, tj + 1]]
            i, j = np.where(take, ti, i), np.where(take, tj, j)
        on = p.solid[own] & (p.fixed[other] >= 0) & ~strong[cut.piece] & p.solid[raster.owner[i + 1, j + 1]]
        own, other, i, j, outward, middle = own[on], other[on], i[on], j[on], outward[on], cut.middle[on]
        to_edge = (middle[:, 0] - middles(raster.x)[i]) * outward[:, 0] + (
            middle[:, 1] - middles(raster.y)[j]
        ) * outward[:, 1]
        conductivity = (p.conductivity[own] * outward**2).sum(1)
        breadths: dict[str, Array | float] = {
            "section": section.depth, "axisymmetric": 2 * np.pi * middle[:, 0], "plate": p.thickness[own]
        }  # fmt: skip
        cells.append(i * m + j)
        terminals.append(p.fixed[other])
        values.append(cut.length[on] * breadths[section.view] / (1 / p.film[other] + to_edge / conductivity))
    return np.concatenate(cells), np.concatenate(terminals), np.concatenate(values)


def _ray_ties(
    section: Section, raster: Raster, p: PartProperties, number: Integers, mean_normal: Array, axis: int, side: int,
    i: Integers, j: Integers, solid: tuple[Array, Array], area: Array, without: Collection[str],
) -> Tie:  # fmt: skip
    """Strong films: conductances along the grid line from the solid cell on `side` of faces (i, j) to the edge."""
    if not len(i):
        return np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0)
    conductivity, thickness = solid
    step = np.array([1, 0]) if axis == 0 else np.array([0, 1])
    ci, cj = i - step[0] * (1 - side), j - step[1] * (1 - side)
    centre = np.column_stack([middles(raster.x)[ci], middles(raster.y)[cj]])
    lines, cross = (raster.x, i) if axis == 0 else (raster.y, j)
    sign = 1 if side == 0 else -1
    half = abs(lines[cross] - centre[:, axis])
    beyond = np.abs(np.diff(np.pad(lines, 1, mode="reflect", reflect_type="odd")))[cross + (1 if side == 0 else 0)] / 2
    reach = half + beyond
    low, high = np.zeros(len(i)), reach.copy()
    for _ in range(2):
        s = low[:, None] + (high - low)[:, None] * (np.arange(RAY) + 1) / RAY
        x, y = (centre[:, None, d] + (sign * s if d == axis else 0.0) for d in (0, 1))
        far = (s > half[:, None]).astype(int) * sign
        owner = owners_at(section, raster, ci[:, None] + step[0] * far, cj[:, None] + step[1] * far, x, y, without)
        left = p.fixed[owner] >= 0
        left[:, -1] = True
        first = left.argmax(1)
        rows = np.arange(len(i))
        low, high, hit = np.where(first > 0, s[rows, first - 1], low), s[rows, first], owner[rows, first]
    # where the edge passes through the next cell's centre rounding may put the last point on this side of it
    hit = np.where(p.fixed[hit] >= 0, hit, raster.owner[ci + sign * step[0] + 1, cj + sign * step[1] + 1])
    distance = (low + high) / 2
    here, there = number[ci + 1, cj + 1], number[ci + sign * step[0] + 1, cj + sign * step[1] + 1]
    cell = np.where(distance > half, np.where(there >= 0, there, here), np.where(here >= 0, here, there))
    straight = abs(distance - half) < reach / RAY**2
    distance = np.where(straight, half, distance)
    facing = np.where(straight, 1.0, np.maximum(mean_normal[cell, axis], 1e-6))
    area = area * (thickness if section.view == "plate" else 1.0)
    if section.view == "axisymmetric" and axis == 0:
        r0, r1 = centre[:, 0], centre[:, 0] + sign * distance
        height = area / (2 * np.pi * raster.x[i])
        resistance = abs(np.log(r1 / r0)) / (2 * np.pi * height * conductivity)
        area = 2 * np.pi * r1 * height
    else:
        resistance = distance * (thickness if section.view == "plate" else 1.0) / (conductivity * area)
    m = raster.shape[1]
    return ci * m + cj, p.fixed[hit], 1 / (resistance + 1 / (p.film[hit] * area * facing))
