"""Faces in and around cut cells: in series across a face, in parallel along it.

A cell cut by a round or slanted edge keeps one temperature, at its centre. Heat crosses each of its faces in SUB
parallel rows; a row conducts as its sub-cells do one after the other, and not at all where it is void at the face.

         centre     face     centre
           o---------|---------o        a row: solid sub-cells in series, up to the face,
           o---------|---------o        a joint where there is one, and the next cell's
           o----/    |---------o        a row that is void at the face conducts nothing

Between two solids, interface elements have conductances of their own (`element_conductances.py`). Edges towards an
environment or a held part: `cut_films.py`.
"""

from dataclasses import dataclass, replace

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers, Owners
from fdm.conduction.cut_films import (
    FilmConductances,
    films_along_lines,
    films_through_edges,
    held_films,
    held_through_edges,
)
from fdm.conduction.cut_joints import CutJoints, cut_joints
from fdm.conduction.element_conductances import ElementConductances
from fdm.conduction.faces import Faces, half_cells
from fdm.conduction.interface_elements import InterfaceElements
from fdm.conduction.layout import Layout
from fdm.conduction.sub_cells import cells_beside, owners_beside, row_resistivity
from fdm.grid.cut import SUB

Sides = tuple[Array, Array]  # before and after a face


def faces_near_cuts(
    layout: Layout, elements: InterfaceElements | ElementConductances, axis: int
) -> tuple[Integers, Integers]:
    """The faces (i, j) normal to an axis that lie beside a cut cell or in an interface element."""
    cut, (di, dj), m = layout.cut, ((1, 0), (0, 1))[axis], layout.raster.shape[1]
    assert cut is not None
    near = [cut.i * (m + 2) + cut.j, (cut.i + di) * (m + 2) + cut.j + dj]
    near += [elements.i * (m + 2) + elements.j, (elements.i - dj) * (m + 2) + elements.j - di]
    i, j = np.divmod(np.unique(np.concatenate(near)), m + 2)
    return i, j


def cut_faces(
    layout: Layout, faces: tuple[Faces, Faces], elements: ElementConductances
) -> tuple[tuple[Faces, Faces], list[FilmConductances]]:
    """The faces, of which those around cut cells are replaced, and the conductances of cut cells to fixed terminals."""
    joints, films, out = cut_joints(layout), [films_through_edges(layout), held_through_edges(layout)], []
    for axis, f in enumerate(faces):
        rows = _rows(layout, f, axis, *faces_near_cuts(layout, elements, axis))
        for side in (0, 1):
            films += _films(layout, f, rows, side)
        films.append(held_films(layout, rows.drawn, rows.face_area))
        out.append(_with_rows(layout, f, rows, elements, joints))
    return (out[0], out[1]), films


@dataclass(frozen=True)
class _Rows:
    """The SUB rows through each of K faces (i, j) normal to an axis. Pairs are for the cells before and after a
    face."""

    axis: int
    i: Integers  # (K,)
    j: Integers
    area: Array  # (K, 1) m2 of one row; per metre of thickness in the plate view
    face_area: Array  # (K, SUB) m2 of each row
    drawn: tuple[Owners, Owners]  # (K, SUB) owners just beside the face
    owner: tuple[Owners, Owners]  # (K, SUB) the same, but for a solid that is continued through a strong edge
    solid: tuple[Bools, Bools]  # (K, SUB) whether these are
    resistance: Sides  # (K, SUB) K/W from the cell's centre to the face
    keeps: tuple[Bools, Bools]  # (K,) whether the cell keeps a temperature
    by_line: Bools  # (K,) heat leaves the solid cells beside the face along the grid line, through a strong film


