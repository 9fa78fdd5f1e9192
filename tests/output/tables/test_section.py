import math
import re
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from fdm.output.tables.section import (
    print_materials,
    print_solution,
    solution_html,
    solution_text,
    split_in_words,
    with_band,
)
from fdm.section.materials import builtin_materials
from fdm.section.model import Material


@pytest.mark.parametrize(
    ("value", "band", "text"),
    [
        (0.2143, 0.0003, "0.21430 ± 0.00030"),
        (0.2143, 0.0, "0.2143"),
        (-12.345, 0.99, "-12.35 ± 0.99"),
        (-12.345, 0.996, "-12.3 ± 1.0"),
        (123456.7, 890.0, "123460 ± 890"),
        (5.0, 123.0, "0 ± 120"),
        (2.5e-7, 1e-9, "(2.500 ± 0.010)e-07"),
        (-3.4567e9, 2e6, "(-3.4567 ± 0.0020)e+09"),
        (-0.0001, 0.02, "0.000 ± 0.020"),
        (0.0, 1e-9, "(0.0 ± 1.0)e-09"),
        (0.0, 0.0, "0"),
        (1.0, 1e-11, "1.000000000"),
        (math.nan, 1.0, "-"),
        (3.14159, math.nan, "3.1416 ± ?"),
    ],
)
def test_number_is_rounded_to_its_band(value, band, text):
    assert with_band(value, band) == text


def test_unit_follows():
    assert with_band(0.2143, 0.0003, "K/W") == "0.21430 ± 0.00030 K/W"


@pytest.mark.parametrize("width", [80, 120])
def test_readable_in_a_pipe(wall, width):
    out = StringIO()
    print_solution(wall, Console(file=out, width=width))
    text = out.getvalue()
    assert "\x1b" not in text
    assert max(map(len, text.splitlines())) <= width
    for said in ("wall [red] <b>", "cabinet [air]", "<b>room</b>", "Spreading resistance", "psi", "Balance:", "Grid:"):
        assert said in text


def test_every_answer_is_there(wall):
    text = solution_text(wall)
    n = wall.network
    for value, band in (
        (n.values.coupling[0, 1], n.band.coupling[0, 1]),
        (n.values.resistance[0, 0], n.band.resistance[0, 0]),
        (n.values.resistance_max[0, 0], n.band.resistance_max[0, 0]),
        (wall.sensors["s1"].reading, wall.sensors["s1"].band),
        (wall.spreading["plate"]["face"].mean, wall.spreading["plate"]["face"].mean_band),
        (wall.bridges["block"].value, wall.bridges["block"].band),
    ):
        assert with_band(value, band) in text


def test_misreading_is_split_in_words_largest_first(wall):
    reading = replace(wall.sensors["s1"], misreading=1.0, split={"a": 0.2, "cabinet": 0.0, "b": -1.2, "c": 0.001})
    assert split_in_words(reading) == "pulled 1.2 K down by b, 0.2 K up by a"
    free = replace(reading, misreading=None, should_read=None)
    assert split_in_words(free) == "made up of -1.2 degC by b, 0.2 degC by a"
    assert "nothing" in split_in_words(replace(reading, split={"a": 0.0}))


def test_missed_target_and_warnings_are_said(wall):
    grid = replace(wall.grid, target_met=False, note="the limit of cells is reached", worst="bridge block")
    text = " ".join(solution_text(replace(wall, grid=grid, warnings=("part 'x' is covered",))).split())
    assert "NOT met, the limit of cells is reached; furthest from it: bridge block" in text
    assert "Warning: part 'x' is covered" in text


def test_html_escapes_names(wall):
    html = solution_html(wall)
    assert html.startswith("<pre") and html.endswith("</pre>")
    assert "&lt;b&gt;room&lt;/b&gt;" in html
    assert "<b>" not in html
    assert not re.search(r"\x1b", html)


def test_section_without_heat_or_sensors(slab):
    text = solution_text(slab)
    assert "Couplings" in text
    assert "Rise per watt" not in text and "Sensors" not in text and "Weights" not in text


def test_materials():
    out = StringIO()
    wood = Material("wood [own]", (0.12, 0.3))
    print_materials([wood, *builtin_materials().values()], Console(file=out, width=80))
    text = out.getvalue()
    assert "wood [own]" in text and "x 0.12, y 0.3" in " ".join(text.split())
    assert "XPS foam" in text
    assert max(map(len, text.splitlines())) <= 80
