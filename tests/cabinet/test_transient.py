"""One integration between events, against the exponential of a single lump and against the pull-down."""

import numpy as np
import pytest

from fdm.cabinet.load import Load
from fdm.cabinet.nodes import ROOM
from fdm.cabinet.pulldown import pull_down
from fdm.cabinet.supply import Supply
from fdm.cabinet.transient import Transient, always_on, start_temperatures
from tests.cabinet.plain_box import SLOPING, box_circuit


def circuit():
    bank = {"module": SLOPING, "supply": Supply(voltage=9, parallel=2, lead_resistance=0.2)}
    return box_circuit(bank, load=Load(2, 3600, 0.3, 8, 20), start=22, setpoint=-60)


def test_the_start_is_what_the_file_says():
    c = circuit()
    assert dict(zip(c.names, start_temperatures(c))) == {
        **dict.fromkeys(c.names, 22.0), "load": 20.0, "room": 25.0,
    }  # fmt: skip


def test_slopes_are_those_of_the_rate():
    c = circuit()
    transient = Transient(c, c.cabinet.bank.supply)
    y = np.random.default_rng(4).uniform(-10, 50, len(transient.free))
    numeric = np.transpose([
        (transient.rate(y + e) - transient.rate(y - e)) / 2e-3 for e in 1e-3 * np.eye(len(y))
    ])  # fmt: skip
    assert transient.slopes(y) == pytest.approx(numeric, abs=1e-9)


def test_the_room_is_held():
    c = circuit()
    transient = Transient(c, None)
    assert ROOM not in {c.nodes[k].kind for k in transient.free} and len(transient.free) == len(c.nodes) - 1
    assert transient.temperatures(np.zeros(len(transient.free)))[c.number(ROOM)] == 25


def test_always_on_is_the_start_of_the_pull_down():
    c = circuit()
    on = pull_down(c).always_on
    asked = on.time[[30, 0, 10, 30]]  # in any order, and more than once
    assert always_on(c, asked) == pytest.approx(on.temperature[[30, 0, 10, 30]], abs=0.01)
