"""Answers that fail their own checks: the verdict is "not met", the exit code 3, and one sentence says what to look
at."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import fdm
from fdm.cabinet.solution import solve_cabinet
from fdm.cli.main import main
from fdm.errors import FailedChecks
from fdm.studies.design import Common, solved
from tests.cabinet.plain_box import FILE, IN_A_WALL, box, piece

# a plate 1e11 times better than the block on it: rounding alone moves 1e-5 of the weights
PLATE = """
unit = "mm"
depth = 100
let = { k = 1e11, off = { value = 6, uncertainty = 0.1 } }
environment = [{ name = "air", temperature = 25, film = 10 }, { name = "low", temperature = 5, film = 10 }]
material = { good = { conductivity = "k" }, poor = { conductivity = 1 } }
part = [
    { name = "plate", material = "good", rectangle = { x = [0, 120], y = [0, 4] } },
    { name = "block", material = "poor", rectangle = { x = [30, 50], y = [4, 44] } },
]
border = { top = "air", bottom = "low" }
source = [{ name = "module", segment = { x = [40, 80], y = 0 }, heat = "off", fills_depth = true }]
"""
SAID = "the answers failed their own checks: sums of weights are off by "
WHERE = "conductivities from 1 to 1e+11 W/(m K), films from 10 to 10 W/(m2 K), a drawing of 120 x 44 mm"


@pytest.fixture
def plate(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("plate.toml").write_text(PLATE, encoding="utf-8")
    return "plate.toml"


def test_in_python_the_target_is_not_met_and_a_warning_says_why(plate):
    solution = fdm.solve(fdm.read_section(plate))
    assert not solution.grid.target_met and solution.grid.note == "a check failed"
    assert solution.failed.startswith(SAID) and WHERE in solution.failed and solution.failed in solution.warnings
    assert "NOT met, a check failed" in " ".join(str(solution).split())
    sound = fdm.solve(fdm.read_section(plate, k=200))
    assert sound.grid.target_met and not sound.failed and not sound.warnings
    assert sound.balance.outside == 0 and sound.balance.weight_error < 1e-12


@pytest.mark.parametrize("command", [["solve", "--no-files", "--json", "result.json"], ["network", "--out", "out"]])
def test_commands_write_their_answers_and_end_with_code_3(plate, capsys, command):
    assert main([command[0], plate, "--quiet", *command[1:]]) == 3
    said = capsys.readouterr()
    assert said.err.count(SAID) == 1 and WHERE in said.err
    if command[0] == "solve":
        assert json.loads(Path("result.json").read_text(encoding="utf-8"))["grid"]["target_met"] is False
    assert main([command[0], plate, "k=200", "--quiet", *command[1:]]) == 0


def test_a_missed_target_alone_is_no_failure(plate, capsys):
    assert main(["solve", plate, "k=200", "--target", "0.00001%", "--max-cells", "1000", "--no-files"]) == 0
    assert "NOT met" in capsys.readouterr().out


def test_a_study_tells_such_designs_as_failed(plate, capsys):
    assert main(["study", plate, "k=200,1e11", "--workers", "1", "--quiet"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert SAID in said and "k = 1e+11" in said
    rows = Path("plate-study/study.csv").read_text(encoding="utf-8").splitlines()
    assert [row.split(",")[1] for row in rows[1:]] == ["done", "failed"] and "weights" in rows[2]


def test_a_fit_ends_with_the_same_sentence(plate, capsys):
    Path("measured.csv").write_text("quantity,value,uncertainty\nmodule,50,1\n", encoding="utf-8")
    assert main(["fit", plate, "measured.csv", "--quiet"]) == 3
    assert SAID in capsys.readouterr().err
    with pytest.raises(FailedChecks, match="sums of weights"):
        fdm.fit(plate, "measured.csv")


def test_a_cabinet_fails_with_one_of_its_sections():
    never_cycling = box(IN_A_WALL, setpoint=-60)
    sound = solve_cabinet(never_cycling, {FILE: piece()})
    assert not sound.failed
    sections = {FILE: replace(piece(), failed="no balance", warnings=("no balance",))}
    cabinet = solve_cabinet(never_cycling, sections)
    assert cabinet.failed == f"{FILE.path}: no balance" and cabinet.warnings.count(cabinet.failed) == 1


def test_what_cannot_be_computed_is_a_failure(plate, monkeypatch):
    section = fdm.read_section(plate, k=200)
    monkeypatch.setattr("fdm.conduction.plane.unit_fields", lambda system: np.full((3, *system.solid.shape), np.nan))
    solution = fdm.solve(section, max_cells=1000)
    assert not solution.grid.target_met and "cannot be computed" in solution.failed
    (design,) = solved(Common("study", 0.005), [({"k": 200.0}, section)])
    assert design.status == "failed" and "cannot be computed" in design.message


def test_a_film_that_does_not_settle_is_told_and_makes_the_exit_code_3(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    still = PLATE.replace("film = 10 }, {", 'film = { flow = "still", face = "vertical", height = 100 } }, {')
    Path("plate.toml").write_text(still.replace("k = 1e11", "k = 200"), encoding="utf-8")
    monkeypatch.setattr("fdm.solving.frozen.MOST_ROUNDS", 1)
    assert main(["solve", "plate.toml", "--no-files"]) == 3
    said = capsys.readouterr()
    assert "after 1 round film of air still changed by" in said.err and "NOT met" in said.out
    monkeypatch.undo()
    monkeypatch.chdir(tmp_path)
    assert main(["solve", "plate.toml", "--no-files"]) == 0
    assert "film of air:" in capsys.readouterr().out
