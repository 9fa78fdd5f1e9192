"""Cells follow what is thin, whatever its edges are."""

import numpy as np
import pytest

from fdm.grid.lines import first_lines
from fdm.grid.sheets import follow_thin, too_thin
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Section
from validation.cases import box, solid

BLOCK = solid("block", 1, box(0, 1, 0, 1))


def section(*parts):
    return Section("drawing", parts, (Environment("air", 20, 10),), border=Border(bottom="air"))


def names(drawn, x, y):
    return tuple(thin.name for thin in too_thin(drawn, x, y))


def test_cells_follow_slanted_sheets_by_their_thickness_alone():
    c, s, thickness = 0.8, 0.6, 0.01

    def turned(*corners):
        return Polygon(tuple((c * u - s * v, s * u + c * v) for u, v in corners))

    sheet = turned((0.2, 0), (0.9, 0), (0.9, thickness), (0.2, thickness))
    drawn = section(BLOCK, solid("sheet", 1, sheet))
    first = first_lines(drawn)
    assert names(drawn, *first) == ("part 'sheet'",)
    x, y = follow_thin(drawn, *first, 100_000)
    low_x, high_x, low_y, high_y = sheet.bounds
    for lines, low, high in ((x, low_x, high_x), (y, low_y, high_y)):
        near = (lines[1:] > low + 0.01) & (lines[:-1] < high - 0.01)
        assert thickness / 2 < np.diff(lines)[near].max() <= thickness * 1.0001
        assert np.diff(lines).max() > 2 * thickness  # elsewhere as before
    assert names(drawn, x, y) == ()
    x, y = follow_thin(drawn, *first, 500)
    assert (len(x) - 1) * (len(y) - 1) <= 500 and names(drawn, x, y) == ("part 'sheet'",)


def test_a_thick_part_with_thin_upright_fins_and_a_slanted_corner_is_not_thin():
    comb = Polygon(((0, 0), (1, 0), (1, 0.5), (0.995, 0.5), (0.995, 0.2), (0.1, 0.2), (0, 0.1)))
    drawn = section(solid("comb", 1, comb))
    first = first_lines(drawn)
    assert names(drawn, *first) == ()
    assert all(map(np.array_equal, follow_thin(drawn, *first, 100_000), first))


def disc(radius, x=0.5):
    return Disc((x, 0.5), radius)


def test_cells_follow_rings_by_their_thickness():
    drawn = section(BLOCK, Part("ring", (disc(0.3),), void=True), solid("core", 1, disc(0.29)))
    first = first_lines(drawn)
    assert names(drawn, *first) == ("part 'ring'",)
    x, y = follow_thin(drawn, *first, 100_000)
    angle = np.linspace(0, 2 * np.pi, 500)
    across = np.abs([np.cos(angle), np.sin(angle)])  # as far as cells reach across the ring
    wide = [np.diff(at)[np.searchsorted(at, 0.5 + 0.295 * turn(angle)) - 1] for at, turn in ((x, np.cos), (y, np.sin))]
    assert 0.3 < (across * wide).sum(0).max() / 0.01 < 0.8  # no cell has both the block and the core
    assert len(x) * len(y) < 40_000 and names(drawn, x, y) == ()


def test_discs_that_leave_no_ring_of_their_own_are_not_thin():
    hole, core = Part("hole", (disc(0.3),), void=True), solid("core", 1, disc(0.29))
    for parts in (
        (Part("same material", (disc(0.3),), core.material), core),
        (hole, solid("as large", 1, disc(0.3))),
        (hole, core, solid("over both", 1, disc(0.31))),
    ):
        drawn = section(solid("block", 2, box(0, 1, 0, 1)), *parts)
        assert names(drawn, *first_lines(drawn)) == ()


def turned_square(side, name=None, **kind):
    c, s, half = 0.8, 0.6, side / 2
    corners = ((-half, -half), (half, -half), (half, half), (-half, half))
    shape = Polygon(tuple((0.5 + c * u - s * v, 0.5 + s * u + c * v) for u, v in corners))
    return Part(name or "square", (shape,), **kind)


def test_cells_follow_what_is_seen_between_two_slanted_edges():
    core = turned_square(0.49, "core", material=BLOCK.material)
    drawn = section(BLOCK, turned_square(0.5, "gap", void=True), core)
    first = first_lines(drawn)
    assert names(drawn, *first) == ("part 'gap'",)
    x, y = follow_thin(drawn, *first, 1_000_000)
    for lines in (x, y):
        near = (lines[1:] > 0.2) & (lines[:-1] < 0.8)
        assert np.diff(lines)[near].max() <= 0.005 * 1.0001
    assert names(drawn, x, y) == ()
    # of two bars side by side, the block between them, which is of another material
    bars = [Polygon(((0.1, y), (0.8, y + 0.2), (0.8, y + 0.3), (0.1, y + 0.1))) for y in (0.2, 0.305)]
    drawn = section(BLOCK, solid("bars", 5, *bars))
    assert "part 'block'" in names(drawn, *first_lines(drawn))
    assert "part 'block'" not in names(section(BLOCK, solid("bars", 5, bars[0])), *first_lines(drawn))


