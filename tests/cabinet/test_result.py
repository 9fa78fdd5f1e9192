"""A solved cabinet as plain data."""

import json

import pytest

from fdm.cabinet.result import cabinet_dict
from tests.output.cabinet_example import example, zoned


@pytest.fixture(scope="module", params=[example, zoned])
def result(request):
    return cabinet_dict(request.param())


def test_keys_and_plain_types(result):
    assert [key for key in result if key != "mends"] == [
        "title", "let", "room", "setpoint", "operating_point", "budget", "supply", "pull_down", "module_check",
        "circuit", "sections", "warnings", "left_out", "band",
    ]  # fmt: skip
    assert json.loads(json.dumps(result, allow_nan=False)) == result


def test_budget_sums_to_what_is_pumped(result):
    p = result["operating_point"]
    assert sum(b["watts"] for b in result["budget"].values()) == pytest.approx(p["pumped"], rel=1e-9)
    assert sum(b["share"] for b in result["budget"].values()) == pytest.approx(1)
    assert p["power"] - p["lead_loss"] + p["pumped"] == pytest.approx(p["rejected"], rel=1e-9)
    assert p["cop"] == pytest.approx(p["pumped"] / p["power"])


def test_every_temperature_has_a_band(result):
    p, band = result["operating_point"], result["band"]["operating_point"]
    assert band["temperature"].keys() == p["temperature"].keys() == result["circuit"]["nodes"].keys()
    airs = [name for name in p["temperature"] if name.startswith("air")]
    assert airs and band["temperature"]["room"] == 0 < min(band["temperature"][name] for name in airs)


def test_circuit_holds_at_the_operating_point(result):
    """Every node's balance, from what was written alone."""
    p, circuit = result["operating_point"], result["circuit"]
    t = p["temperature"]
    into = {n: node["heat"] for n, node in circuit["nodes"].items()}
    into["cold face"] -= p["pumped"]
    into["hot face"] += p["rejected"]
    for path in circuit["paths"]:
        (a, b), (warm, cold) = path["between"], path.get("driven_by", path["between"])
        flow = path["conductance"] * (t[warm] - t[cold])
        into[a] -= flow
        into[b] += flow
    del into["room"]
    assert into == pytest.approx(dict.fromkeys(into, 0), abs=1e-8)


def test_sections_by_file_and_overrides(result):
    assert list(result["sections"]) == ["piece"]
    assert result["sections"]["piece"]["file"] == "piece.toml wall=30"
    assert result["sections"]["piece"]["title"] == "wall [piece]"
