"""The sheet that a section is drawn on: axes to scale with room around, and what is seen in each of their pixels."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.grid.raster import NOTHING, middles, raster_of
from fdm.output.drawing.colours import FAINT, INK
from fdm.output.drawing.figures import DPI, PNG_OPTIONS, WIDTH, style_axes, take_literally
from fdm.output.drawing.labels import Labels
from fdm.output.drawing.outlines import visible_edges
from fdm.section.files import written_beside
from fdm.section.model import SIDES, UNITS, Section

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.colors import Colormap

Array = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Pixel = tuple[int, int]
Place = tuple[float, float]

# inches
LEFT, BOTTOM, TOP = 0.8, 0.6, 0.7  # around the axes
TALLEST, TALLEST_SLIM = 6.5, 12.0  # drawings with their margins; the second for a slim, tall one
BORDER_STRIP = 0.24  # thickness of an environment beyond the border


@dataclass(frozen=True)
class Layout:
    """Where the drawing stands on its figure; all sizes in inches, along x and y."""

    extent: tuple[float, float, float, float]  # x0, x1, y0, y1 of the drawing in the file's unit
    margin: tuple[float, float]  # between the drawing and the frame of the axes
    scale: float  # inches for one of the file's unit
    axes_size: tuple[float, float]
    figure_size: tuple[float, float]
    beside: bool  # the legend or colour bar stands beside the axes, else below


def layout_of(section: Section, legend: bool) -> Layout:
    """As large as fits on a figure `WIDTH` wide, with room for a legend or for a colour bar."""
    unit = UNITS[section.unit]
    x0, x1, y0, y1 = (v / unit for v in section.extent)
    if section.view == "axisymmetric" and 0 < x0 < 0.5 * (x1 - x0):
        x0 = 0.0  # near enough to show the axis
    width, height = x1 - x0, y1 - y0
    beside = height > (0.85 if legend else 0.55) * width
    right = (3.3 if legend else 1.2) if beside else 0.3
    room = WIDTH - LEFT - right
    tallest = TALLEST_SLIM if height > 4 * width else TALLEST
    margin_x, margin_y = 0.36, 0.36
    scale = min((room - 2 * margin_x) / width, (tallest - 2 * margin_y) / height)
    if width * scale < 2.5:
        margin_x = min(1.7, (room - width * scale) / 2)  # labels find no room in so slim a drawing
    if height * scale < 2.0:
        margin_x, margin_y = max(margin_x, 0.6), 0.6
        scale = min((room - 2 * margin_x) / width, (tallest - 2 * margin_y) / height)
    axes_size = width * scale + 2 * margin_x, height * scale + 2 * margin_y
    figure_size = LEFT + axes_size[0] + right, BOTTOM + axes_size[1] + TOP
    return Layout((x0, x1, y0, y1), (margin_x, margin_y), scale, axes_size, figure_size, beside)


class Sheet:
    """A figure whose axes show the drawing to scale, in the file's unit.

    `x` (n + 1,) and `y` (m + 1,) are the edges of the axes' pixels. `owner` (n, m) says what is seen in each pixel: an
    index into section.parts, len(parts) + 0..3 for the environment beyond the left, right, bottom and top border, or -1
    for nothing.
    """

    def __init__(self, section: Section, legend: bool) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.section, self.unit = section, UNITS[section.unit]
        self.layout = layout_of(section, legend)
        size, (width, height) = self.layout.figure_size, self.layout.axes_size
        self.figure = Figure(figsize=size, dpi=DPI)
        self.canvas: Any = FigureCanvasAgg(self.figure)  # its methods have no types
        self.axes: Axes = self.figure.add_axes(
            (LEFT / size[0], BOTTOM / size[1], width / size[0], height / size[1]),
        )
        self._set_up_axes()
        self.pixels = round(width * DPI), round(height * DPI)
        self.x = np.linspace(*self.axes.get_xlim(), self.pixels[0] + 1)
        self.y = np.linspace(*self.axes.get_ylim(), self.pixels[1] + 1)
        self.owner: NDArray[np.int32] = raster_of(section, self.x * self.unit, self.y * self.unit).owner[1:-1, 1:-1]
        self.owner[self.x[1:] * self.unit <= section.extent[0]] = NOTHING  # a disc on the axis reaches beyond it
        self._add_border_strips()
        self.solid: Mask = np.isin(self.owner, [k for k, p in enumerate(section.parts) if p.material is not None])
        self.edges = visible_edges(section)
        self.labels = Labels(self.axes, self.renderer, self.x, self.y, self.owner)

    @property
    def renderer(self) -> "RendererAgg":
        renderer: RendererAgg = self.canvas.get_renderer()
        return renderer

    @property
    def slimness(self) -> float:
        """Pixels across the drawing, the shorter way."""
        x0, x1, y0, y1 = self.layout.extent
        return min(x1 - x0, y1 - y0) * self.layout.scale * DPI

    @property
    def shows_axis(self) -> bool:
        """Whether the axis of revolution lies within the axes."""
        return self.section.view == "axisymmetric" and self.axes.get_xlim()[0] < 0

    def _set_up_axes(self) -> None:
        a, section = self.axes, self.section
        (x0, x1, y0, y1), scale, size = self.layout.extent, self.layout.scale, self.layout.axes_size
        margin_x, margin_y = self.layout.margin
        a.set_xlim(x0 - margin_x / scale, x1 + margin_x / scale)
        a.set_ylim(y0 - margin_y / scale, y1 + margin_y / scale)
        a.set_autoscale_on(False)
        a.set_title(section.title, loc="left", fontsize=11, fontweight="bold", color=INK, wrap=True, y=1)
        across, up = ("radius", "height") if section.view == "axisymmetric" else ("x", "y")
        a.set_xlabel(f"{across} ({section.unit})", fontsize=9, color=INK)
        a.set_ylabel(f"{up} ({section.unit})", fontsize=9, color=INK)
        a.locator_params(axis="x", nbins=max(2, min(9, int(size[0] / 0.7))))
        a.locator_params(axis="y", nbins=max(2, min(9, int(size[1] / 0.5))))
        style_axes(a)
        if self.shows_axis:
            a.axvline(0, color=INK, lw=1.0, dashes=(8, 3, 1.5, 3), zorder=6)

    def _add_border_strips(self) -> None:
        """Show the environments beyond the border as strips along it."""
        x0, x1, y0, y1 = (v / self.unit for v in self.section.extent)
        t = BORDER_STRIP / self.layout.scale
        strips = ((x0 - t, x0, y0, y1), (x1, x1 + t, y0, y1), (x0, x1, y0 - t, y0), (x0, x1, y1, y1 + t))
        for k, (side, strip) in enumerate(zip(SIDES, strips)):
            if getattr(self.section.border, side) is not None:
                i, j = np.searchsorted(middles(self.x), strip[:2]), np.searchsorted(middles(self.y), strip[2:])
                self.owner[i[0] : i[1], j[0] : j[1]] = len(self.section.parts) + k

    def pixels_of(self, part: str) -> Mask:
        """(n, m) where a part is seen."""
        return np.equal(self.owner, [p.name for p in self.section.parts].index(part))

    def environment_of(self, number: int) -> str | None:
        """The environment that a value of `owner` stands for."""
        parts = self.section.parts
        if number < len(parts):
            return parts[number].environment if number >= 0 else None
        name: str | None = getattr(self.section.border, SIDES[number - len(parts)])
        return name

    def middle_of(self, pixel: Pixel) -> Place:
        """The middle of a pixel, in the file's unit."""
        i, j = pixel
        return float(self.x[i : i + 2].mean()), float(self.y[j : j + 2].mean())

    def show_pixels(self, rgba: Bytes) -> None:
        """Fill the axes with colours (n, m, 4); voids get hatched, pieces dotted."""
        from matplotlib.image import PcolorImage

        i, j = np.nonzero(np.isin(self.owner, [k for k, p in enumerate(self.section.parts) if p.void]))
        hatched = (i + j) % 14 < 2
        rgba[i[hatched], j[hatched], :3] = 173
        i, j = np.nonzero(np.isin(self.owner, [k for k, p in enumerate(self.section.parts) if p.piece is not None]))
        dotted = (i % 6 < 2) & (j % 6 < 2)  # less deep than the drawing: what it lies in is seen to go on behind it
        rgba[i[dotted], j[dotted], :3] = 255
        # imshow would resample what fits the axes pixel by pixel, and take ten times as long
        image = PcolorImage(self.axes, self.x, self.y, np.swapaxes(rgba, 0, 1), zorder=1, in_layout=False)
        self.axes.add_image(image)

    def add_colour_bar(self, colours: "Colormap", ends: tuple[float, float], levels: Array) -> None:
        """A scale of temperatures (degC) between `ends`, with ticks at `levels`."""
        from matplotlib.cm import ScalarMappable
        from matplotlib.colors import Normalize

        size, box = self.figure.get_size_inches(), self.axes.get_position()
        if self.layout.beside:
            height = min(box.height, 5.0 / size[1])
            place = (box.x1 + 0.2 / size[0], box.y0 + (box.height - height) / 2, 0.18 / size[0], height)
        else:
            place = (box.x0 + box.width * 0.15, box.y0 - 0.85 / size[1], box.width * 0.7, 0.16 / size[1])
        bar = self.figure.colorbar(
            ScalarMappable(Normalize(*ends), colours),
            cax=self.figure.add_axes(place),
            orientation="vertical" if self.layout.beside else "horizontal",
            ticks=levels,
        )
        bar.set_label("temperature (°C)", fontsize=9, color=INK)
        bar.ax.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
        bar.outline.set_visible(False)

    def save(self, path: str | Path) -> None:
        """Write the figure as PNG. Raises InputError where it cannot be written."""
        take_literally(self.figure)
        # bbox_inches="tight" would find the same box, but draw everything twice
        box = self.figure.get_tightbbox(self.renderer).padded(0.12)
        with written_beside(path) as temporary:
            self.figure.savefig(temporary, format="png", bbox_inches=box, facecolor="white", pil_kwargs=PNG_OPTIONS)


def deepest_pixel(region: Mask) -> Pixel | None:
    """The pixel of a region that lies furthest from its edge; None where the region is empty."""
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
