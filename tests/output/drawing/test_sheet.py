from itertools import pairwise

import matplotlib
import numpy as np
import pytest

from fdm.output.drawing.colours import paint
from fdm.output.drawing.sheet import Sheet
from fdm.output.drawing.view import deepest_pixel
from fdm.section.model import Border, Environment, Part, Rectangle, Section
from tests.output.drawing.drawing_example import STONE, one_part

OLD = tuple(map(int, matplotlib.__version__.split(".")[:2])) < (3, 11)


@pytest.mark.parametrize("size", [(0.2, 0.1), (0.5, 0.02), (0.01, 0.3)])
def test_drawn_to_scale(size):
    sheet = Sheet(one_part((0, size[0]), (0, size[1])), legend=True)
    box = sheet.axes.get_window_extent(sheet.canvas.get_renderer())
    per_unit = box.width / np.ptp(sheet.axes.get_xlim()), box.height / np.ptp(sheet.axes.get_ylim())
    assert per_unit[0] == pytest.approx(per_unit[1], rel=0.005)


@pytest.mark.skipif(OLD, reason="matplotlib before 3.11 draws the cells one pixel off")
def test_a_pixel_of_the_sheet_is_one_of_the_picture(wall):
    sheet = Sheet(wall.section, legend=True)
    colours = paint(wall.section, sheet.owner)
    sheet.show_pixels(colours)
    sheet.axes.set_axis_off()
    sheet.canvas.draw()
    left, bottom = sheet.axes.get_window_extent(sheet.canvas.get_renderer()).extents[:2].round().astype(int)
    across, up = sheet.owner.shape
    shown = np.asarray(sheet.canvas.buffer_rgba())[::-1].swapaxes(0, 1)[left : left + across, bottom : bottom + up]
    assert len(np.unique(sheet.owner)) > 4 and np.array_equal(shown, colours)


def test_numbers_of_a_scale_stand_whole_and_apart():
    sheet = Sheet(one_part((0, 0.1), (0, 0.01)), legend=False)
    levels = 20.04 + 5e-6 * np.arange(9)
    sheet.add_colour_bar(matplotlib.colormaps["viridis"], (levels[0], levels[-1]), levels)
    sheet.canvas.draw()
    scale = sheet.figure.axes[-1]
    ticks = scale.get_xticklabels()
    assert ticks[0].get_text() == "20.04000" and not scale.xaxis.get_offset_text().get_text()
    boxes = [t.get_window_extent(sheet.renderer) for t in ticks]
    assert len(boxes) > 3 and all(a.x1 < b.x0 - 5 for a, b in pairwise(boxes))


def test_axis_is_marked_only_about_an_axis():
    air = (Environment("air", 20, 10), Environment("room", 30, 10))
    parts = (Part("rod", (Rectangle((0, 0.01), (0, 0.05)),), STONE),)
    about = Section("t", parts, air, view="axisymmetric", unit="mm", border=Border(bottom="air"))
    plane = Section("t", parts, air, unit="mm", border=Border(bottom="air"))
    dashed = [[line for line in Sheet(s, legend=True).axes.lines if line.is_dashed()] for s in (about, plane)]
    assert [len(d) for d in dashed] == [1, 0]
    assert set(dashed[0][0].get_xdata()) == {0}


def test_deepest_pixel_of_a_region():
    region = np.zeros((40, 30), bool)
    region[5:16, 3:14] = True
    region[20:22, 1:29] = True
    assert deepest_pixel(region) == (10, 8)
    assert deepest_pixel(np.zeros((4, 4), bool)) is None
