"""Sub-cells of cut cells, as rows across the faces of cells and as squares around grid points."""

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers, Owners
from fdm.conduction.layout import Layout
from fdm.grid.cut import SUB, Cut
from fdm.grid.raster import NOTHING, Raster

QUARTERS = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])  # of the square around a grid point, from the south-west one


def face_points(
    raster: Raster, axis: int, i: Integers, j: Integers
) -> tuple[Array, Array, Array | float, Array | float]:
    """Middles of the rows that cross faces, x and y broadcast to (K, SUB), and a step off the face along x and y."""
    t = (np.arange(SUB) + 0.5) / SUB
    (n, m), (dx, dy) = raster.shape, raster.widths
    if axis == 0:
        thin = np.minimum(*(dx[np.clip(i - d, 0, n - 1)] for d in (0, 1)))
        return raster.x[i, None], raster.y[j, None] + dy[j, None] * t, 1e-6 * thin[:, None], 0.0
    thin = np.minimum(*(dy[np.clip(j - d, 0, m - 1)] for d in (0, 1)))
    return raster.x[i, None] + dx[i, None] * t, raster.y[j, None], 0.0, 1e-6 * thin[:, None]


def cells_beside(axis: int, i: Integers, j: Integers) -> tuple[tuple[Integers, Integers], tuple[Integers, Integers]]:
    """The cells before and after faces (i, j) normal to an axis."""
    return ((i - 1, j), (i, j)) if axis == 0 else ((i, j - 1), (i, j))


def owners_beside(layout: Layout, axis: int, i: Integers, j: Integers) -> tuple[Owners, Owners]:
    """(K, SUB) owners just before and just after faces, row by row; NOTHING where a gap parts a row from its cell."""
    x, y, off_x, off_y = face_points(layout.raster, axis, i, j)
    cells = cells_beside(axis, i, j)
    before, after = (
        layout.owners_at(ci[:, None], cj[:, None], x + sign * off_x, y + sign * off_y)
        for (ci, cj), sign in zip(cells, (-1, 1))
    )
    if layout.cut is not None and layout.cut.parted is not None:
        for owners, (ci, cj), end in ((before, cells[0], 1), (after, cells[1], 0)):
            number = layout.cut_number[ci + 1, cj + 1]
            owners[(number >= 0)[:, None] & layout.cut.parted.beside[number, axis, end]] = NOTHING
    return before, after


def row_resistivity(layout: Layout, axis: int, side: int, own: Owners, number: Integers) -> Array:
    """(K, SUB) mean 1 / conductivity of the solid sub-cells of each row, from the cell's centre to the face.

    The cells lie before (`side` 0) or after (1) the faces. Their numbers among the cut cells are `number` (K,), or -1;
    the owners of their rows just beside the face are `own` (K, SUB).
    """
    p, conductivity = layout.properties, layout.conductivity[:, axis]
    out = np.broadcast_to(1 / conductivity[own], own.shape).copy()
    is_cut = number >= 0
    if layout.cut is None:
        return out
    sub = _half(layout.cut.owner[number[is_cut]], axis, side)
    solid = p.solid[sub]
    count = solid.sum(2)
    mean = np.where(solid, 1 / conductivity[sub], 0.0).sum(2) / np.maximum(count, 1)
    out[is_cut] = np.where(count > 0, mean, out[is_cut])
    return out


def _half(owner: Owners, axis: int, side: int) -> Owners:
    """Sub-cell owners (K, SUB, SUB / 2): rows across the face, from the centre to the face before (side 1) or after."""
    rows = owner.transpose(0, 2, 1) if axis == 0 else owner
    return rows[:, :, SUB // 2 :] if side == 0 else rows[:, :, : SUB // 2]


def sub_lines(lines: Array, number: Integers) -> Array:
    """(V, SUB + 1) the lines between the sub-cells of squares around grid lines."""
    half, cell = np.arange(SUB // 2) / SUB, np.diff(lines)
    at, before, after = lines[number, None], cell[number - 1, None], cell[number, None]
    return np.concatenate([at - before * (0.5 - half), at + after * half, at + after / 2], 1)


def sub_owners(layout: Layout, i: Integers, j: Integers) -> Integers:
    """(V, SUB, SUB) owners of the sub-cells of squares around grid points. Each quarter of a square lies in one
    cell."""
    assert layout.cut is not None
    half, cut, owners = SUB // 2, layout.cut, layout.raster.owner
    out = np.empty((len(i), SUB, SUB), np.intp)
    for a, b in QUARTERS:
        ci, cj = i + a, j + b  # with the ring of cells around the grid
        number = layout.cut_number[ci, cj]
        owner = np.broadcast_to(owners[ci, cj][:, None, None], (len(ci), half, half)).copy()
        rows, columns = slice(half * (1 - a), half * (2 - a)), slice(half * (1 - b), half * (2 - b))
        owner[number >= 0] = cut.owner[number[number >= 0]][:, rows, columns]
        out[:, half * a : half * (1 + a), half * b : half * (1 + b)] = owner
    return out


def mean_normals(cut: Cut, chosen: Bools) -> Array:
    """(C, 2) mean absolute components of the normals of a cell's chosen pieces of edge; 1 where there are none."""
    total, normal = np.zeros(len(cut.i)), np.zeros((len(cut.i), 2))
    np.add.at(total, cut.piece[chosen], cut.length[chosen])
    np.add.at(normal, cut.piece[chosen], cut.length[chosen, None] * abs(cut.normal[chosen]))
    return np.where(total[:, None] > 0, normal / np.maximum(total, 1e-300)[:, None], 1.0)
