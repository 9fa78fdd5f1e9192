"""Which piece of a drawing is drawn a second time, larger: where several parts are too small to write into."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.output.drawing.figures import DPI
from fdm.output.drawing.view import Owners, Place, Window

Integers = NDArray[np.int64]

LINE = 0.14  # inch; a thinner part has no room for a line of text
LONGEST = 0.25  # of the drawing's longer side; longer parts, such as skins, are seen well enough
NEIGHBOURS = 0.06  # of it; small parts nearer than that are shown together
ROOM = 0.25  # of the longer side of what is shown, around it
MOST = 500  # small parts; a drawing full of them has no one detail
NARROWEST = 4.5  # inches of a view: room for words
TIMES = (20, 15, 12, 10, 8, 6, 5, 4, 3, 2.5, 2)  # as large as in the drawing


@dataclass(frozen=True)
class Detail:
    """A piece of the drawing, how many `times` as large it is drawn again, and the small parts that it is drawn for, as
    indices into section.parts."""

    window: Window
    times: float
    parts: frozenset[int]


def detail_of(owner: Owners, number: int, whole: Window, room: Place) -> Detail | None:
    """The piece of a drawing with the most small parts, as large as fits into `room` (inches).

    `owner` (n, m) says what is seen in the pixels of the `whole` drawing, which has a `number` of parts. None where no
    two small parts lie near each other, and where there is no room to draw them twice as large.
    """
    from scipy.sparse.csgraph import connected_components

    parts, low, high = _small_parts(owner, number)
    if not 2 <= len(parts) <= MOST:
        return None
    gap = (np.maximum(low[:, None], low) - np.minimum(high[:, None], high)).max(2)
    group = connected_components(gap < NEIGHBOURS * max(owner.shape))[1]
    largest = group == np.bincount(group).argmax()
    if largest.sum() < 2:
        return None
    parts, low, high = parts[largest], low[largest].min(0), high[largest].max(0)
    wanted = high - low + 2 * ROOM * (high - low).max()
    times = next((t for t in TIMES if (t * wanted <= np.multiply(room, DPI)).all()), None)
    if times is None:
        return None
    shown = np.minimum(np.maximum(wanted, [NARROWEST * DPI / times, 0]), owner.shape)
    first = np.clip((low + high - shown) / 2, 0, np.array(owner.shape) - shown)
    ends_x, ends_y = (
        (float(np.interp(a, np.arange(len(lines)), lines)), float(np.interp(b, np.arange(len(lines)), lines)))
        for a, b, lines in zip(first, first + shown, (whole.x, whole.y))
    )
    return Detail(Window(ends_x, ends_y, times * whole.scale), times, frozenset(parts.tolist()))


def _small_parts(owner: Owners, number: int) -> tuple[Integers, Integers, Integers]:
    """The parts (K,) that are short, and on average thinner than a line of text is high, and the low and high corners
    (K, 2) of the boxes around them, in pixels."""
    from scipy.ndimage import find_objects

    found = {k: box for k, box in enumerate(find_objects(owner + 1, number)) if box is not None}
    parts = np.array(list(found), np.int64)
    corners = np.array([[(s.start, s.stop) for s in box] for box in found.values()], np.int64).reshape(-1, 2, 2)
    low, high = corners[..., 0], corners[..., 1]
    length = (high - low).max(1)
    area = np.bincount(owner[owner >= 0], minlength=number)[parts]
    small = (length <= LONGEST * max(owner.shape)) & (area <= LINE * DPI * length)
    return parts[small], low[small], high[small]
