"""Where the section meets its terminals: conductances to fixed temperatures, and the places where watts enter.

solid cell o----- half cell -----|-- film --> environment        a film on a face, or on a plate's front and back
solid cell o----- half cell -----|                               a held face
solid cell o----- half cell -----|----- half cell -----o         watts on a face: the face is a node; its watts are
                                 ^                               shared between both sides by their conductance
                               watts
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.cut_films import FilmConductances
from fdm.conduction.faces import Faces
from fdm.conduction.layout import Layout
from fdm.conduction.properties import PartProperties
from fdm.conduction.sub_cells import cells_beside, owners_beside
from fdm.errors import InputError
from fdm.grid.raster import middles
from fdm.section.model import UNITS, Section, Source

At = tuple[Integers, Integers]

ENDLESS = 1e200  # W/K from which two fixed terminals touch without a film between them


@dataclass(frozen=True)
class BoundaryConductances:
    """Conductances (W/K) to fixed terminals: of cells, and of the terminals among themselves."""

    cell: Integers  # (T,) flat numbers on (n, m)
    terminal: Integers  # (T,)
    value: Array  # (T,)
    direct: Array  # (F, F) symmetric


@dataclass(frozen=True)
class HeatInput:
    """Where one heat terminal's watts enter. Its mean temperature is read with the same weights."""

    cell: Integers  # flat numbers on (n, m)
    share: Array  # of the watts that enter each
    fixed: Array  # (F,) share that passes straight to fixed terminals
    own: float  # K/W by which the mean exceeds what the cells and terminals beside the faces give
    axis: int | None = None  # of the faces' normal; None where a part is heated
    at: At | None = None  # the faces, as indices
    face_share: Array | None = None


def connect(
    layout: Layout, faces: tuple[Faces, Faces], volume: Array, at_cuts: Sequence[FilmConductances]
) -> tuple[BoundaryConductances, tuple[HeatInput, ...], tuple[Integers, Integers]]:
    """Boundary conductances, heat inputs (in the order of section.heat_sources), and by axis the fixed terminal that
    holds each face, or -1. `volume` (n, m) m3 of the cells; `at_cuts` are the conductances of cut cells.

    Raises InputError where a source touches no solid, or two sources share a face.
    """
    section, p = layout.section, layout.properties
    found = _Found([], np.zeros((len(section.fixed_names),) * 2))
    for node, terminal, value in at_cuts:
        found.add_nodes(node, terminal, value, volume.size)
    holder = np.full(faces[0].area.shape, -1, np.intp), np.full(faces[1].area.shape, -1, np.intp)
    taken: dict[tuple[int, int, int], str] = {}
    heat_inputs: dict[str, HeatInput] = {}
    for source in section.sources:
        if source.segment is not None:
            axis, at = segment_faces(layout, source, faces)
            _take(taken, source, axis, at)
            if source.temperature is None:
                heat_inputs[source.name] = _segment_heat_input(layout, source, faces[axis], axis, at)
                continue
            holder[axis][at] = section.fixed_names.index(source.name)
            _hold(found, faces[axis], at, p, section.fixed_names.index(source.name))
        elif source.heat is not None:
            heat_inputs[source.name] = _part_heat_input(layout, source, volume)
    for axis in (0, 1):
        _films_on_faces(found, faces[axis], holder[axis], p)
    for node, number, value in front_and_back_films(layout):
        found.add_nodes(node, np.full(len(node), number), value, volume.size)
    cells, terminals, values = (np.concatenate(v) for v in zip(*found.of_cells))
    return (
        BoundaryConductances(cells, terminals, values, found.direct),
        tuple(heat_inputs[name] for name in section.heat_names),
        holder,
    )


