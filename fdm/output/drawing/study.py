"""Pictures of a study: an answer against one varied number, one line for each value of a second; or a map over two."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.answers.units import shown_unit
from fdm.errors import InputError
from fdm.output.drawing.charts import PAPER, heading, new_chart, plain_axes, save_chart
from fdm.output.drawing.colours import FAINT, INK, SENSOR, TEMPERATURE_COLOURS, colour_map, contour_levels
from fdm.studies.findings import WITHIN, allowance, best_of, equal_to, shared, smallest_of
from fdm.studies.paths import found, merit, unit
from fdm.studies.run import Study, said

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

MOST_LINES = 8
MAP_VALUES = 4  # of both names, from which on a map is clearer than lines
LINE_COLOURS = [TEMPERATURE_COLOURS[0], "#5b8c5a", "#d07a1f", TEMPERATURE_COLOURS[-1]]
MAP_COLOURS = ["#2f6690", "#6aa3c4", "#b5d5df", "#f3ecd2", "#f2c078", "#de7c4a"]


def draw_study(
    study: Study,
    folder: str | Path,
    answers: Sequence[str] | None = None,
    maximise: bool = False,
    best: int | None = None,
) -> list[str]:
    """A picture of each answer (those a builder looks at first, if left out) against the one or two names that vary;
    the names of the files written. None where nothing or more than two vary. `best` is the number of the best design,
    where it is not the lowest (highest) of each answer."""
    if len(study.varied) not in (1, 2):
        return []
    paths = [found(a, study.known) for a in answers] if answers else list(study.main)
    few = len(study.varied) == 1 or min(len(np.unique(study.inputs(n))) for n in study.varied) < MAP_VALUES
    draw, out = draw_lines if few else draw_map, []
    for path in paths:
        if np.isfinite(study.values(path)).any():
            out.append(re.sub(r"[^\w.-]+", "_", path).strip("_") + ".png")
            draw(study, path, Path(folder) / out[-1], maximise, best)
    return out


def draw_lines(study: Study, answer: str, path: str | Path, maximise: bool = False, best: int | None = None) -> None:
    """An answer against the varied number with the most values, its band as a shade; one line a value of the other.

    Raises InputError where not one or two names vary, where the second has more than 8 values, where no design has a
    value, and where the picture cannot be written.
    """
    answer, symbol, size, value = _asked(study, answer)
    first, *second = sorted(study.varied, key=lambda n: -len(np.unique(study.inputs(n))))
    lines = np.unique(study.inputs(second[0])) if second else np.array([np.nan])
    if len(lines) > MOST_LINES:
        raise InputError(
            f"{second[0]}: {len(lines)} values are too many lines; give at most {MOST_LINES}, or draw a map"
        )
    figure = new_chart(5.4)
    a = figure.add_subplot()
    _titles(figure, study, answer)
    x, band = study.inputs(first), np.where(np.isfinite(study.bands(answer)), study.bands(answer) / size, np.nan)
    colours = colour_map("lines", LINE_COLOURS)
    for k, level in enumerate(lines):
        here = np.nonzero(np.isfinite(value) & ((study.inputs(second[0]) == level) if second else True))[0]
        here = here[np.argsort(x[here], kind="stable")]
        colour = colours(k / max(len(lines) - 1, 1))
        dots = "o" if len(here) <= 60 else ""
        label = f"{second[0]} = {level:.6g}" if second else None
        a.plot(x[here], value[here], dots + "-", color=colour, lw=1.8, ms=4, label=label)
        a.fill_between(x[here], (value - band)[here], (value + band)[here], color=colour, alpha=0.2, lw=0)
    a.set_xlabel(first, fontsize=9, color=INK)
    a.set_ylabel(_with_unit(answer, symbol), fontsize=9, color=INK)
    if second:
        shown = a.legend(frameon=False, fontsize=8.5, labelcolor=INK, loc="center left", bbox_to_anchor=(1.0, 0.5))
        shown.set_in_layout(True)
    elif best is None:
        _mark_smallest(a, study, answer, first, maximise)
    _mark_best(a, study, answer, (x, value), maximise, best)
    _failed(a, study, [first])
    save_chart(figure, path)


def draw_map(study: Study, answer: str, path: str | Path, maximise: bool = False, best: int | None = None) -> None:
    """An answer over the two names that vary: coloured levels with labelled lines, and every design as a dot; coloured
    dots alone where these are too few, or lie on one line.

    Raises InputError where not two names vary, where no design has a value, and where the picture cannot be written.
    """
    answer, symbol, _, value = _asked(study, answer)
    if len(study.varied) != 2:
        raise InputError(f"a map needs two names that vary, and {len(study.varied)} do; draw lines instead")
    x, y = (study.inputs(n) for n in study.varied)
    figure = new_chart(6.0)
    a = figure.add_subplot()
    _titles(figure, study, answer)
    levels, ends = contour_levels(value, most=9)
    step = levels[1] - levels[0] if len(levels) > 1 else ends[1] - ends[0]
    filled = np.array(ends)
    if len(levels):
        filled = np.concatenate([[levels[0] - step], levels, [levels[-1] + step]])
    colours = colour_map("map", MAP_COLOURS)
    inks: dict[str, Any] = {"colors": INK, "linewidths": 0.7, "negative_linestyles": "solid"}
    (columns, i), (rows, j) = (np.unique(v, return_inverse=True) for v in (x, y))
    if len(columns) * len(rows) == len(value):
        grid = np.full((len(rows), len(columns)), np.nan)
        grid[j, i] = value
        shown = np.ma.masked_invalid(grid)
        surface: Any = a.contourf(columns, rows, shown, filled, cmap=colours)
        drawn: Any = a.contour(columns, rows, shown, levels, **inks)
    else:
        good = np.isfinite(value)
        try:
            surface = a.tricontourf(x[good], y[good], value[good], filled, cmap=colours)
            drawn = a.tricontour(x[good], y[good], value[good], levels, **inks)
        except (RuntimeError, ValueError):
            surface = a.scatter(x[good], y[good], 90, value[good], cmap=colours, vmin=ends[0], vmax=ends[1], zorder=3)
            drawn = None
    if drawn is not None:
        a.clabel(drawn, fontsize=8.5, colors=INK, fmt=lambda level: f"{level:.4g}")
    bar = figure.colorbar(surface, ax=a, fraction=0.05, pad=0.02)
    bar.set_label(_with_unit(answer, symbol), fontsize=9, color=INK)
    bar.ax.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
    bar.outline.set_edgecolor(FAINT)
    a.plot(
        x[np.isfinite(value)],
        y[np.isfinite(value)],
        "o",
        ms=3.2,
        mfc="white",
        mec=INK,
        mew=0.6,
        zorder=4,
        clip_on=False,
    )
    _mark_best(a, study, answer, (x, y), maximise, best)
    a.set_xlabel(study.varied[0], fontsize=9, color=INK)
    a.set_ylabel(study.varied[1], fontsize=9, color=INK)
    _failed(a, study, study.varied)
    a.grid(False)
    save_chart(figure, path)


def _asked(study: Study, answer: str) -> tuple[str, str, float, Array]:
    """Its path, the unit to show it in and its size, and (designs,) the values in that unit."""
    answer = found(answer, study.known)
    if len(study.varied) not in (1, 2):
        raise InputError(f"a picture shows one or two names that vary, and {len(study.varied)} do; vary fewer")
    value = study.values(answer)
    if not np.isfinite(value).any():
        raise InputError(f"no design has a value of {answer!r}; choose another answer to draw")
    symbol, size = shown_unit(unit(answer), value)
    return answer, symbol, size, value / size


def _titles(figure: "Figure", study: Study, answer: str) -> None:
    fixed = [n for n in study.names if n not in study.varied]
    also = f", with {said(study.designs[0].values, fixed)}" if fixed else ""
    failed = f", {len(study.failed)} failed" if study.failed else ""
    heading(figure, answer, f"{Path(study.path).name}, {len(study.designs)} designs{failed}{also}")


def _with_unit(answer: str, symbol: str) -> str:
    symbol = symbol.replace("degC", "°C").replace("m K", "m\xa0K")
    return f"{answer} ({symbol})" if symbol else answer


def _mark_best(a: "Axes", study: Study, answer: str, at: tuple[Array, Array], maximise: bool, best: int | None) -> None:
    plain_axes(a)
    k = best_of(merit(answer, study.values(answer)), maximise) if best is None else best
    x, y = float(at[0][k]), float(at[1][k])
    a.margins(0.06)
    a.plot(x, y, "o", ms=9, mfc="none", mec=SENSOR, mew=2.0, zorder=6, clip_on=False)
    (left, right), (bottom, top) = a.get_xlim(), a.get_ylim()
    beside, above = (-1 if x > (left + right) / 2 else 1), (-1 if y > (bottom + top) / 2 else 1)
    a.annotate(
        "best", (x, y), (8 * beside, 11 * above), textcoords="offset points", ha="left" if beside > 0 else "right",
        va="center", fontsize=8.5, fontweight="bold", color=SENSOR, bbox=PAPER, zorder=6,
    )  # fmt: skip


def _mark_smallest(a: "Axes", study: Study, answer: str, name: str, maximise: bool) -> None:
    """The smallest number that is as good as the best within 2 %."""
    value, band = merit(answer, study.values(answer)), study.bands(answer)
    best = best_of(value, maximise)
    near = equal_to(value, np.where(np.isfinite(band), band, np.inf), best)
    near |= np.abs(value - value[best]) <= allowance(answer, value[best : best + 1], WITHIN)
    (k,) = smallest_of(study.inputs(name)[:, None], near)[:1]
    at = study.inputs(name)[k]
    a.axvline(at, color=FAINT, lw=1.0, dashes=(3, 2.5), zorder=1.5)
    right = at > np.mean([study.inputs(name).min(), study.inputs(name).max()])
    a.annotate(
        f"{name} = {at:.6g}: within {shared(answer, WITHIN)} of the best", (at, 0.97), (-5 if right else 5, 0),
        xycoords=("data", "axes fraction"), textcoords="offset points", ha="right" if right else "left", va="top",
        fontsize=8.5, color=INK, bbox=PAPER,
    )  # fmt: skip


def _failed(a: "Axes", study: Study, names: Sequence[str]) -> None:
    """A cross where a design failed: on the map, or at the foot of the lines."""
    at = np.array([[d.values[n] for n in names] for d in study.failed])
    if len(at):
        y = at[:, 1] if len(names) == 2 else np.full(len(at), 0.02)
        a.plot(
            at[:, 0], y, "x", color=FAINT, ms=6, mew=1.5, zorder=5, clip_on=False,
            transform=a.transData if len(names) == 2 else a.get_xaxis_transform(),
        )  # fmt: skip
