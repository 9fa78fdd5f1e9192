r"""Interface elements: the quadrilaterals between four cell centres that an edge between two solids crosses once.

    3 --\---- 2     The corners are cell centres, a grid point lies in the middle. Corners are counted from the
    |    \    |     south-west one, anticlockwise; side k goes from corner k to the next. An element's corners are then
    |     \   |     renumbered, so that the edge crosses side 0, and also side 3 (where corner 0 is alone on its side
    0 -----\- 1     of the edge) or side 2 (where there are two corners on either side, as drawn here).

Across such an edge the temperature, its gradient along the edge, and the flux normal to the edge are continuous; the
gradient and the flux along a grid line are not. `element_conductances.py` has what the elements conduct. Elements where
three owners meet, or where an edge turns a corner, are left out: there the faces conduct in rows (`cut_faces.py`).
"""

from dataclasses import dataclass, replace

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.cut_joints import closed_joints
from fdm.conduction.edge_crossings import edge_crossings
from fdm.conduction.layout import Layout
from fdm.conduction.sub_cells import QUARTERS, sub_lines, sub_owners
from fdm.grid.raster import Raster, middles
from fdm.section.model import SIDES

UNLIKE = 0.15  # of an element's area that may lie on the other side of the straight cut between its two crossings


@dataclass(frozen=True)
class InterfaceElements:
    """V elements that a straight edge crosses once. Their corners are renumbered as described above."""

    i: Integers  # (V,) grid point in the middle
    j: Integers
    order: Integers  # (V, 4) the corners' first numbers, from the south-west one
    second: Integers  # (V,) 2 or 3: the side that is crossed besides side 0
    at: Integers  # (V, 4, 2) cells
    centre: Array  # (V, 4, 2) m
    owner: Integers  # (V, 4)
    k: Array  # (V, 4) W/(m K); times thickness in the plate view
    joint: Array  # (V,) m2 K/W; over thickness in the plate view
    crossing: tuple[Array, Array]  # (V, 2) m, on side 0 and on `second`
    normal: tuple[Array, Array]

    def chosen(self, on: Bools) -> "InterfaceElements":
        return InterfaceElements(
            self.i[on], self.j[on], self.order[on], self.second[on], self.at[on], self.centre[on], self.owner[on],
            self.k[on], self.joint[on], (self.crossing[0][on], self.crossing[1][on]),
            (self.normal[0][on], self.normal[1][on]),
        )  # fmt: skip

    def with_properties(self, layout: Layout) -> "InterfaceElements":
        """The same elements with the conductivities and joints of a layout on the same grid."""
        return replace(self, k=layout.conductivity[self.owner, 0], joint=_joints(layout, self.owner))


def interface_elements(layout: Layout) -> InterfaceElements:
    """The interface elements of all round and slanted edges between two isotropic solids."""
    raster, p, m = layout.raster, layout.properties, layout.raster.shape[1]
    crossings = edge_crossings(layout, 0), edge_crossings(layout, 1)
    i, j = _beside_lines(raster, crossings[0].first, crossings[1].first)
    at = np.stack([i, j], 1)[:, None] + QUARTERS - 1
    owner = raster.owner[at[..., 0] + 1, at[..., 1] + 1]
    lines = enumerate((0, 1, 3, 0))  # the first corner of each side's line
    crossing = np.stack([crossings[k % 2].on_lines(at[:, low] @ [m, 1]) for k, low in lines], 1)
    changes = owner != np.roll(owner, -1, 1)
    joint = _joints(layout, owner)
    good = (changes.sum(1) == 2) & (changes == (crossing >= 0)).all(1)
    good &= p.solid[owner].all(1) & (layout.conductivity[owner, 0] == layout.conductivity[owner, 1]).all(1)
    good &= _of_closed_joints(layout, owner)
    good &= _differ(layout, owner) | (joint > 0)
    i, j, at, owner, joint, crossing, changes = (v[good] for v in (i, j, at, owner, joint, crossing, changes))

    turn = np.argmax(changes & ~np.roll(changes, -1, 1), 1)[:, None]
    order = (turn + np.arange(4)) % 4
    second = np.where(np.take_along_axis(changes, order, 1)[:, 3], 3, 2)
    at = np.take_along_axis(at, order[..., None], 1)
    side = np.stack([turn[:, 0], (turn[:, 0] + second) % 4])
    met = crossing[np.arange(len(i)), side] + np.where(side % 2 == 1, len(crossings[0].first), 0)
    point, normal = (np.concatenate(v)[met] for v in zip(*((c.point, c.normal) for c in crossings)))
    owner = np.take_along_axis(owner, order, 1)
    elements = InterfaceElements(
        i, j, order, second, at, cell_centres(raster, at), owner, layout.conductivity[owner, 0], joint,
        (point[0], point[1]), (normal[0], normal[1]),
    )  # fmt: skip
    return elements.chosen(_is_straight(layout, elements))


