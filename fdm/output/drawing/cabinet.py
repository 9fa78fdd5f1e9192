"""Pictures of a cabinet: where its heat comes from, how fast it gets cold, and what another supply would do."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fdm.answers.units import KWH, SUPPLY_UNITS, duration, time_unit
from fdm.cabinet.pulldown import Curve
from fdm.cabinet.solution import SolvedCabinet
from fdm.cabinet.zones import AIR, air_in_words
from fdm.output.drawing.charts import (
    PAPER,
    bar_axes,
    bar_limits,
    heading,
    new_chart,
    plain_axes,
    save_chart,
    write_beside_bar,
)
from fdm.output.drawing.colours import FAINT, HEAT, INK, JOINT, SENSOR, TEMPERATURE_COLOURS
from fdm.output.drawing.figures import told

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

AIR_COLOUR, LOAD_COLOUR, COP_COLOUR = TEMPERATURE_COLOURS[1], "#5b8c5a", "#5b8c5a"
OTHER_AIR = "#9a7fb0"  # around the thermostat's sensor, where that is not the load's
SETTLED_COLOUR = TEMPERATURE_COLOURS[0]
KIND_COLOURS = {
    "wall": "#85a9c4",
    "line": JOINT,
    "point": JOINT,
    "section": HEAT,
    "air exchange": "#9bb8a3",
    "inside": FAINT,
}
KIND_WORDS = {
    "wall": "walls",
    "line": "bridges and seals",
    "section": "the modules' section",
    "air exchange": "air exchange",
    "inside": "given off inside",
}
LONGEST_AXIS = 1.15  # end of the time axis, of the time that the switched cabinet takes to settle
LAST_CYCLES = 3  # shown on their own, where there are more than twice as many
LEGEND: dict[str, Any] = {"frameon": False, "fontsize": 8.5, "labelcolor": INK}


@dataclass(frozen=True)
class TimeSpan:
    """The time that an axis shows, s; the axis begins at 0 and has the unit that fits."""

    begin: float
    end: float

    @property
    def unit(self) -> tuple[str, float]:
        """The unit's name and its seconds."""
        return time_unit(self.end - self.begin)

    def on_axis(self, time: Any) -> Any:
        return (time - self.begin) / self.unit[1]


def draw_heat_budget(solved: SolvedCabinet, path: str | Path) -> None:
    """budget.png: the heat that the modules pump by where it comes from, as bars with their bands, the largest first.

    Raises InputError where the picture cannot be written.
    """
    lines, point = solved.budget, solved.point
    air, degrees = air_in_words(solved.circuit.air), point.temperature[solved.circuit.air]
    figure = new_chart(1.8 + 0.42 * len(lines))
    a = figure.add_subplot()
    heading(
        figure,
        told(solved.cabinet.title, solved.failed),
        f"heat that the modules pump: {point.pumped:.3g} W, with the {air} at {degrees:.1f} °C "
        f"in a room of {solved.cabinet.room:g} °C",
    )
    watts = np.array([b.watts for b in lines])
    at = np.arange(len(lines))
    a.barh(at, watts, 0.68, color=[KIND_COLOURS.get(b.kind, FAINT) for b in lines], zorder=2)
    a.errorbar(
        watts, at, xerr=[b.band or np.nan for b in lines], fmt="none", ecolor=INK, elinewidth=1.0, capsize=2.5, zorder=3
    )
    for k, b in enumerate(lines):
        share = f", {100 * b.share:.1f} %" if point.pumped > 0 else ""
        write_beside_bar(a, f"{b.watts:.3g} W{share}", k, b.watts, b.band)
    bar_axes(a, ["\n".join(textwrap.wrap(b.name, 34)) for b in lines])
    bar_limits(a, min(0.0, watts.min()), max(0.0, watts.max()), room=0.24)
    a.set_xlabel("heat (W)", fontsize=9, color=INK)
    shown = {"line" if b.kind == "point" else b.kind for b in lines}
    kinds = {KIND_WORDS[k]: KIND_COLOURS[k] for k in KIND_WORDS if k in shown}
    if len(kinds) > 1:
        from matplotlib.patches import Patch

        patches = [Patch(color=c) for c in kinds.values()]
        figure.legend(patches, list(kinds), loc="outside lower left", ncols=len(kinds), **LEGEND)
    save_chart(figure, path)


