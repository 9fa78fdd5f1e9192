import csv
import json

import numpy as np
import pytest

from fdm.errors import InputError
from fdm.output.export.cabinet_result import cabinet_dict, write_curves
from tests.output.cabinet_example import example


@pytest.fixture(scope="module")
def cabinet():
    return example()


@pytest.fixture(scope="module")
def result(cabinet):
    return cabinet_dict(cabinet)


def test_keys_and_plain_types(result):
    assert list(result) == [
        "title", "let", "room", "setpoint", "operating_point", "budget", "supply", "pull_down", "module_check",
        "circuit", "sections", "warnings", "left_out",
    ]  # fmt: skip
    assert json.loads(json.dumps(result, allow_nan=False)) == result


def test_budget_sums_to_what_is_pumped(result):
    p = result["operating_point"]
    assert sum(b["watts"] for b in result["budget"]) == pytest.approx(p["pumped"], rel=1e-9)
    assert sum(b["share"] for b in result["budget"]) == pytest.approx(1)
    assert p["power"] - p["lead_loss"] + p["pumped"] == pytest.approx(p["rejected"], rel=1e-9)
    assert p["cop"] == pytest.approx(p["pumped"] / p["power"])


def test_every_temperature_has_a_band(result):
    p = result["operating_point"]
    assert p["band"]["temperature"].keys() == p["temperature"].keys() == result["circuit"]["nodes"].keys()
    assert p["band"]["temperature"]["room"] == 0 < p["band"]["temperature"]["air"]


def test_circuit_holds_at_the_operating_point(result):
    """Every node's balance, from what was written alone."""
    p, circuit = result["operating_point"], result["circuit"]
    t = p["temperature"]
    into = {n: node["heat"] for n, node in circuit["nodes"].items()}
    into["cold face"] -= p["pumped"]
    into["hot face"] += p["rejected"]
    for path in circuit["paths"]:
        a, b = path["between"]
        flow = path["conductance"] * (t[a] - t[b])
        into[a] -= flow
        into[b] += flow
    del into["room"]
    assert into == pytest.approx(dict.fromkeys(into, 0), abs=1e-8)


def test_sections_by_file_and_overrides(result):
    assert list(result["sections"]) == ["piece.toml wall=30"]
    assert result["sections"]["piece.toml wall=30"]["title"] == "wall [piece]"


def test_curves_as_csv(cabinet, tmp_path):
    write_curves(cabinet, tmp_path / "curves.csv")
    with open(tmp_path / "curves.csv", newline="", encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    nodes = cabinet.circuit.names
    assert head == ["modules", "time (s)", *(f"{n} (degC)" for n in nodes), "thermostat reading (degC)", "power (W)"]
    for name, curve in (("switched", cabinet.pull_down.switched), ("always on", cabinet.pull_down.always_on)):
        own = np.array([row[1:] for row in rows if row[0] == name], float)
        np.testing.assert_allclose(own[:, 0], curve.time, rtol=1e-6)
        np.testing.assert_allclose(own[:, 1 : 1 + len(nodes)], curve.temperature, rtol=1e-6)
        np.testing.assert_allclose(own[:, -1], curve.power, rtol=1e-6)
    assert len(rows) == len(cabinet.pull_down.switched.time) + len(cabinet.pull_down.always_on.time)


def test_curves_need_a_folder(cabinet, tmp_path):
    with pytest.raises(InputError, match="no folder"):
        write_curves(cabinet, tmp_path / "no" / "curves.csv")
