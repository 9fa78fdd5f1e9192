"""A stack's temperatures for any loads: conjugate gradients on the layers of the plate.

Fins are eliminated before (`fin_lines`). Before each step stands the inverse of the uniform stack that is nearest
(`diagonal`), so that where the stack is uniform but for a few films, few steps are the solution; and where columns of
it conduct far less, such as inlays, what this inverse lacks there (`weak_columns`). Where a plate is so uneven that
many steps do not do, its matrix is factorised.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.stack.diagonal import UniformStack, uniform_stack
from fdm.conduction.stack.equations import Equations
from fdm.conduction.stack.fin_lines import FinLines, fin_lines
from fdm.conduction.stack.layers import Layers
from fdm.conduction.stack.weak_columns import WeakColumns, weak_columns
from fdm.section.model import FACES

ACCURACY = 1e-8  # of the highest temperature
MOST_STEPS = 200
SAFETY = 10.0  # by which corrections may fall less than residuals do
SOLVED = 1e-13  # of the watts: what is left of them by rounding

Load = tuple[Integers, Array]  # flat numbers of nodes, and the watts that enter each


@dataclass(frozen=True)
class StackSolver:
    """A stack of L layers prepared once for any number of right-hand sides; P of them are the plate's."""

    equations: Equations
    of_plate: slice
    plate: Equations  # of these P layers, with fins at 0
    fins: tuple[FinLines, ...]
    uniform: UniformStack
    weak: WeakColumns | None

    def fields(self, loads: Sequence[Load], fixed: Array | None = None) -> Array:
        """(E, L, n, m) temperatures that each load causes with all fixed terminals at 0; before them those that watts
        `fixed` (F, L, n, m) cause, where they are given. 0 where there is no solid.

        Raises InputError where the temperatures do not converge.
        """
        e = self.equations
        right = np.zeros((len(loads), *e.solid.shape))
        for one, (cell, watts) in zip(right, loads):
            np.add.at(one.reshape(-1), cell, watts)
        if fixed is not None:
            right = np.concatenate([fixed, right])
        if not e.full:
            right = np.where(e.solid, right, 0.0)
        out, on = np.zeros_like(right), right.any((1, 2, 3))
        if on.any():
            out[on] = self._fields(right[on])
        return out

    def _fields(self, right: Array) -> Array:
        out = np.zeros_like(right)
        watts = right[:, self.of_plate].copy()
        beyond = [f.passed(right) for f in self.fins]
        for f, (_, to_plate) in zip(self.fins, beyond):
            watts[:, f.beside - self.of_plate.start] += to_plate
        out[:, self.of_plate], done = self._iterated(self.plate.shared_watts(watts) if self.plate.merged else watts)
        for f, (carried, _) in zip(self.fins, beyond):
            f.fill(out, carried)
        if not done.all():
            out[~done] = self.equations.factorised_fields(right[~done])
        return out

    def _preconditioned(self, residual: Array) -> Array:
        out = self.uniform.solve(residual)
        if self.weak is not None:
            self.weak.add_to(out, residual)
        if not self.plate.full:
            out *= self.plate.solid
        return self.plate.shared_temperatures(out) if self.plate.merged else out

    def _outflow(self, t: Array) -> Array:
        """W out of each cell of the plate; out of those that share a temperature, shared by area among them."""
        out = self.plate.outflow(t)
        for f in self.fins:
            at = f.beside - self.of_plate.start
            out[:, at] -= f.drawn(t[:, at])
        return self.plate.shared_watts(out) if self.plate.merged else out

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


def prepared(equations: Equations, layers: Layers) -> StackSolver:
    """Equations of a stack with such layers, its fins eliminated, and the inverse of the uniform stack that is
    nearest."""
    e = equations
    of_plate = slice(int(layers.of_plate[0]), int(layers.of_plate[-1]) + 1)
    plate = e.layers(of_plate)
    uniform = uniform_stack(e, of_plate)
    weak = weak_columns(plate, uniform.diagonal, layers.share[of_plate])
    return StackSolver(e, of_plate, plate, tuple(_fins(e, layers)), uniform, weak)


def _fins(e: Equations, layers: Layers) -> Iterator[FinLines]:
    """Those of each face, by the way that they run."""
    for face in FACES:
        numbers, beside = layers.of_fins(face), layers.beside(face)
        if not len(numbers):
            continue
        along_x: Bools = np.zeros(e.solid.shape[1:], bool)
        along_x[1:] |= e.gx[numbers[0]] > 0
        along_x[:-1] |= e.gx[numbers[0]] > 0
        others = e.solid[numbers[0]] & ~along_x
        up, to_fixed = e.gz[numbers - 1 if face == "front" else numbers], e.to_fixed[numbers]
        if along_x.any():
            between, up_of, fixed_of = (v.swapaxes(1, 2) for v in (e.gx[numbers], up, to_fixed))
            yield fin_lines(numbers, beside, True, along_x.T, between, up_of, fixed_of, e.widths[1])
        if others.any():
            yield fin_lines(numbers, beside, False, others, e.gy[numbers], up, to_fixed, e.widths[0])
