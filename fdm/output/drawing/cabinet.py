"""Pictures of a cabinet: where its heat comes from, how fast it gets cold, and what another supply would do."""

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fdm.answers.units import KWH, SUPPLY_UNITS, duration, time_unit
from fdm.cabinet.circuit import LOAD
from fdm.cabinet.model import AIR
from fdm.cabinet.pulldown import Curve
from fdm.cabinet.solution import SolvedCabinet
from fdm.output.drawing.charts import PAPER, heading, new_chart, plain_axes, save_chart
from fdm.output.drawing.colours import FAINT, HEAT, INK, JOINT, SENSOR, TEMPERATURE_COLOURS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BLUE, GREEN = TEMPERATURE_COLOURS[0], "#5b8c5a"
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
LONGER = 1.15  # the time axis, over the time that the switched cabinet takes to settle: for what is always on
LAST_CYCLES = 3  # drawn large, where there are more than twice as many


def draw_heat_budget(solved: SolvedCabinet, path: str | Path) -> None:
    """Horizontal bars: the heat that the modules pump by where it comes from, the largest first."""
    lines, point = solved.budget, solved.point
    figure = new_chart(1.5 + 0.42 * len(lines))
    a = figure.add_subplot()
    heading(
        figure,
        solved.cabinet.title,
        f"heat that the modules pump: {point.pumped:.3g} W, with the air at {point.temperature[AIR]:.1f} °C "
        f"in a room of {solved.cabinet.room:g} °C",
    )
    watts = np.array([b.watts for b in lines])
    at = np.arange(len(lines))
    a.barh(at, watts, 0.68, color=[KIND_COLOURS.get(b.kind, FAINT) for b in lines], zorder=2)
    a.errorbar(
        watts, at, xerr=[b.band or np.nan for b in lines], fmt="none", ecolor=INK, elinewidth=1.0, capsize=2.5, zorder=3
    )
    reach = max(abs(watts).max(), 1e-9)
    for k, b in enumerate(lines):
        a.annotate(
            f"{b.watts:.3g} W" + (f", {100 * b.share:.1f} %" if point.pumped > 0 else ""),
            (max(b.watts + b.band, 0.0), k), (6, 0), textcoords="offset points", va="center", fontsize=9, color=INK,
            fontweight="bold" if k == 0 else "normal",
        )  # fmt: skip
    a.set_yticks(at, ["\n".join(textwrap.wrap(b.name, 34)) for b in lines])
    a.set_ylim(len(lines) - 0.4, -0.6)
    a.set_xlim(min(0.0, 1.15 * watts.min()), 1.24 * reach)
    a.set_xlabel("heat (W)", fontsize=9, color=INK)
    plain_axes(a)
    a.grid(axis="y", visible=False)
    a.tick_params(axis="y", length=0)
    a.axvline(0, color=INK, lw=0.8, zorder=3)
    kinds = {KIND_WORDS[k]: KIND_COLOURS[k] for k in KIND_WORDS if any(_kind(b.kind) == k for b in lines)}
    if len(kinds) > 1:
        from matplotlib.patches import Patch

        a.legend([Patch(color=c) for c in kinds.values()], list(kinds), loc="lower right", **_LEGEND)
    save_chart(figure, path)


