"""What refinement buys: cells and time against error for three ways to refine one grid, on five sections.

`python -m validation.refinement` prints, for uniform grids, for fixed grading from every edge, and for goal-oriented
refinement, the cells and the time that one grid needs for an error of the coupling or resistance below 1, 0.3, 0.1 and
0.03 %, without extrapolation. True values are those of `validation.cases`, and for the contrast of 1 : 10 000 the
extrapolated value of a far finer grid.
"""

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from rich.console import Console
from rich.table import Table

from fdm.accuracy.refinement import refined
from fdm.answers.kinds import asked_of, solved
from fdm.conduction.network import NetworkValues
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import Array, first_lines, halved
from fdm.section.model import Border, Environment, Section
from fdm.solving.steady import solve
from validation.cases import CASES, box, solid

ERRORS = (1e-2, 3e-3, 1e-3, 3e-4)
MOST_CELLS = 1_000_000
Lines = tuple[Array, Array]


@dataclass(frozen=True)
class Goal:
    """One number of a section, and its true value."""

    name: str
    section: Section
    read: Callable[[NetworkValues], float]
    true: float


def goals() -> list[Goal]:
    """One number of each of five sections."""
    by_name = {case.name: case for case in CASES}

    def coupling(n: NetworkValues) -> float:
        return float(n.coupling[0, 1])

    def resistance(n: NetworkValues) -> float:
        return float(n.resistance[0, 0])

    out = []
    for name, read in (
        ("sheet, web and wood in insulation", coupling),
        ("square channel, W/w = 4", coupling),
        ("strip on channel 0.1, 0.1, 1", resistance),
        ("disc on disc 0.2, 0.2, 0.0125", resistance),
    ):
        section = by_name[name].section
        out.append(Goal(name, section, read, _fine(section, read)))
    stud = stud_wall()
    return [*out, Goal("metal stud in foam, 1 : 10 000", stud, coupling, _fine(stud, coupling))]


def stud_wall() -> Section:
    """A thin metal channel that reaches through foam but for a gap, conductivities 1 : 10 000."""
    parts = (
        solid("foam", 0.02, box(0, 0.3, 0, 0.1)),
        solid("web", 200, box(0.1, 0.102, 0, 0.09)),
        solid("flange", 200, box(0.1, 0.14, 0.088, 0.09)),
    )
    air = (Environment("in", 20, 8), Environment("out", 0, 25))
    return Section("metal stud in foam", parts, air, border=Border(bottom="in", top="out"))


def _fine(section: Section, read: Callable[[NetworkValues], float]) -> float:
    return read(solve(section, target=1e-5, max_cells=1_500_000).network.values)


def uniform(section: Section) -> Iterator[Lines]:
    """Cells as equal as lines through all edges allow, halved again and again."""
    edges = [_edges_of(lines, section, axis) for axis, lines in enumerate(first_lines(section))]
    size = max(np.ptp(e) for e in edges) / 8
    while True:
        yield tuple(  # type: ignore[misc]
            np.concatenate(
                [np.linspace(a, b, max(1, round((b - a) / size)), endpoint=False) for a, b in pairwise(e)] + [e[-1:]]
            )
            for e in edges
        )
        size /= 2


def _edges_of(lines: Array, section: Section, axis: int) -> Array:
    """The lines that edges and sources ask for, without those that grading adds."""
    at = [v for p in section.parts for s in p.shapes for v in s.outline()[:, axis]]
    at += [v for s in section.sources if s.segment for v in (s.segment.x if axis == 0 else s.segment.y)]
    return np.unique(lines[np.unique(abs(lines[:, None] - np.array(at)).argmin(0))])


def graded(section: Section) -> Iterator[Lines]:
    """Fixed geometric grading from every edge, halved again and again."""
    x, y = first_lines(section)
    while True:
        yield x, y
        x, y = halved(x), halved(y)


def goal_oriented(section: Section) -> Iterator[Lines]:
    """Split where the asked numbers feel it, to ever smaller estimated errors."""
    grid = solved(conduction_system(section, *first_lines(section)))
    asked = asked_of(grid.system)
    first, aim = asked.values(grid.answers), 0.2
    while True:
        x, y = refined(grid, asked, first, aim, MOST_CELLS)
        yield x, y
        grid = solved(conduction_system(section, x, y))
        aim /= 2


def main() -> int:
    console = Console(width=None if sys.stdout.isatty() else 150)
    table = Table(title="Cells and time of one grid for an error below ...; - where a million cells do not reach it")
    table.add_column("section")
    table.add_column("grid")
    for error in ERRORS:
        table.add_column(f"{100 * error:g} %", justify="right")
    for goal in goals():
        for k, ways in enumerate((uniform, graded, goal_oriented)):
            found: dict[float, str] = {}
            for x, y in ways(goal.section):
                cells = (len(x) - 1) * (len(y) - 1)
                if cells > MOST_CELLS or len(found) == len(ERRORS):
                    break
                start = time.perf_counter()
                value = goal.read(solved(conduction_system(goal.section, x, y)).answers.network)
                spent = time.perf_counter() - start
                for error in ERRORS:
                    if abs(value / goal.true - 1) <= error:
                        found.setdefault(error, f"{cells} in {1e3 * spent:.0f} ms")
            name = ways.__name__.replace("_", "-")
            table.add_row(goal.name if k == 0 else "", name, *(found.get(e, "-") for e in ERRORS), end_section=k == 2)
    console.print(table)
    return 0


if __name__ == "__main__":
    sys.exit(main())
