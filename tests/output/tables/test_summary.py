"""The summary: what a builder asked, on the first screen, in agreement with the numbers behind it."""

import re
from io import StringIO

import pytest
from rich.console import Console

from fdm.answers.rounding import brief
from fdm.inference.budget import budgets
from fdm.output.tables.summary import print_summary
from fdm.section.model import Border, Bridge, Environment, Material, Part, Rectangle, Section
from fdm.section.reader import read_section
from fdm.solving.steady import solve
from tests.sections import GEOMETRIES, demo

SECTIONS = [f.stem for f in sorted(GEOMETRIES.glob("*.toml")) if "cabinet" not in f.stem]


def summary(solution, width=80):
    text = StringIO()
    print_summary(budgets(solution), Console(file=text, width=width))
    return text.getvalue()


@pytest.fixture(scope="module", params=SECTIONS)
def solution(request):
    return demo(request.param)


def test_it_fits_on_the_first_screen(solution):
    assert 3 <= len(summary(solution).splitlines()) <= 22
    assert len(summary(solution, 200).splitlines()) <= 12


def test_every_question_of_the_file_is_answered(solution):
    said = " ".join(summary(solution).split())
    section = solution.section
    for name in section.heat_names:
        assert re.search(rf"{re.escape(name)}: -?[0-9.]+( ± [0-9.]+)? degC with", said)
    for asked in (*section.spreading, *section.bridges, *section.sensors):
        assert asked.name in said
    assert "of 0.5 % is met" in said


def test_its_numbers_are_those_of_the_answers(solution):
    said = " ".join(summary(solution).split())
    for name, reading in solution.sensors.items():
        told = re.search(rf"{re.escape(name)} reads (-?[0-9.]+)(?: ± ([0-9.]+))? degC", said)
        assert float(told[1]) == pytest.approx(reading.reading, rel=0.005, abs=float(told[2] or 0))
    for plates in solution.spreading.values():
        for heat, r in plates.items():
            watts = dict(zip(solution.network.heat, solution.section.watts))[heat]
            kelvin = abs(r.mean * watts)
            assert kelvin < 1e-3 or f"heat of {heat}: {kelvin:.2g} K" in said


def test_what_is_to_be_tried_helps_as_much_as_is_said():
    file = GEOMETRIES / "light_bar.toml"
    before, after = (solve(read_section(file, film=film)) for film in (7, 7.7))
    told = re.search(r"a tenth more film makes it ([0-9.]+) K cooler", " ".join(summary(before).split()))
    cooler = before.answers.at("LEDs")[0] - after.answers.at("LEDs")[0]
    assert float(told[1]) == pytest.approx(cooler, rel=0.05)


def test_a_part_that_leads_heat_elsewhere_leaves_less_to_pass():
    """A fin from the middle of a wall to a third air takes what would pass through the wall."""
    foam, metal = Material("foam", (0.03, 0.03)), Material("metal", (200.0, 200.0))
    section = Section(
        "wall with a fin",
        (
            Part("wall", (Rectangle((0, 0.1), (0, 0.04)),), foam),
            Part("fin", (Rectangle((0, 0.1), (0.02, 0.022)),), metal),
        ),
        (Environment("cold", 5, 8), Environment("warm", 30, 8), Environment("ground", 10, 1000)),
        border=Border(bottom="cold", top="warm", right="ground"),
        bridges=(Bridge(("fin",), ("cold", "warm")),),
    )
    said = " ".join(summary(solve(section, max_cells=3000)).split())
    assert re.search(r"fin: with it [0-9.]+( ± [0-9.]+)? W less pass from warm to cold than without: per .* -0", said)


@pytest.mark.parametrize("value", [3.14159, -0.00271828, 28534.2, 9.9996, 0.99951])
@pytest.mark.parametrize("band", [0.0, 1e-5, 0.004, 0.3, 40.0])
def test_the_true_value_lies_within_what_is_shown(value, band):
    numbers = [float(word) for word in brief(value, band).split(" ± ")]
    shown, width = numbers[0], numbers[1] if numbers[1:] else 0.0
    assert width >= min(band, 1e9) or band < 0.005 * abs(value)
    assert abs(shown - value) <= max(width, 0.005 * abs(value))
