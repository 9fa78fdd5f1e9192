"""Grid lines that move with the drawing.

Where two drawings differ a little, the difference of their answers is small beside the error of either grid. It is
right only if both grids err alike: lines on edges go where the edges go, and lines between keep their place between
them.

    before   |   .  .  |  .  |        | line on an edge    . line between
    after    |     .    .    | . |

Edges that lie on one line may part as the drawing changes. Then there are two ways to go on. `moved_grid` leaves the
line in their middle and gives each edge a line of its own: nearly the same grid, for one drawing beside a solved one.
`stretches` gives every drawing that is compared a line wherever an edge of any of them lies: grids of one topology,
for differences by which answers are differentiated.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.grid.edges import SAME, edge_places
from fdm.section.model import Section

Array = NDArray[np.float64]
Integers = NDArray[np.intp]


def moved_grid(x: Array, y: Array, before: Section, after: Section) -> tuple[Array, Array] | None:
    """Grid lines (m) of one section moved along to another; None where edges change their number or order."""
    old, new = _edges(before), _edges(after)
    moved_x, moved_y = moved_lines(x, old[0], new[0]), moved_lines(y, old[1], new[1])
    return None if moved_x is None or moved_y is None else (moved_x, moved_y)


def moved_lines(lines: Array, before: ArrayLike, after: ArrayLike) -> Array | None:
    """Lines (n,) along one axis, moved as edges at `before` (E,) move to `after` (E,), in the same order; None where
    edges change their number or order.

    >>> moved_lines(np.array([0.0, 1.0, 2.0, 4.0]), [0, 2, 4], [0, 3, 5])
    array([0. , 1.5, 3. , 5. ])
    """
    old, new = np.asarray(before, float), np.asarray(after, float)
    if len(old) != len(new):
        return None
    near = SAME * max(np.ptp(old), np.ptp(new))
    order, line = _by_line(old, near)
    count = np.bincount(line)
    at, to = (np.bincount(line, v[order]) / count for v in (old, new))
    if (np.diff(to) <= near).any():
        return None
    out = np.interp(lines, at, to)
    for edge in np.unique(new):  # edges that lay on one line and no longer do
        if abs(out - edge).min() > near:
            out = np.sort(np.append(out, edge))
    return out


@dataclass(frozen=True)
class Stretch:
    """Where lines along one axis go when the drawing changes."""

    before: Array  # (E,) m, the lines on which edges lie, rising
    after: tuple[Array, ...]  # for each of them the lines, m, rising, that take its place: several where edges part

    @property
    def parts_edges(self) -> bool:
        """Whether edges part that lie on one line."""
        return any(len(places) > 1 for places in self.after)

    def applied(self, lines: Array) -> Array:
        """All lines on which edges lie afterwards, and between them the given lines (n,), each at its old share of the
        way from edge to edge."""
        k = np.clip(np.searchsorted(self.before, lines, side="right") - 1, 0, len(self.before) - 2)
        share = (lines - self.before[k]) / (self.before[k + 1] - self.before[k])
        between = (share > 1e-6) & (share < 1 - 1e-6)
        start, end = np.array([p[-1] for p in self.after])[k], np.array([p[0] for p in self.after])[k + 1]
        return np.sort(np.concatenate([(start + share * (end - start))[between], *self.after]))


def stretches(section: Section, others: Sequence[Section]) -> list[tuple[Stretch, Stretch]] | None:
    """For each of the others, how lines along x and along y go from the section to it.

    Where edges part in one of the others, all get the same lines there: grids that differ in nothing but place. None
    where edges change their number or order, or a gap between edges falls below half of what it was.
    """
    found = []
    for along, there in zip(_edges(section), zip(*map(_edges, others))):
        went = [_stretch(along, edges, SAME * section.size) for edges in there]
        known = [s for s in went if s is not None]
        if len(known) < len(went):
            return None
        after = [_with_all_lines(places) for places in zip(*(s.after for s in known))]
        found.append([Stretch(s.before, places) for s, places in zip(known, zip(*after))])
    return list(zip(*found))


def _with_all_lines(places: tuple[Array, ...]) -> tuple[Array, ...]:
    """What takes a line's place in each drawing: in all of them, the lines of all, where its edges part in any."""
    if max(map(len, places)) == 1:
        return places
    return (np.unique(np.concatenate(places)),) * len(places)


def _stretch(before: Array, after: Array, near: float) -> Stretch | None:
    """Places of edges along one axis (E,) before and after, in the same order; those closer than `near` are one."""
    if len(before) != len(after):
        return None
    order, line = _by_line(before, near)
    starts = np.nonzero(np.diff(line, prepend=-1))[0]
    first = before[order][starts]
    went = [np.sort(places) for places in np.split(after[order], starts[1:])]
    went = [p[np.concatenate([[True], np.diff(p) > near])] for p in went]
    gaps = np.array([high[0] - low[-1] for low, high in pairwise(went)])
    return None if (gaps < np.diff(first) / 2).any() else Stretch(first, tuple(went))


def _by_line(places: Array, near: float) -> tuple[Integers, Integers]:
    """The order (E,) in which places rise, and in that order the number (E,) of the line on which each lies."""
    order = np.argsort(places, kind="stable")
    return order, np.concatenate([[0], np.cumsum(np.diff(places[order]) > near)])


def _edges(section: Section) -> tuple[Array, Array]:
    """Places along x and along y, m, of all edges within the drawing, and of its ends, in the order of the drawing."""
    x, y = edge_places(section)
    low_x, high_x, low_y, high_y = section.extent
    return np.clip([*x, low_x, high_x], low_x, high_x), np.clip([*y, low_y, high_y], low_y, high_y)
