"""Temperatures on the surfaces between solid parts and environments, and the highest and lowest of each.

A surface is read where the heat that reaches it from the cell behind leaves through the film,

    T_surface = (inner T_cell + film T_environment + watts) / (inner + film)

on every face of a straight surface, on every piece of a round or slanted one, and in every cell of a plate's front
and back, which has one temperature through its thickness. The faces of a straight stretch form a run. Between the
middles of three faces, and from the last three of them to the end of the stretch, the temperature is a parabola. Where
the surface goes straight on in another part, both parts share the temperature at which the heat that flows along the
surface passes from one to the other:

    end |  o  |   o   |    o    |   ...  |  o  * o  |      o middles of faces, * where two parts meet
                   part 1                      part 2
"""

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.cut_films import edge_areas, solid_cells_of_pieces
from fdm.conduction.inputs import owner_rows
from fdm.conduction.sub_cells import cells_beside, owners_beside
from fdm.conduction.system import System
from fdm.grid.raster import Raster, middles
from fdm.section.model import Section

Pair = tuple[str, str]  # names of a part and an environment
Numbers = tuple[Integers, Integers]  # of the parts and of the environments


@dataclass(frozen=True)
class SurfacePlaces:
    """K places on surfaces, each of a part and an environment; F fixed and H heat terminals."""

    pairs: tuple[Pair, ...]
    pair: Integers  # (K,) number of the pair
    cell: Integers  # (K,) flat number of the cell behind the place
    owner: Integers  # (K,) number of the part
    terminal: Integers  # (K,) number of the environment
    inner: Array  # (K,) from the cell's centre to the surface, in any unit that `film` has
    film: Array  # (K,) from the surface to the environment
    watts: Array  # (K, H) that enter on the surface, per watt of each heat terminal
    place: Array  # (K,) m along its run
    half: Array  # (K,) m, half the face's width
    run: Integers  # (K,) number of the straight stretch, whose faces follow each other; -1: on none
    along: Array  # (K,) W/(m2 K) from the middle of a face to its ends
    meeting: Integers  # (K, 2) number of the place where another part goes on, at the low and the high end; -1: none
    area: Array  # (K,) m2
    ends: Array  # (K, 2, 2) m, of the face or piece in the drawing; of what is seen face on, two corners of the cell
    face_on: Bools  # (K,) whether it is seen face on

    def rows(self, cells: Array, factors: tuple[Array, Array] | None = None) -> Array:
        """(K, F + H) temperatures in unit fields, from those of the cells behind the places, (F + H, K); with `inner`
        and `film` each `factors` (K,) times as large."""
        inner, film = self.inner, self.film
        if factors is not None:
            inner, film = inner * factors[0], film * factors[1]
        out = (inner / (inner + film))[:, None] * cells.T
        out[np.arange(len(out)), self.terminal] += film / (inner + film)
        out[:, out.shape[1] - self.watts.shape[1] :] += self.watts / (inner + film)[:, None]
        return out

    @cached_property
    def ends_of_runs(self) -> list[tuple[Integers, Integers, Array]]:
        """Of the runs with three or more faces, except where another part goes on, at their starts and at their lasts:
        pairs (E,), numbers (E, 3) of the three places next to the end, and their weights (E, 3) there."""
        same = (self.run[1:] == self.run[:-1]) & (self.run[1:] >= 0)
        starts = np.nonzero(same[:-1] & same[1:] & ~np.append(False, same[:-2]))[0]
        lasts = np.nonzero(same[:-1] & same[1:] & ~np.append(same[2:], False))[0] + 2
        found = []
        for k, step in ((starts[self.meeting[starts, 0] < 0], 1), (lasts[self.meeting[lasts, 1] < 0], -1)):
            three = k[:, None] + step * np.arange(3)
            x, end = self.place[three], (self.place[k] - step * self.half[k])[:, None]
            weight = np.ones(x.shape)
            for a in range(3):
                for b in range(3):
                    if a != b:
                        weight[:, a] *= (end[:, 0] - x[:, b]) / (x[:, a] - x[:, b])
            found.append((self.pair[k], three, weight))
        return found

    def chosen(self, on: Integers) -> "SurfacePlaces":
        """The places numbered `on`, which rise."""
        names = [f.name for f in fields(self) if f.name != "pairs"]
        return replace(self, **{name: getattr(self, name)[on] for name in names})