def draw_pull_down(solved: SolvedCabinet, path: str | Path) -> None:
    """pull_down.png: temperatures and power over time, switched by the thermostat, and dashed with modules always on.

    Where there are many cycles, the last ones stand beside. Raises InputError where the picture cannot be written.
    """
    run = solved.pull_down
    last = float(run.switched.time[-1])
    many_cycles = run.period is not None and last > 2 * LAST_CYCLES * run.period
    whole = TimeSpan(0.0, max(last, min(LONGEST_AXIS * last, float(run.always_on.time[-1])), 1.0))
    figure = new_chart(6.2)
    columns: dict[str, Any] = {"ncols": 2, "width_ratios": (2.3, 1)} if many_cycles else {"ncols": 1}
    grid = figure.add_gridspec(2, height_ratios=(2.4, 1), **columns)
    top, bottom = _stacked_axes(figure, grid, 0)
    heading(figure, told(solved.cabinet.title, solved.failed), _pull_down_words(solved))
    solid: dict[str, Any] = {"lw": 0.8 if many_cycles else 1.6}
    _draw_switched(top, bottom, solved, whole, solid)
    if _ever_off(solved):
        _draw_always_on(top, bottom, solved, whole)
    bottom.set_xlabel(f"time ({whole.unit[0]})", fontsize=9, color=INK)
    top.set_ylabel("temperature (°C)", fontsize=9, color=INK)
    bottom.set_ylabel("power (W)", fontsize=9, color=INK)
    _fit_temperatures(top, solved, (run.switched, run.always_on), whole)
    _mark_moment(top, whole, run.time_to_setpoint, "thermostat at the setpoint", SENSOR, 0.97)
    _mark_moment(top, whole, run.load_time, f"load within 1 K of {run.load_goal:.3g} °C", LOAD_COLOUR, 0.83)
    if many_cycles:
        assert run.period is not None
        cycles = TimeSpan(last - LAST_CYCLES * run.period, last)
        right, below = _stacked_axes(figure, grid, 1)
        _draw_switched(right, below, solved, cycles, {"lw": 1.6})
        _fit_temperatures(right, solved, (run.switched,), cycles)
        right.set_title("the last cycles", loc="left", fontsize=9, color=INK, y=1)
        below.set_xlabel(f"time ({cycles.unit[0]})", fontsize=9, color=INK)
        below.set_ylim(bottom.get_ylim())
    _pull_down_legend(figure, solved)
    save_chart(figure, path)


def draw_supply(solved: SolvedCabinet, path: str | Path) -> None:
    """supply.png: where the cabinet settles against the supply, and below the power and the COP at the setpoint.

    Raises InputError where the picture cannot be written.
    """
    chart, cabinet = solved.chart, solved.cabinet
    figure = new_chart(6.4)
    top, bottom = _stacked_axes(figure, figure.add_gridspec(2, 1, height_ratios=(1.3, 1)), 0)
    title = told(cabinet.title, solved.failed)
    heading(figure, title, f"what another {chart.quantity} would do, in a room of {cabinet.room:g} °C")
    _draw_settled_air(top, solved)
    _draw_held_at_setpoint(bottom, solved)
    unit, own = SUPPLY_UNITS[chart.quantity], getattr(cabinet.bank.supply, chart.quantity)
    for a in (top, bottom):
        a.axvline(own, color=FAINT, lw=1.0, dashes=(2, 2), zorder=1.5)
    top.annotate(
        f"as built, {own:g} {unit}", (own, 0.03), (4, 0), xycoords=("data", "axes fraction"),
        textcoords="offset points", va="bottom", fontsize=8.5, color=FAINT, bbox=PAPER,
    )  # fmt: skip
    save_chart(figure, path)


def _draw_settled_air(a: "Axes", solved: SolvedCabinet) -> None:
    """The temperature at which the cabinet's air settles, and its lowest."""
    chart, cabinet = solved.chart, solved.cabinet
    a.plot(chart.supply, chart.air, color=SETTLED_COLOUR, lw=2)
    a.axhline(cabinet.setpoint, color=INK, lw=0.8, dashes=(5, 3))
    a.annotate(
        f"setpoint {cabinet.setpoint:g} °C", (0, cabinet.setpoint), (6, 3), xycoords=("axes fraction", "data"),
        textcoords="offset points", ha="left", va="bottom", fontsize=8.5, color=INK, bbox=PAPER,
    )  # fmt: skip
    low, high = min(chart.air.min(), cabinet.setpoint), max(chart.air.max(), cabinet.setpoint)
    # a supply that warms the cabinet far beyond the room is cut off
    high = max(min(high, cabinet.room + 0.25 * (cabinet.room - low)), cabinet.setpoint)
    height = max(high - low, 1.0)
    a.set_ylim(low - 0.32 * height, high + 0.1 * height)
    a.set_ylabel("cabinet air settles at (°C)", fontsize=9, color=INK)
    supply, air = chart.lowest
    text = f"lowest: {air:.1f} °C at {supply:.3g} {SUPPLY_UNITS[chart.quantity]}"
    _mark_point(a, chart.lowest, text, SETTLED_COLOUR, (0, -16))


