"""The highest temperature of each heat terminal: at the warmest of its grid points and faces, and between them.

The warmest place moves from grid to grid. A parabola through the warmest point and the two beside it finds its top
between grid points, so that the highest temperature changes as evenly from grid to grid as others do.
"""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.system import System


def face_temperatures(system: System, ext: Array, heat: int) -> Array:
    """Unit fields (extended) on the faces where heat terminal number `heat` enters: (F + H, faces)."""
    heat_input = system.heat_inputs[heat]
    assert heat_input.axis is not None and heat_input.at is not None and heat_input.face_share is not None
    (i, j), f = heat_input.at, system.faces[heat_input.axis]
    a, b = f.conductance(0, heat_input.at), f.conductance(1, heat_input.at)
    before, after = (
        (ext[:, i, j + 1], ext[:, i + 1, j + 1]) if heat_input.axis == 0 else (ext[:, i + 1, j], ext[:, i + 1, j + 1])
    )
    out = (a * before + b * after) / (a + b)
    out[len(system.boundary.direct) + heat] += heat_input.face_share / (a + b)
    return out


def heated_points(system: System, heat: int) -> Integers:
    """The grid points (flat numbers) on the segment or part of heat terminal number `heat`."""
    heat_input, m = system.heat_inputs[heat], system.raster.shape[1]
    if heat_input.axis is None or heat_input.at is None:
        i, j = np.divmod(heat_input.cell, m)
        points = np.unique([i * (m + 1) + j + step for step in (0, 1, m + 1, m + 2)])
        on = _on_part(system, heat, *np.divmod(points, m + 1))  # cells that an edge cuts reach beyond the part
        return points[on] if on.any() else points  # none of it where it is too narrow for sub-cells
    i, j = heat_input.at
    return np.unique([i * (m + 1) + j, i * (m + 1) + j + (1 if heat_input.axis == 0 else m + 1)])


def highest(system: System, ext: Array, heat: int, points: Integers, temperatures: Array) -> Array:
    """(H,) highest temperature of heat terminal number `heat` in each heat terminal's unit field, K/W: of all its grid
    points (K,), see `heated_points`, with their temperatures (F + H, K), and of the parabolas through the warmest and
    the two beside it: of a segment's faces, or of a part's grid points along x and along y."""
    fixed, heat_input = len(system.boundary.direct), system.heat_inputs[heat]
    t = temperatures[fixed:]
    if heat_input.axis is None:
        around = around_points(system, heat, points, t.argmax(1))
        return around.tops(t[np.arange(len(t))[:, None, None], around.point])
    tops = parabola_tops(face_middles(system, heat), face_temperatures(system, ext, heat)[fixed:])
    return np.asarray(np.maximum(t.max(1), tops))


def face_middles(system: System, heat: int) -> Array:
    """(K,) m, places along a heat terminal's segment of the middles of its faces."""
    heat_input = system.heat_inputs[heat]
    assert heat_input.axis is not None and heat_input.at is not None
    lines, along = system.raster.y if heat_input.axis == 0 else system.raster.x, heat_input.at[1 - heat_input.axis]
    return np.asarray((lines[along] + lines[along + 1]) / 2)


@dataclass(frozen=True)
class AroundPoints:
    """K grid points of a heated part, each with two more along x and two along y, on either side of it or, at an edge
    of the part, on one. Where the part is narrower than that, the point stands for them all."""

    point: Integers  # (K, 2, 3) numbers in `heated_points`, along x and along y, the point itself first
    place: Array  # (K, 2, 3) m, along x and along y

    def tops(self, t: Array) -> Array:
        """(K,) highest temperature near each point, for temperatures (K, 2, 3)."""
        return np.asarray(t[:, 0, 0] + parabola_rise(self.place, t).sum(1))

    def top_weights(self, t: Array) -> Array:
        """(K, 2, 3) derivatives of the tops by the temperatures (K, 2, 3)."""
        weights = parabola_rise_weights(self.place, t)
        weights[:, 0, 0] += 1.0
        return weights


def around_points(system: System, heat: int, points: Integers, number: Integers) -> AroundPoints:
    """Around the grid points with these numbers (K,) among all `points` of a heated part, see `heated_points`."""
    (n, m), (i, j) = system.raster.shape, np.divmod(system.heat_inputs[heat].cell, system.raster.shape[1])
    hot = np.zeros((n + 4, m + 4), bool)  # two cells more on each side
    hot[i + 2, j + 2] = True
    at = np.stack(np.divmod(points[number], m + 1))
    point, place = np.empty((len(number), 2, 3), np.intp), np.empty((len(number), 2, 3))
    for axis, lines in enumerate((system.raster.x, system.raster.y)):
        along, across = np.eye(2, dtype=np.intp)[[axis, 1 - axis]][:, :, None]
        down, down_twice, up, up_twice = (
            hot[tuple(at + k * along + 2)] | hot[tuple(at + k * along - across + 2)] for k in (-1, -2, 0, 1)
        )
        if system.cut is not None:  # beyond a round or slanted edge no point has the part's temperature
            i, j = (np.clip(at[d] + along[d] * [[-1], [-2], [1], [2]], 0, size) for d, size in enumerate((n, m)))
            on = _on_part(system, heat, i, j)
            down, down_twice, up, up_twice = (step & there for step, there in zip((down, down_twice, up, up_twice), on))
        between, below, above = down & up, up & up_twice, down & down_twice
        for k, steps in enumerate(((0, 0, 0), (-1, 1, -1), (1, 2, -2))):
            step = np.where(between, steps[0], np.where(below, steps[1], np.where(above, steps[2], 0)))
            there = at + step * along
            point[:, axis, k] = np.searchsorted(points, there[0] * (m + 1) + there[1])
            place[:, axis, k] = lines[there[axis]]
    return AroundPoints(point, place)


