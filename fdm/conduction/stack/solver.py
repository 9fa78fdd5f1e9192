"""A stack's temperatures for any loads: conjugate gradients, with the inverse of a uniform stack before them.

Where the stack is uniform, the first step is the solution. Where rectangles of it conduct far less, such as inlays,
the inverse of the uniform stack that each of them is, with all around it at 0, is added (additive Schwarz). Where it is
so uneven that many steps do not do, its matrix is factorised.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers, Links
from fdm.conduction.linear.direct import factorised
from fdm.conduction.linear.multigrid import check_memory
from fdm.conduction.stack.diagonal import UniformStack, uniform_stack
from fdm.errors import InputError

ACCURACY = 1e-10  # of the highest temperature
MOST_STEPS = 200
ODD = 0.6  # of the conductances of a uniform stack's cell: one that has less is relaxed by itself, too
PERFECT = 1e4  # of the largest conductance: between cells that share a temperature, for the inverse before the steps
SAFETY = 10.0  # by which corrections may fall less than residuals do
SOLVED = 1e-13  # of the watts: what is left of them by rounding

ALL, LOW, HIGH = slice(None), slice(None, -1), slice(1, None)
# cells before and after each face between two, of (E, L, n, m), along z, x and y
ALONG = tuple(((ALL,) * k + (LOW,), (ALL,) * k + (HIGH,)) for k in (1, 2, 3))

Box = tuple[slice, slice, slice]  # of (L, n, m)
Load = tuple[Integers, Array]  # flat numbers of nodes, and the watts that enter each


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


@dataclass(frozen=True)
class StackSolver:
    """A stack prepared once for any number of right-hand sides."""

    equations: Equations
    uniform: UniformStack
    odd: Array | None  # (L, n, m) K/W of cells that conduct far less than those of the uniform stack; 0 of all others
    within: tuple[tuple[Box, UniformStack], ...]  # rectangles that conduct far less, with all around them at 0

    def fields(self, loads: Sequence[Load], fixed: Array | None = None) -> Array:
        """(E, L, n, m) temperatures that each load causes with all fixed terminals at 0; before them those that watts
        `fixed` (F, L, n, m) cause, where they are given. 0 where there is no solid.

        Raises InputError where the temperatures do not converge.
        """
        e = self.equations
        shape = e.solid.shape
        right = np.zeros((len(loads), e.solid.size))
        for one, (cell, watts) in zip(right, loads):
            np.add.at(one, cell, watts)
        right = right.reshape(-1, *shape)
        if fixed is not None:
            right = np.concatenate([fixed, right])
        if not e.full:
            right = np.where(e.solid, right, 0.0)
        if not len(right):
            return right
        out, done = self._iterated(e.shared_watts(right) if e.merged else right)
        if not done.all():
            out[~done] = e.factorised_fields(right[~done])
        return out

    def _preconditioned(self, residual: Array) -> Array:
        e, out = self.equations, self.uniform.solve(residual)
        if self.odd is not None:
            out += self.odd * residual
        for box, stack in self.within:
            out[:, *box] += stack.solve(residual[:, *box])
        if not e.full:
            out *= e.solid
        return e.shared_temperatures(out) if e.merged else out

    def _outflow(self, t: Array) -> Array:
        """W out of each cell; out of those that share a temperature, shared by area among them."""
        e = self.equations
        out = e.outflow(t)
        return e.shared_watts(out) if e.merged else out

    def _iterated(self, right: Array) -> tuple[Array, Bools]:
        """Temperatures by conjugate gradients, for each right-hand side, and (E,) whether they have converged."""
        t, r = np.zeros_like(right), right.copy()
        left = size = _largest(right)
        z = self._preconditioned(r)
        p, rz, correction = z, _products(r, z), _largest(z)
        done = np.zeros(len(right), bool)
        for _ in range(MOST_STEPS):
            q = self._outflow(p)
            pq = _products(p, q)
            step = np.where(done, 0.0, np.divide(rz, pq, out=np.zeros_like(rz), where=pq > 0))[:, None, None, None]
            t += step * p
            q *= step
            r -= q
            before, left, highest = left, _largest(r), _largest(t)
            done |= left <= SOLVED * size
            # corrections fall about as residuals do; the next one would cost as much as this step
            done |= SAFETY * correction * left <= ACCURACY * highest * before
            if done.all():
                break
            z = self._preconditioned(r)
            correction = _largest(z)
            done |= correction <= ACCURACY * highest
            if done.all():
                break
            of_step, rz = rz, _products(r, z)
            p = z + np.divide(rz, of_step, out=np.zeros_like(rz), where=of_step > 0)[:, None, None, None] * p
        return t, done


def _largest(t: Array) -> Array:
    """(E,) the largest size in each of t (E, ...), above 0."""
    flat = t.reshape(len(t), -1)
    return np.asarray(np.maximum(np.maximum(flat.max(1), -flat.min(1)), 1e-300))


def _products(a: Array, b: Array) -> Array:
    """(E,) scalar products of each of a and b (E, ...)."""
    return np.asarray(np.einsum("ek,ek->e", a.reshape(len(a), -1), b.reshape(len(b), -1)))


def prepared(equations: Equations, kind: Integers) -> StackSolver:
    """Equations with the uniform stack that is nearest to them, and those of rectangles that conduct far less; `kind`
    (n, m) numbers the columns, those that are alike alike."""
    e = equations
    uniform = uniform_stack(e.widths, *e.spreading(), e.gz, e.to_fixed, e.solid)
    own, means = e.diagonal, uniform.diagonal(e.widths)
    odd = e.solid & (own < ODD * means) & (own > 0)
    if e.merged:
        odd &= ~e.shares
    if not odd.any():
        return StackSolver(e, uniform, None, ())
    within = tuple((box, _within(e, box)) for box in _odd_boxes(odd, kind))
    for box, _ in within:
        odd[box] = False
    alone = np.divide(1.0, own, out=np.zeros_like(own), where=odd) if odd.any() else None
    return StackSolver(e, uniform, alone, within)


def _odd_boxes(odd: Bools, kind: Integers) -> list[Box]:
    """The rectangles of the plan, in all layers, in which all cells are of one kind (n, m), and most of them odd."""
    boxes: list[Box] = []
    columns: Bools = np.asarray(odd.any(0))
    for one in np.unique(kind[columns]).tolist():
        i, j = np.nonzero(kind == one)
        at = slice(int(i.min()), int(i.max()) + 1), slice(int(j.min()), int(j.max()) + 1)
        if np.all(kind[at] == one) and columns[at].mean() > 0.5 and len(i) < kind.size / 2:
            boxes.append((slice(None), *at))
    return boxes


def _within(e: Equations, box: Box) -> UniformStack:
    """The stack in a box, with all around it at 0."""
    layers, i, j = box
    n, m = e.solid.shape[1:]
    held = (i.start > 0, i.stop < n), (j.start > 0, j.stop < m)
    gx, gy = e.gx[layers, i.start : i.stop - 1, j], e.gy[layers, i, j.start : j.stop - 1]
    widths = e.widths[0][i], e.widths[1][j]
    return uniform_stack(widths, gx, gy, e.gz[:, i, j], e.to_fixed[box], e.solid[box], held)
