import numpy as np
import pytest

from fdm.output.drawing.section import draw_parts
from fdm.output.drawing.sheet import Sheet
from fdm.section.model import Border, Environment, Joint, Part, Rectangle, Section
from tests.output.drawing.drawing_example import STONE


def test_joints_are_where_the_parts_meet(tmp_path, monkeypatch):
    sheets = []
    monkeypatch.setattr(Sheet, "save", lambda self, path: sheets.append(self))
    parts = (
        Part("a", (Rectangle((0, 0.1), (0, 0.01)),), STONE),
        Part("b", (Rectangle((0.02, 0.05), (0.01, 0.03)),), STONE),
    )
    joint = Joint(("b", "a"), 1e-4)
    air = (Environment("e", 0, 1),)
    draw_parts(Section("t", parts, air, unit="mm", border=Border(bottom="e"), joints=(joint,)), tmp_path / "x.png")
    lines = [c for c in sheets[0].axes.collections if len(c.get_linewidths()) and c.get_linewidths()[0] > 2]
    points = np.concatenate([path.vertices for c in lines for path in c.get_paths()])
    assert (points[:, 0].min(), points[:, 0].max()) == pytest.approx((20, 50))
    assert points[:, 1] == pytest.approx(10)
