r"""Heat that leaves cut cells through a round or slanted edge, to an environment or a held part.

There are two ways, each exact for a temperature that is linear near the edge:

- through a *weak* film (`layout.strong_pieces` says which are) at the edge itself: every cell with some solid keeps a
  temperature, and heat leaves through the edge's true length, behind the film and the distance from the centre to the
  edge, which may be negative (H. Johansen & P. Colella, J. Comput. Phys. 147 (1998) 60, cited from memory, for the
  geometry);
- through a *strong* one, where there is hardly a gradient along the edge, along the grid lines: only cells whose centre
  is solid keep a temperature, and heat leaves behind the distance from the centre to the edge on that line (F. Gibou et
  al., J. Comput. Phys. 176 (2002) 205, cited from memory).

    weak:          \  environment        strong:        \    environment
            o - - - \  normal to                 o-------\   along the
             solid   \  the edge                  solid   \  grid line
"""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Integers, Owners
from fdm.conduction.layout import Layout
from fdm.conduction.sub_cells import mean_normals
from fdm.grid.raster import middles

# (T,) nodes, fixed terminals, W/K between them; a node is a cell's flat number, or n m plus that of a held part's
# terminal, whose surface touches another terminal
FilmConductances = tuple[Integers, Integers, Array]

SAMPLES = 16  # in each of two rounds, to find where a grid line meets an edge


def films_through_edges(layout: Layout) -> FilmConductances:
    """Weak films: conductances through the pieces of edge between a solid and a fixed terminal."""
    raster, cut, p = layout.raster, layout.cut, layout.properties
    assert cut is not None
    cells, terminals, values = [], [], []
    for solid_side, sign in ((0, 1), (1, -1)):
        own, other, outward = cut.sides[:, solid_side], cut.sides[:, 1 - solid_side], sign * cut.normal
        i, j = solid_cells_of_pieces(layout, outward)
        on = p.solid[own] & (p.fixed[other] >= 0) & ~layout.strong[cut.piece] & p.solid[raster.owner[i + 1, j + 1]]
        own, other, i, j, outward, middle = own[on], other[on], i[on], j[on], outward[on], cut.middle[on]
        to_edge = (middle[:, 0] - middles(raster.x)[i]) * outward[:, 0] + (
            middle[:, 1] - middles(raster.y)[j]
        ) * outward[:, 1]
        conductivity = (p.conductivity[own] * outward**2).sum(1)
        cells.append(i * raster.shape[1] + j)
        terminals.append(p.fixed[other])
        behind = 1 / p.film_between(own, other) + to_edge / conductivity
        values.append(edge_areas(layout, middle, own, cut.length[on]) / behind)
    return np.concatenate(cells), np.concatenate(terminals), np.concatenate(values)


def held_through_edges(layout: Layout) -> FilmConductances:
    """Conductances through the pieces of edge between a held part and another fixed terminal."""
    cut = layout.cut
    assert cut is not None
    between = cut.sides[:, 0], cut.sides[:, 1]
    held = np.where(layout.properties.held[between[0]], *between)
    return held_films(layout, between, edge_areas(layout, cut.middle, held, cut.length))


def held_films(layout: Layout, between: tuple[Owners, Owners], area: Array) -> FilmConductances:
    """Conductances through surfaces `between` two owners, of an `area` (m2) each, where one is a held part and the
    other a fixed terminal behind a film."""
    p, size = layout.properties, layout.solid.size
    held = np.where(p.held[between[0]], *between)
    other = np.where(p.held[between[0]], between[1], between[0])
    on = p.held[held] & (p.fixed[other] >= 0) & np.isfinite(p.film[other])
    held, other = held[on], other[on]
    return size + p.fixed[held], p.fixed[other], area[on] * p.film[other]


def edge_areas(layout: Layout, middle: Array, own: Owners | Integers, length: Array) -> Array:
    """(P,) m2 of pieces of edge with these middles (P, 2) m, owners on their solid side and lengths (P,) m."""
    breadths: dict[str, Array | float] = {
        "section": layout.section.depth,
        "axisymmetric": 2 * np.pi * middle[:, 0],
        "plate": layout.properties.thickness[own],
    }
    return np.asarray(length * breadths[layout.section.view])


def solid_cells_of_pieces(layout: Layout, outward: Array) -> tuple[Integers, Integers]:
    """(P,) the cells (i, j) that lose heat through the pieces of edge, whose normals (P, 2) point away from the solid:
    the piece's own, or, where that holds a sliver too thin for sub-cells, or a gap parts the piece from it, a solid one
    behind it: along the axis that the edge faces most, along the other, or across the corner."""
    raster, cut, p = layout.raster, layout.cut, layout.properties
    assert cut is not None
    (n, m), i, j = raster.shape, cut.i[cut.piece], cut.j[cut.piece]
    moves = np.zeros(len(i), bool) if cut.parted is None else cut.parted.piece.copy()
    back, steep = -np.sign(outward).astype(int), abs(outward[:, 0]) >= abs(outward[:, 1])
    for along_x, along_y in ((steep, ~steep), (~steep, steep), (True, True)):
        sliver = ~p.solid[raster.owner[i + 1, j + 1]] | moves
        ti, tj = np.clip(i + back[:, 0] * along_x, 0, n - 1), np.clip(j + back[:, 1] * along_y, 0, m - 1)
        take = sliver & p.solid[raster.owner[ti + 1, tj + 1]]
        i, j, moves = np.where(take, ti, i), np.where(take, tj, j), moves & ~take
    return i, j


