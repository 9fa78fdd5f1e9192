"""Pictures of a section, to scale: what was drawn, and its temperatures.

Both are painted pixel by pixel from the drawing itself, so that no edge is smeared and a disc is round whatever the
grid; outlines, lines and words go on top. No global state of matplotlib is touched.
"""

import math
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.grid.raster import middles, paint
from fdm.network.answers import Field
from fdm.network.solution import Solution
from fdm.output.files import written_beside
from fdm.output.points import point_temperatures
from fdm.section.model import Disc, Environment, Part, Section, Sensor, Shape, Source
from fdm.section.rules import SIDES, UNITS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap

Array = NDArray[np.float64]
Integers = NDArray[np.int64]
Mask = NDArray[np.bool_]

DPI = 160
WIDTH = 10.0  # inch
HIGHEST = 6.5, 12.0  # inch of the drawing; the second for a slim, tall one
FLOW_SPACING = 0.16  # inch between heat-flow lines
LEGEND_LETTERS, LEGEND_LINES = 42, 7  # of an entry
STRIP = 0.24  # inch, of an environment beyond the border
COARSE = 3  # pixels per step when a place for a word is looked for
TOO_FAR = 60  # such steps
INK, FAINT = "#2b2f36", "#8a9099"
HEAT, HELD, JOINT, SENSOR = "#c0392b", "#6c4a9e", "#d07a1f", "#0b3d5c"
CONDUCTIVITY_COLOURS = ["#fbf3da", "#efe3bd", "#d9dcc4", "#bccdd0", "#9fb3c1", "#8598ab"]
CONDUCTIVITY_RANGE = 0.02, 400.0  # W/(m K), ends of the colours
TEMPERATURE_COLOURS = ["#2f6690", "#6aa3c4", "#b5d5df", "#f3ecd2", "#f2c078", "#de7c4a", "#b23a3a"]
ENVIRONMENT_COLOURS = ["#dfecf8", "#e9e6f4", "#fae6dd"]  # coldest to warmest


def draw_parts(section: Section, path: str | Path) -> None:
    """parts.png: the parts as drawn, coloured by conductivity, with environments, joints, sources and sensors."""
    sheet = _Sheet(section, legend=True)
    sheet.image(_part_colours(section)[sheet.owner])
    sheet.outlines()
    sheet.joints()
    sheet.marks()
    _name_sources(sheet, watts=True)
    for sensor in section.sensors:
        sheet.words.beside(sensor.name, sheet.sensor_at[sensor.name], SENSOR)
    _name_environments(sheet, temperatures=True)
    seen = np.bincount(sheet.owner[sheet.owner >= 0], minlength=len(section.parts))
    small_first = np.argsort(seen[: len(section.parts)], kind="stable")
    solids = [k for k in small_first if section.parts[k].environment is None]
    outside = [k for k in solids if not sheet.words.inside(section.parts[k].name, sheet.owner == k)]
    for k in outside:
        if (at := _deepest(sheet.owner == k)) is not None:
            sheet.words.beside(section.parts[k].name, sheet.place(at), INK, part=True)
    _legend(sheet)
    sheet.save(path)


def draw_temperature(solution: Solution, path: str | Path, temperature_field: Field | None = None) -> None:
    """temperature.png: temperatures, isotherms, heat-flow lines and sensors, at the section's own temperatures and watts;
    of `temperature_field` instead, if it is given (a field on the same drawing at another operating point)."""
    section, own = solution.section, temperature_field is None
    field = solution.field if temperature_field is None else temperature_field
    sheet = _Sheet(section, legend=False)
    temperature = _temperatures(sheet, field)
    levels, ends = _levels(temperature, most=int(np.clip(sheet.slimness / 14, 6, 12)))
    colours = _colour_map("temperature", TEMPERATURE_COLOURS)
    solid = np.isfinite(temperature)
    rgb = _part_colours(section)[sheet.owner]
    rgb[solid] = colours(np.clip((temperature[solid] - ends[0]) / (ends[1] - ends[0]), 0, 1))[:, :3]
    sheet.image(rgb)
    sheet.outlines()
    _flow_lines(sheet, field)
    sheet.marks()
    _name_sources(sheet, watts=own)
    readings = {n: r.reading for n, r in solution.sensors.items()} if own else _readings(section, field)
    for sensor in section.sensors:
        sheet.words.beside(f"{sensor.name}\n{readings[sensor.name]:.2f} °C", sheet.sensor_at[sensor.name], SENSOR)
    _name_environments(sheet, temperatures=own)
    _isotherms(sheet, temperature, levels)
    sheet.colour_bar(colours, ends, levels)
    sheet.save(path)


# ---------------------------------------------------------------------------------------------------------------------
# the sheet: axes to scale, and its pixels


