"""Conductances of resistances in series, each of which belongs to an input."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Integers

Z, X, Y = 0, 1, 2  # axes of (L, n, m)


@dataclass(frozen=True)
class Series:
    """C conductances between two nodes each: the cells of all layers (flat numbers), then the fixed terminals.

    Each is made of K resistances in series, each given with the number of the input to which it belongs, as in
    `inputs_of`.
    """

    along: int | None  # the axis along which they lead from cell to cell; None: from cells to fixed terminals
    a: Integers  # (C,)
    b: Integers
    resistances: tuple[tuple[int | Integers, Array], ...]  # K numbers of inputs and K/W, broadcast to `shape`
    shape: tuple[int, ...]  # of C

    @cached_property
    def conductance(self) -> Array:
        """(C,) W/K"""
        total = sum((value for _, value in self.resistances[1:]), self.resistances[0][1])
        return np.broadcast_to(1 / total, self.shape).ravel()

    @property
    def row(self) -> Integers:
        """(K, C) the numbers of the inputs."""
        return np.stack([np.broadcast_to(row, self.shape).ravel() for row, _ in self.resistances])

    @property
    def resistance(self) -> Array:
        """(K, C) K/W"""
        return np.stack([self.resistance_of(k) for k in range(len(self.resistances))])

    def resistance_of(self, number: int) -> Array:
        """(C,) K/W of one of the K."""
        return np.broadcast_to(self.resistances[number][1], self.shape).ravel()

    def scaled(self, factors: Array) -> "Series":
        """The same with the resistances of each input `factors` (I,) times as large."""
        return replace(self, resistances=tuple((row, factors[row] * value) for row, value in self.resistances))


def series(along: int | None, a: Integers, b: Integers, *resistances: tuple[int | Integers, Array]) -> Series:
    """Conductances between nodes `a` and `b`, which are broadcast together with resistances (K/W) and the numbers of
    their inputs."""
    shape = np.broadcast_shapes(np.shape(a), np.shape(b), *(np.shape(r) for _, r in resistances))
    first, second = (np.broadcast_to(node, shape).ravel() for node in (a, b))
    return Series(along, first, second, resistances, shape)


def to_terminals(parts: Sequence[Series]) -> tuple[Integers, Integers, Array]:
    """The nodes of all conductances that lead to fixed terminals, these, and W/K."""
    on = [s for s in parts if s.along is None]
    if not on:
        return np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0)
    a, b, g = (np.concatenate(v) for v in zip(*((s.a, s.b, s.conductance) for s in on)))
    return a, b, g


def between_cells(parts: Sequence[Series], along: int, cells: int) -> Array:
    """(cells,) W/K from each cell to the next one along an axis."""
    on = [s for s in parts if s.along == along]
    if not on:
        return np.zeros(cells)
    first, g = (np.concatenate(v) for v in zip(*((np.minimum(s.a, s.b), s.conductance) for s in on)))
    return np.asarray(np.bincount(first, g, cells), float)
