"""Temperatures on the surfaces between solid parts and environments, and the highest and lowest of each.

A surface is read where the heat that reaches it from the cell behind leaves through the film,

    T_surface = (inner T_cell + film T_environment + watts) / (inner + film)

on every face of a straight surface, on every piece of a round or slanted one, and in every cell of a plate's front
and back, which have one temperature through the thickness. The faces of a straight stretch form a run. Between the
middles of three faces, and from the last three of them to the stretch's end, the temperature is taken for a parabola:

    end |  o  |   o   |    o    |   ...      o middles of faces
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.cut_films import solid_cells_of_pieces
from fdm.conduction.inputs import owner_rows
from fdm.conduction.system import System
from fdm.grid.raster import middles

Pair = tuple[str, str]  # names of a part and an environment
Numbers = tuple[Integers, Integers]  # of the parts and of the environments


@dataclass(frozen=True)
class SurfacePlaces:
    """K places on the surfaces of `pairs`; F fixed and H heat terminals."""

    pairs: tuple[Pair, ...]
    pair: Integers  # (K,) which of them
    cell: Integers  # (K,) flat numbers
    owner: Integers  # (K,) number of the part
    terminal: Integers  # (K,) number of the environment
    inner: Array  # (K,) from the cell's centre to the surface, in any unit that `film` has
    film: Array  # (K,) from the surface to the environment
    watts: Array  # (K, H) that enter on the surface, per watt of each heat terminal
    place: Array  # (K,) m along its run
    half: Array  # (K,) m, half the face's width
    run: Integers  # (K,) number of the straight stretch, whose faces follow each other; -1: on none

    def rows(self, cells: Array, factors: tuple[Array, Array] | None = None) -> Array:
        """(K, F + H) temperatures from those of the cells behind the places, (F + H, K), in unit fields; with `inner`
        and `film` as many times as large as `factors` (K,) say."""
        inner, film = self.inner, self.film
        if factors is not None:
            inner, film = inner * factors[0], film * factors[1]
        out = (inner / (inner + film))[:, None] * cells.T
        out[np.arange(len(out)), self.terminal] += film / (inner + film)
        out[:, out.shape[1] - self.watts.shape[1] :] += self.watts / (inner + film)[:, None]
        return out

    def chosen(self, on: Integers) -> "SurfacePlaces":
        """Some of the places, in rising order."""
        names = [f.name for f in fields(self) if f.name != "pairs"]
        return replace(self, **{name: getattr(self, name)[on] for name in names})


@dataclass(frozen=True)
class SurfaceTemperatures:
    """What unit fields are at places on surfaces."""

    places: SurfacePlaces
    rows: Array  # (K, F + H)

    def extremes(self, loads: Array) -> Array:
        """(pairs, 2) lowest and highest temperature of each surface, degC, at temperatures and watts (F + H,)."""
        t, at = self.rows @ loads, self.places
        out = np.full((len(at.pairs), 2), (np.inf, -np.inf))
        for pair, values in ((at.pair, t), *_tops(at, t), *_ends(at, t)):
            np.minimum.at(out[:, 0], pair, values)
            np.maximum.at(out[:, 1], pair, values)
        return out

    def near_extremes(self, loads: Array) -> "SurfaceTemperatures":
        """The places around the lowest and the highest of each surface alone."""
        t, at, on = self.rows @ loads, self.places, np.zeros(len(self.rows), bool)
        order = np.lexsort((t, at.pair))
        starts = np.searchsorted(at.pair[order], np.arange(len(at.pairs)))
        ends = np.append(starts[1:], len(order)) - 1
        for k in np.concatenate([order[starts], order[ends]]):
            near = np.arange(max(k - 2, 0), min(k + 3, len(t)))
            on[near[(at.run[near] == at.run[k]) & ((at.run[near] >= 0) | (near == k))]] = True
        return SurfaceTemperatures(at.chosen(np.nonzero(on)[0]), self.rows[on])


def surface_places(system: System) -> SurfacePlaces:
    """All places on surfaces, by part and environment."""
    count = len(system.section.environments)
    found = [*_on_faces(system), *_on_edges(system), *_on_plates(system)]
    numbers = np.concatenate([f.owner * count + f.terminal for f in found]) if found else np.empty(0, np.intp)
    kinds, pair = np.unique(numbers, return_inverse=True)
    parts, environments = system.section.parts, system.section.environments
    pairs = tuple((parts[k // count].name, environments[k % count].name) for k in kinds.tolist())
    whole = _joined(found, pairs, pair, len(system.heat_inputs))
    return whole.chosen(np.lexsort((np.arange(len(pair)), whole.run, pair)))


def _joined(found: list[SurfacePlaces], pairs: tuple[Pair, ...], pair: Integers, heat: int) -> SurfacePlaces:
    """All of them, with the runs numbered on."""
    first, runs = 0, [np.empty(0, np.intp)]
    for f in found:
        runs.append(np.where(f.run < 0, -1, f.run + first))
        first += int(f.run.max(initial=-1)) + 1
    whole = {
        name: np.concatenate([getattr(f, name) for f in found] or [np.empty(0)])
        for name in ("inner", "film", "place", "half")
    }
    of = {
        name: np.concatenate([np.empty(0, np.intp), *(getattr(f, name) for f in found)])
        for name in ("cell", "owner", "terminal")
    }
    watts = np.concatenate([np.empty((0, heat)), *(f.watts for f in found)])
    return SurfacePlaces(pairs, pair, **of, **whole, watts=watts, run=np.concatenate(runs))


def _on_faces(system: System) -> Iterator[SurfacePlaces]:
    """Straight surfaces, faces of one stretch after each other; but beside cells that their own edge crosses."""
    p, count, crossed = system.properties, len(system.section.environments), _crossed(system)
    for axis, f in enumerate(system.faces):
        lines = system.raster.y if axis == 0 else system.raster.x
        watts = np.zeros((*f.area.shape, len(system.heat_inputs)))
        for h, entering in enumerate(system.heat_inputs):
            if entering.axis == axis and entering.at is not None and entering.face_share is not None:
                watts[(*entering.at, h)] = entering.face_share
        for side in (0, 1):
            own, terminal = f.owner[side], p.fixed[f.owner[1 - side]]
            on = p.solid[own] & (terminal >= 0) & (terminal < count) & (system.holder[axis] < 0) & (f.area > 0)
            on &= ~crossed.ravel()[f.cell[side]]
            line, along = np.nonzero(on if axis == 0 else on.T)
            at = (line, along) if axis == 0 else (along, line)
            number = own[at].astype(np.intp) * count + terminal[at]
            new = (np.diff(line) != 0) | (np.diff(along) != 1) | (np.diff(number) != 0)
            run = np.concatenate([[0], np.cumsum(new)]) if len(line) else np.empty(0, np.intp)
            place, half = middles(lines)[along], np.diff(lines)[along] / 2
            inner, film = f.conductance(side, at), f.conductance(1 - side, at)
            yield SurfacePlaces(
                (), np.empty(0, np.intp), f.cell[side][at], own[at].astype(np.intp), terminal[at], inner, film,
                watts[at], place, half, run,
            )  # fmt: skip


def _crossed(system: System) -> Bools:
    """(n, m) cells with an edge between a solid and a fixed terminal."""
    out, cut, p = np.zeros(system.solid.shape, bool), system.cut, system.properties
    if cut is not None:
        piece = cut.piece[p.solid[cut.sides].any(1) & (p.fixed[cut.sides] >= 0).any(1)]
        out[cut.i[piece], cut.j[piece]] = True
    return out


def _on_edges(system: System) -> Iterator[SurfacePlaces]:
    """Pieces of round and slanted surfaces, each behind the distance from the cell's centre."""
    cut, p, raster = system.cut, system.properties, system.raster
    if cut is None:
        return
    for solid_side, sign in ((0, 1), (1, -1)):
        own, other, outward = cut.sides[:, solid_side], cut.sides[:, 1 - solid_side], sign * cut.normal
        i, j = solid_cells_of_pieces(system.layout, outward)
        on = p.solid[own] & (p.fixed[other] >= 0) & (p.fixed[other] < len(system.section.environments))
        on &= raster.owner[i + 1, j + 1] == own
        part, other, outward, i, j = own[on].astype(np.intp), other[on], outward[on], i[on], j[on]
        centre = np.column_stack([middles(raster.x)[i], middles(raster.y)[j]])
        distance = ((cut.middle[on] - centre) * outward).sum(1)  # below 0 where the centre lies beyond the edge
        distance = np.where(abs(distance) > 1e-9 * system.section.size, distance, 1e-9 * system.section.size)
        inner = (p.conductivity[part] * outward**2).sum(1) / distance
        film, cell = np.minimum(p.film[other], 1e250), i * raster.shape[1] + j
        yield _alone(system, cell, (part, p.fixed[other]), inner, film)


