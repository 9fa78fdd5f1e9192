"""Which piece of a drawing is drawn a second time, larger: where several parts are too small to write into."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.output.drawing.figures import DPI
from fdm.output.drawing.view import Owners, Place, Window

Box = tuple[NDArray[np.int64], NDArray[np.int64]]  # its low and its high corner, pixels

LINE = 0.14  # inch; a thinner part has no room for a line of text
LONGEST = 0.25  # of the drawing's longer side; longer parts, such as skins, are seen well enough
NEIGHBOURS = 0.06  # of it; small parts nearer than that are shown together
ROOM = 0.25  # of the longer side of what is shown, around it
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
    groups: list[dict[int, Box]] = []
    for k, box in _small_parts(owner, number).items():
        near = [g for g in groups if any(_gap(box, other) < NEIGHBOURS * max(owner.shape) for other in g.values())]
        groups = [g for g in groups if not any(g is other for other in near)]
        groups.append({part: around for g in (*near, {k: box}) for part, around in g.items()})
    group = max(groups, key=len, default={})
    if len(group) < 2:
        return None
    low, high = np.min([box[0] for box in group.values()], 0), np.max([box[1] for box in group.values()], 0)
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
    return Detail(Window(ends_x, ends_y, times * whole.scale), times, frozenset(group))


def _small_parts(owner: Owners, number: int) -> dict[int, Box]:
    """The parts that are short, and on average thinner than a line of text is high, and the boxes around them."""
    from scipy.ndimage import find_objects

    area, out = np.bincount(owner[owner >= 0], minlength=number), dict[int, Box]()
    for k, found in enumerate(find_objects(owner + 1, number)):
        if found is not None:
            box = np.array([s.start for s in found]), np.array([s.stop for s in found])
            length = (box[1] - box[0]).max()
            if length <= LONGEST * max(owner.shape) and area[k] <= LINE * DPI * length:
                out[k] = box
    return out


def _gap(one: Box, other: Box) -> float:
    """Pixels between two boxes along x or along y, whichever is more."""
    return float((np.maximum(one[0], other[0]) - np.minimum(one[1], other[1])).max())