def films_along_lines(layout: Layout, axis: int, side: int, i: Integers, j: Integers, area: Array) -> FilmConductances:
    """Strong films: conductances along the grid line from the solid cell on `side` of faces (i, j), before (0) or after
    (1) them, to the edge; `area` (K,) m2 of the faces, in the plate view per metre of thickness."""
    if not len(i):
        return np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0)
    section, p = layout.section, layout.properties
    ray = _rays(layout, axis, side, i, j)
    distance, hit = _where_rays_meet_an_edge(layout, ray)
    distance, facing = _obliqueness(layout, ray, distance)
    own = layout.raster.owner[ray.i + 1, ray.j + 1]
    conductivity, thickness = layout.conductivity[own, axis], p.thickness[own]
    area = area * (thickness if section.view == "plate" else 1.0)
    if section.view == "axisymmetric" and axis == 0:
        r0, r1 = ray.centre[:, 0], ray.centre[:, 0] + ray.sign * distance
        height = area / (2 * np.pi * layout.raster.x[i])
        resistance = abs(np.log(r1 / r0)) / (2 * np.pi * height * conductivity)
        area = 2 * np.pi * r1 * height
    else:
        resistance = distance * (thickness if section.view == "plate" else 1.0) / (conductivity * area)
    cell, met = ray.i * layout.raster.shape[1] + ray.j, p.fixed[hit] >= 0  # a narrow gap may lie between the samples
    with np.errstate(divide="ignore"):
        g = 1 / (resistance + 1 / (p.film_between(own, hit) * area * facing))
    return cell[met], p.fixed[hit[met]], g[met]


@dataclass(frozen=True)
class _Rays:
    """K grid lines from the centres of solid cells (i, j) through a face each, as far as the next cell's centre."""

    axis: int
    sign: int  # 1: they run along the axis, -1: against it
    i: Integers
    j: Integers
    centre: Array  # (K, 2) m
    to_face: Array  # (K,) m from the centre
    reach: Array  # (K,) m from one centre to the other

    def next_cells(self) -> tuple[Integers, Integers]:
        return (self.i + self.sign, self.j) if self.axis == 0 else (self.i, self.j + self.sign)


def _rays(layout: Layout, axis: int, side: int, i: Integers, j: Integers) -> _Rays:
    raster = layout.raster
    ci, cj = (i - (1 - side), j) if axis == 0 else (i, j - (1 - side))
    centre = np.column_stack([middles(raster.x)[ci], middles(raster.y)[cj]])
    lines, cross = (raster.x, i) if axis == 0 else (raster.y, j)
    to_face = abs(lines[cross] - centre[:, axis])
    beyond = np.abs(np.diff(np.pad(lines, 1, mode="reflect", reflect_type="odd")))[cross + (1 if side == 0 else 0)] / 2
    return _Rays(axis, 1 if side == 0 else -1, ci, cj, centre, to_face, to_face + beyond)


def _where_rays_meet_an_edge(layout: Layout, ray: _Rays) -> tuple[Array, Owners]:
    """(K,) distance from the centre at which a fixed terminal begins, and its owner number; by samples."""
    p, owners = layout.properties, layout.raster.owner
    low, high = np.zeros(len(ray.i)), ray.reach.copy()
    for _ in range(2):
        s = low[:, None] + (high - low)[:, None] * (np.arange(SAMPLES) + 1) / SAMPLES
        x, y = (ray.centre[:, None, d] + (ray.sign * s if d == ray.axis else 0.0) for d in (0, 1))
        far = (s > ray.to_face[:, None]).astype(int) * ray.sign
        i, j = (c + far if d == ray.axis else c for d, c in enumerate((ray.i[:, None], ray.j[:, None])))
        owner = layout.owners_at(i, j, x, y)
        left = p.fixed[owner] >= 0
        left[:, -1] = True
        first = left.argmax(1)
        rows = np.arange(len(ray.i))
        low, high, hit = np.where(first > 0, s[rows, first - 1], low), s[rows, first], owner[rows, first]
    # where the edge passes through the next cell's centre rounding may put the last point on this side of it
    ni, nj = ray.next_cells()
    return (low + high) / 2, np.where(p.fixed[hit] >= 0, hit, owners[ni + 1, nj + 1])


def _obliqueness(layout: Layout, ray: _Rays, distance: Array) -> tuple[Array, Array]:
    """(K,) the distance to the edge, set onto the face where the edge lies there; and the cosine between the ray and
    the edge's normal."""
    ni, nj = ray.next_cells()
    own, beyond = layout.cut_number[ray.i + 1, ray.j + 1], layout.cut_number[ni + 1, nj + 1]
    cell = np.where(distance > ray.to_face, np.where(beyond >= 0, beyond, own), np.where(own >= 0, own, beyond))
    straight = abs(distance - ray.to_face) < ray.reach / SAMPLES**2
    distance = np.where(straight, ray.to_face, distance)
    assert layout.cut is not None
    normal = mean_normals(layout.cut, np.ones(len(layout.cut.piece), bool))
    return distance, np.where(straight, 1.0, np.maximum(normal[cell, ray.axis], 1e-6))
