import subprocess
import sys

import matplotlib.image
import numpy as np
import pytest

from fdm.output.drawing.colours import contour_levels, material_colours, part_colours
from fdm.output.drawing.flow import flow_lines, flux_at
from fdm.output.drawing.labels import in_two
from fdm.output.drawing.outlines import visible_edges
from fdm.output.drawing.section import draw_parts, draw_temperature, temperature_pixels
from fdm.output.drawing.sheet import Sheet, deepest_pixel
from fdm.section.model import (
    Border,
    Disc,
    Environment,
    Joint,
    Material,
    Part,
    Polygon,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Source,
)

STONE = Material("stone", (2.0, 2.0))


def one_part(x, y, **more):
    return Section(
        **{
            "title": "t",
            "parts": (Part("slab", (Rectangle(x, y),), STONE),),
            "environments": (Environment("air", 20, 10), Environment("room", 30, 10)),
            "border": Border(bottom="air", top="room"),
            "unit": "mm",
            **more,
        }
    )


def boxes(sheet):
    """Every word written on the drawing, by what it says: (left, bottom, right, top) in pixels."""
    renderer = sheet.canvas.get_renderer()
    return {t.get_text(): t.get_window_extent(renderer).extents for t in sheet.axes.texts if t.get_text()}


def overlap(a, b):
    return min(a[2], b[2]) - max(a[0], b[0]) > 1 and min(a[3], b[3]) - max(a[1], b[1]) > 1


def test_both_pictures_are_written(wall, tmp_path):
    draw_parts(wall.section, tmp_path / "parts.png")
    draw_temperature(wall, tmp_path / "temperature.png")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["parts.png", "temperature.png"]
    for path in tmp_path.iterdir():
        height, width, _ = matplotlib.image.imread(path).shape
        assert 1000 < width < 1800 and 300 < height < 2200


@pytest.mark.parametrize(("x", "y"), [((0, 0.5), (0, 0.0475)), ((0, 0.004), (0, 0.06)), ((-1e-3, 3.0), (5.0, 5.001))])
def test_very_flat_and_very_tall_sections(solved, tmp_path, x, y):
    section = one_part(x, y, sensors=(Sensor("a", at=(x[1], y[0])),))
    draw_parts(section, tmp_path / "p.png")
    draw_temperature(solved(section), tmp_path / "t.png")
    for path in tmp_path.iterdir():
        height, width, _ = matplotlib.image.imread(path).shape
        assert 500 < width < 1800 and 250 < height < 2300


@pytest.mark.parametrize("size", [(0.2, 0.1), (0.5, 0.02), (0.01, 0.3)])
def test_drawn_to_scale(size):
    sheet = Sheet(one_part((0, size[0]), (0, size[1])), legend=True)
    box = sheet.axes.get_window_extent(sheet.canvas.get_renderer())
    per_unit = box.width / np.ptp(sheet.axes.get_xlim()), box.height / np.ptp(sheet.axes.get_ylim())
    assert per_unit[0] == pytest.approx(per_unit[1], rel=0.005)


def test_temperature_is_exact_between_cells(slab):
    sheet = Sheet(slab.section, legend=False)
    t = temperature_pixels(sheet, slab.field)
    y = (sheet.y[1:] + sheet.y[:-1]) / 2  # mm
    inside = np.isfinite(t)
    assert t[inside] == pytest.approx(np.broadcast_to(10 + y, t.shape)[inside], abs=1e-6)
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


def test_levels_of_a_field_at_one_temperature():
    levels, ends = contour_levels(np.full((3, 3), 7.0), 10)
    assert ends == (6.5, 7.5) and 7.0 in levels


def test_another_operating_point_is_drawn_with_its_own_readings(wall, tmp_path, monkeypatch):
    said = []
    monkeypatch.setattr("fdm.output.drawing.labels.Labels.write_beside", lambda self, text, *a, **k: said.append(text))
    draw_temperature(wall, tmp_path / "a.png")
    own = wall.field_at(wall.section.fixed_temperatures, wall.section.watts)
    draw_temperature(wall, tmp_path / "b.png", own)
    draw_temperature(wall, tmp_path / "c.png", wall.field_at([20, 20], [0]))
    sensors = [s for s in said if s.startswith("s")]
    readings = [float(s.split("\n")[1].split()[0]) for s in sensors]
    assert readings[:2] == pytest.approx([wall.sensors["s1"].reading, wall.sensors["s2"].reading], abs=0.006)
    assert readings[2:4] == pytest.approx(readings[:2], abs=0.05)  # of one grid, not extrapolated
    assert readings[4:] == [20, 20]
    assert [s for s in said if s.startswith("face")] == ["face, 3 W", "face", "face"]


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


def test_words_go_far_only_where_nothing_near_is_free(wall):
    sheet = Sheet(wall.section, legend=True)
    sheet.labels.occupancy.occupied[:] = True
    sheet.labels.occupancy.occupied[-80:, -40:] = False
    corner = sheet.x[0], sheet.y[0]
    sheet.labels.write_with_leader("part", corner, "black")  # the legend has it
    sheet.labels.write_beside("sensor", corner, "black")
    written = boxes(sheet)
    assert list(written) == ["sensor"]
    right, top = sheet.axes.get_window_extent(sheet.canvas.get_renderer()).extents[2:]
    assert written["sensor"][0] > right - 240 and written["sensor"][1] > top - 120


