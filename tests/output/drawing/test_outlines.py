import numpy as np
import pytest

from fdm.output.drawing.outlines import visible_edges
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Rectangle, Section
from tests.output.drawing.drawing_example import STONE


def test_edges_show_what_can_be_seen():
    parts = (
        Part("a", (Rectangle((0, 1), (0, 1)), Rectangle((1, 2), (0, 1))), STONE),  # no seam within a part
        Part("b", (Rectangle((0.5, 1.5), (0.5, 1)),), STONE),
        Part("c", (Disc((1, 0.75), 0.1),), void=True),
        Part("hidden", (Disc((1, 0.75), 0.05),), STONE),
        Part("cover", (Disc((1, 0.75), 0.1),), void=True),
        Part("wedge", (Polygon(((2, 0), (3, 0), (2, 1))),), STONE),
    )
    section = Section("t", parts, (Environment("e", 0, 1),), border=Border(bottom="e"))
    edges = visible_edges(section)

    def length(*pair):
        return sum(np.hypot(*np.diff(e.line, axis=0).T).sum() for e in edges if set(e.between) == set(pair))

    assert length("a", "b") == pytest.approx(0.5 + 1 + 0.5, rel=1e-6)
    assert length("b", "cover") == pytest.approx(2 * np.pi * 0.1 * 2, rel=1e-3)  # drawn by both discs of that size
    assert length("hidden", "cover") == 0
    assert length("a", "wedge") == pytest.approx(2, rel=1e-6)  # drawn by both
    assert length("wedge", None) == pytest.approx(1 + np.sqrt(2), rel=1e-6)
    assert not any(e.between[0] == e.between[1] for e in edges)


def test_a_disc_on_the_axis_is_seen_on_one_side_alone():
    parts = Part("block", (Rectangle((0, 2), (-2, 2)),), STONE), Part("ball", (Disc((0, 0), 1),), void=True)
    environments, border = (Environment("e", 0, 1),), Border(bottom="e")
    edges = visible_edges(Section("t", parts, environments, view="axisymmetric", border=border))
    (rim,) = [e.line for e in edges if set(e.between) == {"ball", "block"}][:1]
    assert min(e.line[:, 0].min() for e in edges) > -0.02  # a step along the rim
    assert rim[:, 0].max() <= 1 + 1e-9
