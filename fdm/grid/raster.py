"""From a drawing to cells: which part owns each cell."""

from bisect import bisect_left as bisect
from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.section.model import SIDES, Rectangle, Section

Array = NDArray[np.float64]
NOTHING = -1  # the owner where no part lies


@dataclass(frozen=True)
class Raster:
    """Cells between grid lines, with a ring of cells around them for what lies beyond the outer edge.

    `owner` (n + 2, m + 2) holds the number of a part in section.parts; or len(parts) + 0, 1, 2, 3 for the environment
    of the left, right, bottom and top border; or NOTHING.
    """

    x: Array  # (n + 1,) m
    y: Array  # (m + 1,) m
    owner: NDArray[np.int32]

    @property
    def shape(self) -> tuple[int, int]:
        """(n, m), without the ring."""
        return len(self.x) - 1, len(self.y) - 1

    @cached_property
    def widths(self) -> tuple[Array, Array]:
        """(n,) and (m,) m, of the cells along x and y."""
        return np.diff(self.x), np.diff(self.y)

    @cached_property
    def area(self) -> Array:
        """(n, m) m2, of the cells as they are drawn."""
        dx, dy = self.widths
        return np.asarray(dx[:, None] * dy)


def middles(lines: Array) -> Array:
    """(n,) middles of the intervals between lines (n + 1,)."""
    return (lines[1:] + lines[:-1]) / 2


def raster_of(section: Section, x: Array, y: Array, without: Collection[str] = ()) -> Raster:
    """The cells between lines x (n + 1,) and y (m + 1,), m, each owned by the last part that covers its centre; parts
    named in `without` are left out."""
    xc, yc = middles(x), middles(y)
    columns, rows = xc.tolist(), yc.tolist()
    owner = np.full((len(xc) + 2, len(yc) + 2), NOTHING, np.int32)
    cells = owner[1:-1, 1:-1]
    for number, part in enumerate(section.parts):
        if part.name in without:
            continue
        for shape in part.shapes:
            low_x, high_x, low_y, high_y = shape.bounds
            i0, i1, j0, j1 = *(bisect(columns, v) for v in (low_x, high_x)), *(bisect(rows, v) for v in (low_y, high_y))
            box = cells[i0:i1, j0:j1]
            if isinstance(shape, Rectangle) and section.beneath[number] is None:
                box[:] = number
            else:
                box[section.covered_by(number, shape.contains(xc[i0:i1, None], yc[None, j0:j1]), box)] = number
    ring = {"left": owner[0, 1:-1], "right": owner[-1, 1:-1], "bottom": owner[1:-1, 0], "top": owner[1:-1, -1]}
    for k, side in enumerate(SIDES):
        if getattr(section.border, side) is not None:
            ring[side][:] = len(section.parts) + k
    return Raster(x, y, owner)
