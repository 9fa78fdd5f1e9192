"""Terminals: heated and held faces and parts, and what touches what without a solid between."""

import math

import numpy as np
import pytest

from fdm.conduction.network import network_values
from fdm.conduction.solver import unit_fields
from fdm.conduction.system import assemble
from fdm.errors import InputError
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Disc, Environment, Joint, Part, Polygon, Section, Segment, Sensor, Source
from validation.cases import air, box, solid

HELD = math.inf
EXACT = 1e-11
AIRS = (Environment("a", 1, 8), Environment("b", 0, 25))
WALL = (solid("left", 0.5, box(0, 0.03, 0, 0.2)), solid("right", 2.0, box(0.03, 0.05, 0, 0.2)))
TO_A, TO_B = 1 / 8 + 0.03 / 0.5, 0.02 / 2.0 + 1 / 25  # m2 K/W from the face between the two layers


def wall(*sources, parts=WALL, **more):
    return Section("wall", parts, AIRS, border=Border(left="a", right="b"), sources=sources, **more)


def assembled(section, halvings=0):
    x, y = first_lines(section)
    for _ in range(halvings):
        x, y = halved(x), halved(y)
    return assemble(section, x, y)


def network(section, halvings=0):
    system = assembled(section, halvings)
    return network_values(system, unit_fields(system))


def face(x, low=0.0, high=0.2):
    return Segment((x, x), (low, high))


# ---- heat -----------------------------------------------------------------------------------------------------------


def test_heat_between_two_layers_leaves_both_ways():
    found = network(wall(Source("foil", segment=face(0.03), heat=1)))
    assert found.resistance[0, 0] == pytest.approx(1 / (0.2 / TO_A + 0.2 / TO_B), rel=EXACT)
    assert found.weight[0] == pytest.approx([TO_B / (TO_A + TO_B), TO_A / (TO_A + TO_B)], rel=EXACT)
    assert found.resistance_max[0, 0] == pytest.approx(found.resistance[0, 0], rel=EXACT)


@pytest.mark.parametrize("drawn", [False, True])
def test_heat_on_a_surface_leaves_through_the_film_at_once_too(drawn):
    parts = (air("a", box(-0.01, 0, 0, 0.2)), *WALL) if drawn else WALL
    section = wall(Source("sun", segment=face(0.0), heat=1), parts=parts)
    found = network(section)
    to_a, to_b = 1 / 8, 0.03 / 0.5 + TO_B
    assert found.resistance[0, 0] == pytest.approx(1 / (0.2 / to_a + 0.2 / to_b), rel=EXACT)
    assert found.weight[0] == pytest.approx([to_b / (to_a + to_b), to_a / (to_a + to_b)], rel=EXACT)


def test_heat_on_a_surface_beside_a_void_or_the_outer_edge_goes_into_the_solid():
    section = Section(
        "block",
        (solid("block", 3.0, box(0, 0.03, 0, 0.2)), Part("gap", (box(-0.01, 0, 0, 0.2),), void=True)),
        (AIRS[1],),
        border=Border(right="b"),
        sources=(
            Source("in the gap", segment=face(0.0), heat=1),
            Source("at the edge", segment=Segment((0, 0.03), (0.2, 0.2)), heat=1),
        ),
    )
    found = network(section)
    assert found.weight[:, 0] == pytest.approx([1, 1], rel=EXACT)
    assert found.resistance[0, 0] == pytest.approx((0.03 / 3.0 + 1 / 25) / 0.2, rel=EXACT)
    assert found.resistance[1, 1] > found.resistance[0, 1] > 0


def test_heat_in_a_joint_is_shared_by_its_two_halves():
    """A foil in the middle of a contact: half of its resistance on each side."""
    section = wall(Source("foil", segment=face(0.03), heat=1), joints=(Joint(("left", "right"), 0.04),))
    to_a, to_b = TO_A + 0.02, TO_B + 0.02
    assert network(section).resistance[0, 0] == pytest.approx(1 / (0.2 / to_a + 0.2 / to_b), rel=EXACT)


