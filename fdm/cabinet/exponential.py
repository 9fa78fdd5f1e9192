"""Integrates dy/dt = f(y) where f is nearly linear, however stiff: an exponential Rosenbrock method of fourth order.

From the beginning y0 of a step of length h on, with f0 = f(y0), J the slopes of f there, and r what is not linear,

    y' = f0 + J (y - y0) + r(t),    r ~ a (t/h)^2 + b (t/h)^3,

where a and b are so that r is right at two states, near the middle and near the end of the step. In the eigenvectors of
J each of these equations stands alone, and its solution is exact,

    w' = k w + g + a (t/h)^2 + b (t/h)^3,    w = t phi1(k t) g + 2 t^3/h^2 phi3(k t) a + 6 t^4/h^3 phi4(k t) b,

with phi1(z) = (e^z - 1)/z and so on, at any moment of the step. So its length is bounded by what is not linear alone,
and not by how fast the fastest node follows. It is exprb43 of M. Hochbruck, A. Ostermann and J. Schweitzer, SIAM J.
Numer. Anal. 47 (2009) 786, from memory; the last term is what the third order lacks, and taken for the error.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

FIRST = 4e-4  # of the span: the first step
GROWS, SHRINKS, CAUTION = 10.0, 0.1, 0.8  # at most, of a step's length from one to the next; of what the error allows
SHORTEST = 1e-12  # of the time so far: no step is shorter
NEAR_0 = 0.02  # arguments up to which phi4 is its series of four terms, to 1e-10
LOOKS = np.linspace(0, 1, 17) ** 2  # of a step: where an event is looked for, closest where the fast nodes follow
ROUNDS = 2  # of looking closer


class Balance(Protocol):
    """What is integrated."""

    def rate(self, y: Array) -> Array:
        """(F,) dy/dt at y (F,)."""

    def slopes(self, y: Array) -> Array:
        """(F, F) derivatives of `rate`."""


@dataclass(frozen=True)
class Event:
    """Ends an integration where `value`, of K states (K, F) and their rates (K, F), passes 0: falling (`direction` -1)
    or rising (1)."""

    value: Callable[[Array, Array], Array]
    direction: int


@dataclass(frozen=True)
class Step:
    """One step, from `begin` on and `length` long, s: its beginning y0, and in the eigenvectors of the slopes there
    g, a and b as above."""

    begin: float
    length: float
    start: Array  # (F,)
    rates: Array  # (F,) eigenvalues, 1/s
    vectors: Array  # (F, F)
    forcing: Array  # (3, F): g, a, b

    def at(self, times: Array) -> tuple[Array, Array]:
        """(K, F) states and rates of change at times (K,)."""
        t, (g, a, b) = (times - self.begin)[:, None], self.forcing
        s, phi = t / self.length, phis(self.rates * t)
        w = t * (phi[0] * g + 2 * s**2 * phi[2] * a + 6 * s**3 * phi[3] * b)
        moved = self.rates * w + g + s**2 * a + s**3 * b
        return self.start + (w @ self.vectors.T).real, (moved @ self.vectors.T).real


@dataclass(frozen=True)
class Integrated:
    """The steps from a beginning to an `event` (its number), or to the end of the span (None)."""

    steps: tuple[Step, ...]
    end: float
    last: Array  # (F,) the state there
    event: int | None

    @property
    def begin(self) -> float:
        return self.steps[0].begin

    def at(self, times: Array) -> Array:
        """(K, F) the states at times (K,) that do not fall."""
        begins = [s.begin for s in self.steps]
        step = np.maximum(np.searchsorted(begins, times, side="right") - 1, 0)
        return np.concatenate([s.at(times[step == k])[0] for k, s in enumerate(self.steps)])

    def until(self, event: Event) -> "Integrated":
        """The same, but no further than an event of number 0."""
        for k, step in enumerate(self.steps, 1):
            if (found := _first_event([event], step)) and found[0] <= self.end:
                return _ended(self.steps[:k], *found)
        return self


def integrate(
    balance: Balance, y: Array, span: tuple[float, float], tolerance: float, events: Sequence[Event] = ()
) -> Integrated:
    """From y (F,) over a span of time, or to the first event, with an error of up to `tolerance` in each step.

    Raises ArithmeticError where no step is short enough.
    """
    now, steps, h = span[0], list[Step](), FIRST * (span[1] - span[0])
    while (left := span[1] - now) > SHORTEST * span[1]:
        step, y, h = _step(balance, y, now, min(h, left), tolerance)
        steps.append(step)
        if found := _first_event(events, step):
            return _ended(steps, *found)
        now += step.length
    return Integrated(tuple(steps), now, y, None)


def _ended(steps: Sequence[Step], end: float, event: int) -> Integrated:
    return Integrated(tuple(steps), end, steps[-1].at(np.array([end]))[0][0], event)


def _step(balance: Balance, y: Array, begin: float, longest: float, tolerance: float) -> tuple[Step, Array, float]:
    """One step, the state at its end, and how long the next one may be."""
    f, h = balance.rate(y), longest
    rates, vectors, into = modes(balance.slopes(y))
    g = into @ f
    while h > SHORTEST * (begin + longest):
        with np.errstate(over="ignore", invalid="ignore"):  # such a step is too long
            half, whole = phis(np.multiply.outer((h / 2, h), rates)).swapaxes(0, 1)
            w = h / 2 * half[0] * g
            middle = into @ balance.rate(y + (vectors @ w).real) - g - rates * w
            w = h * whole[0] * (g + middle)
            last = into @ balance.rate(y + (vectors @ w).real) - g - rates * w
            a, b = 8 * middle - last, 2 * last - 8 * middle
            fourth = 6 * h * whole[3] * b
            end = y + (vectors @ (h * (whole[0] * g + 2 * whole[2] * a) + fourth)).real
            error = float(abs((vectors @ fourth).real).max())
        if not math.isfinite(error) or not np.isfinite(end).all():
            h *= SHRINKS
            continue
        factor = CAUTION * (tolerance / error) ** 0.25 if error else GROWS
        following = h * min(GROWS, max(SHRINKS, factor))
        if error <= tolerance:
            return Step(begin, h, y, rates, vectors, np.array([g, a, b])), end, following
        h = following
    raise ArithmeticError("the transient stopped: its temperatures run away")


def modes(slopes: Array) -> tuple[Array, Array, Array]:
    """Eigenvalues (F,), eigenvectors (F, F) in columns, and the matrix that turns a state into these, of slopes
    (F, F)."""
    rates, vectors = np.linalg.eig(slopes)
    try:
        return rates, vectors, np.linalg.inv(vectors)
    except np.linalg.LinAlgError:
        raise ArithmeticError("the transient stopped: its slopes have too few eigenvectors") from None


def _first_event(events: Sequence[Event], step: Step) -> tuple[float, int] | None:
    """When the first of the events passes 0 within a step, and its number; None: none does."""
    if not events:
        return None
    times = step.begin + step.length * LOOKS
    seen = step.at(times)
    found = [
        (_closer(event, step, times[k], times[k + 1]), number)
        for number, event in enumerate(events)
        if (k := _passing(event.direction * event.value(*seen))) is not None
    ]
    return min(found, default=None)


def _closer(event: Event, step: Step, begin: float, end: float) -> float:
    """When an event passes 0, between two moments of a step."""
    for _ in range(ROUNDS):
        times = begin + (end - begin) * LOOKS
        value = event.direction * event.value(*step.at(times))
        k = _passing(value) or 0
        begin, end = times[k], times[k + 1]
    return float(begin + (end - begin) * min(1.0, -value[k] / (value[k + 1] - value[k])))


def _passing(value: Array) -> int | None:
    """The number of the first of (K,) values up to 0 whose next one is above 0; None: there is none."""
    passes = (value[:-1] <= 0) & (value[1:] > 0)
    k = int(passes.argmax())
    return k if passes[k] else None


def phis(z: Array) -> Array:
    """(4, ...) phi1 to phi4 of z (...), real or complex: phi1 = (e^z - 1)/z, and each next one is the last one less its
    value at 0, over z.

    >>> phis(np.array([0.0, 1.0]))[0].round(6)
    array([1.      , 1.718282])
    """
    small = abs(z) <= NEAR_0
    near, far = np.where(small, z, 0.0), np.where(small, 1.0, z)
    fourth = (1 + near / 5 * (1 + near / 6 * (1 + near / 7))) / 24
    third = 1 / 6 + near * fourth
    second = 1 / 2 + near * third
    close = [1 + near * second, second, third, fourth]
    away = [np.expm1(far) / far]
    for at_zero in (1, 1 / 2, 1 / 6):
        away.append((away[-1] - at_zero) / far)
    return np.where(small, close, away)


def exponential(matrix: Array) -> Array:
    """(F, F) e to a matrix."""
    rates, vectors, into = modes(matrix)
    return np.asarray((vectors * np.exp(rates) @ into).real)
