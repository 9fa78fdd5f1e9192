"""Grid lines that move with the drawing.

Where two drawings differ a little, the difference of their answers is small beside the error of either grid. It is
right only if both grids err alike: lines on edges go where the edges go, and lines between keep their place between
them.

    before   |   .  .  |  .  |        | line on an edge    . line between
    after    |     .    .    | . |

Edges that lie on one line may part as the drawing changes. There are two ways to go on:

- `moved_grid` keeps the line, in the middle of its edges, and adds a line for each of these edges. The grid is nearly
  the same: for one drawing that is compared with a solved one.
- `stretches` gives all drawings that are compared a line wherever an edge of any of them lies. All grids have the same
  number of lines: for difference quotients of answers.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.grid.edges import edge_places
from fdm.section.model import Section
from fdm.section.shapes import SAME

Array = NDArray[np.float64]
Integers = NDArray[np.intp]


def moved_grid(x: Array, y: Array, before: Section, after: Section) -> tuple[Array, Array] | None:
    """Grid lines (m) of one section, moved with its edges to those of another; None where edges change their number or
    order."""
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
    for edge in np.unique(new):  # edges that have left the line on which they lay
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
        """Whether some edges that lay on one line before lie on different lines afterwards."""
        return any(len(places) > 1 for places in self.after)

    def applied(self, lines: Array) -> Array:
        """All lines on which edges lie afterwards, and between them the given lines (n,), each at the same share of the
        way from edge to edge as before."""
        k = np.clip(np.searchsorted(self.before, lines, side="right") - 1, 0, len(self.before) - 2)
        share = (lines - self.before[k]) / (self.before[k + 1] - self.before[k])
        between = (share > 1e-6) & (share < 1 - 1e-6)
        start, end = np.array([p[-1] for p in self.after])[k], np.array([p[0] for p in self.after])[k + 1]
        return np.sort(np.concatenate([(start + share * (end - start))[between], *self.after]))


def stretches(section: Section, others: Sequence[Section]) -> list[tuple[Stretch, Stretch]] | None:
    """For each of the other sections, how lines along x and along y go from `section` to it.

    Where edges part in one of the others, all of them get the same lines, so that their grids differ only in the places
    of lines. None where edges change their number or order, or a gap between edges falls below half of what it was.
    """
    by_axis = []
    for before, after_by_section in zip(_edges(section), zip(*map(_edges, others))):
        found = [_stretch(before, after, SAME * section.size) for after in after_by_section]
        known = [s for s in found if s is not None]
        if len(known) < len(found):
            return None
        after = [_with_all_lines(places) for places in zip(*(s.after for s in known))]
        by_axis.append([Stretch(s.before, places) for s, places in zip(known, zip(*after))])
    return list(zip(*by_axis))


def _with_all_lines(places: tuple[Array, ...]) -> tuple[Array, ...]:
    """The lines that take the place of one line, in each drawing. Where its edges part in any of the drawings, each
    drawing gets the lines of all."""
    if max(map(len, places)) == 1:
        return places
    return (np.unique(np.concatenate(places)),) * len(places)


def _stretch(before: Array, after: Array, near: float) -> Stretch | None:
    """From places of edges along one axis (E,) before and after, in the same order; places closer than `near` count as
    one line. None where edges change their number, or a gap falls below half of what it was."""
    if len(before) != len(after):
        return None
    order, line = _by_line(before, near)
    starts = np.nonzero(np.diff(line, prepend=-1))[0]
    first = before[order][starts]
    places_after = [np.sort(places) for places in np.split(after[order], starts[1:])]
    places_after = [p[np.concatenate([[True], np.diff(p) > near])] for p in places_after]
    gaps = np.array([high[0] - low[-1] for low, high in pairwise(places_after)])
    return None if (gaps < np.diff(first) / 2).any() else Stretch(first, tuple(places_after))


def _by_line(places: Array, near: float) -> tuple[Integers, Integers]:
    """The order (E,) that sorts the places, and in that order the number (E,) of the line on which each lies."""
    order = np.argsort(places, kind="stable")
    return order, np.concatenate([[0], np.cumsum(np.diff(places[order]) > near)])


def _edges(section: Section) -> tuple[Array, Array]:
    """Places along x and along y, m, of all edges in the order of the file, and of the drawing's two ends."""
    x, y = edge_places(section)
    low_x, high_x, low_y, high_y = section.extent
    return np.clip([*x, low_x, high_x], low_x, high_x), np.clip([*y, low_y, high_y], low_y, high_y)