def segment_faces(layout: Layout, source: Source, faces: tuple[Faces, Faces]) -> tuple[int, At]:
    """Axis and indices of the faces on which a segment touches a solid. Raises InputError where it touches none."""
    s, raster, p = source.segment, layout.raster, layout.properties
    assert s is not None
    axis, lines, across = (0, raster.x, raster.y) if s.vertical else (1, raster.y, raster.x)
    place, (low, high) = (s.x[0], s.y) if s.vertical else (s.y[0], s.x)
    on = int(np.argmin(abs(lines - place)))
    mids = middles(across)
    along = np.nonzero((mids > low) & (mids < high))[0]
    here = np.full(len(along), on)
    at = (here, along) if s.vertical else (along, here)
    size = max(np.ptp(raster.x), np.ptp(raster.y))
    owners = [own[at] for own in faces[axis].owner]
    touched = p.solid[owners[0]] | p.solid[owners[1]]
    if abs(lines[on] - place) > 1e-6 * size or not touched.any():
        in_air = len(along) > 0 and abs(lines[on] - place) <= 1e-6 * size and (p.fixed[owners[0]] >= 0).any()
        raise _touches_no_solid(layout.section, source, "lies in an environment and " if in_air else "")
    return axis, (at[0][touched], at[1][touched])


def _touches_no_solid(section: Section, source: Source, besides: str = "") -> InputError:
    assert source.segment is not None
    x, y = (
        f"[{a / UNITS[section.unit]:g}, {b / UNITS[section.unit]:g}]" for a, b in (source.segment.x, source.segment.y)
    )
    return InputError(
        f"source {source.name!r}, segment: x = {x}, y = {y} {section.unit} {besides}touches no solid; put it on a face "
        "of a solid part"
    )


def front_and_back_films(layout: Layout) -> Iterator[tuple[Integers, int, Array]]:
    """Plate view: for the front and the back of each part, the nodes that lose heat there, the number of the
    environment, and W/K from each node. A node is the flat number of a cell; or n m plus the number of a fixed
    terminal, where a part is held, or lies in a cut cell whose centre has that terminal's temperature."""
    section, raster, cut, p = layout.section, layout.raster, layout.cut, layout.properties
    area, inner = raster.area, raster.owner[1:-1, 1:-1]
    for number, part in enumerate(section.parts if section.view == "plate" else ()):
        for name in (part.front, part.back):
            if name is None or not (p.solid[number] or p.held[number]):
                continue
            own = (inner == number).astype(float)
            if cut is not None:
                own[cut.i, cut.j] = (cut.owner == number).mean((1, 2))
            if p.held[number]:
                node, part_area = np.array([inner.size + p.fixed[number]]), np.array([(own * area).sum()])
            else:
                node, part_area = layout.part_cells(number, area)
                on = np.nonzero((p.fixed[inner] >= 0) & (own > 0))
                node = np.append(node, inner.size + p.fixed[inner[on]])
                part_area = np.append(part_area, (own * area)[on])
            terminal = section.fixed_names.index(name)
            yield node, terminal, section.environments[terminal].film * part_area


@dataclass(frozen=True)
class _Found:
    """What `connect` has found so far."""

    of_cells: list[FilmConductances]
    direct: Array  # (F, F)

    def add(self, cell: Integers, terminal: Integers, value: Array) -> None:
        self.of_cells.append((cell, terminal, value))

    def add_nodes(self, node: Integers, terminal: Integers, value: Array, cells: int) -> None:
        """Add conductances of nodes: those from `cells` on are fixed terminals."""
        of_cell = node < cells
        self.add(node[of_cell], terminal[of_cell], value[of_cell])
        self.join(node[~of_cell] - cells, terminal[~of_cell], value[~of_cell])

    def join(self, a: Integers, b: Integers, value: Array) -> None:
        """Add conductances between fixed terminals. Where no film lies between two of them, their heat is left out: it
        does not pass the section."""
        if not len(value):
            return
        value = np.where((a != b) & (value < ENDLESS), value, 0.0)
        np.add.at(self.direct, (a, b), value)
        np.add.at(self.direct, (b, a), value)


