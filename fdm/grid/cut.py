"""Cut cells, which a round or slanted edge crosses: the owners of their sub-cells, and the pieces of edge inside."""

import math
from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdm.grid.parted import Surfaces, apart, cells_with_gaps
from fdm.grid.raster import NOTHING, Raster, middles
from fdm.section.model import Bounds, Disc, Rectangle, Section

Array = NDArray[np.float64]
Integers = NDArray[np.intp]

CORNERS = 720  # of the polygon that stands for a disc's outline
SUB = 16  # sub-cells of a cut cell along each axis
BESIDE = 1e-6  # of a cell's width, by which rows are told from each other beside a face


@dataclass(frozen=True)
class Cut:
    """C cut cells and P pieces of edge, each piece within one cell and between two different owners."""

    i: Integers  # (C,)
    j: Integers
    owner: NDArray[np.int32]  # (C, SUB, SUB) along x, then y
    piece: Integers  # (P,) number of its cell among the C
    length: Array  # (P,) m
    middle: Array  # (P, 2) m
    normal: Array  # (P, 2) from the first owner to the second
    sides: NDArray[np.int32]  # (P, 2) owners
    parted: "Parted | None" = None  # what gaps part from the centres of their cells; None: nothing


@dataclass(frozen=True)
class Parted:
    """What counts as nothing in cut cells, as a gap parts it from what lies around the centre (`fdm.grid.parted`)."""

    beside: NDArray[np.bool_]  # (C, 2, 2, SUB) rows beside the faces normal to x and y, the lower and the upper one
    piece: NDArray[np.bool_]  # (P,) pieces of edge whose solid side it is


def cut_cells(section: Section, raster: Raster, without: Collection[str] = ()) -> Cut | None:
    """The cut cells of the raster; None where every edge lies on a grid line. Parts named in `without` are left out."""
    laid = [
        (k, s)
        for k, p in enumerate(section.parts)
        if p.name not in without
        for s in p.shapes
        if not isinstance(s, Rectangle)
    ]
    shapes, (dx, dy) = [s for _, s in laid], raster.widths
    pieces = [_pieces(s.outline(CORNERS) if isinstance(s, Disc) else s.outline(), raster) for s in shapes]
    if not sum(map(len, pieces)):
        return None
    start, end = np.concatenate(pieces).transpose(1, 0, 2)
    counts = [len(p) for p in pieces]
    part = np.repeat([k for k, _ in laid], counts)
    # how far the outline may lie from the true edge
    slack = np.repeat([s.radius * (np.pi / CORNERS) ** 2 if isinstance(s, Disc) else 0.0 for s in shapes], counts)
    # the polygon that stands for a disc keeps its area; this makes the polygon's length the circle's
    to_circle = np.repeat(
        [math.sqrt(np.pi / CORNERS / math.tan(np.pi / CORNERS)) if isinstance(s, Disc) else 1.0 for s in shapes], counts
    )
    middle, along = (start + end) / 2, end - start
    length = np.hypot(*along.T)
    normal = np.column_stack([along[:, 1], -along[:, 0]]) / length[:, None]
    # moved inward, as a corner of the polygon would poke through the grid line that the disc touches
    within = middle - 2 * slack[:, None] * normal
    i = np.clip(np.searchsorted(raster.x, within[:, 0]) - 1, 0, len(raster.x) - 2)
    j = np.clip(np.searchsorted(raster.y, within[:, 1]) - 1, 0, len(raster.y) - 2)
    off = (1e-6 * np.minimum(dx[i], dy[j]) + slack)[:, None] * normal
    beside = (middle - off).T, (middle + off).T
    sides = np.column_stack([owners_at(section, raster, i, j, x, y, without) for x, y in beside])
    own = sides.max(1) == part  # an edge belongs to the later part beside it, so that shared edges count once
    keep = (sides[:, 0] != sides[:, 1]) & own
    flat, number = np.unique(i[keep] * raster.shape[1] + j[keep], return_inverse=True)
    if not len(flat):
        return None
    ci, cj = np.divmod(flat, raster.shape[1])
    t = (np.arange(SUB) + 0.5) / SUB
    x = raster.x[ci, None] + dx[ci, None] * t
    y = raster.y[cj, None] + dy[cj, None] * t
    owner = owners_at(section, raster, ci[:, None, None], cj[:, None, None], x[:, :, None], y[:, None, :], without)
    cut = Cut(ci, cj, owner, number, (to_circle * length)[keep], middle[keep], normal[keep], sides[keep])
    return _without_what_is_apart(section, raster, cut, without)


