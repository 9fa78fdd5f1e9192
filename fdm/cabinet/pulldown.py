"""How fast: the transient of the lumped cabinet, with the modules always on, and switched by the thermostat."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.circuit import COLD, HOT, LOAD, ROOM, Circuit
from fdm.cabinet.model import AIR
from fdm.cabinet.module import Supply, supply_power
from fdm.cabinet.steady import inflow, inflow_slopes
from fdm.errors import InputError

Array = NDArray[np.float64]

DAY = 86400.0  # s
LONGEST = 14 * DAY  # after which a cabinet that has not settled is left
MOST_CYCLES = 400
ON_TIME = 1e-4  # K within which a switching point counts as reached
STILL = 0.01 / DAY  # K/s below which a temperature counts as at rest
SAME = 0.02  # K by which the load may still move in the time it takes to follow the air
POINTS = 60  # kept of each stretch between two switchings


@dataclass(frozen=True)
class Curve:
    """A stretch of time: K moments (s), N nodes (degC), the thermostat's reading (degC), the supply's power (W)."""

    time: Array  # (K,)
    temperature: Array  # (K, N)
    reading: Array  # (K,)
    power: Array  # (K,)


@dataclass(frozen=True)
class PullDown:
    """From the start: `always_on` to where it settles, and `switched` by the thermostat. Times in s, None: never."""

    always_on: Curve
    switched: Curve
    time_to_setpoint: float | None  # the thermostat's reading reaches the setpoint
    load_time: float | None  # the load comes within 1 K of its goal
    load_goal: float  # degC, the setpoint, or where the load settles
    period: float | None  # of a full cycle, at last
    duty: float  # share of time on, at last
    mean_power: float  # W, at last
    energy_a_day: float  # J, at last
    load_settles: float  # degC, mean over the last cycle
    air_settles: float
    settled: bool  # False where the longest time or the most cycles ended it


def pull_down(c: Circuit) -> PullDown:
    """Both transients. Raises InputError where a node that stores heat has no heat capacity."""
    for node, joules in zip(c.nodes, c.capacity):
        if joules <= 0 and node != ROOM:
            raise InputError(
                f"{node}: it has no heat capacity; "
                "give its materials a density and specific heat, or the module a cold_capacity and hot_capacity"
            )
    cabinet = c.cabinet
    supply = cabinet.bank.supply
    t = np.full(len(c.nodes), float(cabinet.room if cabinet.start is None else cabinet.start))
    t[c.number(LOAD)], t[c.number(ROOM)] = cabinet.load.start, cabinet.room
    on, _ = _stretch(c, supply, 0.0, t, LONGEST, None)
    off_supply = supply.half_off() if cabinet.thermostat.switches == "half" else None
    high, low = (cabinet.setpoint + s * cabinet.thermostat.hysteresis / 2 for s in (1, -1))

    stretches: list[tuple[Curve, bool]] = []  # with the modules on, or off
    means: list[float] = []  # of the load, over each cycle
    running, settled, resting = float(c.sensing @ t) > low, False, False
    slow = c.capacity[c.number(LOAD)] / (cabinet.load.film * cabinet.load.surface)  # s in which the load follows
    now = 0.0
    while now < LONGEST and len(stretches) < 2 * MOST_CYCLES:
        limit = low if running else high
        curve, rests = _stretch(c, supply if running else off_supply, now, t, LONGEST - now, limit, falling=running)
        stretches.append((curve, running))
        now, t = float(curve.time[-1]), curve.temperature[-1].copy()
        short = (curve.reading[-1] - limit) * (1 if running else -1)
        if short > ON_TIME:  # of the switching point: it has come to rest, or the longest time is over
            settled = resting = rests
            means = []
            break
        if len(stretches) > 2 and not running:
            means.append(_mean(c, [x for x, _ in stretches[-2:]], LOAD))
            period = float(stretches[-1][0].time[-1] - stretches[-2][0].time[0])
            if len(means) > 2 and abs(means[-1] - means[-2]) * max(1.0, slow / period) < SAME:
                settled = True
                break
        running = not running
    switched = _joined([x for x, _ in stretches])
    last = stretches[-2:] if means else stretches[-1:]
    if means:
        curves, length = [x for x, _ in last], sum(_time(x) for x, _ in last)
        load, air = _mean(c, curves, LOAD), _mean(c, curves, AIR)
        power = sum(float(np.trapezoid(x.power, x.time)) for x in curves) / length
        duty = sum(_time(x) for x, on_now in last if on_now) / length
    else:
        end, on_now = last[-1]
        load, air = (float(end.temperature[-1, c.number(node)]) for node in (LOAD, AIR))
        power, duty, length = float(end.power[-1]), float(on_now), None
    warm = cabinet.load.start > load
    goal = max(load, cabinet.setpoint) if warm else load
    above = switched.temperature[:, c.number(LOAD)] - goal
    known = settled or goal == cabinet.setpoint  # where else it would settle was not seen
    # at rest with the modules on, a setpoint that was passed for a while may be lost again
    held = not (resting and last[-1][1]) or last[-1][0].reading[-1] <= cabinet.setpoint
    return PullDown(
        on, switched,
        _crossing(switched.time, switched.reading, cabinet.setpoint) if held else None,
        _crossing(switched.time, above if warm else abs(above), 1.0) if known else None, goal,
        length, duty, power, power * DAY, load, air, settled,
    )  # fmt: skip


def _time(x: Curve) -> float:
    return float(x.time[-1] - x.time[0])


def _stretch(
    c: Circuit,
    supply: Supply | None,
    begin: float,
    start: Array,
    longest: float,
    until: float | None,
    falling: bool = True,
) -> tuple[Curve, bool]:
    """From a state to where the thermostat's reading passes `until`, or to where nothing changes any more; and whether
    that is how it ends."""
    free = np.array([k for k, n in enumerate(c.nodes) if n != ROOM])
    laplacian, capacity = c.laplacian, c.capacity[free]

    def full(y: Array) -> Array:
        t = start.copy()
        t[free] = y
        return t

    def rate(_: float, y: Array) -> Array:
        return inflow(c, laplacian, supply, full(y))[free] / capacity

    def slopes(_: float, y: Array) -> Array:
        return inflow_slopes(c, laplacian, supply, full(y))[np.ix_(free, free)] / capacity[:, None]

    def passes(_: float, y: Array) -> float:
        assert until is not None
        return float(c.sensing @ full(y)) - until

    def rests(time: float, y: Array) -> float:
        """Below 0 where all temperatures change by less than 0.01 K a day."""
        return float(abs(rate(time, y)).max() - STILL)

    passes.terminal, passes.direction = True, -1 if falling else 1  # type: ignore[attr-defined]
    rests.terminal, rests.direction = True, -1  # type: ignore[attr-defined]
    events = [rests] if until is None else [rests, passes]
    from scipy.integrate import solve_ivp  # as scipy.optimize in steady.py

    found = solve_ivp(
        rate,
        (begin, begin + longest),
        start[free],
        "BDF",
        events=events,
        jac=slopes,
        rtol=1e-5,
        atol=1e-4,
        dense_output=True,
    )
    if not found.success:
        raise ArithmeticError(f"the transient stopped: {found.message}")
    end = float(found.t[-1])
    # fine at the beginning, where the air answers at once, and wide later
    times = begin + (end - begin) * np.linspace(0, 1, POINTS) ** 2
    states = np.array([full(y) for y in found.sol(times).T])
    states[-1] = full(found.y[:, -1])
    return _curve(c, supply, times, states), rests(end, found.y[:, -1]) <= 1e-3 * STILL


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
    area = sum(float(np.trapezoid(x.temperature[:, k], x.time)) for x in curves)
    return area / sum(_time(x) for x in curves)


def _crossing(time: Array, values: Array, level: float) -> float | None:
    """When the values first come down to a level; None where they never do."""
    below = values <= level
    k = int(below.argmax())
    if not below[k]:
        return None
    if k == 0 or values[k - 1] == values[k]:
        return float(time[k])
    return float(time[k - 1] + (time[k] - time[k - 1]) * (values[k - 1] - level) / (values[k - 1] - values[k]))
