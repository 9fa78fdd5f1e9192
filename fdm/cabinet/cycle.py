"""The cycle of on and off that a thermostat comes to, found as itself instead of waited for.

P takes the temperatures at the start of a cycle to those at the start of the next. The cycle that repeats is its fixed
point, y = P(y), found by Newton's method. Between two switchings the balance is all but linear, so P's derivative is
known well from exponentials: a disturbance dy passes a stretch of length s with the slopes J, and the switching, where
the reading c y meets its limit sooner or later, takes the part along the rate f out of it,

    dy -> (1 - f c / (c f)) exp(s J) dy.

Of many short cycles on the way there a few are integrated, and the others passed over by the same derivative.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import expm

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.exponential import Event, integrate
from fdm.cabinet.transient import TOLERANCE, Transient

Array = NDArray[np.float64]

STEPS = 20  # of Newton's method
FOUND = 1e-4  # K: the last of its steps
NEAR = 0.02  # K from the cycle that repeats: no more cycles are passed over
LEAP, SHARE = 0.5, 0.2  # K, and of what is left, by which temperatures may change over cycles that are passed over
SAMPLED_POINTS = 20
LONGEST_STRETCH = 10 * 86400.0  # s: who waits longer for a switching does not cycle


@dataclass(frozen=True)
class Thermostat:
    """What switches: the balances with the modules `on` and `off`, and the readings at which it does."""

    on: Transient
    off: Transient
    low: float
    high: float

    @classmethod
    def of(cls, c: Circuit, setpoint: float | None = None) -> "Thermostat":
        """A cabinet's own, or the same with its dial at another setpoint."""
        supply, half = c.cabinet.bank.supply, c.cabinet.thermostat.hysteresis / 2
        off = supply.half_off() if c.cabinet.thermostat.switches == "half" else None
        middle = c.cabinet.setpoint if setpoint is None else setpoint
        return cls(Transient(c, supply), Transient(c, off), middle - half, middle + half)

    @cached_property
    def sensing(self) -> Array:
        """(F,) weights of the temperatures y in the reading."""
        return self.on.circuit.sensing[self.on.free]

    def reading(self, y: Array) -> Array:
        """(...) degC, of temperatures y (..., F)."""
        return np.asarray(self.on.circuit.reading(self.on.temperatures(y)))

    def switching(self, running: bool) -> Event:
        """The event that ends a stretch of running, or of rest."""
        limit, direction = (self.low, -1) if running else (self.high, 1)
        return Event(lambda y, _: self.reading(y) - limit, direction)


@dataclass(frozen=True)
class Half:
    """One of the two stretches of a cycle: its states over time, and what switches."""

    transient: Transient
    length: float  # s
    times: Array  # (K,) s from its start
    states: Array  # (K, F)


def periodic_cycle(thermostat: Thermostat, start: Array, points: int) -> tuple[Half, Half] | None:
    """The two stretches, on and off, of the cycle that repeats, each with so many points; None where none is found.
    `start` (F,) is about the state at which the modules are switched on."""
    c, y = thermostat.sensing, start.copy()
    for _ in range(STEPS):
        y += c * (thermostat.high - thermostat.reading(y)) / (c @ c)
        halves = _cycle(thermostat, y, points)
        if halves is None:
            return None
        derivative = np.eye(len(y))
        for half in halves:
            derivative = _passed(half, c) @ derivative
        try:
            step = np.linalg.solve(np.eye(len(y)) - derivative, halves[1].states[-1] - y)
        except np.linalg.LinAlgError:
            return None
        size = float(abs(step).max())
        if size < FOUND:
            return halves
        if not math.isfinite(size):
            return None
        y += step * min(1.0, 20.0 / size)
    return None


def _cycle(thermostat: Thermostat, y: Array, points: int) -> tuple[Half, Half] | None:
    """One cycle from the state at which the modules are switched on; None where it is never done."""
    halves = []
    for transient, running in ((thermostat.on, True), (thermostat.off, False)):
        try:
            found = integrate(transient, y, (0.0, LONGEST_STRETCH), TOLERANCE, [thermostat.switching(running)])
        except ArithmeticError:
            return None
        if found.event is None:
            return None
        times = found.end * np.linspace(0, 1, points) ** 2
        halves.append(Half(transient, found.end, times, found.at(times)))
        y = found.last
    return halves[0], halves[1]


def _passed(half: Half, c: Array) -> Array:
    """(F, F) derivative of the state at the end of a stretch by the state at its start."""
    slopes = half.transient.slopes(half.states[len(half.states) // 2])
    rate = half.transient.rate(half.states[-1])
    through: Array = expm(half.length * slopes)
    return through - np.outer(rate, c @ through) / (c @ rate)


@dataclass(frozen=True)
class Sampled:
    """Some of many cycles, K of them: their mean states and mean times, and the state in which the last begins."""

    times: Array  # (K,) s
    halves: tuple[tuple[Half, Half], ...]  # K
    last: Array  # (F,)
    repeats: bool  # the last is all but the cycle that repeats; else the thermostat stops cycling, or time is over


def sampled_cycles(thermostat: Thermostat, start: Array, span: tuple[float, float]) -> Sampled:
    """The cycles from a state (F,) at which the modules are switched on, a few of them integrated. From one to the next
    as many are passed over as change no temperature by more than a little: n cycles that each are passed on by the
    derivative M change the state by (1 + M + .. + M^(n-1)) (P(y) - y)."""
    y, now, c = start.copy(), span[0], thermostat.sensing
    times, sampled, count, period, repeats = list[float](), list[tuple[Half, Half]](), 0, 0.0, False
    while now < span[1]:
        halves = _cycle(thermostat, y, SAMPLED_POINTS)
        if halves is None:
            break
        before, period = period, halves[0].length + halves[1].length
        now += count * ((before + period) / 2)
        times.append(now + period / 2)
        sampled.append(halves)
        derivative = _passed(halves[1], c) @ _passed(halves[0], c)
        change = halves[1].states[-1] - y
        away = float(abs(np.linalg.solve(np.eye(len(y)) - derivative, change)).max())  # from the cycle that repeats
        if away < NEAR:
            repeats = True
            break
        count, leap, power = 1, change, derivative
        while count * period < span[1] - now and abs(twice := leap + power @ leap).max() < min(LEAP, SHARE * away):
            count, leap, power = 2 * count, twice, power @ power
        y = y + leap
    return Sampled(np.array(times), tuple(sampled), y, repeats)


def mean_state(times: Sequence[Array], states: Sequence[Array]) -> Array:
    """(F,) the mean over stretches, of which each has its times (K,) and states (K, F)."""
    mean: Array = sum(integral(s, t) for t, s in zip(times, states)) / sum(t[-1] - t[0] for t in times)
    return mean


def integral(values: Array, time: Array) -> Array:
    """Of values (K, ..) over times (K,), by the trapezoidal rule."""
    return np.asarray(np.diff(time) @ ((values[1:] + values[:-1]) / 2))
