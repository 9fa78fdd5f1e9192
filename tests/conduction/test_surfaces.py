"""The coldest and the warmest place of each surface, against closed forms of one dimension."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fdm.conduction.solver import unit_fields
from fdm.conduction.surfaces import SurfaceTemperatures, surface_places
from fdm.conduction.system import assemble
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Disc, Environment, Joint, Part, Polygon, Section, Segment, Source
from fdm.solving.steady import solve
from validation.cases import air, box, solid

LONG, THICK, HALFWAY = 0.1, 0.02, 0.06  # m
NEXT_TO_NOTHING = 1e-9  # W/(m2 K)
SIDES = {0: ("left", "right", "top"), 1: ("bottom", "top", "right")}  # where a bar along x or y begins, ends, is seen


def lying(axis, x, y):
    return box(*x, *y) if axis == 0 else box(*y, *x)


def bar(axis, *conductivities, **more):
    """A bar along an axis from 30 to 10 degC, of one to three materials, seen by air that takes next to nothing."""
    ends = [[0, LONG], [0, HALFWAY, LONG], [0, LONG / 4, HALFWAY, LONG]][len(conductivities) - 1]
    names = ["one", "two", "three"][: len(conductivities)]
    parts = (
        solid(name, k, lying(axis, span, (0, THICK))) for name, k, span in zip(names, conductivities, pairwise(ends))
    )
    environments = (
        Environment("hot", 30, np.inf),
        Environment("cold", 10, np.inf),
        Environment("air", 0, NEXT_TO_NOTHING),
    )
    border = Border(**dict(zip(SIDES[axis], ("hot", "cold", "air"))))
    return Section("bar", tuple(parts), environments, border=border, **more)


def assembled(section):
    return assemble(section, *(halved(halved(halved(lines))) for lines in first_lines(section)))


def temperatures(section):
    system = assembled(section)
    places, fields = surface_places(system), unit_fields(system)
    return SurfaceTemperatures(places, places.rows(fields.reshape(len(fields), -1)[:, places.cell]))


def extremes(section):
    """(lowest, highest) degC by part and environment, at the section's own temperatures and watts."""
    found = temperatures(section)
    loads = np.concatenate([section.fixed_temperatures, section.watts])
    return dict(zip(found.places.pairs, map(tuple, found.extremes(loads).tolist())))


@pytest.mark.parametrize("axis", [0, 1])
def test_a_surface_is_coldest_and_warmest_at_its_very_ends(axis):
    found = extremes(bar(axis, 2.0))
    assert found["one", "air"] == pytest.approx((10, 30), abs=1e-6)
    assert found["one", "hot"] == pytest.approx((30, 30)) and found["one", "cold"] == pytest.approx((10, 10))


@pytest.mark.parametrize("axis", [0, 1])
def test_where_a_surface_goes_on_in_another_part_both_have_one_temperature(axis):
    found = extremes(bar(axis, 2.0, 0.5))
    first, second = HALFWAY / 2.0, (LONG - HALFWAY) / 0.5
    between = 30 - 20 * first / (first + second)
    assert found["one", "air"] == pytest.approx((between, 30), abs=1e-6)
    assert found["two", "air"] == pytest.approx((10, between), abs=1e-6)


@pytest.mark.parametrize("axis", [0, 1])
def test_a_joint_parts_the_temperatures_on_its_sides(axis):
    joint = 0.05
    found = extremes(bar(axis, 2.0, 0.5, joints=(Joint(("one", "two"), joint),)))
    first, second = HALFWAY / 2.0, (LONG - HALFWAY) / 0.5
    flux = 20 / (first + joint + second)
    assert found["one", "air"] == pytest.approx((30 - flux * first, 30), abs=1e-6)
    assert found["two", "air"] == pytest.approx((10, 10 + flux * second), abs=1e-6)


def test_a_joint_parts_the_two_that_it_lies_between_alone():
    joint = 0.05
    found = extremes(bar(0, 2.0, 2.0, 0.5, joints=(Joint(("two", "three"), joint),)))
    flux = 20 / (HALFWAY / 2.0 + joint + (LONG - HALFWAY) / 0.5)
    between = 30 - flux * LONG / 4 / 2.0
    assert found["one", "air"] == pytest.approx((between, 30), abs=1e-6)
    assert found["two", "air"] == pytest.approx((30 - flux * HALFWAY / 2.0, between), abs=1e-6)
    assert found["three", "air"] == pytest.approx((10, 10 + flux * (LONG - HALFWAY) / 0.5), abs=1e-6)


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("top", [-0.01, 0.031, 0.052, 0.12])
@pytest.mark.parametrize("sign", [1, -1])
def test_the_turning_point_of_a_parabola_is_found_between_the_middles_of_faces(axis, top, sign):
    places = surface_places(assembled(bar(axis, 2.0)))
    seen = places.pairs.index(("one", "air"))

    def at(x):
        return sign * (5 - 1000 * (x - top) ** 2)

    lowest, highest = SurfaceTemperatures(places, at(places.place)[:, None]).extremes(np.ones(1))[seen]
    values = [at(0.0), at(LONG), at(np.clip(top, 0, LONG))]
    assert (lowest, highest) == pytest.approx((min(values), max(values)), rel=1e-9)


