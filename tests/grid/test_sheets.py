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
