"""What sweats and freezes, against closed forms of one dimension."""

from dataclasses import replace

import numpy as np
import psychrolib
import pytest

from fdm.inference.reanalysis import reanalysis
from fdm.inference.uncertainty import uncertainty
from fdm.output.drawing.moisture import wetted_on
from fdm.section.model import Border, Environment, Fins, Section, Segment, Source
from fdm.solving.operating_point import at_operating_point
from fdm.solving.result import result_dict
from fdm.solving.steady import solve
from fdm.surroundings.moist import saturation_over_ice, saturation_over_water, vapour_pressure
from validation.cases import box, solid

INSIDE, OUTSIDE = Environment("inside", 20, 8, humidity=60), Environment("outside", -10, 25, humidity=90)
psychrolib.SetUnitSystem(psychrolib.SI)
FACTOR = 1 - (1 / 8) / (1 / 8 + 0.02 / 0.04 + 1 / 25)  # of 20 mm with 0.04 W/(m K)


def wall(inside=INSIDE, outside=OUTSIDE, **more):
    part = solid("wall", 0.04, box(0, 0.1, 0, 0.02))
    return Section("wall", (part,), (inside, outside), border=Border(bottom="outside", top="inside"), **more)


@pytest.fixture(scope="module")
def solved():
    return solve(wall())


def test_a_wall_sweats_from_where_its_surface_is_saturated(solved):
    surface = -10 + 30 * FACTOR
    dew = 12.006  # of 20 degC and 60 %, by the ASHRAE formulas
    at = solved.answers.at
    assert at("surface.wall.inside.margin")[0] == pytest.approx(surface - dew, abs=0.01)
    humidity = 100 * saturation_over_water(surface) / saturation_over_water(20)
    assert at("surface.wall.inside.sweats_from")[0] == pytest.approx(humidity, rel=1e-9)
    assert at("surface.wall.inside.temperature_factor")[0] == pytest.approx(FACTOR, rel=1e-9)
    assert at("surface.wall.outside.temperature_factor")[0] == pytest.approx(1 - 1 / 25 / (1 / 8 + 0.5 + 1 / 25))
    assert at("terminals.inside.dew_point")[0] == pytest.approx(dew, abs=0.01)
    assert solved.wetted == ()


def test_the_humidity_of_sweating_is_where_the_margin_is_nothing(solved):
    humidity, _ = solved.answers.at("surface.wall.inside.sweats_from")
    just = solve(wall(replace(INSIDE, humidity=humidity)), like=solved)
    assert just.answers.at("surface.wall.inside.margin")[0] == pytest.approx(0, abs=1e-9)
    assert just.section.drawn == solved.section.drawn  # so that its grids are used again


def test_below_freezing_the_frost_point_counts(solved):
    at = solved.answers.at
    frost, _ = at("terminals.outside.dew_or_frost_point")
    assert saturation_over_ice(frost) == pytest.approx(float(vapour_pressure(-10, 90)), rel=1e-9)
    assert at("terminals.outside.dew_point")[0] == pytest.approx(-11.33, abs=0.01) and frost > -10.2
    dry = at("surface.wall.outside.lowest")[0] - frost
    assert at("surface.wall.outside.margin")[0] == pytest.approx(dry, abs=1e-12)
    cold = solve(wall(Environment("inside", 1, 8, dew_point=-3), Environment("outside", -30, np.inf)))
    assert "surface.wall.outside.margin" not in {q.name for q in cold.answers.quantities}  # not known how moist
    (frozen,) = cold.wetted
    assert frozen.freezes and frozen.air == "inside" and frozen.share == 1
    assert cold.answers.at("surface.wall.inside.margin")[0] == pytest.approx(
        1 - 31 * (1 / 8) / (1 / 8 + 0.5) + 2.65, abs=0.02
    )


def test_a_stretch_ends_where_the_surface_is_at_the_dew_point():
    bar = Section(
        "bar",
        (solid("bar", 2.0, box(0, 0.1, 0, 0.005)),),
        (Environment("cold", 0, np.inf), Environment("warm", 20, np.inf), Environment("air", 20, 1e-9, dew_point=5)),
        border=Border(left="cold", right="warm", top="air"),
    )
    found = solve(bar, cells=3_000)
    (wet,) = found.wetted
    assert not wet.freezes and (wet.part, wet.air) == ("bar", "air")
    assert wet.share == pytest.approx(0.25, abs=0.005) and np.ptp(wet.edges[..., 1]) == 0
    assert wet.edges[..., 0].min() == 0 and wet.edges[..., 0].max() == pytest.approx(0.025, abs=5e-4)
    half = at_operating_point(found, {"cold": 10, "warm": 30, "air": 30})  # 5 degC nowhere any more
    assert half.wetted == () and half.answers.at("surface.bar.air.margin")[0] == pytest.approx(5, abs=1e-6)


