"""Relaxation by grid lines: all lines of one colour are solved at once, by cyclic reduction.

Graded cells couple strongly in one direction here and in the other there; relaxing single cells would leave errors that
are smooth along the strong direction only. Solving whole lines removes these. Cyclic reduction (R.W. Hockney, J. ACM 12
(1965) 95-113, cited from memory) eliminates each second unknown of every line in each step, so that numpy works on
long rows.

>>> b = np.array([[1.0], [0.0], [1.0]])  # 2 x0 - x1 = 1, -x0 + 2 x1 - x2 = 0, -x1 + 2 x2 = 1
>>> Lines(np.full((3, 1), 2.0), np.ones((2, 1)), np.empty(1)).solve(b)
>>> b.ravel()
array([1., 1., 1.])
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.arrays import Array
from fdm.conduction.linear.multigrid.stencil import Floats, Stencil

Place = tuple[slice, slice]
Term = tuple[Floats, Place, Place]  # conductance, where it brings heat to, where from

NEGLIGIBLE = 1e-20  # line couplings below this share of the diagonal are dropped; they only breed denormal numbers


class Lines:
    """Tridiagonal systems along axis 0, one for each column, by cyclic reduction.

    diagonal[i] x[i] - link[i-1] x[i-1] - link[i] x[i+1] = b[i]; diagonal (n, k), link (n - 1, k). Computes in the type
    of `scratch`, an array of at least n // 2 * k numbers that is shared to save memory and cache.
    """

    def __init__(self, diagonal: Array, link: Array, scratch: Floats) -> None:
        dtype, columns = scratch.dtype, diagonal.shape[1]
        self.scratch = scratch[: len(diagonal) // 2 * columns].reshape(-1, columns)
        self.steps = []
        diagonal, link = np.ascontiguousarray(diagonal), np.ascontiguousarray(link)  # rows may come as a turned array
        while len(diagonal) > 1:  # the odd unknowns are eliminated; what is left is tridiagonal in the even ones
            pivot, before, after = diagonal[1::2], link[0::2], link[1::2]
            up, down = before / pivot, after / pivot[: len(after)]
            for share in (up, down):
                share[np.abs(share) < NEGLIGIBLE] = 0
            self.steps.append((up.astype(dtype), down.astype(dtype), (1 / pivot).astype(dtype)))
            diagonal = diagonal[0::2].copy()
            diagonal[: len(before)] -= before * up
            diagonal[1 : 1 + len(after)] -= after * down
            link = up[: len(after)] * after
        self.last = (1 / diagonal).astype(dtype)

    def solve(self, b: NDArray[Any]) -> None:
        """Overwrite b (n, k) with the solution."""
        scratch, halves = self.scratch, []
        for up, down, inverse in self.steps:
            even, odd = b[0::2], b[1::2]
            above, below = even[: len(up)], even[1 : 1 + len(down)]  # the even neighbours of the odd ones
            above += np.multiply(up, odd, out=scratch[: len(up)])
            below += np.multiply(down, odd[: len(down)], out=scratch[: len(down)])
            halves.append((odd, above, below))
            b = even
        b *= self.last
        for (up, down, inverse), (odd, above, below) in zip(reversed(self.steps), reversed(halves)):
            odd *= inverse
            odd += np.multiply(up, above, out=scratch[: len(up)])
            odd[: len(down)] += np.multiply(down, below, out=scratch[: len(down)])


class Zebra:
    """Relaxation by lines along axis 0. Even and odd columns are kept apart: b[0], x[0] and b[1], x[1]."""

    def __init__(self, centre: Array, stencil: Stencil, scratch: Floats) -> None:
        dtype = scratch.dtype
        n, m = centre.shape
        shapes = (n, (m + 1) // 2), (n, m // 2)
        self.b, self.x = ([np.empty(shape, dtype) for shape in shapes] for _ in range(2))
        self.lines = [Lines(centre[:, k::2], stencil.gx[:, k::2], scratch) for k in (0, 1)]
        self.scratch = scratch
        self.terms: tuple[list[Term], list[Term]] = [], []  # of the even and the odd columns
        for across, (left, _), (right, _) in list(stencil.links())[1:]:
            even_odd, odd_even = (np.ascontiguousarray(across[:, k::2], dtype) for k in (0, 1))
            a, b = even_odd.shape[1], odd_even.shape[1]
            for g, even, odd in (
                (even_odd, (left, slice(a)), (right, slice(a))),  # column 2k to 2k + 1
                (odd_even, (right, slice(1, b + 1)), (left, slice(b))),  # column 2k + 1 to 2k + 2
            ):
                self.terms[0].append((g, even, odd))
                self.terms[1].append((g, odd, even))

    def load(self, k: int, out: Floats) -> Floats:
        """out = right-hand side of the lines of colour k, the other colour being as it is."""
        np.copyto(out, self.b[k])
        for g, here, there in self.terms[k]:
            out[here] += np.multiply(g, self.x[1 - k][there], out=self.scratch[: g.size].reshape(g.shape))
        return out

    def relax(self, k: int) -> None:
        self.lines[k].solve(self.load(k, self.x[k]))
