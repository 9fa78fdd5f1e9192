"""A study as a table; times and energies in their units wherever they are shown."""

import re
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console

from fdm.answers.quantity import Quantity
from fdm.output.drawing.study import draw_lines
from fdm.output.tables.study import print_study
from fdm.studies import Design, Study, findings, study
from fdm.studies.aims import Wish
from tests.studies.slab import COUPLING, answered, write_slab


@pytest.fixture
def slab(tmp_path: Path) -> Path:
    return write_slab(tmp_path)


def test_the_table_shows_each_design_with_its_band(slab: Path) -> None:
    console = Console(file=StringIO(), width=100)
    print_study(study(slab, {"thick": "-5,50"}, workers=1), console, [COUPLING])
    text = console.file.getvalue()  # type: ignore[attr-defined]
    assert "W/K" in text and "failed" in text and "0.40000" in text


def test_answers_for_which_there_is_no_room_are_counted(slab: Path) -> None:
    console = Console(file=StringIO(), width=70)
    result = study(slab, {"thick": "20,50"}, workers=1)
    print_study(result, console, result.columns)
    text = console.file.getvalue()  # type: ignore[attr-defined]
    told = re.search(r"(\d+) more answers? ha(?:s|ve) no room here; study.csv has all\n$", text)
    assert told and 1 < int(told[1]) < len(result.columns) - 1
    assert "\N{HORIZONTAL ELLIPSIS}" not in text  # no number is cut


def test_times_and_energies_are_shown_in_the_units_of_the_tables(
    slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hours, energy = (
        Quantity(("pull_down", key), words, unit, key)
        for key, words, unit in (
            ("time_to_setpoint", "time to the setpoint", "s"),
            ("energy_a_day", "energy a day", "J"),
        )
    )
    made = [
        Design({"wall": wall}, answered({hours: time, energy: joules}))
        for wall, time, joules in ((30.0, 90000.0, 3.6e6), (40.0, 72000.0, 1.8e6), (50.0, None, 7.2e6))
    ]
    result = Study("made up.toml", ("wall",), tuple(made), (hours, energy), 0.005)
    console = Console(file=StringIO(), width=100)
    print_study(result, console, [hours, energy])
    text = console.file.getvalue()  # type: ignore[attr-defined]
    rows = {words[0]: words[1:] for line in text.splitlines() if (words := line.split())}
    assert rows["wall"] == ["h", "kWh"]
    assert rows["30"][::3] == ["25.00", "1.0000"] and rows["50"][0] == "-"
    assert "The lowest time to the setpoint is 20.0 ± 0.1 h, at wall = 40." in findings(result, hours)
    assert str(Wish.read("pull_down.energy_a_day < 1.8e6").among(result.known)) == "pull_down.energy_a_day < 0.5 kWh"
    labels = []
    monkeypatch.setattr(
        "matplotlib.axes.Axes.set_ylabel", lambda axes, text, **_: labels.append((text, axes.get_ylim()))
    )
    draw_lines(result, energy, tmp_path / "energy.png")
    ((label, (low, high)),) = labels
    assert label == "energy a day (kWh)" and 0.2 < low < 0.5 and 2 < high < 2.5