class _Sheet:
    """A figure whose axes show the drawing to scale, with room around it, and the same in pixels.

    `owner` (pixels along x, along y) is an index into section.parts, len(parts) + 0..3 for the environment beyond the
    left, right, bottom and top border, or -1.
    """

    def __init__(self, section: Section, legend: bool) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.section, self.unit = section, UNITS[section.unit]
        x0, x1, y0, y1 = (v / self.unit for v in section.extent)
        if section.view == "axisymmetric" and 0 < x0 < 0.5 * (x1 - x0):
            x0 = 0.0  # near enough to show the axis
        wide, high = x1 - x0, y1 - y0
        beside = (
            high > (0.85 if legend else 0.55) * wide
        )  # room for legend or colour bar beside the drawing; else below
        taken = (3.3 if legend else 1.2) if beside else 0.3
        margin_x, margin_y = 0.36, 0.36
        room = WIDTH - 0.8 - taken
        highest = HIGHEST[1] if high > 4 * wide else HIGHEST[0]
        scale = min((room - 2 * margin_x) / wide, (highest - 2 * margin_y) / high)
        if wide * scale < 2.5:
            margin_x = min(1.7, (room - wide * scale) / 2)  # words find no room in so slim a drawing
        if high * scale < 2.0:
            margin_x, margin_y = max(margin_x, 0.6), 0.6
            scale = min((room - 2 * margin_x) / wide, (highest - 2 * margin_y) / high)
        self.beside = beside
        axes_size = wide * scale + 2 * margin_x, high * scale + 2 * margin_y
        size = 0.8 + axes_size[0] + taken, 0.6 + axes_size[1] + 0.7
        self.figure = Figure(figsize=size, dpi=DPI)
        self.canvas = FigureCanvasAgg(self.figure)
        self.axes: Axes = self.figure.add_axes(
            (0.8 / size[0], 0.6 / size[1], axes_size[0] / size[0], axes_size[1] / size[1])
        )
        a = self.axes
        a.set_xlim(x0 - margin_x / scale, x1 + margin_x / scale)
        a.set_ylim(y0 - margin_y / scale, y1 + margin_y / scale)
        a.set_autoscale_on(False)
        a.set_title(section.title, loc="left", fontsize=11, fontweight="bold", color=INK, wrap=True)
        a.set_xlabel(f"{'radius' if section.view == 'axisymmetric' else 'x'} ({section.unit})", fontsize=9, color=INK)
        a.set_ylabel(f"{'height' if section.view == 'axisymmetric' else 'y'} ({section.unit})", fontsize=9, color=INK)
        a.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
        a.locator_params(axis="x", nbins=max(2, min(9, int(axes_size[0] / 0.7))))
        a.locator_params(axis="y", nbins=max(2, min(9, int(axes_size[1] / 0.5))))
        for spine in a.spines.values():
            spine.set_color("#d5d9de")
        self.pixels = tuple(round(s * DPI) for s in axes_size)
        self.slimness = min(wide, high) * scale * DPI  # pixels across the drawing
        self.x = np.linspace(*a.get_xlim(), self.pixels[0] + 1)
        self.y = np.linspace(*a.get_ylim(), self.pixels[1] + 1)
        self.owner: Integers = paint(section, self.x * self.unit, self.y * self.unit).owner[1:-1, 1:-1].astype(np.int64)
        self._border_strips(STRIP / scale)
        self.words = _Words(self)
        self.edges = _edges(section)
        self.sensor_at = {s.name: self._sensor_place(s) for s in section.sensors}
        if section.view == "axisymmetric" and a.get_xlim()[0] < 0:
            a.axvline(0, color=INK, lw=1.0, dashes=(8, 3, 1.5, 3), zorder=6)

    def _border_strips(self, thick: float) -> None:
        x0, x1, y0, y1 = (v / self.unit for v in self.section.extent)
        bands = ((x0 - thick, x0, y0, y1), (x1, x1 + thick, y0, y1), (x0, x1, y0 - thick, y0), (x0, x1, y1, y1 + thick))
        for k, (side, band) in enumerate(zip(SIDES, bands)):
            if getattr(self.section.border, side) is not None:
                i, j = np.searchsorted(middles(self.x), band[:2]), np.searchsorted(middles(self.y), band[2:])
                self.owner[i[0] : i[1], j[0] : j[1]] = len(self.section.parts) + k

    def _sensor_place(self, sensor: Sensor) -> tuple[float, float]:
        if sensor.at is not None:
            return sensor.at[0] / self.unit, sensor.at[1] / self.unit
        number = [p.name for p in self.section.parts].index(str(sensor.part))
        at = _deepest(self.owner == number)
        return self.place(at) if at is not None else _middle(self.section.parts[number].shapes[0], self.unit)

    def place(self, pixel: tuple[int, int]) -> tuple[float, float]:
        """Middle of a pixel, in the file's unit."""
        return float(self.x[pixel[0] : pixel[0] + 2].mean()), float(self.y[pixel[1] : pixel[1] + 2].mean())

    def environment_of(self, number: int) -> str | None:
        """The environment that a value of `owner` stands for."""
        parts = self.section.parts
        if number >= len(parts):
            return getattr(self.section.border, SIDES[number - len(parts)])
        return parts[number].environment if number >= 0 else None

    def image(self, rgb: Array) -> None:
        """(pixels along x, along y, 3); voids hatched."""
        voids = np.isin(self.owner, [k for k, p in enumerate(self.section.parts) if p.void])
        i, j = np.nonzero(voids)
        line = (i + j) % 14 < 2
        rgb[i[line], j[line]] = 0.68
        self.axes.imshow(
            (255 * np.swapaxes(rgb, 0, 1)).astype(np.uint8),
            origin="lower",
            extent=(*self.axes.get_xlim(), *self.axes.get_ylim()),
            aspect="auto",
            interpolation="nearest",
            zorder=1,
        )

    def outlines(self) -> None:
        from matplotlib.collections import LineCollection

        axis = self.section.view == "axisymmetric"
        lines = [
            e.line / self.unit
            for e in self.edges
            if not (axis and np.all(abs(e.line[:, 0]) < 1e-9 * self.section.extent[1]))
        ]
        self.axes.add_collection(LineCollection(lines, colors=INK, linewidths=0.8, capstyle="round", zorder=3))

    def joints(self) -> None:
        from matplotlib.collections import LineCollection

        pairs = {frozenset(j.between) for j in self.section.joints}
        lines = [e.line / self.unit for e in self.edges if frozenset(e.between) in pairs]
        self.axes.add_collection(LineCollection(lines, colors=JOINT, linewidths=2.6, capstyle="butt", zorder=4))

    def marks(self) -> None:
        """Sources as thick lines with arrows the way heat goes, sensors as rings."""
        for source in self.section.sources:
            colour = HEAT if source.heat is not None else HELD
            for line in self._source_lines(source):
                face = source.segment is not None
                self.axes.plot(
                    *line.T,
                    color=colour,
                    lw=3.2 if face else 1.8,
                    solid_capstyle="butt" if face else "projecting",
                    zorder=5,
                )
                self.words.take_line(line, 4)
            if source.segment is not None:
                self._arrows(source, colour)
        for x, y in self.sensor_at.values():
            self.axes.plot(x, y, "o", ms=7, mfc="white", mec=SENSOR, mew=1.6, zorder=8)
            self.axes.plot(x, y, ".", ms=3, color=SENSOR, zorder=9)
            self.words.take(x, y, 20, 20)

    def _source_lines(self, source: Source) -> list[Array]:
        if source.segment is not None:
            return [np.column_stack([source.segment.x, source.segment.y]) / self.unit]
        return [e.line / self.unit for e in self.edges if source.part in e.between]

    def _arrows(self, source: Source, colour: str) -> None:
        s = source.segment
        assert s is not None
        along = np.array([s.x, s.y])
        normal = np.array([1.0, 0.0]) if s.vertical else np.array([0.0, 1.0])
        reach = 1e-6 * max(
            self.section.extent[1] - self.section.extent[0], self.section.extent[3] - self.section.extent[2]
        )
        middle = along.mean(1)
        solid = [self._is_solid(middle + side * reach * normal) for side in (-1, 1)]
        if solid[0] == solid[1]:
            return  # heat goes both ways, or nowhere
        inward = normal * (1 if solid[1] else -1)
        inch = (self.x[-1] - self.x[0]) / (self.pixels[0] / DPI)
        length = np.ptp(along, 1).max() / self.unit / inch  # inch
        before = middle - np.outer(np.linspace(0.02, 0.5, 25) * inch * self.unit, inward)
        top = _top(self.section, *before.T)
        solids = [k for k, p in enumerate(self.section.parts) if p.material is not None]
        free = min(
            0.2, 0.4 * (0.02 * (1 + int(np.argmax(np.isin(top, solids)))) if np.isin(top, solids).any() else 1.0)
        )
        for f in (np.arange(n := max(1, min(7, int(length / 0.3)))) + 0.5) / n:
            on = (along[:, 0] + f * (along[:, 1] - along[:, 0])) / self.unit
            off = on - inward * free * inch
            tail, head = (off, on) if source.heat is None or source.heat >= 0 else (on, off)
            self.axes.annotate(
                "", head, tail, zorder=5,
                arrowprops={"arrowstyle": "-|>,head_width=0.22,head_length=0.4", "color": colour, "lw": 1.1, "shrinkA": 0, "shrinkB": 0},
            )  # fmt: skip
            self.words.take_line(np.array([on, off]), 4)

    def _is_solid(self, at: Array) -> bool:
        top = int(_top(self.section, at[None, 0], at[None, 1])[0])
        return top >= 0 and self.section.parts[top].material is not None

    def colour_bar(self, colours: "Colormap", ends: tuple[float, float], levels: Array) -> None:
        from matplotlib.cm import ScalarMappable
        from matplotlib.colors import Normalize

        size, box = self.figure.get_size_inches(), self.axes.get_position()
        if self.beside:
            high = min(box.height, 5.0 / size[1])
            place = (box.x1 + 0.2 / size[0], box.y0 + (box.height - high) / 2, 0.18 / size[0], high)
        else:
            place = (box.x0 + box.width * 0.15, box.y0 - 0.85 / size[1], box.width * 0.7, 0.16 / size[1])
        bar = self.figure.colorbar(
            ScalarMappable(Normalize(*ends), colours),
            cax=self.figure.add_axes(place),
            orientation="vertical" if self.beside else "horizontal",
            ticks=levels,
        )
        bar.set_label("temperature (°C)", fontsize=9, color=INK)
        bar.ax.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
        bar.outline.set_visible(False)

    def save(self, path: str | Path) -> None:
        with written_beside(path) as temporary:
            box = self.figure.get_tightbbox(self.canvas.get_renderer()).padded(
                0.12
            )  # "tight" would draw everything twice
            self.figure.savefig(temporary, format="png", bbox_inches=box, facecolor="white")


