"""The sheet that a section is drawn on: a view of the whole with room around, and one of a detail below it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fdm.output.drawing.colours import DETAIL, FAINT, INK
from fdm.output.drawing.detail import detail_of
from fdm.output.drawing.figures import DPI, PNG_OPTIONS, WIDTH, style_axes, take_literally
from fdm.output.drawing.outlines import visible_edges
from fdm.output.drawing.view import Array, Place, View, Window
from fdm.section.files import written_beside
from fdm.section.model import UNITS, Section

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.colors import Colormap

# inches
LEFT, BOTTOM, TOP = 0.8, 0.6, 0.7  # around the axes
TALLEST, TALLEST_SLIM = 6.5, 12.0  # drawings with their margins; the second for a slim, tall one
BORDER_STRIP = 0.24  # thickness of an environment beyond the border
TALLEST_DETAIL = 3.6
LONGEST_SCALE = 72  # letters of all numbers on a scale below the drawing
BETWEEN = 0.9  # below the axes of the whole, for their numbers and the title of the detail


@dataclass(frozen=True)
class Layout:
    """Where the drawing stands on its figure."""

    extent: tuple[float, float, float, float]  # x0, x1, y0, y1 of the drawing in the file's unit
    window: Window  # the drawing with a margin around it
    right: float  # inches beside the axes
    beside: bool  # the legend or colour bar stands there, else below


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
    ends_x, ends_y = (x0 - margin_x / scale, x1 + margin_x / scale), (y0 - margin_y / scale, y1 + margin_y / scale)
    return Layout((x0, x1, y0, y1), Window(ends_x, ends_y, scale), right, beside)


class Sheet(View):
    """A figure with a view of the whole drawing, to scale and in the file's unit, and one of a detail where there is
    any that is worth it."""

    def __init__(self, section: Section, legend: bool) -> None:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

        self.layout = layout_of(section, legend)
        window, strip = self.layout.window, BORDER_STRIP / self.layout.window.scale
        owner, edges = window.owners(section, strip), visible_edges(section)
        width, height = LEFT + window.size[0] + self.layout.right, BOTTOM + window.size[1] + TOP
        room = max(width, WIDTH - 1.0) - LEFT - 0.3, TALLEST_DETAIL
        detail = detail_of(owner, len(section.parts), window, room)
        below = 0.0
        if detail is not None:
            below = detail.window.size[1] + BETWEEN
            width = max(width, LEFT + detail.window.size[0] + 0.3)
        self.figure = Figure(figsize=(width, height + below), dpi=DPI)
        self.canvas: Any = FigureCanvasAgg(self.figure)  # its methods have no types
        axes = self._new_axes(window, BOTTOM + below)
        super().__init__(section, window, owner, edges, axes, self.renderer)
        self._describe_axes()
        self.detail: View | None = None
        if detail is not None:
            axes = self._new_axes(detail.window, BOTTOM)
            shown = detail.window.owners(section, strip)
            self.detail = View(section, detail.window, shown, edges, axes, self.renderer)
            self._frame(self.detail, detail.times)
        self.small_parts = detail.parts if detail is not None else frozenset[int]()

    @property
    def renderer(self) -> "RendererAgg":
        renderer: RendererAgg = self.canvas.get_renderer()
        return renderer

    @property
    def views(self) -> list[View]:
        """The whole, and the detail where there is one."""
        return [self] if self.detail is None else [self, self.detail]

    @property
    def lowest_axes(self) -> "Axes":
        return self.views[-1].axes

    @property
    def slimness(self) -> float:
        """Pixels across the drawing, the shorter way."""
        x0, x1, y0, y1 = self.layout.extent
        return min(x1 - x0, y1 - y0) * self.window.scale * DPI

    def view_of(self, place: Place) -> View:
        """The view in which something at a place is named: the detail, where that shows it."""
        return self.detail if self.detail is not None and self.detail.window.holds(place) else self

    def _new_axes(self, window: Window, bottom: float) -> "Axes":
        """Axes as large as a window is drawn, so many inches above the figure's lower edge."""
        (width, height), (across, up) = self.figure.get_size_inches(), window.size
        return self.figure.add_axes((LEFT / width, bottom / height, across / width, up / height))

    def _describe_axes(self) -> None:
        a, section, size = self.axes, self.section, self.window.size
        a.set_title(section.title, loc="left", fontsize=11, fontweight="bold", color=INK, wrap=True, y=1)
        across, up = ("radius", "height") if section.view == "axisymmetric" else ("x", "y")
        a.set_xlabel(f"{across} ({section.unit})", fontsize=9, color=INK)
        a.set_ylabel(f"{up} ({section.unit})", fontsize=9, color=INK)
        a.locator_params(axis="x", nbins=max(2, min(9, int(size[0] / 0.7))))
        a.locator_params(axis="y", nbins=max(2, min(9, int(size[1] / 0.5))))
        style_axes(a)

    def _frame(self, detail: View, times: float) -> None:
        """The same frame around the detail's own view and its place in the drawing."""
        from matplotlib.patches import Rectangle

        style_axes(detail.axes)
        for spine in detail.axes.spines.values():
            spine.set(color=DETAIL, linewidth=1.4)
        detail.axes.locator_params(nbins=6)
        detail.axes.set_title(f"framed above, here {times:g} times as large", loc="left", fontsize=9, color=DETAIL, y=1)
        (x0, x1), (y0, y1) = detail.window.ends_x, detail.window.ends_y
        self.axes.add_patch(Rectangle((x0, y0), x1 - x0, y1 - y0, fill=False, edgecolor=DETAIL, lw=1.4, zorder=6.5))
        self.labels.keep_off_line(np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]), 6)

    def add_colour_bar(
        self, colours: "Colormap", ends: Place, levels: Array, words: str = "temperature (°C)", beyond: bool = False
    ) -> None:
        """A scale between `ends`, with ticks at `levels`; `words` say of what. What lies `beyond` has arrows."""
        from matplotlib.cm import ScalarMappable
        from matplotlib.colors import Normalize
        from matplotlib.ticker import ScalarFormatter

        numbers = ScalarFormatter(useOffset=False)  # whole ones, as on the isotherms
        beside = self.layout.beside
        size, box = self.figure.get_size_inches(), (self.axes if beside else self.lowest_axes).get_position()
        if beside:
            height = min(box.height, 5.0 / size[1])
            place = (box.x1 + 0.2 / size[0], box.y0 + (box.height - height) / 2, 0.18 / size[0], height)
        else:
            place = (box.x0 + box.width * 0.15, box.y0 - 0.85 / size[1], box.width * 0.7, 0.16 / size[1])
        bar = self.figure.colorbar(
            ScalarMappable(Normalize(*ends), colours),
            cax=self.figure.add_axes(place),
            orientation="vertical" if beside else "horizontal",
            ticks=levels,
            format=numbers,
            extend="both" if beyond else "neither",
        )
        most = LONGEST_SCALE // max(map(len, numbers.format_ticks(levels.tolist())), default=1)
        if not beside and len(levels) > most:
            bar.set_ticks(levels[:: math.ceil(len(levels) / most)].tolist())
        bar.set_label(words, fontsize=9, color=INK)
        bar.ax.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
        bar.outline.set_visible(False)

    def explain_below(self, artists: Sequence[Any], words: Sequence[str]) -> None:
        """What some lines or patches mean, side by side below all else."""
        take_literally(self.figure)
        below = self.figure.get_tightbbox(self.renderer).y0 / self.figure.get_size_inches()[1]
        self.figure.legend(
            artists,
            words,
            loc="upper left",
            bbox_to_anchor=(self.axes.get_position().x0, below),
            ncols=len(words),
            frameon=False,
            fontsize=8.5,
            labelcolor=INK,
        )

    def save(self, path: str | Path) -> None:
        """Write the figure as PNG. Raises InputError where it cannot be written."""
        take_literally(self.figure)
        # bbox_inches="tight" would find the same box, but draw everything twice
        box = self.figure.get_tightbbox(self.renderer).padded(0.12)
        with written_beside(path) as temporary:
            self.figure.savefig(temporary, format="png", bbox_inches=box, facecolor="white", pil_kwargs=PNG_OPTIONS)