def test_a_pixel_of_the_sheet_is_one_of_the_picture(wall):
    sheet = Sheet(wall.section, legend=True)
    colours = part_colours(wall.section)[sheet.owner]
    sheet.show_pixels(colours)
    sheet.axes.set_axis_off()
    sheet.canvas.draw()
    left, bottom = sheet.axes.get_window_extent(sheet.canvas.get_renderer()).extents[:2].round().astype(int)
    across, up = sheet.owner.shape
    shown = np.asarray(sheet.canvas.buffer_rgba())[::-1].swapaxes(0, 1)[left : left + across, bottom : bottom + up]
    assert len(np.unique(sheet.owner)) > 4 and np.array_equal(shown, colours)


def test_legend_names_everything_drawn(wall, tmp_path, monkeypatch):
    sheets = []
    monkeypatch.setattr(Sheet, "save", lambda self, path: sheets.append(self))
    draw_parts(wall.section, tmp_path / "x.png")
    text = " ".join(t.get_text() for t in sheets[0].axes.get_legend().get_texts()).replace("\xa0", " ")
    for said in (
        "metal: x 200, y 150 W/(m K)",
        "foam: 0.03 W/(m K)",
        "plate, block",
        "hole",
        "film 8 W/(m² K)",
        "heat",
        "sensor",
    ):
        assert said in text


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


def test_flow_lines_stay_in_the_solid_and_follow_the_flux(wall):
    f = wall.field
    x, y = np.linspace(0, 0.1, 300), np.linspace(-0.02, 0.034, 160)
    q = flux_at(f, x, y)
    i, j = (np.clip(np.searchsorted(g, at) - 1, 0, len(g) - 2) for g, at in ((f.x, x), (f.y, y)))
    solid = f.solid[np.ix_(i, j)]
    size = np.hypot(*np.moveaxis(q, -1, 0))
    flows = solid & (size > 0)
    lines = flow_lines(q / np.where(flows, size, 1)[..., None], flows, solid * 10.0, size, 12.0)
    assert len(lines) > 20
    for line in lines:
        a, b = np.floor(line + 0.5).astype(int).T
        assert flows[a, b].all()
        step = np.diff(line, axis=0)
        ahead = (step * q[a, b][:-1]).sum(1)
        assert (ahead > 0).mean() > 0.95


def test_flux_is_not_mixed_across_an_edge(wall):
    f = wall.field
    q = flux_at(f, np.array([0.045 - 1e-7, 0.045 + 1e-7]), np.array([0.015]))[:, 0, 1]
    column = abs(f.x - 0.045).argmin()  # of the block's first cells
    rows = slice(np.searchsorted(f.y, 0.015) - 2, np.searchsorted(f.y, 0.015) + 2)
    for value, cells in zip(q, (f.flux[column - 1, rows, 1], f.flux[column, rows, 1])):
        assert cells.min() <= value <= cells.max()
    assert abs(q[1]) > 100 * abs(q[0])


def test_materials_alike_are_told_apart():
    materials = [Material(f"foam {k}", (k, k)) for k in (0.031, 0.032, 0.033)] + [Material("steel", (50, 50))]
    parts = tuple(Part(m.name, (Rectangle((i, i + 1), (0, 1)),), m) for i, m in enumerate(materials))
    colours = material_colours(Section("t", parts, (Environment("e", 0, 1),), border=Border(bottom="e")))
    shades = np.array([colours[m.name] for m in materials])
    assert np.abs(shades[:, None] - shades[None]).sum(-1)[~np.eye(4, dtype=bool)].min() > 0.03
    assert shades[0].sum() > shades[3].sum()  # insulators are pale


def test_warm_air_is_redder_than_cold(wall):
    colours = part_colours(wall.section)
    cold, warm = colours[0], colours[len(wall.section.parts) + 3]
    assert cold[2] > cold[0] and warm[0] > warm[2]
    assert colours[-1].tolist() == [255, 255, 255, 255]


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


def test_names_are_broken_in_the_middle():
    assert in_two("greenhouse air at the fins") == "greenhouse air\nat the fins"
    assert in_two("plate") == "plate"


def test_nothing_of_matplotlib_before_a_picture_and_never_its_global_state(tmp_path):
    code = (
        "import sys, fdm; from fdm.output.drawing import section as pictures; from fdm.section.model import *\n"
        "assert 'matplotlib' not in sys.modules\n"
        "parts = (Part('p', (Rectangle((0, 1), (0, 1)),), Material('m', (1, 1))),)\n"
        "s = Section('t', parts, (Environment('e', 0, 1),), border=Border(top='e'))\n"
        f"pictures.draw_parts(s, {str(tmp_path / 'p.png')!r})\n"
        "assert 'matplotlib' in sys.modules and 'matplotlib.pyplot' not in sys.modules"
    )
    subprocess.run(
        [sys.executable, "-c", code], check=True, cwd=tmp_path, env={"PYTHONPATH": ":".join(p for p in sys.path if p)}
    )
