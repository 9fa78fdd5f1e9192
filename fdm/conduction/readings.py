"""Temperatures at grid points and on faces: the values that carry the flux, not cell values."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.peaks import heated_points, highest
from fdm.conduction.surfaces import crossed_cells
from fdm.conduction.system import System
from fdm.grid.cut import Cut
from fdm.grid.raster import middles

ON_EDGE = 1e-5  # of the drawing's size: so far beside a round or slanted edge a point lies on it
APART = 0.5  # of how far the cells around a point reach along an edge: nearer to each other, they tell no slope
NEAREST = 16  # pieces of edge by their middles, among which is the nearest


@dataclass(frozen=True)
class PointWeights:
    """T = cell . (temperatures of the four cells around) + fixed . T_fixed + heat . watts, for K grid points."""

    cell: Array  # (K, 4): south-west, south-east, north-west, north-east
    fixed: Array  # (K, F) held faces
    heat: Array  # (K, H) K/W, heat that enters on faces beside the point


def extended(system: System, fields: Array) -> Array:
    """Unit fields (F + H, n, m) -> (F + H, n + 2, m + 2) that also have the fixed terminals' own 1 in their cells."""
    count, n, m = fields.shape
    out = np.zeros((count, n + 2, m + 2))
    out[:, 1:-1, 1:-1] = fields
    terminal = system.properties.fixed[system.raster.owner]
    for k in range(len(system.boundary.direct)):
        out[k][terminal == k] = 1.0
    return out


def at_points(ext: Array, weights: PointWeights, i: Integers, j: Integers) -> Array:
    """Unit fields, extended, at grid points (i, j): (F + H, K)."""
    w = weights.cell.T
    out: Array = w[0] * ext[:, i, j] + w[1] * ext[:, i + 1, j] + w[2] * ext[:, i, j + 1] + w[3] * ext[:, i + 1, j + 1]
    out += np.concatenate([weights.fixed, weights.heat], 1).T
    return out


def read_points(system: System, ext: Array, groups: Sequence[Integers]) -> list[Array]:
    """Unit fields, extended, at groups of grid points (flat numbers on (n + 1, m + 1)): (F + H, K) each."""
    if not groups:
        return []
    i, j = np.divmod(np.concatenate(groups), system.raster.shape[1] + 1)
    read = at_points(ext, point_weights(system, i, j), i, j)
    ends = np.cumsum([len(group) for group in groups]).tolist()
    return [read[:, start:end] for start, end in zip((0, *ends), ends)]


def sensor_load(system: System, sensor: int) -> tuple[Integers, Array]:
    """Cells and weights with which sensor number `sensor` reads solid cells: as a load it gives the sensor's adjoint
    field, which says how much the reading feels a watt, or an error, anywhere."""
    asked = system.section.sensors[sensor]
    if asked.at is None:
        cell, volume = system.part_cells(system.part_number(asked.part))
        volume = volume * system.solid.ravel()[cell]
        return cell, volume / max(volume.sum(), 1e-300)
    i, j = sensor_point(system, sensor)
    w = point_weights(system, np.array([i]), np.array([j])).cell[0]
    n, m = system.solid.shape
    around = [(i - 1, j - 1), (i, j - 1), (i - 1, j), (i, j)]
    on = [k for k, (a, b) in enumerate(around) if 0 <= a < n and 0 <= b < m and system.solid[a, b]]
    return np.array([around[k][0] * m + around[k][1] for k in on], np.intp), w[on]


def highest_and_sensors(system: System, ext: Array) -> tuple[Array, list[Array]]:
    """(H, H) highest temperature of each heat terminal in each one's unit field, and the unit fields (F + H, 1) at each
    sensor that is a point, in their order."""
    heat, m = len(system.heat_inputs), system.raster.shape[1]
    points = [sensor_point(system, k) for k, sensor in enumerate(system.section.sensors) if sensor.at is not None]
    groups = [heated_points(system, h) for h in range(heat)] + [np.array([i * (m + 1) + j]) for i, j in points]
    read = read_points(system, ext, groups)
    return np.array([highest(system, ext, h, groups[h], read[h]) for h in range(heat)]).reshape(heat, heat), read[heat:]


