"""Places for words on a picture, where they cover neither each other nor a mark."""

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.output.drawing.colours import INK

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import RendererAgg

Array = NDArray[np.float64]
Integers = NDArray[np.integer[Any]]
Mask = NDArray[np.bool_]
Span = tuple[float, float]

COARSE = 3  # pixels per step when a place for a word is looked for
TOO_FAR = 60  # such steps
FLATTEST = 8  # such steps; no word with its margin is flatter


class Words:
    """Writes on a sheet, and remembers what is taken."""

    def __init__(self, axes: "Axes", renderer: "RendererAgg", x: Array, y: Array, owner: Integers) -> None:
        """`x` and `y` are the edges of the axes' pixels in its units, `owner` what is to be seen in each."""
        self.axes, self.renderer, self.x, self.y = axes, renderer, x, y
        owner = owner[::COARSE, ::COARSE]
        self.taken: Mask = np.zeros(owner.shape, bool)
        crossed = np.zeros(owner.shape, bool)  # an edge passes
        crossed[1:] |= owner[1:] != owner[:-1]
        crossed[:, 1:] |= owner[:, 1:] != owner[:, :-1]
        self.crossings = _running_sums(crossed)

    def inside(self, text: str, region: Mask, colour: str = INK, style: str = "normal") -> bool:
        """Write within the region, level or upright, if it fits."""
        free = region[::COARSE, ::COARSE] & ~self.taken
        if not free.any():
            return False
        across, up = (np.flatnonzero(free.any(axis)) for axis in (1, 0))
        left, bottom = across[0], up[0]
        free = free[left : across[-1] + 1, bottom : up[-1] + 1]
        if min(free.shape) < FLATTEST:
            return False
        sums = _running_sums(free)
        centre = [float(np.mean(k)) for k in np.nonzero(free)]
        for lines in dict.fromkeys((text, in_two(text))):
            for size in (9, 7.5):
                written = self._write(lines, size, colour, fontstyle=style)
                wide, high = self._measure(written)
                for turn in (0, 90):
                    w, h = (wide, high) if turn == 0 else (high, wide)
                    fits = _box_sums(sums, w + 2, h + 1) == (w + 2) * (h + 1)
                    if fits.any():
                        from scipy.ndimage import distance_transform_cdt

                        depth = np.minimum(distance_transform_cdt(np.pad(free, 1))[1:-1, 1:-1], 40)
                        low_i, low_j = np.nonzero(fits)
                        i, j = low_i + (w + 2) / 2, low_j + (h + 1) / 2
                        # away from the region's edge first, then to its middle
                        lone = depth[i.astype(int), j.astype(int)]
                        best = np.argmin(np.hypot(i - centre[0], j - centre[1]) - 3.0 * lone)
                        self._put(written, left + i[best], bottom + j[best], w, h, turn)
                        return True
                written.remove()
        return False

    def beside(self, text: str, at: Array | tuple[float, float], colour: str, part: bool = False) -> None:
        """Write as near to a point, or to an axis-aligned line (2, 2), as there is room, led to it where that is far.

        The name of a `part` is always led to it, and left out where there is no room near: the legend has it.
        """
        from matplotlib.patheffects import withStroke

        ends = np.reshape(at, (-1, 2))
        (i0, j0), (i1, j1) = self._cell(*ends.min(0)), self._cell(*ends.max(0))
        tries, sums = [], _running_sums(self.taken)
        for lines in dict.fromkeys((text, in_two(text)) if part else (text,)):
            written = self._write(lines, 8.5, colour, linespacing=1.05)
            written.set_path_effects([withStroke(linewidth=2.4, foreground="white", alpha=0.85)])
            w, h = self._measure(written)
            for reach in (TOO_FAR,) if part else (TOO_FAR, max(self.taken.shape)):
                place = self._nearest(sums, w, h, (i0, i1), (j0, j1), reach, 1.5 if part else 5)
                if place is not None and place[0] <= reach:
                    break
            if place is None:
                written.remove()
            else:
                tries.append((place[0] + 3 * ("\n" in lines), *place[1:], w, h, written))
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

    def _nearest(
        self, sums: Integers, w: int, h: int, over_i: Span, over_j: Span, reach: float, own: float
    ) -> tuple[float, float, float, float] | None:
        """Cost, distance and middle of the best place for words within `reach` of their anchor; beyond, all cost more
        than that. `sums` are those of what is taken. None where no place is on the sheet."""
        first = [max(0, math.floor(low - size - reach)) for size, (low, _) in ((w, over_i), (h, over_j))]
        last = [max(0, math.ceil(high + reach) + size) for size, (_, high) in ((w, over_i), (h, over_j))]
        window = tuple(slice(a, b + 1) for a, b in zip(first, last))
        taken = _box_sums(sums[window], w, h)
        if not taken.size:
            return None
        i, j = (np.arange(n) + a + size / 2 for n, a, size in zip(taken.shape, first, (w, h)))
        i, j = i[:, None], j[None]
        away_i, away_j = (
            np.maximum(np.maximum(low - k - half, k - half - high), 0)
            for k, half, (low, high) in ((i, w / 2, over_i), (j, h / 2, over_j))
        )
        away = np.hypot(away_i, away_j)
        cost = away + 0.12 * _box_sums(self.crossings[window], w, h) + 1e3 * taken + np.where(away < 3, 50, 0)
        cost += 0.03 * np.hypot(i - sum(over_i) / 2, j - sum(over_j) / 2)
        cost += 100 * self._led_across(i, j, w, h, over_i, over_j, own)
        k = np.unravel_index(np.argmin(cost), cost.shape)
        return float(cost[k]), float(away[k]), float(i[k[0], 0]), float(j[0, k[1]])

    def _led_across(self, i: Array, j: Array, w: int, h: int, over_i: Span, over_j: Span, own: float) -> Mask:
        """Whether a line from the anchor, but for its `own` mark, to words at (i, j) would cross words, or a mark."""
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

        written = self._write(text, 7.5, colour, zorder=5)
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
        for (x0, y0), (x1, y1) in pairwise(line):
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

    def _write(self, text: str, size: float, colour: str, **more: Any) -> Any:
        style: dict[str, Any] = {"fontsize": size, "color": colour, "ha": "center", "va": "center", "zorder": 10}
        return self.axes.text(0, 0, text, in_layout=False, **style | more)  # within the axes: no part in the layout

    def _measure(self, written: Any) -> tuple[int, int]:
        box = written.get_window_extent(self.renderer)
        return math.ceil(box.width / COARSE) + 2, math.ceil(box.height / COARSE) + 1

    def _put(self, written: Any, i: float, j: float, w: float, h: float, turn: float = 0) -> None:
        written.set_position(self._place(i, j))
        written.set_rotation(turn)
        self._take(i, j, w + 1, h + 1)

    def _cell(self, x: float, y: float) -> tuple[float, float]:
        gx, gy = self.x, self.y
        return (x - gx[0]) / (gx[1] - gx[0]) / COARSE, (y - gy[0]) / (gy[1] - gy[0]) / COARSE

    def _place(self, i: float, j: float) -> tuple[float, float]:
        gx, gy = self.x, self.y
        return gx[0] + i * COARSE * (gx[1] - gx[0]), gy[0] + j * COARSE * (gy[1] - gy[0])


def _running_sums(of: Mask) -> Integers:
    """(n + 1, m + 1) sums over all cells below and left of each corner."""
    return np.pad(np.cumsum(np.cumsum(of, 0, dtype=np.int64), 1), ((1, 0), (1, 0)))


def _box_sums(total: Integers, w: int, h: int) -> Integers:
    """From running sums, the sums over every box of w x h cells that lies within, by its low corner."""
    if w >= total.shape[0] or h >= total.shape[1]:
        return np.zeros((0, 0), np.int64)
    return total[w:, h:] - total[:-w, h:] - total[w:, :-h] + total[:-w, :-h]


def in_two(text: str) -> str:
    """The text on two lines, broken where they come out most alike.

    >>> in_two("module body")
    'module\\nbody'
    """
    words = text.split()
    if len(words) < 2:
        return text
    cuts = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words))]
    return "\n".join(min(cuts, key=lambda pair: max(map(len, pair))))
