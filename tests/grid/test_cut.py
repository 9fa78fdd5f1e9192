"""Cut cells: their sub-cells add up to the area drawn, their pieces of edge to its outline, each once."""

import math

import numpy as np
import pytest

from fdm.grid.cut import cut_cells
from fdm.grid.lines import first_lines, halved
from fdm.grid.raster import raster_of
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Section
from validation.cases import box, solid

NEAR = 4e-5  # how far the outline that stands for a circle may lie off a grid line that the circle touches
BLOCK = solid("block", 1, box(-1, 1, -1, 1))
TRIANGLE = Polygon(((-0.7, -0.63), (0.81, -0.22), (0.13, 0.77)))


def cut_of(*parts, n=17, m=23, without=(), lines=None):
    section = Section("drawing", parts, (Environment("air", 20, 10),), border=Border(bottom="air"))
    x, y = lines or (np.linspace(-1, 1, n + 1), np.linspace(-1, 1, m + 1))
    raster = raster_of(section, x, y, without)
    return cut_cells(section, raster, without), raster


def area(cut, raster, number):
    """Of a part: its sub-cells in cut cells, and whole cells elsewhere."""
    cells = np.diff(raster.x)[:, None] * np.diff(raster.y)
    share = (raster.owner[1:-1, 1:-1] == number).astype(float)
    share[cut.i, cut.j] = (cut.owner == number).mean((1, 2))
    return float((share * cells).sum())


def perimeter(polygon):
    p = polygon.outline()
    return float(np.hypot(*(np.roll(p, -1, 0) - p).T).sum())


def polygon_area(polygon):
    x, y = polygon.outline().T
    return float(abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2)


@pytest.mark.parametrize("n", [5, 17, 60])
def test_a_disc_keeps_its_circumference_and_area(n):
    cut, raster = cut_of(BLOCK, solid("disc", 2, Disc((0.07, -0.03), 0.6)), n=n, m=n + 3)
    assert cut.length.sum() == pytest.approx(2 * math.pi * 0.6, rel=1e-5)
    # a sub-cell errs by half its area at most, and edges average out
    assert area(cut, raster, 1) == pytest.approx(math.pi * 0.36, rel=0.02 / n)


@pytest.mark.parametrize("halvings", [0, 1, 2])
def test_a_disc_that_grid_lines_touch_keeps_its_circumference(halvings):
    """The first grid has lines through a disc's leftmost, rightmost, lowest and highest point."""
    parts = BLOCK, solid("disc", 2, Disc((0.0, 0.1), 0.6))
    lines = first_lines(Section("drawing", parts, (Environment("air", 20, 10),), border=Border(bottom="air")))
    for _ in range(halvings):
        lines = tuple(map(halved, lines))
    cut, raster = cut_of(*parts, lines=lines)
    assert cut.length.sum() == pytest.approx(2 * math.pi * 0.6, rel=1e-5)
    assert area(cut, raster, 1) == pytest.approx(math.pi * 0.36, rel=2e-3)
    # none of it lies beyond the lines that the circle touches
    i, j = cut.i[cut.piece], cut.j[cut.piece]
    assert (raster.x[i] > -0.6 - NEAR).all() and (raster.x[i + 1] < 0.6 + NEAR).all()
    assert (raster.y[j] > -0.5 - NEAR).all() and (raster.y[j + 1] < 0.7 + NEAR).all()


@pytest.mark.parametrize("n", [5, 17, 60])
def test_a_polygon_keeps_its_outline_and_area(n):
    cut, raster = cut_of(BLOCK, solid("triangle", 2, TRIANGLE), n=n, m=n + 3)
    assert cut.length.sum() == pytest.approx(perimeter(TRIANGLE), rel=1e-9)
    assert area(cut, raster, 1) == pytest.approx(polygon_area(TRIANGLE), rel=0.03 / n)


def test_each_piece_lies_in_its_cell_and_points_out_of_the_disc():
    centre = np.array([0.07, -0.03])
    cut, raster = cut_of(BLOCK, solid("disc", 2, Disc(tuple(centre), 0.6)))
    i, j = cut.i[cut.piece], cut.j[cut.piece]
    for lines, k, along in ((raster.x, i, cut.middle[:, 0]), (raster.y, j, cut.middle[:, 1])):
        assert (lines[k] <= along + NEAR).all() and (along <= lines[k + 1] + NEAR).all()
    assert np.hypot(*cut.normal.T) == pytest.approx(1)
    from_disc = np.where(cut.sides[:, 0] == 1, 1, -1)
    assert (((cut.middle - centre) * cut.normal).sum(1) * from_disc > 0.59).all()
    assert set(cut.sides.ravel().tolist()) == {0, 1}


def test_straight_edges_on_grid_lines_cut_nothing():
    square = Polygon(((-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)))
    cut, _ = cut_of(BLOCK, solid("square", 2, square), n=8, m=8)
    assert cut is None


def test_an_edge_that_two_parts_share_counts_once():
    halves = (
        solid("low", 2, Polygon(((-0.9, -0.8), (0.9, -0.8), (0.9, 0.35), (-0.9, -0.15)))),
        solid("high", 3, Polygon(((-0.9, -0.15), (0.9, 0.35), (0.9, 0.8), (-0.9, 0.8)))),
    )
    edge = math.hypot(1.8, 0.5)
    cut, _ = cut_of(BLOCK, *halves)
    seam = (np.sort(cut.sides, 1) == [1, 2]).all(1)
    assert cut.length[seam].sum() == pytest.approx(edge, rel=1e-6)
    assert cut.length.sum() == pytest.approx(edge, rel=1e-6)  # every other edge is straight


def test_two_discs_on_one_another_count_once():
    once, _ = cut_of(BLOCK, solid("disc", 2, Disc((0, 0), 0.6)))
    twice, _ = cut_of(BLOCK, solid("under", 5, Disc((0, 0), 0.6)), solid("disc", 2, Disc((0, 0), 0.6)))
    assert twice.length.sum() == pytest.approx(once.length.sum(), rel=1e-9)
    assert set(twice.sides.ravel().tolist()) == {0, 2}


def test_covered_edges_do_not_count():
    hidden = solid("disc", 2, Disc((0, 0), 0.6))
    assert cut_of(hidden, BLOCK)[0] is None
    half, _ = cut_of(BLOCK, hidden, solid("lid", 1, box(-1, 1, 0, 1)), n=16, m=16)
    assert half.length.sum() == pytest.approx(math.pi * 0.6, rel=1e-4)
    assert not (half.middle[:, 1] > 0).any()


def test_edges_between_two_shapes_of_one_part_do_not_count():
    lens = solid("discs", 2, Disc((-0.2, 0), 0.5), Disc((0.2, 0), 0.5))
    cut, _ = cut_of(BLOCK, lens, n=40, m=40)
    arc = 2 * (math.pi - math.acos(0.2 / 0.5)) * 0.5  # of each disc, outside the other
    assert cut.length.sum() == pytest.approx(2 * arc, rel=1e-3)


def test_a_part_left_out_has_no_edges_and_shows_those_under_it():
    parts = BLOCK, solid("disc", 2, Disc((0, 0), 0.3)), Part("hole", (Disc((0, 0), 0.6),), void=True)
    cut, _ = cut_of(*parts)
    assert cut.length.sum() == pytest.approx(2 * math.pi * 0.6, rel=1e-5)
    assert cut_of(*parts, without=["hole"])[0].length.sum() == pytest.approx(2 * math.pi * 0.3, rel=1e-5)
    assert cut_of(*parts, without=["hole", "disc"])[0] is None
