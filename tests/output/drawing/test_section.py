import subprocess
import sys

import matplotlib.image
import numpy as np
import pytest

from fdm import at_operating_point, solve
from fdm.output.drawing.colours import contour_levels
from fdm.output.drawing.labels import Labels
from fdm.output.drawing.section import draw_parts, draw_temperature, temperature_pixels
from fdm.output.drawing.sheet import Sheet
from fdm.section.model import Disc, Section, Segment, Sensor, Source
from tests.conduction.stack.plates import sink
from tests.output.drawing.drawing_example import boxes, one_part, overlap
from validation.cases import box, solid


def test_both_pictures_are_written(wall, tmp_path):
    draw_parts(wall.section, tmp_path / "parts.png")
    draw_temperature(wall, tmp_path / "temperature.png")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["parts.png", "temperature.png"]
    for path in tmp_path.iterdir():
        height, width, _ = matplotlib.image.imread(path).shape
        assert 1000 < width < 1800 and 300 < height < 2200


def test_both_faces_of_a_plate_in_layers_are_drawn_with_what_enters_on_them(tmp_path, monkeypatch):
    said = []
    write = Labels.write_beside
    monkeypatch.setattr(
        Labels, "write_beside", lambda self, text, *a, **k: (said.append(text), write(self, text, *a, **k))
    )
    solution = solve(sink())
    draw_parts(solution.section, tmp_path / "parts.png")
    assert said == ["module, 10 W"]
    draw_temperature(solution, tmp_path / "front.png")
    assert said == ["module, 10 W"]
    draw_temperature(solution, tmp_path / "back.png", face="back")
    assert said == ["module, 10 W"] * 2
    front, back = (matplotlib.image.imread(tmp_path / f"{face}.png") for face in ("front", "back"))
    assert front.shape != back.shape or (front != back).any()


@pytest.mark.parametrize(("x", "y"), [((0, 0.5), (0, 0.0475)), ((0, 0.004), (0, 0.06)), ((-1e-3, 3.0), (5.0, 5.001))])
def test_very_flat_and_very_tall_sections(solved, tmp_path, x, y):
    section = one_part(x, y, sensors=(Sensor("a", at=(x[1], y[0])),))
    draw_parts(section, tmp_path / "p.png")
    draw_temperature(solved(section), tmp_path / "t.png")
    for path in tmp_path.iterdir():
        height, width, _ = matplotlib.image.imread(path).shape
        assert 500 < width < 1800 and 250 < height < 2300


def test_temperature_is_exact_between_cells(slab):
    sheet = Sheet(slab.section, legend=False)
    t = temperature_pixels(sheet, slab.field)
    y = (sheet.y[1:] + sheet.y[:-1]) / 2  # mm
    inside = np.isfinite(t)
    assert inside.any() and abs(t - (10 + y))[inside].max() < 1e-6
    levels, ends = contour_levels(t, 10)
    assert ends == pytest.approx((10, 30), abs=0.2)
    assert levels.tolist() == [12, 14, 16, 18, 20, 22, 24, 26, 28]


def test_temperatures_are_drawn_in_solids_only(wall):
    sheet = Sheet(wall.section, legend=False)
    t = temperature_pixels(sheet, wall.field)
    solid = np.isin(sheet.owner, [1, 2, 3])
    assert np.array_equal(np.isfinite(t), solid)  # and every pixel of a solid has one, up to the round hole's edge
    cells = wall.field.temperature[wall.field.solid]
    assert np.nanmin(t) > cells.min() - 0.5 and np.nanmax(t) < cells.max() + 2


def test_held_parts_are_drawn_at_their_temperature():
    """Round ones, too: beyond their edge the cells know none."""
    parts = solid("block", 200, box(0, 1, 0, 1)), solid("shell", 0.3, Disc((0.5, 0.5), 0.4))
    pipe = solid("pipe", 400, Disc((0.6, 0.5), 0.15))
    held = tuple(Source(f"held {name}", part=name, temperature=t) for name, t in (("block", 20), ("pipe", 60)))
    solution = solve(Section("t", (*parts, pipe), (), sources=held), target=0.02)
    sheet = Sheet(solution.section, legend=False)
    t = temperature_pixels(sheet, solution.field)
    for number, temperature in ((0, 20), (2, 60)):
        assert (t[sheet.owner == number] == temperature).all() and (sheet.owner == number).any()


def test_another_operating_point_is_drawn_with_its_own_readings(wall, tmp_path, monkeypatch):
    said = []
    monkeypatch.setattr("fdm.output.drawing.labels.Labels.write_beside", lambda self, text, *a, **k: said.append(text))
    monkeypatch.setattr(Sheet, "save", lambda self, path: None)
    draw_temperature(wall, tmp_path / "a.png")
    even = dict.fromkeys(wall.section.fixed_names, 20.0)
    draw_temperature(at_operating_point(wall, even | {"face": 0.0}), tmp_path / "b.png")
    readings = [float(s.split("\n")[1].split()[0]) for s in said if s.startswith("s")]
    assert readings == [*(float(f"{wall.sensors[name].reading:.3g}") for name in ("s1", "s2")), 20, 20]
    assert [s for s in said if s.startswith("face")] == ["face, 3 W", "face, 0 W"]


def test_words_do_not_overlap(wall, tmp_path, monkeypatch):
    sheets = []
    monkeypatch.setattr(Sheet, "save", lambda self, path: sheets.append(self))
    crowd = tuple(Sensor(f"sensor {k}", at=(0.05 + 1e-3 * k, 0.012)) for k in range(8))
    draw_parts(
        one_part(
            (0, 0.2), (0, 0.04), sensors=crowd, sources=(Source("s", Segment((0.05, 0.1), (0.02, 0.02)), heat=1),)
        ),
        tmp_path / "x.png",
    )
    draw_parts(wall.section, tmp_path / "x.png")
    draw_temperature(wall, tmp_path / "x.png")
    for sheet in sheets:
        written = boxes(sheet)
        names = list(written)
        clashes = [(a, b) for i, a in enumerate(names) for b in names[:i] if overlap(written[a], written[b])]
        assert not clashes
        axes = sheet.axes.get_window_extent(sheet.canvas.get_renderer()).extents
        for left, bottom, right, top in written.values():
            assert left > axes[0] - 2 and bottom > axes[1] - 2 and right < axes[2] + 2 and top < axes[3] + 2
    assert {"sensor 0", "sensor 7", "s, 1 W", "slab"} <= set(boxes(sheets[0]))
    assert {"s1", "s2", "face, 3 W", "wall", "plate", "cabinet [air], 7 °C", "<b>room</b>, 28 °C"} <= set(
        boxes(sheets[1])
    )


def test_nothing_of_matplotlib_before_a_picture_and_never_its_global_state(tmp_path):
    code = (
        "import sys, fdm, fdm.output.drawing.cabinet\n"
        "from fdm.output.drawing import section as pictures; from fdm.section.model import *\n"
        "assert 'matplotlib' not in sys.modules\n"
        "parts = (Part('p', (Rectangle((0, 1), (0, 1)),), Material('m', (1, 1))),)\n"
        "s = Section('t', parts, (Environment('e', 0, 1),), border=Border(top='e'))\n"
        f"pictures.draw_parts(s, {str(tmp_path / 'p.png')!r})\n"
        "assert 'matplotlib' in sys.modules and 'matplotlib.pyplot' not in sys.modules"
    )
    subprocess.run(
        [sys.executable, "-c", code], check=True, cwd=tmp_path, env={"PYTHONPATH": ":".join(p for p in sys.path if p)}
    )
