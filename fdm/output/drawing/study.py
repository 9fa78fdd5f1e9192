"""Pictures of a study: an answer against one varied number, one line for each value of a second; or a map over two."""

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.answers.quantity import Quantity
from fdm.answers.units import shown_unit
from fdm.errors import InputError, visible
from fdm.output.drawing.charts import LINE_LETTERS, PAPER, heading, new_chart, plain_axes, save_chart, wrapped
from fdm.output.drawing.colours import FAINT, INK, SENSOR, colour_map, contour_levels
from fdm.studies.design import design_in_words
from fdm.studies.findings import WITHIN, allowance, best_of, equal_to, shared, smallest_of
from fdm.studies.names import COUNT
from fdm.studies.result import Study

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.axis import Axis
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

MOST_LINES = 8
UPRIGHT_LETTERS = 52  # along the vertical axis
NO_BEST = -1  # in place of a design's number: none is marked
ONE_LINE = 0.004  # of a picture's height: lines that are nearer throughout look like one
LONGEST_NAME = 150  # bytes of a picture's file name; file systems take 255
MAP_VALUES = 4  # of both names, from which on a map is clearer than lines
LINE_COLOURS, LAST_COLOUR = "viridis", 0.82  # of matplotlib: it stays apart for colour-blind eyes; its end is too pale
MAP_COLOURS = ["#2f6690", "#6aa3c4", "#b5d5df", "#f3ecd2", "#f2c078", "#de7c4a"]


def draw_study(
    study: Study,
    folder: str | Path,
    answers: Sequence[Quantity | str] | None = None,
    maximise: bool | None = None,
    best: int | None = None,
) -> list[str]:
    """Draw each answer against the one or two names that vary, and return the names of the files written.

    Without `answers` the study's main ones are drawn. Nothing is drawn where no name or more than two vary. `best` is
    the number of the design that is marked as the best, or NO_BEST; left out, it is each answer's own, as
    `fdm.studies.findings` says.
    """
    if len(study.varied) not in (1, 2):
        return []
    asked = [study.find(a) for a in answers] if answers else list(study.main)
    few = len(study.varied) == 1 or min(len(np.unique(study.inputs(n))) for n in study.varied) < MAP_VALUES
    draw, out = draw_lines if few else draw_map, list[str]()
    for quantity in asked:
        if np.isfinite(study.values(quantity)).any():
            out.append(_file_name(quantity, out))
            draw(study, quantity, Path(folder) / out[-1], maximise, best)
    return out


def _file_name(quantity: Quantity, taken: Sequence[str]) -> str:
    """The path of a quantity as the name of a picture, short enough for any file system, and not `taken` yet."""
    stem = re.sub(r"[^\w.-]+", "_", quantity.name).strip("_").encode()[:LONGEST_NAME].decode("utf-8", "ignore")
    numbered = (f"{stem}{f'_{k}' if k > 1 else ''}.png" for k in itertools.count(1))
    return next(name for name in numbered if name not in taken)