# ---------------------------------------------------------------------------------------------------------------------
# where words go


class _Words:
    """Finds places for words on a sheet where they cover neither each other nor a mark."""

    def __init__(self, sheet: _Sheet) -> None:
        self.sheet, self.axes = sheet, sheet.axes
        owner = sheet.owner[::COARSE, ::COARSE]
        self.taken = np.zeros(owner.shape, bool)
        self.crossed = np.zeros(owner.shape, bool)  # an edge passes
        self.crossed[1:] |= owner[1:] != owner[:-1]
        self.crossed[:, 1:] |= owner[:, 1:] != owner[:, :-1]

    def inside(self, text: str, region: Mask, colour: str = INK, style: str = "normal") -> bool:
        """Write within the region, level or upright, if it fits."""
        free = region[::COARSE, ::COARSE] & ~self.taken
        if not free.any():
            return False
        from scipy.ndimage import distance_transform_cdt

        centre = [float(np.mean(k)) for k in np.nonzero(free)]
        depth = np.minimum(distance_transform_cdt(np.pad(free, 1))[1:-1, 1:-1], 40)
        for lines in dict.fromkeys((text, _in_two(text))):
            for size in (9, 7.5):
                written = self.axes.text(
                    0, 0, lines, fontsize=size, color=colour, fontstyle=style, ha="center", va="center", zorder=10
                )
                wide, high = self._measure(written)
                for turn in (0, 90):
                    w, h = (wide, high) if turn == 0 else (high, wide)
                    fits = _box_sums(free, w + 2, h + 1) == (w + 2) * (h + 1)
                    if fits.any():
                        low_i, low_j = np.nonzero(fits)
                        i, j = low_i + (w + 2) / 2, low_j + (h + 1) / 2
                        lone = depth[
                            i.astype(int), j.astype(int)
                        ]  # away from the region's edge first, then to its middle
                        best = np.argmin(np.hypot(i - centre[0], j - centre[1]) - 3.0 * lone)
                        self._put(written, i[best], j[best], w, h, turn)
                        return True
                written.remove()
        return False

    def beside(self, text: str, at: Array | tuple[float, float], colour: str, part: bool = False) -> None:
        """Write as near to a point, or to an axis-aligned line (2, 2), as there is room; led to it where that is not near.

        The name of a `part` is always led to it, and left out where there is no room near: the legend has it.
        """
        from matplotlib.patheffects import withStroke

        ends = np.reshape(at, (-1, 2))
        (i0, j0), (i1, j1) = self._cell(*ends.min(0)), self._cell(*ends.max(0))
        tries = []
        for lines in dict.fromkeys((text, _in_two(text)) if part else (text,)):
            written = self.axes.text(
                0, 0, lines, fontsize=8.5, color=colour, ha="center", va="center", zorder=10, linespacing=1.05
            )
            written.set_path_effects([withStroke(linewidth=2.4, foreground="white", alpha=0.85)])
            w, h = self._measure(written)
            taken = _box_sums(self.taken, w, h)
            if taken.size:
                i, j = np.arange(taken.shape[0])[:, None] + w / 2, np.arange(taken.shape[1])[None] + h / 2
                away_i, away_j = (
                    np.maximum(np.maximum(low - k - half, k - half - high), 0)
                    for k, half, low, high in ((i, w / 2, i0, i1), (j, h / 2, j0, j1))
                )
                away = np.hypot(away_i, away_j)
                cost = (
                    away
                    + 0.12 * _box_sums(self.crossed, w, h)
                    + 1e3 * taken
                    + np.where(away < 3, 50, 0)
                    + 3 * ("\n" in lines)
                )
                cost = cost + 0.03 * np.hypot(i - (i0 + i1) / 2, j - (j0 + j1) / 2)
                cost += 100 * self._led_across(i, j, w, h, (i0, i1), (j0, j1), 1.5 if part else 5)
                k = np.unravel_index(np.argmin(cost), cost.shape)
                tries.append((float(cost[k]), float(away[k]), k[0] + w / 2, k[1] + h / 2, w, h, written))
            else:
                written.remove()
        if not tries:
            return
        cost_best, away_best, ci, cj, w, h, chosen = min(tries, key=lambda t: t[0])
        for t in tries:
            if t[-1] is not chosen or (part and cost_best > TOO_FAR):
                t[-1].remove()
        if part and cost_best > TOO_FAR:
            return
        self._put(chosen, ci, cj, w, h)
        if part or away_best > 8:
            start = np.clip(ci, i0, i1), np.clip(cj, j0, j1)
            end = np.clip(start[0], ci - w / 2, ci + w / 2), np.clip(start[1], cj - h / 2, cj + h / 2)
            line = np.array([self._place(*start), self._place(*end)])
            self.axes.plot(*line.T, color=colour, lw=0.7, zorder=7)
            if part:
                self.axes.plot(*line[0], ".", ms=3.5, color=colour, zorder=7)
            self.take_line(line, 2)

    def _led_across(
        self, i: Array, j: Array, w: int, h: int, over_i: tuple[float, float], over_j: tuple[float, float], own: float
    ) -> Mask:
        """Whether a line from the anchor, but for its `own` mark, to words at (i, j) would cross other words, or a mark."""
        start = np.clip(i, *over_i), np.clip(j, *over_j)
        end = np.clip(start[0], i - w / 2, i + w / 2), np.clip(start[1], j - h / 2, j + h / 2)
        length = np.hypot(end[0] - start[0], end[1] - start[1])
        out = np.zeros(length.shape, bool)
        for f in np.linspace(0.1, 1, 12):
            at = [np.broadcast_to((a + f * (b - a)).astype(int), out.shape) for a, b in zip(start, end)]
            out |= self.taken[
                np.clip(at[0], 0, self.taken.shape[0] - 1), np.clip(at[1], 0, self.taken.shape[1] - 1)
            ] & (f * length > own)
        return out

    def along(self, text: str, line: Array, colour: str) -> bool:
        """Write on a line (pixels (K, 2)), turned with it, where it is straightest and free."""
        from matplotlib.patheffects import withStroke

        written = self.axes.text(0, 0, text, fontsize=7.5, color=colour, ha="center", va="center", zorder=5)
        w, h = self._measure(written)
        at = line / COARSE
        gone = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(at, axis=0).T))])
        if gone[-1] > 2.2 * w:
            tries = np.linspace(w, gone[-1] - w, 25)
            tries = tries[np.argsort(abs(tries - gone[-1] / 2), kind="stable")]
            for s in tries:
                (x0, x1, xm), (y0, y1, ym) = (np.interp([s - w / 2, s + w / 2, s], gone, at[:, k]) for k in (0, 1))
                chord = math.hypot(x1 - x0, y1 - y0)
                if chord < 0.95 * w:
                    continue
                cos, sin = abs(x1 - x0) / chord, abs(y1 - y0) / chord
                bw, bh = math.ceil(w * cos + h * sin), math.ceil(w * sin + h * cos)
                if self._free(xm, ym, bw, bh):
                    turn = math.degrees(math.atan2(y1 - y0, x1 - x0))
                    turn = (turn + 90) % 180 - 90
                    written.set_path_effects([withStroke(linewidth=2.2, foreground="white", alpha=0.75)])
                    self._put(written, xm, ym, bw, bh, turn)
                    return True
        written.remove()
        return False

    def take(self, x: float, y: float, wide: float, high: float) -> None:
        """Keep words off a box of so many pixels around a place."""
        i, j = self._cell(x, y)
        self._take(i, j, wide / COARSE, high / COARSE)

    def take_line(self, line: Array, thick: float) -> None:
        for (x0, y0), (x1, y1) in zip(line[:-1], line[1:]):
            (i0, j0), (i1, j1) = self._cell(x0, y0), self._cell(x1, y1)
            for f in np.linspace(0, 1, int(math.hypot(i1 - i0, j1 - j0)) + 2):
                self._take(i0 + f * (i1 - i0), j0 + f * (j1 - j0), thick / COARSE, thick / COARSE)

    def _take(self, i: float, j: float, w: float, h: float) -> None:
        self.taken[
            max(0, math.floor(i - w / 2)) : max(0, math.ceil(i + w / 2)),
            max(0, math.floor(j - h / 2)) : max(0, math.ceil(j + h / 2)),
        ] = True

    def _free(self, i: float, j: float, w: int, h: int) -> bool:
        a, b = math.floor(i - w / 2), math.floor(j - h / 2)
        n, m = self.taken.shape
        return a >= 0 and b >= 0 and a + w < n and b + h < m and not self.taken[a : a + w + 1, b : b + h + 1].any()

    def _measure(self, written: Any) -> tuple[int, int]:
        box = written.get_window_extent(self.sheet.canvas.get_renderer())
        return math.ceil(box.width / COARSE) + 2, math.ceil(box.height / COARSE) + 1

    def _put(self, written: Any, i: float, j: float, w: float, h: float, turn: float = 0) -> None:
        written.set_position(self._place(i, j))
        written.set_rotation(turn)
        self._take(i, j, w + 1, h + 1)

    def _cell(self, x: float, y: float) -> tuple[float, float]:
        gx, gy = self.sheet.x, self.sheet.y
        return (x - gx[0]) / (gx[1] - gx[0]) / COARSE, (y - gy[0]) / (gy[1] - gy[0]) / COARSE

    def _place(self, i: float, j: float) -> tuple[float, float]:
        gx, gy = self.sheet.x, self.sheet.y
        return gx[0] + i * COARSE * (gx[1] - gx[0]), gy[0] + j * COARSE * (gy[1] - gy[0])


