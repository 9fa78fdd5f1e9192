"""Gaps within cut cells: what they part from the rest of the cell, and what they do not."""

import math

import numpy as np
import pytest

from fdm.grid.cut import SUB, cut_cells
from fdm.grid.raster import NOTHING, raster_of
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Section, Source
from validation.cases import box, solid

BLOCK = solid("block", 1, box(0, 1, 0, 1))
AIRS = Environment("air", 20, 10), Environment("cold", 0, 10)


def one_cell(*parts, **more):
    """The unit square as one cell that edges cut."""
    section = Section("cell", (BLOCK, *parts), AIRS, border=Border(bottom="air"), **more)
    raster = raster_of(section, np.array([0.0, 1.0]), np.array([0.0, 1.0]))
    return cut_cells(section, raster)


def gap(*points, **kind):
    return Part("gap", (Polygon(points),), **(kind or {"void": True}))


def band(low, high, slope=1.0):
    """A strip right through the cell: y between slope x + low and slope x + high."""
    return (-0.5, -0.5 * slope + low), (1.5, 1.5 * slope + low), (1.5, 1.5 * slope + high), (-0.5, -0.5 * slope + high)


@pytest.mark.parametrize("kind", [{"void": True}, {"environment": "cold"}])
@pytest.mark.parametrize("width", [0.1, 0.02, 1e-3])  # wider than sub-cells, narrower, and far narrower
def test_a_gap_right_through_parts_the_side_without_the_centre(width, kind):
    cut = one_cell(gap(*band(0.2, 0.2 + width), **kind))
    x = (np.arange(SUB) + 0.5) / SUB
    above = x[None, :] > x[:, None] + 0.2 + width
    assert (cut.owner[0][above] == NOTHING).all() and (cut.owner[0][x[None, :] < x[:, None] + 0.2] == 0).all()
    left, right, lower, upper = cut.parted.beside[0].reshape(4, SUB)  # rows along y, then along x
    assert (left == (x > 0.2 + width)).all() and (upper == (x < 0.8 - width)).all()
    assert not (right | lower).any()
    behind = (cut.middle - [0, 0.2 + width]) @ [-1, 1] > -1e-6
    assert (cut.parted.piece == behind).all() and behind.any()


@pytest.mark.parametrize("narrow", [0.9, 0.99, 0.9999])
def test_a_gap_that_begins_in_a_corner_of_the_cell_parts_it(narrow):
    cut = one_cell(gap((0, 0), (1.2, 0.9), (1.2, 0.9 * narrow)))
    x = (np.arange(SUB) + 0.5) / SUB
    assert ((cut.owner[0] == 0) == (x[None, :] > 0.75 * x[:, None])).all()


@pytest.mark.parametrize(
    "parts",
    [
        (gap((0.3, 0.3), (1.2, 0.8), (1.2, 0.9)),),  # solid goes on around its tip
        (gap((0.3, 0.3), (0.7, 0.35), (0.5, 0.7)),),  # a hole
        (Part("gap", (Disc((0.5, 0.4), 0.3),), void=True),),
        (gap((0.2, -0.1), (1.1, -0.1), (1.1, 0.8)),),  # a corner cut off
        (solid("strip", 2, Polygon(band(0.2, 0.25))),),  # the gap is filled
        (gap(*band(0.3, 2)), solid("strip", 2, Polygon(band(0.1, 0.3)))),  # a strip along an edge
        (gap(*band(0.25, 2)), Part("below", (Polygon(band(-2, -0.25)),), void=True)),  # solid between two edges
    ],
)
def test_what_goes_on_around_a_gap_is_not_parted(parts):
    assert one_cell(*parts).parted is None


def test_where_no_solid_is_at_the_centre_the_larger_one_is_kept():
    cut = one_cell(gap(*band(-0.1, 0.4)))
    assert cut.owner[0][-1, 0] == 0 and cut.owner[0][0, -1] == NOTHING


def test_held_parts_part_solids_too():
    held = Part("gap", (Polygon(band(0.2, 0.25)),), BLOCK.material)
    assert one_cell(held).parted is None
    assert one_cell(held, sources=(Source("held", part="gap", temperature=5.0),)).parted is not None


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("bend", [0.05, 0.6])
def test_what_is_parted_turns_with_the_drawing(turn, bend):
    def turned(points):
        c, s = round(math.cos(turn * math.pi / 2)), round(math.sin(turn * math.pi / 2))
        return [(0.5 + c * (x - 0.5) - s * (y - 0.5), 0.5 + s * (x - 0.5) + c * (y - 0.5)) for x, y in points]

    drawn = band(0.11, 0.137, bend)
    assert (one_cell(gap(*turned(drawn))).owner[0] == np.rot90(one_cell(gap(*drawn)).owner[0], turn)).all()
