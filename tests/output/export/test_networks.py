import csv
import json

import numpy as np
import pytest

from fdm.answers.network import conductance_matrix
from fdm.output.export.networks import circuit_json, network_json, write_circuit_csv, write_network_csv
from tests.output.cabinet_example import example, zoned


@pytest.fixture
def module_section():
    return example().module_section


def test_network_is_plain_and_closes(module_section):
    data = network_json(module_section)
    assert json.loads(json.dumps(data, allow_nan=False)) == data
    names = [*data["terminals"]["fixed"], *data["terminals"]["heat"]]
    matrix = np.array([[data["conductance"][a][b] for b in names] for a in names])
    assert matrix == pytest.approx(conductance_matrix(module_section.network.values), abs=1e-9)
    assert abs(matrix.sum(1)).max() < 1e-12
    assert sum(data["capacity"].values()) > 0


def test_csv_holds_values_then_bands(module_section, tmp_path):
    paths = write_network_csv(module_section, tmp_path)
    assert [p.name for p in paths] == ["conductance.csv", "coupling.csv", "weight.csv", "resistance.csv"]
    n = module_section.network
    with open(tmp_path / "weight.csv", newline="", encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    assert head == ["1", *n.fixed, *(f"band of {f}" for f in n.fixed)]
    assert [row[0] for row in rows] == list(n.observed)
    assert np.array([row[1:] for row in rows], float) == pytest.approx(np.hstack([n.values.weight, n.band.weight]))
    with open(tmp_path / "conductance.csv", newline="", encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    assert head[:5] == ["W/K", *n.fixed, *n.heat]


def test_paths_say_what_drives_them(tmp_path):
    """From the paths alone every balance closes: also where another zone's air drives the heat."""
    solved = zoned()
    data = circuit_json(solved)
    assert json.loads(json.dumps(data, allow_nan=False)) == data
    t = solved.point.temperature
    into = {name: node["heat"] for name, node in data["nodes"].items()}
    for path in data["paths"]:
        warm, cold = path.get("driven_by", path["ends"])
        for end, sign in zip(path["ends"], (-1, 1)):
            into[end] += sign * path["conductance"] * (t[warm] - t[cold])
    free = [name for name in into if name not in ("room", "cold face", "hot face")]
    assert [into[name] for name in free] == pytest.approx([0] * len(free), abs=1e-7)
    assert into["cold face"] == pytest.approx(solved.point.pumped)
    matrix, _ = write_circuit_csv(solved, tmp_path)
    rows = list(csv.reader(matrix.open(encoding="utf-8")))[1:]
    out_of = np.array([row[1:] for row in rows], float) @ [t[row[0]] for row in rows]
    by_name = dict(zip([row[0] for row in rows], out_of))
    assert by_name["air below"] == pytest.approx(data["nodes"]["air below"]["heat"], abs=1e-7)
