import csv

import numpy as np
import pytest

from fdm.errors import InputError
from fdm.output.export.cabinet_result import write_curves
from tests.output.cabinet_example import example


@pytest.fixture(scope="module")
def cabinet():
    return example()


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