@dataclass(frozen=True)
class SurfaceTemperatures:
    """The temperatures of unit fields at places on surfaces."""

    places: SurfacePlaces
    rows: Array  # (K, F + H)

    def extremes(self, loads: Array) -> Array:
        """(pairs, 2) lowest and highest temperature of each surface, degC, at temperatures and watts (F + H,)."""
        t, at = self.rows @ loads, self.places
        if not at.pairs:
            return np.empty((0, 2))
        first = np.searchsorted(at.pair, np.arange(len(at.pairs)))  # pair by pair, none without places
        out = np.column_stack([np.minimum.reduceat(t, first), np.maximum.reduceat(t, first)])
        straight = (at.run >= 0).any()
        for pair, values in (*_tops(at, t), *_ends(at, t), *_meetings(at, t)) if straight else ():
            np.minimum.at(out[:, 0], pair, values)
            np.maximum.at(out[:, 1], pair, values)
        return out

    def near_extremes(self, loads: Array) -> "SurfaceTemperatures":
        """Only the places around the lowest and the highest temperature of each surface at temperatures and watts
        (F + H,): those that decide its extremes."""
        t, at, on = self.rows @ loads, self.places, np.zeros(len(self.rows), bool)
        order = np.lexsort((t, at.pair))
        starts = np.searchsorted(at.pair[order], np.arange(len(at.pairs)))
        ends = np.searchsorted(at.pair[order], np.arange(len(at.pairs)), side="right") - 1
        for k in np.concatenate([order[starts], order[ends]]):
            near = np.arange(max(k - 2, 0), min(k + 3, len(t)))
            on[near[(at.run[near] == at.run[k]) & ((at.run[near] >= 0) | (near == k))]] = True
        on |= ((at.meeting >= 0) & np.isin(at.meeting, at.meeting[on])).any(1)  # both parts where they meet
        return SurfaceTemperatures(at.chosen(np.nonzero(on)[0]), self.rows[on])


def surface_places(system: System) -> SurfacePlaces:
    """All places on surfaces, by part and environment."""
    found = [*_on_faces(system), *_on_edges(system), *_on_plates(system)]
    return by_pair(system.section, found, len(system.heat_inputs))


