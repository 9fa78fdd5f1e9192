"""A solved section as plain data: every number at its quantity's path, its band at the same path below `band`."""

import json

import pytest

from fdm import solve
from fdm.solving.result import result_dict
from tests.sections import slab_section, wall_section

KEYS = ["title", "view", "let", "grid", "terminals", "network", "sensors", "spreading", "bridge", "surface", "balance"]
KEYS += ["band"]


@pytest.fixture(scope="module")
def wall():
    return solve(wall_section(), max_cells=6000)


@pytest.fixture(scope="module")
def slab():
    return solve(slab_section())


@pytest.fixture(scope="module")
def result(wall):
    return result_dict(wall)


def leaves(value, path=()):
    if isinstance(value, dict):
        for k, v in value.items():
            yield from leaves(v, (*path, k))
    elif isinstance(value, list):
        for k, v in enumerate(value):
            yield from leaves(v, (*path, k))
    else:
        yield path, value


def test_keys_in_order(result):
    assert list(result) == KEYS


def test_plain_types_that_survive_json(result):
    assert json.loads(json.dumps(result, allow_nan=False)) == result
    assert {type(v) for _, v in leaves(result)} <= {str, float, int, bool, type(None)}


def test_network_by_name(wall, result):
    n = result["network"]
    air, room = "cabinet [air]", "<b>room</b>"
    assert n["coupling"][air][room] == n["coupling"][room][air] == wall.network.values.coupling[0, 1] > 0
    assert set(n["coupling"][air]) == {room}
    assert sum(n["weight"]["s2"].values()) == pytest.approx(1)
    assert n["resistance"]["s1"]["face"] == wall.network.values.resistance[1, 0]
    assert n["resistance_max"]["face"]["face"] > n["resistance"]["face"]["face"]


def test_bands_have_the_keys_of_what_they_bound(result):
    band = result["band"]
    assert [p for p, _ in leaves(band["network"])] == [p for p, _ in leaves(result["network"])]
    assert {p for p, _ in leaves(band)} <= {p for p, _ in leaves(result)}
    assert all(v >= 0 for _, v in leaves(band))


def test_every_quantity_is_at_its_path(wall, result):
    for quantity, value, band in wall.answers:
        for root, number in ((result, value), (result["band"], band)):
            for name in quantity.path:
                root = root[name]
            assert root == number, quantity.name


def test_questions(result):
    for at in (result, result["band"]):
        assert set(at["spreading"]["plate"]["face"]) == {"mean", "max"}
    bridge = result["bridge"]["block"]
    # per metre of the section's 0.5 m depth: W = psi x depth x 21 K, from the colder to the warmer
    assert bridge["watts"] == pytest.approx(bridge["psi"] * 0.5 * (7 - 28))
    assert bridge["between"] == ["cabinet [air]", "<b>room</b>"]
    s1, s2 = result["sensors"]["s1"], result["sensors"]["s2"]
    assert s1["misreading"] == pytest.approx(s1["reading"] - 7)
    assert sum(s1["split"].values()) == pytest.approx(s1["misreading"])
    assert s2["should_read"] is None and s2["misreading"] is None


def test_terminals_carry_what_flows(result):
    t = result["terminals"]
    assert [v["kind"] for v in t.values()] == ["environment", "environment", "heat"]
    assert t["face"]["heat"] == 3
    assert sum(v["heat"] for v in t.values()) == pytest.approx(0, abs=1e-6)


def test_mean_temperature_of_a_heat_terminal(wall, result):
    mean, band = (at["terminals"]["face"]["temperature"] for at in (result, result["band"]))
    n = wall.network.values
    assert mean == pytest.approx(n.weight[0] @ [7, 28] + n.resistance[0, 0] * 3)
    assert 0 < band < 0.1 * (mean - 7)


def test_infinite_and_missing_become_none(slab):
    assert "null" not in json.dumps(result_dict(slab)["network"])
    assert result_dict(slab)["terminals"]["cold"] == {
        "kind": "environment",
        "temperature": 10.0,
        "heat": pytest.approx(-200),  # 2 W/(m K) x 1000 K/m x 0.1 m x 1 m
    }
