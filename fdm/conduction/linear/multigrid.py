"""Temperatures of large grids: conjugate gradients with a structured multigrid preconditioner.

The system is kept as conductances, never as a matrix. On an (n, m) array of cells, for every cell,

    sum over its neighbours of g (x - x_neighbour) + s x = rhs

with `gx` (n - 1, m) and `gy` (n, m - 1) between neighbours along axis 0 and 1, and `s` (n, m) to known
temperatures (films, held faces); W/K, or any unit some 15 powers of ten around it. Heat flows are conductance times
a temperature difference here too: on graded grids that loses a hundred times less to rounding than a stored diagonal.

How it works, from the inside out:

- `Lines`: tridiagonal systems, all grid lines of one colour at once, by cyclic reduction (Hockney 1965, J. ACM 12,
  95-113). Every step eliminates each second unknown of every line, so numpy works on long rows.
- `Zebra`: relaxation by lines of one direction, the even ones and then the odd ones. Graded cells couple strongly
  in one direction here, in the other there, so a cycle relaxes both.
- `interpolation`: from every second cell of every second row to all cells. The weights follow the conductances and
  are right for jumps between materials (Alcouffe, Brandt, Dendy, Painter 1981, SIAM J. Sci. Stat. Comput. 2,
  430-454), in the form of de Zeeuw (1990, J. Comput. Appl. Math. 33, 1-27); they sum to one, so a uniform
  temperature is kept.
- `coarsen`: the Galerkin operator P'AP of that interpolation. A link of conductance g costs the energy
  g (x1 - x2)^2; its ends lie in one coarse element, and take from its corners: it becomes links among the corners.
  Nine-point stencils therefore stay nine-point stencils, and P'AP is plain array arithmetic.
- `Multigrid`: a symmetric V-cycle, one relaxation before and one after each coarse correction; SuperLU at the end.
- `solve`: flexible conjugate gradients (Notay 2000, SIAM J. Sci. Comput. 22, 1444-1460; the Polak-Ribiere form), which
  bear a preconditioner in single precision. They end on the error in kelvin, for which max |M r| is a good
  estimate; the residual itself cannot get small in doubles where conductances span nine powers of ten. The heat
  balance is asked for as well: it sees the one error that M may not, a shift of everything behind a very poor film.

(The papers are cited from memory.)
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import scipy.sparse as sp
import scipy.sparse.linalg as sla
from numpy.typing import DTypeLike, NDArray

Array = NDArray[np.float64]
Floats = NDArray[np.floating]  # single or double, as the preconditioner was told
Links = tuple[NDArray[np.intp], NDArray[np.intp], Array]  # flat numbers of two cells, and the conductance between them
Place = tuple[int, int]
Weights = dict[Place, dict[Place, Array]]

VOID = 1e-3  # of the preconditioner only: conductance across voids, over the smallest across solid
NEGLIGIBLE = 1e-20  # line couplings below this share of the diagonal are dropped; they only breed denormal numbers
COARSEST, SHARE = 6000, 48  # SuperLU takes over at so many cells, or a 48th of all: a further level costs iterations
NARROW = 16  # strips of so many rows or columns are quickest by SuperLU
BLOCK = 32768  # cells that are worked on together in the vector operations, to stay in the processor's cache


# ------------------------------------------------------------------------------------------------ stencils


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
        symmetric = {"SymmetricMode": True}
        lu = sla.splu(self.matrix(links), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options=symmetric)
        return lambda b: lu.solve(b.astype(float).ravel()).reshape(b.shape)


# ---------------------------------------------------------------------------------------------- relaxation


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
        self.terms: tuple[list, list] = [], []  # of the even and the odd columns: (conductance, here, there)
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


class Level:
    """One grid of the V-cycle: relaxation on the way down to the next coarser grid, and on the way up again.

    Down: rows (lines along axis 1) even, odd, then columns even, odd; up: the reverse, so that the cycle is symmetric.
    Odd columns come last and first: relaxed, they have no residual to restrict, and about to be relaxed again, they
    need no correction.
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


