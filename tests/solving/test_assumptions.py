"""Where nothing is doubtful, nothing is said; `tests/slips` has what must be said."""

from dataclasses import replace
from pathlib import Path

import pytest

from fdm.cabinet.reader import read_cabinet
from fdm.cabinet.unsolved import check_cabinet
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Section, Segment, Source
from fdm.section.reader import read_section
from fdm.solving.check import check_section
from validation.cases import air, box, solid
from validation.random_sections import CLASSES, section_of

GEOMETRIES = Path(__file__).parents[2] / "geometries"
AIR, ROOM = Environment("air", 25, 10), Environment("room", 5, 8)


def said(section: Section) -> tuple[str, ...]:
    return check_section(section).warnings


def sink(depth: float, *, heated: tuple[float, float], part: bool = False, **more: object) -> Section:
    """A plate of 100 x 5 mm in air, heated below."""
    x0, x1 = heated
    heater = (solid("heater", 1.0, box(x0, x1, -0.0005, 0)),) if part else ()
    plate = solid("plate", 200.0, box(0, 0.1, 0, 0.005))
    source = Source("lamp", part="heater", heat=5) if part else Source("lamp", segment=Segment(heated, (0, 0)), heat=5)
    section = Section("sink", (plate, *heater), (AIR,), unit="mm", depth=depth, border=Border(top="air"))
    return replace(section, sources=(replace(source, **more),))