@pytest.mark.parametrize("sign", [1, -1])
def test_a_top_between_two_faces_that_are_equally_warm_is_found(sign):
    """Halfway along an even stretch, with all other faces as warm as each other."""
    places = surface_places(assembled(bar(0, 2.0)))
    seen = places.pairs.index(("one", "air"))
    on = np.nonzero(places.pair == seen)[0]
    number = np.arange(len(on)) - (len(on) - 1) / 2
    even = replace(places.chosen(on), pair=np.zeros(len(on), np.intp), pairs=(places.pairs[seen],), place=number)
    assert len(on) % 2 == 0
    hill = SurfaceTemperatures(even, sign * (5.0 - number**2)[:, None])
    level = SurfaceTemperatures(even, np.full((len(on), 1), 20.0))
    assert sign * hill.extremes(np.ones(1))[0, (1 + sign) // 2] == pytest.approx(5.0, abs=1e-12)
    assert level.extremes(np.ones(1))[0] == pytest.approx(20.0, abs=1e-12)


@pytest.mark.parametrize("axis", [0, 1])
def test_watts_on_a_surface_warm_it_above_what_lies_behind(axis):
    film, k, watts = 8.0, 0.5, 3.0
    face = ((0.0, 0.0), (0.0, THICK)) if axis == 0 else ((0.0, THICK), (0.0, 0.0))
    section = bar(axis, k, sources=(Source("foil", segment=Segment(*face), heat=watts),))
    hot, *others = section.environments
    section = replace(section, environments=(replace(hot, film=film), *others))
    to_air, to_cold = film * THICK, k * THICK / LONG  # W/K in a section 1 m deep
    expected = (watts + 30 * to_air + 10 * to_cold) / (to_air + to_cold)
    assert extremes(section)["one", "hot"] == pytest.approx((expected, expected), rel=1e-6)


@pytest.mark.parametrize("axis", [0, 1])
def test_the_places_around_the_extremes_have_the_extremes(axis):
    """Of two parts that meet, at several operating points, from a part of all places."""
    found = temperatures(bar(axis, 2.0, 0.5))
    for loads in ([30, 10, 0], [10, 30, 0], [30, 10, 2e10], [5, 5, -2e10]):
        near = found.near_extremes(np.array(loads, float))
        assert near.extremes(np.array(loads, float)).tolist() == found.extremes(np.array(loads, float)).tolist()
        assert len(near.rows) < len(found.rows)


def test_beside_a_void_that_cuts_a_cell_at_the_surface_the_solid_alone_is_read():
    """The void leaves a sliver of the bar in a cell of its lower face, where the bar has no temperature."""
    wedge = Part("wedge", (Polygon(((0.06, 0.0), (0.1, 0.0), (0.1, 0.015), (0.062, 0.012))),), void=True)
    warm = Source("warm", part="bar", heat=20.0)
    section = Section(
        "bar over a wedge",
        (solid("bar", 1e6, box(0, LONG, 0, THICK)), wedge),
        (Environment("air", 7.0, 100.0),),
        border=Border(bottom="air"),
        sources=(warm,),
    )
    assert extremes(section)["bar", "air"] == pytest.approx((7 + 20 / 100 / 0.06,) * 2, rel=1e-3)


def test_no_surface_where_a_void_lies_before_the_air():
    """Water in a round hole that touches the bar below it in a point: beside that, nothing is drawn between them."""
    section = Section(
        "bar under a pipe",
        (solid("bar", 1.0, box(0, 0.02, 0, 0.008)), air("water", Disc((0.01, 0.012), 0.004))),
        (Environment("air", 7.0, 10.0), Environment("water", 20.0, 500.0)),
        border=Border(bottom="air", top="air"),
    )
    assert set(extremes(section)) == {("bar", "air")}


def test_no_extreme_is_read_across_the_tip_of_a_cut():
    """A cut right through a bar begins in its lower edge: on the left that is at 0 degC, on the right at 1 degC."""
    cut = Part("cut", (Polygon(((0.03, 0), (0.04, 0.05), (0.036, 0.05))),), void=True)
    ends = Environment("cold", 0, 1e4), Environment("warm", 1, 1e4), Environment("room", 0.5, 1e-3)
    bar = Section("bar", (solid("bar", 100, box(0, 0.06, 0, 0.04)), cut), ends, border=Border("cold", "warm", "room"))
    answers = solve(bar, 0.02).answers
    for which, degrees in (("lowest", 0.0), ("highest", 1.0)):
        assert answers.at(("surface", "bar", "room", which))[0] == pytest.approx(degrees, abs=1e-5)
