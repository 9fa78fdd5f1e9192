"""What budgets, sensitivities and first-order uncertainties cost, beside one solve of the same section.

`python -m validation.costs` prints, for every demo section, the processor time of one solve, and of what is asked
beside it with its share of that; the best of several rounds.
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path

from rich.console import Console
from rich.table import Table

from fdm.cabinet.reader import is_cabinet
from fdm.inference.section_reanalysis import section_reanalysis
from fdm.inference.sensitivity import sensitivities
from fdm.inference.shares import budgets
from fdm.inference.uncertainty import uncertainty
from fdm.section.reader import read_section
from fdm.solving.solution import Solution
from fdm.solving.steady import solve

ROUNDS = 5
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


def main() -> None:
    table = Table(title="Processor time, ms, and share of one solve")
    for heading in ("section", "solve", "budgets", "sensitivities", "uncertainty", "together"):
        table.add_column(heading, justify="left" if heading == "section" else "right")
    for path in sorted(GEOMETRIES.glob("*.toml")):
        if not is_cabinet(path):
            whole, *more = (min(times) for times in zip(*(costs(path) for _ in range(ROUNDS))))
            shown = (f"{1e3 * t:.1f}, {t / whole:.0%}" for t in (*more, sum(more)))
            table.add_row(path.stem, f"{1e3 * whole:.0f}", *shown)
    Console(width=None if sys.stdout.isatty() else 100).print(table)


if __name__ == "__main__":
    main()