def sensor_rows(system: System, fields: Array, at: list[Array]) -> Array:
    """(S, F + H); `at` as from `highest_and_sensors`."""
    section = system.section
    out, points = np.zeros((len(section.sensors), len(fields))), iter(at)
    for k, sensor in enumerate(section.sensors):
        if sensor.at is not None:
            out[k] = next(points)[:, 0]
            continue
        number = system.part_number(sensor.part)
        if (terminal := system.properties.fixed[number]) >= 0:
            out[k, terminal] = 1.0
        else:
            cell, volume = system.part_cells(number)
            out[k] = fields.reshape(len(fields), -1)[:, cell] @ volume / volume.sum()
    return out


def sensor_point(system: System, sensor: int) -> tuple[int, int]:
    """Indices of the grid point at which a sensor lies."""
    at = system.section.sensors[sensor].at
    assert at is not None
    return int(abs(system.raster.x - at[0]).argmin()), int(abs(system.raster.y - at[1]).argmin())


def point_weights(system: System, i: Integers, j: Integers) -> PointWeights:
    """Weights that read grid points (i, j), each (K,).

    A point is read along the grid line through it in x, from the two faces beside it, and likewise in y; each time
    as the temperature at which the heat flows from both sides meet. Both readings carry the flux across every edge
    that passes through the point; their mean is taken.
    """
    # The four faces around a point: south and north of it, with cells west and east of them; west and east, with cells
    # south and north. The point is read between west and east by what crosses the first two, and the other way round.
    crossed = np.zeros(system.raster.owner.shape, bool)
    crossed[1:-1, 1:-1] = crossed_cells(system)
    faces = _FacesBeside(system, crossed, np.array([[i, i], [i - 1, i]]), np.array([[j - 1, j], [j, j]]))
    # a film counts where a solid meets it; only where none does is the point in the environment itself. Where a whole
    # cell has the point on its surface, what lies beyond a slanted edge beside it does not count
    use = np.where(faces.meets_whole.any((0, 1)), faces.meets_whole, faces.meets_solid)
    use = use | ~use.any(1, keepdims=True)
    to_point = np.where(use, faces.conductance, 0.0).sum(2).swapaxes(0, 1)  # from both ends, (axis crossed, end, K)
    total = to_point[:, 0] + to_point[:, 1]
    some = np.where(total > 0, total, np.inf)
    share = to_point / some[:, None]
    at_end = (i == 0) & (total[0] == 0)  # on the axis, which nothing crosses: there the face beside it is read
    share[0, 1, at_end] = 1.0
    by_cell = share * faces.part[:, ::-1]  # (side, axis crossed, end, K)
    cell = by_cell[:, 0].reshape(4, -1).T, by_cell[:, 1].swapaxes(0, 1).reshape(4, -1).T
    fixed = (share[..., None] * faces.held[::-1]).sum(1)
    # what enters on the crossed faces enters where both ends' flows meet
    heat = (share[..., None] * faces.rise[::-1]).sum(1) + faces.watts.sum(1) / some[..., None]
    good = (total > 0) & ~faces.held.any((1, 3))
    weight = np.where(good.any(0), good, [np.ones(len(i)), ~at_end])
    weight /= weight.sum(0)
    weights = PointWeights(*(weight[0][:, None] * a + weight[1][:, None] * b for a, b in (cell, fixed, heat)))
    if system.cut is not None:
        _read_slanted_edges(system, weights, crossed, i, j)
    owner, p = system.raster.owner, system.properties
    around = owner[i[:, None] + np.array([0, 1, 0, 1]), j[:, None] + np.array([0, 0, 1, 1])]
    away = ~p.solid[around].any(1)  # from all solids: there the environment's own temperature is read
    known = (p.fixed[around[away]] >= 0).astype(float)
    weights.cell[away] = known / np.maximum(known.sum(1, keepdims=True), 1.0)
    weights.fixed[away], weights.heat[away] = 0.0, 0.0
    # where a corner of a solid alone lies in a void, and where a cell beside reaches further than the solid in it, no
    # face beside the point conducts
    unread = np.nonzero(~away & (weights.cell.sum(1) + weights.fixed.sum(1) < 0.5))[0]
    if len(unread):
        touches = system.layout.drawn_beside(i[unread], j[unread], p.solid)[:, None]
        beside = np.where(touches, p.solid[around[unread]], p.fixed[around[unread]] >= 0).astype(float)
        weights.cell[unread], weights.fixed[unread] = beside / np.maximum(beside.sum(1, keepdims=True), 1.0), 0.0
    return weights


