"""Grid lines move with the drawing: edges go where they are drawn, and lines between keep their place between them."""

import numpy as np
import pytest

from fdm.grid.lines import first_lines, halved
from fdm.grid.moving import Stretch, moved_grid, moved_lines, stretches
from fdm.section.model import Border, Disc, Environment, Section
from validation.cases import box, solid

LINES = np.array([0.0, 1, 2, 3, 4])


def drawn(inner, outer=4.0, pad=2.0):
    """A plate of two layers that meet at x = inner, and a pad on the left layer up to x = pad."""
    parts = (
        solid("left", 1, box(0, inner, 0, 1)),
        solid("right", 2, box(inner, outer, 0, 1)),
        solid("pad", 3, box(0, pad, 1, 2)),
    )
    return Section("plate", parts, (Environment("air", 20, 10),), border=Border(bottom="air"))


def test_lines_move_with_edges():
    assert moved_lines(LINES, [0, 2, 4], [0, 2.5, 4]) == pytest.approx([0, 1.25, 2.5, 3.25, 4])
    assert moved_lines(LINES, [4, 0, 2], [4, 0, 2.5]) == pytest.approx([0, 1.25, 2.5, 3.25, 4])


def test_a_line_whose_edges_part_stays_in_their_middle_and_each_has_its_own():
    assert moved_lines(LINES, [0, 2, 2, 4], [0, 2, 2.5, 4]) == pytest.approx([0, 1.125, 2, 2.25, 2.5, 3.125, 4])


def test_lines_do_not_move_where_edges_change_their_number_or_order():
    assert moved_lines(LINES, [0, 2, 3, 4], [0, 3, 2, 4]) is None
    assert moved_lines(LINES, [0, 2, 4], [0, 4]) is None
    assert moved_lines(LINES, [0, 2, 3, 4], [0, 3, 3, 4]) is None


def test_a_grid_moves_from_section_to_section():
    x, y = map(halved, first_lines(drawn(2.0)))
    moved_x, moved_y = moved_grid(x, y, drawn(2.0), drawn(2.1, 4.3, 2.1))
    assert len(moved_x) == len(x)
    left = x <= 2
    assert moved_x[left] == pytest.approx(x[left] * 1.05)
    assert moved_x[~left] == pytest.approx(2.1 + (x[~left] - 2) * 1.1)
    assert moved_y == pytest.approx(y, abs=0)
    assert moved_grid(x, y, drawn(2.0, pad=3.0), drawn(3.5, pad=3.0)) is None
    round_too = Section("bead", (*drawn(2.0).parts, solid("bead", 1, Disc((1, 0.5), 0.1))), drawn(2.0).environments)
    assert moved_grid(x, y, drawn(2.0), round_too) is None


def test_a_section_stretches_to_itself_without_a_change():
    x, y = map(halved, first_lines(drawn(2.0, pad=1.0)))
    ((along_x, along_y),) = stretches(drawn(2.0, pad=1.0), [drawn(2.0, pad=1.0)])
    assert along_x.applied(x) == pytest.approx(x, abs=1e-15) and along_y.applied(y) == pytest.approx(y, abs=1e-15)
    assert not (along_x.parts_edges or along_y.parts_edges)


def test_lines_between_edges_keep_their_share_of_the_way():
    stretch = Stretch(np.array([0.0, 2, 4]), (np.array([0.0]), np.array([2.5]), np.array([4.0])))
    assert stretch.applied(LINES) == pytest.approx([0, 1.25, 2.5, 3.25, 4])


def test_where_edges_part_all_grids_have_one_topology():
    section, others = drawn(2.0), [drawn(1.9), drawn(2.0), drawn(2.1)]  # the pad ends where the layers meet
    x = halved(first_lines(section)[0])
    moved = [along_x for along_x, _ in stretches(section, others)]
    assert all(stretch.parts_edges for stretch in moved)
    grids = [stretch.applied(x) for stretch in moved]
    assert len({len(grid) for grid in grids}) == 1
    assert all((np.diff(grid) > 0).all() for grid in grids)
    for grid in grids:
        assert [min(abs(grid - edge)) < 1e-12 for edge in (0, 1.9, 2.0, 2.1, 4)] == [True] * 5


def test_edges_that_move_together_share_their_line():
    section, others = drawn(2.0, pad=2.0), [drawn(1.9, pad=1.9), drawn(2.1, pad=2.1)]
    x = halved(first_lines(section)[0])
    (less, _), (more, _) = stretches(section, others)
    assert not less.parts_edges and len(less.applied(x)) == len(more.applied(x)) == len(x)
    assert (less.applied(x) + more.applied(x)) / 2 == pytest.approx(x)


def test_no_stretch_where_edges_change_their_number_or_order_or_close_a_gap():
    section = drawn(2.0, pad=3.0)
    assert stretches(section, [section, drawn(3.5, pad=3.0)]) is None
    assert stretches(section, [drawn(2.6, pad=3.0)]) is None  # the gap falls from 1 to 0.4
    assert stretches(section, [drawn(2.4, pad=3.0)]) is not None
    fewer = Section("plate", section.parts[:2], section.environments, border=section.border)
    assert stretches(section, [fewer]) is None
