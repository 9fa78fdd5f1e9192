"""The conductances of layers of cells, and what flows at any temperatures of them."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers, Links
from fdm.conduction.linear.direct import factorised
from fdm.conduction.linear.multigrid import check_memory
from fdm.errors import InputError

PERFECT = 1e4  # of the largest conductance: between cells that share a temperature, for the inverse before the steps

ALL, LOW, HIGH = slice(None), slice(None, -1), slice(1, None)
# cells before and after each face between two, of (E, L, n, m), along z, x and y
ALONG = tuple(((ALL,) * k + (LOW,), (ALL,) * k + (HIGH,)) for k in (1, 2, 3))


@dataclass(frozen=True)
class Equations:
    """Conductances (W/K) of L layers of n x m cells."""

    widths: tuple[Array, Array]  # (n,) and (m,) m
    gx: Array  # (L, n - 1, m)
    gy: Array  # (L, n, m - 1)
    gz: Array  # (L - 1, n, m)
    to_fixed: Array  # (L, n, m)
    links: Links  # between any two cells, some below 0: at slanted edges between solids
    solid: Bools  # (L, n, m)
    unknown: Integers  # (L, n, m) as in the plane system: cells that share a temperature have one number

    def layers(self, within: slice) -> "Equations":
        """Those of some layers, which have all links, with the layers beside them at 0."""
        first, last = within.start, within.stop
        to_fixed, cells = self.to_fixed[within].copy(), self.solid[0].size
        if first > 0:
            to_fixed[0] += self.gz[first - 1]
        if last < len(self.solid):
            to_fixed[-1] += self.gz[last - 1]
        a, b, g = self.links
        links = a - first * cells, b - first * cells, g
        return Equations(
            self.widths, self.gx[within], self.gy[within], self.gz[first : last - 1], to_fixed, links,
            self.solid[within], self.unknown[within],
        )  # fmt: skip

    def outflow(self, t: Array) -> Array:
        """W out of each cell at temperatures t (E, L, n, m) with all fixed ones at 0."""
        out = self.to_fixed * t
        for g, (low, high) in ((self.gx, ALONG[1]), (self.gy, ALONG[2]), (self.gz, ALONG[0])):
            flow = g * (t[high] - t[low])
            out[high] += flow
            out[low] -= flow
        a, b, g = self.links
        if len(g):
            flat, size = t.reshape(len(t), -1), self.solid.size
            for one, total in zip(flat, out.reshape(len(t), -1)):
                flow = g * (one[a] - one[b])
                total += np.bincount(a, flow, size) - np.bincount(b, flow, size)
        return out

    @property
    def diagonal(self) -> Array:
        """(L, n, m) W/K from each cell to all others and to the fixed terminals."""
        out = self.to_fixed.copy()
        for g, (low, high) in ((self.gx, ALONG[1]), (self.gy, ALONG[2]), (self.gz, ALONG[0])):
            out[low[1:]] += g
            out[high[1:]] += g
        a, b, g = self.links
        if len(g):
            out += np.bincount(np.append(a, b), np.append(g, g), out.size).reshape(out.shape)
        return out

    @cached_property
    def full(self) -> bool:
        """Whether all cells keep a temperature."""
        return bool(self.solid.all())

    @cached_property
    def merged(self) -> bool:
        """Whether some cells share a temperature."""
        return int(self.unknown.max(initial=-1)) + 1 < int(self.solid.sum())

    @cached_property
    def shares(self) -> Bools:
        """(L, n, m) cells that share a temperature with others."""
        members = np.bincount(self.unknown[self.solid])
        return np.asarray(self.solid & (members[self.unknown] > 1))

    def spreading(self) -> tuple[Array, Array]:
        """`gx` and `gy`; in layers whose cells all share temperatures, PERFECT times the largest between such cells."""
        if not self.merged:
            return self.gx, self.gy
        layer = (self.shares == self.solid).all((1, 2))[:, None, None]
        perfect = PERFECT * max(float(some.max(initial=0.0)) for some in (self.gx, self.gy, self.gz))
        gx, gy = (
            np.where(layer & self.shares[low[1:]] & (self.unknown[low[1:]] == self.unknown[high[1:]]), perfect, g)
            for g, (low, high) in ((self.gx, ALONG[1]), (self.gy, ALONG[2]))
        )
        return gx, gy

    def shared_watts(self, watts: Array) -> Array:
        """Watts (E, L, n, m), those into cells that share a temperature shared by area among them."""
        cells, number, share = self._sharing
        return self._replaced(watts, cells, lambda own: np.bincount(number, own)[number] * share)

    def shared_temperatures(self, t: Array) -> Array:
        """Temperatures (E, L, n, m), those of cells that share one replaced by their mean over the area."""
        cells, number, share = self._sharing
        return self._replaced(t, cells, lambda own: np.asarray(np.bincount(number, share * own), float)[number])

    @staticmethod
    def _replaced(values: Array, cells: Integers, by: Callable[[Array], Array]) -> Array:
        out = values.copy()
        for one in out.reshape(len(out), -1):
            one[cells] = by(one[cells])
        return out

    @cached_property
    def _sharing(self) -> tuple[Integers, Integers, Array]:
        """Flat numbers of the cells that share a temperature with others, which they share, and each one's part of the
        area of all that do."""
        dx, dy = self.widths
        on = np.flatnonzero(self.solid)
        _, number, members = np.unique(self.unknown.ravel()[on], return_inverse=True, return_counts=True)
        several = members[number] > 1
        cells, (_, number) = on[several], np.unique(number[several], return_inverse=True)
        area = np.broadcast_to(dx[:, None] * dy, self.solid.shape).ravel()[cells]
        return cells, number, area / np.bincount(number, area)[number]

    def factorised_fields(self, right: Array) -> Array:
        """Temperatures (E, L, n, m) by watts (E, L, n, m), by SuperLU. Raises InputError where memory is short."""
        try:
            check_memory(self.solid.size)
        except MemoryError as fault:
            raise InputError(str(fault)) from fault
        number, on = np.arange(self.solid.size).reshape(self.solid.shape), self.solid.ravel()
        a = [number[:, 1:].ravel(), number[:, :, 1:].ravel(), number[1:].ravel(), self.links[0]]
        b = [number[:, :-1].ravel(), number[:, :, :-1].ravel(), number[:-1].ravel(), self.links[1]]
        g = [self.gx.ravel(), self.gy.ravel(), self.gz.ravel(), self.links[2]]
        links = np.concatenate(a), np.concatenate(b), np.concatenate(g)
        flat = self.unknown.ravel()
        size = int(flat.max()) + 1
        to_fixed = np.asarray(np.bincount(flat[on], self.to_fixed.ravel()[on], size), float)
        nothing = np.zeros((self.solid.size - 1, 1)), np.zeros((self.solid.size, 0))
        direct = factorised(flat[:, None], *nothing, links, to_fixed)
        watts = np.array([np.bincount(flat[on], one[on], size) for one in right.reshape(len(right), -1)])
        out = np.zeros((len(right), flat.size))
        out[:, on] = direct.solve(watts.T).T[:, flat[on]]
        return out.reshape(right.shape)
