"""The picture of where a sensor may stand."""

from dataclasses import replace
from pathlib import Path

import pytest

from fdm import Solution, placement, solve
from fdm.output.drawing.placement import GOOD, draw_placement
from fdm.output.drawing.sheet import Sheet
from fdm.section.model import Sensor
from tests.conduction.stack.plates import sink
from tests.output.drawing.drawing_example import boxes


@pytest.fixture
def sheets(monkeypatch: pytest.MonkeyPatch) -> list[Sheet]:
    """All sheets, which are not saved."""
    drawn: list[Sheet] = []
    monkeypatch.setattr(Sheet, "save", lambda self, path: drawn.append(self))
    return drawn


def hatched(sheet: Sheet) -> float:
    """The share of pixels in the colour of what is within the limit."""
    pixels = sheet.axes.images[0].get_array()
    return float((pixels[..., :3] == [int(GOOD[k : k + 2], 16) for k in (1, 3, 5)]).all(-1).mean())


def below(sheet: Sheet) -> str:
    return " ".join(sheet.figure.legends[0].get_texts()[0].get_text().split())


def test_it_shows_limit_sensor_best_places_and_airs(wall: Solution, tmp_path: Path, sheets: list[Sheet]) -> None:
    draw_placement(placement(wall, "s1", within=3), tmp_path / "wide.png")
    written = set(boxes(sheets[0]))
    now = placement(wall, "s1").now
    assert now is not None
    assert {f"s1\nnow {now[0]:+.3g} K", "best 1", "cabinet [air], 0 K", "<b>room</b>, +21 K"} <= written
    assert "s2" not in {text.split("\n")[0] for text in written}
    assert below(sheets[0]) == "within 3 K of cabinet [air]"
    assert 0.01 < hatched(sheets[0]) < 0.1  # every ninth pixel of the air and a little more
    assert sheets[0].axes.get_title(loc="left") == "wall [red] <b>: where to put s1"


def test_over_ranges_it_says_which_and_without_a_place_that_there_is_none(
    wall: Solution, tmp_path: Path, sheets: list[Sheet]
) -> None:
    ranges = {"cabinet [air]": (0.0, 20.0), "<b>room</b>": (20.0, 30.0)}
    sensor = Sensor("bead", at=(0.01, 0.02), should_read=100.0)
    solution = solve(replace(wall.section, sensors=(sensor,)), 0.1)
    draw_placement(placement(solution, "bead", between=ranges), tmp_path / "none.png")
    assert below(sheets[0]) == (
        "nowhere within 0.5 K of 100 degC, with cabinet [air] from 0 to 20, <b>room</b> from 20 to 30"
    )
    assert hatched(sheets[0]) == 0
    assert {"cabinet [air], -100 K", "<b>room</b>, -80 K"} <= set(boxes(sheets[0]))


def test_each_face_of_a_plate_shows_what_is_on_it(tmp_path: Path, sheets: list[Sheet]) -> None:
    sensors = (Sensor("cut-out", at=(0.09, 0.1), face="back", should_read="module"),)
    found = placement(solve(sink(sensors=sensors), 0.1), "cut-out")
    for face in found.faces:
        draw_placement(found, tmp_path / f"{face}.png", face)
    front, back = ({text.split("\n")[0] for text in boxes(sheet)} for sheet in sheets)
    assert "cut-out" in back - front and "module, 10 W" in back - front
    assert [sheet.axes.get_title(loc="left") for sheet in sheets] == [
        f"sink: where to put cut-out, {face}" for face in ("front", "back")
    ]
