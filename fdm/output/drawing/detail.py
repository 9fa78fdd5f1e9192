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
    from scipy.ndimage import find_objects

    size = max(owner.shape)
    area = np.bincount(owner[owner >= 0], minlength=number)
    groups: list[tuple[Integers, set[int]]] = []  # low x, low y, high x, high y in pixels, and the parts
    for k, found in enumerate(find_objects(owner + 1, number)):
        if found is None:
            continue
        box = np.array([[s.start for s in found], [s.stop for s in found]])
        longest = np.ptp(box, axis=0).max()
        if longest > LONGEST * size or area[k] / longest > LINE * DPI:
            continue
        near = [g for g in groups if (np.maximum(g[0][0], box[0]) - np.minimum(g[0][1], box[1]) < NEIGHBOURS * size).all()]
        boxes = np.array([box, *(g[0] for g in near)])
        groups = [g for g in groups if not any(g is other for other in near)]
        groups.append((np.array([boxes[:, 0].min(0), boxes[:, 1].max(0)]), {k}.union(*(g[1] for g in near))))
    if not groups:
        return None
    box, parts = max(groups, key=lambda g: len(g[1]))
    wanted = np.ptp(box, axis=0) + 2 * ROOM * np.ptp(box, axis=0).max()
    times = next((t for t in TIMES if (t * wanted <= np.multiply(room, DPI)).all()), None)
    if len(parts) < 2 or times is None:
        return None
    shown = np.minimum(np.maximum(wanted, [NARROWEST * DPI / times, 0]), owner.shape)
    low = np.clip(box.mean(0) - shown / 2, 0, np.array(owner.shape) - shown)
    ends = [(float(np.interp(a, np.arange(len(at)), at)), float(np.interp(a + b, np.arange(len(at)), at)))
            for a, b, at in zip(low, shown, (whole.x, whole.y))]  # fmt: skip
    return Detail(Window(ends[0], ends[1], times * whole.scale), times, frozenset(parts))
