"""How fast a cabinet gets cold: the transient with the modules always on, and switched by the thermostat."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.cycle import Half, Thermostat, integral, mean_state, periodic_cycle, sampled_cycles
from fdm.cabinet.exponential import Event, Integrated, integrate
from fdm.cabinet.module import voltage
from fdm.cabinet.nodes import COLD, HOT, ROOM, Node
from fdm.cabinet.supply import module_current, supply_power
from fdm.cabinet.transient import TOLERANCE, Transient, start_temperatures
from fdm.errors import InputError

Array = NDArray[np.float64]

DAY = 86400.0  # s
LONGEST = 14 * DAY  # the calculation ends here, settled or not
MOST_CYCLES = 400
MANY_CYCLES = 40  # after these, most are passed over
SHOWN_CYCLES = 5  # of those that repeat, at the end of a run whose last ones were passed over
ON_TIME = 1e-4  # K within which a switching point counts as reached
STILL = 0.01 / DAY  # K/s below which a temperature counts as at rest
SAME = 0.02  # K by which the load may still move in the time it takes to follow the air
POINTS = 60  # kept of each stretch between two switchings
DIAL_STEPS = 6
DIALLED = 0.005  # K by which the load may be off its setpoint with the dial that is found


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
    load_setpoint_time: float | None  # the load itself comes down to the setpoint
    load_at_setpoint_reading: float | None  # degC of the load when the thermostat's reading reaches the setpoint
    dial: float | None  # degC to set the thermostat to, so that the load stands at the setpoint; None: not known
    period: float | None  # of the last cycle of on and off
    duty: float  # share of time on in the last cycle
    mean_power: float  # W in the last cycle, with the fans, which always run
    energy_a_day: float  # J at the mean power
    load_settles: float  # degC, mean over the last cycle
    air_settles: float
    settled: bool  # False where the longest time or the most cycles ended it
    cycle: Curve | None  # of on and off, the last one, which repeats where it is settled
    peaks: "Peaks"


@dataclass(frozen=True)
class Peaks:
    """The most of each on the way down and in the cycles, with the modules always on or switched."""

    current: float  # A through a driven module
    voltage: float  # V across it
    difference: float  # K between its faces
    supply_current: float  # A
    power: float  # W


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
    on, start = Transient(c, cabinet.bank.supply), start_temperatures(c)
    never_off = _until_rest(on, 0.0, start)
    always_on = _curve(on, never_off)
    run = _with_periodic_cycle(c, _switched(c, start, never_off))
    last_cycle = _last_cycle(c, run)
    switched = _joined([x.curve for x in run.stretches])

    warm = cabinet.load.start > last_cycle.load
    goal = max(last_cycle.load, cabinet.setpoint) if warm else last_cycle.load
    load = switched.temperature @ c.load
    above = load - goal
    known = run.settled or goal == cabinet.setpoint  # else the calculation ended before the load settled
    # at rest with the modules on, the reading may rise again above a setpoint that it passed for a while
    end = run.stretches[-1]
    held = not (run.resting and end.on) or end.curve.reading[-1] <= cabinet.setpoint
    time_to_setpoint = _crossing(switched.time, switched.reading, cabinet.setpoint) if held else None
    return PullDown(
        always_on=always_on,
        switched=switched,
        time_to_setpoint=time_to_setpoint,
        load_time=_crossing(switched.time, above if warm else abs(above), 1.0) if known else None,
        load_goal=goal,
        load_setpoint_time=_crossing(switched.time, load, cabinet.setpoint),
        load_at_setpoint_reading=None
        if time_to_setpoint is None
        else float(np.interp(time_to_setpoint, switched.time, load)),
        dial=_dial(c, run, last_cycle.load),
        period=last_cycle.period,
        duty=last_cycle.duty,
        mean_power=last_cycle.power + cabinet.bank.fan_power,
        energy_a_day=(last_cycle.power + cabinet.bank.fan_power) * DAY,
        load_settles=last_cycle.load,
        air_settles=last_cycle.air,
        settled=run.settled,
        cycle=_joined([x.curve for x in run.cycle]) if run.cycle else None,
        peaks=_peaks(c, always_on, run),
    )


@dataclass(frozen=True)
class _Stretch:
    """The time between two switchings, or many cycles at their mean."""

    curve: Curve
    on: bool
    averaged: bool = False


@dataclass(frozen=True)
class _Switched:
    """All stretches from the start to the end of the calculation, and how it ended."""

    stretches: tuple[_Stretch, ...]
    cycles: bool  # the thermostat switches on and off to the end
    settled: bool
    resting: bool  # nothing changes any more, and the thermostat does not switch
    cycle: tuple[_Stretch, ...] = ()  # the two stretches of the last cycle, or of the one that repeats


def _switched(c: Circuit, t: Array, never_off: Integrated) -> _Switched:
    """The stretches from switching to switching, until the load's mean no longer changes from cycle to cycle, or
    nothing changes any more; from temperatures (N,) on, from which it was also integrated with the modules
    `never_off`."""
    cabinet, thermostat = c.cabinet, Thermostat.of(c)
    on, off, low, high = thermostat.on, thermostat.off, thermostat.low, thermostat.high
    stretches: list[_Stretch] = []
    means: list[float] = []  # of the load, over each cycle
    running = float(c.reading(t)) > low
    slow = c.capacity[c.load > 0].sum() / (cabinet.load.film * cabinet.load.surface)  # s in which the load follows
    now = 0.0
    while now < LONGEST and len(stretches) < 2 * MOST_CYCLES:
        limit, direction = (low, -1) if running else (high, 1)
        switching, transient = thermostat.switching(running), on if running else off
        if running and not stretches:
            found = never_off.until(switching)
        else:
            found = _until_rest(transient, now, t, switching)
        curve = _curve(transient, found)
        stretches.append(_Stretch(curve, running))
        now, t = float(curve.time[-1]), curve.temperature[-1]
        if (limit - curve.reading[-1]) * direction > ON_TIME:  # it has come to rest, or the longest time is over
            rests = abs(transient.rate(found.last)).max() <= 1.001 * STILL
            return _Switched(tuple(stretches), cycles=False, settled=rests, resting=rests)
        if len(stretches) > 2 and not running:
            cycle = [x.curve for x in stretches[-2:]]
            means.append(_mean(cycle, c.load))
            period = float(cycle[1].time[-1] - cycle[0].time[0])
            if len(means) > 2 and abs(means[-1] - means[-2]) * max(1.0, slow / period) < SAME:
                return _Switched(tuple(stretches), cycles=True, settled=True, resting=False)
            if len(means) == MANY_CYCLES and now < LONGEST:
                leaps, repeats = _many_cycles(c, thermostat, t, now)
                stretches.append(leaps)
                if repeats:
                    return _Switched(tuple(stretches), cycles=True, settled=True, resting=False)
                now, t = float(leaps.curve.time[-1]), leaps.curve.temperature[-1]
        running = not running
    return _Switched(tuple(stretches), cycles=bool(means), settled=False, resting=False)


def _many_cycles(c: Circuit, thermostat: Thermostat, t: Array, now: float) -> tuple[_Stretch, bool]:
    """Many cycles from a state (N,) at which the modules are switched on, as the means of some of them and the state
    after them; and whether they come to repeat."""
    sampled = sampled_cycles(thermostat, t[thermostat.on.free], (now, LONGEST))
    times, states, power = [now], [t], [0.0]
    for at, halves in zip(sampled.times, sampled.halves):
        curves = [x.curve for x in _stretches_of(halves)]
        times.append(float(at))
        states.append(thermostat.on.temperatures(mean_state([x.times for x in halves], [x.states for x in halves])))
        power.append(sum(float(integral(x.power, x.time)) for x in curves) / sum(x.length for x in curves))
    power[0] = power[-1] if len(power) == 1 else power[1]
    times.append(times[-1])
    states.append(thermostat.on.temperatures(sampled.last))
    all_states = np.array(states)
    curve = Curve(np.array(times), all_states, c.reading(all_states), np.array([*power, power[-1]]))
    return _Stretch(curve, on=True, averaged=True), sampled.repeats


def _stretches_of(halves: tuple[Half, Half], begin: float = 0.0) -> tuple[_Stretch, ...]:
    """The two stretches of a cycle that begins at a time, s."""
    out = []
    for half, on in zip(halves, (True, False)):
        out.append(_Stretch(_curve_of(half.transient, begin + half.times, half.states), on))
        begin += half.length
    return tuple(out)


def _with_periodic_cycle(c: Circuit, run: _Switched) -> _Switched:
    """The run with its last cycle, if it cycles: the one that repeats, where it comes to that."""
    if not run.cycles:
        return run
    end, thermostat = run.stretches[-1], Thermostat.of(c)
    halves = periodic_cycle(thermostat, end.curve.temperature[-1, thermostat.on.free], POINTS) if run.settled else None
    if halves is None:
        whole = [x for x in run.stretches if not x.averaged][-2:]
        return replace(run, cycle=tuple(whole), settled=run.settled and not end.averaged)
    cycle = _stretches_of(halves)
    if not end.averaged:
        return replace(run, cycle=cycle)
    added, begin = list[_Stretch](), float(end.curve.time[-1])
    for _ in range(SHOWN_CYCLES):
        added += _stretches_of(halves, begin)
        begin = float(added[-1].curve.time[-1])
    return replace(run, stretches=(*run.stretches, *added), cycle=cycle)


def _dial(c: Circuit, run: _Switched, load: float) -> float | None:
    """The setting of the thermostat with which the load stands at the cabinet's setpoint, by secants on the cycle that
    repeats; None where the cabinet does not cycle, or would not with that setting."""
    if not (run.cycles and run.settled):
        return None
    goal, start = c.cabinet.setpoint, run.cycle[-1].curve.temperature[-1]
    dials, loads = [goal], [load]
    by_room = float(c.sensing[c.number(ROOM)])  # its share in the reading stays as it is
    first = 1 / (1 - by_room) if by_room < 1 else 1.0
    for _ in range(DIAL_STEPS):
        if abs(loads[-1] - goal) < DIALLED:
            return dials[-1]
        slope = (loads[-1] - loads[-2]) / (dials[-1] - dials[-2]) if len(dials) > 1 else first
        if slope <= 0:
            return None
        dial = dials[-1] + (goal - loads[-1]) / slope
        thermostat = Thermostat.of(c, dial)
        halves = periodic_cycle(thermostat, start[thermostat.on.free] + goal - load, POINTS)
        if halves is None:
            return None
        dials.append(dial)
        loads.append(_load_of(c, halves))
    return None


def _load_of(c: Circuit, halves: tuple[Half, Half]) -> float:
    """degC of the load, its mean over a cycle."""
    mean = mean_state([x.times for x in halves], [x.states for x in halves])
    return float(halves[0].transient.temperatures(mean) @ c.load)


def _peaks(c: Circuit, always_on: Curve, run: _Switched) -> Peaks:
    module, thermostat = c.cabinet.bank.module, Thermostat.of(c)
    driven = [(always_on, thermostat.on.supply)]
    driven += [(x.curve, (thermostat.on if x.on else thermostat.off).supply) for x in run.stretches if not x.averaged]
    most = np.zeros(5)
    for curve, supply in driven:
        cold, hot = (curve.temperature[:, c.number(face)] for face in (COLD, HOT))
        amperes = module_current(module, supply, cold, hot) if supply else np.zeros(len(cold))
        volts, parallel = voltage(module, amperes, cold, hot) * (supply is not None), supply.parallel if supply else 1
        rows = (amperes, volts, hot - cold, amperes * parallel, curve.power)
        most = np.maximum(most, [float(x.max()) for x in rows])
    return Peaks(*most.tolist())


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
        load, air = (float(end.curve.temperature[-1] @ shares) for shares in (c.load, c.air_at_load))
        return _LastCycle(load, air, float(end.curve.power[-1]), float(end.on), None)
    last = run.cycle
    curves = [x.curve for x in last]
    period = sum(x.length for x in curves)
    energy = sum(float(integral(x.power, x.time)) for x in curves)
    on = sum(x.curve.length for x in last if x.on)
    return _LastCycle(_mean(curves, c.load), _mean(curves, c.air_at_load), energy / period, on / period, period)


def _until_rest(transient: Transient, begin: float, start: Array, *events: Event) -> Integrated:
    """From a state (N,) to the first of the events, to where nothing changes any more, or to the longest time."""

    def restless(_: Array, rates: Array) -> Array:
        """Below 0 where all temperatures change by less than 0.01 K a day."""
        return np.asarray(abs(rates).max(1) - STILL)

    return integrate(transient, start[transient.free], (begin, LONGEST), TOLERANCE, [*events, Event(restless, -1)])


def _curve(transient: Transient, found: Integrated) -> Curve:
    # fine at the beginning, where the air answers at once, and wide later
    times = found.begin + (found.end - found.begin) * np.linspace(0, 1, POINTS) ** 2
    return _curve_of(transient, times, found.at(times))


def _curve_of(transient: Transient, times: Array, states: Array) -> Curve:
    """A curve with the states (K, F) at times (K,)."""
    c, supply, t = transient.circuit, transient.supply, transient.temperatures(states)
    cold, hot = t[:, c.number(COLD)], t[:, c.number(HOT)]
    power = supply_power(c.cabinet.bank.module, supply, cold, hot) if supply else np.zeros(len(times))
    return Curve(times, t, c.reading(t), power)


def _joined(curves: list[Curve]) -> Curve:
    return Curve(
        *(np.concatenate([getattr(x, key) for x in curves]) for key in ("time", "temperature", "reading", "power"))
    )


def _mean(curves: list[Curve], shares: Array) -> float:
    """degC of the nodes, each by its share."""
    area = sum(float(integral(x.temperature @ shares, x.time)) for x in curves)
    return area / sum(x.length for x in curves)


def _crossing(time: Array, values: Array, level: float) -> float | None:
    """When the values first come down to a level; None where they never do."""
    below = values <= level
    k = int(below.argmax())
    if not below[k]:
        return None
    if k == 0:
        return float(time[k])
    return float(time[k - 1] + (time[k] - time[k - 1]) * (values[k - 1] - level) / (values[k - 1] - values[k]))
