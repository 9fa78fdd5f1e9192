"""Parts that are less deep than the drawing: the pieces that they become, the slices beside, and what is refused."""

import math
from dataclasses import replace

import pytest

from fdm.answers.kinds import further_systems
from fdm.errors import InputError
from fdm.section.depths import mixed, slices
from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
    Joint,
    Material,
    Part,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Source,
    Spreading,
)
from fdm.solving.check import check_section

STEEL, FOAM, PLY = (
    Material("steel", (50.0, 50.0), 8000, 500),
    Material("foam", (0.03, 0.03), 30, 1400),
    Material("ply", (0.1, 0.3)),
)
AIRS = Environment("in", 5, 8), Environment("out", 25, 8)


def rectangle(*bounds):
    return (Rectangle(bounds[:2], bounds[2:]),)


def wall(*more, **other):
    foam, skin = Part("foam", rectangle(0, 0.1, 0, 0.05), FOAM), Part("skin", rectangle(0, 0.1, 0.05, 0.06), PLY)
    return Section("wall", (foam, skin, *more), AIRS, depth=0.2, border=Border(bottom="in", top="out"), **other)


BOLTS = Part("bolts", rectangle(0.04, 0.05, 0, 0.06), STEEL, depth=0.01, count=4)


def test_a_part_becomes_a_piece_on_each_part_that_it_lies_on():
    section = mixed(wall(BOLTS, bridges=(Bridge(("bolts",)),)))
    _, _, *pieces = section.parts
    assert [p.name for p in pieces] == ["bolts in foam", "bolts in skin"]
    in_foam, in_skin = (p.material for p in pieces)
    assert in_foam.conductivity == pytest.approx((0.2 * 50 + 0.8 * 0.03,) * 2)
    assert in_skin.conductivity == pytest.approx((0.2 * 50 + 0.8 * 0.1, 0.2 * 50 + 0.8 * 0.3))
    assert in_foam.density * in_foam.specific_heat == pytest.approx(0.2 * 8000 * 500 + 0.8 * 30 * 1400)
    assert in_skin.density is None, "plywood's is not known"
    assert section.bridges[0].remove == ("bolts in foam", "bolts in skin") and section.bridges[0].name == "bolts"
    assert mixed(section) is section


def test_a_part_in_one_other_keeps_its_name_and_may_have_a_sensor():
    plug = Part("plug", (Disc((0.05, 0.02), 0.01),), STEEL, depth=0.05)
    section = mixed(wall(plug, sensors=(Sensor("inside it", part="plug"),)))
    assert [p.name for p in section.parts] == ["foam", "skin", "plug"] and section.parts[2].piece.beneath == "foam"


def test_a_part_as_deep_as_the_drawing_is_that_part():
    section = mixed(wall(replace(BOLTS, count=20)))
    assert [p.material for p in section.parts[2:]] == [STEEL, STEEL]
    assert [(share, len(s.parts)) for share, s in slices(section)] == [(1.0, 3)]


def test_the_less_deep_lies_within_the_deeper():
    """As a bolt in its sleeve: round bars of 8 and 4 mm, one in the other, keep the areas of their rings."""
    sleeve = Part("sleeve", rectangle(0.046, 0.054, 0, 0.05), PLY, depth=math.pi / 4 * 0.008)
    bolt = Part("bolt", rectangle(0.048, 0.052, 0, 0.05), STEEL, depth=math.pi / 4 * 0.004)
    section = mixed(wall(sleeve, bolt))
    ring, core = section.parts[2:]
    area = {m: 0.0 for m in (STEEL, PLY)}
    for part, width in ((ring, 0.004), (core, 0.004)):
        for share, material in part.piece.filling:
            if material in area:
                area[material] += share * 0.2 * width
    assert area[STEEL] == pytest.approx(math.pi / 4 * 0.004**2)
    assert area[PLY] == pytest.approx(math.pi / 4 * (0.008**2 - 0.004**2))
    assert [sum(share for share, _ in p.piece.filling) for p in (ring, core)] == pytest.approx([1, 1])
    assert [[p.name for p in s.parts[2:]] for _, s in slices(section)] == [["sleeve", "bolt"], ["sleeve"], []]


