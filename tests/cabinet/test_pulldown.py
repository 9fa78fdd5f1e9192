"""The transient, against exponentials in closed form, heat balances over time, and the thermostat's own rules."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp, trapezoid
from scipy.linalg import expm

from fdm.cabinet import pulldown
from fdm.cabinet.bank import Sink
from fdm.cabinet.load import Load
from fdm.cabinet.module import heat_balances
from fdm.cabinet.pulldown import DAY, LONGEST, pull_down
from fdm.cabinet.steady import inflow, operating_point
from fdm.cabinet.supply import Supply
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.walls import Layer, Wall
from fdm.errors import InputError
from fdm.section.model import Material
from tests.cabinet.plain_box import (
    DEAD,
    FACES,
    FILE,
    FOAM,
    IN_A_WALL,
    METAL,
    MODULE,
    SEAL_FILE,
    SKIN,
    SLOPING,
    box_circuit,
)

ZERO = 273.15
NEVER = -60  # degC, a setpoint out of reach: the thermostat never switches, which saves the cycles
LIGHT = Material("light", (0.03, 0.03), density=1e-4, specific_heat=1.0)


def heavy_load(start, room, load=(5, 3600, 0.3, 8), **changes):
    """Only the load stores heat: next to no air, linings or sinks, and modules that do nothing."""
    c = box_circuit(
        {"module": DEAD, "supply": Supply(voltage=0), "cold_capacity": 1e-3, "hot_capacity": 1e-3},
        inside=(0.01, 0.01, 0.01),
        walls=(Wall("shell", (Layer(LIGHT, 0.03),), 8, 8, area=0.66), Wall("none", (Layer(LIGHT, 30),), 8, 8, FACES)),
        room=room,
        start=start,
        load=Load(*load, start),
        **changes,
    )
    walls = 0.66 / (1 / 8 + 0.03 / 0.03 + 1 / 8) + 6e-4 / (1 / 8 + 30 / 0.03 + 1 / 8)
    between = load[2] * load[3]
    series = 1 / (1 / walls + 1 / between)
    return (
        c,
        load[0] * load[1] / series,
        series / between,
    )  # circuit, time constant, share of the fall that is air to load


def stretches(curve):
    """The stretches between two switchings: a moment that is kept twice parts them."""
    at = np.nonzero(np.diff(curve.time) == 0)[0] + 1
    ends = [0, *at, len(curve.time)]
    return [slice(a, b) for a, b in itertools.pairwise(ends)]


def mean(curve, piece, values):
    return trapezoid(values[piece], curve.time[piece])


def test_one_capacity_warms_up_as_the_exponential():
    """T = room + (start - room) exp(-t / RC), closed form."""
    c, constant, _ = heavy_load(start=5, room=25)
    on = pull_down(c).always_on
    load = on.temperature[:, c.number("load")]
    assert load == pytest.approx(25 - 20 * np.exp(-on.time / constant), abs=0.005)
    assert on.time[-1] > 5 * constant and load[0] == 5
    assert (on.power == 0).all()


def test_times_to_the_setpoint_in_closed_form():
    """A hot load in a cold room cools by itself; when it and the air pass the setpoint is known exactly."""
    c, constant, share = heavy_load(start=60, room=2)
    run = pull_down(c)
    assert run.load_time == pytest.approx(constant * np.log((60 - 2) / (7 + 1 - 2)), rel=0.005)
    # the thermostat reads the air, which is as far above the room as the walls' share of the way says
    assert run.time_to_setpoint == pytest.approx(constant * np.log((1 - share) * (60 - 2) / (7 - 2)), rel=0.005)


def test_constant_current_is_the_matrix_exponential():
    """With constant properties and current all is linear: five capacities, matrix written out by hand."""
    skin, foam = 0.002 / 0.2, 0.04 / 0.03
    c = box_circuit(
        {"supply": Supply(current=3.0)}, inside_heat=2, load=Load(5, 3600, 0.3, 8, 18), start=22, setpoint=NEVER
    )
    lining_in, lining_out = 0.66 / (1 / 8 + skin / 2), 0.66 / (skin / 2 + foam + 1 / 9)
    a, r, k = MODULE.seebeck, MODULE.resistance, MODULE.conductance
    load, cold, hot = 2.4, 1 / 0.3, 1 / 0.2
    capacity = np.array([0.036 * 1.23 * 1008, 5 * 3600, 300, 600, 0.66 * 0.002 * 1200 * 1000])
    matrix = np.array([  # of air, load, cold, hot, lining
        [-load - cold - lining_in, load, cold, 0, lining_in],
        [load, -load, 0, 0, 0],
        [cold, 0, -cold - a * 3 - k, k, 0],
        [0, 0, k, -hot + a * 3 - k, 0],
        [lining_in, 0, 0, 0, -lining_in - lining_out],
    ]) / capacity[:, None]  # fmt: skip
    joule = 3**2 * r / 2
    push = np.array([2, 0, joule - a * 3 * ZERO, joule + a * 3 * ZERO + hot * 25, lining_out * 25]) / capacity
    rest = -np.linalg.solve(matrix, push)
    start = np.array([22, 18, 22, 22, 22.0])
    on = pull_down(c).always_on
    order = [c.number(n) for n in ("air", "load", "cold face", "hot face", "lining of shell")]
    truth = np.array([rest + expm(matrix * t) @ (start - rest) for t in on.time])
    assert on.temperature[:, order] == pytest.approx(truth, abs=0.01)
    assert abs(truth[:, 0]).max() > 10
    volts = a * (truth[:, 3] - truth[:, 2]) + 3 * r
    assert on.power == pytest.approx(3 * volts, rel=1e-3)


@pytest.mark.parametrize(
    "bank", [{}, IN_A_WALL | {"module": SLOPING, "supply": Supply(voltage=8, parallel=2, lead_resistance=0.3)}]
)
def test_energy_is_conserved_over_the_transient(bank):
    """What the supply gave and what came in from the room is what is stored, by the trapezoidal rule on moments."""
    c = box_circuit(bank, inside_heat=2, load=Load(5, 3600, 0.3, 8, 20, heat=1), start=25, setpoint=NEVER)
    on = pull_down(c).always_on
    room = c.number("room")
    supply = c.cabinet.bank.supply
    flows = []
    for t, power in zip(on.temperature, on.power):
        into_room = (c.laplacian @ t)[room]  # W that leave the room
        amps = supply.voltage and power / supply.voltage
        flows.append(power - amps**2 * supply.lead_resistance + into_room + 3.0)
        assert flows[-1] == pytest.approx(inflow(c, c.laplacian, supply, t)[np.arange(len(t)) != room].sum(), abs=1e-8)
    stored = c.capacity @ (on.temperature - on.temperature[0]).T
    # moments are kept at even steps of the root of time: integrate over that, where the curve is smooth
    u = np.sqrt((on.time - on.time[0]) / (on.time[-1] - on.time[0]))
    brought = trapezoid(np.array(flows) * 2 * u * on.time[-1], u)
    assert brought == pytest.approx(stored[-1], rel=0.003)
    assert abs(stored[-1]) > 1e5


def test_it_settles_at_the_operating_point():
    c = box_circuit(IN_A_WALL | {"supply": Supply(voltage=8, parallel=2, lead_resistance=0.3)}, setpoint=NEVER)
    on, point = pull_down(c).always_on, operating_point(c, c.cabinet.bank.supply)
    assert dict(zip(c.names, on.temperature[-1])) == pytest.approx(point.temperature, abs=0.02)
    assert on.power[-1] == pytest.approx(point.power, rel=1e-3)
    assert on.reading[-1] == pytest.approx(point.reading, abs=0.02)


@pytest.mark.parametrize("sensor", ["air", "on the skin", "in the wall"])
def test_the_thermostat_switches_at_its_points(sensor):
    file = {"air": None, "on the skin": FILE, "in the wall": SEAL_FILE}[sensor]
    sides = {"on the skin": (IN_A_WALL["inside"], IN_A_WALL["outside"]), "in the wall": (("in",), ("out",))}
    thermostat = Thermostat(3, file, sensor, *sides.get(sensor, ()))
    setpoint = 15 if sensor == "in the wall" else 7
    c = box_circuit(
        IN_A_WALL | {"supply": Supply(voltage=8, parallel=2)},
        thermostat=thermostat,
        setpoint=setpoint,
        load=Load(1, 3600, 0.3, 8, setpoint),
    )
    run = pull_down(c)
    curve = run.switched
    assert curve.reading == pytest.approx(curve.temperature @ c.sensing)
    parts = stretches(curve)
    assert len(parts) >= 6
    ends = np.array([curve.reading[p][-1] for p in parts])
    assert ends[::2] == pytest.approx(np.full(len(ends[::2]), setpoint - 1.5), abs=2e-4)
    assert ends[1::2] == pytest.approx(np.full(len(ends[1::2]), setpoint + 1.5), abs=2e-4)
    for k, p in enumerate(parts):
        assert (curve.power[p] > 1).all() if k % 2 == 0 else (curve.power[p] == 0).all()
        assert (np.diff(curve.temperature[p], axis=0) != 0).any()
    for p, q in itertools.pairwise(parts):  # no node jumps at a switching
        assert curve.temperature[p][-1] == pytest.approx(curve.temperature[q][0])
    curve = run.cycle
    on, off = stretches(curve)
    assert curve.reading[[0, -1]] == pytest.approx([setpoint + 1.5] * 2, abs=2e-4)
    assert curve.temperature[0] == pytest.approx(curve.temperature[-1], abs=2e-3)  # it repeats
    lengths = [curve.time[p][-1] - curve.time[p][0] for p in (on, off)]
    assert (
        run.settled
        and run.period == pytest.approx(sum(lengths))
        and run.duty == pytest.approx(lengths[0] / sum(lengths))
    )
    assert run.mean_power == pytest.approx(mean(curve, on, curve.power) / sum(lengths), rel=1e-3)
    assert run.energy_a_day == pytest.approx(run.mean_power * 86400)


@pytest.mark.parametrize("bank", [{}, IN_A_WALL | {"module": SLOPING, "supply": Supply(voltage=8, parallel=2)}])
def test_over_a_cycle_the_modules_pump_what_comes_in(bank):
    """Share of time on x cooling, less what leaks back while off, is the mean loss; and the load follows the air."""
    c = box_circuit(bank, inside_heat=2, load=Load(1, 3600, 0.3, 8, 7.3, heat=1))
    run = pull_down(c)
    curve, module, count = run.cycle, c.cabinet.bank.module, c.cabinet.bank.supply.modules
    on, off = stretches(curve)[-2:]
    cold, hot = (curve.temperature[:, c.number(n)] for n in ("cold face", "hot face"))
    amps = curve.power / 8 / count
    absorbed, _ = heat_balances(module, amps, cold, hot)
    pumped = count * (mean(curve, on, absorbed) + mean(curve, off, absorbed)) / run.period
    mean_t = np.array([mean(curve, on, t) + mean(curve, off, t) for t in curve.temperature.T]) / run.period
    cold_side = [k for k, n in enumerate(c.names) if n not in ("hot face", "room")]
    came = -(c.laplacian @ mean_t)[cold_side].sum() + 3.0
    assert pumped == pytest.approx(came, rel=0.005)
    if not bank:
        walls = 0.66 / (1 / 8 + 0.002 / 0.2 + 0.04 / 0.03 + 1 / 9)
        assert pumped == pytest.approx(walls * (25 - run.air_settles) + 3, rel=0.005)
    assert 0 < run.duty < 1 and run.mean_power == pytest.approx(
        count * 8 * (mean(curve, on, amps)) / run.period, rel=1e-3
    )
    assert run.load_settles == pytest.approx(run.air_settles + 1 / 2.4, abs=0.02)


@pytest.mark.parametrize("mass", [0.5, 2])
def test_what_is_called_settled_is_settled(mass):
    """Over a settled cycle a load without own heat is as warm as the air on average."""
    run = pull_down(box_circuit(load=Load(mass, 3600, 0.3, 8, start=7.3)))
    assert run.settled
    assert run.load_settles == pytest.approx(run.air_settles, abs=0.003)


def test_a_fast_thermostat_settles_and_the_cycles_passed_over_take_their_time(monkeypatch):
    """A thousand cycles of some two minutes, passed over after the first ones; or every one integrated, of a load that
    needs fewer."""
    c = box_circuit(thermostat=Thermostat(0.5), load=Load(2, 3600, 0.3, 8, 25), setpoint=12)
    short = pull_down(c)
    assert short.settled and short.period < 150 and short.load_settles == pytest.approx(short.air_settles, abs=0.003)
    monkeypatch.setattr(pulldown, "MANY_CYCLES", 10)
    leaping = pull_down(c)
    assert len(leaping.switched.time) < len(short.switched.time)
    assert (np.diff(leaping.switched.time) >= 0).all()
    assert leaping.load_time == pytest.approx(short.load_time, rel=0.01)
    assert leaping.load_settles == pytest.approx(short.load_settles, abs=1e-3)
    assert leaping.duty == pytest.approx(short.duty, rel=1e-3)
    faster = pull_down(box_circuit(thermostat=Thermostat(0.1), load=Load(10, 3600, 0.3, 8, 25)))
    assert faster.settled and faster.period < 60 and faster.load_settles == pytest.approx(7, abs=0.05)


WARM_LOAD = Load(2, 3600, 0.3, 8, 25, heat=3)


@pytest.fixture(scope="module")
def warm():
    """A load with heat of its own, which stays above the air."""
    return pull_down(box_circuit(load=WARM_LOAD))


def test_with_the_dial_that_is_found_the_load_stands_at_the_setpoint(warm):
    assert warm.load_settles > 7.5 and warm.dial < 6.5
    at_dial = pull_down(box_circuit(load=WARM_LOAD, setpoint=warm.dial))
    assert at_dial.load_settles == pytest.approx(7, abs=0.01)


def test_the_load_has_its_own_time_to_the_setpoint(warm):
    run = pull_down(box_circuit(load=Load(2, 3600, 0.3, 8, 25)))
    assert run.time_to_setpoint < run.load_setpoint_time and run.load_at_setpoint_reading > 8
    at = [
        np.interp(t, run.switched.time, run.switched.temperature[:, 1]) for t in (run.time_to_setpoint, run.load_time)
    ]
    assert at == pytest.approx([run.load_at_setpoint_reading, 8], abs=0.01)
    assert warm.settled and warm.load_setpoint_time is None


def test_the_peaks_are_those_of_the_whole_way():
    c = box_circuit({"supply": Supply(current=2, parallel=2)}, thermostat=Thermostat(3, switches="half"), setpoint=12)
    run = pull_down(c)
    assert run.peaks.supply_current == pytest.approx(2) and run.peaks.power == pytest.approx(run.switched.power.max())
    assert run.peaks.current == pytest.approx(2)  # all of it through one of the two, while the other rests


@pytest.mark.parametrize("load", [(2, 3600, 0.3, 8), (50, 3600, 0.3, 8), (100, 4190, 1.0, 1)], ids=range(3))
def test_what_has_not_settled_is_not_called_so(load, monkeypatch):
    """The most cycles are over before the load has followed the air: slowly, a heavy load changes little in each."""
    monkeypatch.setattr(pulldown, "MOST_CYCLES", 10)
    run = pull_down(box_circuit(load=Load(*load, start=7.3)))
    assert not run.settled
    assert run.load_settles > run.air_settles + 0.1


def test_what_has_not_settled_when_time_is_over_is_not_called_so(monkeypatch):
    """After the first cycles many are passed over, to the end of the time."""
    monkeypatch.setattr(pulldown, "MANY_CYCLES", 5)
    monkeypatch.setattr(pulldown, "LONGEST", 3 * 3600.0)
    run = pull_down(box_circuit(thermostat=Thermostat(0.5), load=Load(50, 3600, 0.3, 8, start=18), setpoint=12))
    assert not run.settled
    assert run.load_settles > run.air_settles + 0.1


def test_half_of_the_modules_switch():
    """All cannot rest, half cannot hold: the power goes up and down, but never to nothing."""
    bank = {"supply": Supply(voltage=8, parallel=2), "hot_sink": Sink(0.12)}
    c = box_circuit(bank, thermostat=Thermostat(3, switches="half"), load=Load(1, 3600, 0.3, 8, 7), inside_heat=9)
    supply = c.cabinet.bank.supply
    assert operating_point(c, supply).reading < 5.5 and operating_point(c, supply.half_off()).reading > 8.5
    run = pull_down(c)
    curve = run.switched
    parts = stretches(curve)
    assert len(parts) >= 6 and curve.power.min() > 5
    on, off = (mean(curve, p, curve.power) / np.ptp(curve.time[p]) for p in parts[-2:])
    assert on == pytest.approx(2 * off, rel=0.15)
    assert run.mean_power == pytest.approx(run.duty * on + (1 - run.duty) * off, rel=1e-3)


def test_half_of_the_modules_come_to_hold_it_alone():
    """At last the other half never switches on again: the figures are those of half the modules at rest."""
    c = box_circuit({"supply": Supply(voltage=8, parallel=2)}, thermostat=Thermostat(1, switches="half"), setpoint=17)
    half = operating_point(c, c.cabinet.bank.supply.half_off())
    assert half.reading < 17
    run = pull_down(c)
    assert run.settled and run.duty == 0
    assert run.load_settles == pytest.approx(half.temperature["load"], abs=0.02)
    assert run.air_settles == pytest.approx(half.temperature["air"], abs=0.02)
    assert run.mean_power == pytest.approx(half.power, rel=0.01)
    assert run.period is None


def test_a_start_below_the_setpoint_waits_for_the_upper_point():
    c = box_circuit(start=2, load=Load(0.5, 3600, 0.3, 8, 2))
    run = pull_down(c)
    first, second = stretches(run.switched)[:2]
    assert (run.switched.power[first] == 0).all() and run.switched.reading[first][-1] == pytest.approx(8.5, abs=2e-4)
    assert run.switched.power[second][0] > 10
    assert run.time_to_setpoint == 0 and run.settled


def test_a_setpoint_out_of_reach():
    c = box_circuit(setpoint=-20)
    run, point = pull_down(c), operating_point(c, c.cabinet.bank.supply)
    assert (run.time_to_setpoint, run.period, run.dial, run.duty, run.settled) == (None, None, None, 1, True)
    assert run.load_settles == pytest.approx(point.temperature["load"], abs=0.02)
    assert run.mean_power == pytest.approx(point.power, rel=1e-3)
    # within 1 K of where it settles
    load = run.switched.temperature[:, c.number("load")]
    assert load[run.switched.time >= run.load_time * 1.001].max() < point.temperature["load"] + 1.02


def test_a_setpoint_out_of_reach_that_a_cold_load_held_for_a_while():
    """Ice-cold contents hold the setpoint at first, in cycles; once they are warm the modules alone do not."""
    bank = {"supply": Supply(voltage=2.5)}
    c = box_circuit(bank, load=Load(2, 4190, 0.1, 8, -5), setpoint=12.5, thermostat=Thermostat(1), start=12)
    point = operating_point(c, c.cabinet.bank.supply)
    assert point.reading > 13
    run = pull_down(c)
    assert len(stretches(run.switched)) >= 7
    assert (run.period, run.duty) == (None, 1) and run.settled
    assert run.load_settles == pytest.approx(point.temperature["load"], abs=0.05)
    assert run.mean_power == pytest.approx(point.power, rel=1e-2)


def test_a_room_below_the_setpoint_needs_no_cooling():
    run = pull_down(box_circuit(room=3, load=Load(5, 3600, 0.3, 8, 10), start=3))
    assert (run.duty, run.mean_power, run.period) == (0, 0, None)
    assert run.load_settles == pytest.approx(3, abs=0.02) and run.settled


def test_what_has_not_settled_in_the_longest_time_says_so():
    c = box_circuit(load=Load(3000, 4190, 1, 8, 25), setpoint=0)
    run = pull_down(c)
    assert run.switched.time[-1] == pytest.approx(LONGEST) and LONGEST == 14 * DAY
    assert run.load_settles > 18
    assert not run.settled


def test_a_thermostat_that_misreads_keeps_another_temperature():
    """A sensor half way to the room makes the cabinet as much colder as it reads warmer."""
    thermostat = Thermostat(2, SEAL_FILE, "in the wall", ("in",), ("out",))
    c = box_circuit({"supply": Supply(voltage=8)}, thermostat=thermostat, setpoint=15, load=Load(1, 3600, 0.3, 8, 5))
    run = pull_down(c)
    weight = c.sensing[c.number("air")]
    assert weight == pytest.approx(0.5, abs=0.01)
    # the mean of the reading lies near the middle of its two switching points
    assert weight * run.air_settles + (1 - weight) * 25 == pytest.approx(15, abs=0.5)


def test_the_transient_against_another_integrator():
    """Radau on the raw balances, with the modules' equations written out, to a tight tolerance."""
    supply = Supply(voltage=9, parallel=2, lead_resistance=0.2)
    c = box_circuit({"module": SLOPING, "supply": supply}, load=Load(2, 3600, 0.3, 8, 20), start=25, setpoint=NEVER)
    walls_in, walls_out = 0.66 / (1 / 8 + 0.005), 0.66 / (0.005 + 0.04 / 0.03 + 1 / 9)
    m = SLOPING

    def rate(_, y):
        air, load, cold, hot, lining = y
        away = (cold + hot) / 2 - m.reference_mean
        a, r, k = (
            v * (1 + s * away)
            for v, s in (
                (m.seebeck, m.seebeck_slope),
                (m.resistance, m.resistance_slope),
                (m.conductance, m.conductance_slope),
            )
        )
        amps = (9 - a * (hot - cold)) / (r + 2 * 0.2)
        absorbed = 2 * (a * amps * (cold + ZERO) - amps**2 * r / 2 - k * (hot - cold))
        given = 2 * (a * amps * (hot + ZERO) + amps**2 * r / 2 - k * (hot - cold))
        return [
            (2.4 * (load - air) + (cold - air) / 0.3 + walls_in * (lining - air)) / (0.036 * 1.23 * 1008),
            2.4 * (air - load) / (2 * 3600),
            ((air - cold) / 0.3 - absorbed) / 300,
            (given - (hot - 25) / 0.2) / 600,
            (walls_in * (air - lining) + walls_out * (25 - lining)) / (0.66 * 0.002 * 1200 * 1000),
        ]

    on = pull_down(c).always_on
    truth = solve_ivp(rate, (0, on.time[-1]), [25, 20, 25, 25, 25], "Radau", t_eval=on.time, rtol=1e-9, atol=1e-9).y.T
    order = [c.number(n) for n in ("air", "load", "cold face", "hot face", "lining of shell")]
    assert on.temperature[:, order] == pytest.approx(truth, abs=0.01)