def test_slanted_edges_side_by_side_with_nothing_of_its_own_between_are_not_thin():
    core = turned_square(0.49, "core", material=BLOCK.material)
    for ring in (turned_square(0.5, material=BLOCK.material), turned_square(0.5, void=True)):
        over = () if ring.material else (turned_square(0.51, "over both", material=BLOCK.material),)
        drawn = section(solid("block", 2, box(0, 1, 0, 1)), ring, core, *over)
        assert names(drawn, *first_lines(drawn)) == ()


def turned(degrees, *corners):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return Polygon(
        tuple((0.5 + c * (u - 0.5) - s * (v - 0.5), 0.5 + s * (u - 0.5) + c * (v - 0.5)) for u, v in corners)
    )


def square(half, degrees):
    return turned(degrees, *((0.5 + i * half, 0.5 + j * half) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))))


HOLE = {"void": True}
AROUND = 0.3 / np.cos(np.pi / 40)
NEARLY_TOUCHING = {
    "discs, one not in the middle": (disc(0.3), disc(0.2, x=0.599)),
    "a disc in a turned square": (square(0.3, 33), disc(0.299)),
    "a turned square in a disc": (disc(0.3), square(0.299 / 2**0.5, 33)),
    "a disc in a polygon": (Polygon(disc(AROUND).outline(40).tolist()), disc(0.299)),
    "a rectangle in a square at a small angle": (square(0.3, 1), box(0.206, 0.794, 0.3, 0.7)),
    "corners of two polygons": (square(0.3, 33), square(0.299, 33.0001)),
}


@pytest.mark.parametrize(("outer", "core"), NEARLY_TOUCHING.values(), ids=NEARLY_TOUCHING)
@pytest.mark.parametrize(
    "kind", [HOLE, {"environment": "air"}, {"material": solid("gap", 0.03, BLOCK.shapes[0]).material}]
)
def test_gaps_between_any_edges_are_seen(outer, core, kind):
    drawn = section(BLOCK, Part("gap", (outer,), **kind), solid("core", 1, core))
    first = first_lines(drawn)
    x, y = follow_thin(drawn, *first, 10_000_000)
    assert len(x) * len(y) > len(first[0]) * len(first[1])
    assert names(drawn, x, y) == ()
    assert "part 'gap'" in names(drawn, np.linspace(0, 1, 40), np.linspace(0, 1, 40))


def test_gaps_where_nothing_is_drawn_are_named_by_what_they_part():
    left, right = ((0.1, 0.499), (0.5, 0.9))
    parts = [
        solid(n, 1, turned(20, (a, 0.2), (b, 0.2), (b, 0.8), (a, 0.8)))
        for n, (a, b) in (("left", left), ("right", right))
    ]
    drawn = section(*parts)
    (thin,) = too_thin(drawn, *first_lines(drawn))
    assert thin.name == "the gap between 'left' and 'right'"
    assert abs(thin.thickness - 0.001) < 1e-9 and abs(thin.place[0] - 0.5) < 0.2
    joined = section(*parts, solid("filler", 1, turned(20, (0.4, 0.2), (0.6, 0.2), (0.6, 0.8), (0.4, 0.8))))
    assert too_thin(joined, *first_lines(joined)) == ()


def test_tips_cusps_and_crossings_are_not_thin():
    void, tube = {"void": True}, solid("tube", 5, disc(0.2))
    for parts in (
        (Part("wedge", (Polygon(((0.1, 0.1), (0.9, 0.3), (0.5, 0.6))),), **void),),
        (Part("hole", (disc(0.2),), **void), Part("another", (disc(0.2, x=0.6),), **void)),
        (solid("stone", 5, disc(0.2), box(0.3, 0.7, 0.7, 0.9)),),  # touches the box in a point
        (Part("half", (box(0.5, 1, 0, 1),), **void), tube),
        (tube, solid("bar", 3, Polygon(((0, 0.31), (1, 0.6), (1, 0.7), (0, 0.45))))),
        (
            solid(
                "filleted",
                5,
                Polygon(((0.2, 0.2), (0.8, 0.2), (0.8, 0.797), (0.7985, 0.7998), (0.797, 0.8), (0.2, 0.8))),
            ),
        ),
    ):
        drawn = section(BLOCK, *parts)
        assert too_thin(drawn, *first_lines(drawn)) == ()
