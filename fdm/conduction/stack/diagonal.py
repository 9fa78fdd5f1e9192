"""A stack that is the same all over a rectangle, inverted directly: fast diagonalisation.

Layer l conducts a_l along x and b_l along y, and loses s_l; g_l leads from it to the next. With the eigenvectors X of
the conductances between cells along x, as against their widths, and Z along y, each pair of modes has one tridiagonal
system through the layers. (R. E. Lynch, J. R. Rice, D. H. Thomas, Numer. Math. 6 (1964) 185-199, from memory.)
"""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools


@dataclass(frozen=True)
class UniformStack:
    """The inverse of the stack that has the means of all conductances of another; exact where that one is uniform."""

    along_x: Array  # (n, n) eigenvectors
    along_y: Array  # (m, m)
    sheet: tuple[Array, Array]  # (L,) W/K each, along x and along y
    upward: Array  # (L - 1,) W/(m2 K)
    loss: Array  # (L,) W/(m2 K)
    inverse: Array  # (L, n, m) one over the pivots of the elimination from the last layer to the first
    passed: Array  # (L - 1, n, m) what part of a layer's watts it passes on to the one before

    def solve(self, right: Array) -> Array:
        """(E, L, n, m) temperatures by watts (E, L, n, m)."""
        t = self.along_x.T @ (right @ self.along_y)
        layers, last = [t[:, k] for k in range(t.shape[1])], t.shape[1] - 1
        part = np.empty_like(layers[0])
        for k in range(last - 1, -1, -1):
            layers[k] += np.multiply(self.passed[k], layers[k + 1], out=part)
        t *= self.inverse
        for k in range(1, last + 1):
            layers[k] += np.multiply(self.passed[k - 1], layers[k - 1], out=part)
        return np.asarray(self.along_x @ (t @ self.along_y.T))

    def diagonal(self, widths: tuple[Array, Array]) -> Array:
        """(L, n, m) W/K from each cell to all others and to fixed temperatures."""
        (dx, dy), (a, b) = widths, self.sheet
        apart_x, apart_y = (2 / (d[1:] + d[:-1]) for d in widths)
        along_x = (np.append(apart_x, 0) + np.append(0, apart_x))[:, None] * dy
        along_y = (np.append(apart_y, 0) + np.append(0, apart_y)) * dx[:, None]
        up = np.append(self.upward, 0) + np.append(0, self.upward) + self.loss
        out: Array = a[:, None, None] * along_x + b[:, None, None] * along_y + up[:, None, None] * dx[:, None] * dy
        return out


Ends = tuple[bool, bool]
FREE: Ends = False, False


def uniform_stack(
    widths: tuple[Array, Array],
    gx: Array,
    gy: Array,
    gz: Array,
    s: Array,
    solid: Bools,
    held: tuple[Ends, Ends] = (FREE, FREE),
) -> UniformStack:
    """Of conductances gx (L, n - 1, m), gy (L, n, m - 1), gz (L - 1, n, m) and s (L, n, m) W/K, between and from the
    `solid` cells (L, n, m), whose widths are (n,) and (m,) m; with what is beyond the ends along x and y at 0, where
    they are `held`."""
    dx, dy = widths
    x_values, x_vectors = _modes(dx, held[0])
    y_values, y_vectors = _modes(dy, held[1])
    area, apart_x, apart_y = dx[:, None] * dy, (dx[1:] + dx[:-1]) / 2, (dy[1:] + dy[:-1]) / 2
    a = _mean(gx, dy / apart_x[:, None], solid[:, 1:] & solid[:, :-1])
    b = _mean(gy, dx[:, None] / apart_y, solid[:, :, 1:] & solid[:, :, :-1])
    up = _mean(gz, area, gz > 0)
    loss = np.where(solid.any((1, 2)), _mean(s, area, solid), 1.0)  # fins whose parts are left out have no cells
    diagonal = x_values[:, None] * a[:, None, None] + y_values * b[:, None, None] + loss[:, None, None]
    diagonal[:-1] += up[:, None, None]
    diagonal[1:] += up[:, None, None]
    pivot = diagonal
    passed = np.empty((len(pivot) - 1, *area.shape))
    for k in range(len(pivot) - 2, -1, -1):
        passed[k] = up[k] / pivot[k + 1]
        pivot[k] -= up[k] * passed[k]
    return UniformStack(x_vectors, y_vectors, (a, b), up, loss, 1 / pivot, passed)


def _mean(g: Array, size: Array, on: Bools) -> Array:
    """(L,) sum of the conductances of each layer over the sum of their sizes, of those that are `on`."""
    sizes = np.where(on, size, 0.0).sum((1, 2))
    total: Array = np.where(on, g, 0.0).sum((1, 2))
    return np.asarray(np.divide(total, sizes, out=np.zeros_like(total), where=sizes > 0))


def _modes(width: Array, held: Ends) -> tuple[Array, Array]:
    """Eigenvalues (n,) 1/m2, and eigenvectors (n, n), of unit conductances between cells, and to ends that are `held`,
    as against their widths."""
    apart = np.concatenate([[2 * held[0] / width[0]], 2 / (width[1:] + width[:-1]), [2 * held[1] / width[-1]]])
    matrix = np.diag(apart[1:] + apart[:-1]) - np.diag(apart[1:-1], 1) - np.diag(apart[1:-1], -1)
    values, vectors = np.linalg.eigh(matrix / np.sqrt(width[:, None] * width))
    if not any(held):
        values[0] = 0.0  # all cells alike; to rounding else
    return values, vectors / np.sqrt(width)[:, None]