def test_watts_are_spread_by_area_over_the_face_that_touches_a_solid():
    """On a face half as long as the segment all of the watts arrive."""
    section = Section(
        "block",
        (solid("block", 3.0, box(0, 0.03, 0, 0.1)), Part("gap", (box(0, 0.03, 0.1, 0.2),), void=True)),
        (AIRS[1],),
        border=Border(right="b"),
        sources=(Source("foil", segment=face(0.0), heat=1),),
    )
    found = network(section)
    assert found.weight[0] == pytest.approx([1], rel=EXACT)
    assert found.resistance[0, 0] == pytest.approx((0.03 / 3.0 + 1 / 25) / 0.1, rel=EXACT)


def test_about_the_axis_watts_are_spread_by_the_ring_area():
    section = Section(
        "rod",
        (solid("rod", 3.0, box(0, 0.01, 0, 0.2)),),
        (AIRS[1],),
        view="axisymmetric",
        border=Border(bottom="b"),
        sources=(Source("end", segment=Segment((0, 0.01), (0.2, 0.2)), heat=1),),
    )
    found, area = network(section), math.pi * 0.01**2
    assert found.resistance[0, 0] == pytest.approx((0.2 / 3.0 + 1 / 25) / area, rel=EXACT)
    assert found.resistance_max[0, 0] == pytest.approx(found.resistance[0, 0], rel=EXACT)


def test_a_heated_part_gives_its_watts_to_its_volume():
    """Slab with even heat, insulated on one face: mean rise 1 / (h A) + L / (3 k A), highest 1 / (h A) + L / (2 k A)
    (Incropera et al., Fundamentals of Heat and Mass Transfer); second order."""
    section = Section(
        "slab",
        (solid("slab", 0.5, box(0, 0.03, 0, 0.2)),),
        (AIRS[0],),
        border=Border(left="a"),
        sources=(Source("current", part="slab", heat=1),),
    )
    mean, peak = (1 / 8 + 0.03 / 0.5 / 3) / 0.2, (1 / 8 + 0.03 / 0.5 / 2) / 0.2
    found = [network(section, n) for n in (1, 2, 3)]
    errors = [abs(v.resistance[0, 0] / mean - 1) for v in found]
    assert errors[0] > 3.5 * errors[1] > 3.5**2 * errors[2]
    assert errors[2] < 5e-4
    assert found[2].resistance_max[0, 0] == pytest.approx(peak, rel=1e-3)


def test_a_heated_disc_receives_every_watt():
    section = Section(
        "disc",
        (solid("block", 0.5, box(-0.03, 0.03, -0.03, 0.03)), solid("wire", 50.0, Disc((0.004, 0.002), 0.01))),
        (AIRS[0],),
        border=Border("a", "a", "a", "a"),
        sources=(Source("current", part="wire", heat=1),),
    )
    system = assembled(section, 1)
    assert system.heat_inputs[0].share.sum() == pytest.approx(1, rel=1e-14)
    assert (system.heat_inputs[0].share > 0).all()
    assert network(section, 1).weight[0] == pytest.approx([1], rel=EXACT)


# ---- held -----------------------------------------------------------------------------------------------------------


def test_held_face_between_two_layers_couples_to_both_sides_and_parts_them():
    found = network(wall(Source("tube", segment=face(0.03), temperature=5)))
    assert found.coupling == pytest.approx(
        np.array([[0, 0, 0.2 / TO_A], [0, 0, 0.2 / TO_B], [0.2 / TO_A, 0.2 / TO_B, 0]]), rel=EXACT, abs=1e-14
    )


