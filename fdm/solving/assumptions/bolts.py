"""Narrow metal that crosses a poor conductor, and is drawn as a slab across the whole depth."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from fdm.conduction.arrays import Array, Bools
from fdm.grid.raster import NOTHING
from fdm.section.model import Rectangle
from fdm.solving.cells import METAL, Drawing

POOR = 30.0  # times: a bolt conducts better than what it crosses
SLIM = 3.0  # times: a bolt is longer than wide, and its slab larger than its round section


def bolts_as_slabs(drawing: Drawing) -> Iterator[str]:
    """Narrow metal that crosses a poor conductor, in a plane section. Silent are bars that end in it, slabs not much
    larger than the round section, and polygons."""
    section, d = drawing.section, drawing.section.depth
    for number, part in enumerate(section.parts if section.view == "section" else ()):
        crossing: dict[int, list[float]] = {}
        metal = part.piece is None and part.material is not None and max(part.material.conductivity) >= METAL
        bars = [shape.bounds for shape in part.shapes if metal and isinstance(shape, Rectangle)]
        for bounds in _slim_in_poor(drawing, number, np.array(bars).reshape(-1, 4)).tolist():
            if (layer := _crossed(drawing, number, bounds)) != NOTHING:
                crossing.setdefault(layer, []).append(min(bounds[1] - bounds[0], bounds[3] - bounds[2]))
        for layer, widths in crossing.items():
            w, many = min(widths), f"{len(widths)} times " if len(widths) > 1 else ""
            yield (
                f"part {part.name!r}, {many}{drawing.length(w)} wide, crosses {drawing.names([layer])} as a slab "
                f"{drawing.length(d)} deep, which has {4 * d / (math.pi * w):.2g} times the metal of a round bolt of "
                "that width and leaks as much more; say round = true if it is round, or give the depth of one, and a "
                "count (or ask for a [bolt]: fdm start bolt_in_wall), unless this is a sheet or a rail that runs on "
                "along the depth"
            )


def _poor_beside(drawing: Drawing, number: int) -> Bools:
    """(P + 5,) by owner: solids that conduct far worse than part `number`."""
    k = drawing.conductivity.max(-1)
    return np.asarray(drawing.solid & (POOR * k <= k[number]))


def _slim_in_poor(drawing: Drawing, number: int, bounds: Array) -> Array:
    """Those of the bounds (K, 4) of bars of part `number` that are slim, and at the middle of their length have one and
    the same poor conductor on both sides."""
    x, y = bounds[:, :2], bounds[:, 2:]
    upright = np.ptp(y, axis=1) > np.ptp(x, axis=1)
    w, length = np.sort([np.ptp(x, axis=1), np.ptp(y, axis=1)], axis=0)
    across, middle = np.where(upright[:, None], x, y), np.where(upright[:, None], y, x).mean(1)
    near, r = 1e-6 * w, drawing.raster
    owners = []
    for place in (across[:, 0] - near, across[:, 0] - w, across[:, 1] + near, across[:, 1] + w):
        i, j = (
            np.searchsorted(r.x, np.where(upright, place, middle)),
            np.searchsorted(r.y, np.where(upright, middle, place)),
        )
        owners.append(drawing.owner[i, j])
    poor = _poor_beside(drawing, number)
    between = np.any([(a == b) & poor[a] for a in owners[:2] for b in owners[2:]], 0)
    return np.asarray(
        bounds[between & (length >= SLIM * w * (1 - 1e-9)) & (4 * drawing.section.depth >= SLIM * math.pi * w)]
    )


def _crossed(drawing: Drawing, number: int, bounds: Sequence[float]) -> int:
    """The poor conductor that a slim bar of part `number` crosses from side to side: it lies on both of its sides along
    half of its length; NOTHING where there is none."""
    x, y = bounds[:2], bounds[2:]
    upright = y[1] - y[0] > x[1] - x[0]
    owner, across, along = drawing.turned(upright)
    width, length = (x, y) if upright else (y, x)
    slack = 1e-9 * drawing.section.size
    # the first cell, and the first beyond, with the ring
    i, j = (np.searchsorted(lines, np.subtract(v, slack)) + 1 for lines, v in ((across, width), (along, length)))
    w = width[1] - width[0]
    far = np.searchsorted(across, (width[0] - w, width[1] + w))
    poor = _poor_beside(drawing, number)
    beside = owner[[i[0] - 1, far[0], i[1], far[1]], j[0] : j[1]]  # next to it, and a width away: beyond a clearance
    low, high = beside.reshape(2, 2, -1)
    same = np.stack([(a == b) & poor[a] for a in low for b in high])
    crosses = same.any(0) & (owner[(i[0] + i[1]) // 2, j[0] : j[1]] == number)
    sizes = np.diff(along)[j[0] - 1 : j[1] - 1]
    run = float(sizes[crosses].sum())
    ends = owner[(i[0] + i[1]) // 2, [j[0] - 1, j[1]]]
    carries = (drawing.solid & ~poor) | [air is not None for air in drawing.airs]
    loose = [crosses[at] and not carries[end] for end, at in zip(ends, (0, -1))]  # it ends in the layer, or at nothing
    if any(loose) or run < max(SLIM * w, 0.5 * (length[1] - length[0])) * (1 - 1e-6):
        return NOTHING
    met = poor[beside] & crosses
    return int(np.bincount(beside[met], np.broadcast_to(sizes, met.shape)[met]).argmax())  # the thickest, of several
