import pytest
from matplotlib.image import imread

from fdm import InputError
from fdm.inference.budget import budgets
from fdm.output.drawing.budget import draw_budget
from fdm.section.model import Border, Environment, Section


def test_picture_has_a_bar_for_the_largest_share_in_its_colour(wall, out):
    draw_budget(budgets(wall), out / "budget.png")
    pixels = imread(out / "budget.png")[..., :3]
    assert pixels.shape[1] == 1600
    # bars stand on white: their widths, in rows of pixels, hold one that reaches far to the right
    filled = (abs(pixels - 1).max(2) > 0.02)[:, 400:].sum(1)
    assert filled.max() > 600


def test_one_temperature_without_heat_has_no_budget(slab, solved, out):
    lone = solved(Section("lone", slab.section.parts, (Environment("air", 20, 8),), border=Border(top="air")))
    with pytest.raises(InputError, match="budget: .* give a source with heat"):
        draw_budget(budgets(lone), out / "budget.png")
    assert not list(out.iterdir())
