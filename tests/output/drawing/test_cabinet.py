from dataclasses import replace

import matplotlib.image
import numpy as np
import pytest

from fdm.cabinet.pulldown import Curve
from fdm.cabinet.zones import AIR
from fdm.output.drawing import cabinet as cabinet_pictures
from fdm.output.drawing.cabinet import KIND_COLOURS, draw_heat_budget, draw_pull_down, draw_supply
from tests.output.cabinet_example import example


@pytest.fixture(scope="module")
def cabinet():
    return example()


@pytest.fixture
def drawn(monkeypatch):
    """The figure that a call would have written."""

    def call(draw, solved):
        kept = []
        monkeypatch.setattr(cabinet_pictures, "save_chart", lambda figure, path: kept.append(figure))
        draw(solved, "picture.png")
        kept[0].canvas.draw()
        return kept[0]

    return call


def words(figure):
    return [t.get_text() for a in figure.axes for t in a.texts]


def boxes(axes, figure):
    renderer = figure.canvas.get_renderer()
    return [t.get_window_extent(renderer).extents for t in axes.texts if t.get_text()]


def overlap(a, b):
    return min(a[2], b[2]) - max(a[0], b[0]) > 1 and min(a[3], b[3]) - max(a[1], b[1]) > 1


def test_all_three_are_written(cabinet, tmp_path):
    for draw, name in (
        (draw_heat_budget, "budget.png"),
        (draw_pull_down, "pull_down.png"),
        (draw_supply, "supply.png"),
    ):
        draw(cabinet, tmp_path / name)
        height, width, _ = matplotlib.image.imread(tmp_path / name).shape
        assert width == 1600 and 300 < height < 2000
    assert len(list(tmp_path.iterdir())) == 3


def test_budget_bars_largest_on_top(cabinet, drawn):
    figure = drawn(draw_heat_budget, cabinet)
    a = figure.axes[0]
    bars = [p for p in a.patches if p.get_height() == pytest.approx(0.68)]
    assert [p.get_width() for p in bars] == pytest.approx([b.watts for b in cabinet.budget])
    assert a.get_ylim()[0] > a.get_ylim()[1]
    assert f"{cabinet.budget[0].watts:.3g} W, {100 * cabinet.budget[0].share:.1f} %" in words(figure)
    assert {b.kind for b in cabinet.budget} <= set(KIND_COLOURS)
    right = figure.canvas.get_renderer().width
    assert max(box[2] for box in boxes(a, figure)) < right


def test_budget_that_warms_has_no_shares(cabinet, drawn):
    turned = replace(
        cabinet,
        point=replace(cabinet.point, pumped=-cabinet.point.pumped),
        budget=tuple(replace(b, watts=-b.watts) for b in reversed(cabinet.budget)),
    )
    figure = drawn(draw_heat_budget, turned)
    assert not any("%" in w for w in words(figure))
    a = figure.axes[0]
    assert a.get_xlim()[0] < turned.budget[-1].watts
    frame = a.get_window_extent().extents
    for (left, _, right, _), line in zip(boxes(a, figure), turned.budget, strict=True):
        end = a.transData.transform((line.watts, 0))[0]
        assert (right < end if line.watts < 0 else left > end) and left > frame[0] and right < frame[2]


@pytest.mark.filterwarnings("ignore:Glyph")
def test_names_of_any_length_and_letters_are_drawn_whole(cabinet, drawn):
    names = "стеныизфанерыипенополистирола" * 2, "$a$ wall of many words " * 3, "壁" * 40
    budget = tuple(replace(b, name=n) for b, n in zip(cabinet.budget, names)) + cabinet.budget[len(names) :]
    figure = drawn(draw_heat_budget, replace(cabinet, budget=budget))
    a, (width, height) = figure.axes[0], figure.get_size_inches() * figure.dpi
    (legend,) = figure.legends
    for text in [*a.get_yticklabels(), *legend.get_texts()]:
        left, bottom, right, top = text.get_window_extent().extents
        assert left >= 0 and bottom >= 0 and right <= width and top <= height
    assert legend.get_window_extent().y1 <= a.get_window_extent().y0  # it hides no bar


