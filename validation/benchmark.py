"""Time and error of this solver and of quadratic finite elements on the same sections, at equal error.

`python -m validation.benchmark`. For each section and target the solver runs as a user would run it (refinement, three
grids and bands included); then finite elements run on finer and finer graded meshes until their error is no larger. The
finite elements state no error of their own: that would take them a second mesh. Each time is the best of three runs in
this process.
"""

import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from rich.console import Console
from rich.table import Table

from fdm import solve
from fdm.network.answers import NetworkValues
from fdm.section.model import Section
from validation import formulas
from validation.cases import CASES, Case
from validation.cross_checks import bolt_with_washers, finned_plate, half_open_joint
from validation.finite_elements import network

Number = Callable[[NetworkValues], float]
Result = TypeVar("Result")

TARGETS = (0.005, 0.0005)
MESHES = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 16)
REFERENCE = 20  # the mesh whose answer is taken for true where there is no closed form


@dataclass(frozen=True)
class Contest:
    name: str
    section: Section
    number: Number
    true: float | None  # None: from the finest finite elements


def contests() -> tuple[Contest, ...]:
    def case(start: str) -> Case:
        return next(c for c in CASES if c.name.startswith(start))

    def coupling(values: NetworkValues) -> float:
        return float(values.coupling[0, 1])

    def own(values: NetworkValues) -> float:
        return float(values.impedance[0, 0])

    disc, strip = case("disc on disc 0.2"), case("strip on channel 0.1")
    half_strip = 2 * (formulas.strip_on_channel(0.1, 0.1, 1)[0] / 160 + (0.005 / 160 + 0.05 / 160) / 0.1)
    return (
        Contest("strip on channel", strip.section, own, half_strip),
        Contest("disc on disc", disc.section, own, disc.quantities[2].true),
        Contest("edge of two walls", case("edge").section, coupling, 4 + formulas.edge_shape_factor(1, 1)),
        Contest("ISO 10211 case 2", CASES[1].section, coupling, None),
        Contest("finned plate, two sources", finned_plate(), own, None),
        Contest("joint that ends inside", half_open_joint(), coupling, None),
        Contest("bolt with washers", bolt_with_washers(), coupling, None),
    )


def timed(job: Callable[[], Result], runs: int = 3) -> tuple[float, Result]:
    """Best wall time in seconds, and the result."""
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        result = job()
        times.append(time.perf_counter() - start)
    return min(times), result


def rows(contest: Contest) -> Iterator[tuple[str, ...]]:
    true = contest.true if contest.true is not None else contest.number(network(contest.section, REFERENCE))

    def off(values: NetworkValues) -> float:
        return abs(contest.number(values) / true - 1)

    for target in TARGETS:
        seconds, solution = timed(partial(solve, contest.section, target))
        error, band = off(solution.network.values), contest.number(solution.network.band) / abs(true)
        n, m = solution.grid.shape
        other: tuple[str, ...] = ("never", "", "", "")
        for cells in MESHES:
            if off(network(contest.section, cells)) <= max(error, 1e-9):
                elements, values = timed(partial(network, contest.section, cells))
                other = (str(cells), f"{elements * 1e3:.0f}", f"{off(values):.1e}", f"{elements / seconds:.1f}")
                break
        yield contest.name, f"{target:.2%}", f"{n} x {m}", f"{seconds * 1e3:.0f}", f"{error:.1e}", f"{band:.1e}", *other


def main() -> None:
    table = Table(title="Finite differences against quadratic finite elements at equal error (relative)")
    table.add_column("section")
    for heading in ("target", "finest grid", "ms", "error", "stated band", "FE cells per half gap", "FE ms", "FE error", "FE time / ours"):
        table.add_column(heading, justify="right")
    for contest in contests():
        found = list(rows(contest))
        for k, row in enumerate(found):
            table.add_row(*row, end_section=k + 1 == len(found))
    Console(width=None if sys.stdout.isatty() else 150).print(table)


if __name__ == "__main__":
    main()