def cell_centres(raster: Raster, at: Integers) -> Array:
    """(..., 2) m of cells (..., 2); of those beyond the grid, the nearest in it."""
    n, m = raster.shape
    x, y = middles(raster.x), middles(raster.y)
    return np.stack([x[np.clip(at[..., 0], 0, n - 1)], y[np.clip(at[..., 1], 0, m - 1)]], -1)


def _beside_lines(raster: Raster, along_x: Integers, along_y: Integers) -> tuple[Integers, Integers]:
    """Inner grid points beside lines along x and along y, given by the flat numbers of their first cells."""
    (n, m), beside = raster.shape, []
    for (di, dj), first in zip(((1, 0), (0, 1)), (along_x, along_y)):
        i, j = np.divmod(first, m)
        beside += [(i + di, j + dj), (i + 1, j + 1)]
    i, j = (np.concatenate(v) for v in zip(*beside))
    inner = (i > 0) & (i < n) & (j > 0) & (j < m)
    i, j = np.divmod(np.unique(i[inner] * (m + 1) + j[inner]), m + 1)
    return i, j


def _joints(layout: Layout, owner: Integers) -> Array:
    """(V,) the joint between the owners (V, 4) of an element's corners, over thickness in the plate view."""
    p = layout.properties
    if p.joint is None:
        return np.zeros(len(owner))
    out: Array = (p.joint[owner, np.roll(owner, -1, 1)] / p.thickness[owner].min(1, keepdims=True)).max(1)
    return out


def _of_closed_joints(layout: Layout, owner: Integers) -> Bools:
    """(V,) whether all joints between corners end at solids (see `closed_joints`)."""
    joint, pair = layout.properties.joint, (owner, np.roll(owner, -1, 1))
    if joint is None:
        return np.ones(len(owner), bool)
    out: Bools = (joint[pair] == closed_joints(layout)[pair]).all(1)
    return out


def _differ(layout: Layout, owner: Integers) -> Bools:
    """(V,) whether corners differ in conductivity, as an edge within one material needs no element. By the
    conductivities of the section, so that the elements stay the same where properties are varied."""
    k = [p.material.conductivity[0] * (p.thickness or 1.0) if p.material else 0.0 for p in layout.section.parts]
    own = np.append(k, np.zeros(len(SIDES) + 1))[owner]
    out: Bools = (own != own[:, :1]).any(1)
    return out


def _is_straight(layout: Layout, elements: InterfaceElements) -> Bools:
    """(V,) whether the owners of an element's sub-cells are those that a straight cut between its crossings gives."""
    raster = layout.raster
    start, across = elements.crossing[0], elements.crossing[1] - elements.crossing[0]
    towards = elements.centre[:, 0] - start
    turn = across[:, 0] * towards[:, 1] - across[:, 1] * towards[:, 0]
    x, y = sub_lines(raster.x, elements.i), sub_lines(raster.y, elements.j)
    off_x, off_y = (x[:, 1:] + x[:, :-1]) / 2 - start[:, :1], (y[:, 1:] + y[:, :-1]) / 2 - start[:, 1:]
    side = across[:, 0, None, None] * off_y[:, None, :] - across[:, 1, None, None] * off_x[:, :, None]
    on_first_side = side * turn[:, None, None] > 0
    ought = np.where(on_first_side, elements.owner[:, 0, None, None], elements.owner[:, 2, None, None])
    area = np.diff(x)[:, :, None] * np.diff(y)[:, None]
    unlike = sub_owners(layout, elements.i, elements.j) != ought
    out: Bools = (unlike * area).sum((1, 2)) < UNLIKE * area.sum((1, 2))
    return out