def draw_lines(
    study: Study, answer: Quantity | str, path: str | Path, maximise: bool | None = None, best: int | None = None
) -> None:
    """An answer against the varied number with the most values, its band as a shade; one line a value of the other. Of
    a number that is counted there are points, and no line between them.

    Raises InputError where not one or two names vary, where the second has more than 8 values, where no design has a
    value, and where the picture cannot be written.
    """
    shown = _shown_answer(study, answer, maximise, best)
    first, *second = sorted(study.varied, key=lambda n: -len(np.unique(study.inputs(n))))
    levels = np.unique(study.inputs(second[0])) if second else np.array([np.nan])
    if len(levels) > MOST_LINES:
        raise InputError(
            f"{second[0]}: {len(levels)} values are too many lines; give at most {MOST_LINES}, or draw a map"
        )
    figure = new_chart(5.4)
    a = figure.add_subplot()
    _titles(figure, shown)
    x, value, band = study.inputs(first), shown.value, shown.band
    colours, lines = line_colours(len(levels)), list[Any]()
    for k, level in enumerate(levels):
        here = np.nonzero(np.isfinite(value) & ((study.inputs(second[0]) == level) if second else True))[0]
        here = here[np.argsort(x[here], kind="stable")]
        colour = colours[k]
        counted = study.kinds.get(first) == COUNT
        style = "o" if counted else "-" if len(here) > 60 else "o-"
        look: dict[str, Any] = {"color": colour, "lw": 1.8, "ms": 6 if counted else 4}
        lines += a.plot(x[here], value[here], style, clip_on=not len(here), **look)  # an empty one would need room
        if counted:
            a.errorbar(x[here], value[here], np.nan_to_num(band[here]), fmt="none", ecolor=colour, capsize=4)
        else:
            a.fill_between(x[here], (value - band)[here], (value + band)[here], color=colour, alpha=0.2, lw=0)
    coinciding = _coinciding(study, second, levels, x, value)
    words = (wrapped(sentence, LINE_LETTERS - 20) for sentence in coinciding)
    a.set_xlabel("\n".join([_axis_label(study, first), *words]), fontsize=9, color=INK)
    a.set_ylabel(shown.label, fontsize=9, color=INK)
    if second:
        words_only: dict[str, Any] = {"frameon": False, "fontsize": 8.5, "labelcolor": INK}
        legend = a.legend(lines, ["-"] * len(lines), loc="center left", bbox_to_anchor=(1.0, 0.5), **words_only)
        for text, level in zip(legend.get_texts(), levels):  # a label that begins with _ would be left out
            text.set_text(f"{second[0]} = {level:.6g}")
        legend.set_in_layout(True)
    elif best is None and shown.best is not None:
        _mark_smallest(a, shown, first)
    plain_axes(a)
    _whole_ticks(study, [(a.xaxis, first)])
    missing = ~study.reaches_setpoint
    if missing.any():  # else an empty line would take room at the picture's corner
        a.plot(x[missing], value[missing], "o", ms=3, mfc="white", mec="white", zorder=4, clip_on=False)
    _mark_best(a, shown, x, value)
    _mark_failed(a, study, [first])
    save_chart(figure, path)


def line_colours(number: int) -> list[Any]:
    """A colour for each of so many lines, from dark to light."""
    from matplotlib import colormaps

    return [colormaps[LINE_COLOURS](at) for at in np.linspace(0.25 if number == 1 else 0.0, LAST_COLOUR, number)]


def draw_map(
    study: Study, answer: Quantity | str, path: str | Path, maximise: bool | None = None, best: int | None = None
) -> None:
    """An answer over the two names that vary: coloured levels with labelled lines, and every design as a dot.

    There are only coloured dots where designs are too few for levels, or lie on one line, and where a name is counted.

    Raises InputError where not two names vary, where no design has a value, and where the picture cannot be written.
    """
    shown = _shown_answer(study, answer, maximise, best)
    if len(study.varied) != 2:
        raise InputError(f"a map needs two names that vary, and {len(study.varied)} do; draw lines instead")
    x, y = (study.inputs(n) for n in study.varied)
    figure = new_chart(6.0)
    a = figure.add_subplot()
    _titles(figure, shown)
    smooth = not any(study.kinds.get(n) == COUNT for n in study.varied)
    surface = _draw_levels(a, x, y, shown.value, smooth)
    bar = figure.colorbar(surface, ax=a, fraction=0.05, pad=0.02)
    bar.set_label(shown.label, fontsize=9, color=INK)
    bar.ax.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
    bar.outline.set_edgecolor(FAINT)
    good = np.isfinite(shown.value)
    for on, colour in ((good & study.reaches_setpoint, INK), (good & ~study.reaches_setpoint, "white")):
        if on.any():  # else an empty line would take room at the picture's corner
            a.plot(x[on], y[on], "o", ms=3.2, mfc=colour, mec=INK, mew=0.6, zorder=4, clip_on=False)
    plain_axes(a)
    _mark_best(a, shown, x, y)
    a.set_xlabel(_axis_label(study, study.varied[0]), fontsize=9, color=INK)
    a.set_ylabel(_axis_label(study, study.varied[1]), fontsize=9, color=INK)
    _whole_ticks(study, list(zip((a.xaxis, a.yaxis), study.varied)))
    _mark_failed(a, study, study.varied)
    a.grid(False)
    save_chart(figure, path)


