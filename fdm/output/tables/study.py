"""A study as a table to read: one row for each design, each number rounded to its band."""

from collections.abc import Sequence
from textwrap import wrap

from rich import box
from rich.cells import cell_len
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
    boundless, fitting = console.options.update_width(UNBOUNDED), 1

    def width(table: Table) -> int:
        return console.measure(table, options=boundless).maximum

    while fitting < len(shown):
        if width(_table(study, names, shown[: fitting + 1], rows, narrow=True)) > console.width:
            break
        fitting += 1
    table = _table(study, names, shown[:fitting], rows)
    if width(table) > console.width:
        table = _table(study, names, shown[:fitting], rows, narrow=True)
    console.print(table, highlight=False)
    if len(rows) < len(study.designs):
        print_sentences([f"{len(rows)} of {len(study.designs)} designs; {rest}"], console)
    if (more := len(shown) - fitting) > 0:
        what = "1 more answer has" if more == 1 else f"{more} more answers have"
        print_sentences([f"{what} no room here; study.csv has all"], console)


def _table(
    study: Study, names: Sequence[str], shown: Sequence[Quantity], rows: Sequence[int], narrow: bool = False
) -> Table:
    """With headings that are no wider than their longest words and numbers, if it is to be `narrow`: rich would cut
    some words in two where it breaks lines itself."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in names:
        table.add_column(Text(name), justify="right")
    columns = []
    for quantity in shown:
        symbol, size = shown_unit(quantity.unit, study.values(quantity))
        values, bands = study.values(quantity) / size, study.bands(quantity) / size
        numbers = [with_band(float(values[k]), float(bands[k])) for k in rows]
        lines = names_in(quantity.name)
        if narrow:
            most = max(map(cell_len, [symbol, *numbers, *(word for name in lines for word in name.split())]))
            lines = [line for name in lines for line in wrap(name, most)]
        table.add_column(Text("\n".join((*lines, symbol))), justify="right")
        columns.append(numbers)
    for number, k in enumerate(rows):
        design = study.designs[k]
        inputs = [f"{design.values[n]:.6g}" for n in names]
        answers = ["failed" if design.message else column[number] for column in columns]
        table.add_row(*map(Text, (*inputs, *answers)), style="dim" if design.message else None)
    return table
