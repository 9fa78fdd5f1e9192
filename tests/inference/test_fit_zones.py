"""The exchange of air inside a cabinet, found from a log of two thermometers that another model has made."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from fdm.inference.fit import fit

CABINET = """
unit = "mm"
[let]
flow = { between = [4, 20] }
[material."shell"]
conductivity = 0.03
density = 100
specific_heat = 1400
[cabinet]
inside = [400, 300, 300]
room = 25
setpoint = 7
emissivity = 0
[[zone]]
name = "air below"
height = [0, 120]
[[zone]]
name = "air above"
height = [120, 300]
[[exchange]]
name = "fan"
between = ["air above", "air below"]
along = "cold sink"
flow = "flow"
[[wall]]
name = "shell"
faces = ["left", "right", "front", "back", "top", "bottom"]
layers = [{ material = "shell", thickness = 30 }]
film_inside = 8
film_outside = 9
[module]
seebeck = 0.05
resistance = 2
conductance = 0.5
cold_sink = { resistance = 0.4 }
hot_sink = { resistance = 0.2 }
cold_capacity = 300
hot_capacity = 600
[supply]
voltage = 8
[load]
mass = 2
specific_heat = 3600
surface = 0.2
film = 8
[thermostat]
hysteresis = 1
zone = "air above"
"""
FLOW, SPREAD = 9.0, 0.1  # m3/h, hidden; K of the log


def another_model(times):
    """(K, 2) degC of the air below and above: every lump's balance written out, rho cp of air at some 8 degC."""
    passes = FLOW / 3600 * 1262
    floor, side = 0.4 * 0.3, 2 * (0.4 + 0.3)
    areas = np.array([floor + side * 0.12, floor + side * 0.18])
    inner, outer = areas / (1 / 8 + 0.015 / 0.03), areas / (0.015 / 0.03 + 1 / 9)
    air_heat, shell_heat = np.array([0.4, 0.6]) * 0.036 * 1240, areas * 0.03 * 100 * 1400

    def rates(_, y):
        (below, above), linings, (load, cold, hot) = y[:2], y[2:4], y[4:]
        into_air = inner * (linings - y[:2])
        taken = (above - cold) / 0.4  # by the sink, from air that comes from above and goes below
        current = (8 - 0.05 * (hot - cold)) / 2
        leak, joule = 0.5 * (hot - cold), current**2 * 2 / 2
        absorbed = 0.05 * current * (cold + 273.15) - joule - leak
        rejected = 0.05 * current * (hot + 273.15) + joule - leak
        to_load = 8 * 0.2 * (below - load)
        into_air += [passes * (above - below) - taken - to_load, passes * (below - above)]
        return np.concatenate([
            into_air / air_heat, (inner * (y[:2] - linings) + outer * (25 - linings)) / shell_heat,
            [to_load / 7200, (taken - absorbed) / 300, (rejected - (hot - 25) / 0.2) / 600],
        ])  # fmt: skip

    return solve_ivp(rates, (0, times[-1]), np.full(7, 25.0), "LSODA", times, rtol=1e-8, atol=1e-8).y[:2].T


def test_fit_finds_the_exchange_between_two_zones(tmp_path) -> None:
    times = np.linspace(0.5, 4, 8)
    noise = np.random.default_rng(5).normal(0, SPREAD, (8, 2))
    rows = [f"{h},{a:.3f},{b:.3f}" for h, (a, b) in zip(times, another_model(3600 * times) + noise)]
    log, cabinet = tmp_path / "log.csv", tmp_path / "cabinet.toml"
    cabinet.write_text(CABINET)
    log.write_text("\n".join(["time_h,air below,air above", f"uncertainty,{SPREAD},{SPREAD}", *rows]))
    found = fit(cabinet, log, ["flow"])
    (flow,) = found.fitted
    assert flow.before == pytest.approx(12) and flow.told
    assert abs(flow.value - FLOW) < 2 * flow.uncertainty < 0.1 * FLOW
    assert found.explained


def test_a_steady_state_tells_it_as_well(tmp_path):
    """What the second round answers is about the numbers that the first one has found, and not about the file's own."""
    (tmp_path / "cabinet.toml").write_text(CABINET)
    below, above = another_model(np.array([0.0, 3e5]))[-1]
    rows = f"quantity,value,uncertainty\nair below,{below},{SPREAD}\nair above,{above},{SPREAD}\n"
    (tmp_path / "measured.csv").write_text(rows)
    found = fit(tmp_path / "cabinet.toml", tmp_path / "measured.csv", ["flow"])
    (flow,) = found.fitted
    assert flow.before == 12 and flow.value == pytest.approx(FLOW, rel=0.05)  # at its air's own density
    assert all(abs(r.scaled) < 0.3 for r in found.residuals)
