"""Sensors: what they read on one grid, and what they should read."""

from dataclasses import replace

import numpy as np
import pytest

from fdm.answers.sensors import should_read
from fdm.section.model import Environment, Sensor
from tests.answers.bench import VIEWS, answered, bench, on_grid


@pytest.mark.parametrize("view", VIEWS)
def test_readings_at_any_temperatures_and_watts_need_no_new_solve(view):
    section = bench(view)
    network = on_grid(section).answers.network
    other = replace(
        section,
        environments=(Environment("cabinet", -10, 8), Environment("room", 35, 25)),
        sources=(
            replace(section.sources[0], heat=-20.0),
            replace(section.sources[1], temperature=60.0),
            replace(section.sources[2], heat=7.0),
        ),
    )
    values = answered(other)
    expected = network.weight @ [-10, 35, 60] + network.resistance @ [-20, 7]
    assert [values[f"sensors.{s}.reading"] for s in ("bead", "core")] == pytest.approx(expected[2:], rel=1e-9)
    assert values["sensors.bead.misreading"] == pytest.approx(expected[2] + 10, rel=1e-9)
    assert "sensors.core.misreading" not in values


@pytest.mark.parametrize("goal", ["cabinet", "coil", "foil", "core", 5.5, None])
def test_a_sensor_may_be_meant_to_read_anything_with_a_temperature(goal):
    section = bench(sensors=(Sensor("bead", at=(0.02, 0), should_read=goal), Sensor("core", part="block")))
    n, values = on_grid(section).answers.network, answered(section)
    observed = n.weight @ section.fixed_temperatures + n.resistance @ section.watts
    expected = {"cabinet": 7, "coil": -4, "foil": observed[0], "core": observed[3], 5.5: 5.5, None: np.nan}[goal]
    assert should_read(section, n)[0] == pytest.approx(expected, nan_ok=True)
    if goal is not None:
        assert values["sensors.bead.misreading"] == pytest.approx(values["sensors.bead.reading"] - expected)
