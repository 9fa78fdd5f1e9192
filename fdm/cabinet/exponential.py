"""Integrates dy/dt = f(y) where f is nearly linear, however stiff: an exponential Rosenbrock method of fourth order.

From the beginning y0 of a step of length h on, with f0 = f(y0), J the slopes of f there, and r what is not linear,

    y' = f0 + J (y - y0) + r(t),    r ~ a (t/h)^2 + b (t/h)^3,

where a and b are so that r is right at two states, near the middle and near the end of the step. Its solution is exact;
in the eigenvectors of J each of these equations stands alone,

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
from scipy.linalg import expm

Array = NDArray[np.float64]

FIRST = 4e-4  # of the span: the first step
GROWS, SHRINKS, CAUTION = 10.0, 0.1, 0.8  # at most, of a step's length from one to the next; of what the error allows
SHORTEST = 1e-12  # of the time so far: no step is shorter
MOST_ALIKE = 1e7  # condition of eigenvectors: up to it, nine digits are left
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


class Linear(Protocol):
    """w' = J w + g + a (t/h)^2 + b (t/h)^3 with w = 0 at t = 0, solved exactly."""

    def moved(self, times: Array, h: float, forcing: Array) -> Array:
        """(K, F) w at times (K,), of a forcing g, a, b (3, F), or (3, K, F) where each time has its own."""


@dataclass(frozen=True)
class Modes:
    """Each eigenvector of the slopes by itself."""

    rates: Array  # (F,) eigenvalues, 1/s
    vectors: Array  # (F, F) in columns
    into: Array  # (F, F) turns a state into these

    def moved(self, times: Array, h: float, forcing: Array) -> Array:
        t = times[:, None]
        s, phi, (g, a, b) = t / h, phis(self.rates * t), forcing @ self.into.T
        w = t * (phi[0] * g + 2 * s**2 * phi[2] * a + 6 * s**3 * phi[3] * b)
        return np.asarray((w @ self.vectors.T).real)


@dataclass(frozen=True)
class Together:
    """All at once, for slopes with (nearly) too few eigenvectors: nodes that are alike, one after another in a flow of
    air. The powers of t/h are unknowns like the others, so that one exponential of a matrix is the solution (C. Van
    Loan, IEEE Trans. Autom. Control 23 (1978) 395, from memory)."""

    slopes: Array  # (F, F)

    def moved(self, times: Array, h: float, forcing: Array) -> Array:
        f = len(self.slopes)
        whole = np.zeros((len(times), f + 4, f + 4))
        whole[:, :f, :f] = self.slopes
        whole[:, :f, [f, f + 2, f + 3]] = forcing.reshape(3, -1, f).transpose(1, 2, 0)
        for power in (1, 2, 3):
            whole[:, f + power, f + power - 1] = power / h
        return np.asarray(expm(times[:, None, None] * whole)[:, :f, f])


@dataclass(frozen=True)
class Step:
    """One step, from `begin` on and `length` long, s: its beginning y0, the slopes there, and g = f0, a and b."""

    begin: float
    length: float
    start: Array  # (F,)
    slopes: Array  # (F, F)
    linear: Linear
    forcing: Array  # (3, F): g, a, b

    def at(self, times: Array) -> tuple[Array, Array]:
        """(K, F) states and rates of change at times (K,)."""
        t, (g, a, b) = times - self.begin, self.forcing
        w, s = self.linear.moved(t, self.length, self.forcing), t[:, None] / self.length
        return self.start + w, w @ self.slopes.T + g + s**2 * a + s**3 * b


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
    g, slopes, h = balance.rate(y), balance.slopes(y), longest
    linear, zero = linear_solution(slopes), np.zeros_like(y)
    while h > SHORTEST * (begin + longest):
        with np.errstate(over="ignore", invalid="ignore"):  # such a step is too long
            w = linear.moved(np.array([h / 2]), h, np.array([g, zero, zero]))[0]
            middle = balance.rate(y + w) - g - slopes @ w
            w = linear.moved(np.array([h]), h, np.array([g + middle, zero, zero]))[0]
            last = balance.rate(y + w) - g - slopes @ w
            a, b = 8 * middle - last, 2 * last - 8 * middle
            w, fourth = linear.moved(np.array([h, h]), h, np.array([[g, zero], [a, zero], [b, b]]))
            end, error = y + w, float(abs(fourth).max())
        if not math.isfinite(error) or not np.isfinite(end).all():
            h *= SHRINKS
            continue
        factor = CAUTION * (tolerance / error) ** 0.25 if error else GROWS
        following = h * min(GROWS, max(SHRINKS, factor))
        if error <= tolerance:
            return Step(begin, h, y, slopes, linear, np.array([g, a, b])), end, following
        h = following
    raise ArithmeticError("the transient stopped: its temperatures run away")


def linear_solution(slopes: Array) -> Linear:
    """By the eigenvectors of slopes (F, F), unless these are so nearly alike that they lose digits."""
    rates, vectors = np.linalg.eig(slopes)
    try:
        into = np.linalg.inv(vectors)
    except np.linalg.LinAlgError:
        return Together(slopes)
    alike = np.linalg.norm(vectors, 1) * np.linalg.norm(into, 1) > MOST_ALIKE
    return Together(slopes) if alike else Modes(rates, vectors, into)


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