def _read_slanted_edges(system: System, weights: PointWeights, crossed: Bools, i: Integers, j: Integers) -> None:
    """Replace the weights of grid points at a round or slanted edge between a solid and a fixed terminal, where no face
    lies: of all points beside a cell that such an edge crosses.

    Towards the edge the temperature of the solid falls as film and conduction in series have it, T - T_terminal
    proportional to 1 / film + depth / conductivity, and along the edge it is linear. Both are fitted to the solid cells
    around the point; a point beyond the edge has the terminal's own temperature.
    """
    cut, p, raster = system.cut, system.properties, system.raster
    assert cut is not None
    edge = np.nonzero((p.fixed[cut.sides] >= 0).any(1) & p.solid[cut.sides].any(1))[0]
    k = np.nonzero(crossed[i, j] | crossed[i + 1, j] | crossed[i, j + 1] | crossed[i + 1, j + 1])[0]
    if not len(k):
        return
    point = np.column_stack([raster.x[i[k]], raster.y[j[k]]])
    piece, depth = _nearest_piece(cut, edge, point)
    first = p.solid[cut.sides[piece, 0]]
    solid, beyond = (np.where(first == own, cut.sides[piece, 0], cut.sides[piece, 1]) for own in (True, False))
    outward, depth = np.where(first[:, None], 1, -1) * cut.normal[piece], np.where(first, 1, -1) * depth
    cells = np.stack([(i[k] - 1, j[k] - 1), (i[k], j[k] - 1), (i[k] - 1, j[k]), (i[k], j[k])], 1)  # (2, 4, K)
    inside = raster.owner[cells[0] + 1, cells[1] + 1] == solid
    in_solid = depth > -ON_EDGE * system.section.size
    around = cells[0] + 1, cells[1] + 1
    whole = (p.solid[raster.owner[around]] & ~crossed[around]).any(0)
    known = np.where(in_solid, inside.any(0), ~whole)  # one beyond the edge, yet at a whole cell: on its surface
    centres = [middles(lines)[np.clip(c, 0, len(lines) - 2)] for lines, c in zip((raster.x, raster.y), cells)]
    away = np.stack(centres, -1) - point
    conductivity = (p.conductivity[solid] * outward**2).sum(1)
    here = 1 / p.film_between(solid, beyond) + np.maximum(depth, 0.0) / conductivity
    of_cells = here - (away * outward).sum(2) / conductivity
    along = away[..., 1] * outward[:, 0] - away[..., 0] * outward[:, 1]
    reach, used = np.maximum(abs(along).max(0), 1e-300), inside & in_solid & (here > 0)
    apart = np.where(used, along, -np.inf).max(0) - np.where(used, along, np.inf).min(0)
    slope = np.where(apart > APART * reach, along / reach, 0.0)  # one cell alone tells none
    # a surface that is held has the terminal's temperature
    model = np.stack([np.ones_like(along), slope], -1)
    model *= (np.where(used, of_cells, 0.0) / np.where(here > 0, here, 1.0))[..., None]
    share = np.linalg.pinv(model.swapaxes(0, 1), rcond=1e-6)[:, 0]
    at = k[known]
    weights.cell[at], weights.fixed[at], weights.heat[at] = share[known], 0.0, 0.0
    weights.fixed[at, p.fixed[beyond[known]]] = 1 - share[known].sum(1)


