"""Pictures of the demos: small parts are drawn again, and every label stands by what it belongs to."""

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from fdm.output.drawing.detail import detail_of
from fdm.output.drawing.section import draw_parts
from fdm.output.drawing.sheet import Sheet
from fdm.output.drawing.view import Window
from fdm.section.reader import read_section
from tests.output.drawing.drawing_example import boxes, overlap

DEMOS = Path(__file__).parents[3] / "geometries"
WHOLE = Window((0.0, 8.0), (0.0, 6.0), 1.0)  # 1280 x 960 pixels


@pytest.fixture(scope="module")
def sheets():
    """The sheets of some demos, drawn, but not written."""
    with pytest.MonkeyPatch.context() as patch:
        drawn = {}
        patch.setattr(Sheet, "save", lambda self, path: drawn.setdefault(path, self))
        for name in ("corner_lid", "light_bar", "wall_module", "sensor_standing"):
            draw_parts(read_section(DEMOS / f"{name}.toml"), name)
        return drawn


def test_the_seal_is_drawn_again_and_the_light_bar_is_not(sheets):
    seal = sheets["corner_lid"]
    assert sheets["light_bar"].detail is None and sheets["sensor_standing"].detail is None
    assert seal.detail.window.scale >= 4 * seal.window.scale
    for x, y in ((17.5, 200), (32.5, 204), (0, 197), (50, 207)):  # mm: corners of gasket and rims
        assert seal.detail.window.holds((x, y))
    inside = set(boxes(seal.detail))
    assert {"gasket", "rim of the wall", "rim of the lid", "outside at the rim", "cabinet air, 7 °C"} <= inside
    assert not {"gasket", "rim of the wall", "rim of the lid", "outside at the rim"} & set(boxes(seal))
    (frame,) = [p for p in seal.axes.patches if p.get_height() < 50]
    assert (frame.get_x(), frame.get_y()) == (seal.detail.window.ends_x[0], seal.detail.window.ends_y[0])
    assert seal.detail.axes.get_window_extent().y1 < seal.axes.get_window_extent().y0  # below it


def test_labels_of_demos_cover_no_others(sheets):
    for sheet in sheets.values():
        for view in sheet.views:
            written, axes = boxes(view), view.axes.get_window_extent().extents
            assert not [pair for pair in combinations(written, 2) if overlap(*(written[name] for name in pair))]
            for left, bottom, right, top in written.values():
                assert left > axes[0] - 2 and bottom > axes[1] - 2 and right < axes[2] + 2 and top < axes[3] + 2


def distance(box, line):
    """From a box to the nearest point of a line (K, 2), in pixels."""
    low, high = np.array(box[:2]), np.array(box[2:])
    return np.hypot(*np.maximum(np.maximum(low - line, line - high), 0).T).min()


def test_labels_are_nearest_to_their_own_marks(sheets):
    crowded = 0
    for sheet in sheets.values():
        section, unit = sheet.section, sheet.unit
        marks = {s.name: np.array([s.at]) / unit for s in section.sensors if s.at}
        for s in section.sources:
            ends = np.column_stack([s.segment.x, s.segment.y]) / unit
            marks[f"{s.name}, {s.heat:g} W"] = np.linspace(*ends, 50)
        for view in sheet.views:
            for name, box in boxes(view).items():
                if (name := name.replace("\n", " ")) in marks:
                    away = {n: distance(box, view.axes.transData.transform(at)) for n, at in marks.items()}
                    assert away[name] <= min(away.values()) and away[name] < 30
                    crowded += len(marks) > 1
    assert crowded >= 4


def owner_with(*boxes_of_parts):
    owner = np.zeros((1280, 960), np.int32)
    for k, (x0, x1, y0, y1) in enumerate(boxes_of_parts, start=1):
        owner[x0:x1, y0:y1] = k
    return owner


def test_only_several_small_parts_that_lie_together_are_drawn_again():
    pair = (600, 640, 400, 410), (610, 650, 412, 420)
    found = detail_of(owner_with(*pair), 3, WHOLE, (9.0, 3.6))
    assert found.parts == {1, 2} and found.times >= 10
    assert found.window.scale == pytest.approx(found.times * WHOLE.scale)
    assert all(size <= room for size, room in zip(found.window.size, (9.0, 3.6)))
    assert found.window.holds((600 / 160, 400 / 160)) and found.window.holds((650 / 160, 420 / 160))
    alone, far = (600, 640, 400, 410), (100, 140, 800, 810)
    assert detail_of(owner_with(alone), 2, WHOLE, (9.0, 3.6)) is None
    assert detail_of(owner_with(alone, far), 3, WHOLE, (9.0, 3.6)) is None
    assert detail_of(owner_with((100, 900, 400, 410), (100, 900, 412, 420)), 3, WHOLE, (9.0, 3.6)) is None  # skins
    assert detail_of(owner_with((500, 700, 400, 500), (500, 700, 500, 600)), 3, WHOLE, (9.0, 3.6)) is None  # blocks
    corner = detail_of(owner_with((0, 20, 0, 10), (0, 20, 12, 20)), 3, WHOLE, (9.0, 3.6))
    assert corner.window.ends_x[0] >= 0 and corner.window.ends_y[0] >= 0  # never beyond the axes


def test_the_larger_of_two_groups_is_drawn_again():
    two = [(100, 140, 100 + 12 * k, 110 + 12 * k) for k in range(2)]
    three = [(900, 940, 500 + 12 * k, 510 + 12 * k) for k in range(3)]
    assert detail_of(owner_with(*two, *three), 6, WHOLE, (9.0, 3.6)).parts == {3, 4, 5}