# ---------------------------------------------------------------------------------------------- coarsening
#
# Coarse cells are the fine cells (2I, 2J). Element (I, J) is the block of 3 x 3 fine cells with the coarse cells (I, J)
# to (I+1, J+1) at its corners; a fine cell's place in it is (a, b) = (0..2, 0..2), a corner is (p, q) = (0..1, 0..1).
# Arrays over the elements have the coarse grid's shape; beyond the grid's end there is no conductance and no weight.


def _by_place(g: Array | None, shape: Place) -> dict[Place, Array]:
    """Split g, numbered by the lower indices of a link (or by cell), by those indices' place in the element."""
    n, m = shape
    padded = np.zeros((2 * n, 2 * m))
    if g is not None:
        padded[: g.shape[0], : g.shape[1]] = g
    return {(a, b): np.ascontiguousarray(padded[a::2, b::2]) for a in (0, 1) for b in (0, 1)}


def _next(v: Array, axis: int) -> Array:
    """v of the next element along the axis."""
    out = np.zeros_like(v)
    if axis:
        out[:, :-1] = v[:, 1:]
    else:
        out[:-1] = v[1:]
    return out


def _previous(v: Array, axis: int) -> Array:
    out = np.zeros_like(v)
    if axis:
        out[:, 1:] = v[:, :-1]
    else:
        out[1:] = v[:-1]
    return out


def _to_one(weight: dict[Place, Array]) -> dict[Place, Array]:
    """Scale the weights of each cell so that they sum to one; a cell without any follows the first corner."""
    total = np.add.reduce(list(weight.values()))
    none = total <= 0
    total[none] = 1
    out = {corner: w / total for corner, w in weight.items()}
    out[0, 0][none] = 1
    return out


def interpolation(stencil: Stencil) -> Weights:
    """weight[place][corner]: how much a fine cell at that place of an element takes from that corner.

    Places are (0, 0), (1, 0), (0, 1), (1, 1); the others belong to the next elements. Cells on an edge take from
    its two ends by the strength of their coupling to either side, max(|sum|, |diagonal links|) (de Zeeuw 1990). A cell
    in the middle takes what its own equation, without s, gives for its neighbours' values.
    """
    shape = (stencil.s.shape[0] + 1) // 2, (stencil.s.shape[1] + 1) // 2
    gx, gy, diagonal, anti = (_by_place(g, shape) for g in (stencil.gx, stencil.gy, stencil.diagonal, stencil.anti))
    weight = {(0, 0): {(0, 0): np.ones(shape)}}
    for along, place, across in ((gx, (1, 0), 1), (gy, (0, 1), 0)):
        side = {}
        for end, straight, a, b in (
            ((0, 0), along[0, 0], _previous(diagonal[place[::-1]], across), anti[0, 0]),
            (place, along[place], diagonal[place], _previous(anti[1, 1], across)),
        ):
            side[end] = np.maximum(np.abs(straight + a + b), np.maximum(np.abs(a), np.abs(b)))
        weight[place] = _to_one(side)
    middle = {}
    for p, q in ((0, 0), (0, 1), (1, 0), (1, 1)):
        along_x = weight[1, 0][p, 0]
        along_y = weight[0, 1][0, q]
        w = gx[p, 1] * (_next(along_y, 0) if p else along_y)
        w += gy[1, q] * (_next(along_x, 1) if q else along_x)
        w += (diagonal if p == q else anti)[p, q]
        middle[p, q] = np.maximum(w, 0, out=w)
    weight[1, 1] = _to_one(middle)
    return weight