def _nearest_piece(cut: Cut, edge: Integers, point: Array) -> tuple[Integers, Array]:
    """(K,) number of the piece among `edge` that is nearest to each point (K, 2), and how far that lies on the side of
    the piece's first owner, m."""
    from scipy.spatial import cKDTree  # a tenth of a second that only round and slanted edges are worth

    count = min(NEAREST, len(edge))
    near = edge[np.reshape(cKDTree(cut.middle[edge]).query(point, count)[1], (len(point), count))]
    apart = point[:, None] - cut.middle[near]
    depth = -(apart * cut.normal[near]).sum(2)
    along = apart[..., 0] * -cut.normal[near, 1] + apart[..., 1] * cut.normal[near, 0]
    beside = np.maximum(abs(along) - cut.length[near] / 2, 0.0)
    best = np.argmin(np.hypot(depth, beside), 1)
    rows = np.arange(len(point))
    return near[rows, best], depth[rows, best]


class _FacesBeside:
    """Two faces normal to each axis beside each point, (axis, face, K): conductances of their two sides (side, axis,
    face, K), and what their own temperatures are made of."""

    def __init__(self, system: System, crossed: Bools, i: Integers, j: Integers) -> None:
        owner, p = system.raster.owner, system.properties
        shape = np.array([f.area.shape for f in system.faces])[:, :, None, None]
        inside = (i >= 0) & (j >= 0) & (i < shape[:, 0]) & (j < shape[:, 1])
        at = list(zip(np.where(inside, i, 0), np.where(inside, j, 0)))
        of = list(zip(system.faces, at))
        step = np.array([1, 0])[:, None, None]
        beside = np.array([owner[i + 1 - step, j + step], owner[i + 1, j + 1]])
        solid = p.solid[beside]
        g = np.where(inside, [[f.conductance(side, a) for f, a in of] for side in (0, 1)], 0.0)
        # nor does a film conduct where the solid before it ends within its cell
        self.conductance = g = np.where(solid.any(0) & (np.where(solid, g, 0.0).sum(0) == 0), 0.0, g)
        total = g[0] + g[1]
        # beyond the outer edge, on the axis, and where nothing conducts, a face has the temperature of a cell beside it
        self.meets_solid = inside & solid.any(0)
        crossed = np.array([crossed[i + 1 - step, j + step], crossed[i + 1, j + 1]])
        self.meets_whole = inside & (solid & ~crossed).any(0)
        known = solid | (p.fixed[beside] >= 0)
        known[1] &= ~known[0]
        holder = np.where(inside, [h[a] for h, a in zip(system.holder, at)], -1)
        some = np.where(total > 0, total, 1.0)
        self.part = np.where(total > 0, g / some, known) * (holder < 0)
        self.held = holder[..., None] == np.arange(len(system.boundary.direct))
        self.watts = np.zeros((*i.shape, len(system.heat_inputs)))  # that enter on the face, per watt
        for h, heat_input in enumerate(system.heat_inputs):
            if heat_input.axis is not None and heat_input.at is not None:
                share = np.zeros(system.faces[heat_input.axis].area.shape)
                share[heat_input.at] = heat_input.face_share
                self.watts[heat_input.axis, ..., h] = np.where(inside[heat_input.axis], share[at[heat_input.axis]], 0.0)
        self.rise = np.where(total > 0, 1 / some, 0.0)[..., None] * self.watts
