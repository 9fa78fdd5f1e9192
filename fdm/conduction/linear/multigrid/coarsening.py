"""From a grid to one with every second cell of every second row: weights of interpolation, and the coarse operator.

The weights P follow the conductances, so that they are right for jumps between materials (R.E. Alcouffe, A. Brandt,
J.E. Dendy & J.W. Painter, SIAM J. Sci. Stat. Comput. 2 (1981) 430-454), in the form of P.M. de Zeeuw (J. Comput. Appl.
Math. 33 (1990) 1-27); they sum to one, so a uniform temperature is kept. The coarse operator is Galerkin's, P'AP. A
link of conductance g costs the energy g (x1 - x2)^2; both its ends lie in one coarse element and take from the
element's corners, so it becomes links among these corners. Nine-point operators therefore stay nine-point operators,
and P'AP is plain array arithmetic. (Papers cited from memory.)

>>> row = Stencil(np.zeros((1, 3)), np.empty((0, 3)), np.array([[1.0, 3.0]]))  # 1 and 3 W/K in series are 0.75 W/K
>>> coarse, weights = coarsen(row)
>>> coarse.gy
array([[0.75]])

Coarse cells are the fine cells (2I, 2J). Element (I, J) is the block of 3 x 3 fine cells with the coarse cells (I, J)
to (I+1, J+1) at its corners; a fine cell's place in it is (a, b) = (0..2, 0..2), a corner is (p, q) = (0..1, 0..1).
Arrays over the elements have the coarse grid's shape; beyond the grid's end there is no conductance and no weight.
"""

from itertools import combinations

import numpy as np

from fdm.conduction.arrays import Array
from fdm.conduction.linear.multigrid.stencil import Stencil

Place = tuple[int, int]
Weights = dict[Place, dict[Place, Array]]


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
