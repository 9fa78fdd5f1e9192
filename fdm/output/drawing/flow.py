"""Heat-flow lines: the flux between the cells' middles, and evenly spaced lines along it."""

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.fields import Field
from fdm.grid.raster import middles

Array = NDArray[np.float64]
Integers = NDArray[np.int64]
Mask = NDArray[np.bool_]


def cells_of(lines: Array, at: Array) -> tuple[Integers, Array]:
    """The cell between grid `lines` that each place lies in, and how far along it, 0 to 1.

    A place outside all cells is put on the nearest one's end.
    """
    k = np.clip(np.searchsorted(lines, at, side="right") - 1, 0, len(lines) - 2)
    return k, np.clip((at - lines[k]) / (lines[k + 1] - lines[k]), 0, 1)


def flux_at(field: Field, x: Array, y: Array) -> Array:
    """(len(x), len(y), 2) W/m2: bilinear between the middles of cells that belong to one part, never across an edge."""
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


def flow_lines(direction: Array, flows: Mask, depth: Array, size: Array, spacing: float) -> list[Array]:
    """About evenly spaced lines (K, 2), in pixels, along a field of unit vectors (n, m, 2), where it `flows` (n, m).

    `depth` (n, m) is the distance from where nothing flows, `size` (n, m) the strength of the flow. Lines start where
    it is largest first, and at the middle of what is narrower than `spacing`; none starts within `spacing` of another.
    A line ends at an edge, or where it would run beside another.
    """
    from scipy.ndimage import maximum_filter

    # lines keep off the edges, where there is room
    open_to_lines = flows & ((depth > 1.5) | (maximum_filter(depth, 7) < 3))
    has_line_near, has_line_beside = np.zeros(flows.shape, bool), np.zeros(flows.shape, bool)
    out = []
    for start in _starts(depth, size, max(2, int(spacing / 2))):
        if has_line_near[start]:
            continue
        back, ahead = (_half_line(direction, open_to_lines, has_line_beside, start, sign) for sign in (-1.0, 1.0))
        line = np.array(back[:0:-1] + ahead)
        _mark_around(line, int(spacing), has_line_near)
        if len(line) >= 0.5 * spacing:
            _mark_around(line, max(1, int(0.3 * spacing)), has_line_beside)
            out.append(line)
    return out


def _half_line(
    direction: Array, open_to_lines: Mask, has_line_beside: Mask, start: tuple[int, int], sign: float
) -> list[tuple[float, float]]:
    """From a pixel along the field, or against it where `sign` is -1, by the midpoint rule in steps of one pixel."""
    n, m = open_to_lines.shape
    u, v = direction[..., 0], direction[..., 1]
    a, b = float(start[0]), float(start[1])
    line = [(a, b)]
    while len(line) < 4 * (n + m):
        i, j = int(a + 0.5), int(b + 0.5)
        c, d = a + 0.5 * sign * u[i, j], b + 0.5 * sign * v[i, j]
        k, h = int(c + 0.5), int(d + 0.5)
        if not (0 <= k < n and 0 <= h < m and open_to_lines[k, h]) or u[i, j] * u[k, h] + v[i, j] * v[k, h] < 0:
            break  # an edge, or heat from two sides meets
        i, j = k, h
        a, b = a + sign * float(u[i, j]), b + sign * float(v[i, j])
        i, j = int(a + 0.5), int(b + 0.5)
        if not (0 <= i < n and 0 <= j < m and open_to_lines[i, j]) or has_line_beside[i, j]:
            break
        if len(line) > 20 and abs(a - line[-20][0]) + abs(b - line[-20][1]) < 4:
            break  # heat turns on the spot: it enters or leaves here
        line.append((a, b))
    return line


def _mark_around(line: Array, reach: int, mask: Mask) -> None:
    """Set the mask within `reach` pixels of a line."""
    for a, b in line[::2]:
        mask[max(0, int(a) - reach) : int(a) + reach + 1, max(0, int(b) - reach) : int(b) + reach + 1] = True


def _starts(depth: Array, size: Array, cell: int) -> list[tuple[int, int]]:
    """The deepest pixel of each square of `cell` x `cell`, by falling `size`; none at the edge of what is wider."""
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
