"""Joints on round and slanted edges, as the rows of faces count them.

Rows that cross a slanted joint follow it in stairs: some faces count too much of its length and others too little. Over
a whole edge the sum is right, but not over a piece between two interface elements. So the length is corrected by grid
point, with the joint's true length in the square around the point over the length that the rows of faces count there.
"""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.layout import Layout
from fdm.conduction.sub_cells import cells_beside, mean_normals, owners_beside, sub_owners
from fdm.grid.cut import SUB
from fdm.grid.raster import middles

OBLIQUE = 1e-3  # least cosine at which a line meets a joint


@dataclass(frozen=True)
class CutJoints:
    """How slanted joints lie to the faces of cut cells."""

    normal: Array  # (C + 1, 2) mean size of the components of the joints' normals in cut cells; last: in whole ones
    share: Array  # (n + 2, m + 2) by grid point: true length of the joints around it, over the length that rows count

    def of_rows(self, layout: Layout, axis: int, i: Integers, j: Integers, area: Array) -> Array:
        """(K, SUB) K/W of the joints between the cells beside faces (i, j), in rows of an area (K, 1), per metre of
        thickness in the plate view. A cell counts as lying on its centre's side of a joint, which is as deep as the
        thinner of both parts; the grid line crosses it obliquely."""
        p, owner = layout.properties, layout.raster.owner
        assert p.joint is not None
        (bi, bj), (ai, aj) = cells_beside(axis, i, j)
        facing = self.facing(layout, axis, i, j)
        ends = self.share[i, j], self.share[(i, j + 1) if axis == 0 else (i + 1, j)]
        sides = owner[bi + 1, bj + 1], owner[ai + 1, aj + 1]
        deep = np.minimum(*(p.thickness[own] for own in sides))
        out = (p.joint[sides] / np.maximum(facing, OBLIQUE))[:, None] / (area * deep[:, None])
        by_row: Array = out / np.repeat(np.stack(ends, 1), SUB // 2, 1)
        return by_row

    def facing(self, layout: Layout, axis: int, i: Integers, j: Integers) -> Array:
        """(K,) least cosine between the axis and the joints' normals in the two cells beside faces."""
        a, b = (self.normal[layout.cut_number[ci + 1, cj + 1], axis] for ci, cj in cells_beside(axis, i, j))
        return np.asarray(np.minimum(a, b))


def cut_joints(layout: Layout) -> CutJoints | None:
    """How slanted joints lie to the faces; None where the section has no joint, or no edge cuts a cell."""
    cut, p = layout.cut, layout.properties
    if cut is None or p.joint is None:
        return None
    normal = np.append(mean_normals(cut, p.joint[cut.sides[:, 0], cut.sides[:, 1]] > 0), np.ones((1, 2)), 0)
    joints = CutJoints(normal, np.ones(layout.raster.owner.shape))
    true, counted = _lengths(layout, joints)
    share = np.divide(true, counted, out=np.ones_like(true), where=(true > 0) & (counted > 0))
    return CutJoints(normal, share)


def _lengths(layout: Layout, joints: CutJoints) -> tuple[Array, Array]:
    """(n + 2, m + 2) by grid point: W/K per metre of depth of the joints in the square around it, with their true
    length and with the length that rows count."""
    raster, cut, p = layout.raster, layout.cut, layout.properties
    assert cut is not None
    joint = closed_joints(layout)
    conducts = np.divide(1, joint, out=np.zeros_like(joint), where=joint > 0)
    true, counted = np.zeros(raster.owner.shape), np.zeros(raster.owner.shape)
    along = np.stack([-cut.normal[:, 1], cut.normal[:, 0]], 1) * cut.length[:, None]
    at = cut.middle[:, None] + ((np.arange(SUB) + 0.5) / SUB - 0.5)[:, None] * along[:, None]
    around = tuple(np.searchsorted(middles(g), at[..., d]) for d, g in enumerate((raster.x, raster.y)))
    np.add.at(true, around, (cut.length * conducts[cut.sides[:, 0], cut.sides[:, 1]] / SUB)[:, None])
    for axis, (di, dj) in enumerate(((1, 0), (0, 1))):
        through = conducts[raster.owner[1 - di : -1 - di, 1 - dj : -1 - dj], raster.owner[1:-1, 1:-1]]
        i, j = np.nonzero(through)
        before, after = owners_beside(layout, axis, i, j)
        facing = joints.facing(layout, axis, i, j)
        width = (raster.widths[1][j] if axis == 0 else raster.widths[0][i])[:, None] / SUB
        by_row = (through[i, j] * np.maximum(facing, OBLIQUE))[:, None] * (p.solid[before] & p.solid[after])
        for total, rows in ((counted, by_row * width), (true, conducts[before, after] * width)):  # straight on the face
            for end, half in enumerate((rows[:, : SUB // 2], rows[:, SUB // 2 :])):
                np.add.at(total, (i + end * dj, j + end * di), half.sum(1))
    return true, counted


def closed_joints(layout: Layout) -> Array:
    """(P + 5, P + 5) m2 K/W of the joints on slanted edges that end at solids, or at the outer edge; 0 for the others.
    A joint that ends in a void or an environment is counted by rows along the whole edge, which gives the right sum."""
    raster, cut, p = layout.raster, layout.cut, layout.properties
    assert p.joint is not None and cut is not None
    on = p.joint[cut.sides[:, 0], cut.sides[:, 1]] > 0
    half = np.stack([-cut.normal[on, 1], cut.normal[on, 0]], 1) * cut.length[on, None] / 2
    ends, sides = np.concatenate([cut.middle[on] - half, cut.middle[on] + half]), np.tile(cut.sides[on], (2, 1))
    near = 1e-3 * min(width.min() for width in raster.widths)
    _, which, count = np.unique(np.round(ends / near), axis=0, return_inverse=True, return_counts=True)
    ends, sides = (v[count[which.ravel()] == 1] for v in (ends, sides))
    out, at = p.joint.copy(), [np.searchsorted(middles(g), v) for g, v in zip((raster.x, raster.y), ends.T)]
    for around in np.ndindex(3, 3):
        i, j = (np.clip(k + d - 1, 1, n - 1) for k, d, n in zip(at, around, raster.shape))
        a, b = sides[~p.solid[sub_owners(layout, i, j)].all((1, 2))].T
        out[a, b] = out[b, a] = 0.0
    return out