def _box_sums(of: Mask, w: int, h: int) -> Integers:
    """Sums over every box of w x h cells that lies within, by its low corner."""
    total = np.pad(np.cumsum(np.cumsum(of, 0, dtype=np.int64), 1), ((1, 0), (1, 0)))
    if w >= total.shape[0] or h >= total.shape[1]:
        return np.zeros((0, 0), np.int64)
    return total[w:, h:] - total[:-w, h:] - total[w:, :-h] + total[:-w, :-h]


def _in_two(text: str) -> str:
    """The text on two lines, broken where they come out most alike.

    >>> _in_two("module body")
    'module\\nbody'
    """
    words = text.split()
    if len(words) < 2:
        return text
    cuts = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))]
    return "\n".join(min(cuts, key=lambda pair: max(map(len, pair))))


def _deepest(region: Mask) -> tuple[int, int] | None:
    """The pixel of a region that lies furthest from its edge."""
    from scipy.ndimage import distance_transform_edt

    i, j = np.nonzero(region)
    if not len(i):
        return None
    box = region[i.min() : i.max() + 1, j.min() : j.max() + 1]
    step = max(1, int(max(box.shape) / 400))
    if min(box.shape) < 8 * step:
        step = 1
    depth = distance_transform_edt(np.pad(box[::step, ::step], 1))[1:-1, 1:-1]
    best = np.argwhere(depth >= depth.max() - 1e-9)
    k = best[np.argmin(((best - best.mean(0)) ** 2).sum(1))] * step  # of equals, the one in the middle
    return int(k[0] + i.min()), int(k[1] + j.min())


