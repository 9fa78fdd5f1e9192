"""Shapes and sections built in code: their geometry, their terminals, and what a section refuses."""

import math
from dataclasses import replace

import numpy as np
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
    Polygon,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Source,
    Spreading,
    repeated,
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


def area(points):
    x, y = points.T
    return np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2


def test_outlines_have_the_area_of_the_shape():
    assert area(Rectangle((1, 3), (2, 5)).outline()) == pytest.approx(6)
    assert area(Disc((1, 2), 0.5).outline()) == pytest.approx(math.pi * 0.25, rel=1e-12)
    assert area(Polygon(((0, 0), (4, 0), (0, 3))).outline()) == pytest.approx(6)


@pytest.mark.parametrize(
    "shape",
    [Rectangle((0, 2), (0, 1)), Disc((1, 0.5), 0.5), Polygon(((0, 0), (2, 0), (2, 1), (1, 0.2), (0, 1)))],
)
def test_share_of_a_fine_raster_inside_is_the_area(shape):
    x, y = np.meshgrid((np.arange(800) + 0.5) / 400, (np.arange(400) + 0.5) / 400, indexing="ij")
    assert np.mean(shape.contains(x, y)) * 2 == pytest.approx(area(shape.outline()), abs=2e-3)


@pytest.mark.parametrize("shape", [Rectangle((0, 2), (0, 1)), Disc((1, 1), 0.5), Polygon(((0, 0), (2, 0), (1, 1)))])
def test_copies_are_moved_on_by_the_step(shape):
    copies = repeated(shape, 3, (0.5, -0.25))
    assert len(copies) == 3
    for i, copy in enumerate(copies):
        np.testing.assert_allclose(copy.outline(), shape.outline() + [0.5 * i, -0.25 * i], atol=1e-15)


@pytest.mark.parametrize(
    "build, message",
    [
        (lambda: Rectangle((1, 1), (0, 1)), "rectangle has no size"),
        (lambda: Rectangle((0, 1), (1, 0)), "rectangle has no size or is turned around"),
        (lambda: Rectangle((0, math.nan), (0, 1)), "rectangle has no size"),
        (lambda: Disc((0, 0), 0), "disc has no size"),
        (lambda: Disc((0, 0), -1), "disc has no size"),
        (lambda: Polygon(((0, 0), (1, 1))), "polygon has 2 points"),
        (lambda: Polygon(((0, 0), (1, 1), (2, 2))), "polygon has no area"),
        (lambda: Segment((0, 1), (0, 1)), "slanted"),
        (lambda: Segment((1, 1), (2, 2)), "no length"),
        (lambda: Segment((1, 0), (2, 2)), "no length"),
    ],
)
def test_shapes_without_size_are_refused(build, message):
    with pytest.raises(InputError, match=message):
        build()


def test_terminals_in_their_order():
    assert SECTION.fixed_names == ("air", "cold", "tank")
    assert SECTION.fixed_temperatures.tolist() == [20, 5, 7]
    assert SECTION.heat_names == ("module",)
    assert SECTION.watts.tolist() == [5]


def test_extent_includes_discs():
    assert SECTION.extent == (0, 0.1, 0, 0.02)
    disc = Part("bead", (Disc((0.1, 0.01), 0.02),), METAL)
    assert replace(SECTION, parts=(*SECTION.parts, disc)).extent == pytest.approx((0, 0.12, -0.01, 0.03))


def test_segments_know_their_direction():
    assert Segment((1, 1), (0, 2)).vertical
    assert not Segment((0, 2), (1, 1)).vertical


def test_names_of_questions():
    assert Bridge(("bolt", "washer")).name == "bolt + washer"
    assert Bridge(("bolt",), name="the bolts").name == "the bolts"
    assert Spreading(("plate", "inlay")).name == "plate + inlay"


