"""Where the grid errs, interval by interval, from the unit fields that the solve has anyway.

A finite-difference cell carries one gradient; the true one varies across it. What an answer misses by that is, cell by
cell, k V times the products of the changes of two gradients across the cell, / 12: those of the field itself and of
the answer's adjoint. The matrix is symmetric, so the adjoint of a network entry between two terminals is the other
terminal's unit field; only a sensor, and a highest temperature, has an adjoint of its own, one more right-hand side.
(Dual-weighted residuals: R. Becker & R. Rannacher, Acta Numerica 10 (2001) 1-102, cited from memory.)
"""

import numpy as np

from fdm.conduction.conductances import Array, Integers
from fdm.conduction.solver import System
from fdm.network.points import extended


def interval_errors(
    system: System, fields: Array, pairs: Integers, scales: Array, aim: float | Array
) -> tuple[Array, tuple[Array, Array]]:
    """Estimated error over scale of each goal (K,), the product of a pair (K, 2) of fields (E, n, m); and the part that
    each grid interval along x, (n,), and y, (m,), has in those goals whose error is above `aim`, a number or (K,)."""
    solid = system.solid
    sides_x, sides_y = side_flows(system, fields)
    out = []
    for axis, (low, high) in ((1, sides_x), (2, sides_y)):
        f = system.faces[axis - 1]
        lower, upper = (
            (f.resistance[1][:-1], f.resistance[0][1:])
            if axis == 1
            else (f.resistance[1][:, :-1], f.resistance[0][:, 1:])
        )
        # the axis has no face, and a cut cell may be void at one: the other side stands for both
        lower, upper = np.where(np.isfinite(lower), lower, upper), np.where(np.isfinite(upper), upper, lower)
        across = np.where(solid & np.isfinite(lower), lower + upper, 0.0)  # K/W through the whole cell
        width = np.diff(system.raster.x)[:, None] if axis == 1 else np.diff(system.raster.y)[None]
        k_volume = np.divide(width**2, across, out=np.zeros_like(across), where=across > 0)
        gradient = (low + high) / 2 * (across / width)
        out.append((abs(high - low), across, abs(_change(gradient, solid, 3 - axis)), k_volume))
    products = [np.tensordot(c * factor, c, ((1, 2), (1, 2))) for x in out for c, factor in (x[:2], x[2:])]
    errors = sum(products)[pairs[:, 0], pairs[:, 1]] / scales / 12  # type: ignore[index]  # there are products
    weight = np.zeros((len(fields), len(fields)))
    np.add.at(weight, (pairs[:, 0], pairs[:, 1]), np.where(errors > aim, 1 / scales, 0.0) / 12)

    def missed(change: Array, factor: Array) -> Array:
        """(n, m) sum over goals of change change factor"""
        return np.einsum("eij,eij->ij", change, np.tensordot(weight, change, 1)) * factor

    (x_along, x_across), (y_along, y_across) = ((missed(*x[:2]), missed(*x[2:])) for x in out)
    return errors, ((x_along + y_across).sum(1), (y_along + x_across).sum(0))


def _change(values: Array, solid: np.ndarray, axis: int) -> Array:
    """Change across each cell, from the means with its solid neighbours along an axis."""
    up = [slice(None)] * 3
    down = list(up)
    up[axis], down[axis] = slice(1, None), slice(None, -1)
    both = solid[tuple(up[1:])] & solid[tuple(down[1:])]
    step = np.where(both, values[tuple(up)] - values[tuple(down)], 0.0)
    out = np.zeros_like(values)
    out[tuple(up)] += step / 2
    out[tuple(down)] += step / 2
    return out


def side_flows(system: System, fields: Array) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """W along +x through the lower and the upper side of every cell, (E, n, m) each; then along +y. They differ from
    the flow between the two cells where a source lies on the face."""
    ext = extended(system, fields)
    fixed = len(system.ties.direct)
    out = []
    for axis, f in enumerate(system.faces):
        inside = slice(1, -1)
        before, after = (
            (ext[:, :-1, inside], ext[:, 1:, inside]) if axis == 0 else (ext[:, inside, :-1], ext[:, inside, 1:])
        )
        into = (before - after) * np.where(np.isfinite(f.through), f.through, 0.0)
        out_of = into.copy()
        for h, inlet in enumerate(system.inlets):
            if inlet.axis == axis and inlet.at is not None and inlet.face_share is not None:
                g0, g1 = f.conductance(0, inlet.at), f.conductance(1, inlet.at)
                into[fixed + h][inlet.at] -= inlet.face_share * g0 / (g0 + g1)
                out_of[fixed + h][inlet.at] += inlet.face_share * g1 / (g0 + g1)
        at: tuple[Integers, Integers] = np.nonzero(system.holder[axis] >= 0)  # type: ignore[assignment]
        if len(at[0]):
            held = (np.arange(len(fields))[:, None] == system.holder[axis][at]).astype(float)
            into[:, *at] = (before[:, *at] - held) * f.conductance(0, at)
            out_of[:, *at] = (held - after[:, *at]) * f.conductance(1, at)
        out.append((out_of[:, :-1], into[:, 1:]) if axis == 0 else (out_of[:, :, :-1], into[:, :, 1:]))
    return out[0], out[1]
