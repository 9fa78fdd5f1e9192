"""A cut through a plate in layers and its fins, where it is warmest, or coldest: temperature_cut.png."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.fields import LayeredField
from fdm.grid.raster import middles
from fdm.output.drawing.colours import FAINT, HEAT, INK, TEMPERATURE_COLOURS, colour_map, contour_levels
from fdm.output.drawing.figures import (
    DPI,
    PNG_OPTIONS,
    WIDTH,
    boxes_for_missing_letters,
    style_axes,
    take_literally,
    told,
)
from fdm.output.drawing.marks import fin_places
from fdm.section.files import written_beside
from fdm.section.model import UNITS, Fins, Section
from fdm.solving.solution import Solution

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

LEFT, RIGHT, BOTTOM, TOP = 0.8, 1.3, 0.6, 0.7  # inches around the axes
LOWEST, TALLEST = 1.6, 6.5  # inches of the axes
SCALES = (1, 2, 5, 10, 20, 50, 100)  # how many times as high as wide a plate may be drawn
ROOM = 0.12  # of the height, above and below
NAMED = 8  # sources, at most, that are named


@dataclass(frozen=True)
class Cut:
    """What is cut: C columns of L layers along `axis`, at the place `at` on the other one (m)."""

    axis: str
    at: float
    lines: Array  # (C + 1,) m
    height: Array  # (L + 1, C) m from the back of the plate
    part: NDArray[np.int64]  # (L, C) parts, then fins; -1 where nothing is
    temperature: Array  # (L, C) degC; NaN where not solid
    faces: tuple[Array, Array]  # (C,) degC on the back and on the front


@boxes_for_missing_letters()
def draw_cut(solution: Solution, path: str | Path) -> None:
    """The cut across the fins, or along the longer side of a plate without, through the warmest place in the plate; the
    coldest, where sources take more heat than they give.

    Raises InputError where the picture cannot be written.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    section, field = replace(solution.section, title=told(solution.section.title, solution.failed)), solution.field
    assert isinstance(field, LayeredField)
    cut, unit = _cut(section, field), UNITS[section.unit]
    wide, tall = np.ptp(cut.lines), np.ptp(cut.height)
    room = WIDTH - LEFT - RIGHT
    scale = next((s for s in SCALES if s * tall / wide * room * (1 + 2 * ROOM) >= LOWEST), SCALES[-1])
    across, up = room, min(max(scale * tall / wide * room * (1 + 2 * ROOM), LOWEST), TALLEST)
    if up == TALLEST:
        across = max(up / (1 + 2 * ROOM) / tall * wide / scale, 2.0)
    size = LEFT + across + RIGHT, BOTTOM + up + TOP
    figure = Figure(figsize=size, dpi=DPI)
    canvas: Any = FigureCanvasAgg(figure)  # its methods have no types
    axes = figure.add_axes((LEFT / size[0], BOTTOM / size[1], across / size[0], up / size[1]))
    u, z, temperature = _pixels(section, cut, round(across * DPI), round(up * DPI))
    levels, ends = contour_levels(temperature, most=10)
    colours = colour_map("temperature", TEMPERATURE_COLOURS)
    shown = np.ma.masked_invalid(temperature)
    axes.imshow(
        shown, colours, extent=(u[0] / unit, u[-1] / unit, z[0] / unit, z[-1] / unit), vmin=ends[0], vmax=ends[1],
        origin="lower", aspect="auto", interpolation="nearest",
    )  # fmt: skip
    at = middles(u) / unit, middles(z) / unit
    axes.contour(*at, shown, levels, colors=INK, linewidths=0.6, negative_linestyles="solid")
    _draw_sources(axes, section, cut, unit)
    _describe(axes, section, cut, scale)
    _add_colour_bar(figure, axes, colours, ends, levels)
    take_literally(figure)
    box = figure.get_tightbbox(canvas.get_renderer()).padded(0.12)
    with written_beside(path) as temporary:
        figure.savefig(temporary, format="png", bbox_inches=box, facecolor="white", pil_kwargs=PNG_OPTIONS)


def _cut(section: Section, field: LayeredField) -> Cut:
    wide, deep = np.ptp(field.x), np.ptp(field.y)
    axis = ("y" if section.fins[0].along == "x" else "x") if section.fins else ("x" if wide >= deep else "y")
    in_plate = (field.lines[:-1] >= 0) & (field.lines[1:] <= 1)
    sign = -1 if section.watts.sum() < 0 else 1
    warmth = sign * np.where(
        np.isnan(field.layer_temperature[in_plate]), -sign * np.inf, field.layer_temperature[in_plate]
    )
    _, i, j = np.unravel_index(int(warmth.argmax()), warmth.shape)
    here: Any = np.s_[..., j] if axis == "x" else np.s_[..., i, :]
    at = middles(field.y)[j] if axis == "x" else middles(field.x)[i]
    return Cut(
        axis,
        float(at),
        field.x if axis == "x" else field.y,
        field.height[here],
        field.layer_part[here],
        field.layer_temperature[here],
        (field.back.temperature[here], field.temperature[here]),
    )