def _on_plates(system: System) -> Iterator[SurfacePlaces]:
    """Fronts and backs of plates: the temperature of the cells."""
    names = [e.name for e in system.section.environments]
    for number, part in enumerate(system.section.parts if system.section.view == "plate" else ()):
        for name in dict.fromkeys((part.front, part.back)):
            if name is not None and system.properties.solid[number]:
                cell, _ = system.part_cells(number)
                numbers = np.full(len(cell), number), np.full(len(cell), names.index(name))
                yield _alone(system, cell, numbers, np.ones(len(cell)), np.zeros(len(cell)))


def _alone(system: System, cell: Integers, numbers: Numbers, inner: Array, film: Array) -> SurfacePlaces:
    """Places without neighbours."""
    nowhere, count = np.zeros(len(cell)), len(cell)
    watts = np.zeros((count, len(system.heat_inputs)))
    return SurfacePlaces(
        (), np.empty(0, np.intp), cell, *numbers, inner, film, watts, nowhere, nowhere, np.full(count, -1)
    )


def surface_factors(system: System, places: SurfacePlaces, factors: Array) -> tuple[Array, Array]:
    """How many times as large `inner` and `film` are (K,), with each input as many times as large as `factors` (I,)."""
    rows, or_none = owner_rows(system.section, system.properties), np.append(factors, 1.0)
    film_row = len(system.section.parts) + places.terminal
    finite = np.isfinite([e.film for e in system.section.environments])[places.terminal]
    return or_none[rows[places.owner]], np.where(finite, or_none[film_row], 1.0)


