"""Conductances of resistances in series, each of which belongs to an input."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

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

    @property
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

    def flat(values: Integers | Array | int) -> Array:
        return np.asarray(np.broadcast_to(values, shape).ravel())

    rows, values = zip(*resistances)
    return Series(
        flat(a).astype(np.intp),
        flat(b).astype(np.intp),
        np.array([flat(row) for row in rows], np.intp),
        np.array([flat(v) for v in values], float),
    )


def joined(parts: Sequence[Series]) -> tuple[Integers, Integers, Array]:
    """Nodes and W/K of all conductances."""
    if not parts:
        return np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0)
    a, b, g = (np.concatenate(v) for v in zip(*((p.a, p.b, p.conductance) for p in parts)))
    return a, b, g
