"""fdm study: solve many designs of a section or cabinet file, or find the best of a range."""

import argparse
import re
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fdm.cli.console import consoles
from fdm.cli.words import add_command, add_quiet, add_target, override, whole_number
from fdm.errors import visible

if TYPE_CHECKING:  # slow to import
    from rich.console import Console

    from fdm.answers.quantity import Quantity
    from fdm.cli.words import Commands
    from fdm.section.model import Section
    from fdm.studies import Study

TOLD_EVERY = 10.0  # s between lines of progress where the output is no terminal
MOST_ROWS = 12  # designs in the table, but for --tables


def add_to(commands: "Commands") -> None:
    examples = {
        "study light_bar.toml base=2:12:1": "solves base = 2, 3, .. 12, and draws and compares them",
        "study light_bar.toml base=4,6,8 fins=6:14:2 --answer LEDs": "all pairs of both; one answer",
        "study light_bar.toml base=2:12 fin_height=20:60 --lhs 40": "40 designs, spread evenly over both ranges",
        "study light_bar.toml base=2:12 --best let.base --subject 'LEDs < 48.7'": (
            "the thinnest base whose LEDs stay below 48.7 degC"
        ),
    }
    study = add_command(
        commands, "study", "solve many designs of a section or cabinet file, or find the best", examples
    )
    study.add_argument("file", metavar="FILE.toml", help="section or cabinet file")
    study.add_argument(
        "varied",
        nargs="+",
        type=override,
        metavar="NAME=VALUES",
        help="values of a number of [let]: plate=3:12:1 (low:high:step), wall=20,30,40, or a range plate=3:12; or, in "
        "a section file, an expression in others: height='90 - 4 * plate'",
    )
    sampling = study.add_mutually_exclusive_group()
    sampling.add_argument("--random", type=whole_number, metavar="COUNT", help="so many designs by chance, from ranges")
    sampling.add_argument(
        "--lhs", type=whole_number, metavar="COUNT", help="so many designs spread evenly over ranges (Latin hypercube)"
    )
    study.add_argument(
        "--answer",
        action="append",
        metavar="ANSWER",
        help="show this one, by its path in result.json, its beginning or a short name; may be repeated",
    )
    study.add_argument("--best", metavar="ANSWER", help="find the design whose ANSWER is the lowest within the ranges")
    study.add_argument("--maximise", action="store_true", help="with --best: find the highest")
    study.add_argument(
        "--subject",
        action="append",
        default=[],
        metavar="LIMIT",
        help="with --best: keep this limit, as 'bridge.bolt.chi < 0.02'; may be repeated",
    )
    study.add_argument("--tries", type=whole_number, metavar="COUNT", help="with --best: try about so many designs")
    workers = study.add_mutually_exclusive_group()
    workers.add_argument(
        "--workers", type=whole_number, metavar="COUNT", help="solve in so many processes (left out: one a processor)"
    )
    workers.add_argument("--cluster", metavar="ADDRESS", help="solve on the Dask cluster at ADDRESS")
    add_target(study, " of each design")
    study.add_argument(
        "--out", metavar="FOLDER", help="keep the designs there, and go on from it (left out: FILE-study, here)"
    )
    study.add_argument("--tables", action="store_true", help=f"print all designs in the table, not {MOST_ROWS} of them")
    add_quiet(study, "print no progress")
    study.set_defaults(run=run, ill_matched=ill_matched)


def ill_matched(asked: argparse.Namespace) -> str:
    """A sentence on options of a study that do not go together, which argparse cannot check; empty where all do."""
    if asked.best:
        given = next((name for name in ("random", "lhs") if getattr(asked, name)), None)
        return f"--{given} and --best do not go together: --best chooses its designs itself" if given else ""
    given = next((name for name in ("subject", "tries") if getattr(asked, name)), None)
    return f"--{given} goes with --best ANSWER" if given else ""


def run(asked: argparse.Namespace) -> str:
    from fdm.output.drawing.study import draw_study

    folder = Path(asked.out) if asked.out else Path(f"{Path(asked.file).stem}-study")
    console, progress = consoles(asked)
    with _progress_bar(progress) as show, _told_where_stopped(show) as update:
        shared = {
            "workers": asked.cluster or asked.workers, "out": folder, "target": asked.target,
            "progress": update,
        }  # fmt: skip
        done = _best(asked, shared) if asked.best else _all_designs(asked, shared)
        update("drawing")
        pictures: list[str] = []
        if done.drawn != []:
            pictures = draw_study(done.study, folder, done.drawn, asked.maximise or None, done.best)
    _print(asked, done, f"{folder}: {' '.join(['study.jsonl', 'study.csv', *pictures])}", console)
    return done.infeasible


@dataclass(frozen=True)
class _Done:
    """A study with its sentences, the answers `shown` in the table and `drawn` in pictures (None: the study's main
    ones), and the number of the best design (None: each answer has its own). `best_first` says that the designs are in
    that order, and `infeasible` is the sentence that says that no design is what was asked for."""

    study: "Study"
    sentences: tuple[str, ...]
    shown: "Sequence[Quantity] | None"
    drawn: "Sequence[Quantity] | None"
    best: int | None
    best_first: bool
    infeasible: str


