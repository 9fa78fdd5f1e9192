"""Tables at any width: words and numbers stay whole."""

from io import StringIO

import pytest
from rich.console import Console

from fdm.output.tables.console_table import new_table
from fdm.output.tables.sentences import print_sentences

NAMES = ("greenhouse fan air", "cabinet air at the fins", "a [name] of its own")
NUMBERS = ("0.0016248 ± 0.0000088", "49.898 ± 0.015", "(7.3429 ± 0.0078)e-04")


def shown(width: int) -> list[str]:
    table = new_table("Resistances", ("of", "between which temperatures", "mean\nK/W"), (2,))
    for k, name in enumerate(NAMES):
        table.add_row(name, NAMES[k - 1], NUMBERS[k])
    text = StringIO()
    Console(file=text, width=width).print(table)
    return text.getvalue().splitlines()


@pytest.mark.parametrize("width", [52, 60, 80, 120])
def test_words_and_numbers_stay_whole(width: int) -> None:
    rows = shown(width)
    assert max(map(len, rows)) <= width and rows[0] == "Resistances"
    words = {word for row in rows for word in row.split()}
    assert {word for name in (*NAMES, "between", "temperatures") for word in name.split()} <= words
    for number in NUMBERS:
        assert any(row.rstrip().endswith(number) for row in rows)


def test_the_width_is_used_but_not_filled() -> None:
    assert len(shown(120)) == 1 + 3 + len(NAMES)  # one line each, below the title and the head
    assert shown(200) == shown(120)
    squeezed = shown(24)  # too narrow for anything but splitting
    assert max(map(len, squeezed)) <= 24 and any("49.898" in row for row in squeezed)


def test_a_number_keeps_its_unit_and_a_name_its_brackets() -> None:
    text = StringIO()
    print_sentences(
        ["the [air] of box 2 gets to 4.46 ± 0.08 degC, at plate = 3, by 12 %"], Console(file=text, width=30)
    )
    assert text.getvalue().splitlines() == ["the [air] of box 2 gets to", "4.46 ± 0.08 degC, at", "plate = 3, by 12 %"]
