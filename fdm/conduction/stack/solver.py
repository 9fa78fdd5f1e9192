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

ACCURACY = 1e-8  # of the temperatures, by energy; up to fifty times that at the worst place of uneven plates
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
        """Temperatures by conjugate gradients, for each right-hand side, and (E,) whether they have converged.

        The energy of an error, W K, is its measure. The steps themselves tell it: by how much one raises that of the
        temperatures, and how large it is in the correction before the next.
        """
        t, r, part = np.zeros_like(right), right.copy(), np.empty_like(right)
        energy, done = np.zeros(len(right)), np.zeros(len(right), bool)
        left = _products(r, r)
        solved = SOLVED**2 * left
        p = self._preconditioned(r)
        error = _products(r, p)
        for _ in range(MOST_STEPS):
            q = self._outflow(p)
            step = np.where(done, 0.0, _over(error, _products(p, q)))
            t += np.multiply(_each(step), p, out=part)
            r -= np.multiply(_each(step), q, out=part)
            energy += step * error
            before, left = left, _products(r, r)
            # corrections fall about as residuals do; the next one would cost as much as this step
            done |= (left <= solved) | (SAFETY**2 * error * left <= ACCURACY**2 * energy * before)
            if done.all():
                break
            z = self._preconditioned(r)
            error, of_step = _products(r, z), error
            done |= error <= ACCURACY**2 * energy
            if done.all():
                break
            p *= _each(_over(error, of_step))
            p += z
        return t, done


def _products(a: Array, b: Array) -> Array:
    """(E,) scalar products of each of a and b (E, ...)."""
    return np.asarray(a.reshape(len(a), 1, -1) @ b.reshape(len(b), -1, 1))[:, 0, 0]


def _over(a: Array, b: Array) -> Array:
    """(E,) a / b; 0 where b is 0, as nothing is left."""
    return np.divide(a, b, out=np.zeros_like(a), where=b > 0)


def _each(factor: Array) -> Array:
    """A factor (E,) for each of (E, L, n, m)."""
    return factor[:, None, None, None]


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
