import re
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from fdm.answers.rounding import with_band
from fdm.output.tables.section import print_materials, print_solution, split_in_words
from fdm.output.tables.shown import as_html, as_text
from fdm.section.materials import builtin_materials
from fdm.section.model import (
    Border,
    Environment,
    Material,
    Part,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Source,
)


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
    text = as_text(print_solution, wall)
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


def test_stems_and_own_heating_have_their_names(wall):
    split = {"greenhouse air": 1.494, "cabinet": 0.0, "cold face": -0.195}
    reading = replace(wall.sensors["s1"], misreading=2.34, split=split, stem=0.77, self_heating=0.272, leads=True)
    assert split_in_words(reading) == (
        "pulled 1.49 K up by greenhouse air, 0.195 K down by cold face, 0.77 K up along its leads, "
        "0.272 K up by its own heating"
    )
    tube = replace(reading, split={"cabinet": 0.0}, leads=False, stem=-0.5, self_heating=None)
    assert split_in_words(tube) == "pulled 0.5 K down along its stem"
    assert split_in_words(replace(tube, misreading=None, split={"cabinet": 7.0})) == (
        "made up of 7 degC by cabinet, -0.5 K along its stem"
    )


def test_missed_target_and_warnings_are_said(wall):
    grid = replace(wall.grid, target_met=False, note="the limit of cells is reached", worst="bridge block")
    text = " ".join(as_text(print_solution, replace(wall, grid=grid, warnings=("part 'x' is covered",))).split())
    assert "NOT met, the limit of cells is reached; furthest from it: bridge block" in text
    assert "Warning: part 'x' is covered" in text


def test_html_escapes_names(wall):
    html = as_html(print_solution, wall)
    assert html.startswith("<pre") and html.endswith("</pre>")
    assert "&lt;b&gt;room&lt;/b&gt;" in html
    assert "<b>" not in html
    assert not re.search(r"\x1b", html)


def test_section_without_heat_or_sensors(slab):
    text = as_text(print_solution, slab)
    assert "Couplings" in text
    assert "Resistances" not in text and "Sensors" not in text and "Weights" not in text


def test_weights_are_as_sure_as_their_sum(solved):
    """Of a plate that one air alone touches it is 1, whatever the changes from grid to grid say of it."""
    metal = Material("metal", (200.0, 200.0))
    plates = (
        Part("heated", (Rectangle((0, 0.05), (0, 0.005)),), metal),
        Part("apart", (Rectangle((0.06, 0.12), (0, 0.005)),), metal),
    )
    two = Section(
        "two plates",
        plates,
        (Environment("air", 25, 10), Environment("room", 20, 8)),
        border=Border(top="air", right="room"),
        sources=(Source("heater", Segment((0.015, 0.025), (0, 0)), heat=6),),
        sensors=(Sensor("probe", at=(0.01, 0)),),
    )
    rows = as_text(print_solution, solved(two)).partition("Weights")[2].splitlines()
    assert next(row for row in rows if row.startswith("probe")).split() == ["probe", "1.0000", "0.0000"]
    one = replace(two, parts=plates[:1], environments=two.environments[:1], border=Border(top="air"))
    assert "Weights" not in as_text(print_solution, solved(one))


def test_materials():
    out = StringIO()
    wood = Material("wood [own]", (0.12, 0.3))
    print_materials([wood, *builtin_materials().values()], Console(file=out, width=80), sources=True)
    text = out.getvalue()
    assert "wood [own]" in text and "x 0.12, y 0.3" in " ".join(text.split())
    assert "XPS foam" in text
    assert max(map(len, text.splitlines())) <= 80
