"""A study as a table to read: a row a design, each number rounded to its band."""

from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.table import Table

from fdm.answers.rounding import with_band
from fdm.answers.units import shown_unit
from fdm.studies.paths import found, parts_of, unit
from fdm.studies.result import Study

MOST_ROWS, MOST_COLUMNS = 40, 4


def print_study(study: Study, console: Console, answers: Sequence[str] | None = None) -> None:
    """The designs in their order, with the asked answers; with those a builder looks at first, if left out. Of more
    than 40 designs the first ones."""
    names = study.varied or study.names
    paths = [found(a, study.known) for a in answers] if answers else study.main[:MOST_COLUMNS]
    paths = list(dict.fromkeys(p for p in paths if p.removeprefix("let.") not in names))  # these have a column already
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in names:
        table.add_column(name, justify="right")
    columns = []
    for path in paths:
        symbol, size = shown_unit(unit(path), study.values(path))
        table.add_column("\n".join([*parts_of(path), symbol]), justify="right")
        columns.append((study.values(path) / size, study.bands(path) / size))
    for k, design in enumerate(study.designs[:MOST_ROWS]):
        inputs = [f"{design.values[n]:.6g}" for n in names]
        numbers = ["failed" if design.message else with_band(float(v[k]), float(b[k])) for v, b in columns]
        table.add_row(*inputs, *numbers, style="dim" if design.message else None)
    console.print(table, highlight=False)
    if (more := len(study.designs) - MOST_ROWS) > 0:
        console.print(f"and {more} more designs in the table written", highlight=False)
