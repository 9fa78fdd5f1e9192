"""The least and the most of answers over ranges of temperatures and watts, in words and as a table."""

from collections.abc import Iterator, Mapping

from rich.console import Console

from fdm.answers.quantity import Quantity, main_quantities
from fdm.answers.rounding import brief, with_band
from fdm.output.tables.console_table import new_table
from fdm.output.tables.moisture import never_sweats
from fdm.output.tables.sentences import print_sentences
from fdm.solving.ranges import Between, Ranges

MOST = 8  # answers in sentences


def ranges_in_words(ranges: Ranges) -> str:
    """
    >>> ranges_in_words({"greenhouse air": (15, 35), "hot face": (0, 39)})
    'greenhouse air from 15 to 35, hot face from 0 to 39'
    """
    return ", ".join(f"{name} from {low:g} to {high:g}" for name, (low, high) in ranges.items())


def point_in_words(point: Mapping[str, float], ranges: Ranges | None = None) -> str:
    """Where something is in the ranges; of a single one, whose name is known then, the number alone.

    >>> point_in_words({"greenhouse air": 35.0, "hot face": 0.0})
    'greenhouse air = 35, hot face = 0'
    >>> point_in_words({"greenhouse air": 35.0}, {"greenhouse air": (15, 35)})
    '35'
    """
    alone = ranges is not None and len(ranges) == 1
    return ", ".join(f"{value:.4g}" if alone else f"{name} = {value:.4g}" for name, value in point.items())


def print_between(found: Between, console: Console) -> None:
    """The least and the most of each answer, and where in the ranges."""
    title = f"Least and most with {ranges_in_words(found.ranges)}"
    table = new_table(title, ["of", "least", "at", "most", "at", ""], right=(1, 3))
    for q in found.least.quantities:
        least, most = (_value(q, *answers.at(q.path)) for answers in (found.least, found.most))
        table.add_row(q.words, least, _at(found, q, False), most, _at(found, q, True), q.unit)
    console.print(table, highlight=False)


def print_between_in_words(found: Between, console: Console) -> None:
    """The same of what a builder looks at first, in sentences."""
    print_sentences(between_sentences(found), console)


def between_sentences(found: Between) -> Iterator[str]:
    """The ranges, and within which limits the main answers are then, and the smallest margin to a dew point."""
    margins = [q for q in found.least.quantities if q.family == "margin"]
    smallest = min(margins, key=lambda q: found.least.at(q.path)[0], default=None)
    shown = [*main_quantities(found.least.quantities), *([] if smallest is None else [smallest])]
    more = " (all of them: --tables)" if len(shown) < len(found.least.quantities) or len(shown) > MOST else ""
    yield f"With {ranges_in_words(found.ranges)}, and all else as it is{more}:"
    for q in shown[:MOST]:
        ends = [
            f"{brief(*answers.at(q.path), q.unit)} at {_at(found, q, highest)}"
            for answers, highest in ((found.least, False), (found.most, True))
        ]
        name = f"{q.path[1]} misreads" if q.family == "misreading" else f"{q.words}:"
        yield f"  {name} {' to '.join(ends)}"


def _value(q: Quantity, value: float, band: float) -> str:
    return "never" if never_sweats(q, value) else with_band(value, band)


def _at(found: Between, q: Quantity, highest: bool) -> str:
    """Where in the ranges an answer has its most, or its least."""
    return point_in_words(found.where(q.path, highest), found.ranges)
