"""A stack that is the same all over a rectangle, inverted directly: fast diagonalisation.

Layer l conducts a_l along x and b_l along y, and loses s_l; g_l leads from it to the next. With the eigenvectors X of
the conductances between cells along x, as against their widths, and Z along y, each pair of modes has one tridiagonal
system through the layers. (R. E. Lynch, J. R. Rice, D. H. Thomas, Numer. Math. 6 (1964) 185-199, from memory.)
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from fdm.conduction.arrays import Array, Bools
from fdm.conduction.stack.equations import Equations


@dataclass(frozen=True)
class UniformStack:
    """The inverse of the stack that has the means of all conductances of another, for watts into P of its layers and
    their temperatures; exact where that one is uniform."""

    along_x: Array  # (n, n) eigenvectors
    along_y: Array  # (m, m)
    diagonal: Array  # (P, n, m) W/K from each cell to all others and to fixed temperatures
    inverse: Array  # (P, n, m) one over the pivots of the elimination from the last layer to the first
    passed: Array  # (P - 1, n, m) what part of a layer's watts it passes on to the one before

    def solve(self, right: Array) -> Array:
        """(E, P, n, m) temperatures by watts (E, P, n, m)."""
        rows = -1, right.shape[-1]  # of all layers in one product
        t = self.along_x.T @ (right.reshape(rows) @ self.along_y).reshape(right.shape)
        layers, last = [t[:, k] for k in range(t.shape[1])], t.shape[1] - 1
        part = np.empty_like(layers[0])
        for k in range(last - 1, -1, -1):
            layers[k] += np.multiply(self.passed[k], layers[k + 1], out=part)
        t *= self.inverse
        for k in range(1, last + 1):
            layers[k] += np.multiply(self.passed[k - 1], layers[k - 1], out=part)
        return np.asarray(self.along_x @ (t.reshape(rows) @ self.along_y.T).reshape(right.shape))


def uniform_stack(e: Equations, within: slice) -> UniformStack:
    """Of the means of all conductances of a stack; for layers `within` it."""
    (dx, dy), (gx, gy), solid = e.widths, e.spreading(), e.solid
    (x_values, x_vectors), (y_values, y_vectors) = (_modes(tuple(widths.tolist())) for widths in (dx, dy))
    area, apart_x, apart_y = dx[:, None] * dy, (dx[1:] + dx[:-1]) / 2, (dy[1:] + dy[:-1]) / 2
    a = _mean(gx, dy / apart_x[:, None], solid[:, 1:] & solid[:, :-1])
    b = _mean(gy, dx[:, None] / apart_y, solid[:, :, 1:] & solid[:, :, :-1])
    up = _mean(e.gz, area, e.gz > 0)
    there = solid.any((1, 2))  # fins whose parts are left out have no cells
    loss = np.where(there, _mean(e.to_fixed, area, solid), 1.0)
    out = loss + _beside(up)
    pivot = x_values[:, None] * a[:, None, None] + y_values * b[:, None, None] + out[:, None, None]
    first, last = within.start, within.stop - 1
    for k in range(first):
        pivot[k + 1] -= up[k] ** 2 / pivot[k]
    for k in range(len(pivot) - 2, first - 1, -1):
        pivot[k] -= up[k] ** 2 / pivot[k + 1]
    passed = up[first:last, None, None] / pivot[first + 1 : last + 1]
    along_x, along_y = _beside(1 / apart_x)[:, None] * dy, _beside(1 / apart_y) * dx[:, None]
    diagonal = a[within, None, None] * along_x + b[within, None, None] * along_y + out[within, None, None] * area
    return UniformStack(x_vectors, y_vectors, diagonal, 1 / pivot[within], passed)


def _beside(between: Array) -> Array:
    """(n,) of each of n in a row, the sum of what lies between it and those beside, (n - 1,)."""
    out = np.zeros(len(between) + 1)
    out[1:] += between
    out[:-1] += between
    return out


def _mean(g: Array, size: Array, on: Bools) -> Array:
    """(L,) sum of the conductances of each layer over the sum of their sizes, of those that are `on`; the others have
    none."""
    sizes = np.where(on, size, 0.0).sum((1, 2))
    total: Array = g.sum((1, 2))
    return np.asarray(np.divide(total, sizes, out=np.zeros_like(total), where=sizes > 0))


@lru_cache(maxsize=32)  # the designs of a study are solved on the same grids
def _modes(widths: tuple[float, ...]) -> tuple[Array, Array]:
    """Eigenvalues (n,) 1/m2, and eigenvectors (n, n), of unit conductances between cells of n widths (m), as against
    these."""
    width = np.array(widths)
    apart = np.concatenate([[0.0], 2 / (width[1:] + width[:-1]), [0.0]])
    matrix = np.diag(apart[1:] + apart[:-1]) - np.diag(apart[1:-1], 1) - np.diag(apart[1:-1], -1)
    values, vectors = np.linalg.eigh(matrix / np.sqrt(width[:, None] * width))
    values[0] = 0.0  # all cells alike; to rounding else
    return values, vectors / np.sqrt(width)[:, None]
