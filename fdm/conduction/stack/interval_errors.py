"""Where the cells of a stack err, see `fdm.conduction.interval_errors`: interval by interval along x, y and z.

A cut cell counts as if it were whole.
"""

import numpy as np

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.stack.equations import ALONG
from fdm.conduction.stack.system import Stack

AXES = 1, 2, 0  # of (L, n, m), in the order x, y, z


def stack_interval_errors(
    stack: Stack, fields: Array, pairs: Integers, sizes: Array, aim: Array
) -> tuple[Array, tuple[Array, ...]]:
    """Estimated errors (K,) of the products of pairs (K, 2) of fields (E, L, n, m), relative to their sizes (K,); and
    the share of each interval along x, (n,), along y, (m,), and of each layer, (L,), in the errors above `aim` (K,)."""
    changes = [c for axis in (0, 1, 2) for c in _changes(stack, fields, axis)]
    products = sum(np.tensordot(c * factor, c, ((1, 2, 3), (1, 2, 3))) for _, c, factor in changes)
    errors = np.asarray(products)[pairs[:, 0], pairs[:, 1]] / sizes / 12
    weight = np.zeros((len(fields), len(fields)))
    np.add.at(weight, (pairs[:, 0], pairs[:, 1]), np.where(errors > aim, 1 / sizes, 0.0) / 12)
    shares = [np.zeros(k) for k in stack.shape]
    for axis, c, factor in changes:
        missed = (c * np.tensordot(weight, c, 1)).sum(0) * factor
        shares[axis] += missed.sum(tuple(k for k in (0, 1, 2) if k != axis))
    return errors, tuple(shares[axis] for axis in AXES)


def _changes(stack: Stack, fields: Array, axis: int) -> list[tuple[int, Array, Array]]:
    """Of the flow along an axis of (L, n, m): how much it changes along it and across it within each cell; each time
    the axis along which it changes, the sizes of the changes (E, L, n, m), and by what to multiply their products."""
    between = stack.between
    low, high = side_flows(stack, fields, axis)
    across, length = _resistance(stack, axis), stack.widths[axis]
    out = [(axis, abs(high - low), across)]
    gradient = (low + high) / 2 * (across / length)
    k_volume = np.divide(length**2, across, out=np.zeros_like(across), where=across > 0)
    for other in (k for k in (0, 1, 2) if k != axis):
        (first, second), width = ALONG[other], np.broadcast_to(stack.widths[other], stack.shape)
        beside = (across[first[1:]] > 0) & (across[second[1:]] > 0) & (between[other] > 0)
        step = np.where(beside, gradient[second] - gradient[first], 0.0)
        part = width[second[1:]] / (width[first[1:]] + width[second[1:]])
        change = np.zeros_like(fields)
        change[second] += step * part
        change[first] += step * (1 - part)
        out.append((other, abs(change), k_volume))
    return out


def side_flows(stack: Stack, fields: Array, axis: int) -> tuple[Array, Array]:
    """W along an axis through the lower and the upper side of each cell, (E, L, n, m) each.

    What enters or leaves a face of the plate is what its layer beside the face lacks otherwise; at a rim with a film
    the flow is taken as that through the opposite side.
    """
    (before, after), g = ALONG[axis], stack.between[axis]
    low, high = np.zeros_like(fields), np.zeros_like(fields)
    low[after] = high[before] = g * (fields[before] - fields[after])
    if axis:
        at_low, at_high = np.ones(stack.shape, bool), np.ones(stack.shape, bool)
        at_low[after[1:]], at_high[before[1:]] = g == 0, g == 0
        rim = np.broadcast_to(stack.plan.to_fixed > 0, stack.shape) & (stack.layers.side == 0)[:, None, None]
        return np.where(rim & at_low & ~at_high, high, low), np.where(rim & at_high & ~at_low, low, high)
    (low_x, high_x), (low_y, high_y) = (side_flows(stack, fields, other) for other in (1, 2))
    lateral = high_x - low_x + high_y - low_y
    for layer in stack.layers.of_plate.tolist():
        if layer == stack.layers.beside("back"):
            low[:, layer] = high[:, layer] + lateral[:, layer]
        else:
            high[:, layer] = low[:, layer] - lateral[:, layer]
    return low, high


def _resistance(stack: Stack, axis: int) -> Array:
    """(L, n, m) K/W through each cell along an axis; 0 where it does not conduct, and through a plate with one
    temperature."""
    conductance = np.where(stack.solid, stack.metal[axis] / stack.widths[axis], 0.0)
    out = np.divide(1.0, conductance, out=np.zeros(stack.shape), where=conductance > 0)
    if axis == 0 and stack.layers.single:
        out[stack.layers.of_plate] = 0.0
    return out