AIR = SECTION.environments[0]
REFUSED = [
    ({"view": "sectoin"}, "view: 'sectoin' is not a view; did you mean 'section'"),
    ({"unit": "inch"}, "unit: 'inch' is not a unit of length"),
    ({"depth": 0.0}, "depth: 0.0 is not a number above 0"),
    ({"parts": ()}, "part: nothing is drawn"),
    ({"parts": (PLATE, BLOCK, PLATE)}, "part: the name 'plate' is defined twice"),
    ({"sensors": (Sensor("air", at=(0, 0)),)}, "the name 'air' is defined twice"),
    ({"environments": (AIR, Environment("", 5, 8))}, "a name is empty"),
    ({"environments": (AIR, Environment("cold", -300, 8))}, "environment 'cold', temperature: -300"),
    ({"environments": (AIR, Environment("cold", 5, 0))}, "environment 'cold', film: 0"),
    ({"environments": (AIR, Environment("cold", 5, -math.inf))}, "environment 'cold', film: -inf"),
    ({"border": Border(top="airr")}, "border, top: there is no environment named 'airr'; did you mean 'air'"),
    ({"parts": (replace(PLATE, void=True), BLOCK)}, "part 'plate': give exactly one of material"),
    ({"parts": (replace(PLATE, material=None), BLOCK)}, "part 'plate': give exactly one of material"),
    ({"parts": (replace(PLATE, shapes=()), BLOCK)}, "part 'plate': it has no shape"),
    ({"parts": (PLATE, Part("gap", PLATE.shapes, environment="aire"))}, "part 'gap', environment: .* mean 'air'"),
    ({"parts": (replace(PLATE, material=Material("m", (0.0, 1.0))), BLOCK)}, "material 'm', conductivity: 0.0"),
    ({"parts": (replace(PLATE, material=Material("m", (1, 1), -1)), BLOCK)}, "material 'm', density: -1"),
    ({"parts": (replace(PLATE, thickness=0.1), BLOCK)}, "part 'plate': thickness, front and back belong to"),
    ({"view": "plate", "parts": (PLATE, BLOCK)}, "part 'plate', thickness: missing"),
    ({"view": "plate", "parts": (replace(PLATE, thickness=0.1, front="cold"),)}, "front: .*'cold' is infinite"),
    ({"joints": (Joint(("plate", "blok"), 1e-4),)}, "joint between 'plate' and 'blok': .* did you mean 'block'"),
    ({"joints": (Joint(("plate", "hole"), 1e-4),)}, "'hole' is no solid part"),
    ({"joints": (Joint(("plate", "plate"), 1e-4),)}, "no joint with itself"),
    ({"joints": (Joint(("plate", "block"), 1e-4), Joint(("block", "plate"), 1e-4))}, "given twice"),
    ({"joints": (Joint(("plate", "block"), -1e-4),)}, "resistance: -0.0001"),
    ({"sources": (Source("s", heat=1),)}, "source 's': give exactly one of segment and part"),
    ({"sources": (Source("s", part="plate"),)}, "source 's': give exactly one of heat and temperature"),
    ({"sources": (Source("s", part="plate", heat=math.nan),)}, "source 's', heat: nan"),
    ({"sources": (Source("s", part="plat", heat=1),)}, "source 's', part: .* did you mean 'plate'"),
    ({"sources": (Source("s", part="hole", heat=1),)}, "source 's', part: 'hole' is no solid part"),
    ({"sources": (Source("s", part="plate", heat=1), Source("r", part="plate", heat=1))}, "has two sources"),
    ({"sensors": (Sensor("t"),)}, "sensor 't': give exactly one of at and part"),
    ({"sensors": (Sensor("t", part="hole"),)}, "sensor 't', part: 'hole' is void"),
    ({"sensors": (Sensor("t", at=(0.2, 0)),)}, r"sensor 't', at: \[0.2, 0\] lies outside the drawing"),
    ({"sensors": (Sensor("t", at=(0, 0), should_read="modul"),)}, "should_read: .* did you mean 'module'"),
    ({"sensors": (Sensor("t", at=(0, 0), should_read="t"),)}, "cannot be its own measure"),
    ({"sensors": (Sensor("t", at=(0, 0), should_read=-400.0),)}, "should_read: -400.0 is not a temperature"),
    ({"spreading": (Spreading(("plat",)),)}, "spreading of 'plat', part: .* did you mean 'plate'"),
    ({"spreading": (Spreading(("plate",), "z"),)}, "spreading of 'plate', along: 'z'"),
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
    ({"bridges": (Bridge(("block",), ("air", "air")),)}, "names 'air' twice"),
    ({"environments": (), "border": Border(), "sources": (), "sensors": ()}, "nothing has a given temperature"),
    ({"view": "axisymmetric", "border": Border(left="air")}, "border, left: the left edge of this drawing is the axis"),
]


@pytest.mark.parametrize("change, message", REFUSED)
def test_a_section_that_cannot_be_is_refused(change, message):
    with pytest.raises(InputError, match=message):
        replace(SECTION, **change)


def test_an_axisymmetric_drawing_stays_on_its_side_of_the_axis():
    with pytest.raises(InputError, match="reaches x < 0"):
        replace(SECTION, view="axisymmetric", parts=(*SECTION.parts, Part("far", (Rectangle((-1, 0), (0, 1)),), METAL)))
