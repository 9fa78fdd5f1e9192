"""The V-cycle: an approximate inverse of the system, symmetric and positive definite, used as a preconditioner.

    grid of n x m        relax ----.                  .---- relax
    every second line       relax ----.            .---- relax
    ...                                 `- SuperLU -'

One relaxation by lines on the way down, one on the way up after the coarse correction, the second in reverse order, so
that the whole is symmetric. The coarsest grid is solved exactly.
"""

import numpy as np
from numpy.typing import DTypeLike, NDArray

from fdm.conduction.arrays import Array
from fdm.conduction.linear.multigrid.coarsening import Weights, coarsen
from fdm.conduction.linear.multigrid.line_relaxation import Zebra
from fdm.conduction.linear.multigrid.stencil import Equations, Floats, Stencil

VOID = 1e-3  # of the preconditioner only: conductance across voids, over the smallest across solid
COARSEST, SHARE = 6000, 48  # SuperLU takes over at so many cells, or a 48th of all: a further level costs iterations
NARROW = 16  # strips of so many rows or columns are quickest by SuperLU


class Level:
    """One grid of the V-cycle: relaxation on the way down to the next coarser grid, and on the way up again.

    Down: rows (lines along axis 1) even, odd, then columns even, odd; up: the reverse, so that the cycle is symmetric.
    Odd columns come last on the way down, so they leave no residual to restrict; and they come first on the way up, so
    they need no correction from the coarse grid.
    """

    def __init__(self, stencil: Stencil, weights: Weights, dtype: DTypeLike) -> None:
        centre = stencil.centre()
        scratch = np.empty((centre.size + max(centre.shape)) // 2, dtype)
        self.rows = Zebra(centre.T, stencil.turned(), scratch)
        self.columns = Zebra(centre, stencil, scratch)
        self.before, self.after = np.empty_like(self.columns.x[0]), np.empty_like(self.columns.x[0])
        # what odd rows take on even columns, from the even row before and after them
        self.upper = weights[1, 0][0, 0][: len(centre) // 2].astype(dtype)
        self.lower = weights[1, 0][1, 0][: (len(centre) - 1) // 2].astype(dtype)

    def down(self, b: Floats) -> Floats:
        """Relax from zero; return the residual restricted to the coarse grid."""
        rows, columns = self.rows, self.columns
        for k in (0, 1):
            np.copyto(rows.b[k], b[k::2].T)
            np.copyto(columns.b[k], b[:, k::2])
        np.copyto(rows.x[0], rows.b[0])
        rows.lines[0].solve(rows.x[0])
        rows.relax(1)
        for k in (0, 1):
            np.copyto(columns.x[1][k::2], rows.x[k][1::2].T)
        np.copyto(columns.x[0], columns.load(0, self.before))
        columns.lines[0].solve(columns.x[0])
        columns.relax(1)
        # even columns were solved for the odd ones as they were before: the residual is what that change brings
        residual = np.subtract(columns.load(0, self.after), self.before, out=self.after)
        even, odd = residual[0::2].copy(), residual[1::2]
        even[: len(self.upper)] += self.upper * odd
        even[1 : 1 + len(self.lower)] += self.lower * odd[: len(self.lower)]
        return even

    def up(self, correction: Floats) -> Floats:
        """Add the coarse grid's correction and relax; return the result."""
        rows, columns = self.rows, self.columns
        even, odd = columns.x[0][0::2], columns.x[0][1::2]
        even += correction
        odd += self.upper * correction[: len(self.upper)]
        odd[: len(self.lower)] += self.lower * correction[1 : 1 + len(self.lower)]
        columns.relax(1)
        columns.relax(0)
        for k in (0, 1):
            np.copyto(rows.x[0][k::2], columns.x[k][0::2].T)
        rows.relax(1)
        rows.relax(0)
        x = np.empty((rows.x[0].shape[1] + rows.x[1].shape[1], rows.x[0].shape[0]), rows.x[0].dtype)
        for k in (0, 1):
            np.copyto(x[k::2], rows.x[k].T)
        return x


def _void_conductance(g: Array) -> float:
    known = g[g > 0]
    return VOID * float(known.min()) if known.size else 1.0


class Multigrid:
    """z = M(r): a symmetric positive definite approximation of the inverse of the system, one V-cycle from zero.

    Conductances s, gx and gy must not be below zero; solid (n, m) bool: the cells that exist. Conductances of the other
    cells, and r there, must be zero; z is zero there. One set-up serves all right-hand sides, and systems whose
    conductances are within some 20 %. SuperLU solves grids of up to `coarsest` cells exactly; links are taken into
    account only where it solves the finest grid.
    """

    def __init__(
        self,
        equations: Equations,
        solid: NDArray[np.bool_] | None = None,
        dtype: DTypeLike = np.float32,
        coarsest: int | None = None,
    ) -> None:
        self.dtype = np.dtype(dtype)
        self.solid = solid
        s, gx, gy = equations.s, equations.gx, equations.gy
        if solid is not None:  # a poor conductor in the voids keeps coarse cells joined across them
            gx = np.where(solid[1:] & solid[:-1], gx, _void_conductance(gx))
            gy = np.where(solid[:, 1:] & solid[:, :-1], gy, _void_conductance(gy))
        stencil = Stencil(s, gx, gy)
        coarsest = coarsest or max(COARSEST, s.size // SHARE)
        self.levels: list[Level] = []
        while stencil.s.size > coarsest and min(stencil.s.shape) > NARROW:
            coarse, weights = coarsen(stencil)
            self.levels.append(Level(stencil, weights, dtype))
            stencil = coarse
        self.solve_coarsest = stencil.factorised(None if self.levels else equations.links)

    def __call__(self, r: Floats) -> Floats:
        for level in self.levels:
            r = level.down(r)
        z = self.solve_coarsest(r).astype(self.dtype, copy=False)
        for level in reversed(self.levels):
            z = level.up(z)
        return z if self.solid is None else np.multiply(z, self.solid, out=z)