def _all_designs(asked: argparse.Namespace, shared: dict[str, Any]) -> _Done:
    from fdm.studies import counted_names, designs, findings, study, without_setpoint

    given, varied = _given(asked)
    chosen = designs(varied, random=asked.random, lhs=asked.lhs, counted=counted_names(asked.file))
    found = study(given, chosen, answers=asked.answer, **shared)
    wanted = found.columns if asked.answer else None
    answers = found.main if wanted is None else wanted
    # of many below one path, those that are given, as an air's temperature is, stand in the table alone
    worth_telling = [q for q in answers if q.family != "given"] or answers
    told = (findings(found, a, maximise=asked.maximise or None) for a in worth_telling if found.varied)
    infeasible = without_setpoint(found)
    sentences = dict.fromkeys([*(sentence for some in told for sentence in some), *([infeasible] * bool(infeasible))])
    return _Done(found, tuple(sentences), wanted, worth_telling, None, False, infeasible)


def _given(asked: argparse.Namespace) -> "tuple[str | Section, list[tuple[str, str]]]":
    """What is studied, and the names that vary. A number given as an expression in others is changed in all designs."""
    from fdm.errors import InputError
    from fdm.section.reader import read_section
    from fdm.section.tables import read_document

    changed = {name: text for name, text in asked.varied if _in_others(text)}
    if not changed:
        return asked.file, asked.varied
    if "cabinet" in read_document(asked.file):
        name = next(iter(changed))
        raise InputError(
            f"{asked.file}: {name}: an expression goes with section files only; in the [let] of a cabinet file, write "
            f"{name} = {changed[name]!r}"
        )
    varied = [(name, text) for name, text in asked.varied if name not in changed]
    return read_section(asked.file, **changed), varied


def _in_others(text: str) -> bool:
    """Whether a text is an expression in named numbers."""
    from fdm.errors import InputError
    from fdm.section.expressions import names_used

    try:
        return bool(names_used(text) - {"inf", "nan"})
    except InputError:  # values such as 2:12:1, or no expression either, which reading them will say
        return False


def _best(asked: argparse.Namespace, shared: dict[str, Any]) -> _Done:
    from fdm.output.drawing.study import NO_BEST
    from fdm.studies import best

    tries = {"tries": asked.tries} if asked.tries else {}
    given, ranges = _given(asked)
    optimum = best(
        given, ranges, asked.best, maximise=asked.maximise, subject=asked.subject,
        answers=asked.answer or (), **tries, **shared,
    )  # fmt: skip
    drawn = [q for q in optimum.shown if q.family != "let"]  # no picture of a varied number against itself
    marked, infeasible = (0, "") if optimum.feasible else (NO_BEST, optimum.sentences[0])
    return _Done(optimum.study, optimum.sentences, optimum.shown, drawn, marked, True, infeasible)


def _print(asked: argparse.Namespace, done: _Done, kept: str, console: "Console") -> None:
    from fdm.output.tables.sentences import print_sentences
    from fdm.output.tables.study import print_study
    from fdm.studies import warned

    study = done.study
    sentences = [*done.sentences, *warned(study), *study.remarks]
    if study.missed:
        sentences.append(
            f"{study.missed} of {len(study.designs)} designs miss the target of {100 * asked.target:g} % with some "
            "answer; what each may be off by is its ±."
        )
    print_sentences(map(visible, sentences), console)
    print_study(study, console, done.shown, None if asked.tables else _rows(len(study.designs), done.best_first))
    if len(study.varied) > 2:
        console.print("No pictures: they show one or two names that vary.")
    print_sentences([visible(f"Kept in {kept}")], console)


def _rows(count: int, best_first: bool) -> list[int]:
    """Numbers of the designs in a short table: the first ones where the best come first, else spread over all."""
    if count <= MOST_ROWS or best_first:
        return list(range(min(count, MOST_ROWS)))
    return [round(k * (count - 1) / (MOST_ROWS - 1)) for k in range(MOST_ROWS)]


@contextmanager
def _told_where_stopped(show: Callable[[str], None]) -> Iterator[Callable[[str], None]]:
    """A function to be called with lines of progress, which hands them on. Where the study is stopped, the last of them
    says how far it came."""
    last = ""

    def update(text: str) -> None:
        nonlocal last
        last = text
        show(text)

    try:
        yield update
    except KeyboardInterrupt as stop:
        done = re.match(r"\d+ (of \d+ designs|designs tried)", last)
        far = f"stopped after {done[0]}" if done else "stopped before the first design was done"
        raise KeyboardInterrupt(*(stop.args or (signal.SIGINT,)), f"{far}; run the same again to go on") from None


@contextmanager
def _progress_bar(console: "Console") -> Iterator[Callable[[str], None]]:
    """A function to be called with lines such as "3 of 10 designs, 8 s left": a bar on a terminal, else a line now and
    then."""
    from rich.progress import BarColumn, Progress, TextColumn

    if not console.is_terminal:
        told = time.monotonic()

        def tell(text: str) -> None:
            nonlocal told
            if time.monotonic() - told > TOLD_EVERY:
                told = time.monotonic()
                console.print(visible(text), soft_wrap=True)

        yield tell
        return
    with Progress(
        BarColumn(24), TextColumn("{task.description}", markup=False), console=console, transient=True
    ) as bar:
        task = bar.add_task("reading", total=None)

        def show(text: str) -> None:
            bar.update(task, description=visible(text))
            if count := re.match(r"(\d+) of (\d+)", text):
                bar.update(task, completed=int(count[1]), total=int(count[2]))

        yield show
