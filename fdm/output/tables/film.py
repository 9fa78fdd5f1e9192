"""A film and the numbers in between, to read."""

from collections.abc import Mapping

from rich.console import Console
from rich.text import Text

from fdm.answers.rounding import film_in_words
from fdm.output.tables.console_table import new_table
from fdm.output.tables.sentences import print_sentences
from fdm.surroundings.film import Film

LEAST_EFFECT = 0.01  # of the relation's uncertainty: inputs that matter less are not named


def print_film(found: Film, asked: str, effects: Mapping[str, float], console: Console) -> None:
    """The film that answers `asked`, with the numbers in between; `effects` (W/(m2 K)) are those of uncertain inputs,
    by their place."""
    console.print(Text(asked, style="bold"))
    felt = {place: abs(c) for place, c in effects.items() if abs(c) >= LEAST_EFFECT * found.uncertainty * found.film}
    sentences = [
        f"film {film_in_words(found)}",
        *(f"± {change:.2g} by what was put in: {place}" for place, change in felt.items()),
        f"by {found.relation}",
    ]
    print_sentences(sentences, console)
    table = new_table("", ["", "value", ""], right=(1,))
    if found.radiative:
        table.add_row("carried by the air", f"{found.convective:.4g}", "W/(m2 K)")
        table.add_row("radiated", f"{found.radiative:.4g}", "W/(m2 K)")
    for number in found.numbers:
        table.add_row(number.words, plain(number.value), number.unit)
    console.print(table, highlight=False)
    print_sentences([f"Note: {note}" for note in found.notes], console)


def plain(value: float) -> str:
    """Four significant digits, without an exponent where there need not be one.

    >>> plain(1830.33), plain(4.40e6), plain(25)
    ('1830', '4.4e+06', '25')
    """
    return f"{value:.0f}" if 1e3 <= abs(value) < 1e5 else f"{value:.4g}"
