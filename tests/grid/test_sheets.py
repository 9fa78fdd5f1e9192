"""Cells follow sheets that lie at a slant, and rings."""

import numpy as np

from fdm.grid.lines import first_lines
from fdm.grid.sheets import follow_slanted_sheets, too_thin_sheets
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Section
from validation.cases import box, solid

BLOCK = solid("block", 1, box(0, 1, 0, 1))


def section(*parts):
    return Section("drawing", parts, (Environment("air", 20, 10),), border=Border(bottom="air"))


def test_cells_follow_slanted_sheets_by_their_thickness_alone():
    c, s, thickness = 0.8, 0.6, 0.01

    def turned(*corners):
        return Polygon(tuple((c * u - s * v, s * u + c * v) for u, v in corners))

    sheet = turned((0.2, 0), (0.9, 0), (0.9, thickness), (0.2, thickness))
    drawn = section(BLOCK, solid("sheet", 1, sheet))
    first = first_lines(drawn)
    assert too_thin_sheets(drawn, *first) == ("sheet",)
    x, y = follow_slanted_sheets(drawn, *first, 100_000)
    low_x, high_x, low_y, high_y = sheet.bounds
    for lines, low, high in ((x, low_x, high_x), (y, low_y, high_y)):
        near = (lines[1:] > low + 0.01) & (lines[:-1] < high - 0.01)
        assert thickness / 2 < np.diff(lines)[near].max() <= thickness * 1.0001
        assert np.diff(lines).max() > 2 * thickness  # elsewhere as before
    assert too_thin_sheets(drawn, x, y) == ()
    x, y = follow_slanted_sheets(drawn, *first, 500)
    assert (len(x) - 1) * (len(y) - 1) <= 500 and too_thin_sheets(drawn, x, y) == ("sheet",)


def test_a_thick_part_with_thin_upright_fins_and_a_slanted_corner_is_not_thin():
    comb = Polygon(((0, 0), (1, 0), (1, 0.5), (0.995, 0.5), (0.995, 0.2), (0.1, 0.2), (0, 0.1)))
    drawn = section(solid("comb", 1, comb))
    first = first_lines(drawn)
    assert too_thin_sheets(drawn, *first) == ()
    assert all(map(np.array_equal, follow_slanted_sheets(drawn, *first, 100_000), first))


def disc(radius, x=0.5):
    return Disc((x, 0.5), radius)


def test_cells_follow_rings_by_their_thickness():
    drawn = section(BLOCK, Part("ring", (disc(0.3),), void=True), solid("core", 1, disc(0.29)))
    first = first_lines(drawn)
    assert too_thin_sheets(drawn, *first) == ("ring",)
    x, y = follow_slanted_sheets(drawn, *first, 100_000)
    for lines in (x, y):
        near = (lines[1:] > 0.2) & (lines[:-1] < 0.8)
        assert 0.005 < np.diff(lines)[near].max() <= 0.01 * 1.0001
    assert too_thin_sheets(drawn, x, y) == ()


def test_discs_that_leave_no_ring_of_their_own_are_not_thin():
    hole, core = Part("hole", (disc(0.3),), void=True), solid("core", 1, disc(0.29))
    for parts in (
        (Part("same material", (disc(0.3),), core.material), core),
        (hole, solid("as large", 1, disc(0.3))),
        (hole, core, solid("over both", 1, disc(0.31))),
        (hole, solid("at the rim", 1, disc(0.29, x=0.509))),
    ):
        drawn = section(solid("block", 2, box(0, 1, 0, 1)), *parts)
        assert too_thin_sheets(drawn, *first_lines(drawn)) == ()


def turned_square(side, name=None, **kind):
    c, s, half = 0.8, 0.6, side / 2
    corners = ((-half, -half), (half, -half), (half, half), (-half, half))
    shape = Polygon(tuple((0.5 + c * u - s * v, 0.5 + s * u + c * v) for u, v in corners))
    return Part(name or "square", (shape,), **kind)


def test_cells_follow_what_is_seen_between_two_slanted_edges():
    core = turned_square(0.49, "core", material=BLOCK.material)
    drawn = section(BLOCK, turned_square(0.5, "gap", void=True), core)
    first = first_lines(drawn)
    assert too_thin_sheets(drawn, *first) == ("gap",)
    x, y = follow_slanted_sheets(drawn, *first, 1_000_000)
    for lines in (x, y):
        near = (lines[1:] > 0.2) & (lines[:-1] < 0.8)
        assert np.diff(lines)[near].max() <= 0.005 * 1.0001
    assert too_thin_sheets(drawn, x, y) == ()
    # of two bars side by side, the block between them, which is of another material
    bars = [Polygon(((0.1, y), (0.8, y + 0.2), (0.8, y + 0.3), (0.1, y + 0.1))) for y in (0.2, 0.305)]
    drawn = section(BLOCK, solid("bars", 5, *bars))
    assert "block" in too_thin_sheets(drawn, *first_lines(drawn))
    assert "block" not in too_thin_sheets(section(BLOCK, solid("bars", 5, bars[0])), *first_lines(drawn))


def test_slanted_edges_side_by_side_with_nothing_of_its_own_between_are_not_thin():
    core = turned_square(0.49, "core", material=BLOCK.material)
    for ring in (turned_square(0.5, material=BLOCK.material), turned_square(0.5, void=True)):
        over = () if ring.material else (turned_square(0.51, "over both", material=BLOCK.material),)
        drawn = section(solid("block", 2, box(0, 1, 0, 1)), ring, core, *over)
        assert too_thin_sheets(drawn, *first_lines(drawn)) == ()
