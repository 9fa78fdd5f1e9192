"""Temperatures and heat at any place of a solved section, within their bands."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fdm import InputError, at_operating_point, solve
from fdm.conduction.places import heat_through
from fdm.section.model import Border, Disc, Environment, Joint, Section, Segment, Sensor, Source
from fdm.solving.solution import Solution
from tests.conduction.stack.plates import sink
from tests.sections import wall_section
from validation.cases import air, box, solid

HELD = math.inf


@cache
def wall() -> Solution:
    """A foam wall with a plate, a block and a round void, heated by 3 W below the plate; 500 mm deep, drawn in mm."""
    foil = Source("foil", segment=Segment((0.04, 0.06), (0.03, 0.03)), heat=3)
    return solve(replace(wall_section(), sources=(foil,), spreading=(), bridges=()), max_cells=6000)


@cache
def sandwich() -> Solution:
    """Two layers with a joint between them, held at 0 and 10 degC; drawn in cm. The flux is 10 / 0.05 = 200 W/m2."""
    parts = solid("low", 1.0, box(0, 0.1, 0, 0.01)), solid("high", 0.5, box(0, 0.1, 0.01, 0.02))
    held = Environment("below", 0, HELD), Environment("above", 10, HELD)
    border, joint = Border(bottom="below", top="above"), Joint(("low", "high"), 0.02)
    return solve(Section("sandwich", parts, held, unit="cm", border=border, joints=(joint,)))


@cache
def tube() -> Solution:
    """A round rod with a hole, 0 degC inside and 10 outside: a tenth of the wall drawn as discs."""
    parts = solid("rod", 2.0, Disc((0, 0), 0.05)), air("bore", Disc((0, 0), 0.02))
    return solve(Section("tube", (air("bath", box(-0.06, 0.06, -0.06, 0.06)), *parts), (
        Environment("bath", 10, HELD), Environment("bore", 0, HELD)
    )))  # fmt: skip


@cache
def post() -> Solution:
    """A post of two metals about its axis, heated below by 2 W, in air."""
    parts = solid("core", 50.0, box(0, 0.01, 0, 0.04)), solid("shell", 5.0, box(0.01, 0.02, 0, 0.04))
    source = Source("heater", segment=Segment((0, 0.005), (0, 0)), heat=2)
    air, border = (Environment("air", 20, 15),), Border(right="air", top="air")
    return solve(Section("post", parts, air, view="axisymmetric", unit="mm", border=border, sources=(source,)))


# ---- temperatures ---------------------------------------------------------------------------------------------------


def test_a_place_reads_what_a_sensor_reads_there() -> None:
    """On lines and off them, in metal and foam, on surfaces, and beside a round void."""
    places = [(10, 0), (50, 34), (33, 31.7), (47.3, 12.1), (27.5, 15), (24, 19.5), (90, 15), (100, 30)]
    sensors = tuple(Sensor(f"at {k}", at=(x / 1000, y / 1000)) for k, (x, y) in enumerate(places))
    read = solve(replace(wall().section, sensors=sensors), max_cells=20_000).sensors
    field = wall().field
    for (x, y), reading in zip(places, read.values()):
        assert abs(field.at(x, y) - reading.reading) <= field.band_at(x, y) + reading.band


def test_either_side_of_a_joint_has_its_own_temperature() -> None:
    field = sandwich().field
    y = np.array([0, 0.5, 0.999999, 1.000001, 1.5, 2])
    assert field.at(3, y) == pytest.approx([0, 1, 2, 6, 8, 10], abs=1e-3)
    assert field.at(3, 1) == pytest.approx(4)  # on the joint: the mean


def test_between_round_edges_it_is_that_of_a_tube() -> None:
    field, r = tube().field, np.linspace(0.0205, 0.0495, 40)
    angle = np.linspace(0, 6, 40)
    found, band = field.at(r * np.cos(angle), r * np.sin(angle)), field.band_at(r * np.cos(angle), r * np.sin(angle))
    true = 10 * np.log(r / 0.02) / np.log(2.5)
    assert (abs(found - true) <= band).mean() > 0.95 and abs(found - true).max() < 0.05
    assert field.at([0, 0.055], [0, 0.055]).tolist() == [0, 10]  # within the airs


def test_about_an_axis_and_at_another_operating_point() -> None:
    hot = at_operating_point(post(), {"heater": 4})
    x, y = np.meshgrid([0, 5, 10, 15], [0.5, 20, 40])
    assert hot.field.at(x, y) - 20 == pytest.approx(2 * (post().field.at(x, y) - 20))
    assert hot.field.at(x, y).shape == (3, 4)


def test_there_is_none_in_voids_and_beyond_the_drawing() -> None:
    field = wall().field
    assert np.isnan(field.at([20, -1, 50, math.nan], [15, 10, 40, 1])).all()
    assert field.at(50, -10) == 7 and isinstance(field.at(50, -10), float)


@pytest.mark.parametrize("x, y, said", [("a", 1, "x: 'a' is no number"), ([1, 2], [1, 2, 3], "both the same")])
def test_what_is_no_place_is_refused(x: object, y: object, said: str) -> None:
    with pytest.raises(InputError, match=said):
        wall().field.at(x, y)  # type: ignore[arg-type]


# ---- heat -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "line",
    [
        [(25, 20), (75, 20), (75, 33), (25, 33), (25, 20)],
        [(37.7, 22.1), (63.1, 29.3), (66.6, 32.5), (31, 31.2), (37.7, 22.1)],  # at a slant
        [(5, 5), (95, 12), (78, 33), (22, 32), (5, 5)],  # through the round void
        [(25, 30), (25, 20), (75, 20), (75, 30), (75, 33), (25, 33), (25, 30)],
    ],
    ids=["along the axes", "at a slant", "through a void", "from the source's height"],
)
def test_around_a_source_pass_its_watts(line: list[tuple[float, float]]) -> None:
    assert wall().field.heat_through(line) == pytest.approx(3, abs=1e-9)
    assert wall().field.band_through(line) < 1e-6 + 0.1 * 3


def test_a_source_on_the_line_counts_as_on_its_right() -> None:
    field = wall().field
    up, down = field.heat_through([(40, 30), (60, 30)]), field.heat_through([(60, 30), (40, 30)])
    # towards the foam, all that passes into it; towards the plate, all that passes into that
    assert abs(up + down) == pytest.approx(3, abs=1e-9)


def test_through_a_whole_wall_passes_what_the_airs_exchange() -> None:
    flow = wall().balance.flow["cabinet [air]"]
    for line in ([(100, 0), (0, 0)], [(100, 10), (0, 10)], [(100, 3), (0, 27)], [(120, 12), (-30, 12.3)]):
        through, band = wall().field.heat_through(line), wall().field.band_through(line)
        assert abs(through - flow) <= band + wall().answers.at(("terminals", "cabinet [air]", "heat"))[1]
        assert wall().field.heat_through(line[::-1]) == pytest.approx(-through)


def test_past_round_edges_between_solids_nothing_is_lost() -> None:
    """Foam with a metal core in it and insulated sides: each level passes the same heat, also where edges cut cells."""
    parts = solid("foam", 0.03, box(0, 0.06, 0, 0.06)), solid("core", 200.0, Disc((0.03, 0.025), 0.015))
    held = Environment("cold", 0, HELD), Environment("warm", 10, HELD)
    field = solve(Section("core", parts, held, border=Border(bottom="cold", top="warm")), 0.05).field
    lines = [((0, y), (0.06, y)) for y in (0.002, 0.0103, 0.017, 0.0391)] + [((0, 0.012), (0.06, 0.037))]
    heat = [heat_through(field.section, field, np.array(line)) for line in lines]
    assert heat == pytest.approx([heat[0]] * 5, rel=1e-9) and heat[0] > 0.3


def test_about_an_axis_it_is_that_of_the_full_turn() -> None:
    field = post().field
    for line in ([(20, 1), (0, 1)], [(20, 0.1), (10, 0.3), (0, 7)]):
        sideways = field.heat_through([(20, 0), line[0]])
        assert field.heat_through(line) + sideways == pytest.approx(2, rel=1e-9)


def test_through_a_layer_passes_flux_times_area() -> None:
    assert sandwich().field.heat_through([(2, 1), (5, 1)]) == pytest.approx(200 * 0.03)


@pytest.mark.parametrize(
    "line", [3, [(0, 1)], [(0, 1, 2), (3, 4, 5)], [(0, 1), (math.inf, 1)], "across", [[1], [2, 3]]]
)
def test_what_is_no_line_is_refused(line: object) -> None:
    with pytest.raises(InputError, match="^line: "):
        wall().field.heat_through(line)  # type: ignore[arg-type]


# ---- all of it ------------------------------------------------------------------------------------------------------


def test_the_table_has_a_row_for_each_solid_cell() -> None:
    field, table = wall().field, wall().field.table()
    assert list(table) == ["x", "y", "T", "part"]
    assert {len(column) for column in table.values()} == {field.solid.sum()}
    assert set(table["part"]) == {"wall", "plate", "block"}
    metal = table["part"] == "block"
    assert table["x"][metal].min() > 45 and table["x"][metal].max() < 55
    k = len(metal) // 3
    assert field.at(table["x"][k], table["y"][k]) == pytest.approx(table["T"][k], abs=0.02)
    assert "wall [red] <b>" in repr(field) and len(repr(field)) < 200


def test_places_on_a_plate_in_layers_are_on_its_front_and_lines_are_refused():
    field = solve(sink()).field
    assert field.at(0.05, 0.075) == pytest.approx(field.point_temperature.max(), abs=0.05)
    assert field.at(0.05, 0.075) < field.back.point_temperature.max()
    assert repr(field).startswith("Field of 'sink': 24 x 24 cells")
    with pytest.raises(InputError, match="heat_through: heat passes a line on a plate in all of its layers"):
        field.heat_through([(0, 0.1), (0.1, 0.1)])
