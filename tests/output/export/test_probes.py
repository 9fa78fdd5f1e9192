"""What is handed over of sensors with stems and watts of their own: weights, and one more number beside them."""

import csv
from dataclasses import replace

import numpy as np
import pytest

import fdm
from fdm.output.export.networks import circuit_json, network_json, write_circuit_csv, write_network_csv
from fdm.output.export.spice import cabinet_spice, network_spice
from fdm.section.model import Bead, Border, Environment, Section, Sensor, Stem
from tests.output.cabinet_example import METAL, example
from tests.output.export.test_spice import printed, spice
from validation.cases import box, solid

STEM = Stem(METAL, 1e-3, 0.05, "room", film=20.0)
SLAB = Section(
    "slab",
    (solid("foam", 0.03, box(0, 0.1, 0, 0.04)),),
    (Environment("cabinet", 7, 8), Environment("room", 28, 25)),
    border=Border(bottom="cabinet", top="room"),
    sensors=(
        Sensor("bead", at=(0.02, 0.02), stem=STEM, bead=Bead(2e-3), self_heating=1e-3),
        Sensor("bare", at=(0.05, 0)),
    ),
)


@pytest.fixture(scope="module")
def slab():
    return fdm.solve(SLAB, 0.05)


@pytest.fixture
def cabinet():
    """The example, with a thermostat whose sensor reads 0.4 K more by its own watts."""
    solved = example()
    return replace(solved, circuit=replace(solved.circuit, self_heating=0.4))


def test_own_heating_stands_beside_the_weights(slab, tmp_path):
    rise = slab.sensors["bead"].self_heating
    data = network_json(slab)
    assert data["self_heating"] == {"bead": pytest.approx(rise), "bare": 0.0}
    weights = data["network"]["weight"]["bead"]
    reading = weights["cabinet"] * 7 + weights["room"] * 28 + rise
    assert reading == pytest.approx(slab.sensors["bead"].reading)
    assert write_network_csv(slab, tmp_path)[-1].name == "self_heating.csv"
    with open(tmp_path / "self_heating.csv", newline="", encoding="utf-8") as file:
        assert list(csv.reader(file)) == [["sensor", "self_heating K"], ["bead", repr(rise)], ["bare", "0.0"]]


def test_so_it_does_in_a_cabinets_circuit(cabinet, tmp_path):
    assert circuit_json(cabinet)["self_heating"] == {"thermostat": 0.4}
    assert "self_heating" not in circuit_json(example())
    assert [p.name for p in write_circuit_csv(cabinet, tmp_path)] == [
        "conductance.csv",
        "nodes.csv",
        "self_heating.csv",
    ]


@spice
def test_netlists_read_it(slab, cabinet, tmp_path):
    found = printed("\n".join([
        "* test", network_spice(slab, "slab"), "X1 a b s t slab", "Va a 0 7", "Vb b 0 28", ".op", ".control",
        "set numdgt=9", "run", "print V(s)", "print V(t)", ".endc", ".end", "",
    ]), tmp_path)  # fmt: skip
    readings = [slab.sensors[name].reading for name in ("bead", "bare")]
    assert [found["v(s)"], found["v(t)"]] == pytest.approx(readings, abs=1e-6)
    plain, warmer = (printed(cabinet_spice(c), tmp_path)["v(thermostat)"] for c in (example(), cabinet))
    assert warmer - plain == pytest.approx(0.4, abs=1e-6) and np.isfinite(plain)
