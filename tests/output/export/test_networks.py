import csv
import json

import numpy as np
import pytest

from fdm.answers.network import conductance_matrix
from fdm.output.export.networks import network_json, write_network_csv
from tests.output.cabinet_example import example


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