def _middle(shape: Shape, unit: float) -> tuple[float, float]:
    x, y = shape.outline().mean(0) / unit
    return float(x), float(y)


def _name_environments(sheet: _Sheet, temperatures: bool) -> None:
    """In the largest region of each environment, painted or beyond a border; all of them, so that none is in doubt."""
    of = {e.name: e for e in sheet.section.environments}
    for number in np.unique(sheet.owner[sheet.owner >= 0]):
        if (name := sheet.environment_of(int(number))) is not None:
            for text in ([f"{name}, {of[name].temperature:g} °C"] if temperatures else []) + [name]:
                if sheet.words.inside(text, sheet.owner == number, "#45607a", "italic"):
                    break


def _name_sources(sheet: _Sheet, watts: bool) -> None:
    for s in sheet.section.sources:
        if s.segment is not None:
            at: Any = np.column_stack([s.segment.x, s.segment.y]) / sheet.unit
        else:
            number = [p.name for p in sheet.section.parts].index(str(s.part))
            deepest = _deepest(sheet.owner == number)
            if deepest is None:
                continue
            at = sheet.place(deepest)
        given = f"{s.heat:g} W" if s.heat is not None else f"{s.temperature:g} °C"
        sheet.words.beside(f"{s.name}, {given}" if watts else s.name, at, HEAT if s.heat is not None else HELD)


# ---------------------------------------------------------------------------------------------------------------------
# colours and legend


def _colour_map(name: str, colours: Sequence[str]) -> "Colormap":
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list(name, list(colours))


def _conductivity(section: Section) -> dict[str, float]:
    """Material -> the mean of its conductivities, in rising order."""
    k = {
        p.material.name: math.sqrt(math.prod(p.material.conductivity)) for p in section.parts if p.material is not None
    }
    return dict(sorted(k.items(), key=lambda item: (item[1], item[0])))


def _material_colours(section: Section) -> dict[str, Array]:
    """By the logarithm of conductivity, moved apart where two materials would look the same."""
    k = _conductivity(section)
    low, high = np.log(CONDUCTIVITY_RANGE)
    at = np.clip((np.log(list(k.values())) - low) / (high - low), 0, 1)
    least = min(0.1, 1 / max(len(at) - 1, 1))
    for i in range(1, len(at)):
        at[i] = max(at[i], at[i - 1] + least)
    for i in range(len(at) - 1, -1, -1):
        at[i] = min(at[i], 1 - least * (len(at) - 1 - i))
    colours = _colour_map("conductivity", CONDUCTIVITY_COLOURS)
    return {name: np.array(colours(float(a))[:3]) for name, a in zip(k, at)}


def _environment_colours(environments: Sequence[Environment]) -> dict[str, Array]:
    """Cold ones blue, warm ones rose."""
    colours = _colour_map("environment", ENVIRONMENT_COLOURS)
    order = sorted(environments, key=lambda e: e.temperature)
    return {e.name: np.array(colours(k / max(len(order) - 1, 1))[:3]) for k, e in enumerate(order)}


def _part_colours(section: Section) -> Array:
    """(parts + 4 borders + 1, 3): what a pixel's owner looks like; the last, nothing, is white."""
    materials, environments = _material_colours(section), _environment_colours(section.environments)
    out = np.ones((len(section.parts) + 5, 3))
    for k, p in enumerate(section.parts):
        if p.material is not None:
            out[k] = materials[p.material.name]
        elif p.environment is not None:
            out[k] = environments[p.environment]
    for k, side in enumerate(SIDES):
        if (name := getattr(section.border, side)) is not None:
            out[len(section.parts) + k] = environments[name]
    return out