@pytest.mark.parametrize("drawn", [False, True])
def test_held_face_on_a_surface_couples_straight_to_the_air_through_its_film(drawn):
    parts = (air("a", box(-0.01, 0, 0, 0.2)), *WALL) if drawn else WALL
    found = network(wall(Source("tube", segment=face(0.0), temperature=5), parts=parts))
    inward = 0.03 / 0.5 + TO_B
    assert found.coupling[0, 2] == pytest.approx(0.2 * 8, rel=EXACT)
    assert found.coupling[1, 2] == pytest.approx(0.2 / inward, rel=EXACT)
    assert abs(found.coupling[0, 1]) < 1e-14


def test_held_face_over_half_a_surface_leaves_the_other_half_free():
    found = network(wall(Source("tube", segment=face(0.0, 0.0, 0.1), temperature=5)))
    assert found.coupling[0, 2] > 0.1 * 8  # straight, and round through the wall
    assert found.coupling[0, 1] > 0


def test_held_face_at_an_insulated_edge_couples_to_the_solid_alone():
    section = Section(
        "wall", WALL, AIRS[1:], border=Border(right="b"), sources=(Source("tube", segment=face(0.0), temperature=5),)
    )
    assert network(section).coupling[0, 1] == pytest.approx(0.2 / (0.03 / 0.5 + TO_B), rel=EXACT)


def test_held_part_is_one_temperature_to_its_surface():
    """Beside air it loses through the film straight, beside a solid through that."""
    found = network(wall(Source("copper block", part="left", temperature=5)))
    assert found.coupling[0, 2] == pytest.approx(0.2 * 8, rel=EXACT)
    assert found.coupling[1, 2] == pytest.approx(0.2 / TO_B, rel=EXACT)


@pytest.mark.parametrize("where", ["along the border", "across a corner"])
def test_held_part_with_a_slanted_edge_loses_through_the_film_straight(where):
    """As one with straight edges does; its other edges lie on the insulated border."""
    low = 0.02 if where == "along the border" else 0.0
    corners = ((0.0, 0.0), (0.03, 0.0), (0.02, 0.04), (0.0, 0.04)) if low else ((0.0, 0.0), (0.03, 0.0), (0.0, 0.04))
    block = Part("block", (Polygon(corners),), solid("", 3.0, box(0, 1, 0, 1)).material)
    parts = air("a", box(0, 0.1, 0, 0.04)), solid("far", 0.5, box(0.08, 0.1, 0, 0.04)), block
    section = Section("t", parts, AIRS[:1], depth=0.3, sources=(Source("block", part="block", temperature=5),))
    assert network(section).coupling[0, 1] == pytest.approx(8 * 0.3 * math.hypot(0.03 - low, 0.04), rel=EXACT)


@pytest.mark.parametrize("shape", [box(0.02, 0.04, 0.02, 0.03), Disc((0.03, 0.025), 0.01)], ids=["straight", "round"])
def test_held_part_of_a_plate_loses_through_its_faces_too(shape):
    plate = {"thickness": 0.002}
    parts = (
        solid("plate", 1e-9, box(0, 0.06, 0, 0.05), **plate),
        solid("disc", 1.0, shape, front="a", back="a", **plate),
    )
    section = Section("t", parts, AIRS[:1], view="plate", sources=(Source("disc", part="disc", temperature=5),))
    area = math.pi * 1e-4 if isinstance(shape, Disc) else 2e-4
    assert network(section, 2).coupling[0, 1] == pytest.approx(2 * 8 * area, rel=2e-3)


def test_held_part_behind_a_joint():
    section = wall(Source("block", part="left", temperature=5), joints=(Joint(("left", "right"), 0.04),))
    assert network(section).coupling[1, 2] == pytest.approx(0.2 / (0.04 + TO_B), rel=EXACT)


def test_heat_on_the_face_of_a_held_part_goes_into_it():
    found = network(wall(Source("block", part="left", temperature=5), Source("foil", segment=face(0.03), heat=1)))
    assert found.weight[0] == pytest.approx([0, 0, 1], abs=1e-14)
    assert found.resistance[0, 0] == pytest.approx(0, abs=1e-14)


