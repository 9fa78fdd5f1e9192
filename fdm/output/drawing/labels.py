"""Labels on a drawing, placed so that they cover neither each other nor a mark."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.output.drawing.colours import INK
from fdm.output.drawing.occupancy import STEP, Anchor, Mask, Occupancy, Owners, Place, Size, Spot, leader

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.text import Text

Array = NDArray[np.float64]

BEHIND: dict[str, Any] = {
    "boxstyle": "square,pad=0.2",
    "fc": "white",
    "ec": "none",
    "alpha": 0.55,
}  # a number on a line
NEAR = 60  # steps; a label that finds no spot within these is far from what it names
UNLED = 8  # steps; a label so near to its anchor needs no leader
TWO_LINES_COST = 3  # steps


@dataclass(frozen=True)
class _Label:
    """A text that is on the axes, but not in its place yet, and its size in steps with a margin."""

    text: "Text"
    size: Size


class Labels:
    """Writes labels on the axes, and keeps them off what is there already."""

    def __init__(self, axes: "Axes", renderer: "RendererAgg", x: Array, y: Array, owner: Owners) -> None:
        """`x` and `y` are the edges of the axes' pixels in its units, `owner` what is seen in each pixel."""
        self.axes, self.renderer = axes, renderer
        self.origin = np.array([x[0], y[0]])
        self.pixel = np.array([x[1] - x[0], y[1] - y[0]])
        self.shape = owner.shape
        self.occupancy = Occupancy(owner)
        self.expected: list[Anchor] = []

    def expect(self, at: Array) -> None:
        """Keep labels of other marks away from a point (1, 2), or a line (2, 2), that `write_beside` will label."""
        self.expected.append(self._anchor(at, mark=5))

    def write_inside(
        self, text: str, region: Mask, colour: str = INK, style: str = "normal", outlined: bool = False
    ) -> bool:
        """Write within a region (pixels along x, along y), level or upright; says whether it fits. `outlined` letters
        are read on any colour."""
        free = self.occupancy.free_region(region)
        if free is None:
            return False
        for lines in dict.fromkeys((text, in_two(text))):
            for font_size in (9, 7.5):
                label = self._new(lines, font_size, colour, fontstyle=style)
                if outlined:
                    _outline(label.text, 2.4, 0.85)
                for angle, size in ((0, label.size), (90, label.size[::-1])):
                    if (middle := free.spot(size)) is not None:
                        self._put(label, middle, size, angle)
                        return True
                label.text.remove()
        return False

    def write_beside(self, text: str, at: Array | Place, colour: str) -> None:
        """Write as near as there is room to a point, or to a line (2, 2) along x or y.

        A leader is drawn where that is not very near.
        """
        anchor = self._anchor(at, mark=5)
        search = self.occupancy.search()
        label = self._new_outlined(text, colour)
        others = [other for other in self.expected if other != anchor]
        spot = search.cheapest(label.size, anchor, NEAR, others)
        if spot is None or spot.cost > NEAR:
            spot = search.cheapest(label.size, anchor, max(self.occupancy.occupied.shape), others)
        if spot is None:
            label.text.remove()
            return
        self._put(label, spot.middle, label.size)
        if spot.distance > UNLED:
            self._draw_leader(label, spot, anchor, colour)

    def write_with_leader(self, text: str, at: Place) -> None:
        """Write near a point, on one line or two, with a leader from a dot on that point.

        Nothing is written where there is no room near; the legend has the name.
        """
        anchor = self._anchor(at, mark=1.5)
        search = self.occupancy.search()
        found: list[tuple[float, _Label, Spot]] = []
        for lines in dict.fromkeys((text, in_two(text))):
            label = self._new_outlined(lines, INK)
            spot = search.cheapest(label.size, anchor, NEAR)
            cost = math.inf if spot is None else spot.cost + TWO_LINES_COST * ("\n" in lines)
            if spot is None or cost > NEAR:
                label.text.remove()
            else:
                found.append((cost, label, spot))
        if not found:
            return
        _, label, spot = min(found, key=lambda option: option[0])
        for _, other, _ in found:
            if other is not label:
                other.text.remove()
        self._put(label, spot.middle, label.size)
        start = self._draw_leader(label, spot, anchor, INK)
        self.axes.plot(*start, ".", ms=3.5, color=INK, zorder=7)

    def write_along(self, text: str, line: Array, boxed: bool = False) -> bool:
        """Write on a line through points (K, 2) in pixels, turned with it, as near to its middle as it is straight and
        free; says whether there is such a place. `boxed` numbers stand apart from the line, which looks like a minus
        before them else."""
        label = self._new(text, 7.5, INK, zorder=5)
        width, height = label.size
        at = line / STEP
        length = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(at, axis=0).T))])
        if length[-1] > 2.2 * width:
            tries = np.linspace(width, length[-1] - width, 25)
            for s in tries[np.argsort(abs(tries - length[-1] / 2), kind="stable")]:
                (x0, x1, xm), (y0, y1, ym) = (
                    np.interp([s - width / 2, s + width / 2, s], length, at[:, k]) for k in (0, 1)
                )
                chord = math.hypot(x1 - x0, y1 - y0)
                if chord < 0.95 * width:
                    continue  # the line bends here
                cos, sin = abs(x1 - x0) / chord, abs(y1 - y0) / chord
                box = math.ceil(width * cos + height * sin), math.ceil(width * sin + height * cos)
                if self.occupancy.is_free((xm, ym), box):
                    angle = math.degrees(math.atan2(y1 - y0, x1 - x0))
                    _outline(label.text, 2.2, 0.75)
                    label.text.set_bbox(BEHIND if boxed else None)
                    self._put(label, (xm, ym), box, (angle + 90) % 180 - 90)
                    return True
        label.text.remove()
        return False

    def keep_off_box(self, at: Place, width: float, height: float) -> None:
        """Keep labels off a box of so many pixels around a place on the axes."""
        self.occupancy.occupy_box(self._step(at), (width / STEP, height / STEP))

    def keep_off_line(self, line: Array, thickness: float) -> None:
        """Keep labels off a line through points (K, 2) on the axes, so many pixels thick."""
        self.occupancy.occupy_line(np.array([self._step(point) for point in line]), thickness / STEP)

    @property
    def occupied_pixels(self) -> Mask:
        """(n, m) pixels of the axes that hold labels and marks."""
        occupied = self.occupancy.occupied.repeat(STEP, 0).repeat(STEP, 1)
        out: Mask = occupied[: self.shape[0], : self.shape[1]]
        return out

    def _new(self, text: str, font_size: float, colour: str, **more: Any) -> _Label:
        style: dict[str, Any] = {"fontsize": font_size, "color": colour, "ha": "center", "va": "center", "zorder": 10}
        # labels lie within the axes, so the layout of the figure need not measure them
        written = self.axes.text(0, 0, text, in_layout=False, parse_math=False, **style | more)
        box = written.get_window_extent(self.renderer)
        return _Label(written, (math.ceil(box.width / STEP) + 2, math.ceil(box.height / STEP) + 1))

    def _new_outlined(self, text: str, colour: str) -> _Label:
        label = self._new(text, 8.5, colour, linespacing=1.05)
        _outline(label.text, 2.4, 0.85)
        return label

    def _put(self, label: _Label, middle: Place, size: Size, angle: float = 0) -> None:
        """Move a label, turned by `angle` so that it fills a box of `size`, to its place."""
        label.text.set_position(self._place(middle))
        label.text.set_rotation(angle)
        self.occupancy.occupy_box(middle, (size[0] + 1, size[1] + 1))

    def _draw_leader(self, label: _Label, spot: Spot, anchor: Anchor, colour: str) -> Place:
        """Draw the line from the anchor to a label; returns where it starts."""
        middle = np.asarray(spot.middle[0]), np.asarray(spot.middle[1])
        line = np.array([self._place((float(i), float(j))) for i, j in leader(middle, label.size, anchor)])
        self.axes.plot(*line.T, color=colour, lw=0.7, zorder=7)
        self.keep_off_line(line, 2)
        return float(line[0, 0]), float(line[0, 1])

    def _anchor(self, at: Array | Place, mark: float) -> Anchor:
        ends = np.reshape(at, (-1, 2))
        return Anchor(self._step(ends.min(0)), self._step(ends.max(0)), mark)

    def _step(self, at: Array | Place) -> Place:
        i, j = (at - self.origin) / self.pixel / STEP
        return float(i), float(j)

    def _place(self, step: Place) -> Place:
        """The place on the axes of a step; the inverse of `_step`."""
        x, y = self.origin + np.array(step) * STEP * self.pixel
        return float(x), float(y)


def _outline(text: "Text", width: float, alpha: float) -> None:
    from matplotlib.patheffects import withStroke

    text.set_path_effects([withStroke(linewidth=width, foreground="white", alpha=alpha)])


def in_two(text: str) -> str:
    """The text on two lines, broken at the space that makes them most alike in length.

    >>> in_two("module body")
    'module\\nbody'
    """
    words = text.split()
    if len(words) < 2:
        return text
    cuts = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))]
    return "\n".join(min(cuts, key=lambda pair: max(map(len, pair))))