def _draw_held_at_setpoint(a: "Axes", solved: SolvedCabinet) -> None:
    """Power and COP with the cabinet held at its setpoint, and the best COP."""
    from scipy.interpolate import PchipInterpolator

    chart, cabinet, unit = solved.chart, solved.cabinet, SUPPLY_UNITS[solved.chart.quantity]
    supply = np.linspace(chart.supply[0], chart.supply[-1], 401)
    pumped, power, spare = (
        PchipInterpolator(chart.supply, y)(supply)
        for y in (chart.setpoint_pumped, chart.setpoint_power, chart.setpoint_spare)
    )
    cop = np.divide(pumped, power, out=np.full(len(supply), np.nan), where=power > 0)
    right = a.twinx()
    for axes, values, colour in ((a, power, HEAT), (right, cop, COP_COLOUR)):
        axes.plot(supply, values, color=colour, lw=1.2, dashes=(3, 2), alpha=0.55)
        axes.plot(supply, np.where(spare >= 0, values, np.nan), color=colour, lw=2)
        axes.tick_params(axis="y", labelcolor=colour)
    best = chart.best
    highest = best[1] if best else float(np.nanmax(np.clip(cop, 0, 1), initial=0.0))
    right.set_ylim(0, 1.35 * highest if highest > 0 else 1.0)
    a.set_ylim(0, 1.08 * max(float(power.max()), 1e-9))
    a.set_ylabel("power (W)", fontsize=9, color=HEAT)
    right.set_ylabel("COP", fontsize=9, color=COP_COLOUR)
    a.set_xlabel(f"{chart.quantity} of the supply ({unit})", fontsize=9, color=INK)
    a.set_xlim(0, float(chart.supply[-1]))
    a.set_title(
        f"with the cabinet held at {cabinet.setpoint:g} °C"
        + ("; dashed where this supply cannot hold it" if chart.needed else ", which would take a heater"),
        loc="left", fontsize=9, color=INK, y=1,
    )  # fmt: skip
    if best:
        _mark_point(right, best, f"best COP: {best[1]:.3g} at {best[0]:.3g} {unit}", COP_COLOUR, (9, 5))
    right.spines[:].set_visible(False)
    right.tick_params(labelsize=8.5, color=FAINT)


def _stacked_axes(figure: "Figure", grid: Any, column: int) -> tuple["Axes", "Axes"]:
    """Plain axes above each other that share what is along x."""
    top = figure.add_subplot(grid[0, column])
    bottom = figure.add_subplot(grid[1, column], sharex=top)
    top.tick_params(labelbottom=False)
    for a in (top, bottom):
        plain_axes(a)
    return top, bottom


def _draw_switched(top: "Axes", bottom: "Axes", solved: SolvedCabinet, span: TimeSpan, style: dict[str, Any]) -> None:
    """Temperatures on `top` and power on `bottom` as the thermostat switches, and between which readings it does."""
    cabinet, curve = solved.cabinet, solved.pull_down.switched
    time, half = span.on_axis(curve.time), cabinet.thermostat.hysteresis / 2
    top.axhspan(cabinet.setpoint - half, cabinet.setpoint + half, color=SENSOR, alpha=0.10, lw=0, zorder=0.5)
    _draw_temperatures(top, solved, curve, span, style, style | {"lw": 2.0})
    if (c := solved.circuit).sensed_air != c.air:
        top.plot(time, curve.temperature[:, c.number(c.sensed_air)], color=OTHER_AIR, **style)
    if not _reads_air(solved):
        top.plot(time, curve.reading, color=SENSOR, **style | {"lw": style["lw"] * 0.9})
    _draw_power(bottom, curve, span, style)
    top.set_xlim(0, span.on_axis(span.end))


def _draw_always_on(top: "Axes", bottom: "Axes", solved: SolvedCabinet, span: TimeSpan) -> None:
    curve, style = solved.pull_down.always_on, {"lw": 1.1, "dashes": (4, 2.5), "alpha": 0.75}
    _draw_temperatures(top, solved, curve, span, style, style)
    _draw_power(bottom, curve, span, style)


def _draw_temperatures(
    a: "Axes", solved: SolvedCabinet, curve: Curve, span: TimeSpan, air: dict[str, Any], load: dict[str, Any]
) -> None:
    """The temperatures of air and load, each in its style."""
    time, c = span.on_axis(curve.time), solved.circuit
    a.plot(time, curve.temperature @ c.air_at_load, color=AIR_COLOUR, **air)
    a.plot(time, curve.temperature @ c.load, color=LOAD_COLOUR, **load)


