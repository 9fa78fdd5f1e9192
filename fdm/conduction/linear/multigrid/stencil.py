"""Operators on an (n, m) array of cells, kept as conductances between neighbours instead of as a matrix.

A link of conductance g between two cells carries the heat g (x1 - x2), and has the energy g (x1 - x2)^2. On the finest
grid each cell is linked to its four neighbours (five-point operator); on coarser ones also across its corners
(nine-point operator), and there some conductances may be negative.

>>> rod = Stencil(np.array([[2.0, 0.0]]), np.empty((0, 2)), np.array([[3.0]]))  # two cells, and 2 W/K to a temperature
>>> rod.matrix().toarray()
array([[ 5., -3.],
       [-3.,  3.]])
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp
from numpy.typing import NDArray

from fdm.conduction.arrays import Array, Links
from fdm.conduction.linear.direct import symmetric_factors

Floats = NDArray[np.floating]  # single or double, as the preconditioner was told


@dataclass(frozen=True, eq=False)
class Stencil:
    """A nine-point operator as conductances, some of which may be negative. The finest grid has no diagonal links."""

    s: Array  # (n, m)
    gx: Array  # (n - 1, m): (i, j) - (i+1, j)
    gy: Array  # (n, m - 1): (i, j) - (i, j+1)
    diagonal: Array | None = None  # (n - 1, m - 1): (i, j) - (i+1, j+1)
    anti: Array | None = None  # (n - 1, m - 1): (i+1, j) - (i, j+1)

    def links(self) -> Iterator[tuple[Array, tuple[slice, slice], tuple[slice, slice]]]:
        """Each kind of link: conductances, and where in an (n, m) array their two ends are."""
        every, first, last = slice(None), slice(None, -1), slice(1, None)
        yield self.gx, (first, every), (last, every)
        yield self.gy, (every, first), (every, last)
        if self.diagonal is not None and self.anti is not None:
            yield self.diagonal, (first, first), (last, last)
            yield self.anti, (last, first), (first, last)

    def turned(self) -> "Stencil":
        """With the axes exchanged."""
        diagonal, anti = (None if g is None else g.T for g in (self.diagonal, self.anti))
        return Stencil(self.s.T, self.gy.T, self.gx.T, diagonal, anti)

    def centre(self) -> Array:
        """The diagonal of the matrix (n, m)."""
        c = self.s.copy()
        for g, a, b in self.links():
            c[a] += g
            c[b] += g
        return c

    def matrix(self, links: Links | None = None) -> sp.csc_matrix:
        """The operator on `x.ravel()`, with further links between any two cells."""
        number = np.arange(self.s.size).reshape(self.s.shape)
        parts: list[Links] = [(number, number, self.centre())]
        for g, a, b in self.links():
            parts += [(number[a], number[b], -g), (number[b], number[a], -g)]
        if links is not None:
            one, other, g = links
            parts += [(one, other, -g), (other, one, -g), (one, one, g), (other, other, g)]
        row, column, value = (np.concatenate([p[k].ravel() for p in parts]) for k in range(3))
        return sp.csc_matrix((value, (row, column)), shape=(number.size, number.size))

    def factorised(self, links: Links | None = None) -> Callable[[Floats], Array]:
        """An exact solver for right-hand sides (n, m), by SuperLU."""
        lu = symmetric_factors(self.matrix(links))
        return lambda b: lu.solve(b.astype(float).ravel()).reshape(b.shape)


@dataclass(frozen=True, eq=False)
class Equations:
    """The equations `sum over neighbours of g (x - x_neighbour) + s x = rhs` of the finest grid, for any rhs (n, m)."""

    s: Array  # (n, m) to known temperatures
    gx: Array  # (n - 1, m)
    gy: Array  # (n, m - 1)
    links: Links | None = None  # further conductances between any two cells

    def outflow(self, x: Array) -> Array:
        """The heat (n, m) that leaves each cell at temperatures x (n, m): A x, as flux differences.

        On graded grids this loses a hundred times less to rounding than a product with a stored diagonal.

        >>> two_cells = Equations(np.array([[2.0, 0.0]]), np.empty((0, 2)), np.array([[3.0]]))
        >>> two_cells.outflow(np.array([[1.0, 5.0]]))
        array([[-10.,  12.]])
        """
        q = self.s * x
        flux = (x[1:] - x[:-1]) * self.gx
        q[1:] += flux
        q[:-1] -= flux
        flux = (x[:, 1:] - x[:, :-1]) * self.gy
        q[:, 1:] += flux
        q[:, :-1] -= flux
        self.add_links(x, q)
        return q

    def add_links(self, x: Array, q: Array) -> float:
        """Add to q what the links carry at x, both (n, m) and contiguous; returns their sum of g (x - x)^2."""
        if self.links is None:
            return 0.0
        a, b, g = self.links
        drop = x.reshape(-1)[a] - x.reshape(-1)[b]
        np.add.at(q.reshape(-1), a, g * drop)
        np.add.at(q.reshape(-1), b, -g * drop)
        return float(np.einsum("i,i,i", g, drop, drop))

    def balanced(self, rhs: Array, x: Array, accuracy: float) -> bool:
        """Whether what flows in flows out again, to that share of it, or as far as doubles can tell."""
        inflow = rhs - self.s * x
        through = float(np.maximum(inflow, 0).sum())
        rounding = float(np.finfo(float).eps) * float(np.abs(rhs).sum())
        return abs(float(inflow.sum())) <= accuracy * through + rounding