@pytest.mark.parametrize(
    "what, message",
    [("skin", "lining of shell: it has no heat capacity"), ("cold", "cold face: it has no heat capacity")],
)
def test_a_node_without_heat_capacity_is_refused(what, message):
    if what == "skin":
        c = box_circuit(
            walls=(Wall("shell", (Layer(replace(SKIN, density=None), 0.002), Layer(FOAM, 0.04)), 8, 8, FACES),)
        )
    else:
        c = box_circuit({"cold_capacity": 0})
    with pytest.raises(InputError, match=message):
        pull_down(c)
    assert operating_point(c, c.cabinet.bank.supply).temperature["air"] < 10  # the steady state needs none


def test_a_wall_of_metal_stores_its_heat():
    thin, thick = (
        pull_down(box_circuit(walls=(Wall("shell", (Layer(METAL, t), Layer(FOAM, 0.04)), 8, 8, FACES),), setpoint=-20))
        for t in (0.001, 0.02)
    )
    assert thick.load_time > 1.5 * thin.load_time


def test_a_cabinet_that_starts_at_rest_has_settled():
    """All at the room's temperature, below the setpoint: nothing ever moves, and nothing is left to wait for."""
    run = pull_down(box_circuit(room=3, load=Load(5, 3600, 0.3, 8, 3)))
    assert (run.duty, run.mean_power, run.period) == (0, 0, None)
    assert run.load_settles == pytest.approx(3, abs=1e-6)
    assert run.settled


def test_own_heating_of_the_sensor_is_a_setpoint_that_is_lower():
    load = Load(0.5, 3600, 0.3, 8, 25)
    lower = pull_down(box_circuit(load=load, setpoint=6.6))
    run = pull_down(replace(box_circuit(load=load), self_heating=0.4))
    assert run.time_to_setpoint == pytest.approx(lower.time_to_setpoint, rel=1e-6)
    assert (run.period, run.duty) == pytest.approx((lower.period, lower.duty), rel=1e-4)
    assert run.load_settles == pytest.approx(lower.load_settles, abs=1e-3)