def test_a_film_that_is_infinite_holds_the_surface():
    airs = (Environment("a", 1, HELD), AIRS[1])
    section = Section("wall", WALL, airs, border=Border(left="a", right="b"))
    assert network(section).coupling[0, 1] == pytest.approx(0.2 / (0.03 / 0.5 + TO_B), rel=EXACT)


@pytest.mark.parametrize("how", ["part", "face"])
def test_two_held_terminals_that_touch_without_a_film_exchange_nothing(how):
    """Their heat would be endless, and does not pass the section; what they lose to others is as if they did not."""
    airs = (Environment("a", 1, HELD), AIRS[1])
    if how == "part":
        source, inward = Source("block", part="left", temperature=5), TO_B
    else:
        source, inward = Source("block", segment=face(0.0), temperature=5), 0.03 / 0.5 + TO_B
    found = network(Section("wall", WALL, airs, border=Border(left="a", right="b"), sources=(source,)))
    to_b = 0.2 / inward
    assert found.coupling == pytest.approx(np.array([[0, 0, 0], [0, 0, to_b], [0, to_b, 0]]), rel=EXACT, abs=1e-14)


def test_a_held_face_parts_a_held_part_from_the_solid_beside_it_where_there_is_no_air():
    sources = (
        Source("tube", segment=face(0.03), temperature=5),
        Source("block", part="left", temperature=1),
        Source("end", segment=face(0.05), temperature=0),
    )
    to_end = 0.2 / (0.02 / 2.0)
    found = network(Section("wall", WALL, (), sources=sources))
    assert found.coupling == pytest.approx(np.array([[0, 0, to_end], [0, 0, 0], [to_end, 0, 0]]), rel=EXACT, abs=1e-14)


def test_heat_and_held_terminals_together_keep_their_order():
    section = wall(
        Source("heater", segment=face(0.05), heat=2),
        Source("tube", segment=face(0.03), temperature=5),
        Source("sun", segment=face(0.0), heat=3),
    )
    assert (section.fixed_names, section.heat_names) == (("a", "b", "tube"), ("heater", "sun"))
    found = network(section)
    to_b = [1 / 25, 0.02 / 2.0]
    assert found.weight[0] == pytest.approx([0, to_b[1] / sum(to_b), to_b[0] / sum(to_b)], rel=EXACT, abs=1e-14)
    assert found.resistance[0, 1] == pytest.approx(0, abs=1e-14)


# ---- refused --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "a, b",
    [((0.0, 0.1), (0.05, 0.2)), ((0.0, 0.2), (0.05, 0.1)), ((0.0, 0.2), (0.0, 0.2))],
)
@pytest.mark.parametrize("kinds", [("heat", "heat"), ("heat", "temperature"), ("temperature", "temperature")])
def test_sources_that_share_a_face_are_refused(a, b, kinds):
    sources = [
        Source(n, segment=face(0.03, *ends), **{kind: 5.0}) for n, ends, kind in zip(("one", "two"), (a, b), kinds)
    ]
    with pytest.raises(InputError, match="source 'two', segment: it overlaps that of 'one'"):
        assembled(wall(*sources))


def test_sources_side_by_side_are_not():
    both = network(
        wall(Source("low", segment=face(0.03, 0, 0.05), heat=1), Source("high", segment=face(0.03, 0.05, 0.2), heat=3))
    )
    together = network(wall(Source("foil", segment=face(0.03), heat=1)))
    assert (both.resistance @ [1, 3]) == pytest.approx(4 * together.resistance[0, 0] * np.ones(2), rel=EXACT)


