"""Sections built in code: their terminals, and what they refuse of their pieces together."""

import math
from dataclasses import replace

import pytest

from fdm.errors import InputError
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

METAL = Material("metal", (200.0, 200.0))
PLATE = Part("plate", (Rectangle((0, 0.1), (0, 0.005)),), METAL)
BLOCK = Part("block", (Rectangle((0.03, 0.07), (0.005, 0.02)),), METAL)
SECTION = Section(
    title="a block on a plate",
    parts=(PLATE, BLOCK, Part("hole", (Disc((0.05, 0.01), 0.002),), void=True)),
    environments=(Environment("air", 20, 10), Environment("cold", 5, math.inf)),
    border=Border(bottom="air"),
    sources=(
        Source("module", segment=Segment((0.03, 0.07), (0.02, 0.02)), heat=5),
        Source("tank", part="plate", temperature=7),
    ),
    sensors=(Sensor("probe", at=(0.01, 0.002), should_read="air"),),
)


def test_terminals_in_their_order():
    assert SECTION.fixed_names == ("air", "cold", "tank")
    assert SECTION.fixed_temperatures.tolist() == [20, 5, 7]
    assert SECTION.heat_names == ("module",)
    assert SECTION.watts.tolist() == [5]


def test_extent_includes_discs():
    assert SECTION.extent == (0, 0.1, 0, 0.02)
    disc = Part("bead", (Disc((0.1, 0.01), 0.02),), METAL)
    assert replace(SECTION, parts=(*SECTION.parts, disc)).extent == pytest.approx((0, 0.12, -0.01, 0.03))


@pytest.mark.parametrize("thickness", [0, -0.1, math.inf])
def test_a_plate_needs_a_thickness_above_0(thickness):
    with pytest.raises(InputError, match="part 'plate', thickness: .* is not a number above 0"):
        replace(SECTION, view="plate", parts=(replace(PLATE, thickness=thickness),))


AIR = SECTION.environments[0]
REFUSED = [
    ({"view": "sectoin"}, "view: 'sectoin' is not a view; did you mean 'section'"),
    ({"unit": "inch"}, "unit: 'inch' is not a unit of length"),
    ({"depth": 0.0}, "depth: 0.0 is not a number above 0"),
    ({"parts": ()}, "part: nothing is drawn"),
    ({"parts": (PLATE, BLOCK, PLATE)}, "part: the name 'plate' is defined twice"),
    ({"sensors": (Sensor("air", at=(0, 0)),)}, "the name 'air' is defined twice"),
    ({"environments": (AIR, Environment("", 5, 8))}, "a name is empty"),
    ({"border": Border(top="airr")}, "border, top: there is no environment named 'airr'; did you mean 'air'"),
    ({"parts": (PLATE, Part("gap", PLATE.shapes, environment="aire"))}, "part 'gap', environment: .* mean 'air'"),
    ({"parts": (replace(PLATE, thickness=0.1), BLOCK)}, "part 'plate': thickness, front and back belong to"),
    ({"view": "plate", "parts": (PLATE, BLOCK)}, "part 'plate', thickness: missing"),
    ({"view": "plate", "parts": (replace(PLATE, thickness=0.1, front="cold"),)}, "front: .*'cold' is infinite"),
    ({"joints": (Joint(("plate", "blok"), 1e-4),)}, "joint between 'plate' and 'blok': .* did you mean 'block'"),
    ({"joints": (Joint(("plate", "hole"), 1e-4),)}, "'hole' is no solid part"),
    ({"joints": (Joint(("plate", "block"), 1e-4), Joint(("block", "plate"), 1e-4))}, "given twice"),
    ({"sources": (Source("s", part="plat", heat=1),)}, "source 's', part: .* did you mean 'plate'"),
    ({"sources": (Source("s", part="hole", heat=1),)}, "source 's', part: 'hole' is no solid part"),
    ({"sources": (Source("s", part="plate", heat=1), Source("r", part="plate", heat=1))}, "has two sources"),
    ({"sensors": (Sensor("t", part="hole"),)}, "sensor 't', part: 'hole' is void"),
    ({"sensors": (Sensor("t", at=(0.2, 0)),)}, r"sensor 't', at: \[0.2, 0\] lies outside the drawing"),
    ({"sensors": (Sensor("t", at=(0, 0), should_read="modul"),)}, "should_read: .* did you mean 'module'"),
    ({"spreading": (Spreading(("plat",)),)}, "spreading of 'plat', part: .* did you mean 'plate'"),
    ({"spreading": (Spreading(("plate",)), Spreading(("plate",)))}, "spreading: the name 'plate' is defined twice"),
    ({"spreading": (Spreading(("plate",)),), "sources": ()}, "no source gives heat"),
    ({"bridges": (Bridge(("blok",), ("air", "cold")),)}, "bridge 'blok', remove: .* did you mean 'block'"),
    ({"bridges": (Bridge(("plate",), ("air", "cold")),)}, "'plate' carries the source 'tank'"),
    ({"bridges": (Bridge(("block",)),)}, "3 terminals have a given temperature"),
    (
        {
            "bridges": (Bridge(("block",)),),
            "environments": (Environment("in", 20, 8),),
            "border": Border(bottom="in"),
            "sources": (),
            "sensors": (),
        },
        "heat passes between two given temperatures; add another environment",
    ),
    ({"bridges": (Bridge(("block",), ("air", "cole")),)}, "between: .* did you mean 'cold'"),
    ({"environments": (), "border": Border(), "sources": (), "sensors": ()}, "nothing has a given temperature"),
    ({"view": "axisymmetric", "border": Border(left="air")}, "border, left: the left edge of this drawing is the axis"),
]


@pytest.mark.parametrize("change, message", REFUSED)
def test_a_section_that_cannot_be_is_refused(change, message):
    with pytest.raises(InputError, match=message):
        replace(SECTION, **change)


def test_a_source_on_the_axis_is_refused_for_it_has_no_area():
    source = Source("wire", segment=Segment((0, 0), (0, 1)), heat=1)
    with pytest.raises(InputError, match="source 'wire', segment: it lies on the axis, where a face has no area"):
        replace(SECTION, view="axisymmetric", sources=(source,))


def test_an_axisymmetric_drawing_stays_on_its_side_of_the_axis():
    with pytest.raises(InputError, match="reaches x < 0"):
        replace(SECTION, view="axisymmetric", parts=(*SECTION.parts, Part("far", (Rectangle((-1, 0), (0, 1)),), METAL)))