def _legend(sheet: _Sheet) -> None:
    """What the colours and lines mean: materials with their parts, environments, voids, joints, sources, sensors."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    section = sheet.section
    materials, environments = _material_colours(section), _environment_colours(section.environments)
    entries: list[tuple[Any, str]] = []

    def patch(colour: Any, **more: Any) -> Patch:
        return Patch(facecolor=colour, edgecolor=INK, linewidth=0.8, **more)

    def named(head: str, *rest: str) -> str:
        """What it is, then what belongs to it; a long list is cut short."""
        body = [line for text in rest for line in textwrap.wrap(text, LEGEND_LETTERS)]
        return "\n".join(
            [*textwrap.wrap(head, LEGEND_LETTERS), *body[:LEGEND_LINES], *(["..."] if len(body) > LEGEND_LINES else [])]
        )

    for name in reversed(_conductivity(section)):
        parts = [p for p in section.parts if p.material is not None and p.material.name == name]
        assert parts[0].material is not None
        kx, ky = parts[0].material.conductivity
        k = f"{kx:.4g}" if kx == ky else f"x {kx:.4g}, y {ky:.4g}"
        unit = "W/(m\xa0K)"
        names = ", ".join(
            p.name if p.thickness is None else f"{p.name} ({p.thickness / sheet.unit:g}\xa0{section.unit})"
            for p in parts
        )
        entries.append((patch(materials[name]), named(f"{name}: {k}\xa0{unit}", names, *_faces(parts))))
    for e in section.environments:
        film = "held" if math.isinf(e.film) else f"film {e.film:g}\xa0W/(m²\xa0K)"
        entries.append((patch(environments[e.name]), named(f"{e.name}: {e.temperature:g}\xa0°C, {film}")))
    if voids := [p.name for p in section.parts if p.void]:
        entries.append((patch("white", hatch="//////"), named("void, not modelled", ", ".join(voids))))
    if section.joints:
        joints = [f"{j.resistance:.3g}\xa0m²\xa0K/W: {' | '.join(j.between)}" for j in section.joints]
        entries.append((Line2D([], [], color=JOINT, lw=2.6), named("joint", *joints)))
    if section.heat_sources:
        entries.append((Line2D([], [], color=HEAT, lw=3.2), "heat"))
    if section.held_sources:
        entries.append((Line2D([], [], color=HELD, lw=3.2), "held temperature"))
    if section.sensors:
        entries.append((Line2D([], [], ls="", marker="o", ms=7, mfc="white", mec=SENSOR, mew=1.6), "sensor"))
    if section.view == "axisymmetric" and sheet.axes.get_xlim()[0] < 0:
        entries.append((Line2D([], [], color=INK, lw=1.0, dashes=(6, 2, 1.5, 2)), "axis"))
    place: dict[str, Any] = (
        {"loc": "upper left", "bbox_to_anchor": (1.02, 1.0)}
        if sheet.beside
        else {
            "loc": "upper left",
            "bbox_to_anchor": (0.0, -0.5 / (sheet.pixels[1] / DPI)),
            "ncols": min(3, len(entries)),
        }
    )
    shown = sheet.axes.legend(
        *zip(*entries),
        frameon=False,
        fontsize=8.5,
        labelcolor=INK,
        borderaxespad=0.0,
        labelspacing=0.8,
        handleheight=1.3,
        alignment="left",
        **place,
    )
    for text in shown.get_texts():
        text.set_linespacing(1.15)


def _faces(parts: Sequence[Part]) -> list[str]:
    """What the fronts and the backs of plates look upon."""
    by_pair: dict[tuple[str | None, str | None], list[str]] = {}
    for p in parts:
        by_pair.setdefault((p.front, p.back), []).append(p.name)
    out = []
    for pair, names in by_pair.items():
        sides = ", ".join(f"{side} {name}" for side, name in zip(("front", "back"), pair) if name is not None)
        if sides:
            out.append(sides if len(by_pair) == 1 else f"{', '.join(names)}: {sides}")
    return out


# ---------------------------------------------------------------------------------------------------------------------
# the drawing's edges


@dataclass(frozen=True)
class _Edge:
    """A run of an outline along which the same two parts (or None: nothing) meet; points (K, 2) in metres."""

    line: Array
    between: tuple[str | None, str | None]


def _edges(section: Section) -> list[_Edge]:
    """What can be seen of the outlines: nothing that a later part covers, and no seam within a part."""
    x0, x1, y0, y1 = section.extent
    size = max(x1 - x0, y1 - y0)
    corners = [s.outline() for p in section.parts for s in p.shapes if not isinstance(s, Disc)]
    cuts = [np.unique(np.concatenate(corners)[:, k]) if corners else np.empty(0) for k in (0, 1)]
    shapes = [s for p in section.parts for s in p.shapes]
    paths = [_fine_path(s, cuts, size / 300) for s in shapes]
    middle = np.concatenate([_middles_on(s, p) for s, p in zip(shapes, paths)])
    along = np.concatenate([np.diff(p, axis=0) for p in paths])
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.maximum(np.hypot(*along.T), 1e-300)[:, None]
    sides = [_top(section, *(middle + d * 1e-6 * size * normal).T) for d in (1, -1)]
    pairs = np.sort(np.column_stack(sides), 1)
    names = [p.name for p in section.parts]
    out, first = [], 0
    for path in paths:
        here = pairs[first : first + len(path) - 1]
        first += len(path) - 1
        starts = np.concatenate([[0], np.nonzero((here[1:] != here[:-1]).any(1))[0] + 1, [len(here)]])
        for a, b in zip(starts[:-1], starts[1:]):
            i, j = here[a]
            if i != j:
                out.append(_Edge(path[a : b + 1], (names[i] if i >= 0 else None, names[j] if j >= 0 else None)))
    return out


def _fine_path(shape: Shape, cuts: Sequence[Array], step: float) -> Array:
    """A closed outline, with points at least every `step` and wherever another outline's corner may meet it."""
    if isinstance(shape, Disc):
        a = np.linspace(0, 2 * np.pi, 361)
        return np.column_stack([shape.centre[0] + shape.radius * np.cos(a), shape.centre[1] + shape.radius * np.sin(a)])
    corners = shape.outline()
    points = []
    for a, b in zip(corners, np.roll(corners, -1, 0)):
        f = [np.linspace(0, 1, max(1, math.ceil(float(np.hypot(*(b - a))) / step)) + 1)]
        for k in (0, 1):
            if a[k] != b[k]:
                f.append((cuts[k] - a[k]) / (b[k] - a[k]))
        at = np.unique(np.concatenate(f))
        at = at[(at >= 0) & (at < 1)]
        points.append(a + at[:, None] * (b - a))
    return np.concatenate([*points, corners[:1]])


