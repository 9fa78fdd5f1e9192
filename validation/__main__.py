"""Solve every published case and every cross-check; print one table; exit with 1 where one is missed."""

import sys
import time
from collections.abc import Callable
from functools import partial

from rich.console import Console
from rich.progress import track
from rich.table import Table

from fdm import solve
from validation import formulas
from validation.cases import BOARD, BOARD_FILM, BOARD_K, CASES, PATCH, Outcome, outcomes, patch_on_plate, resistance
from validation.cross_checks import compare, cross_checks


def _signed(value: float | None) -> str:
    return "" if value is None else f"{value:+.1e}"


def _row(outcome: Outcome) -> tuple[str, ...]:
    q = outcome.quantity
    published = "" if q.published is None else f"{q.published[0]:g} +-{q.published[1]:g}"
    true = "" if q.true is None else f"{q.true:.6g}"
    verdict = ("inside" if outcome.inside else "[bold red]MISSED[/]") + ("" if outcome.narrow else " [bold red]WIDE[/]")
    value, band = f"{outcome.value:.6g}", f"{outcome.band:.1e}"
    return q.name, published, true, value, band, _signed(outcome.error), q.unit, verdict


def _jobs() -> list[tuple[str, str, Callable[[], list[Outcome]]]]:
    published = [(c.name, c.source, partial(lambda c: outcomes(c, solve(c.section)), c)) for c in CASES]
    crossed = [
        (c.name, "finite elements", partial(lambda c: compare(c, solve(c.section).network), c)) for c in cross_checks()
    ]
    return [*published, *crossed]


def plate_view_table() -> Table:
    """How far the plate view, one temperature through the thickness, is from the three-dimensional series."""
    table = Table(title=f"Plate view against the 3-D series: {PATCH[0] * 1e3:g} mm square on {BOARD[0] * 1e3:g} mm "
                  f"square, k = {BOARD_K:g}, h = {BOARD_FILM:g}, mean resistance above the air")  # fmt: skip
    for heading in ("thickness, mm", "h t/k", "plate view, K/W", "3-D series, K/W", "plate view is off by"):
        table.add_column(heading, justify="right")
    for t in (0.25e-3, 0.5e-3, 1e-3, 2e-3, 4e-3, 8e-3):
        computed, _ = resistance("source", "source", 1 / 4)(solve(patch_on_plate(t)))
        spread, _ = formulas.rectangle_on_plate(PATCH, BOARD, t, BOARD_K, BOARD_FILM)
        true = spread + (t / BOARD_K + 1 / BOARD_FILM) / (BOARD[0] * BOARD[1])
        found = f"{computed:.5g}", f"{true:.5g}", f"{computed / true - 1:+.1%}"
        table.add_row(f"{t * 1e3:g}", f"{BOARD_FILM * t / BOARD_K:g}", *found)
    return table


def main() -> int:
    console = Console(width=None if sys.stdout.isatty() else 150)
    start = time.perf_counter()
    table = Table(title="Published cases, and cross-checks with independent finite elements")
    for heading in ("case", "source", "quantity"):
        table.add_column(heading, overflow="fold")
    for heading in ("published", "true", "computed", "band", "error"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("unit")
    table.add_column("verdict", no_wrap=True)
    missed = wide = total = 0
    for name, source, job in track(_jobs(), "solving", console=console, transient=True):
        for k, outcome in enumerate(found := job()):
            table.add_row(*((name, source) if k == 0 else ("", "")), *_row(outcome), end_section=k + 1 == len(found))
            missed += not outcome.inside
            wide += not outcome.narrow
            total += 1
    console.print(table)
    console.print(
        f"{total - missed} of {total} quantities inside the band, {total - wide} bands no wider than 0.5 % or 0.02 K; "
        f"{time.perf_counter() - start:.1f} s"
    )
    console.print(plate_view_table())
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