# ---- between the middles of faces, and beyond the last ones ----------------------------------------------------------


def _tops(at: SurfacePlaces, t: Array) -> Iterator[tuple[Integers, Array]]:
    """Pairs and turning points of the parabolas through three neighbours of which the middle one is the extreme."""
    k = np.nonzero((at.run[:-2] >= 0) & (at.run[:-2] == at.run[1:-1]) & (at.run[1:-1] == at.run[2:]))[0] + 1
    a, b = at.place[k - 1] - at.place[k], at.place[k + 1] - at.place[k]
    u, v = (t[k - 1] - t[k]) / a, (t[k + 1] - t[k]) / b
    turns = (t[k] - t[k - 1]) * (t[k] - t[k + 1]) > 0
    k, (a, b, u, v) = k[turns], (x[turns] for x in (a, b, u, v))
    curvature = (v - u) / (b - a)
    slope = u - curvature * a
    yield at.pair[k], t[k] - slope**2 / (4 * curvature)


def _ends(at: SurfacePlaces, t: Array) -> Iterator[tuple[Integers, Array]]:
    """Pairs and temperatures at both ends of the runs that have three faces."""
    same = (at.run[1:] == at.run[:-1]) & (at.run[1:] >= 0)
    starts = np.nonzero(same[:-1] & same[1:] & ~np.append(False, same[:-2]))[0]
    lasts = np.nonzero(same[:-1] & same[1:] & ~np.append(same[2:], False))[0] + 2
    for k, step in ((starts, 1), (lasts, -1)):
        three = k[:, None] + step * np.arange(3)
        x, end = at.place[three], (at.place[k] - step * at.half[k])[:, None]
        weight = np.ones(x.shape)
        for a in range(3):
            for b in range(3):
                if a != b:
                    weight[:, a] *= (end[:, 0] - x[:, b]) / (x[:, a] - x[:, b])
        yield at.pair[k], (weight * t[three]).sum(1)