def by_pair(section: Section, found: list[SurfacePlaces], heat: int) -> SurfacePlaces:
    """All the places together, by part and environment; owners beyond the parts are fins."""
    count = len(section.environments)
    numbers = np.concatenate([f.owner * count + f.terminal for f in found]) if found else np.empty(0, np.intp)
    kinds, pair = np.unique(numbers, return_inverse=True)
    names, environments = [*section.parts, *section.fins], section.environments
    pairs = tuple((names[k // count].name, environments[k % count].name) for k in kinds.tolist())
    whole = _joined(found, pairs, pair, heat)
    order = np.lexsort((whole.run, pair))  # which leaves equal ones as they are
    return whole if (order[1:] > order[:-1]).all() else whole.chosen(order)


def _joined(found: list[SurfacePlaces], pairs: tuple[Pair, ...], pair: Integers, heat: int) -> SurfacePlaces:
    """All the places together. Runs and meetings are renumbered, so that none of them share a number."""
    runs, meetings, ends = [np.empty(0, np.intp)], [np.empty((0, 2), np.intp)], [np.empty((0, 2, 2))]
    first_run, first_meeting = 0, 0
    for f in found:
        runs.append(np.where(f.run < 0, -1, f.run + first_run))
        meetings.append(np.where(f.meeting < 0, -1, f.meeting + first_meeting))
        ends.append(f.ends)
        first_run += int(f.run.max(initial=-1)) + 1
        first_meeting += int(f.meeting.max(initial=-1)) + 1
    floats = {
        name: np.concatenate([getattr(f, name) for f in found] or [np.empty(0)])
        for name in ("inner", "film", "place", "half", "along", "area")
    }
    integers = {
        name: np.concatenate([np.empty(0, np.intp), *(getattr(f, name) for f in found)])
        for name in ("cell", "owner", "terminal")
    }
    watts = np.concatenate([np.empty((0, heat)), *(f.watts for f in found)])
    run, meeting = np.concatenate(runs), np.concatenate(meetings)
    return SurfacePlaces(
        pairs, pair, **integers, **floats, watts=watts, run=run, meeting=meeting, ends=np.concatenate(ends),
        face_on=np.concatenate([np.empty(0, bool), *(f.face_on for f in found)]),
    )  # fmt: skip


def _on_faces(system: System) -> Iterator[SurfacePlaces]:
    """Places on straight surfaces, in order along each stretch. Faces beside a cell that a slanted surface crosses are
    left out: such a cell is read on that surface."""
    p, count, crossed = system.properties, len(system.section.environments), crossed_cells(system)
    joints = np.zeros((len(p.solid),) * 2) if p.joint is None else p.joint
    for axis, f in enumerate(system.faces):
        lines = system.raster.y if axis == 0 else system.raster.x
        for side in (0, 1):
            own, terminal = f.owner[side], p.fixed[f.owner[1 - side]]
            on = p.solid[own] & (terminal >= 0) & (terminal < count) & (system.holder[axis] < 0) & (f.area > 0)
            on &= ~crossed.ravel()[f.cell[side]]
            on &= np.isfinite(f.resistance[side])  # of a sliver in a cell whose centre is void there is no temperature
            on &= _meets_terminal(system, axis, side, on)
            line, along = np.nonzero(on if axis == 0 else on.T)
            at = (line, along) if axis == 0 else (along, line)
            place_of = np.full(f.area.shape, -1)
            place_of[at] = np.arange(len(line))
            watts = np.zeros((len(line), len(system.heat_inputs)))
            for h, entering in enumerate(system.heat_inputs):
                if entering.axis == axis and entering.at is not None and entering.face_share is not None:
                    here = place_of[entering.at]
                    watts[here[here >= 0], h] = entering.face_share[here >= 0]
            number = own[at].astype(np.intp) * count + terminal[at]
            goes_on, other = (np.diff(line) == 0) & (np.diff(along) == 1), np.diff(number) != 0
            goes_on &= _passes(system, axis, f.cell[side][at][:-1])  # not across the tip of a gap
            run = np.concatenate([[0], np.cumsum(~goes_on | other)]) if len(line) else np.empty(0, np.intp)
            jointed = joints[own[at][:-1], own[at][1:]] > 0
            meets = np.nonzero(goes_on & other & (own[at][:-1] != own[at][1:]) & ~jointed)[0]
            meeting = np.full((len(line), 2), -1)
            meeting[meets, 1] = meeting[meets + 1, 0] = np.arange(len(meets))
            place, half = middles(lines)[along], np.diff(lines)[along] / 2
            inner, film = f.conductance(side, at), f.conductance(1 - side, at)
            across = (system.raster.x if axis == 0 else system.raster.y)[line]
            ends = np.stack([np.column_stack([across, place + step * half][:: 1 - 2 * axis]) for step in (-1, 1)], 1)
            yield SurfacePlaces(
                (), np.empty(0, np.intp), f.cell[side][at], own[at].astype(np.intp), terminal[at], inner, film,
                watts, place, half, run, p.conductivity[own[at], 1 - axis] / half, meeting, f.area[at], ends,
                np.zeros(len(line), bool),
            )  # fmt: skip


def _passes(system: System, axis: int, cell: Integers) -> Bools:
    """(K,) whether heat passes from cells (K,) to the next ones along a surface normal to an axis."""
    through = system.faces[1 - axis].through
    i, j = np.divmod(cell, system.raster.shape[1])
    at = (i, np.minimum(j + 1, through.shape[1] - 1)) if axis == 0 else (np.minimum(i + 1, through.shape[0] - 1), j)
    return np.asarray(through[at] != 0)


def _meets_terminal(system: System, axis: int, side: int, on: Bools) -> Bools:
    """Whether faces `on` a surface have the terminal right beyond them: beside a cell that an edge cuts there may be a
    void as well, and only beyond that the terminal."""
    if system.cut is None:
        return on
    p, number, out = system.properties, system.layout.cut_number, on.copy()
    i, j = np.nonzero(on)
    cut = np.any([number[ci + 1, cj + 1] >= 0 for ci, cj in cells_beside(axis, i, j)], 0)
    sides = owners_beside(system.layout, axis, i[cut], j[cut])
    void = ~p.solid & (p.fixed < 0)
    out[i[cut], j[cut]] = ~void[sides[1 - side]].all(1)
    return out


def crossed_cells(system: System) -> Bools:
    """(n, m) cells that an edge between a solid and a fixed terminal crosses."""
    out, cut, p = np.zeros(system.solid.shape, bool), system.cut, system.properties
    if cut is not None:
        piece = cut.piece[p.solid[cut.sides].any(1) & (p.fixed[cut.sides] >= 0).any(1)]
        out[cut.i[piece], cut.j[piece]] = True
    return out


def _on_edges(system: System) -> Iterator[SurfacePlaces]:
    """Places on round and slanted surfaces, one for each piece of edge."""
    cut, p, raster = system.cut, system.properties, system.raster
    if cut is None:
        return
    for solid_side, sign in ((0, 1), (1, -1)):
        own, other, outward = cut.sides[:, solid_side], cut.sides[:, 1 - solid_side], sign * cut.normal
        i, j = solid_cells_of_pieces(system.layout, outward)
        on = p.solid[own] & (p.fixed[other] >= 0) & (p.fixed[other] < len(system.section.environments))
        on &= raster.owner[i + 1, j + 1] == own
        part, other, outward, i, j = own[on].astype(np.intp), other[on], outward[on], i[on], j[on]
        half = sign * cut.length[on, None] / 2 * np.column_stack([-outward[:, 1], outward[:, 0]])  # as outlines run
        ends = cut.middle[on, None] + np.stack([-half, half], 1)
        centre = np.column_stack([middles(raster.x)[i], middles(raster.y)[j]])
        distance = ((cut.middle[on] - centre) * outward).sum(1)  # below 0 where the centre lies beyond the edge
        distance = np.where(abs(distance) > 1e-9 * system.section.size, distance, 1e-9 * system.section.size)
        inner = (p.conductivity[part] * outward**2).sum(1) / distance
        film, cell = np.minimum(p.film[other], 1e250), i * raster.shape[1] + j
        area = edge_areas(system.layout, cut.middle[on], part, cut.length[on])
        yield alone(len(system.heat_inputs), cell, (part, p.fixed[other]), inner, film, (area, ends))


def _on_plates(system: System) -> Iterator[SurfacePlaces]:
    """Places on fronts and backs of plates, which have the temperatures of their cells."""
    names = [e.name for e in system.section.environments]
    for number, part in enumerate(system.section.parts if system.section.view == "plate" else ()):
        for name in dict.fromkeys((part.front, part.back)):
            if name is not None and system.properties.solid[number]:
                cell, volume = system.part_cells(number)
                numbers = np.full(len(cell), number), np.full(len(cell), names.index(name))
                ones, shape = np.ones(len(cell)), (volume / (part.thickness or 1.0), corners_of(system.raster, cell))
                yield alone(len(system.heat_inputs), cell, numbers, ones, 0 * ones, shape, face_on=True)


def corners_of(raster: Raster, cell: Integers) -> Array:
    """(K, 2, 2) m, the low and the high corner of cells by their flat numbers (K,)."""
    i, j = np.divmod(cell, raster.shape[1])
    low_and_high = np.arange(2)[:, None]
    return np.array([raster.x[i + low_and_high], raster.y[j + low_and_high]]).T


def alone(
    heat: int,
    cell: Integers,
    numbers: Numbers,
    inner: Array,
    film: Array,
    shape: tuple[Array, Array],
    face_on: bool = False,
) -> SurfacePlaces:
    """Places that belong to no run; `heat` is the number of heat terminals, `shape` their areas and ends."""
    nowhere, count = np.zeros(len(cell)), len(cell)
    watts = np.zeros((count, heat))
    return SurfacePlaces(
        (), np.empty(0, np.intp), cell, *numbers, inner, film, watts, nowhere, nowhere, np.full(count, -1), nowhere,
        np.full((count, 2), -1), *shape, np.full(count, face_on),
    )  # fmt: skip


def surface_factors(system: System, places: SurfacePlaces, factors: Array) -> tuple[Array, Array]:
    """(K,) each, by which factors `inner` and `film` change with each input `factors` (I,) times as large."""
    rows, factor_of_row = owner_rows(system.section, system.properties), np.append(factors, 1.0)
    film_row = len(system.section.parts) + places.terminal
    finite = np.isfinite([e.film for e in system.section.environments])[places.terminal]
    return factor_of_row[rows[places.owner]], np.where(finite, factor_of_row[film_row], 1.0)


# ---- between the middles of faces, and beyond the last ones ----------------------------------------------------------


def _tops(at: SurfacePlaces, t: Array) -> Iterator[tuple[Integers, Array]]:
    """Pairs and turning points of the parabolas through three neighbours of which the middle one is the extreme, be it
    together with one beside it."""
    k = np.nonzero((at.run[:-2] >= 0) & (at.run[:-2] == at.run[1:-1]) & (at.run[1:-1] == at.run[2:]))[0] + 1
    a, b = at.place[k - 1] - at.place[k], at.place[k + 1] - at.place[k]
    u, v = (t[k - 1] - t[k]) / a, (t[k + 1] - t[k]) / b
    turns = np.sign(t[k] - t[k - 1]) + np.sign(t[k] - t[k + 1]) != 0
    k, (a, b, u, v) = k[turns], (x[turns] for x in (a, b, u, v))
    curvature = (v - u) / (b - a)
    slope = u - curvature * a
    yield at.pair[k], t[k] - slope**2 / (4 * curvature)


def _ends(at: SurfacePlaces, t: Array) -> Iterator[tuple[Integers, Array]]:
    """Pairs and temperatures at both ends of the runs with three or more faces, except where another part goes on."""
    for pair, three, weight in at.ends_of_runs:
        yield pair, (weight * t[three]).sum(1)


def _meetings(at: SurfacePlaces, t: Array) -> Iterator[tuple[Integers, Array]]:
    """Pairs and temperatures where the surface goes straight on in another part."""
    count = int(at.meeting.max(initial=-1)) + 1
    flow, conductance = np.zeros((2, count))
    for end in (0, 1):
        k = np.nonzero(at.meeting[:, end] >= 0)[0]
        np.add.at(flow, at.meeting[k, end], at.along[k] * t[k])
        np.add.at(conductance, at.meeting[k, end], at.along[k])
    for end in (0, 1):
        k = np.nonzero(at.meeting[:, end] >= 0)[0]
        yield at.pair[k], flow[at.meeting[k, end]] / conductance[at.meeting[k, end]]
