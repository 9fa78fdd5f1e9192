import numpy as np
import pytest

from fdm import solve
from fdm.output.drawing.marks import adiabatic_edges
from fdm.output.drawing.section import draw_parts, draw_temperature
from fdm.output.drawing.sheet import Sheet
from fdm.section.model import Border, Disc, Environment, Joint, Part, Rectangle, Section, Segment, Source
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


def test_edges_without_heat_are_drawn_once_and_no_others():
    """A plate under air with a hole and a void beside: its left side, its lower one, and what borders on the void."""
    parts = (
        Part("plate", (Rectangle((0, 0.1), (0, 0.02)),), STONE),
        Part("air", (Rectangle((0, 0.05), (0.02, 0.04)),), environment="e"),
        Part("cover", (Rectangle((0.05, 0.1), (0.02, 0.04)),), void=True),
    )
    section = Section("t", parts, (Environment("e", 0, 1),), unit="mm", border=Border(right="e", top="e"))
    lines = sorted(np.round(line, 6).tolist() for line in adiabatic_edges(Sheet(section, legend=True)))
    left, bottom, void = [[0, 0], [0, 0.02]], [[0, 0], [0.1, 0]], [[0.05, 0.02], [0.1, 0.02]]
    assert lines == [left, bottom, void]
    hole = Part("hole", (Disc((0.05, 0.01), 0.004),), void=True)
    round_section = Section("t", (*parts, hole), section.environments, border=section.border)
    assert len(adiabatic_edges(Sheet(round_section, legend=True))) == 4


def test_the_axis_is_no_edge():
    parts = (Part("rod", (Rectangle((0, 0.01), (0, 0.02)),), STONE),)
    section = Section("t", parts, (Environment("e", 0, 1),), view="axisymmetric", border=Border(top="e", bottom="e"))
    (line,) = adiabatic_edges(Sheet(section, legend=True))
    assert line.tolist() == [[0.01, 0], [0.01, 0.02]]


def test_faces_at_a_temperature_have_arrows_the_way_heat_goes(tmp_path, monkeypatch):
    """A slab between a warm lower and a cold upper face: heat goes up through both; how, a drawing does not know."""
    sheets = []
    monkeypatch.setattr(Sheet, "save", lambda self, path: sheets.append(self))
    faces = [
        Source(name, Segment((0, 0.1), (y, y)), temperature=t) for name, y, t in (("warm", 0, 40), ("cold", 0.02, 5))
    ]
    slab = Part("slab", (Rectangle((0, 0.1), (0, 0.02)),), STONE)
    section = Section("t", (slab,), (), unit="mm", sources=tuple(faces))
    draw_parts(section, tmp_path / "parts.png")
    draw_temperature(solve(section), tmp_path / "temperature.png")
    unknown, known = ([t for t in s.axes.texts if "head_width" in str(getattr(t, "arrowprops", ""))] for s in sheets)
    assert not unknown
    assert {(np.sign(t.xy[1] - t.xyann[1]), t.xy[1] < 10) for t in known} == {(1, True), (1, False)}