def _draw_power(a: "Axes", curve: Curve, span: TimeSpan, style: dict[str, Any]) -> None:
    highest = a.get_ylim()[1] if a.lines else 0.0  # of the curves before
    a.set_ylim(0, max(1.08 * float(curve.power.max()), 1.0, highest))
    a.plot(span.on_axis(curve.time), curve.power, color=HEAT, **style)


def _reads_air(solved: SolvedCabinet) -> bool:
    c = solved.circuit
    return solved.cabinet.thermostat.sensor == AIR and c.sensed_air == c.air


def _ever_off(solved: SolvedCabinet) -> bool:
    """Whether the thermostat ever switches off, so that the curve of modules that are always on is another one."""
    run = solved.pull_down
    return not np.array_equal(run.switched.time, run.always_on.time)


def _fit_temperatures(a: "Axes", solved: SolvedCabinet, curves: Sequence[Curve], span: TimeSpan) -> None:
    """Make room for the setpoint and for all temperatures of the curves within the span."""
    c, half = solved.circuit, solved.cabinet.thermostat.hysteresis / 2
    seen = [solved.cabinet.setpoint - half, solved.cabinet.setpoint + half]
    for curve in curves:
        shown = (curve.time >= span.begin) & (curve.time <= span.end)
        for values in (curve.reading, curve.temperature @ c.air_at_load, curve.temperature @ c.load):
            seen += [float(values[shown].min()), float(values[shown].max())]
    margin = 0.06 * (max(seen) - min(seen))
    a.set_ylim(min(seen) - margin, max(seen) + margin)


def _mark_moment(a: "Axes", span: TimeSpan, seconds: float | None, what: str, colour: str, height: float) -> None:
    """A vertical line at a moment, with words at a `height` of the axes (0 to 1); nothing if it lies outside."""
    if seconds is None or not span.begin < seconds < span.end:
        return
    at = span.on_axis(seconds)
    a.axvline(at, color=colour, lw=0.8, dashes=(2, 2), zorder=1.5)
    left = seconds > span.begin + 0.6 * (span.end - span.begin)
    a.annotate(
        f"{what}\n{duration(seconds)}", (at, height), (-4 if left else 4, 0), xycoords=("data", "axes fraction"),
        textcoords="offset points", ha="right" if left else "left", va="top", fontsize=8.5, color=colour, bbox=PAPER,
    )  # fmt: skip


def _pull_down_words(solved: SolvedCabinet) -> str:
    run = solved.pull_down
    settles = "settles at" if run.settled else f"is at the end, after {duration(float(run.switched.time[-1]))}, at"
    sentences = (
        f"the load {settles} {run.load_settles:.1f} °C; on {100 * run.duty:.0f} % of the time, "
        f"{run.energy_a_day / KWH:.3g} kWh a day"
    )
    return sentences if run.period is None else f"{sentences}, a cycle every {duration(run.period)}"


def _pull_down_legend(figure: "Figure", solved: SolvedCabinet) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    c, air = solved.circuit, air_in_words(solved.circuit.air)
    entries: list[tuple[Any, str]] = [
        (Line2D([], [], color=LOAD_COLOUR, lw=2), "load"),
        (Line2D([], [], color=AIR_COLOUR, lw=1.6), f"{air}, read by the thermostat" if _reads_air(solved) else air),
    ]
    if c.sensed_air != c.air:
        entries.append((Line2D([], [], color=OTHER_AIR, lw=1.6), air_in_words(c.sensed_air)))
    if not _reads_air(solved):
        entries.append((Line2D([], [], color=SENSOR, lw=1.6), "thermostat reads"))
    entries += [
        (Line2D([], [], color=HEAT, lw=1.6), "power"),
        (Patch(facecolor=SENSOR, alpha=0.10), "between switching off and on"),
    ]
    if _ever_off(solved):
        entries.append((Line2D([], [], color=INK, lw=1.1, dashes=(4, 2.5)), "modules always on"))
    columns = len(entries) if c.sensed_air == c.air else 4
    figure.legend(
        *zip(*entries), loc="outside lower left", ncols=columns, columnspacing=1.4, handlelength=1.9, **LEGEND
    )


def _mark_point(a: "Axes", at: tuple[float, float], text: str, colour: str, offset: tuple[float, float]) -> None:
    """A ring with words at an `offset` in points, on the side of it where the axes have room."""
    a.plot(*at, "o", ms=7, mfc="white", mec=colour, mew=1.8, zorder=6)
    share = (at[0] - a.get_xlim()[0]) / np.ptp(a.get_xlim())
    side = "right" if share > 0.75 else "left" if share < 0.15 or offset[0] else "center"
    away = -offset[0] if side == "right" else offset[0]
    a.annotate(
        text, at, (away, offset[1]), textcoords="offset points", ha=side, va="center", fontsize=8.5,
        fontweight="bold", color=colour, bbox=PAPER, zorder=6,
    )  # fmt: skip