def draw_pull_down(solved: SolvedCabinet, path: str | Path) -> None:
    """Temperatures and power over time: switched by the thermostat, and dashed with the modules always on; beside
    them the last cycles, where there are many."""
    run, cabinet = solved.pull_down, solved.cabinet
    switched, always = run.switched, run.always_on
    cycles = run.period is not None and switched.time[-1] > 2 * LAST_CYCLES * run.period
    last = float(switched.time[-1])
    end = max(last, min(LONGER * last, float(always.time[-1])), 1.0)
    figure = new_chart(6.2)
    grid = figure.add_gridspec(2, 2 if cycles else 1, height_ratios=(2.4, 1), width_ratios=(2.3, 1) if cycles else None)
    top, bottom = _stacked(figure, grid, 0)
    heading(figure, cabinet.title, _pull_down_said(solved))
    unit = time_unit(end)
    for a, column in ((top, "temperature"), (bottom, "power")):
        _curves(solved, a, column, switched, unit[1], 0.0, many=cycles)
        _curves(solved, a, column, always, unit[1], 0.0, dashed=True)
        a.set_xlim(0, end / unit[1])
    bottom.set_xlabel(f"time ({unit[0]})", fontsize=9, color=INK)
    top.set_ylabel("temperature (°C)", fontsize=9, color=INK)
    bottom.set_ylabel("power (W)", fontsize=9, color=INK)
    _fit(top, switched, always, solved, 0.0, end)
    for height, seconds, what, colour in (
        (0.97, run.time_to_setpoint, "thermostat at the setpoint", SENSOR),
        (0.83, run.load_time, "load within 1 K", _LOAD),
    ):
        if seconds is not None and 0 < seconds < end:
            top.axvline(seconds / unit[1], color=colour, lw=0.8, dashes=(2, 2), zorder=1.5)
            side = -1 if seconds > 0.6 * end else 1
            top.annotate(
                f"{what}\n{duration(seconds)}", (seconds / unit[1], height), (4 * side, 0),
                xycoords=("data", "axes fraction"), textcoords="offset points", ha="left" if side > 0 else "right",
                va="top", fontsize=8.5, color=colour, bbox=PAPER,
            )  # fmt: skip
    if cycles:
        assert run.period is not None
        begin = last - LAST_CYCLES * run.period
        near = time_unit(LAST_CYCLES * run.period)
        right, below = _stacked(figure, grid, 1)
        for a, column in ((right, "temperature"), (below, "power")):
            _curves(solved, a, column, switched, near[1], begin)
            a.set_xlim(0, (last - begin) / near[1])
        _fit(right, switched, None, solved, begin, last)
        right.set_title("the last cycles", loc="left", fontsize=9, color=INK, y=1)
        below.set_xlabel(f"time ({near[0]})", fontsize=9, color=INK)
        below.set_ylim(bottom.get_ylim())
    _pull_down_legend(figure, solved)
    save_chart(figure, path)


