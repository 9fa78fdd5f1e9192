"""A study answers what solve answers."""

import csv
import json
from pathlib import Path

import pytest

from fdm.answers.quantity import dotted
from fdm.errors import InputError
from fdm.section.reader import read_section
from fdm.solving.result import result_dict
from fdm.solving.steady import solve
from fdm.studies import best, study
from tests.studies.slab import COUPLING, coupling


def test_a_study_answers_what_solve_answers(slab: Path, tmp_path: Path) -> None:
    said: list[str] = []
    result = study(slab, {"thick": "20,50,90", "film": [10, 40]}, workers=1, out=tmp_path / "out", progress=said.append)
    assert result.varied == ("thick", "film")
    want = [coupling(t, f) for t in (20, 50, 90) for f in (10, 40)]
    assert result.values(COUPLING) == pytest.approx(want, rel=1e-6)
    one = result_dict(solve(read_section(slab, thick=90, film=40)))
    assert result.designs[-1].answers.at("sensors.bead.misreading")[0] == one["sensors"]["bead"]["misreading"]
    assert result.designs[-1].answers.at("let.weight") == (270, 0)
    assert said[-1].startswith("6 of 6 designs")

    with open(tmp_path / "out" / "study.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(float(r["thick"]), float(r["film"]), r["status"]) for r in rows] == [
        (t, f, "done") for t in (20, 50, 90) for f in (10, 40)
    ]
    assert float(rows[3][COUPLING]) == pytest.approx(coupling(50, 40), rel=1e-6)
    lines = [json.loads(line) for line in (tmp_path / "out" / "study.jsonl").read_text().splitlines()]
    quantities, *lines = lines  # what they answer is said once
    assert len(lines) == 6 and COUPLING in [dotted(q["path"]) for q in quantities["quantities"]]
    assert lines[0]["design"] == {"thick": 20, "film": 10} and lines[0]["results"][COUPLING][0] > 0


def test_only_the_asked_answers_are_put_in_the_table(slab: Path, tmp_path: Path) -> None:
    result = study(slab, {"thick": "20"}, out=tmp_path / "out", answers=["sensors.bead.reading", "network.coupling"])
    assert [q.name for q in result.columns] == ["sensors.bead.reading", COUPLING]
    with open(tmp_path / "out" / "study.csv", newline="") as file:
        header, row = csv.reader(file)
    assert header[:5] == ["thick", "status", "message", "sensors.bead.reading", "band.sensors.bead.reading"]
    assert header[5:] == [COUPLING, f"band.{COUPLING}"]
    assert [float(number) for number in row[3:5]] == pytest.approx(result.designs[0].answers.at("bead"), rel=1e-9)
    with pytest.raises(InputError, match="did you mean"):
        study(slab, {"thick": "20"}, answers=["sensors.bead.readin"])


def test_an_unknown_answer_ends_the_study_at_its_first_design(slab: Path, tmp_path: Path) -> None:
    said: list[str] = []
    with pytest.raises(InputError, match="answer: the result has no 'bed'; did you mean 'bead'"):
        study(slab, {"thick": "20:90:1"}, workers=1, out=tmp_path, answers=["bed"], progress=said.append)
    assert said == []


def test_the_package_offers_studies() -> None:
    import fdm

    assert fdm.study is study and fdm.best is best