def coarsen(stencil: Stencil) -> tuple[Stencil, Weights]:
    """The Galerkin operator P'AP on every second cell of every second row, and the weights of P."""
    shape = (stencil.s.shape[0] + 1) // 2, (stencil.s.shape[1] + 1) // 2
    weight = interpolation(stencil)
    at: Weights = dict(weight)
    at[2, 0], at[0, 2], at[2, 2] = ({corner: weight[0, 0][0, 0]} for corner in ((1, 0), (0, 1), (1, 1)))
    at[1, 2] = {(p, 1): _next(w, 1) for (p, _), w in weight[1, 0].items()}
    at[2, 1] = {(1, q): _next(w, 0) for (_, q), w in weight[0, 1].items()}

    corners = (0, 0), (0, 1), (1, 0), (1, 1)
    nothing = np.zeros(1)
    pairs = {pair: np.zeros(shape) for pair in combinations(corners, 2)}  # links among an element's corners
    s = {corner: np.zeros(shape) for corner in corners}

    def spread(g: Array, d: dict[Place, Array]) -> None:
        """Add the energy g (sum of d x over corners)^2 as links among the corners."""
        known = sorted(d)
        for k, one in enumerate(known[:-1]):
            gd = g * d[one]
            for other in known[k + 1 :]:
                pairs[one, other] -= gd * d[other]

    for g, start, end in (
        (stencil.gx, (0, 0), (1, 0)),
        (stencil.gy, (0, 0), (0, 1)),
        (stencil.diagonal, (0, 0), (1, 1)),
        (stencil.anti, (1, 0), (0, 1)),
    ):
        if g is None:
            continue
        for (a, b), conductance in _by_place(g, shape).items():
            one, other = at[a + start[0], b + start[1]], at[a + end[0], b + end[1]]
            spread(conductance, {c: one.get(c, nothing) - other.get(c, nothing) for c in {*one, *other}})
    for place, conductance in _by_place(stencil.s, shape).items():
        spread(conductance, weight[place])  # d sums to one here, and so P's is what the links leave over
        for corner, w in weight[place].items():
            s[corner] += conductance * w

    return Stencil(
        s[0, 0] + _previous(s[1, 0], 0) + _previous(s[0, 1] + _previous(s[1, 1], 0), 1),
        (pairs[(0, 0), (1, 0)] + _previous(pairs[(0, 1), (1, 1)], 1))[:-1],
        (pairs[(0, 0), (0, 1)] + _previous(pairs[(1, 0), (1, 1)], 0))[:, :-1],
        pairs[(0, 0), (1, 1)][:-1, :-1],
        pairs[(0, 1), (1, 0)][:-1, :-1],
    ), weight


# ------------------------------------------------------------------------------------------- preconditioner


def _void_conductance(g: Array) -> float:
    known = g[g > 0]
    return VOID * float(known.min()) if known.size else 1.0


class Multigrid:
    """z = M(r): a symmetric positive definite approximation of the inverse of the system, one V-cycle from zero.

    s (n, m), gx (n - 1, m), gy (n, m - 1): conductances >= 0; solid (n, m) bool: the cells that exist. Conductances of
    the others must be zero, and so must r be; z comes back as zero there. One set-up serves all right-hand sides,
    and systems whose conductances are some 20 % off. Grids of up to `coarsest` cells are left to SuperLU,
    and only there are `links` heeded.
    """

    def __init__(
        self,
        s: Array,
        gx: Array,
        gy: Array,
        solid: NDArray[np.bool_] | None = None,
        dtype: DTypeLike = np.float32,
        coarsest: int | None = None,
        links: Links | None = None,
    ) -> None:
        self.dtype = np.dtype(dtype)
        self.solid = solid
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
        self.solve_coarsest = stencil.factorised(None if self.levels else links)

    def __call__(self, r: Floats) -> Floats:
        for level in self.levels:
            r = level.down(r)
        z = self.solve_coarsest(r).astype(self.dtype, copy=False)
        for level in reversed(self.levels):
            z = level.up(z)
        return z if self.solid is None else np.multiply(z, self.solid, out=z)


# --------------------------------------------------------------------------------------- conjugate gradients


@dataclass(frozen=True, eq=False)
class Solution:
    """`x` has the shape of the right-hand side(s) and is zero where not solid; the rest has one entry for each.

    `error` estimates the largest error of x, mostly from above: one more iteration followed it.
    """

    x: Array
    iterations: tuple[int, ...]
    error: tuple[float, ...]


