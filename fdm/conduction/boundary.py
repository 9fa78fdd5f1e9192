"""Where the section meets its terminals: conductances to fixed temperatures, and where watts enter."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from fdm.conduction.faces import Array, Faces, Integers, PartProperties
from fdm.errors import InputError
from fdm.grid.raster import Raster
from fdm.section.model import UNITS, Section, Source

At = tuple[Integers, Integers]


@dataclass(frozen=True)
class BoundaryConductances:
    """Conductances (W/K) to fixed terminals: of cells, and of the terminals among themselves."""

    cell: Integers  # (T,) flat numbers on (n, m)
    terminal: Integers  # (T,)
    value: Array  # (T,)
    direct: Array  # (F, F) symmetric
    around_cuts: int  # so many of them, the first, are those of cut cells


@dataclass(frozen=True)
class HeatInput:
    """Where one heat terminal's watts enter, and so, turned around, how its mean temperature is read."""

    cell: Integers  # flat numbers on (n, m)
    share: Array  # of the watts that enter each
    fixed: Array  # (F,) share that passes straight to fixed terminals
    own: float  # K/W of the mean above what the cells and terminals beside the faces give
    axis: int | None = None  # of the faces' normal; None where a part is heated
    at: At | None = None  # the faces, as indices
    face_share: Array | None = None


def segment_faces(
    section: Section, source: Source, raster: Raster, p: PartProperties, faces: tuple[Faces, Faces]
) -> tuple[int, At]:
    """Axis and indices of the faces on which a segment touches a solid. Raises InputError where it touches none."""
    s = source.segment
    assert s is not None
    axis, lines, across = (0, raster.x, raster.y) if s.vertical else (1, raster.y, raster.x)
    place, (low, high) = (s.x[0], s.y) if s.vertical else (s.y[0], s.x)
    on = int(np.argmin(abs(lines - place)))
    mids = (across[1:] + across[:-1]) / 2
    along = np.nonzero((mids > low) & (mids < high))[0]
    here = np.full(len(along), on)
    at = (here, along) if s.vertical else (along, here)
    size = max(np.ptp(raster.x), np.ptp(raster.y))
    owners = [own[at] for own in faces[axis].owner]
    touched = p.solid[owners[0]] | p.solid[owners[1]]
    if abs(lines[on] - place) > 1e-6 * size or not touched.any():
        u = UNITS[section.unit]
        x, y = (f"[{low / u:g}, {high / u:g}]" for low, high in (s.x, s.y))
        in_air = len(along) > 0 and abs(lines[on] - place) <= 1e-6 * size and (p.fixed[owners[0]] >= 0).any()
        raise InputError(
            f"source {source.name!r}, segment: x = {x}, y = {y} {section.unit} "
            f"{'lies in an environment and ' if in_air else ''}touches no solid; put it on a face of a solid part"
        )
    return axis, (at[0][touched], at[1][touched])


def connect(
    section: Section,
    raster: Raster,
    p: PartProperties,
    faces: tuple[Faces, Faces],
    volume: Array,
    part_cells: Callable[[int, Array], tuple[Integers, Array]],
    cut_ties: Sequence[tuple[Integers, Integers, Array]],
    films: Iterable[tuple[Integers, int, Array]],
) -> tuple[BoundaryConductances, tuple[HeatInput, ...], tuple[Integers, Integers]]:
    """Boundary conductances, heat inputs (in the order of section.heat_sources), and by axis the fixed terminal that
    holds a face, or -1.

    `part_cells(number, measure)` gives the cells that carry a part and their share of a measure (n, m); `cut_ties` are
    those that cut cells have already, `films` those of the plate's front and back.

    Raises InputError where a source touches no solid, or two sources share a face.
    """
    fixed_count = len(section.fixed_names)
    direct = np.zeros((fixed_count, fixed_count))
    boundary = list(cut_ties)
    holder = tuple(np.full(f.area.shape, -1, np.intp) for f in faces)
    taken: dict[tuple[int, int, int], str] = {}
    heat_inputs: dict[str, HeatInput] = {}

    def tie(cell: Integers, terminal: int, value: Array) -> None:
        boundary.append((cell, np.full(len(cell), terminal), value))

    def join(a: Integers, b: Integers, value: Array) -> None:
        """Fixed terminals that touch; two without a film between them exchange no heat that matters to the section."""
        if not len(value):
            return
        value = np.where((a != b) & (value < 1e200), value, 0.0)
        np.add.at(direct, (a, b), value)
        np.add.at(direct, (b, a), value)

    for source in section.sources:
        if source.segment is not None:
            axis, at = segment_faces(section, source, raster, p, faces)
            for i, j in zip(*(a.tolist() for a in at)):
                if (other := taken.setdefault((axis, i, j), source.name)) != source.name:
                    raise InputError(
                        f"source {source.name!r}, segment: it overlaps that of {other!r}; give every face one source"
                    )
            f = faces[axis]
            if source.temperature is not None:
                terminal = section.fixed_names.index(source.name)
                holder[axis][at] = terminal
                for side in (0, 1):
                    own, cell, g = f.owner[side][at], f.cell[side][at], f.conductance(side, at)
                    tie(cell[p.solid[own]], terminal, g[p.solid[own]])
                    beside = p.fixed[own] >= 0
                    join(p.fixed[own[beside]], np.array(terminal), g[beside])
            else:
                heat_inputs[source.name] = _segment_heat_input(f, axis, at, p, fixed_count)
        elif source.heat is not None:
            number = section.parts.index(section.part_named[source.part or ""])
            cell, carried = part_cells(number, volume)
            if not len(cell):
                raise InputError(
                    f"source {source.name!r}, part: {source.part!r} is wholly covered by later parts; "
                    "draw it later or move the source"
                )
            heat_inputs[source.name] = HeatInput(cell, carried / carried.sum(), np.zeros(fixed_count), 0.0)

    for axis in (0, 1):
        f = faces[axis]
        edge = np.nonzero((f.owner[0] != f.owner[1]) & (holder[axis] < 0))
        owners = f.owner[0][edge], f.owner[1][edge]
        fixed, through = (p.fixed[owners[0]], p.fixed[owners[1]]), f.through[edge]
        for side in (0, 1):
            on = p.solid[owners[side]] & (fixed[1 - side] >= 0)
            boundary.append((f.cell[side][edge][on], fixed[1 - side][on], through[on]))
        on = (p.held[owners[0]] & (fixed[1] >= 0)) | (p.held[owners[1]] & (fixed[0] >= 0))
        join(fixed[0][on], fixed[1][on], through[on])
    for node, terminal, value in films:
        of_cell = node < volume.size
        tie(node[of_cell], terminal, value[of_cell])
        join(node[~of_cell] - volume.size, np.array(terminal), value[~of_cell])
    cells, terminals, values = (np.concatenate(v) for v in zip(*boundary))
    return (
        BoundaryConductances(cells, terminals, values, direct, sum(len(tie[2]) for tie in cut_ties)),
        tuple(heat_inputs[name] for name in section.heat_names),
        (holder[0], holder[1]),
    )


def _segment_heat_input(f: Faces, axis: int, at: At, p: PartProperties, fixed_count: int) -> HeatInput:
    g = f.conductance(0, at), f.conductance(1, at)
    share = f.area[at] / f.area[at].sum()
    fixed = np.zeros(fixed_count)
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
