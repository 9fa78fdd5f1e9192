"""Cycles of the thermostat, many of which are passed over."""

import numpy as np
import pytest

from fdm.cabinet.cycle import Thermostat as Switching
from fdm.cabinet.cycle import sampled_cycles
from fdm.cabinet.load import Load
from fdm.cabinet.thermostat import Thermostat
from tests.cabinet.plain_box import box_circuit


@pytest.fixture(scope="module")
def switching():
    load = Load(5, 3600, 0.3, 8, start=9)
    return Switching.of(box_circuit(thermostat=Thermostat(0.5), load=load, setpoint=7))


def test_the_mean_state_of_a_cycle_is_that_of_its_middle(switching):
    start, begin = np.full(len(switching.on.free), 7.25), 1000.0
    sampled = sampled_cycles(switching, start, (begin, begin + 1.0))  # one cycle is longer than that
    on, off = sampled.halves[0]
    assert on.length > 1 and off.length > 1
    assert sampled.times[0] == pytest.approx(begin + (on.length + off.length) / 2, rel=1e-12)
    assert not sampled.repeats