def _dot(a: Floats, b: Floats) -> float:
    return float(np.einsum("ij,ij", a, b))  # BLAS would share it among threads, and its sum would depend on them


def _add_links(links: Links, x: Array, q: Array) -> float:
    """Add to q what links carry at x, both (n, m) and contiguous; returns their sum of g (x - x)^2."""
    a, b, g = links
    drop = x.reshape(-1)[a] - x.reshape(-1)[b]
    np.add.at(q.reshape(-1), a, g * drop)
    np.add.at(q.reshape(-1), b, -g * drop)
    return float(np.einsum("i,i,i", g, drop, drop))


def outflow(s: Array, gx: Array, gy: Array, x: Array, links: Links | None = None) -> Array:
    """The heat (n, m) that leaves each cell at temperatures x (n, m): A x, as flux differences.

    >>> outflow(np.array([[2.0, 0.0]]), np.empty((0, 2)), np.array([[3.0]]), np.array([[1.0, 5.0]]))
    array([[-10.,  12.]])
    """
    q = s * x
    flux = (x[1:] - x[:-1]) * gx
    q[1:] += flux
    q[:-1] -= flux
    flux = (x[:, 1:] - x[:, :-1]) * gy
    q[:, 1:] += flux
    q[:, :-1] -= flux
    if links is not None:
        _add_links(links, x, q)
    return q