@pytest.mark.parametrize("view", ["section", "axisymmetric", "plate"])
def test_areas_and_ends_of_surfaces(view):
    """All of a slanted or straight edge, or of a face, sweats in saturated warm air."""
    air = Environment("air", 20, 10, humidity=100)
    faces = {"thickness": 0.002, "front": "air"} if view == "plate" else {}
    part = solid("block", 50.0, box(0, 0.06, 0, 0.03), **faces)
    held = Source("held", segment=Segment((0, 0.06), (0, 0)), temperature=5)
    found = solve(Section("block", (part,), (air,), view, border=Border(right="air", top="air"), sources=(held,)))
    (wet,) = found.wetted
    places = found.grids[-1].answers.surfaces.places
    total = {"section": 0.09, "axisymmetric": np.pi * 0.06**2 + 2 * np.pi * 0.06 * 0.03, "plate": 0.09 * 0.002 + 0.0018}
    assert places.area.sum() == pytest.approx(total[view]) and wet.share == pytest.approx(1)
    assert np.hypot(*np.diff(wet.edges, axis=1)[:, 0].T).sum() == pytest.approx(0.09)
    assert np.prod(np.diff(wet.cells, axis=1)[:, 0], axis=1).sum() == pytest.approx(0.0018 * (view == "plate"))


def test_plates_in_layers_have_the_areas_of_both_faces_and_of_their_fins():
    airs = Environment("fan air", 20, 30, humidity=100), Environment("still air", 20, 5, dew_point=19)
    plate = solid("plate", 200.0, box(0, 0.1, 0, 0.06), thickness=0.004, front="fan air", back="still air")
    fins = Fins("fins", ("plate",), "front", "y", 0.002, 0.03, "fan air", plate.material, count=10)
    cold = Source("cold", part="plate", heat=-5)
    found = solve(Section("sink", (plate,), airs, "plate", sources=(cold,), fins=(fins,)), max_cells=4000)
    places = found.grids[-1].answers.surfaces.places
    area = {pair: places.area[places.pair == k].sum() for k, pair in enumerate(places.pairs)}
    roots = 10 * 0.002 * 0.06
    assert area["plate", "fan air"] == pytest.approx(0.006 - roots)
    assert area["plate", "still air"] == pytest.approx(0.006)
    assert area["fins", "fan air"] == pytest.approx(10 * 2 * 0.03 * 0.06 + roots)
    assert {(w.part, w.air) for w in wetted_on(found, "back")} == {("plate", "still air")}
    assert {w.part for w in wetted_on(found, "front")} == {"plate", "fins"}


def test_without_a_humidity_nothing_is_different(solved):
    dry = solve(wall(replace(INSIDE, humidity=None), replace(OUTSIDE, humidity=None)))
    known = {q.path: (v, b) for q, v, b in solved.answers}
    assert all(known[q.path] == (v, b) for q, v, b in dry.answers) and dry.wetted == ()
    assert not {"margin", "sweats_from", "dew_point"} & {q.path[-1] for q in dry.answers.quantities}
    assert len(known) == len(dry.answers.quantities) + 10


def test_a_heated_section_has_no_temperature_factor():
    heated = solve(wall(sources=(Source("foil", segment=Segment((0, 0.1), (0.02, 0.02)), heat=1),)))
    assert not any(q.path[-1] == "temperature_factor" for q in heated.answers.quantities)
    assert "margin" in {q.path[-1] for q in heated.answers.quantities}


def test_air_at_another_temperature_keeps_its_humidity_or_its_dew_point():
    assert Environment("a", 20, 8, humidity=60).at(5).humidity == 60
    assert Environment("a", 20, 8, dew_point=12).at(30).dew_point == 12
    assert Environment("a", 20, 8, dew_point=12).at(5).dew_point == 5  # it holds no more
    assert not Environment("a", 20, 8, humidity=60).at(150).moist


def test_plain_data_has_them_by_path(solved):
    data = result_dict(solved)
    assert data["surface"]["wall"]["inside"].keys() == {
        "lowest", "highest", "margin", "sweats_from", "temperature_factor"
    }  # fmt: skip
    assert data["terminals"]["outside"]["dew_or_frost_point"] == pytest.approx(-10.09, abs=0.01)
    assert data["band"]["surface"]["wall"]["inside"]["margin"] < 1e-4


FILE = """
unit = "mm"
part = [{ name = "wall", material = "own", rectangle = { x = [0, 100], y = [0, 20] } }]
border = { bottom = "outside", top = "inside" }
material.own.conductivity = 0.04
[[environment]]
name = "inside"
temperature = 20
film = { value = 8, uncertainty = 1 }
humidity = { value = 60, uncertainty = 4 }
[[environment]]
name = "outside"
temperature = -10
film = 25
"""


def test_uncertain_humidities_are_in_margins(tmp_path):
    (tmp_path / "wall.toml").write_text(FILE)
    model = reanalysis(tmp_path / "wall.toml")
    found = uncertainty(model)
    humidity = next(k for k, u in enumerate(found.inputs) if u.place == "environment 'inside', humidity")
    film = 1 - humidity
    margin = model.answers.number("surface.wall.inside.margin")
    dew = [float(model.values({"environment 'inside', humidity": d})[margin]) for d in (-4, 4)]
    assert found.change[humidity, margin] == pytest.approx((dew[1] - dew[0]) / 2, abs=1e-9)
    low, high = (psychrolib.GetTDewPointFromRelHum(20, share) for share in (0.56, 0.64))
    assert found.change[humidity, margin] == pytest.approx((low - high) / 2, abs=0.005)  # K
    surface = model.answers.number("surface.wall.inside.lowest")
    assert found.change[film, margin] == pytest.approx(found.change[film, surface], abs=1e-9)
    sweats = model.answers.number("surface.wall.inside.sweats_from")
    assert found.change[humidity, sweats] == pytest.approx(0, abs=1e-9) and found.change[film, sweats] > 0.5