def _on_part(system: System, heat: int, i: Integers, j: Integers) -> Bools:
    """(..) whether grid points i, j (..) lie on a heated part, or at its edges."""
    on, number = np.zeros(i.shape, bool), system.part_number(system.section.heat_sources[heat].part)
    for a, b in np.ndindex(2, 2):
        owner = system.raster.owner[i + a, j + b]
        if system.cut is not None:  # the sub-cell beside the point
            cut = system.layout.cut_number[i + a, j + b]
            owner = np.where(cut < 0, owner, system.cut.owner[cut, a - 1, b - 1])
        on |= owner == number
    return on


def parabola_rise(s: Array, t: Array) -> Array:
    """From t[.., 0] to the top of the parabola through t (.., 3) at places s (.., 3), where its top lies between them;
    0 where it does not.

    >>> parabola_rise(np.array([0.0, -1.0, 1.0]), np.array([3.75, 1.75, 3.75])).tolist()  # 4 - (x - 1/2)^2
    0.25
    """
    slope, curvature, inside = _parabola(s, t, *_parabola_weights(s))
    return np.where(inside, -(slope**2) / (4 * curvature), 0.0)


def parabola_rise_weights(s: Array, t: Array) -> Array:
    """(.., 3) derivatives of `parabola_rise` by the temperatures. It is of first degree in these, so the product of
    both is the rise itself."""
    by_slope, by_curvature = _parabola_weights(s)
    slope, curvature, inside = _parabola(s, t, by_slope, by_curvature)
    ratio = np.where(inside, slope / (2 * curvature), 0.0)[..., None]
    return ratio**2 * by_curvature - ratio * by_slope


def _parabola_weights(s: Array) -> tuple[Array, Array]:
    """(.., 3) weights of the temperatures at places s (.., 3) in the slope at the first place and in the curvature of
    their parabola; 0 where the places are one."""
    to_second, to_third = s[..., 1] - s[..., 0], s[..., 2] - s[..., 0]
    apart = to_second != to_third
    a, b = np.where(apart, to_second, 1.0), np.where(apart, to_third, 2.0)
    none = np.zeros_like(a)
    u, v = np.stack([-1 / a, 1 / a, none], -1), np.stack([-1 / b, none, 1 / b], -1)
    by_curvature = np.where(apart[..., None], (v - u) / (b - a)[..., None], 0.0)
    return np.where(apart[..., None], u - by_curvature * a[..., None], 0.0), by_curvature


def _parabola(s: Array, t: Array, by_slope: Array, by_curvature: Array) -> tuple[Array, Array, Array]:
    """Slope, curvature, which is 1 where the parabola's top does not lie between the places, and whether it does."""
    slope, curvature = ((weights * t).sum(-1) for weights in (by_slope, by_curvature))
    falls = curvature < 0
    away = -slope / np.where(falls, 2 * curvature, 1.0)
    apart = s - s[..., :1]
    inside = falls & (apart.min(-1) < away) & (away < apart.max(-1))
    return slope, np.where(inside, curvature, 1.0), inside


def parabola_tops(s: Array, t: Array) -> Array:
    """(M,) tops of the parabolas through the largest of each row of t (M, K), at places s (K,), and the two beside it;
    the largest itself where it is an end."""
    near = _around_largest(t)
    at = np.take_along_axis(t, near, 1)
    return np.asarray(at[:, 0] + parabola_rise(s[near], at))


def parabola_top_weights(s: Array, t: Array) -> Array:
    """(K,) derivatives of the top, see `parabola_tops`, by the temperatures t (K,) of one row."""
    near, out = _around_largest(t[None])[0], np.zeros(len(t))
    np.add.at(out, near, parabola_rise_weights(s[near], t[near]))
    out[near[0]] += 1.0
    return out


def _around_largest(t: Array) -> Integers:
    """(M, 3) numbers of the largest of each row of t (M, K) and the two beside it; of the largest alone at an end."""
    k = t.argmax(1)
    inner = (k > 0) & (k < t.shape[1] - 1)
    return np.asarray(k[:, None] + np.where(inner[:, None], np.array([0, -1, 1]), 0))


def highest_load(system: System, ext: Array, heat: int) -> tuple[Integers, Array]:
    """Cells and weights that read the warmest face, or cell, of a heat terminal in its own unit field."""
    heat_input, own = system.heat_inputs[heat], len(system.boundary.direct) + heat
    if heat_input.axis is None or heat_input.at is None:
        cell = heat_input.cell[np.argmax(ext[own, 1:-1, 1:-1].ravel()[heat_input.cell])]
        return np.array([cell]), np.ones(1)
    k = int(np.argmax(face_temperatures(system, ext, heat)[own]))
    at, f = (heat_input.at[0][k : k + 1], heat_input.at[1][k : k + 1]), system.faces[heat_input.axis]
    g = np.concatenate([f.conductance(side, at) for side in (0, 1)])
    cell = np.concatenate([f.cell[side][at] for side in (0, 1)])
    on = np.array([system.properties.solid[f.owner[side][at][0]] for side in (0, 1)])
    return cell[on], (g / g.sum())[on]
