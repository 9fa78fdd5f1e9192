"""Heat-flow lines: evenly spaced lines along a vector field."""

import numpy as np
from numpy.typing import NDArray

from fdm.answers.fields import Field
from fdm.grid.raster import middles

Array = NDArray[np.float64]
Integers = NDArray[np.int64]
Mask = NDArray[np.bool_]


def cells_of(lines: Array, at: Array) -> tuple[Integers, Array]:
    """Cell that each place lies in, and how far along it, 0 to 1; places outside go to the nearest cell's end."""
    k = np.clip(np.searchsorted(lines, at, side="right") - 1, 0, len(lines) - 2)
    return k, np.clip((at - lines[k]) / (lines[k + 1] - lines[k]), 0, 1)


def flux_at(field: Field, x: Array, y: Array) -> Array:
    """(len(x), len(y), 2) W/m2: bilinear between the middles of cells of one part, never across an edge."""
    index, share = [], []
    for lines, at in ((field.x, x), (field.y, y)):
        c = middles(lines)
        k = np.clip(np.searchsorted(c, at) - 1, 0, max(len(c) - 2, 0))
        up = np.minimum(k + 1, len(c) - 1)
        s = np.clip((at - c[k]) / np.where(up > k, c[up] - c[k], 1.0), 0, 1)
        index.append((k, up))
        share.append((1 - s, s))
    owner = field.part[np.ix_(cells_of(field.x, x)[0], cells_of(field.y, y)[0])]
    total, weight = np.zeros((len(x), len(y), 2)), np.zeros((len(x), len(y)))
    for a in (0, 1):
        for b in (0, 1):
            i, j = index[0][a], index[1][b]  # one after the other: np.ix_ takes several times as long
            own = (field.part[i][:, j] == owner) & field.solid[i][:, j]
            w = np.where(own, share[0][a][:, None] * share[1][b], 0.0)
            total += w[..., None] * field.flux[i][:, j]
            weight += w
    return total / np.where(weight > 0, weight, 1.0)[..., None]


def traced(direction: Array, flows: Mask, depth: Array, size: Array, spacing: float) -> list[Array]:
    """Lines (K, 2), in pixels, along a field of unit vectors (n, m, 2), where it `flows`.

    A line starts, the strongest flow first, where none is within `spacing`, at the middle of what is narrower than
    that; it ends at an edge, or where it would run beside another.
    """
    from scipy.ndimage import maximum_filter

    n, m = flows.shape
    crowded, near = np.zeros((n, m), bool), np.zeros((n, m), bool)
    u, v = direction[..., 0], direction[..., 1]
    # keep clear of the rim, where there is room
    inner = flows & ((depth > 1.5) | (maximum_filter(depth, 7) < 3))
    far, close = int(spacing), max(1, int(0.3 * spacing))
    out = []
    for start in _starts(depth, size, max(2, int(spacing / 2))):
        if crowded[start]:
            continue
        ends = []
        for sign in (-1.0, 1.0):
            a, b = float(start[0]), float(start[1])
            line = [(a, b)]
            while len(line) < 4 * (n + m):
                i, j = int(a + 0.5), int(b + 0.5)
                c, d = a + 0.5 * sign * u[i, j], b + 0.5 * sign * v[i, j]  # midpoint rule, steps of one pixel
                k, h = int(c + 0.5), int(d + 0.5)
                if not (0 <= k < n and 0 <= h < m and inner[k, h]) or u[i, j] * u[k, h] + v[i, j] * v[k, h] < 0:
                    break  # an edge, or heat from two sides meets
                i, j = k, h
                a, b = a + sign * float(u[i, j]), b + sign * float(v[i, j])
                i, j = int(a + 0.5), int(b + 0.5)
                if not (0 <= i < n and 0 <= j < m and inner[i, j]) or near[i, j]:
                    break
                if len(line) > 20 and abs(a - line[-20][0]) + abs(b - line[-20][1]) < 4:
                    break  # heat turns on the spot: it enters or leaves here
                line.append((a, b))
            ends.append(line)
        whole = np.array(ends[0][:0:-1] + ends[1])
        for a, b in whole[::2]:
            crowded[max(0, int(a) - far) : int(a) + far + 1, max(0, int(b) - far) : int(b) + far + 1] = True
        if len(whole) < 0.5 * spacing:
            continue
        for a, b in whole[::2]:
            near[max(0, int(a) - close) : int(a) + close + 1, max(0, int(b) - close) : int(b) + close + 1] = True
        out.append(whole)
    return out


def _starts(depth: Array, size: Array, cell: int) -> list[tuple[int, int]]:
    """The deepest pixel of every square of `cell` x `cell`, unless at the rim of something wider; by falling `size`."""
    from scipy.ndimage import maximum_filter

    n, m = depth.shape
    padded = np.pad(depth, ((0, -n % cell), (0, -m % cell)))
    squares = padded.reshape(padded.shape[0] // cell, cell, -1, cell).swapaxes(1, 2)
    deepest = squares.reshape(*squares.shape[:2], -1).argmax(2)
    i, j = (np.ravel(cell * k + within) for k, within in zip(np.indices(deepest.shape), np.divmod(deepest, cell)))
    wider = maximum_filter(depth, 2 * cell + 1, mode="constant")[i, j]
    fit = (depth[i, j] > 0) & (depth[i, j] >= 0.5 * wider)
    i, j = i[fit], j[fit]
    order = np.argsort(-size[i, j], kind="stable")
    return list(zip(i[order].tolist(), j[order].tolist()))