def curve(time, air, power, nodes=8):
    t = np.full((len(time), nodes), 20.0)
    t[:, 0] = air
    return Curve(np.array(time, float), t, np.array(air, float) + 1, np.array(power, float))


def pulled(cabinet, end, **more):
    made = curve([0, end / 2, end], [25, 10, 8], [30, 20, 20], len(cabinet.circuit.nodes))
    run = replace(cabinet.pull_down, **{"always_on": made, "switched": made, "period": None, "time_to_setpoint": None,
                                        "load_time": None} | more)  # fmt: skip
    return replace(cabinet, pull_down=run)


@pytest.mark.parametrize(("end", "unit", "shown"), [(3000, "min", 50), (36000, "h", 10), (4 * 86400, "days", 4)])
def test_time_axis_in_the_unit_that_fits(cabinet, drawn, end, unit, shown):
    figure = drawn(draw_pull_down, pulled(cabinet, end))
    assert len(figure.axes) == 2
    assert figure.axes[1].get_xlabel() == f"time ({unit})"
    assert figure.axes[1].get_xlim()[1] == pytest.approx(shown)


def test_last_cycles_are_drawn_large(cabinet, drawn):
    assert cabinet.pull_down.period is not None
    figure = drawn(draw_pull_down, cabinet)
    assert len(figure.axes) == 4
    large = figure.axes[2]
    span = large.get_xlim()[1] * {"s": 1, "min": 60, "h": 3600}[figure.axes[3].get_xlabel()[6:-1]]
    assert span == pytest.approx(3 * cabinet.pull_down.period)


def test_thermostat_in_the_air_has_no_curve_of_its_own(cabinet, drawn):
    def lines(solved):
        return len(drawn(draw_pull_down, solved).axes[0].lines)

    own = replace(cabinet.cabinet, thermostat=replace(cabinet.cabinet.thermostat, sensor=AIR, file=None))
    some = pulled(cabinet, 36000)
    assert lines(some) == lines(replace(some, cabinet=own)) + 1


def test_modules_always_on_are_another_curve_only_where_the_thermostat_switches(cabinet, drawn):
    longer = curve([0, 18000, 30000, 40000], [25, 10, 8, 7], [30, 20, 20, 20], len(cabinet.circuit.nodes))
    for solved, told in ((pulled(cabinet, 36000), False), (pulled(cabinet, 36000, always_on=longer), True)):
        figure = drawn(draw_pull_down, solved)
        assert any(line.is_dashed() for line in figure.axes[1].lines) == told
        assert (figure.legends[0].get_texts()[-1].get_text() == "modules always on") == told


def test_marked_moments_stand_apart(cabinet, drawn):
    """Also where they fall together, and near the right edge."""
    for first, second in ((18000.0, 18000.0), (35000.0, 20000.0)):
        figure = drawn(draw_pull_down, pulled(cabinet, 36000, time_to_setpoint=first, load_time=second))
        a, b = boxes(figure.axes[0], figure)
        assert not overlap(a, b)
        edge = figure.axes[0].get_window_extent().extents
        assert max(a[2], b[2]) <= edge[2] and min(a[0], b[0]) >= edge[0]


def test_supply_marks_lowest_and_best(cabinet, drawn):
    chart = replace(cabinet.chart, lowest=(10.0, -8.0), best=(4.25, 0.712))
    figure = drawn(draw_supply, replace(cabinet, chart=chart))
    assert "lowest: -8.0 °C at 10 V" in words(figure)
    assert "best COP: 0.712 at 4.25 V" in words(figure)
    none = drawn(draw_supply, replace(cabinet, chart=replace(chart, best=None)))
    assert not any("best" in w for w in words(none))


def test_supply_is_solid_only_where_it_holds_the_setpoint(cabinet, drawn):
    figure = drawn(draw_supply, cabinet)
    dashed, solid = figure.axes[1].lines[:2]
    held = np.isfinite(np.asarray(solid.get_ydata(), float))
    spare = np.interp(solid.get_xdata(), cabinet.chart.supply, cabinet.chart.setpoint_spare)
    assert held.any() and not held.all()
    assert (held == (spare >= 0)).mean() > 0.98
    assert np.isfinite(np.asarray(dashed.get_ydata(), float)).all()