def _conjugate_gradients(
    s: Array,
    gx: Array,
    gy: Array,
    rhs: Array,
    multigrid: Multigrid,
    accuracy: float,
    limit: int,
    x: Array,
    links: Links | None = None,
) -> tuple[bool, int, float]:
    """Improve x (n, m) in place. Returns whether it is accurate now, the number of iterations, the estimated error.

    Vectors are worked on in blocks of rows that stay in the processor's cache, which is three times as fast.
    """
    n, m = rhs.shape
    height = max(1, BLOCK // m)
    blocks = [slice(i, min(i + height, n)) for i in range(0, n, height)]
    scratch = np.empty((height + 1, m))
    r = rhs - outflow(s, gx, gy, x, links) if x.any() else rhs.copy()
    largest = float(max(r.max(), -r.min()))
    if largest == 0:
        return True, 0, 0.0
    p, q, scaled = np.zeros_like(r), np.zeros_like(r), np.empty(r.shape, multigrid.dtype)
    np.divide(r, largest, out=scaled, casting="same_kind")  # keeps single precision well inside its range
    rz, alpha, error = 1.0, 0.0, np.inf
    for iteration in range(1, limit + 1):
        z = multigrid(scaled)  # M r / largest; p and x' = sum(alpha p) are in the same unit
        error = float(max(z.max(), -z.min())) * largest
        before, rz, zq = rz, 0.0, 0.0
        for b in blocks:
            part = scratch[: b.stop - b.start]
            np.copyto(part, z[b])
            rz += _dot(part, r[b])
            zq += _dot(part, q[b])
        beta = -alpha * zq / before  # z.(r - r_before) / before; z.r alone would not do with single precision
        curvature, done = 0.0, 0
        for b in blocks:  # p = z + beta p, and q = A p save for the last row, which awaits the next block
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
        if links is not None:
            curvature += _add_links(links, p, q)
        if not (curvature > 0 and rz > 0):
            return error == 0, iteration, error
        alpha = rz / curvature
        size = 0.0
        for b in blocks:
            part = np.multiply(p[b], alpha, out=scratch[: b.stop - b.start])
            error = max(error, float(part.max()), -float(part.min()))  # where convergence is slow, steps outgrow M r
            x[b] += part
            r[b] -= np.multiply(q[b], alpha, out=part)
            np.copyto(scaled[b], np.multiply(r[b], 1 / largest, out=part), casting="same_kind")
            size = max(size, float(x[b].max()), -float(x[b].min()))
        if error <= accuracy * size:
            if _balanced(s, rhs, x, accuracy):
                return True, iteration, error
            np.subtract(rhs, outflow(s, gx, gy, x, links), out=r)  # rid of what rounding made of it over the iterations
            np.divide(r, largest, out=scaled, casting="same_kind")
    return False, limit, error


def _balanced(s: Array, rhs: Array, x: Array, accuracy: float) -> bool:
    """Whether what flows in flows out again, to that share of it, or as far as doubles can tell."""
    inflow = rhs - s * x
    through = float(np.maximum(inflow, 0).sum())
    rounding = float(np.finfo(float).eps) * float(np.abs(rhs).sum())
    return abs(float(inflow.sum())) <= accuracy * through + rounding


def _free_memory() -> float:
    """Bytes, as the system tells; infinite where it does not."""
    try:
        with open("/proc/meminfo") as lines:
            return next(1024.0 * int(line.split()[1]) for line in lines if line.startswith("MemAvailable"))
    except (OSError, StopIteration):
        return float("inf")


def check_memory(cells: int) -> None:
    """Refuse a factorisation that does not fit."""
    need, free = 60 * cells * np.log2(cells + 1), _free_memory()  # measured from 300 x 300 to 2000 x 2000 cells
    if need > free:
        raise MemoryError(
            f"{cells} cells with such contrasts need a direct factorisation of about {need / 1e9:.2g} GB, but only "
            f"{free / 1e9:.2g} GB of memory are free; use a coarser grid"
        )


def solve(
    s: Array,
    gx: Array,
    gy: Array,
    rhs: Array,
    solid: NDArray[np.bool_] | None = None,
    *,
    accuracy: float = 1e-9,
    multigrid: Multigrid | None = None,
    links: Links | None = None,
) -> Solution:
    """Temperatures x of `sum g (x - x_neighbour) + s x = rhs`, for one rhs (n, m) or several (k, n, m).

    s (n, m), gx (n - 1, m), gy (n, m - 1): conductances >= 0; solid (n, m) bool: the cells that exist, where None is
    all; conductances and rhs of the others must be zero. `links`: further conductances between any two cells, which may
    be negative; the preconditioner does without. Every connected solid region needs an s above zero somewhere.
    Ends when the largest error of x is below `accuracy` times the largest |x|, and the heat balance closes as well.

    Where multigrid in single precision takes too many iterations, double precision is tried, and then SuperLU (each
    inside conjugate gradients). A `multigrid` of conductances the same or some 20 % off saves the set-up.

    Raises MemoryError where SuperLU is needed and does not fit, ArithmeticError where nothing converges.

    >>> nothing = np.empty((0, 3))
    >>> s, gy = np.array([[2.0, 0.0, 2.0]]), np.array([[1.0, 1.0]])
    >>> solve(s, nothing, gy, np.array([[20.0, 0.0, 0.0]])).x.round(6)
    array([[8.333333, 5.      , 1.666667]])
    """
    several = rhs.reshape(-1, *s.shape)
    x, iterations, errors = np.zeros(several.shape), [], []
    stages = iter(((np.float32, None, 30), (np.float64, None, 60), (np.float64, s.size, 20)))
    dtype, coarsest, limit = next(stages)
    for k, b in enumerate(several):
        count = 0
        while True:
            if multigrid is None:
                if coarsest is not None:
                    check_memory(s.size)
                try:
                    multigrid = Multigrid(s, gx, gy, solid, dtype, coarsest, links)
                except RuntimeError as singular:  # SuperLU's word for it
                    raise ArithmeticError(f"the temperatures are not determined: {singular}") from singular
            accurate, used, error = _conjugate_gradients(s, gx, gy, b, multigrid, accuracy, limit, x[k], links)
            count += used
            if accurate:
                break
            multigrid = None
            try:
                dtype, coarsest, limit = next(stages)
            except StopIteration:
                raise ArithmeticError(
                    f"the temperatures of {s.size} cells do not converge (error {error:.1e} after {count} iterations); "
                    "is a part without any way for its heat to leave, or are conductances out of all proportion?"
                ) from None
        iterations.append(count)
        errors.append(error)
    return Solution(x.reshape(rhs.shape), tuple(iterations), tuple(errors))