def _middles_on(shape: Shape, path: Array) -> Array:
    """Between the points of an outline, on the outline itself: the chord of a disc would lie within it."""
    middle = (path[1:] + path[:-1]) / 2
    if isinstance(shape, Disc):
        arm = middle - shape.centre
        middle = shape.centre + arm * (shape.radius / np.hypot(*arm.T))[:, None]
    return middle


def _top(section: Section, x: Array, y: Array) -> Integers:
    """(K,) number of the part that is painted last at each place; -1 where nothing is."""
    out = np.full(len(x), -1)
    for number, part in enumerate(section.parts):
        for shape in part.shapes:
            out[shape.contains(x, y)] = number
    return out


# ---------------------------------------------------------------------------------------------------------------------
# temperatures on the sheet


def _levels(temperature: Array, most: int) -> tuple[Array, tuple[float, float]]:
    """At most so many round temperatures for the isotherms, and the ends of the colours."""
    from matplotlib.ticker import MaxNLocator

    t = temperature[np.isfinite(temperature)]
    low, high = (float(t.min()), float(t.max())) if t.size else (0.0, 1.0)
    if high - low < 1e-6 * max(1.0, abs(high)):  # all at one temperature
        low, high = low - 0.5, high + 0.5
    levels = np.asarray(MaxNLocator(nbins=most, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high), float)
    return levels[(levels >= low) & (levels <= high)], (low, high)


def _temperatures(sheet: _Sheet, field: Field) -> Array:
    """(pixels along x, along y) degC in solids, NaN elsewhere: bilinear between a cell's own four corners."""
    x, y = middles(sheet.x) * sheet.unit, middles(sheet.y) * sheet.unit
    (i, u), (j, v) = _cells(field.x, x), _cells(field.y, y)
    points = point_temperatures(sheet.section, field)
    rows = points[i] * (1 - u)[:, None] + points[i + 1] * u[:, None]
    out = rows[:, j] * (1 - v) + rows[:, j + 1] * v
    cell = field.solid[np.ix_(i, j)]
    solids = np.isin(sheet.owner, [k for k, p in enumerate(sheet.section.parts) if p.material is not None])
    out[~(cell & solids)] = np.nan
    return _filled(out, solids)


def _cells(lines: Array, at: Array) -> tuple[Integers, Array]:
    """Cell that each place lies in, and how far along it, 0 to 1; places outside go to the nearest cell's end."""
    k = np.clip(np.searchsorted(lines, at, side="right") - 1, 0, len(lines) - 2)
    return k, np.clip((at - lines[k]) / (lines[k + 1] - lines[k]), 0, 1)


def _filled(values: Array, wanted: Mask) -> Array:
    """NaN where a value is wanted takes the nearest value: beside round and oblique edges, where cells and drawing differ."""
    from scipy.ndimage import distance_transform_edt

    missing = wanted & np.isnan(values)
    if missing.any() and not np.isnan(values).all():
        i, j = distance_transform_edt(np.isnan(values), return_distances=False, return_indices=True)
        values = np.where(missing, values[i, j], values)
    return values


def _isotherms(sheet: _Sheet, temperature: Array, levels: Array) -> None:
    x, y = middles(sheet.x), middles(sheet.y)
    lines = sheet.axes.contour(x, y, np.ma.masked_invalid(temperature.T), levels, colors=INK, linewidths=0.7, zorder=2)
    step = float(np.min(np.diff(levels))) if len(levels) > 1 else 1.0
    digits = next(d for d in range(9) if abs(step - round(step, d)) < 1e-3 * step)
    origin, scale = np.array([sheet.x[0], sheet.y[0]]), np.array([sheet.x[1] - sheet.x[0], sheet.y[1] - sheet.y[0]])
    for level, path in zip(lines.levels, lines.get_paths()):
        runs = [(np.asarray(run, float) - origin) / scale for run in path.to_polygons(closed_only=False)]
        runs.sort(key=lambda run: -float(np.hypot(*np.diff(run, axis=0).T).sum()))
        for run in runs[:4]:
            if sheet.words.along(f"{level:.{digits}f}", run, INK):
                break