def wall(*parts: Part, depth: float = 0.1, **more: object) -> Section:
    """A wall of foam, 200 x 50 mm, between two airs below and above."""
    foam = solid("foam", 0.03, box(0, 0.2, 0, 0.05))
    airs = air("air", box(0, 0.2, -0.02, 0)), air("room", box(0, 0.2, 0.05, 0.07))
    return Section("wall", (*airs, foam, *parts), (AIR, ROOM), unit="mm", depth=depth, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("name", ["bulb_cabinet", "bulb_cabinet_single"])
def test_the_demos_sections_with_the_cabinets_numbers(name):
    check = check_cabinet(read_cabinet(GEOMETRIES / f"{name}.toml"))
    assert check.warnings == () and len(check.sections) == 6


@pytest.mark.parametrize(
    "section",
    [
        sink(0.6, heated=(0.045, 0.055)),  # a strip of LEDs
        sink(0.3, heated=(0, 0.1)),  # a heater as wide as the plate
        sink(0.01, heated=(0, 0.1)),
        sink(1, heated=(0.02, 0.06), part=True),  # a foil
        sink(0.06, heated=(0.03, 0.07)),  # nearly square, on a plate not much wider than deep
        sink(0.1, heated=(0.03, 0.07), fills_depth=True),
        sink(0.1, heated=(0.03, 0.07), heat=0),
    ],
    ids=["strip", "whole width", "slice of it", "foil", "square", "known", "no heat"],
)
def test_heat_that_fills_the_depth(section):
    assert said(section) == ()


def test_a_wire_runs_along_the_depth():
    wire = solid("wire", 1.0, Disc((0.1, 0.025), 0.012))
    assert said(wall(wire, depth=1, sources=(Source("wire", part="wire", heat=2),))) == ()


@pytest.mark.parametrize(
    ("part", "doubtful"),
    [
        (solid("bolt", 50.0, box(0.098, 0.102, 0, 0.05)), True),
        (solid("bolt", 50.0, box(0.098, 0.102, -0.01, 0.06)), True),
        (solid("screw that ends inside", 50.0, box(0.098, 0.102, -0.01, 0.04)), False),
        (solid("foil within", 200.0, box(0, 0.2, 0.02, 0.021)), False),
        (solid("block", 200.0, box(0.08, 0.12, 0, 0.05)), False),
        (solid("post", 0.25, box(0.098, 0.102, 0, 0.05)), False),
        (solid("fins", 200.0, box(0.098, 0.102, 0.05, 0.07)), False),
    ],
    ids=lambda x: x.name if isinstance(x, Part) else "",
)
def test_bolts(part, doubtful):
    for_the_wall = said(wall(part, border=Border(bottom="air", top="room")))
    assert [w.startswith(f"part '{part.name}', 4 mm wide, crosses 'foam'") for w in for_the_wall] == [True] * doubtful
    upright = said(replace(wall(part, border=Border(bottom="air", top="room")), depth=0.005))
    assert upright == ()  # not much deeper than wide


def test_a_bolt_in_a_clearance_and_lying_down():
    clearance = Part("clearance", (box(0.097, 0.103, 0, 0.05),), void=True)
    assert "crosses 'foam'" in said(wall(clearance, solid("bolt", 50.0, box(0.098, 0.102, -0.01, 0.06))))[0]
    parts = solid("foam", 0.03, box(0, 0.05, 0, 0.2)), solid("bolt", 50.0, box(0, 0.05, 0.098, 0.102))
    lying = Section("wall", parts, (AIR, ROOM), border=Border(left="air", right="room"), depth=0.1)
    assert "crosses 'foam' as a slab" in said(lying)[0]
    assert said(replace(lying, view="axisymmetric", border=Border(bottom="air", top="room"))) == ()


def test_the_thickest_of_several_layers_is_named():
    skin = solid("skin", 0.13, box(0, 0.2, 0.04, 0.05))
    bolt = solid("bolt", 50.0, box(0.098, 0.102, -0.01, 0.06))
    assert "crosses 'foam'" in said(wall(skin, bolt))[0]


def test_a_plate_is_warmed_through_paste_and_module():
    parts = solid("module", 20.0, box(0.03, 0.07, -0.004, 0)), solid("paste", 0.85, box(0.03, 0.07, -0.0002, 0))
    for warmed in ({"part": "module"}, {"segment": Segment((0.03, 0.07), (-0.004, -0.004))}):
        square = sink(0.04, heated=(0.03, 0.07))
        section = replace(square, parts=(*square.parts, *parts), sources=(Source("module", heat=5, **warmed),))
        assert "but 'plate', which it warms, is 100 mm wide" in said(section)[0]


def test_a_rail_beside_a_gasket_is_no_bolt():
    assert said(read_section(GEOMETRIES / "corner_lid.toml", rim_k=160)) == ()


@pytest.mark.parametrize(
    "parts",
    [
        (air("air", box(0, 0.1, 0, 0.05)), solid("plate", 200.0, box(0, 0.05, 0.02, 0.03))),  # cut in its middle
        (air("air", box(0, 0.1, 0, 0.05)), solid("L", 200.0, box(0, 0.02, 0, 0.05), box(0, 0.1, 0, 0.02))),
        (solid("L", 200.0, box(0, 0.02, 0, 0.05), box(0, 0.1, 0, 0.02)),),  # what it leaves out meets no air
    ],
    ids=["plane of symmetry", "two airs", "nothing in a corner"],
)
def test_edges_that_may_well_be_without_heat(parts):
    border = Border(bottom="air") if len(parts) == 1 else Border()
    assert said(Section("edges", parts, (AIR,), border=border)) == ()


def test_a_turned_wall_goes_on():
    turned = [
        Polygon(((0, a), (0.1, a + 0.1), (0.1, b + 0.1), (0, b))) for a, b in ((-0.02, 0), (0, 0.03), (0.03, 0.05))
    ]
    parts = air("air", turned[0]), solid("foam", 0.03, turned[1]), air("room", turned[2])
    assert said(Section("turned wall", parts, (AIR, ROOM))) == ()


def test_void_says_that_no_heat_is_meant_to_pass():
    parts = solid("plate", 200.0, box(0, 0.1, 0, 0.01)), air("air", box(0, 0.1, 0.02, 0.03))
    section = Section("gap", parts, (AIR, ROOM), border=Border(bottom="room"))
    assert "100 mm of its top" in said(replace(section, unit="mm"))[1]
    gap = Part("gap", (box(0, 0.1, 0.01, 0.02),), void=True)
    assert said(replace(section, parts=(*parts, gap))) == ("environment 'air' touches no solid part",)


def test_random_sections_bring_no_false_alarm():
    """What is said of them is so: their bolts are slabs, their depth is left out, a core covers a heated disc."""
    true = {
        "bolted_wall": "crosses 'core' as a slab 1 m deep",
        "finned_plate": "the drawing is 1 m deep, as it is where depth is left out",
        "patchwork": "the drawing is 1 m deep, as it is where depth is left out",
        "thin_layers": "the drawing is 1 m deep, as it is where depth is left out",
        "slanted": "the drawing is 1 m deep, as it is where depth is left out",
        "corners": "the drawing is 1 m deep, as it is where depth is left out",
        "discs": "'core' covers part 'first' but for ",
    }
    count = 0
    for kind in CLASSES:
        for number in range(10):
            for warning in said(section_of(kind, 5, number)):
                count += 1
                assert true.get(kind, "nothing") in warning or "wholly covered" in warning, (kind, number, warning)
    assert count > 20