def draw_supply(solved: SolvedCabinet, path: str | Path) -> None:
    """Where the cabinet settles against the supply, and below the power and the COP with it held at the setpoint."""
    from scipy.interpolate import PchipInterpolator

    chart, cabinet = solved.chart, solved.cabinet
    supply, unit = cabinet.bank.supply, SUPPLY_UNITS[chart.quantity]
    own = getattr(supply, chart.quantity)
    figure = new_chart(6.4)
    grid = figure.add_gridspec(2, 1, height_ratios=(1.3, 1))
    top, bottom = _stacked(figure, grid, 0)
    heading(figure, cabinet.title, f"what another {chart.quantity} would do, in a room of {cabinet.room:g} °C")

    top.plot(chart.supply, chart.air, color=BLUE, lw=2)
    top.axhline(cabinet.setpoint, color=INK, lw=0.8, dashes=(5, 3))
    top.annotate(
        f"setpoint {cabinet.setpoint:g} °C", (0, cabinet.setpoint), (6, 3), xycoords=("axes fraction", "data"),
        textcoords="offset points", ha="left", va="bottom", fontsize=8.5, color=INK, bbox=PAPER,
    )  # fmt: skip
    low, high = min(chart.air.min(), cabinet.setpoint), max(chart.air.max(), cabinet.setpoint)
    # what warms the cabinet far beyond the room is cut off
    high = max(min(high, cabinet.room + 0.25 * (cabinet.room - low)), cabinet.setpoint)
    room = max(high - low, 1.0)
    top.set_ylim(low - 0.32 * room, high + 0.1 * room)
    top.set_ylabel("cabinet air settles at (°C)", fontsize=9, color=INK)
    _mark(top, chart.lowest, BLUE, (0, -16), f"lowest: {chart.lowest[1]:.1f} °C at {chart.lowest[0]:.3g} {unit}")
    top.axvline(own, color=FAINT, lw=1.0, dashes=(2, 2), zorder=1.5)
    top.annotate(
        f"as built, {own:g} {unit}", (own, 0.03), (4, 0), xycoords=("data", "axes fraction"),
        textcoords="offset points", va="bottom", fontsize=8.5, color=FAINT, bbox=PAPER,
    )  # fmt: skip

    at = np.linspace(chart.supply[0], chart.supply[-1], 401)
    pumped, power, spare = (
        PchipInterpolator(chart.supply, y)(at)
        for y in (chart.setpoint_pumped, chart.setpoint_power, chart.setpoint_spare)
    )
    cop = np.divide(pumped, power, out=np.full(len(at), np.nan), where=power > 0)
    right = bottom.twinx()
    for a, values, colour in ((bottom, power, HEAT), (right, cop, GREEN)):
        a.plot(at, values, color=colour, lw=1.2, dashes=(3, 2), alpha=0.55)
        a.plot(at, np.where(spare >= 0, values, np.nan), color=colour, lw=2)
        a.tick_params(axis="y", labelcolor=colour)
    bottom.axvline(own, color=FAINT, lw=1.0, dashes=(2, 2), zorder=1.5)
    best = chart.best
    shown = best[1] if best else float(np.nanmax(np.clip(cop, 0, 1), initial=0.0))
    right.set_ylim(0, 1.35 * shown if shown > 0 else 1.0)
    bottom.set_ylim(0, 1.08 * max(float(power.max()), 1e-9))
    bottom.set_ylabel("power (W)", fontsize=9, color=HEAT)
    right.set_ylabel("COP", fontsize=9, color=GREEN)
    bottom.set_xlabel(f"{chart.quantity} of the supply ({unit})", fontsize=9, color=INK)
    bottom.set_xlim(0, float(chart.supply[-1]))
    bottom.set_title(
        f"with the cabinet held at {cabinet.setpoint:g} °C"
        + ("; dashed where this supply cannot hold it" if chart.needed else ", which would take a heater"),
        loc="left", fontsize=9, color=INK, y=1,
    )  # fmt: skip
    if best:
        _mark(right, best, GREEN, (9, 5), f"best COP: {best[1]:.3g} at {best[0]:.3g} {unit}")
    right.spines[:].set_visible(False)
    right.tick_params(labelsize=8.5, color=FAINT)
    save_chart(figure, path)


_AIR, _LOAD = TEMPERATURE_COLOURS[1], GREEN
_LEGEND: dict[str, Any] = {"frameon": False, "fontsize": 8.5, "labelcolor": INK}


def _kind(kind: str) -> str:
    return "line" if kind == "point" else kind


def _stacked(figure: "Figure", grid: Any, column: int) -> tuple["Axes", "Axes"]:
    top = figure.add_subplot(grid[0, column])
    bottom = figure.add_subplot(grid[1, column], sharex=top)
    top.tick_params(labelbottom=False)
    for a in (top, bottom):
        plain_axes(a)
    return top, bottom


