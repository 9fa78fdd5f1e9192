"""A film and the numbers in between, to read."""

from collections.abc import Mapping

from rich.console import Console
from rich.text import Text

from fdm.answers.rounding import film_in_words
from fdm.output.tables.section import add_row, new_table
from fdm.surroundings.film import Film

LEAST_EFFECT = 0.01  # of the relation's uncertainty: inputs that matter less are not named


def print_film(found: Film, asked: str, effects: Mapping[str, float], console: Console) -> None:
    """The film that answers `asked`, with the numbers in between; `effects` (W/(m2 K)) are those of uncertain inputs,
    by their place."""
    console.print(Text(asked, style="bold"))
    console.print(Text(f"film {film_in_words(found)}"))
    for place, change in effects.items():
        if abs(change) >= LEAST_EFFECT * found.uncertainty * found.film:
            console.print(Text(f"± {abs(change):.2g} by what was put in: {place}"))
    console.print(Text(f"by {found.relation}"))
    console.print()
    table = new_table("", ["", "value", ""], right=(1,))
    table.title = None
    if found.radiative:
        add_row(table, "carried by the air", f"{found.convective:.4g}", "W/(m2 K)")
        add_row(table, "radiated", f"{found.radiative:.4g}", "W/(m2 K)")
    for number in found.numbers:
        add_row(table, number.words, plain(number.value), number.unit)
    console.print(table, highlight=False)
    for note in found.notes:
        console.print(Text(f"Note: {note}"))


def plain(value: float) -> str:
    """Four significant digits, without an exponent where there need not be one.

    >>> plain(1830.33), plain(4.40e6), plain(25)
    ('1830', '4.4e+06', '25')
    """
    return f"{value:.0f}" if 1e3 <= abs(value) < 1e5 else f"{value:.4g}"