def test_slices_are_plain_sections_with_the_questions_that_they_can_answer():
    section = mixed(wall(BOLTS, bridges=(Bridge(("bolts",)), Bridge(("skin", "bolts"), name="both"))))
    (share, with_bolts), (rest, without) = slices(section)
    assert (share, rest) == pytest.approx((0.2, 0.8))
    assert with_bolts.parts[2] == replace(BOLTS, depth=None, count=1)
    assert [b.remove for b in with_bolts.bridges] == [("bolts",), ("skin", "bolts")]
    assert [(b.name, b.remove) for b in without.bridges] == [("both", ("skin",))]


def test_what_a_bridge_uncovers_is_met_too():
    """Without the insert, the pin lies in the foam below."""
    insert, pin = (
        Part("insert", rectangle(0.02, 0.08, 0, 0.05), PLY),
        Part("pin", rectangle(0.04, 0.05, 0, 0.05), STEEL, depth=0.01),
    )
    names = [p.name for p in mixed(wall(insert, pin, bridges=(Bridge(("insert",)),))).parts]
    assert names[3:] == ["pin in insert", "pin in foam"]
    assert [p.name for p in mixed(wall(insert, pin)).parts][3:] == ["pin"]


def test_what_crosses_a_plate_is_a_piece_of_it():
    """A spreading plate has no hole where a bolt passes, and none is warned of."""
    segment = Segment((0.03, 0.06), (0.06, 0.06))
    section = wall(
        BOLTS, sources=(Source("LEDs", segment=segment, heat=1, fills_depth=True),), spreading=(Spreading(("skin",)),)
    )
    assert [f.variant.spread for f in further_systems(mixed(section))] == [("skin", "bolts in skin")]
    assert check_section(section).warnings == ()


HEATER = Source("heater", Segment((0.0, 0.1), (0.0, 0.0)), heat=1.0)


@pytest.mark.parametrize(
    "parts, other, said",
    [
        ([replace(BOLTS, count=21)], {}, "part 'bolts', depth: 21 times 0.01 m are 0.21 m deep, more than"),
        ([replace(BOLTS, depth=None)], {}, "part 'bolts', count: how many lie along the depth; give the depth of one"),
        ([replace(BOLTS, depth=-0.01)], {}, "part 'bolts', depth: -0.01 is not a number above 0"),
        ([replace(BOLTS, material=None, void=True)], {}, "part 'bolts', depth: only a part with a material"),
        ([replace(BOLTS, shapes=rectangle(0.04, 0.05, 0, 0.08))], {}, "depth: some of it lies where nothing is drawn"),
        ([BOLTS], {"sensors": (Sensor("s", part="bolts"),)}, "sensor 's', part: 'bolts' lies in several parts"),
        ([BOLTS], {"sources": (Source("s", part="bolts", heat=1.0),)}, "source 's', part: 'bolts' has a depth"),
        ([BOLTS], {"joints": (Joint(("bolts", "skin"), 1e-4),)}, "has a depth of its own; draw the joint as"),
        ([BOLTS], {"sources": (HEATER,), "spreading": (Spreading(("bolts",)),)}, "has a depth of its own; name a"),
        (
            [Part("hole", rectangle(0.03, 0.06, 0, 0.02), environment="in"), BOLTS],
            {},
            "part 'bolts', depth: some of it lies in 'hole', but a part that is less deep than the drawing must lie in",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(parts, other, said):
    with pytest.raises(InputError) as fault:
        mixed(wall(*parts, **other))
    assert said in str(fault.value)


def test_depths_belong_to_the_section_view():
    with pytest.raises(InputError, match="part 'bolts', depth: belongs to the section view"):
        replace(wall(BOLTS), view="axisymmetric")
