"""Where to put a sensor: what a bead would misread anywhere, beside solves with the sensor there."""

import itertools
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fdm import InputError, Solution, at_operating_point, placement, solve
from fdm.section.model import Border, Environment, Joint, Section, Segment, Sensor, Source
from fdm.section.sensors import Bead, Stem
from fdm.solving.placement import Placement
from tests.conduction.stack.plates import sink
from tests.sections import METAL, slab_section, wall_section
from validation.cases import box, solid


@cache
def wall() -> Solution:
    """A foam wall with a plate, a block, a joint, a round void, and a heater."""
    joint = Joint(("plate", "wall"), 1e-3)
    return solve(replace(wall_section(), joints=(joint,), spreading=(), bridges=()), max_cells=6000)


@cache
def post() -> Solution:
    """Two metals about an axis, heated below, in air, with a sensor that should read the heater."""
    parts = solid("core", 50.0, box(0, 0.01, 0, 0.04)), solid("shell", 5.0, box(0.01, 0.02, 0, 0.04))
    source = Source("heater", segment=Segment((0, 0.005), (0, 0)), heat=2)
    sensor = Sensor("guard", at=(0.02, 0.01), should_read="heater")
    airs, border = (Environment("air", 20, 15),), Border(right="air", top="air")
    return solve(
        Section("post", parts, airs, "axisymmetric", "mm", border=border, sources=(source,), sensors=(sensor,)), 0.02
    )


@cache
def slab() -> Solution:
    """Held at 10 and 30 degC, so that y mm above the cold face a bead that should read it misreads y K."""
    return solve(
        slab_section(sensors=(Sensor("guard", at=(0.05, 0.005), should_read="cold"), Sensor("free", part="slab")))
    )


@cache
def of_guard() -> Placement:
    return placement(slab(), "guard", within=2)


def solved_there(found: Placement, x: list[float], y: list[float], face: str | None = None) -> tuple[np.ndarray, ...]:
    """What sensors at places (mm) misread, and their bands, by a solve of their own."""
    sensors = tuple(
        Sensor(f"bead {k}", at=(a / 1000, b / 1000), should_read=found.should_read, face=face)
        for k, (a, b) in enumerate(zip(x, y))
    )
    others = tuple(s for s in found.section.sensors if s.name == found.should_read)
    solution = solve(replace(found.section, sensors=(*others, *sensors)), 0.05)
    read = [solution.answers.at(("sensors", s.name, "misreading")) for s in sensors]
    return tuple(np.array(read).T)


def test_at_ten_places_it_is_what_a_sensor_there_misreads() -> None:
    """In foam and metal, beside joints, edges and corners, at round edges, in an air, and by chance."""
    rng = np.random.default_rng(16)
    x = [0, 20.1, 79.9, 45.1, 50, 25.2, 17.3, 50, *rng.uniform(1, 99, 2)]
    y = [0, 30.2, 29.9, 29.8, 33.9, 15, 19.6, -5, *rng.uniform(0.5, 29.5, 2)]
    found = placement(wall(), "s1")
    true, unsure = solved_there(found, x, y)
    assert (abs(found.at(x, y) - true) <= found.band_at(x, y) + unsure).all()
    assert np.isfinite(true).all() and np.ptp(true) > 20


@pytest.mark.parametrize("view", ["about an axis", "front", "back"])
def test_so_it_is_in_the_other_views(view: str) -> None:
    if view == "about an axis":
        found, face = placement(post(), "guard"), ""
        x, y = [0.0, 10.0, 19.0], [1.0, 20.0, 40.0]
    else:
        found, face = placement(solve(sink(unit="mm"), 0.05), "module"), view
        x, y = [50.0, 20.0, 99.0], [75.0, 20.0, 140.0]
    true, unsure = solved_there(found, x, y, face or None)
    assert (abs(found.at(x, y, face) - true) <= found.band_at(x, y, face) + unsure + 1e-9).all()


def test_a_stem_and_watts_of_its_own_are_those_that_it_would_have_there() -> None:
    """In air, where it is; within foam and plate; and half sunk into a surface."""
    stem = Stem(
        replace(METAL, conductivity=(200.0, 200.0)), diameter=5e-4, length=0.03, to="<b>room</b>", insulation=5e-4
    )
    probe = Sensor("probe", (0.05, -0.01), None, "cabinet [air]", stem=stem, bead=Bead(0.004), self_heating=1e-3)
    found = placement(solve(replace(wall().section, sensors=(probe,)), 0.05), "probe")
    on = next(p for p in found.solid if p.where == "on" and p.part == "wall")
    places = [(50.0, -10.0), (90.0, 12.0), (70.0, 32.0), (on.x, on.y)]
    told = [*(found.at(x, y) for x, y in places[:3]), on.misreading]
    beads = [replace(probe, name=f"p{k}", at=(x / 1000, y / 1000)) for k, (x, y) in enumerate(places)]
    there = solve(replace(found.section, sensors=tuple(beads)), 0.05)
    bare = placement(wall(), "s1")
    for k, ((x, y), misread) in enumerate(zip(places, told)):
        true, band = there.answers.at(("sensors", f"p{k}", "misreading"))
        assert abs(misread - true) <= band + found.band_at(x, y) + 1e-9
        assert k == 2 or abs(misread - bare.at(x, y)) > 0.05  # in the plate it is held fast
    assert found.now == pytest.approx((told[0], 0), abs=1e-6)
    worst = placement(found.points[0], "probe", between={"<b>room</b>": (20, 40)})
    air = next(p for p in worst.best if p.where == "air" and p.air == "cabinet [air]")
    assert worst.now == pytest.approx((air.misreading, 0), abs=1e-6) and air.at == {"<b>room</b>": 40}