def _take(taken: dict[tuple[int, int, int], str], source: Source, axis: int, at: At) -> None:
    """Record that a source has these faces. Raises InputError where another has one of them."""
    for i, j in zip(*(a.tolist() for a in at)):
        if (other := taken.setdefault((axis, i, j), source.name)) != source.name:
            raise InputError(
                f"source {source.name!r}, segment: it overlaps that of {other!r}; give every face one source"
            )


def _hold(found: _Found, f: Faces, at: At, p: PartProperties, terminal: int) -> None:
    """Faces held at a temperature: half a cell on either side."""
    for side in (0, 1):
        own, cell, g = f.owner[side][at], f.cell[side][at], f.conductance(side, at)
        solid, beside = p.solid[own], p.fixed[own] >= 0
        found.add(cell[solid], np.full(solid.sum(), terminal), g[solid])
        found.join(p.fixed[own[beside]], np.array(terminal), g[beside])


def _films_on_faces(found: _Found, f: Faces, holder: Integers, p: PartProperties) -> None:
    """Faces between a solid and a fixed terminal, and between a held part and another terminal."""
    edge = np.nonzero((f.owner[0] != f.owner[1]) & (holder < 0))
    owners = f.owner[0][edge], f.owner[1][edge]
    fixed, through = (p.fixed[owners[0]], p.fixed[owners[1]]), f.through[edge]
    for side in (0, 1):
        on = p.solid[owners[side]] & (fixed[1 - side] >= 0)
        found.add(f.cell[side][edge][on], fixed[1 - side][on], through[on])
    on = (p.held[owners[0]] & (fixed[1] >= 0)) | (p.held[owners[1]] & (fixed[0] >= 0))
    found.join(fixed[0][on], fixed[1][on], through[on])


def _part_heat_input(layout: Layout, source: Source, volume: Array) -> HeatInput:
    section = layout.section
    number = section.parts.index(section.part_named[source.part or ""])
    cell, carried = layout.part_cells(number, volume)
    if not len(cell):
        raise InputError(
            f"source {source.name!r}, part: {source.part!r} is wholly covered by later parts; "
            "draw it later or move the source"
        )
    return HeatInput(cell, carried / carried.sum(), np.zeros(len(section.fixed_names)), 0.0)


def _segment_heat_input(layout: Layout, source: Source, f: Faces, axis: int, at: At) -> HeatInput:
    p, fixed = layout.properties, np.zeros(len(layout.section.fixed_names))
    at, area = _solid_faces(layout, f, axis, at)
    if not len(area):  # a round or slanted void leaves none of it
        raise _touches_no_solid(layout.section, source)
    g = f.conductance(0, at), f.conductance(1, at)
    share = area / area.sum()
    cells, shares = [], []
    for side in (0, 1):
        own, part = f.owner[side][at], share * g[side] / (g[0] + g[1])
        cells.append(f.cell[side][at][p.solid[own]])
        shares.append(part[p.solid[own]])
        beside = p.fixed[own] >= 0
        np.add.at(fixed, p.fixed[own[beside]], part[beside])
    return HeatInput(
        np.concatenate(cells), np.concatenate(shares), fixed, float(np.sum(share**2 / (g[0] + g[1]))), axis, at, share
    )


def _solid_faces(layout: Layout, f: Faces, axis: int, at: At) -> tuple[At, Array]:
    """Those of a segment's faces through which watts reach a solid, and the area (m2) of each on which they do: where a
    round or slanted edge crosses the segment, the solid rows of a face alone."""
    area = f.area[at]
    if layout.cut is None:
        return at, area
    p, number = layout.properties, layout.cut_number
    crossed = np.nonzero(np.any([number[ci + 1, cj + 1] >= 0 for ci, cj in cells_beside(axis, *at)], 0))[0]
    before, after = owners_beside(layout, axis, at[0][crossed], at[1][crossed])
    area[crossed] *= (p.solid[before] | p.solid[after]).mean(1)
    keeps = np.any([p.solid[f.owner[side][at]] & (f.conductance(side, at) > 0) for side in (0, 1)], 0)
    on = keeps & (area > 0)
    return (at[0][on], at[1][on]), area[on]
