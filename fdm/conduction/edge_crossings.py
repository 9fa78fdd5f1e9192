"""Where round and slanted edges cross the lines between the centres of neighbouring cells."""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.layout import Layout
from fdm.grid.raster import middles
from fdm.section.model import Disc, Rectangle

SLIVER = 1e-9  # of a line's length: a crossing that near to a centre


@dataclass(frozen=True)
class Crossings:
    """Where slanted edges cross the lines between neighbouring centres along one axis; one a line at most."""

    first: Integers  # (K,) flat number of the line's first cell, rising
    point: Array  # (K, 2) m
    normal: Array  # (K, 2)

    def on_lines(self, first: Integers) -> Integers:
        """Number of the crossing on each line, -1 where there is none."""
        k = np.searchsorted(self.first, first)
        found = np.append(self.first, -1)[k] == first
        return np.where(found, k, -1)


def edge_crossings(layout: Layout, axis: int) -> Crossings:
    """The crossings on lines along an axis: crossings of an outline that are confirmed by the owners on both sides of
    it and at the line's two ends."""
    raster = layout.raster
    along, lines = (middles(g) for g in ((raster.x, raster.y) if axis == 0 else (raster.y, raster.x)))
    k, place, normal = _outline_crossings(layout, lines, axis)
    # where an edge passes through a centre, the line on either side of it could be meant: what owns the ends decides
    near = SLIVER * np.ptp(along)
    before, after = (np.searchsorted(along, place + d) - 1 for d in (-near, near))
    twice = np.nonzero(before != after)[0]
    number, which = np.concatenate([before, after[twice]]), np.concatenate([np.arange(len(k)), twice])
    on = (number >= 0) & (number < len(along) - 1)
    number, k, place, normal = number[on], k[which][on], place[which][on], normal[which][on]

    confirmed = np.ones(len(k), bool)
    end_owner = []
    for end, sign in ((0, -1), (1, 1)):
        cell = (number + end, k)[:: 1 if axis == 0 else -1]
        end_owner.append(raster.owner[cell[0] + 1, cell[1] + 1])
        beside = (place + sign * 1e-6 * (along[number + 1] - along[number]), lines[k])[:: 1 if axis == 0 else -1]
        i, j = (np.clip(np.searchsorted(g, v) - 1, 0, len(g) - 2) for g, v in zip((raster.x, raster.y), beside))
        confirmed &= layout.owners_at(i, j, beside[0], beside[1]) == end_owner[end]
    confirmed &= end_owner[0] != end_owner[1]
    i, j = (number, k)[:: 1 if axis == 0 else -1]
    first, one = np.unique((i * raster.shape[1] + j)[confirmed], return_index=True)
    point, normal = np.stack([place, lines[k]], 1)[confirmed][one], normal[confirmed][one]
    return Crossings(first, point[:, :: 1 if axis == 0 else -1], normal[:, :: 1 if axis == 0 else -1])


def _outline_crossings(layout: Layout, lines: Array, axis: int) -> tuple[Integers, Array, Array]:
    """All crossings of round and slanted outlines with lines along an axis: the number of the line, the place on it,
    and the outline's normal (along, across)."""
    found: list[tuple[Integers, Array, Array]] = [(np.empty(0, np.intp), np.empty(0), np.empty((0, 2)))]
    for shape in (s for p in layout.section.parts if p.name not in layout.variant.without for s in p.shapes):
        if isinstance(shape, Disc):
            off = lines - shape.centre[1 - axis]
            k = np.nonzero(abs(off) < shape.radius)[0]
            reach = np.sqrt(shape.radius**2 - off[k] ** 2)
            for to in (-reach, reach):
                found.append((k, shape.centre[axis] + to, np.stack([to, off[k]], 1) / shape.radius))
        elif not isinstance(shape, Rectangle):
            outline = shape.outline()[:, :: 1 if axis == 0 else -1]
            for start, step in zip(outline, np.roll(outline, -1, 0) - outline):
                if step.all():
                    t = (lines - start[1]) / step[1]
                    k = np.nonzero((t >= 0) & (t <= 1))[0]
                    normal = np.array([step[1], -step[0]]) / np.hypot(*step)
                    found.append((k, start[0] + t[k] * step[0], np.broadcast_to(normal, (len(k), 2))))
    k, place, normal = (np.concatenate(v) for v in zip(*found))
    return k, place, normal