def test_the_map_is_the_field_less_what_should_be_read() -> None:
    found, (x, y) = of_guard(), np.meshgrid(of_guard().x, of_guard().y, indexing="ij")
    assert found.misreading == pytest.approx(y) and found.misreading.shape == x.shape
    assert found.at(50, 5) == pytest.approx(5) and found.band_at(50, 5) < 1e-6
    assert math.isnan(found.at(-5, 5))


def test_the_best_places_in_and_on_a_part_and_in_each_air() -> None:
    """Of 20 mm, two lie within 2 K; the best is on the cold face."""
    by_words = {(p.part, p.where, p.air): p for p in of_guard().best}
    inside, cold, warm = (by_words["slab", where, a] for where, a in (("in", ""), ("on", "cold"), ("on", "warm")))
    assert inside.share == pytest.approx(0.1, abs=0.03) and (cold.share, warm.share) == (1, 0)
    assert cold.misreading == pytest.approx(0, abs=1e-4) and (cold.y, warm.y) == (0, 20)
    assert warm.misreading == pytest.approx(20) and warm.slope == pytest.approx(1)
    assert [by_words["", "air", a].misreading for a in ("cold", "warm")] == [0, 20]
    assert of_guard().best[0].where == "air" and of_guard().solid[0] == cold
    assert of_guard().now == pytest.approx((5, 0), abs=1e-6)


def test_a_place_that_holds_off_its_mark_is_better_than_one_that_is_right_by_a_hair() -> None:
    """A foil reads 0.2 K too much all along; in the foam behind it, somewhere nothing is misread, and a kelvin a
    millimetre beside it."""
    parts = solid("foil", 200.0, box(0, 0.1, 0, 0.001)), solid("foam", 0.03, box(0, 0.1, 0.001, 0.021))
    airs = Environment("in", 10, 40), Environment("out", 30, math.inf)
    section = Section("lid", parts, airs, unit="mm", border=Border(bottom="in", top="out"))
    found = placement(solve(replace(section, sensors=(Sensor("bead", at=(0.05, 0), should_read=11.2),))), "bead")
    assert found.solid[0].part == "foil" and abs(found.solid[0].misreading) > 0.3 > abs(found.at(50, 1.5))


@pytest.mark.parametrize("name", ["s1", "face"])
def test_over_ranges_it_is_the_worst_of_all_corners(name: str) -> None:
    ranges = {"<b>room</b>": (15.0, 35.0), "face": (-4.0, 6.0), "cabinet [air]": (5.0, 12.0)}
    found = placement(wall(), name, between=ranges)
    corners = [dict(zip(ranges, ends)) for ends in itertools.product(*ranges.values())]
    each = [placement(at_operating_point(wall(), corner), name) for corner in corners]
    several = np.stack([one.misreading for one in each])
    worst = np.take_along_axis(several, abs(several).argmax(0)[None], 0)[0]
    assert abs(found.misreading) == pytest.approx(abs(worst), abs=1e-9, nan_ok=True)
    for p in (found.solid[0], found.solid[-1]):  # as told of one corner
        there = placement(at_operating_point(wall(), p.at), name)
        assert there.at(p.x, p.y) == pytest.approx(p.misreading, abs=p.band)
    if name == "s1":
        path = "sensors.s1.misreading"
        assert found.now is not None
        assert abs(found.now[0]) == max(abs(one.points[0].answers.at(path)[0]) for one in each)


def test_a_plate_has_places_on_both_faces() -> None:
    sensor = Sensor("cut-out", at=(0.09, 0.1), face="back", should_read="module")
    found = placement(solve(sink(unit="mm", sensors=(sensor,)), 0.05), "cut-out")
    assert {p.where for p in found.solid} == {"front", "back"}
    back = next(p for p in found.solid if p.where == "back")
    assert 30 < back.x < 70 and 55 < back.y < 95 and abs(back.misreading) < 0.5  # behind the module


@pytest.mark.parametrize(
    "asked, said",
    [
        ({"sensor": "gard"}, "no sensor, environment or source 'gard'; did you mean 'guard'?"),
        ({"sensor": "free"}, "sensor 'free' has no should_read"),
        ({"sensor": "guard", "within": 0}, "within: 0 is not a number of kelvins above 0"),
        ({"sensor": "guard", "between": {"cald": (1, 2)}}, "no terminal 'cald'; did you mean 'cold'?"),
    ],
)
def test_what_cannot_be_placed_is_said(asked: dict[str, object], said: str) -> None:
    with pytest.raises(InputError, match=said.replace("?", r"\?")):
        placement(slab(), **asked)  # type: ignore[arg-type]


def test_a_terminal_stands_for_a_sensor_that_is_not_drawn() -> None:
    found = placement(slab(), "warm")
    assert found.now is None and found.at(3, 5) == pytest.approx(-15)
    with pytest.raises(InputError, match='no face of a plate; give "front" or "back"'):
        found.at(3, 5, "top")
