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
    b: Integers  # (C,)
    resistances: tuple[tuple[int | Integers, Array], ...]  # K times: inputs and K/W, which together have `shape`
    shape: tuple[int, ...]  # of C

    @cached_property
    def conductance(self) -> Array:
        """(C,) W/K"""
        total = sum((value for _, value in self.resistances[1:]), self.resistances[0][1])
        return np.asarray(1 / total).ravel()

    @property
    def row(self) -> Integers:
        """(K, C) the numbers of the inputs."""
        return np.stack([np.broadcast_to(row, self.shape).ravel() for row, _ in self.resistances])

    @property
    def resistance(self) -> Array:
        """(K, C) K/W"""
        return np.stack([np.broadcast_to(value, self.shape).ravel() for _, value in self.resistances])

    def scaled(self, factors: Array) -> "Series":
        """The same with the resistances of each input `factors` (I,) times as large."""
        return replace(self, resistances=tuple((row, factors[row] * value) for row, value in self.resistances))


def series(along: int | None, a: Integers, b: Integers | int, *resistances: tuple[int | Integers, Array]) -> Series:
    """Conductances between nodes `a` (...) and `b`, or one node for all, of resistances (K/W) with the numbers of their
    inputs."""
    ends = np.full(a.size, b) if isinstance(b, int) else b.ravel()
    return Series(along, a.ravel(), ends, resistances, a.shape)


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
