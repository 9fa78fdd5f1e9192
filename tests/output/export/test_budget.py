import json

import pytest

from fdm.inference.budget import budgets
from fdm.inference.sensitivity import sensitivities
from fdm.output.export.budget import budget_dict, sensitivity_dict
from tests.output.sensitivity_example import LENGTHS, TABLE


def test_budget_as_data(wall):
    data = json.loads(json.dumps(budget_dict(budgets(wall))))
    shares = data["resistance"]["face"]
    assert sum(s["share"] for s in shares) == pytest.approx(1)
    assert {s["kind"] for s in shares} <= {"part", "film", "joint"}
    assert sum(s["value"] for s in shares) == pytest.approx(wall.network.values.resistance[0, 0], rel=0.01)
    assert sum(s["share"] for s in data["loss"]["cabinet [air]"]["<b>room</b>"]) == pytest.approx(1)


def test_lengths_as_data():
    data = json.loads(json.dumps(sensitivity_dict(TABLE, LENGTHS)))
    assert data["lengths"]["answers"]["network.coupling.a.b"]["per_mm"] == {"paste": 1.5, "wall": -0.02}
    assert data["lengths"]["left_out"] == {"fins": "count: not whole"}


def test_sensitivities_as_data(wall):
    table = sensitivities(wall)
    data = json.loads(json.dumps(sensitivity_dict(table)))
    assert [i["name"] for i in data["inputs"]] == [i.name for i in table.inputs]
    assert list(data["answers"]) == [q.name for q in table.answers.quantities]
    assert all(len(a["effect"]) == len(data["inputs"]) for a in data["answers"].values())
    named = {i["name"] for i in data["inputs"] if i["kind"] == "part"}
    assert named == {"wall", "plate", "block"}