def _without_what_is_apart(section: Section, raster: Raster, cut: Cut, without: Collection[str]) -> Cut:
    """The cut cells, in which nothing owns what a gap parts from the centre."""
    held = {s.part for s in section.held_sources}
    solid = np.array([p.material is not None and p.name not in held for p in section.parts] + [False])  # last: NOTHING
    piece = np.nonzero(solid[cut.sides].sum(1) == 1)[0]
    piece = piece[np.argsort(cut.piece[piece], kind="stable")]
    cell = cut.piece[piece]
    low = np.column_stack([raster.x[cut.i], raster.y[cut.j]])
    width = np.column_stack([w[k] for w, k in zip(raster.widths, (cut.i, cut.j))])
    outward = np.where(solid[cut.sides[piece, :1]], 1, -1) * cut.normal[piece]
    along = cut.length[piece, None] / 2 * np.column_stack([-cut.normal[piece, 1], cut.normal[piece, 0]])
    start, end = ((cut.middle[piece] + way - low[cell]) / width[cell] for way in (-along, along))
    surfaces = Surfaces(cell, start, end, outward * width[cell])
    gaps = cells_with_gaps(surfaces)
    if not len(gaps):
        return cut
    at = np.concatenate([[BESIDE], (np.arange(SUB) + 0.5) / SUB, [1 - BESIDE]])
    i, j = cut.i[gaps], cut.j[gaps]
    x, y = (low[gaps, d, None] + width[gaps, d, None] * at for d in (0, 1))
    points = owners_at(section, raster, i[:, None, None], j[:, None, None], x[:, :, None], y[:, None, :], without)
    inside, of_surface = apart(surfaces.chosen(gaps), points, solid, at, raster.owner[i + 1, j + 1])
    if not inside.any():
        return cut
    owner, beside, of_piece = cut.owner.copy(), np.zeros((len(cut.i), 2, 2, SUB), bool), np.zeros(len(cut.piece), bool)
    owner[gaps] = np.where(inside[:, 1:-1, 1:-1], NOTHING, owner[gaps])
    beside[gaps, 0], beside[gaps, 1] = inside[:, [0, -1], 1:-1], inside[:, 1:-1, [0, -1]].swapaxes(1, 2)
    of_piece[piece[np.isin(cell, gaps)]] = of_surface
    return replace(cut, owner=owner, parted=Parted(beside, of_piece))


def owners_at(
    section: Section, raster: Raster, i: Integers, j: Integers, x: Array, y: Array, without: Collection[str] = ()
) -> NDArray[np.int32]:
    """Owner at points x, y (m) that lie in cells i, j; all broadcast together, along all axes but the first. Points
    in the ring around the grid have the ring's owner."""
    shape = np.broadcast_shapes(np.shape(i), np.shape(j), np.shape(x), np.shape(y))
    n, m = raster.shape
    inside = (i >= 0) & (i < n) & (j >= 0) & (j < m)
    owner = np.full(shape, NOTHING, np.int32)
    xc, yc = middles(raster.x)[np.clip(i, 0, n - 1)], middles(raster.y)[np.clip(j, 0, m - 1)]
    for number, part in enumerate(section.parts):
        if part.name in without:
            continue
        for s in part.shapes:
            if isinstance(s, Rectangle):
                # a straight edge lies on a grid line, so a rectangle owns a cell whole or not at all
                covered = np.broadcast_to(s.contains(xc, yc), shape)
                owner[section.covered_by(number, covered, owner)] = number
            else:
                near = _rows_near(s.bounds, raster, i, j)
                covered = np.broadcast_to(s.contains(x[near], y[near]), owner[near].shape)
                owner[near] = np.where(section.covered_by(number, covered, owner[near]), number, owner[near])
    return np.where(inside, owner, raster.owner[i + 1, j + 1])


def _rows_near(bounds: Bounds, raster: Raster, i: Integers, j: Integers) -> Integers:
    """Those of the first axis of cells i, j of which some may reach into the bounds (m) of a shape; with a cell to
    spare, as points that are said to lie in a cell may lie a trace beside it."""
    near = np.ones(np.broadcast_shapes(i.shape, j.shape), bool)
    for cells, lines, low, high in ((i, raster.x, *bounds[:2]), (j, raster.y, *bounds[2:])):
        first, last = np.searchsorted(lines, (low, high))
        near &= (cells >= first - 2) & (cells <= last + 1)
    rows: Integers = np.nonzero(near.any(tuple(range(1, near.ndim))))[0]
    return rows


def _pieces(outline: Array, raster: Raster) -> Array:
    """(P, 2, 2) start and end of the pieces into which grid lines cut the slanted edges of a closed outline."""
    start, step = outline, np.roll(outline, -1, 0) - outline
    size = max(np.ptp(raster.x), np.ptp(raster.y))
    slanted = (abs(step) > 1e-9 * size).all(1)
    start, step = start[slanted], step[slanted]
    ts = [np.zeros((len(start), 1)), np.ones((len(start), 1))]
    for axis, lines in enumerate((raster.x, raster.y)):
        near = lines[(lines > outline[:, axis].min()) & (lines < outline[:, axis].max())]
        ts.append((near - start[:, axis : axis + 1]) / step[:, axis : axis + 1])
    t = np.sort(np.clip(np.concatenate(ts, 1), 0, 1), 1)
    edge, k = np.nonzero(np.diff(t) > 1e-9)
    pieces = np.stack([start[edge] + t[edge, k + d][:, None] * step[edge] for d in (0, 1)], 1)
    within = pieces.mean(1)[:, 0] >= raster.x[0]  # a disc on the axis of an axisymmetric section reaches beyond it
    return pieces if within.all() else pieces[within]
