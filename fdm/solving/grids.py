"""The three grids of a solve: where they begin, how they follow from each other, and each of them solved."""

import math
from collections.abc import Callable, Iterator, Sequence
from time import monotonic

from fdm.answers.grid import SolvedGrid
from fdm.answers.kinds import solved
from fdm.answers.quantity import Array
from fdm.answers.units import time_unit
from fdm.conduction.protocol import ConductionSystem
from fdm.conduction.systems import conduction_system
from fdm.errors import InputError
from fdm.grid.layers import halved_layers
from fdm.grid.lines import first_lines, halved
from fdm.grid.sheets import follow_thin
from fdm.section.model import Section
from fdm.solving.check import refuse_large
from fdm.solving.solution import ONE, Solution

SLOWER = 4.8  # times as long as the grid before a grid takes, with four times the cells: 4.1 to 5.5 above a second
WORTH_SAYING = 5.0  # s, where it is told beforehand

Progress = Callable[[str], None]
Lines = tuple[Array, ...]  # along x and y; and between layers, where there are some


def grids_again(like: Solution | None, section: Section, max_cells: int) -> tuple[SolvedGrid, ...]:
    """The grids of a solved section that can be used again; none where its drawing differs, or the grids are too
    fine."""
    if like is None or like.section.plan != section.plan or like.system.cells > max_cells:
        return ()
    if section.layered and like.grid.through == ONE:  # this one may not be as thin
        return ()
    return like.grids


def starting_lines(section: Section, max_cells: int) -> Lines:
    x, y, *layers = first_lines(section)
    return *follow_thin(section, x, y, max_cells // 16), *layers


def refuse_large_grids(section: Section, lines: Lines, max_cells: int, cells: int | None) -> None:
    """Raise InputError where the finest of three grids, of which the first has these lines, is too large."""
    finest = 4 ** len(lines) * math.prod(shape_of(lines))
    while cells is not None and finest < cells:
        finest *= 2 ** len(lines)
    refuse_large(section, finest, max_cells if cells is None else finest)


def three_grids(lines: Lines, cells: int | None) -> list[Lines]:
    """Three grids, each with cells half as wide as the last one's. The first has these lines; or, with `cells`, the
    last is the first one of this sequence that has so many cells."""
    grids = [lines]
    while len(grids) < 3 or (cells is not None and math.prod(shape_of(grids[-1])) < cells):
        x, y, *z = grids[-1]
        grids.append((halved(x), halved(y), *map(halved_layers, z)))
    return grids[-3:]


def solved_grids(
    section: Section, grids: Sequence[Lines], known: Sequence[SolvedGrid], progress: Progress | None
) -> Iterator[SolvedGrid]:
    """The section solved on each grid. The first of the `known` grids is one of the section itself, taken where it has
    the coarsest lines; the others are of a section drawn alike, and only spare laying the parts again. `progress` is
    told how long a grid may take, from the grid before; how many grids there will be is not known."""
    seconds = 0.0  # that the grid before has taken
    for k, lines in enumerate(grids):
        shape, start = shape_of(lines), monotonic()
        if progress:
            slower = SLOWER ** (len(shape) / 2)
            unit, length = time_unit(slower * seconds)
            about = f", about {slower * seconds / length:.2g} {unit}" if slower * seconds >= WORTH_SAYING else ""
            progress(f"solving {' x '.join(map(str, shape))} cells{about}")
        same = k == 0 and shape_of(known[0].system.lines) == shape
        grid = known[0] if same else _solved(conduction_system(section, *lines, like=[g.system for g in known[1:]]))
        seconds = monotonic() - start
        yield grid


def _solved(system: ConductionSystem) -> SolvedGrid:
    try:
        return solved(system)
    except InputError:
        system.refuse_unsolvable()  # a part may hang loose that the coarsest cells have tied to others
        raise


def shape_of(lines: Lines) -> tuple[int, ...]:
    """Cells along x and y, and layers."""
    return tuple(len(at) - 1 for at in lines)