def _rows(layout: Layout, f: Faces, axis: int, i: Integers, j: Integers) -> _Rows:
    p = layout.properties
    low, high, area = half_cells(layout.section, layout.raster)[axis]
    row_area = np.broadcast_to(area, f.area.shape)[i, j][:, None] / SUB
    number = [layout.cut_number[ci + 1, cj + 1] for ci, cj in cells_beside(axis, i, j)]
    strong = np.append(layout.strong, False)  # number -1 is no cut cell
    is_strong = [strong[k] for k in number]
    centre = f.owner[0][i, j], f.owner[1][i, j]
    keeps, at_fixed = (p.solid[centre[0]], p.solid[centre[1]]), [p.fixed[own] >= 0 for own in centre]
    owners, resistances, drawn = [], [], owners_beside(layout, axis, i, j)
    in_middle = [p.solid[own[:, SUB // 2 - 1 : SUB // 2 + 1]] for own in drawn]
    parted = keeps[0] & keeps[1] & ~(in_middle[0] & in_middle[1]).any(1)  # the two cells lie beyond a gap
    for side, (own, geometry) in enumerate(zip(drawn, (high, low))):
        # along a strong edge the field is continued through it, so that faces there count whole
        through_edge = (is_strong[side] & keeps[side] & ~parted)[:, None] & (p.fixed[own] >= 0)
        own = np.where(through_edge, centre[side][:, None], own)
        k = row_resistivity(layout, axis, side, own, number[side])
        resistances.append(np.broadcast_to(geometry, f.area.shape)[i, j][:, None] * SUB * k)
        owners.append(own)
    thickness = np.minimum(p.thickness[owners[0]], p.thickness[owners[1]])
    with np.errstate(invalid="ignore"):
        face_area = row_area * np.where(np.isinf(thickness), 0.0, thickness)
    to_fixed = (keeps[0] ^ keeps[1]) & (at_fixed[0] | at_fixed[1])
    by_line = (to_fixed | parted) & (is_strong[0] | is_strong[1])
    return _Rows(
        axis=axis,
        i=i,
        j=j,
        area=row_area,
        face_area=face_area,
        drawn=drawn,
        owner=(owners[0], owners[1]),
        solid=(p.solid[owners[0]], p.solid[owners[1]]),
        resistance=(resistances[0], resistances[1]),
        keeps=keeps,
        by_line=by_line,
    )


def _films(layout: Layout, f: Faces, rows: _Rows, side: int) -> list[FilmConductances]:
    """Conductances to fixed terminals from the cells on one side of faces: straight through the rows, and along the
    grid lines."""
    p, own, other = layout.properties, rows.owner[side], rows.owner[1 - side]
    with np.errstate(divide="ignore", invalid="ignore"):
        g = 1 / (rows.resistance[side] + 1 / (p.film_between(own, other) * rows.face_area))
    at = np.nonzero(rows.solid[side] & (p.fixed[other] >= 0) & (rows.keeps[side] & ~rows.by_line)[:, None])
    straight = f.cell[side][rows.i[at[0]], rows.j[at[0]]], p.fixed[other[at]], g[at]
    on = np.nonzero(rows.by_line & rows.keeps[side])[0]
    return [straight, films_along_lines(layout, rows.axis, side, rows.i[on], rows.j[on], rows.area[on, 0] * SUB)]


def _with_rows(layout: Layout, f: Faces, rows: _Rows, elements: ElementConductances, joints: CutJoints | None) -> Faces:
    """The faces, of which those that have rows conduct as these rows do."""
    i, j, keeps, solid = rows.i, rows.j, rows.keeps, rows.solid
    with np.errstate(divide="ignore", invalid="ignore"):
        joint = 0.0 if joints is None else joints.of_rows(layout, rows.axis, i, j, rows.area)
        by_row = np.where(solid[0] & solid[1], 1 / (rows.resistance[0] + rows.resistance[1] + joint), 0.0)
        through = _with_elements(layout, elements, rows, by_row)
        resistance = []
        for side in (0, 1):
            r = f.resistance[side].copy()
            conducts = np.where(solid[side], 1 / rows.resistance[side], 0.0).sum(1)
            r[i[keeps[side]], j[keeps[side]]] = 1 / conducts[keeps[side]]
            resistance.append(r)
    whole = f.through.copy()
    whole[i, j] = np.where(keeps[0] & keeps[1], through, 0.0)
    return replace(f, resistance=(resistance[0], resistance[1]), through=whole)


def _with_elements(layout: Layout, elements: ElementConductances, rows: _Rows, by_row: Array) -> Array:
    """(K,) W/K through faces: each half of a face conducts as its rows (K, SUB), or as the side of the interface
    element that lies at its end."""
    i, j = rows.i, rows.j
    number = np.full(layout.raster.owner.shape, -1, np.intp)
    number[elements.i, elements.j] = np.arange(len(elements.i))
    half, out = SUB // 2, np.zeros(len(i))
    for end in (0, 1):  # the element after the face's middle along it has the face on its first side, south or west
        at, side = (number[i, j + end], 2 * (1 - end)) if rows.axis == 0 else (number[i + end, j], 1 + 2 * end)
        of_element = elements.sides[np.maximum(at, 0), side] if len(elements.i) else out
        out = out + np.where(at >= 0, of_element, by_row[:, half * end : half * (1 + end)].sum(1))
    return out
