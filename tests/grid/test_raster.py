"""Rasters: who owns each cell, and what lies beyond the outer edge."""

import numpy as np
import pytest

from fdm.grid.raster import NOTHING, raster_of
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Section, repeated
from validation.cases import air, box, solid

FLOOR = Border(bottom="room")


def section(*parts, border=FLOOR):
    return Section("drawing", parts, (Environment("room", 20, 10), Environment("cabinet", 7, 8)), border=border)


def owners(drawn, n=4, m=4, **how):
    x0, x1, y0, y1 = drawn.extent
    return raster_of(drawn, np.linspace(x0, x1, n + 1), np.linspace(y0, y1, m + 1), **how).owner[1:-1, 1:-1]


def test_a_later_part_covers_an_earlier_one():
    drawn = section(
        solid("wall", 1, box(0, 4, 0, 4)), air("cabinet", box(0, 2, 0, 2)), Part("hole", (box(1, 3, 1, 3),), void=True)
    )
    assert owners(drawn).tolist() == [[1, 1, 0, 0], [1, 2, 2, 0], [0, 2, 2, 0], [0, 0, 0, 0]]


def test_what_lies_under_a_part_left_out_shows():
    drawn = section(
        solid("wall", 1, box(0, 4, 0, 4)), solid("bolt", 50, box(1, 3, 0, 4)), solid("core", 9, box(2, 3, 0, 4))
    )
    assert owners(drawn)[:, 0].tolist() == [0, 1, 2, 0]
    assert owners(drawn, without=["core"])[:, 0].tolist() == [0, 1, 1, 0]
    assert owners(drawn, without=["core", "bolt"])[:, 0].tolist() == [0, 0, 0, 0]


def test_cells_that_no_part_covers_belong_to_nothing():
    drawn = section(solid("a", 1, box(0, 1, 0, 1)), solid("b", 1, box(3, 4, 3, 4)))
    inner = owners(drawn)
    assert (inner == NOTHING).sum() == 14
    assert (inner[0, 0], inner[3, 3]) == (0, 1)


def test_every_copy_of_a_repeated_shape_is_laid():
    drawn = section(solid("base", 1, box(0, 8, 0, 1)), solid("fins", 1, *repeated(box(0, 1, 1, 4), 4, (2, 0))))
    assert owners(drawn, 8)[:, 2].tolist() == [1, NOTHING] * 4


def test_round_and_slanted_parts_own_the_cells_whose_middle_they_hold():
    drawn = section(
        solid("block", 1, box(0, 8, 0, 8)),
        solid("disc", 1, Disc((2, 2), 2)),
        solid("triangle", 1, Polygon(((4, 4), (8, 4), (8, 8)))),
    )
    inner = owners(drawn, 8, 8)
    c = np.arange(8) + 0.5
    assert np.array_equal(inner == 1, (c[:, None] - 2) ** 2 + (c - 2) ** 2 < 4)
    below = (c[:, None] - 4 > c - 4) & (c > 4)
    diagonal = c[:, None] == c
    assert np.array_equal((inner == 2)[~diagonal], below[~diagonal])


def test_the_ring_holds_the_borders_and_nothing_at_its_corners():
    drawn = section(solid("wall", 1, box(0, 4, 0, 3)), border=Border("room", None, "cabinet", "room"))
    ring = raster_of(drawn, np.arange(5.0), np.arange(4.0)).owner
    assert ring.shape == (6, 5)
    left, bottom, top = 1, 3, 4  # one part, then the borders left, right, bottom, top
    assert set(ring[0, 1:-1]) == {left}
    assert set(ring[-1, 1:-1]) == {NOTHING}
    assert set(ring[1:-1, 0]) == {bottom}
    assert set(ring[1:-1, -1]) == {top}
    assert {int(ring[i, j]) for i in (0, -1) for j in (0, -1)} == {NOTHING}


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 0, 1), (1, 2, 0)])
def test_the_order_of_parts_that_do_not_overlap_changes_no_owner(order):
    parts = [solid("a", 1, box(0, 1, 0, 4)), solid("b", 1, box(1, 3, 0, 4)), solid("c", 1, box(3, 4, 0, 4))]
    names = [parts[k].name for k in order]
    inner = owners(section(*(parts[k] for k in order)))
    assert [names[k] for k in inner[:, 0]] == ["a", "b", "b", "c"]
