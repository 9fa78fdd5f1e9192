"""Flexible conjugate gradients, preconditioned by the V-cycle.

The form of Polak and Ribiere for the new direction (Y. Notay, SIAM J. Sci. Comput. 22 (2000) 1444-1460, cited from
memory) bears a preconditioner in single precision. The iteration ends on the error in kelvin, of which max |M r| is a
good estimate; in double precision the residual itself cannot get small where conductances span nine powers of ten. The
heat balance must close as well: it shows the one error that M may not, a shift of all temperatures behind a very poor
film.
"""

from collections.abc import Iterator

import numpy as np

from fdm.conduction.arrays import Array
from fdm.conduction.linear.multigrid.cycle import Multigrid
from fdm.conduction.linear.multigrid.stencil import Equations, Floats

BLOCK = 32768  # cells that are worked on together in the vector operations, to stay in the processor's cache


def improved(
    equations: Equations, rhs: Array, multigrid: Multigrid, x: Array, accuracy: float, limit: int
) -> tuple[bool, int, float]:
    """Improve x (n, m) in place, in at most `limit` iterations. Returns whether it is accurate now, the number of
    iterations, and the estimated error."""
    v = _Vectors(equations, rhs, x, multigrid)
    if v.largest == 0:
        return True, 0, 0.0
    rz, alpha, error = 1.0, 0.0, np.inf
    for iteration in range(1, limit + 1):
        z = multigrid(v.scaled)  # M r / largest; p and x' = sum(alpha p) are in the same unit
        error = _size(z) * v.largest
        before, (rz, zq) = rz, v.products(z)
        beta = -alpha * zq / before  # z.(r - r_before) / before; z.r alone would not do with single precision
        curvature = v.turn(z, beta)
        if not (curvature > 0 and rz > 0):
            return error == 0, iteration, error
        alpha = rz / curvature
        size, step = v.advance(alpha)
        error = max(error, step)  # where convergence is slow, steps outgrow M r
        if error <= accuracy * size:
            if equations.balanced(rhs, x, accuracy):
                return True, iteration, error
            v.renew()
    return False, limit, error


class _Vectors:
    """The vectors of an iteration: solution x, residual r, direction p, q = A p, and `scaled`, r / largest, which the
    preconditioner takes.

    They are worked on in blocks of rows that stay in the processor's cache, which is three times as fast.
    """

    def __init__(self, equations: Equations, rhs: Array, x: Array, multigrid: Multigrid) -> None:
        self.equations, self.rhs, self.x = equations, rhs, x
        n, m = rhs.shape
        height = max(1, BLOCK // m)
        self.blocks = [slice(i, min(i + height, n)) for i in range(0, n, height)]
        self.scratch = np.empty((height + 1, m))
        self.r = rhs - equations.outflow(x) if x.any() else rhs.copy()
        self.largest = _size(self.r)
        if self.largest:
            self.p, self.q = np.zeros_like(self.r), np.zeros_like(self.r)
            self.scaled = np.empty(self.r.shape, multigrid.dtype)
            self._scale()

    def _scale(self) -> None:
        """Set `scaled`, whose size stays well inside the range of single precision."""
        np.divide(self.r, self.largest, out=self.scaled, casting="same_kind")

    def _parts(self) -> Iterator[tuple[slice, Array]]:
        """Each block, and scratch space for as many rows."""
        for b in self.blocks:
            yield b, self.scratch[: b.stop - b.start]

    def products(self, z: Floats) -> tuple[float, float]:
        """z.r and z.q"""
        zr = zq = 0.0
        for b, part in self._parts():
            np.copyto(part, z[b])
            zr += _dot(part, self.r[b])
            zq += _dot(part, self.q[b])
        return zr, zq

    def turn(self, z: Floats, beta: float) -> float:
        """p = z + beta p, and q = A p; returns p.q."""
        p, q, scratch = self.p, self.q, self.scratch
        s, gx, gy = self.equations.s, self.equations.gx, self.equations.gy
        curvature, done = 0.0, 0
        for b in self.blocks:  # the last row of a block needs the next block
            part = p[b]
            part *= beta
            part += z[b]
            np.multiply(s[b], part, out=q[b])
            flux = np.subtract(part[:, 1:], part[:, :-1], out=scratch[: len(part), 1:])
            flux *= gy[b]
            q[b, 1:] += flux
            q[b, :-1] -= flux
            upper, lower = slice(done, b.stop - 1), slice(done + 1, b.stop)
            flux = np.subtract(p[lower], p[upper], out=scratch[: b.stop - 1 - done])
            flux *= gx[upper]
            q[lower] += flux
            q[upper] -= flux
            curvature += _dot(p[upper], q[upper])
            done = b.stop - 1
        curvature += _dot(p[done:], q[done:])
        return curvature + self.equations.add_links(p, q)

    def advance(self, alpha: float) -> tuple[float, float]:
        """x += alpha p, r -= alpha q; returns the largest |x| and the largest |alpha p|."""
        size = longest = 0.0
        for b, part in self._parts():
            np.multiply(self.p[b], alpha, out=part)
            longest = max(longest, _size(part))
            self.x[b] += part
            self.r[b] -= np.multiply(self.q[b], alpha, out=part)
            np.copyto(self.scaled[b], np.multiply(self.r[b], 1 / self.largest, out=part), casting="same_kind")
            size = max(size, _size(self.x[b]))
        return size, longest

    def renew(self) -> None:
        """Compute the residual again from x, without the rounding errors of the iterations."""
        np.subtract(self.rhs, self.equations.outflow(self.x), out=self.r)
        self._scale()


def _size(a: Floats) -> float:
    return float(max(a.max(), -a.min()))


def _dot(a: Floats, b: Floats) -> float:
    return float(np.einsum("ij,ij", a, b))  # BLAS would share it among threads, and its sum would depend on them
