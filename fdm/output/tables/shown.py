"""What the package's objects show of themselves where they are printed, and in notebooks: their tables and sentences.

`fdm/__init__.py` gives each class its display from here when a name of the package is first used.
"""

import shutil
from collections.abc import Callable, Iterable, Sequence
from io import StringIO
from typing import Any

from rich.console import Console
from rich.text import Text

from fdm.answers.quantity import Answers, Quantity
from fdm.answers.rounding import with_band
from fdm.cabinet.model import Cabinet
from fdm.cabinet.solution import SolvedCabinet
from fdm.inference.fitted import Fit
from fdm.output.tables.cabinet import print_cabinet
from fdm.output.tables.console_table import new_table
from fdm.output.tables.fit import print_fit
from fdm.output.tables.sentences import print_sentences
from fdm.output.tables.study import print_study
from fdm.section.model import UNITS, Section
from fdm.studies.findings import findings, warned, without_setpoint
from fdm.studies.optimum import Optimum
from fdm.studies.result import Study

WIDTH, NARROWEST, WIDEST = 100, 60, 200  # characters, where no terminal says
MOST_ROWS = 40  # designs in a table

Print = Callable[[Any, Console], None]


def as_text(print_to: Print, thing: object, width: int | None = None) -> str:
    """What `print_to` prints, as plain text, as wide as the terminal where there is one."""
    wide = width or min(max(shutil.get_terminal_size((WIDTH, 24)).columns, NARROWEST), WIDEST)
    text = StringIO()
    # a console that finds itself in a notebook would show its text there instead of writing it
    print_to(thing, Console(file=text, width=wide, color_system=None, force_terminal=False, force_jupyter=False))
    return "\n".join(line.rstrip() for line in text.getvalue().rstrip().split("\n"))


def as_html(print_to: Print, thing: object) -> str:
    """The same as a piece of HTML; names are escaped."""
    console = Console(file=StringIO(), width=110, record=True, force_terminal=True, force_jupyter=False)
    print_to(thing, console)
    return console.export_html(
        inline_styles=True, code_format='<pre style="line-height: 1.3; overflow-x: auto">{code}</pre>'
    )


def print_section(section: Section, console: Console) -> None:
    """What is drawn and asked, in a few lines; nothing is checked or solved."""
    u = UNITS[section.unit]
    low_x, high_x, low_y, high_y = (f"{v / u:.6g}" for v in section.extent)
    view = f"section, {section.depth / u:.6g} {section.unit} deep" if section.view == "section" else section.view
    _print_lines(
        console,
        f"{section.title} ({view}; x = {low_x} to {high_x}, y = {low_y} to {high_y} {section.unit})",
        [
            ("parts", [p.name for p in section.parts]),
            ("environments", [f"{e.name} {e.temperature:g} degC" for e in section.environments]),
            (
                "sources",
                [
                    f"{s.name} {s.heat:g} W" if s.heat is not None else f"{s.name} held at {s.temperature:g} degC"
                    for s in section.sources
                ],
            ),
            ("sensors", [s.name for s in section.sensors]),
            ("spreading", [s.name for s in section.spreading]),
            ("bridges", [b.name for b in section.bridges]),
            ("named numbers", [f"{name} = {value:.6g}" for name, value in section.let.items()]),
        ],
    )


def print_cabinet_file(cabinet: Cabinet, console: Console) -> None:
    """What a cabinet is made of, in a few lines; nothing is solved."""
    size = " x ".join(f"{v / UNITS[cabinet.unit]:.6g}" for v in cabinet.inside)
    supply = cabinet.bank.supply
    driven = f"{supply.voltage:g} V" if supply.voltage is not None else f"{supply.current:g} A"
    files = dict.fromkeys(file.path for file in cabinet.section_files if file is not None)
    _print_lines(
        console,
        f"{cabinet.title} (cabinet, {size} {cabinet.unit} inside, room {cabinet.room:g} degC, setpoint "
        f"{cabinet.setpoint:g} degC)",
        [
            ("walls", [w.name for w in cabinet.walls]),
            ("lines and points", [*(x.name for x in cabinet.lines), *(x.name for x in cabinet.points)]),
            ("modules", [f"{supply.modules} at {driven}"]),
            ("sections", list(files)),
            ("named numbers", [f"{name} = {value:.6g}" for name, value in cabinet.let.items()]),
        ],
    )


def print_solved_cabinet(solved: SolvedCabinet, console: Console) -> None:
    """The tables of a cabinet, and its warnings."""
    print_cabinet(solved, console)
    _print_sentences(console, [f"Warning: {warning}" for warning in solved.warnings])


def print_fit_and_warnings(found: Fit, console: Console) -> None:
    """The tables of a fit, and its warnings."""
    print_fit(found, console)
    _print_sentences(console, [f"Warning: {warning}" for warning in found.warnings])


def print_answers(answers: Answers, console: Console) -> None:
    """Every answer by its path."""
    table = new_table("", ["path", "value", "unit"], right=(1,))
    for quantity, value, band in answers:
        table.add_row(quantity.name, with_band(value, band), quantity.unit)
    console.print(table, highlight=False)


def print_findings(study: Study, console: Console) -> None:
    """In words what a study shows, and its table."""
    worth_telling = [a for a in study.told if a.family != "given"] if study.varied else []
    sentences = [s for a in worth_telling for s in findings(study, a)]
    _print_designs(study, (*sentences, without_setpoint(study)), study.told, console)


def print_optimum(optimum: Optimum, console: Console) -> None:
    """In words what is known of the best design, and the table of those tried, the best first."""
    _print_designs(optimum.study, optimum.sentences, optimum.shown, console)


def _print_designs(study: Study, sentences: Iterable[str], shown: Sequence[Quantity], console: Console) -> None:
    _print_sentences(console, (*sentences, *warned(study), *study.remarks))
    print_study(study, console, shown, range(min(len(study.designs), MOST_ROWS)), "`designs` has all")


def _print_lines(console: Console, title: str, lines: list[tuple[str, list[str]]]) -> None:
    console.print(Text(title, style="bold"))
    for name, items in lines:
        if items:
            console.print(Text(f"  {name}: {', '.join(items)}"))


def _print_sentences(console: Console, sentences: Iterable[str]) -> None:
    print_sentences(dict.fromkeys(s for s in sentences if s), console)
