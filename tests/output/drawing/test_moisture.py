"""Marks on what sweats and freezes."""

import numpy as np
import pytest

from fdm.answers.moisture import Wetted
from fdm.output.drawing.moisture import COLOURS, WORDS, draw_wetted, explain_wetted
from fdm.output.drawing.sheet import Sheet
from tests.output.drawing.drawing_example import one_part

EDGE = np.array([[[0.0, 0.0], [0.01, 0.0]]])
NONE = np.empty((0, 2, 2))
CELLS = np.array([[[x, y], [x + 0.01, y + 0.01]] for x in (0.0, 0.01, 0.02) for y in (0.0, 0.01)])


@pytest.fixture()
def figure():
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure()
    FigureCanvasAgg(figure)
    figure.add_subplot()
    return figure


def lines(figure):
    from matplotlib.colors import to_hex

    return {to_hex(c.get_colors()[0]): c.get_segments() for c in figure.axes[0].collections}


def test_each_kind_has_its_line_in_the_unit_of_the_axes(figure):
    draw_wetted(
        figure.axes[0],
        [
            Wetted("a", "air", False, 1, EDGE, NONE, NONE[:, 0, 0]),
            Wetted("b", "air", True, 1, EDGE, NONE, NONE[:, 0, 0]),
        ],
        1e-3,
    )
    found = lines(figure)
    assert set(found) == {"#ffffff", *COLOURS.values()}
    for freezes in (False, True):
        assert np.allclose(found[COLOURS[freezes]], 1e3 * EDGE)


def test_plates_seen_face_on_have_a_line_around_what_sweats(figure):
    twice = [
        Wetted("a", "front", False, 1, NONE, CELLS, np.ones(6)),
        Wetted("a", "back", False, 1, NONE, CELLS[:2], np.ones(2)),
    ]
    draw_wetted(figure.axes[0], twice, 1.0)
    around = np.array(lines(figure)[COLOURS[False]])
    assert np.hypot(*np.diff(around, axis=1)[:, 0].T).sum() == pytest.approx(2 * (0.03 + 0.02))


def test_the_line_follows_the_temperature_not_the_cells(figure):
    """A quarter of a disc in the corner of a plate: an arc, and both sides as far as it reaches."""
    x, y = np.meshgrid(np.arange(20), np.arange(20))
    cells = np.stack([np.stack([x, y], -1), np.stack([x + 1, y + 1], -1)], -2).reshape(-1, 2, 2) / 20
    below = 0.7 - np.hypot(*cells.mean(1).T)
    draw_wetted(figure.axes[0], [Wetted("plate", "air", False, 1, NONE, cells, below)], 1.0)
    around = np.array(lines(figure)[COLOURS[False]])
    on_rim = (around.min(1) == 0).any(1) & (np.ptp(around, axis=1) == 0).any(1)
    assert np.hypot(*around[~on_rim].reshape(-1, 2).T) == pytest.approx(0.7, abs=0.02)
    lengths = np.hypot(*np.diff(around, axis=1)[:, 0].T)
    assert lengths[~on_rim].sum() == pytest.approx(0.35 * np.pi, rel=0.02)
    assert lengths[on_rim].sum() == pytest.approx(1.4, abs=0.05)


def test_the_legend_has_what_is_drawn_and_no_more():
    sheet = Sheet(one_part((0, 0.1), (0, 0.05)), legend=False)
    explain_wetted(sheet, [])
    draw_wetted(sheet.axes, [], 1.0)
    assert not sheet.figure.legends and not sheet.axes.collections
    explain_wetted(sheet, [Wetted("a", "air", True, 1, EDGE, NONE, NONE[:, 0, 0])])
    (legend,) = sheet.figure.legends
    assert [t.get_text() for t in legend.get_texts()] == [WORDS[True]]
    assert legend.get_window_extent(sheet.renderer).y1 <= sheet.axes.get_tightbbox(sheet.renderer).y0 + 1
