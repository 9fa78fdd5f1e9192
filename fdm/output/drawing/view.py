"""A view: axes that show a piece of the drawing to scale, and what is seen in each of their pixels."""

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fdm.grid.raster import NOTHING, middles, raster_of
from fdm.output.drawing.colours import INK
from fdm.output.drawing.figures import DPI
from fdm.output.drawing.labels import Labels
from fdm.output.drawing.outlines import Edge
from fdm.section.model import SIDES, UNITS, Section

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import RendererAgg

Array = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Owners = NDArray[np.int32]
Pixel = tuple[int, int]
Place = tuple[float, float]


@dataclass(frozen=True)
class Window:
    """The piece of the drawing that a view shows: its ends in the file's unit, and how large it is drawn."""

    ends_x: Place
    ends_y: Place
    scale: float  # inches for one of the file's unit

    @property
    def size(self) -> Place:
        """Inches along x and y."""
        return (self.ends_x[1] - self.ends_x[0]) * self.scale, (self.ends_y[1] - self.ends_y[0]) * self.scale

    @cached_property
    def x(self) -> Array:
        """(n + 1,) the edges of the pixels along x."""
        return np.linspace(*self.ends_x, round(self.size[0] * DPI) + 1)

    @cached_property
    def y(self) -> Array:
        """(m + 1,)"""
        return np.linspace(*self.ends_y, round(self.size[1] * DPI) + 1)

    def holds(self, place: Place) -> bool:
        return all(low < at < high for at, (low, high) in zip(place, (self.ends_x, self.ends_y)))

    def owners(self, section: Section, strip: float) -> Owners:
        """(n, m) what is seen in each pixel: an index into section.parts, len(parts) + 0..3 for the environment beyond
        the left, right, bottom and top border, drawn as a `strip` along it, or -1 for nothing."""
        unit = UNITS[section.unit]
        out = raster_of(section, self.x * unit, self.y * unit).owner[1:-1, 1:-1]
        out[self.x[1:] * unit <= section.extent[0]] = NOTHING  # a disc on the axis reaches beyond it
        x0, x1, y0, y1 = (v / unit for v in section.extent)
        strips = (
            (x0 - strip, x0, y0, y1),
            (x1, x1 + strip, y0, y1),
            (x0, x1, y0 - strip, y0),
            (x0, x1, y1, y1 + strip),
        )
        for k, (side, box) in enumerate(zip(SIDES, strips)):
            if getattr(section.border, side) is not None:
                i, j = np.searchsorted(middles(self.x), box[:2]), np.searchsorted(middles(self.y), box[2:])
                out[i[0] : i[1], j[0] : j[1]] = len(section.parts) + k
        return out


class View:
    """Axes that show a window of a section.

    `x` (n + 1,) and `y` (m + 1,) are the edges of the axes' pixels, `owner` (n, m) what is seen in them, as
    `Window.owners` says.
    """

    def __init__(
        self, section: Section, window: Window, owner: Owners, edges: list[Edge], axes: "Axes", renderer: "RendererAgg"
    ) -> None:
        self.section, self.unit, self.window = section, UNITS[section.unit], window
        self.owner, self.edges, self.axes = owner, edges, axes
        self.x, self.y = window.x, window.y
        self.pixels = owner.shape
        self.solid: Mask = np.isin(owner, [k for k, p in enumerate(section.parts) if p.material is not None])
        axes.set_xlim(*window.ends_x)
        axes.set_ylim(*window.ends_y)
        axes.set_autoscale_on(False)
        self.labels = Labels(axes, renderer, self.x, self.y, owner)
        if self.shows_axis:
            axes.axvline(0, color=INK, lw=1.0, dashes=(8, 3, 1.5, 3), zorder=6)

    @property
    def shows_axis(self) -> bool:
        """Whether the axis of revolution lies within the axes."""
        return self.section.view == "axisymmetric" and self.axes.get_xlim()[0] < 0

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
        """Fill the axes with colours (n, m, 4); pieces, which are less deep than the drawing, get dotted."""
        from matplotlib.image import PcolorImage

        i, j = np.nonzero(np.isin(self.owner, [k for k, p in enumerate(self.section.parts) if p.piece is not None]))
        dotted = (i % 6 < 2) & (j % 6 < 2)  # what a piece lies in is seen to go on behind it
        rgba[i[dotted], j[dotted], :3] = 255
        # imshow would resample what fits the axes pixel by pixel, and take ten times as long
        image = PcolorImage(self.axes, self.x, self.y, np.swapaxes(rgba, 0, 1), zorder=1, in_layout=False)
        self.axes.add_image(image)


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