def _flow_lines(sheet: _Sheet, field: Field) -> None:
    """The way heat goes, in solids only: lines about evenly spaced, thicker where more flows."""
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.patheffects import Normal, withStroke
    from scipy.ndimage import distance_transform_edt

    step = 2
    x, y = middles(sheet.x)[::step], middles(sheet.y)[::step]
    at = np.ix_(_cells(field.x, x * sheet.unit)[0], _cells(field.y, y * sheet.unit)[0])
    q = _flux(field, x * sheet.unit, y * sheet.unit)
    size = np.hypot(q[..., 0], q[..., 1])
    solids = np.isin(
        sheet.owner[::step, ::step], [k for k, p in enumerate(sheet.section.parts) if p.material is not None]
    )
    flows = solids & field.solid[at] & (size > 1e-6 * size.max(initial=0.0))
    if not flows.any():
        return
    direction = q / np.where(flows, size, 1.0)[..., None]
    lines = _traced(
        direction, flows, distance_transform_edt(np.pad(flows, 1))[1:-1, 1:-1], size, FLOW_SPACING * DPI / step
    )
    origin, per_pixel = np.array([x[0], y[0]]), np.array([x[1] - x[0], y[1] - y[0]])
    widths, arrows = [], []
    for line in lines:
        i, j = np.floor(line + 0.5).astype(int).T
        widths.append(float(np.clip(1.3 + 0.25 * np.log10(np.median(size[i, j]) / size.max()), 0.6, 1.3)))
        if len(line) < 0.25 * DPI / step:
            continue
        tip = line[min(len(line) - 1, len(line) // 2 + 5)]
        ahead = direction[tuple(np.floor(line[len(line) // 2] + 0.5).astype(int))]
        across = np.array([-ahead[1], ahead[0]])
        arrows.append(
            origin + per_pixel * np.array([tip, tip - 6 * ahead + 2.6 * across, tip - 6 * ahead - 2.6 * across])
        )
    cased = [withStroke(linewidth=2.0, foreground="#1f33445a"), Normal()]
    sheet.axes.add_collection(
        LineCollection(
            [origin + per_pixel * line for line in lines],
            colors="white",
            linewidths=widths,
            path_effects=cased,
            zorder=2.4,
        )
    )
    sheet.axes.add_collection(
        PolyCollection(arrows, facecolors="white", edgecolors="#1f334490", linewidths=0.5, zorder=2.5)
    )


def _flux(field: Field, x: Array, y: Array) -> Array:
    """(len(x), len(y), 2) W/m2: bilinear between the middles of cells of one part, never across an edge."""
    index, share = [], []
    for lines, at in ((field.x, x), (field.y, y)):
        c = middles(lines)
        k = np.clip(np.searchsorted(c, at) - 1, 0, max(len(c) - 2, 0))
        up = np.minimum(k + 1, len(c) - 1)
        s = np.clip((at - c[k]) / np.where(up > k, c[up] - c[k], 1.0), 0, 1)
        index.append((k, up))
        share.append((1 - s, s))
    owner = field.part[np.ix_(_cells(field.x, x)[0], _cells(field.y, y)[0])]
    total, weight = np.zeros((len(x), len(y), 2)), np.zeros((len(x), len(y)))
    for a in (0, 1):
        for b in (0, 1):
            cell = np.ix_(index[0][a], index[1][b])
            w = np.where((field.part[cell] == owner) & field.solid[cell], share[0][a][:, None] * share[1][b], 0.0)
            total += w[..., None] * field.flux[cell]
            weight += w
    return total / np.where(weight > 0, weight, 1.0)[..., None]


def _traced(direction: Array, flows: Mask, depth: Array, size: Array, spacing: float) -> list[Array]:
    """Lines (K, 2), in pixels, along a field of unit vectors (n, m, 2), where it `flows`.

    A line starts, the strongest flow first, where none is within `spacing`, at the middle of what is narrower than
    that; it ends at an edge, or where it would run beside another.
    """
    from scipy.ndimage import maximum_filter

    n, m = flows.shape
    cell = max(2, int(spacing / 2))
    starts = []
    for i in range(0, n, cell):
        for j in range(0, m, cell):
            here = depth[i : i + cell, j : j + cell]
            deepest = np.unravel_index(np.argmax(here), here.shape)
            if here[deepest] > 0:
                starts.append((i + int(deepest[0]), j + int(deepest[1])))
    # not at the rim of something wider
    starts = [
        s
        for s in starts
        if depth[s] >= 0.5 * depth[max(0, s[0] - cell) : s[0] + cell + 1, max(0, s[1] - cell) : s[1] + cell + 1].max()
    ]
    starts.sort(key=lambda s: -size[s])
    crowded, near = np.zeros((n, m), bool), np.zeros((n, m), bool)
    u, v = direction[..., 0], direction[..., 1]
    # keep clear of the rim, where there is room
    inner = flows & ((depth > 1.5) | (maximum_filter(depth, 7) < 3))
    far, close = int(spacing), max(1, int(0.3 * spacing))
    out = []
    for start in starts:
        if crowded[start]:
            continue
        ends = []
        for sign in (-1.0, 1.0):
            a, b = float(start[0]), float(start[1])
            line = [(a, b)]
            while len(line) < 4 * (n + m):
                i, j = int(a + 0.5), int(b + 0.5)
                c, d = a + 0.5 * sign * u[i, j], b + 0.5 * sign * v[i, j]  # midpoint rule, steps of one pixel
                k, l = int(c + 0.5), int(d + 0.5)
                if not (0 <= k < n and 0 <= l < m and inner[k, l]) or u[i, j] * u[k, l] + v[i, j] * v[k, l] < 0:
                    break  # an edge, or heat from two sides meets
                i, j = k, l
                a, b = a + sign * float(u[i, j]), b + sign * float(v[i, j])
                i, j = int(a + 0.5), int(b + 0.5)
                if not (0 <= i < n and 0 <= j < m and inner[i, j]) or near[i, j]:
                    break
                if len(line) > 20 and abs(a - line[-20][0]) + abs(b - line[-20][1]) < 4:
                    break  # heat turns on the spot: it enters or leaves here
                line.append((a, b))
            ends.append(line)
        whole = np.array(ends[0][:0:-1] + ends[1])
        for a, b in whole[::2]:
            crowded[max(0, int(a) - far) : int(a) + far + 1, max(0, int(b) - far) : int(b) + far + 1] = True
        if len(whole) < 0.5 * spacing:
            continue
        for a, b in whole[::2]:
            near[max(0, int(a) - close) : int(a) + close + 1, max(0, int(b) - close) : int(b) + close + 1] = True
        out.append(whole)
    return out


def _readings(section: Section, field: Field) -> dict[str, float]:
    """What the sensors read in a field."""
    out = {}
    names = [p.name for p in section.parts]
    area = np.diff(field.x)[:, None] * np.diff(field.y)[None]
    for s in section.sensors:
        if s.at is not None:
            out[s.name] = float(
                field.point_temperature[abs(field.x - s.at[0]).argmin(), abs(field.y - s.at[1]).argmin()]
            )
        else:
            cells = (field.part == names.index(str(s.part))) & np.isfinite(field.temperature)
            weight = area * (middles(field.x)[:, None] if section.view == "axisymmetric" else 1.0)
            out[s.name] = float(
                np.average(field.temperature[cells], weights=np.broadcast_to(weight, cells.shape)[cells])
            )
    return out