def _curves(
    solved: SolvedCabinet,
    a: "Axes",
    column: str,
    curve: Curve,
    per: float,
    begin: float,
    dashed: bool = False,
    many: bool = False,
) -> None:
    """Temperatures or power of a curve from `begin` on, time in units of `per` seconds."""
    time = (curve.time - begin) / per
    style: dict[str, Any] = {"lw": 1.1, "dashes": (4, 2.5), "alpha": 0.75} if dashed else {"lw": 0.8 if many else 1.6}
    if column == "power":
        highest = 1.08 * float(curve.power.max())
        a.set_ylim(0, max(highest, 1.0, a.get_ylim()[1] if a.lines else 0.0))
        a.plot(time, curve.power, color=HEAT, **style)
        return
    cabinet = solved.cabinet
    half = cabinet.thermostat.hysteresis / 2
    if not dashed:
        a.axhspan(cabinet.setpoint - half, cabinet.setpoint + half, color=SENSOR, alpha=0.10, lw=0, zorder=0.5)
    number = solved.circuit.number
    a.plot(time, curve.temperature[:, number(AIR)], color=_AIR, **style)
    a.plot(time, curve.temperature[:, number(LOAD)], color=_LOAD, **style | ({} if dashed else {"lw": 2.0}))
    if not (dashed or _reads_air(solved)):
        a.plot(time, curve.reading, color=SENSOR, **style | {"lw": style["lw"] * 0.9})


def _reads_air(solved: SolvedCabinet) -> bool:
    return solved.cabinet.thermostat.sensor == AIR


def _fit(a: "Axes", switched: Curve, always: Curve | None, solved: SolvedCabinet, begin: float, end: float) -> None:
    """Room for what is drawn between two moments."""
    half = solved.cabinet.thermostat.hysteresis / 2
    seen = [solved.cabinet.setpoint - half, solved.cabinet.setpoint + half]
    for curve in (switched, always):
        if curve is not None:
            shown = (curve.time >= begin) & (curve.time <= end)
            for values in (curve.reading, *(curve.temperature[:, solved.circuit.number(n)] for n in (AIR, LOAD))):
                seen += [float(values[shown].min()), float(values[shown].max())]
    room = 0.06 * (max(seen) - min(seen))
    a.set_ylim(min(seen) - room, max(seen) + room)


def _pull_down_said(solved: SolvedCabinet) -> str:
    run = solved.pull_down
    settles = "settles at" if run.settled else f"is at the end, after {duration(float(run.switched.time[-1]))}, at"
    said = (
        f"the load {settles} {run.load_settles:.1f} °C; on {100 * run.duty:.0f} % of the time, "
        f"{run.energy_a_day / KWH:.3g} kWh a day"
    )
    return said if run.period is None else f"{said}, a cycle every {duration(run.period)}"


def _pull_down_legend(figure: "Figure", solved: SolvedCabinet) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    entries: list[tuple[Any, str]] = [
        (Line2D([], [], color=_LOAD, lw=2), "load"),
        (Line2D([], [], color=_AIR, lw=1.6), "air, read by the thermostat" if _reads_air(solved) else "air"),
    ]
    if not _reads_air(solved):
        entries.append((Line2D([], [], color=SENSOR, lw=1.6), "thermostat reads"))
    entries += [
        (Line2D([], [], color=HEAT, lw=1.6), "power"),
        (Patch(facecolor=SENSOR, alpha=0.10), "between switching off and on"),
        (Line2D([], [], color=INK, lw=1.1, dashes=(4, 2.5)), "modules always on"),
    ]
    figure.legend(
        *zip(*entries), loc="outside lower left", ncols=len(entries), columnspacing=1.4, handlelength=1.9, **_LEGEND
    )


def _mark(a: "Axes", at: tuple[float, float], colour: str, beside: tuple[float, float], text: str) -> None:
    a.plot(*at, "o", ms=7, mfc="white", mec=colour, mew=1.8, zorder=6)
    share = (at[0] - a.get_xlim()[0]) / np.ptp(a.get_xlim())
    side = "right" if share > 0.75 else "left" if share < 0.15 or beside[0] else "center"
    away = -beside[0] if side == "right" else beside[0]
    a.annotate(
        text, at, (away, beside[1]), textcoords="offset points", ha=side, va="center", fontsize=8.5,
        fontweight="bold", color=colour, bbox=PAPER, zorder=6,
    )  # fmt: skip