@pytest.mark.parametrize("void", [True, False])
@pytest.mark.parametrize("off", [0.0, 0.004])
def test_heat_along_a_segment_that_a_round_hole_crosses_enters_the_solid_beside_it_alone(off, void):
    """The solid length of the segment is known: its own less the chord of the hole."""
    disc, middle = Disc((0.05, 0.025), 0.01), 0.025 + off
    hole = Part("hole", (disc,), void=True) if void else air("a", disc)
    parts, source = (
        (solid("block", 1.0, box(0, 0.1, 0, 0.05)), hole),
        Source("wire", segment=Segment((0.02, 0.08), (middle, middle)), heat=1),
    )
    system = assembled(Section("s", parts, AIRS, border=Border(bottom="a", top="b"), sources=(source,)))
    (found,) = system.heat_inputs
    size, at = np.diff(system.raster.x), found.at[0]
    solid_length = 0.06 - 2 * math.sqrt(0.01**2 - off**2)
    assert found.face_share.sum() == pytest.approx(1, rel=EXACT)
    assert (found.face_share / size[at]).max() == pytest.approx(1 / solid_length, rel=0.02)
    inside = np.abs(system.raster.x[1:][at] + system.raster.x[:-1][at] - 0.1) / 2 + size[at] / 2 < math.sqrt(
        0.01**2 - off**2
    )
    assert not inside.any()


@pytest.mark.parametrize(
    "segment, said",
    [
        (
            Segment((0.07, 0.07), (0, 0.2)),
            "lies in an environment and touches no solid; put it on a face of a solid part",
        ),
        (Segment((0.05, 0.09), (-0.05, -0.05)), "touches no solid; put it on a face of a solid part"),
        (Segment((0.5, 0.5), (0, 0.2)), "x = 0.5 reaches beyond the drawing, which spans x ="),
    ],
)
def test_a_source_that_touches_no_solid_is_refused(segment, said):
    parts = (*WALL, air("b", box(0.05, 0.09, 0, 0.2)), Part("gap", (box(0.05, 0.09, -0.1, 0),), void=True))
    with pytest.raises(InputError, match=f"source 'lost', segment: .*{said}"):
        assembled(wall(Source("lost", segment=segment, heat=1), parts=parts))


def test_a_heated_part_that_is_wholly_covered_is_refused():
    with pytest.raises(InputError, match="source 'current', part: 'left' is wholly covered by later parts"):
        assembled(wall(Source("current", part="left", heat=1), parts=(*WALL, solid("lid", 1.0, box(0, 0.03, 0, 0.2)))))


@pytest.mark.parametrize("measured", ["heater", "sensor"])
def test_the_heat_of_a_disc_has_its_joint_to_pass(measured):
    """Also the heat of the slivers of a disc in cells beyond the joint. Disc and block conduct so well that each has
    one temperature: R = 1 / (film area) + joint / (2 pi radius) per metre of depth."""
    radius, joint, film = 0.02, 0.01, 50
    section = Section(
        "bead",
        (solid("block", 1e5, box(0, 0.1, 0, 0.1)), solid("bead", 1e5, Disc((0.05, 0.05), radius))),
        (Environment("air", 0, film),),
        border=Border(bottom="air"),
        joints=(Joint(("block", "bead"), joint),),
        sources=(Source("bead", part="bead", heat=1),),
        sensors=(Sensor("bead itself", part="bead"),),
    )
    found = network(section, halvings=2).resistance[int(measured == "sensor"), 0]
    assert found == pytest.approx(1 / (0.1 * film) + joint / (2 * math.pi * radius), rel=1e-3)


def test_a_segment_of_which_a_slanted_void_leaves_nothing_is_refused():
    hole = Part("hole", (Polygon(((0.0, 0.0), (0.0, 0.005), (0.005, 0.0))),), void=True)
    section = Section(
        "hole", (solid("base", 0.2, box(0, 0.1, 0, 0.01)), hole), AIRS, border=Border(top="a"),
        sources=(Source("heater", segment=Segment((0, 0.005), (0, 0)), heat=1),),
    )  # fmt: skip
    with pytest.raises(InputError, match=r"source 'heater', segment: x = \[0, 0.005\], .* touches no solid"):
        assembled(section)
