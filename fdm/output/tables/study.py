"""A study as a table to read: one row for each design, each number rounded to its band."""

from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from fdm.answers.quantity import Quantity, names_in
from fdm.answers.rounding import with_band
from fdm.answers.units import shown_unit
from fdm.studies.result import Study

MOST_COLUMNS = 4
UNBOUNDED = 10_000  # characters: wider than any table


def print_study(
    study: Study, console: Console, answers: Sequence[Quantity | str] | None = None, most_rows: int = 40
) -> None:
    """The designs in their order, with the asked answers; with those a builder looks at first, if left out. Of more
    than `most_rows` designs the first ones, and of answers as many as the console has room for."""
    names = study.varied or study.names
    shown = [study.find(a) for a in answers] if answers else study.main[:MOST_COLUMNS]
    have_columns = {("let", name) for name in names}
    shown = list(dict.fromkeys(q for q in shown if q.path not in have_columns))
    fitting = 1
    boundless = console.options.update_width(UNBOUNDED)
    while fitting < len(shown):
        table = _table(study, names, shown[: fitting + 1], most_rows)
        if console.measure(table, options=boundless).minimum > console.width:
            break
        fitting += 1
    console.print(_table(study, names, shown[:fitting], most_rows), highlight=False)
    if (more := len(study.designs) - most_rows) > 0:
        console.print(f"and {more} more designs in the table written", highlight=False)
    if (more := len(shown) - fitting) > 0:
        console.print(f"and {more} more answers in the table written", highlight=False)


def _table(study: Study, names: Sequence[str], shown: Sequence[Quantity], most_rows: int) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in names:
        table.add_column(Text(name), justify="right")
    columns = []
    for quantity in shown:
        symbol, size = shown_unit(quantity.unit, study.values(quantity))
        table.add_column(Text("\n".join([*names_in(quantity.name), symbol])), justify="right")
        columns.append((study.values(quantity) / size, study.bands(quantity) / size))
    for k, design in enumerate(study.designs[:most_rows]):
        inputs = [f"{design.values[n]:.6g}" for n in names]
        numbers = ["failed" if design.message else with_band(float(v[k]), float(b[k])) for v, b in columns]
        table.add_row(*map(Text, (*inputs, *numbers)), style="dim" if design.message else None)
    return table
