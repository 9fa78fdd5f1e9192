"""Where the grid errs, interval by interval, from the unit fields that the solve has anyway.

A finite-difference cell carries one gradient; the true one varies across it. The error of an answer by that is the sum
over cells of k V / 12 times the products of the changes of two gradients across the cell: those of the field itself and
of the answer's adjoint. The matrix is symmetric, so the adjoint of a network entry between two terminals is the other
terminal's unit field; only a sensor, and a highest temperature, has an adjoint of its own, one more right-hand side.
(Dual-weighted residuals: R. Becker & R. Rannacher, Acta Numerica 10 (2001) 1-102, cited from memory.)

Where conductivities meet, gradients jump, which is no error. Cells beside a round or slanted edge between solids, whose
jump the triangles there follow (`element_conductances.py`), are read from their own side of it alone.
"""

from types import EllipsisType

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.faces import half_cells
from fdm.conduction.flows import side_flows
from fdm.conduction.properties import spread_conductivity
from fdm.conduction.system import System


def interval_errors(
    system: System, fields: Array, pairs: Integers, scales: Array, aim: float | Array
) -> tuple[Array, tuple[Array, Array]]:
    """Estimated errors (K,) of goals, relative to their scales (K,); and the share of each grid interval along x, (n,),
    and along y, (m,), in the errors of those goals that are above `aim`, a number or (K,). A goal is the product of a
    pair (K, 2) of the fields (E, n, m)."""
    dx, dy = system.raster.widths
    widths = dx[:, None], dy[None]
    cut = _cut_between_solids(system)
    crossed = [_crossed(system, cut, axis) for axis in (0, 1)] if cut.any() else None
    conductivity = _conductivity(system)
    out: list[tuple[Array, Array, Array, Array]] = []
    for axis, (low, high) in enumerate(side_flows(system, fields)):
        along = 1 - axis
        beside = _both_beside(system.solid, along)
        if crossed is not None:
            low, high, known = _on_own_side(low, high, crossed[axis], axis)
            beside &= _both_beside(known, along) & ~crossed[along]
        across = _through_cells(system, cut, conductivity[axis], axis)
        width = widths[axis]
        k_volume = np.divide(width**2, across, out=np.zeros_like(across), where=across > 0)
        gradient = (low + high) / 2 * (across / width)
        change = _change(gradient, beside, widths[along] / conductivity[along], along)
        out.append((abs(high - low), across, abs(change), k_volume))
    products = [np.tensordot(c * factor, c, ((1, 2), (1, 2))) for x in out for c, factor in (x[:2], x[2:])]
    errors = np.sum(products, 0)[pairs[:, 0], pairs[:, 1]] / scales / 12
    weight = np.zeros((len(fields), len(fields)))
    np.add.at(weight, (pairs[:, 0], pairs[:, 1]), np.where(errors > aim, 1 / scales, 0.0) / 12)

    def missed(change: Array, factor: Array) -> Array:
        """(n, m) error of each cell: the products of the pairs' changes, summed over the goals, times `factor`."""
        return np.asarray(np.einsum("eij,eij->ij", change, np.tensordot(weight, change, 1)) * factor)

    (x_along, x_across), (y_along, y_across) = ((missed(*x[:2]), missed(*x[2:])) for x in out)
    return errors, ((x_along + y_across).sum(1), (y_along + x_across).sum(0))


def _sides(axis: int) -> tuple[tuple[EllipsisType | slice, ...], tuple[EllipsisType | slice, ...]]:
    """Of cells (..., n, m), those before and those after each face between two; of faces, each cell's lower and
    upper one."""
    low, high = slice(None, -1), slice(1, None)
    return ((..., low, slice(None)), (..., high, slice(None))) if axis == 0 else ((..., low), (..., high))


def _both_beside(cells: Bools, axis: int) -> Bools:
    """Faces between two of these cells."""
    before, after = _sides(axis)
    return cells[before] & cells[after]


def _change(values: Array, beside: Bools, weight: Array, axis: int) -> Array:
    """Change across each cell of gradients (E, n, m) along the other axis, from the means with its neighbours at the
    faces `beside`. Two neighbours share the step between them as width over conductivity, `weight` (n, m): conductivity
    times the slope of that gradient is alike on both sides, for it is how the flux through the face varies along it."""
    before, after = _sides(axis)
    step = np.where(beside, values[after] - values[before], 0.0)
    share = weight[after] / (weight[after] + weight[before])
    out = np.zeros_like(values)
    out[after] += step * share
    out[before] += step * (1 - share)
    return out


def _conductivity(system: System) -> tuple[Array, Array]:
    """(n, m) conductivities along x and along y of the owners of the cells' centres, W/(m K), or W/K in the plate view
    (times thickness); 1 where there is no solid."""
    k = spread_conductivity(system.section, system.properties, (), "x")
    of_owner = np.where(system.properties.solid[:, None], k, 1.0)[system.raster.owner[1:-1, 1:-1]]
    return of_owner[..., 0], of_owner[..., 1]


def _through_cells(system: System, cut: Bools, conductivity: Array, axis: int) -> Array:
    """(n, m) K/W through each cell, 0 where there is no solid. A cut cell counts as if the owner of its centre filled
    it."""
    at_lower, at_upper = _sides(axis)
    before, after = system.faces[axis].resistance
    lower, upper = after[at_lower].copy(), before[at_upper].copy()
    if cut.any():
        low, high, _ = half_cells(system.section, system.raster)[axis]
        lower[cut], upper[cut] = (low[at_lower] / conductivity)[cut], (high[at_upper] / conductivity)[cut]
    # the axis has no face, and a cut cell may be void at one: the other side stands for both
    lower, upper = np.where(np.isfinite(lower), lower, upper), np.where(np.isfinite(upper), upper, lower)
    return np.where(system.solid & np.isfinite(lower), lower + upper, 0.0)


def _cut_between_solids(system: System) -> Bools:
    """(n, m) solid cells in which a round or slanted edge lies between two solids."""
    out = np.zeros(system.solid.shape, bool)
    if system.cut is not None:
        piece = system.cut.piece[system.properties.solid[system.cut.sides].all(1)]
        out[system.cut.i[piece], system.cut.j[piece]] = True
    return out & system.solid


def _crossed(system: System, cut: Bools, axis: int) -> Bools:
    """Faces with such an edge between the centres of the two cells beside them."""
    owner, (before, after) = system.raster.owner[1:-1, 1:-1], _sides(axis)
    crossed: Bools = (owner[before] != owner[after]) & (cut[before] | cut[after]) & _both_beside(system.solid, axis)
    return crossed


def _on_own_side(low: Array, high: Array, crossed: Bools, axis: int) -> tuple[Array, Array, Bools]:
    """Flows (E, n, m) through the lower and upper side of each cell, and the cells (n, m) that have at least one side
    that is not crossed. The flow through a crossed side is that of the opposite side, changed by as much as the flow
    changes across the cell beyond the opposite side."""
    before, after = _sides(axis)
    at_low, at_high = np.zeros((2, *low.shape[1:]), bool)
    at_low[after], at_high[before] = crossed, crossed
    change = np.where(at_low | at_high, 0.0, high - low)
    change_before, change_after = np.zeros((2, *change.shape))
    change_before[after], change_after[before] = change[before], change[after]
    known = ~(at_low & at_high)
    own_low, own_high = np.where(at_low, high - change_after, low), np.where(at_high, low + change_before, high)
    return own_low * known, own_high * known, known
