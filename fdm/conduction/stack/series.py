"""Conductances of resistances in series, each of which belongs to an input."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Integers


@dataclass(frozen=True)
class Series:
    """C conductances between two nodes each: the cells of all layers (flat numbers), then the fixed terminals.

    Each is made of K resistances in series. `row` has the number of the input to which a resistance belongs, as in
    `inputs_of`; -1 where there is none.
    """

    a: Integers  # (C,)
    b: Integers
    row: Integers  # (K, C)
    resistance: Array  # (K, C) K/W

    @cached_property
    def conductance(self) -> Array:
        """(C,) W/K"""
        return np.asarray(1 / self.resistance.sum(0))

    def scaled(self, factors: Array) -> "Series":
        """The same with the resistances of each input `factors` (I,) times as large."""
        factor = np.where(self.row < 0, 1.0, factors[self.row])
        return replace(self, resistance=factor * self.resistance)


def series(a: Integers, b: Integers, *resistances: tuple[int | Integers, Array]) -> Series:
    """Conductances between nodes `a` and `b`, which are broadcast together with resistances (K/W) and the numbers of
    their inputs."""
    shape = np.broadcast_shapes(np.shape(a), np.shape(b), *(np.shape(r) for _, r in resistances))
    row, resistance = np.empty((len(resistances), *shape), np.intp), np.empty((len(resistances), *shape))
    for k, (number, value) in enumerate(resistances):
        row[k], resistance[k] = number, value
    first, second = np.empty(shape, np.intp), np.empty(shape, np.intp)
    first[...], second[...] = a, b
    count = len(resistances)
    return Series(first.ravel(), second.ravel(), row.reshape(count, -1), resistance.reshape(count, -1))


def joined(parts: Sequence[Series]) -> tuple[Integers, Integers, Array]:
    """Nodes and W/K of all conductances."""
    if not parts:
        return np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0)
    a, b, g = (np.concatenate(v) for v in zip(*((p.a, p.b, p.conductance) for p in parts)))
    return a, b, g