def _coinciding(study: Study, second: Sequence[str], levels: Array, x: Array, value: Array) -> list[str]:
    """A sentence for each set of lines, a level of the second name each, that cannot be told from each other."""
    if not second:
        return []
    seen, level_of = np.ptp(value[np.isfinite(value)]), study.inputs(second[0])
    lines = [dict(zip(x[on].tolist(), value[on].tolist())) for on in (level_of == level for level in levels)]

    def same(one: dict[float, float], other: dict[float, float]) -> bool:
        both = [abs(one[at] - other[at]) for at in one.keys() & other.keys()]
        return len(both) == len(one) == len(other) and bool(np.nanmax([0.0, *both]) <= ONE_LINE * seen)

    groups: list[list[int]] = []
    for k in range(len(levels)):
        group = next((g for g in groups if same(lines[g[0]], lines[k])), None)
        groups.append([k]) if group is None else group.append(k)
    named = [[f"{second[0]} = {levels[k]:.6g}" for k in g] for g in groups if len(g) > 1]
    return [f"The lines of {', '.join(g[:-1])} and {g[-1]} coincide." for g in named]


def _axis_label(study: Study, name: str) -> str:
    """A varied name with its unit, where it is known."""
    return _with_unit(name, study.kinds.get(name, ""))


def _whole_ticks(study: Study, axes: "Sequence[tuple[Axis, str]]") -> None:
    """Ticks at whole numbers on the axes of names that are counted."""
    from matplotlib.ticker import MaxNLocator

    for axis, name in axes:
        if study.kinds.get(name) == COUNT:
            axis.set_major_locator(MaxNLocator(integer=True, min_n_ticks=1))


def _draw_levels(a: "Axes", x: Array, y: Array, value: Array, smooth: bool) -> Any:
    """Coloured levels over designs (K,) on a grid or scattered, or dots where these are not `smooth`; returns what a
    colour bar explains."""
    levels, ends = contour_levels(value, most=9)
    filled = np.array(ends)
    if len(levels):
        step = levels[1] - levels[0] if len(levels) > 1 else ends[1] - ends[0]
        filled = np.concatenate([[levels[0] - step], levels, [levels[-1] + step]])
    colours = colour_map("map", MAP_COLOURS)
    good = np.isfinite(value)

    def dots() -> Any:
        return a.scatter(
            x[good], y[good], 90, value[good], cmap=colours, vmin=ends[0], vmax=ends[1], zorder=3, clip_on=False
        )

    if not smooth:
        return dots()
    thin: dict[str, Any] = {"colors": INK, "linewidths": 0.7, "negative_linestyles": "solid"}
    (columns, i), (rows, j) = (np.unique(v, return_inverse=True) for v in (x, y))
    if len(columns) * len(rows) == len(value):
        grid = np.full((len(rows), len(columns)), np.nan)
        grid[j, i] = value
        known = np.ma.masked_invalid(grid)
        surface: Any = a.contourf(columns, rows, known, filled, cmap=colours)
        lines: Any = a.contour(columns, rows, known, levels, **thin)
    else:
        try:
            surface = a.tricontourf(x[good], y[good], value[good], filled, cmap=colours)
            lines = a.tricontour(x[good], y[good], value[good], levels, **thin)
        except (RuntimeError, ValueError):  # no triangle can be drawn
            return dots()
    a.clabel(lines, fontsize=8.5, colors=INK, fmt=lambda level: f"{level:.4g}")
    return surface


@dataclass(frozen=True)
class _ShownAnswer:
    """An answer of a study, in the unit that it is shown in."""

    study: Study
    quantity: Quantity
    label: str  # what it is, with its unit
    value: Array  # (designs,)
    band: Array  # (designs,) NaN where it is not known
    best: int | None  # the number of the best design; None: there is none


def _shown_answer(study: Study, answer: Quantity | str, maximise: bool | None, best: int | None) -> _ShownAnswer:
    quantity = study.find(answer)
    if len(study.varied) not in (1, 2):
        raise InputError(f"a picture shows one or two names that vary, and {len(study.varied)} do; vary fewer")
    value, band = study.values(quantity), study.bands(quantity)
    if not np.isfinite(value).any():
        raise InputError(f"no design has a value of {quantity.name!r}; choose another answer to draw")
    symbol, size = shown_unit(quantity.unit, value)
    if best is None:
        best = best_of(study, quantity, maximise)
    band = np.where(np.isfinite(band), band / size, np.nan)
    label = wrapped(_with_unit(visible(quantity.words), symbol), UPRIGHT_LETTERS)
    return _ShownAnswer(study, quantity, label, value / size, band, None if best == NO_BEST else best)