def _pixels(section: Section, cut: Cut, columns: int, rows: int) -> tuple[Array, Array, Array]:
    """Edges of pixels along the cut and upwards, m, and degC in them (rows, columns); NaN where no metal is."""
    u = np.linspace(cut.lines[0], cut.lines[-1], columns + 1)
    low, high = float(cut.height.min()), float(cut.height.max())
    z = np.linspace(low - ROOM * (high - low), high + ROOM * (high - low), rows + 1)
    to, up = middles(u), middles(z)
    cell = np.clip(np.searchsorted(cut.lines, to) - 1, 0, len(cut.lines) - 2)
    out, parts = np.full((rows, columns), np.nan), len(section.parts)
    at_plate = [cut.faces[0], *cut.temperature, cut.faces[1]]
    in_plate = np.array([_between(cut.lines, row, to, cell) for row in at_plate])  # (L + 2, columns)
    fins = [_middles_of(f, section, cut, to) for f in section.fins]
    in_fins = [np.array([_between(cut.lines, row, at, cell) for row in cut.temperature]) for at in fins]
    for k, c in enumerate(cell.tolist()):
        height, part = cut.height[:, c], cut.part[:, c]
        solid = np.flatnonzero(np.isfinite(cut.temperature[:, c]))
        for run in np.split(solid, np.flatnonzero(np.diff(np.where(part < parts, -1, part)[solid])) + 1):
            if not len(run):
                continue
            start, end, places = height[run[0]], height[run[-1] + 1], middles(height[run[0] : run[-1] + 2])
            if part[run[0]] < parts:
                places, values = np.r_[start, places, end], in_plate[[0, *(run + 1), -1], k]
            else:
                values = in_fins[part[run[0]] - parts][run, k]
            on = (up >= start) & (up <= end)
            out[on, k] = np.interp(up[on], places, values)
    return u, z, out


def _between(lines: Array, row: Array, to: Array, cell: NDArray[np.intp]) -> Array:
    """(columns,) degC at places `to` (m) between the middles of cells that have some; NaN where the pixel's own `cell`
    has none, and where the place is NaN."""
    known = np.isfinite(row)
    if not known.any():
        return np.full(len(to), np.nan)
    return np.where(known[cell], np.interp(to, middles(lines)[known], row[known]), np.nan)


def _middles_of(fins: Fins, section: Section, cut: Cut, to: Array) -> Array:
    """(columns,) m, the middle of the fin that the cut goes through at places `to` (m), as its temperature is one
    across it; the place itself where the cut goes along fins; NaN between fins."""
    if fins.along == cut.axis:
        return to
    starts = fin_places(fins, section)
    k = np.maximum(np.searchsorted(starts, to) - 1, 0)
    return np.where((to > starts[k]) & (to < starts[k] + fins.thickness), starts[k] + fins.thickness / 2, np.nan)


def _draw_sources(axes: "Axes", section: Section, cut: Cut, unit: float) -> None:
    """Lines on the faces where heat enters, with names."""
    for source in section.heat_sources:
        if source.face is None or len(section.heat_sources) > NAMED:
            continue
        x0, x1, y0, y1 = source.rectangle.bounds if source.rectangle else section.extent
        along, across = ((x0, x1), (y0, y1)) if cut.axis == "x" else ((y0, y1), (x0, x1))
        if not across[0] <= cut.at <= across[1]:
            continue
        part = section.part_named[str(source.part)]
        z = 0.0 if source.face == "back" else part.thickness or 0.0
        axes.plot(np.array(along) / unit, (z / unit, z / unit), color=HEAT, lw=3.2, solid_capstyle="butt", zorder=5)
        below = source.face == "back"
        axes.annotate(
            f"{source.name}, {source.heat:g} W", (sum(along) / 2 / unit, z / unit), (0, -5 if below else 5),
            textcoords="offset points", ha="center", va="top" if below else "bottom", fontsize=8.5, color=HEAT,
        )  # fmt: skip


def _describe(axes: "Axes", section: Section, cut: Cut, scale: float) -> None:
    other = "y" if cut.axis == "x" else "x"
    place = f"cut at {other} = {cut.at / UNITS[section.unit]:.4g} {section.unit}"
    axes.set_title(f"{section.title}: {place}", loc="left", fontsize=11, fontweight="bold", color=INK, wrap=True, y=1)
    axes.set_xlabel(f"{cut.axis} ({section.unit})", fontsize=9, color=INK)
    higher = f", {scale:g} times as high" if scale > 1 else ""
    axes.set_ylabel(f"from the back ({section.unit}{higher})", fontsize=9, color=INK)
    style_axes(axes)


def _add_colour_bar(figure: "Figure", axes: "Axes", colours: Any, ends: tuple[float, float], levels: Array) -> None:
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize
    from matplotlib.ticker import ScalarFormatter

    size, box = figure.get_size_inches(), axes.get_position()
    place = (box.x1 + 0.2 / size[0], box.y0, 0.18 / size[0], box.height)
    scale, cax = ScalarMappable(Normalize(*ends), colours), figure.add_axes(place)
    bar = figure.colorbar(scale, cax=cax, ticks=levels, format=ScalarFormatter(useOffset=False))
    bar.set_label("temperature (°C)", fontsize=9, color=INK)
    bar.ax.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
    bar.outline.set_visible(False)
