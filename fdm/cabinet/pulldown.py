"""How fast a cabinet gets cold: the transient with the modules always on, and switched by the thermostat."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.circuit import COLD, HOT, LOAD, ROOM, Circuit, Node
from fdm.cabinet.model import AIR
from fdm.cabinet.supply import Supply, supply_power
from fdm.cabinet.transient import Event, Tolerance, Transient, start_temperatures
from fdm.errors import InputError

Array = NDArray[np.float64]

DAY = 86400.0  # s
LONGEST = 14 * DAY  # the calculation ends here, settled or not
MOST_CYCLES = 400
ON_TIME = 1e-4  # K within which a switching point counts as reached
STILL = 0.01 / DAY  # K/s below which a temperature counts as at rest
SAME = 0.02  # K by which the load may still move in the time it takes to follow the air
POINTS = 60  # kept of each stretch between two switchings
TOLERANCE = Tolerance(1e-5, 1e-4)


@dataclass(frozen=True)
class Curve:
    """A stretch of time: K moments (s), N nodes (degC), the thermostat's reading (degC), the supply's power (W)."""

    time: Array  # (K,)
    temperature: Array  # (K, N)
    reading: Array  # (K,)
    power: Array  # (K,)

    @property
    def length(self) -> float:
        """s"""
        return float(self.time[-1] - self.time[0])


@dataclass(frozen=True)
class PullDown:
    """The transients from the start, with the modules `always_on` and `switched` by the thermostat. Times in s; None:
    never. Where the thermostat does not switch in the end, the state at the end stands for the last cycle."""

    always_on: Curve
    switched: Curve
    time_to_setpoint: float | None  # the thermostat's reading reaches the setpoint
    load_time: float | None  # the load comes within 1 K of its goal
    load_goal: float  # degC, the setpoint, or where the load settles
    period: float | None  # of the last cycle of on and off
    duty: float  # share of time on in the last cycle
    mean_power: float  # W in the last cycle
    energy_a_day: float  # J at the mean power
    load_settles: float  # degC, mean over the last cycle
    air_settles: float
    settled: bool  # False where the longest time or the most cycles ended it


def require_capacities(nodes: Sequence[Node]) -> None:
    """Raise InputError where a node that stores heat has no heat capacity."""
    for node in nodes:
        if node.capacity <= 0 and node.kind != ROOM:
            raise InputError(
                f"{node.name}: it has no heat capacity; "
                "give its materials a density and specific heat, or the module a cold_capacity and hot_capacity"
            )


def pull_down(c: Circuit) -> PullDown:
    """Both transients. Raises InputError where a node that stores heat has no heat capacity."""
    require_capacities(c.nodes)
    cabinet = c.cabinet
    always_on, _ = _stretch(Transient(c, cabinet.bank.supply), 0.0, start_temperatures(c))
    run = _switched(c)
    last_cycle = _last_cycle(c, run)
    switched = _joined([x.curve for x in run.stretches])

    warm = cabinet.load.start > last_cycle.load
    goal = max(last_cycle.load, cabinet.setpoint) if warm else last_cycle.load
    above = switched.temperature[:, c.number(LOAD)] - goal
    known = run.settled or goal == cabinet.setpoint  # else the calculation ended before the load settled
    # at rest with the modules on, the reading may rise again above a setpoint that it passed for a while
    end = run.stretches[-1]
    held = not (run.resting and end.on) or end.curve.reading[-1] <= cabinet.setpoint
    return PullDown(
        always_on=always_on,
        switched=switched,
        time_to_setpoint=_crossing(switched.time, switched.reading, cabinet.setpoint) if held else None,
        load_time=_crossing(switched.time, above if warm else abs(above), 1.0) if known else None,
        load_goal=goal,
        period=last_cycle.period,
        duty=last_cycle.duty,
        mean_power=last_cycle.power,
        energy_a_day=last_cycle.power * DAY,
        load_settles=last_cycle.load,
        air_settles=last_cycle.air,
        settled=run.settled,
    )


@dataclass(frozen=True)
class _Stretch:
    """The time between two switchings."""

    curve: Curve
    on: bool


@dataclass(frozen=True)
class _Switched:
    """All stretches from the start to the end of the calculation, and how it ended."""

    stretches: tuple[_Stretch, ...]
    cycles: bool  # the thermostat switches on and off to the end
    settled: bool
    resting: bool  # nothing changes any more, and the thermostat does not switch


def _switched(c: Circuit) -> _Switched:
    """The stretches from switching to switching, until the load's mean no longer changes from cycle to cycle, or
    nothing changes any more."""
    cabinet, t = c.cabinet, start_temperatures(c)
    supply = cabinet.bank.supply
    on = Transient(c, supply)
    off = Transient(c, supply.half_off() if cabinet.thermostat.switches == "half" else None)
    high, low = (cabinet.setpoint + s * cabinet.thermostat.hysteresis / 2 for s in (1, -1))

    def switching(limit: float, direction: int) -> Event:
        return Event(lambda _, y: float(c.sensing @ on.temperatures(y)) - limit, direction)

    stretches: list[_Stretch] = []
    means: list[float] = []  # of the load, over each cycle
    running = float(c.sensing @ t) > low
    slow = c.capacity[c.number(LOAD)] / (cabinet.load.film * cabinet.load.surface)  # s in which the load follows
    now = 0.0
    while now < LONGEST and len(stretches) < 2 * MOST_CYCLES:
        limit, direction = (low, -1) if running else (high, 1)
        curve, rests = _stretch(on if running else off, now, t, switching(limit, direction))
        stretches.append(_Stretch(curve, running))
        now, t = float(curve.time[-1]), curve.temperature[-1]
        if (limit - curve.reading[-1]) * direction > ON_TIME:  # it has come to rest, or the longest time is over
            return _Switched(tuple(stretches), cycles=False, settled=rests, resting=rests)
        if len(stretches) > 2 and not running:
            cycle = [x.curve for x in stretches[-2:]]
            means.append(_mean(c, cycle, LOAD))
            period = float(cycle[1].time[-1] - cycle[0].time[0])
            if len(means) > 2 and abs(means[-1] - means[-2]) * max(1.0, slow / period) < SAME:
                return _Switched(tuple(stretches), cycles=True, settled=True, resting=False)
        running = not running
    return _Switched(tuple(stretches), cycles=bool(means), settled=False, resting=False)


@dataclass(frozen=True)
class _LastCycle:
    """Means over the last cycle; without cycles, the state at the end."""

    load: float  # degC
    air: float
    power: float  # W
    duty: float
    period: float | None  # s


def _last_cycle(c: Circuit, run: _Switched) -> _LastCycle:
    if not run.cycles:
        end = run.stretches[-1]
        load, air = (float(end.curve.temperature[-1, c.number(node)]) for node in (LOAD, AIR))
        return _LastCycle(load, air, float(end.curve.power[-1]), float(end.on), None)
    last = run.stretches[-2:]
    curves = [x.curve for x in last]
    period = sum(x.length for x in curves)
    energy = sum(_integral(x.power, x.time) for x in curves)
    on = sum(x.curve.length for x in last if x.on)
    return _LastCycle(_mean(c, curves, LOAD), _mean(c, curves, AIR), energy / period, on / period, period)


def _stretch(transient: Transient, begin: float, start: Array, switching: Event | None = None) -> tuple[Curve, bool]:
    """The curve from a state (N,) to the switching, to where nothing changes any more, or to the longest time; and
    whether it is at rest there."""

    def restless(time: float, y: Array) -> float:
        """Below 0 where all temperatures change by less than 0.01 K a day."""
        return float(abs(transient.rate(time, y)).max() - STILL)

    events = [Event(restless, -1)] if switching is None else [Event(restless, -1), switching]
    found = transient.integrate(start[transient.free], (begin, LONGEST), TOLERANCE, events)
    end = float(found.t[-1])
    # fine at the beginning, where the air answers at once, and wide later
    times = begin + (end - begin) * np.linspace(0, 1, POINTS) ** 2
    states = np.array([transient.temperatures(y) for y in found.sol(times).T])
    states[-1] = transient.temperatures(found.y[:, -1])
    curve = _curve(transient.circuit, transient.supply, times, states)
    return curve, restless(end, found.y[:, -1]) <= 1e-3 * STILL


def _curve(c: Circuit, supply: Supply | None, times: Array, states: Array) -> Curve:
    cold, hot = states[:, c.number(COLD)], states[:, c.number(HOT)]
    power = supply_power(c.cabinet.bank.module, supply, cold, hot) if supply else np.zeros(len(times))
    return Curve(times, states, states @ c.sensing, power)


def _joined(curves: list[Curve]) -> Curve:
    return Curve(
        *(np.concatenate([getattr(x, key) for x in curves]) for key in ("time", "temperature", "reading", "power"))
    )


def _mean(c: Circuit, curves: list[Curve], node: str) -> float:
    k = c.number(node)
    area = sum(_integral(x.temperature[:, k], x.time) for x in curves)
    return area / sum(x.length for x in curves)


def _integral(values: Array, time: Array) -> float:
    """Over time, by the trapezoidal rule."""
    return float(np.sum(np.diff(time) * (values[1:] + values[:-1]) / 2))


def _crossing(time: Array, values: Array, level: float) -> float | None:
    """When the values first come down to a level; None where they never do."""
    below = values <= level
    k = int(below.argmax())
    if not below[k]:
        return None
    if k == 0 or values[k - 1] == values[k]:
        return float(time[k])
    return float(time[k - 1] + (time[k] - time[k - 1]) * (values[k - 1] - level) / (values[k - 1] - values[k]))