def _titles(figure: "Figure", shown: _ShownAnswer) -> None:
    study = shown.study
    fixed = [n for n in study.names if n not in study.varied]
    also = f", with {design_in_words(study.designs[0].values, fixed)}" if fixed else ""
    failed = f", {len(study.failed)} failed" if study.failed else ""
    above = f", {(~study.reaches_setpoint).sum()} not at their setpoint (hollow)" * (not study.reaches_setpoint.all())
    file = f"{Path(study.path).name}, {len(study.designs)} designs{failed}{above}{also}"
    heading(figure, shown.quantity.name, file)


def _with_unit(answer: str, symbol: str) -> str:
    symbol = symbol.replace("degC", "°C").replace("m K", "m\xa0K")
    return f"{answer} ({symbol})" if symbol else answer


def _mark_best(a: "Axes", shown: _ShownAnswer, x: Array, y: Array) -> None:
    """A ring around the best of the designs, which are drawn at (x, y), and a word where the lines leave room."""
    a.margins(0.06, 0.1)
    if shown.best is None:
        return
    at = float(x[shown.best]), float(y[shown.best])
    shown_lines = [line for line in a.lines if len(line.get_path())]
    lines = [line.get_transform().transform_path(line.get_path().interpolated(50)).vertices for line in shown_lines]
    a.plot(*at, "o", ms=9, mfc="none", mec=SENSOR, mew=2.0, zorder=6, clip_on=False)
    inwards = np.where(np.array(at) > np.array([a.get_xlim(), a.get_ylim()]).mean(1), -1, 1)
    sides = [inwards * (i, j) for i, j in ((1, 1), (1, -1), (-1, 1), (-1, -1))]  # inwards where all are as good
    drawn = np.concatenate([np.zeros((0, 2)), *lines]) - a.transData.transform(at)  # pixels from the best design
    room = [float(np.hypot(*(drawn - (50, 25) * side).T).min(initial=40.0)) for side in sides]
    across, up = (int(side) for side in sides[int(np.argmax(room))])
    a.annotate(
        "best", at, (8 * across, 11 * up), textcoords="offset points", ha="left" if across > 0 else "right",
        va="center", fontsize=8.5, fontweight="bold", color=SENSOR, bbox=PAPER, zorder=6,
    )  # fmt: skip


def _mark_smallest(a: "Axes", shown: _ShownAnswer, name: str) -> None:
    """A line at the smallest value of a name whose design is as good as the best within 2 %."""
    study, quantity = shown.study, shown.quantity
    value, band = study.merit(quantity), study.bands(quantity)
    best = shown.best
    assert best is not None
    near = equal_to(value, np.where(np.isfinite(band), band, np.inf), best)
    near |= np.abs(value - value[best]) <= allowance(quantity, value[best : best + 1], WITHIN)
    near &= study.reaches_setpoint
    (k,) = smallest_of(study.inputs(name)[:, None], near)[:1]
    at = study.inputs(name)[k]
    a.axvline(at, color=FAINT, lw=1.0, dashes=(3, 2.5), zorder=1.5)
    right = at > np.mean([study.inputs(name).min(), study.inputs(name).max()])
    a.annotate(
        f"{name} = {at:.6g}: within {shared(quantity, WITHIN)} of the best", (at, 0.97), (-5 if right else 5, 0),
        xycoords=("data", "axes fraction"), textcoords="offset points", ha="right" if right else "left", va="top",
        fontsize=8.5, color=INK, bbox=PAPER,
    )  # fmt: skip


def _mark_failed(a: "Axes", study: Study, names: Sequence[str]) -> None:
    """A cross where a design failed: on the map, or at the foot of the lines."""
    at = np.array([[d.values[n] for n in names] for d in study.failed])
    if len(at):
        y = at[:, 1] if len(names) == 2 else np.full(len(at), 0.02)
        a.plot(
            at[:, 0], y, "x", color=FAINT, ms=6, mew=1.5, zorder=5, clip_on=False,
            transform=a.transData if len(names) == 2 else a.get_xaxis_transform(),
        )  # fmt: skip
