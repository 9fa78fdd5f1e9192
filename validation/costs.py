"""What budgets, sensitivities and first-order uncertainties cost, beside one solve of the same section; and plates in
layers, beside one plain fast diagonalisation.

`python -m validation.costs` prints, for every demo section, the processor time of one solve, and of what is asked
beside it with its share of that; the best of several rounds. Then, for some plates, that of their linear solves on all
grids, of a whole solve, and of one on known grids, as a study's designs are; each also over the time that a bare fast
diagonalisation of a plate with 124 000 cells takes in the same run, so that processors and days can be compared.
`--plates` prints the plates alone.
"""

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table
from scipy.linalg import eigh

from fdm.cabinet.reader import is_cabinet
from fdm.conduction.stack.plate import StackSystem
from fdm.inference.budget import budgets
from fdm.inference.section_reanalysis import section_reanalysis
from fdm.inference.sensitivity import sensitivities
from fdm.inference.uncertainty import uncertainty
from fdm.section.model import Disc, Material, Part, Rectangle, Section
from fdm.section.reader import read_section
from fdm.solving.solution import Solution
from fdm.solving.steady import solve
from validation.sinks import CENTRED, TWO, sink

ROUNDS = 5
YARDSTICK = (94, 66, 20)  # cells along x and y, and layers
GEOMETRIES = Path(__file__).parents[1] / "geometries"


def _seconds(job: Callable[[], object]) -> float:
    start = time.process_time()
    job()
    return time.process_time() - start


def costs(path: Path) -> tuple[float, float, float, float]:
    """Seconds of a solve, of budgets, of sensitivities, and of uncertainties after these, as the command line goes."""
    section, solved = read_section(path), list[Solution]()
    whole = _seconds(lambda: solved.append(solve(section)))
    model = section_reanalysis(path, solution=solved[0])
    return (
        whole,
        _seconds(lambda: budgets(solved[0])),
        _seconds(lambda: sensitivities(solved[0], model.adjoint)),
        _seconds(lambda: uncertainty(model)),
    )


def yardstick() -> float:
    """Seconds of a plate with one source, inverted directly by fast diagonalisation, and nothing else."""
    n, m, layers = YARDSTICK
    source = np.zeros((n, m))
    source[n // 3 : 2 * n // 3, m // 3 : 2 * m // 3] = 1 / (n * m)

    def modes(count: int) -> tuple[np.ndarray, np.ndarray]:
        between = np.full(count - 1, float(count))
        matrix = np.diag(np.append(between, 0) + np.append(0, between)) - np.diag(between, 1) - np.diag(between, -1)
        values, vectors = eigh(matrix, np.eye(count) / count)
        return values, vectors

    def inverted() -> None:
        (of_x, x), (of_y, y) = modes(n), modes(m)
        watts = x.T @ source @ y
        diagonal = of_x[:, None, None] + of_y[None, :, None] + np.full(layers, 3.0)
        pivot = diagonal[..., -1]
        for k in range(layers - 2, -1, -1):
            pivot = diagonal[..., k] - 1 / pivot
        x @ (watts / pivot) @ y.T

    return min(_seconds(inverted) for _ in range(ROUNDS))


def plates() -> dict[str, Section]:
    """Uniform plates, and such that are not."""
    plain = sink(0.006, [CENTRED])
    (plate,), (fins,), part = plain.parts, plain.fins, Rectangle((0.0, 0.1), (0.03, 0.15))
    steel, copper = Material("steel", (15.0, 15.0)), Material("copper", (390.0, 390.0))

    def beside(shape: Rectangle | Disc, material: Material | None) -> Section:
        other = Part("other", (shape,), material, void=material is None, thickness=material and 0.006)
        names = ("plate", "other") if material else ("plate",)
        return replace(plain, parts=(plate, other), fins=(replace(fins, parts=names),))

    return {
        "uniform": plain,
        "uniform, two sources": sink(0.006, TWO),
        "fins on a part": replace(plain, fins=(replace(fins, rectangle=part),)),
        "inlay of copper": beside(Rectangle((0.01, 0.03), (0.1, 0.13)), copper),
        "inlay of steel": beside(Rectangle((0.0, 0.02), (0.11, 0.13)), steel),
        "round inlay of steel": beside(Disc((0.02, 0.03), 0.01), steel),
        "hole": beside(Rectangle((0.01, 0.03), (0.02, 0.04)), None),
        "round hole": beside(Disc((0.02, 0.03), 0.01), None),
    }


def plate_costs(section: Section) -> tuple[float, float, float]:
    """Seconds of the linear solves on three grids, of a whole solve, and of one on the grids of another."""
    solution = solve(section)
    like = replace(section, parts=tuple(replace(p, thickness=p.thickness and 1.2 * p.thickness) for p in section.parts))
    systems = [g.system for g in solution.grids if isinstance(g.system, StackSystem)]

    def linear() -> None:
        for system in systems:
            replace(system).unit_fields()  # of a system that has no factors yet

    return _seconds(linear), _seconds(lambda: solve(section)), _seconds(lambda: solve(like, like=solution))


def print_plates(console: Console) -> None:
    headings = ("plate", "linear solves", "solve", "solve on known grids")
    table, times, unit = Table(title="Processor time, ms, and over the yardstick"), {}, float("inf")
    for heading in headings:
        table.add_column(heading, justify="left" if heading == "plate" else "right")
    for name, section in plates().items():
        found = []
        for _ in range(ROUNDS):  # in turns
            unit = min(unit, yardstick())
            found.append(plate_costs(section))
        times[name] = [min(some) for some in zip(*found)]
    for name, some in times.items():
        table.add_row(name, *(f"{1e3 * t:.1f}, {t / unit:.1f}" for t in some))
    console.print(table)
    console.print(f"the yardstick, {' x '.join(map(str, YARDSTICK))} cells: {1e3 * unit:.1f} ms")


def main() -> None:
    console = Console(width=None if sys.stdout.isatty() else 100)
    if "--plates" not in sys.argv:
        print_sections(console)
    print_plates(console)


def print_sections(console: Console) -> None:
    table = Table(title="Processor time, ms, and share of one solve")
    for heading in ("section", "solve", "budgets", "sensitivities", "uncertainty", "together"):
        table.add_column(heading, justify="left" if heading == "section" else "right")
    for path in sorted(GEOMETRIES.glob("*.toml")):
        if not is_cabinet(path):
            whole, *more = (min(times) for times in zip(*(costs(path) for _ in range(ROUNDS))))
            shown = (f"{1e3 * t:.1f}, {t / whole:.0%}" for t in (*more, sum(more)))
            table.add_row(path.stem, f"{1e3 * whole:.0f}", *shown)
    console.print(table)


if __name__ == "__main__":
    main()
