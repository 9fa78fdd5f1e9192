"""The least and the most of each answer over ranges."""

import itertools
import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from fdm import InputError, Solution, at_operating_point, between, placement, solve
from fdm.section.model import Border, Environment, Section, Sensor
from fdm.solving.ranges import MOST_RANGES, checked_ranges
from tests.sections import slab_section, wall_section
from validation.cases import box, solid

FOLLOWING = """
unit = "mm"
depth = 100
environment = [
    { name = "air", temperature = 25, film = { flow = "still", face = "vertical", height = 120, emissivity = 0.9 } },
    { name = "more", temperature = 25, film = 5 },
    { name = "still more", temperature = 25, film = 5 },
]
part = [{ name = "plate", material = "aluminium 6063-T5", rectangle = { x = [0, 40], y = [0, 4] } }]
border = { top = "air" }
source = [{ name = "LEDs", segment = { x = [0, 40], y = 0 }, heat = 1 }]
sensor = [{ name = "guard", at = [10, 4], should_read = "LEDs" }]
"""
RANGES = {"<b>room</b>": (15.0, 35.0), "face": (-2.0, 6.0)}


@cache
def wall() -> Solution:
    return solve(wall_section(), 0.05)


@cache
def slab() -> Solution:
    sensor = Sensor("guard", at=(0.05, 0.005), should_read="cold")
    return solve(slab_section(sensors=(sensor,)))


def test_of_a_slab_they_are_those_at_the_ends() -> None:
    """A quarter of the way from cold to warm, 20 K apart as drawn."""
    found = between(slab(), {"warm": (14, 34), "cold": (6, 10)})
    assert found.least.at("sensors.guard.misreading")[0] == pytest.approx((14 - 10) / 4)
    assert found.most.at("sensors.guard.misreading")[0] == pytest.approx((34 - 6) / 4)
    assert found.where("sensors.guard.misreading") == {"warm": 34, "cold": 6}
    assert found.where("sensors.guard.misreading", most=False) == {"warm": 14, "cold": 10}
    assert found.where("terminals.warm.temperature") == {"warm": 34}  # the other does not matter


def test_no_corner_has_less_or_more_and_one_has_as_much() -> None:
    found = between(wall(), RANGES)
    corners = [at_operating_point(wall(), dict(zip(RANGES, ends))) for ends in itertools.product(*RANGES.values())]
    for k, q in enumerate(found.most.quantities):
        values, bands = np.array([c.answers.at(q.path) for c in corners]).T
        assert (found.least.value[k], found.most.value[k]) == (values.min(), values.max())
        assert found.most.band[k] in bands
    assert {q.family for q in found.most.quantities} >= {"misreading", "temperature", "surface", "flow"}
    assert not {q.family for q in found.most.quantities} & {"coupling", "resistance", "weight", "spreading"}


def test_a_margin_may_be_most_inside_the_range() -> None:
    """The frost point of air with the same humidity rises more with its temperature than its surface does, the dew
    point less: between them the margin is largest."""
    airs = Environment("room", 20, 8.0, humidity=60), Environment("cold", -5, 40.0)
    section = Section(
        "lid", (solid("lid", 0.04, box(0, 0.1, 0, 0.05)),), airs, border=Border(top="room", bottom="cold")
    )
    solution, path = solve(section), "surface.lid.room.margin"
    found = between(solution, {"room": (-4, 20)})
    tried = [at_operating_point(solution, {"room": t}).answers.at(path)[0] for t in np.linspace(-4, 20, 31)]
    most = found.most.at(path)[0]
    assert max(tried[0], tried[-1]) + 0.05 < max(tried) <= most + 1e-3
    assert most == pytest.approx(max(tried), abs=0.01) and 0 < found.where(path)["room"] < 15


@pytest.mark.parametrize(
    "ranges, said",
    [
        ({"colt": (1, 2)}, "no terminal 'colt'; did you mean 'cold'?"),
        ({"cold": (2, 1)}, "'cold': 2 to 1 is no range; give the lower end first"),
        ({"cold": (1, math.nan)}, "is no range; give two numbers, such as"),
        ({"cold": 3}, "'cold': 3 is no range"),
        ([("cold", 1, 2)], "a list names no terminals"),
        ({}, "no range is given; give such as"),
        ({"cold": (-300, 2)}, "-300.0 is not a temperature"),
    ],
)
def test_what_is_no_range_is_said(ranges: dict[str, tuple[float, float]], said: str) -> None:
    with pytest.raises(InputError) as told:
        between(slab(), ranges)
    assert said in str(told.value)


def test_a_range_that_is_likely_in_kelvin_is_warned_of() -> None:
    assert between(wall(), {"<b>room</b>": (6, 199), "face": (0, 300)}).warnings == ()
    (said,) = between(slab(), {"cold": (279, 283)}).warnings
    assert said.startswith("between, 'cold': 283 degC is hotter than") and said.endswith("give 9.85")


def test_more_ranges_than_can_be_looked_at_are_refused() -> None:
    airs = tuple(Environment(f"air {k}", 20 + k, 5) for k in range(MOST_RANGES + 1))
    section = Section("many", (solid("plate", 2.0, box(0, 0.1, 0, 0.02)),), airs)
    ranges = {a.name: (10, 20) for a in airs}
    with pytest.raises(InputError, match=f"{MOST_RANGES + 1} ranges have 512 corners; give at most {MOST_RANGES}"):
        checked_ranges(section, ranges)
    ranges.popitem()
    assert len(checked_ranges(section, ranges)) == MOST_RANGES


def test_where_films_follow_each_corner_is_solved_anew(tmp_path: Path) -> None:
    (tmp_path / "plate.toml").write_text(FOLLOWING, encoding="utf-8")
    solution = solve(tmp_path / "plate.toml", 0.3)
    found = between(solution, {"LEDs": (0.5, 4)})
    hottest = at_operating_point(solution, {"LEDs": 4}).answers.at("LEDs")[0]
    assert found.most.at("LEDs")[0] == hottest
    assert hottest < 25 + 8 * (found.least.at("LEDs")[0] - 25) - 5  # the film grows with the watts
    with pytest.raises(InputError, match="4 ranges have 16 corners, each to be solved; give at most 3 of them"):
        between(solution, {name: (1, 2) for name in ("LEDs", "air", "more", "still more")})
    places = placement(solution, "guard", between={"LEDs": (0.5, 4)})
    assert places.kept and not placement(solution, "guard").kept
    assert places.points[0].section.watts == 2.25
    assert "keep what they are in the middle" in " ".join(str(places).split())
