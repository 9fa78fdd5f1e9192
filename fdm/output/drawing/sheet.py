"""A drawing to scale: axes with room around, the same in pixels, outlines, sources, sensors."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.grid.raster import middles, raster_of
from fdm.output.drawing.colours import FAINT, HEAT, HELD, INK, JOINT, SENSOR
from fdm.output.drawing.labels import Words
from fdm.output.drawing.outlines import top_part, visible_edges
from fdm.section.files import written_beside
from fdm.section.model import SIDES, UNITS, Section, Sensor, Shape, Source

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap

Array = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Integers = NDArray[np.int32]
Mask = NDArray[np.bool_]

DPI = 160
PNG = {"compress_level": 3}  # a tenth larger than the usual 6, in half the time
WIDTH = 10.0  # inch
HIGHEST = 6.5, 12.0  # inch of the drawing; the second for a slim, tall one
STRIP = 0.24  # inch, of an environment beyond the border


class Sheet:
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
        a.set_title(section.title, loc="left", fontsize=11, fontweight="bold", color=INK, wrap=True, y=1)
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
        self.owner: Integers = raster_of(section, self.x * self.unit, self.y * self.unit).owner[1:-1, 1:-1]
        self._border_strips(STRIP / scale)
        self.words = Words(a, self.canvas.get_renderer(), self.x, self.y, self.owner)
        self.edges = visible_edges(section)
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
        at = deepest(self.owner == number)
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

    def image(self, rgba: Bytes) -> None:
        """(pixels along x, along y, 4); voids hatched."""
        from matplotlib.image import PcolorImage

        voids = np.isin(self.owner, [k for k, p in enumerate(self.section.parts) if p.void])
        i, j = np.nonzero(voids)
        line = (i + j) % 14 < 2
        rgba[i[line], j[line], :3] = 173
        # imshow would resample what fits the axes pixel by pixel, and take ten times as long
        image = PcolorImage(self.axes, self.x, self.y, np.swapaxes(rgba, 0, 1), zorder=1, in_layout=False)
        self.axes.add_image(image)

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
        top = top_part(self.section, *before.T)
        solids = [k for k, p in enumerate(self.section.parts) if p.material is not None]
        free = min(
            0.2, 0.4 * (0.02 * (1 + int(np.argmax(np.isin(top, solids)))) if np.isin(top, solids).any() else 1.0)
        )
        for f in (np.arange(n := max(1, min(7, int(length / 0.3)))) + 0.5) / n:
            on = (along[:, 0] + f * (along[:, 1] - along[:, 0])) / self.unit
            off = on - inward * free * inch
            tail, head = (off, on) if source.heat is None or source.heat >= 0 else (on, off)
            arrow = {"arrowstyle": "-|>,head_width=0.22,head_length=0.4", "color": colour, "lw": 1.1}
            self.axes.annotate("", head, tail, zorder=5, arrowprops=arrow | {"shrinkA": 0, "shrinkB": 0})
            self.words.take_line(np.array([on, off]), 4)

    def _is_solid(self, at: Array) -> bool:
        top = int(top_part(self.section, at[None, 0], at[None, 1])[0])
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
            self.figure.savefig(temporary, format="png", bbox_inches=box, facecolor="white", pil_kwargs=PNG)


def deepest(region: Mask) -> tuple[int, int] | None:
    """The pixel of a region that lies furthest from its edge."""
    from scipy.ndimage import distance_transform_edt

    i, j = np.flatnonzero(region.any(1)), np.flatnonzero(region.any(0))
    if not len(i):
        return None
    box = region[i[0] : i[-1] + 1, j[0] : j[-1] + 1]
    step = max(1, int(max(box.shape) / 400))
    if min(box.shape) < 8 * step:
        step = 1
    depth = distance_transform_edt(np.pad(box[::step, ::step], 1))[1:-1, 1:-1]
    best = np.argwhere(depth >= depth.max() - 1e-9)
    k = best[np.argmin(((best - best.mean(0)) ** 2).sum(1))] * step  # of equals, the one in the middle
    return int(k[0] + i[0]), int(k[1] + j[0])


def _middle(shape: Shape, unit: float) -> tuple[float, float]:
    x, y = shape.outline().mean(0) / unit
    return float(x), float(y)


def name_environments(sheet: Sheet, temperatures: bool) -> None:
    """In the largest region of each environment, painted or beyond a border; all of them, so that none is in doubt."""
    of = {e.name: e for e in sheet.section.environments}
    for number in np.unique(sheet.owner):
        if (name := sheet.environment_of(int(number))) is not None:
            for text in ([f"{name}, {of[name].temperature:.4g} °C"] if temperatures else []) + [name]:
                if sheet.words.inside(text, sheet.owner == number, "#45607a", "italic"):
                    break


def name_sources(sheet: Sheet, watts: bool) -> None:
    for s in sheet.section.sources:
        if s.segment is not None:
            at: Any = np.column_stack([s.segment.x, s.segment.y]) / sheet.unit
        else:
            number = [p.name for p in sheet.section.parts].index(str(s.part))
            pixel = deepest(sheet.owner == number)
            if pixel is None:
                continue
            at = sheet.place(pixel)
        given = f"{s.heat:.4g} W" if s.heat is not None else f"{s.temperature:.4g} °C"
        sheet.words.beside(f"{s.name}, {given}" if watts else s.name, at, HEAT if s.heat is not None else HELD)
