"""A study as a table to read: one row for each design, each number rounded to its band."""

from collections.abc import Sequence

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from fdm.answers.quantity import Quantity, names_in
from fdm.answers.rounding import with_band
from fdm.answers.units import shown_unit
from fdm.output.tables.sentences import print_sentences
from fdm.studies.result import Study

MOST_COLUMNS = 4
UNBOUNDED = 10_000  # characters: wider than any table


def print_study(
    study: Study,
    console: Console,
    answers: Sequence[Quantity | str] | None = None,
    rows: Sequence[int] | None = None,
    rest: str = "--tables shows all, as study.csv does",
) -> None:
    """The designs in their order, or those of the numbers `rows`, with the asked answers; with those a builder looks at
    first, if left out. Of the answers as many as the console has room for. `rest` says where the other designs are."""
    names = study.varied or study.names
    rows = range(len(study.designs)) if rows is None else rows
    shown = [study.find(a) for a in answers] if answers else study.main[:MOST_COLUMNS]
    have_columns = {("let", name) for name in names}
    shown = list(dict.fromkeys(q for q in shown if q.path not in have_columns))
    fitting = 1
    boundless = console.options.update_width(UNBOUNDED)
    while fitting < len(shown):
        table = _table(study, names, shown[: fitting + 1], rows)
        if console.measure(table, options=boundless).minimum > console.width:
            break
        fitting += 1
    console.print(_table(study, names, shown[:fitting], rows), highlight=False)
    if len(rows) < len(study.designs):
        print_sentences([f"{len(rows)} of {len(study.designs)} designs; {rest}"], console)
    if (more := len(shown) - fitting) > 0:
        print_sentences([f"and {more} more answers, for which there is no room here, in study.csv"], console)


def _table(study: Study, names: Sequence[str], shown: Sequence[Quantity], rows: Sequence[int]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in names:
        table.add_column(Text(name), justify="right")
    columns = []
    for quantity in shown:
        symbol, size = shown_unit(quantity.unit, study.values(quantity))
        table.add_column(Text("\n".join([*names_in(quantity.name), symbol])), justify="right")
        columns.append((study.values(quantity) / size, study.bands(quantity) / size))
    for k in rows:
        design = study.designs[k]
        inputs = [f"{design.values[n]:.6g}" for n in names]
        numbers = ["failed" if design.message else with_band(float(v[k]), float(b[k])) for v, b in columns]
        table.add_row(*map(Text, (*inputs, *numbers)), style="dim" if design.message else None)
    return table
