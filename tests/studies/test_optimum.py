"""The best design within ranges and limits."""

import csv
from pathlib import Path

import numpy as np
import pytest

from fdm.errors import InputError
from fdm.section.model import Section
from fdm.solving.solution import Solution
from fdm.solving.steady import solve
from fdm.studies import best
from tests.studies.slab import CABINET, COUPLING, SILL, coupling


def test_best_finds_a_known_optimum_inside_its_limit(slab: Path) -> None:
    """The thickest slab that weighs less than 180: thick = 60."""
    found_ = best(slab, {"thick": "20:100"}, COUPLING, subject=["let.weight < 180"], tries=60, workers=1)
    assert found_.feasible and found_.goal == COUPLING
    assert 59.5 < found_.values["thick"] <= 60 and found_.value == pytest.approx(coupling(60), rel=5e-3)
    assert found_.limits[0].active and found_.at_ends == ()
    assert len(found_.study.designs) <= 75
    assert found_.values["thick"] == round(found_.values["thick"], 1)  # 0.3 % of the range is told, and no more
    goals, weights = found_.study.values(COUPLING), found_.study.values("let.weight")
    good = weights <= 180
    assert good[0] and (np.diff(goals[good]) >= 0).all() and (np.diff(weights[~good]) >= 0).all()  # the best first
    assert not good[good.sum() :].any()
    assert any("let.weight < 180: met" in s and "; active: it holds the goal back" in s for s in found_.sentences)


def test_best_says_when_it_lies_at_an_end_and_is_always_the_same(slab: Path) -> None:
    one = best(slab, {"thick": "20:100", "film": "5:50"}, COUPLING, maximise=True, tries=60, workers=1)
    assert one.at_ends == ("thick", "film") and one.values == pytest.approx({"thick": 20, "film": 50}, rel=0.02)
    assert one == best(slab, {"thick": "20:100", "film": "5:50"}, COUPLING, maximise=True, tries=60, workers=1)


def test_best_of_few_choices_tries_them_all_once(slab: Path, tmp_path: Path) -> None:
    found_ = best(
        slab, {"thick": "20:60:10", "film": "8,10"}, "sensors.bead.misreading", out=tmp_path / "out", workers=1
    )
    assert len(found_.study.designs) == 10
    # the bead is on the warm side: it reads least too warm behind a thin slab and a good film inside
    assert found_.values == {"thick": 20, "film": 10}
    assert len((tmp_path / "out" / "study.jsonl").read_text().splitlines()) == 11  # and what they answer
    best(slab, {"thick": "20:60:10", "film": "8,10"}, COUPLING, out=tmp_path / "out", workers=1)
    assert len((tmp_path / "out" / "study.jsonl").read_text().splitlines()) == 11  # and what they answer


def test_best_mixes_choices_with_ranges_and_lives_with_failures(slab: Path) -> None:
    found_ = best(
        slab,
        {"thick": "-20:100", "film": "8,10,30"},
        COUPLING,
        maximise=True,
        subject=["let.thick > 40"],
        tries=60,
        workers=1,
    )
    assert found_.study.failed
    assert found_.values["film"] == 30 and 40 <= found_.values["thick"] < 41


def test_best_goes_on_along_a_list_to_its_end(slab: Path) -> None:
    """76 films, far more designs than are tried: the thinnest slab behind the best film lets most through."""
    found_ = best(
        slab, {"thick": "20:100", "film": "5:80:1"}, COUPLING, maximise=True, tries=40, target=0.05, workers=1
    )
    assert found_.values == {"thick": 20, "film": 80} and len(found_.study.designs) <= 50


def test_best_says_what_is_missing_where_nothing_meets_the_limits(slab: Path) -> None:
    found_ = best(slab, {"thick": "20,30"}, COUPLING, subject=["let.weight < 50"], workers=1)
    assert not found_.feasible and found_.values == {"thick": 20}
    assert found_.sentences[0].startswith("No design tried meets every limit; the nearest, at thick = 20, has 60 where")


def test_best_says_so_where_what_is_limited_has_no_value(tmp_path: Path) -> None:
    """A setpoint that is never reached."""
    (tmp_path / "cabinet.toml").write_text(CABINET.replace("setpoint = 10", "setpoint = -90"))
    (tmp_path / "sill.toml").write_text(SILL)
    found_ = best(
        tmp_path / "cabinet.toml", {"foam": "40,60"}, "power", subject=["pull_down.time_to_setpoint < 7200"], workers=1
    )
    assert not found_.feasible and found_.goal == "operating_point.power"
    assert "has no value where pull_down.time_to_setpoint < 2 h is asked; stays " in found_.sentences[0]
    unlimited = best(tmp_path / "cabinet.toml", {"foam": "40,60"}, "power", workers=1)
    assert not unlimited.feasible and unlimited.sentences[0].startswith(
        "No design tried reaches its setpoint; the near"
    )
    assert unlimited.values == {"foam": 60}  # the nearest


@pytest.mark.parametrize(
    ("goal", "subject", "said"),
    [
        ("network.coupling.inside 1.5 m.outsid", [], "goal: the result has no"),
        ("network", [], "goal: 'network' holds 3 numbers; give one, such as 'network."),
        (COUPLING, ["sensors.bead.readin < 4"], "did you mean 'sensors.bead.reading'"),
        (COUPLING, ["sensors.bead.reading"], "give an answer, < or >, and a number"),
        (COUPLING, ["sensors.bead.reading < warm"], "give an answer, < or >, and a number"),
        (COUPLING, ["sensors.bead.misreading > -2"], "the size counts"),
    ],
)
def test_best_refuses_unknown_paths_and_limits(slab: Path, goal: str, subject: list[str], said: str) -> None:
    with pytest.raises(InputError) as fault:
        best(slab, {"thick": "20,30"}, goal, subject=subject, workers=1)
    assert said in str(fault.value)


def test_a_search_that_is_stopped_leaves_what_was_tried(
    slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    solved = []

    def stopping(section: Section, *more: object, **how: object) -> Solution:
        if len(solved) == 3:
            raise KeyboardInterrupt
        solved.append(section.let["thick"])
        return solve(section, *more, **how)  # type: ignore[arg-type]

    monkeypatch.setattr("fdm.studies.design.solve", stopping)
    with pytest.raises(KeyboardInterrupt):
        best(slab, {"thick": "20:80"}, COUPLING, workers=1, out=tmp_path / "out")
    rows = list(csv.DictReader((tmp_path / "out" / "study.csv").read_text().splitlines()))
    # the file as it stands is solved first, for its grids
    assert {float(row["thick"]) for row in rows} <= set(solved) and len(rows) >= 2


def test_best_says_where_the_other_way_is_better(slab: Path) -> None:
    found_ = best(slab, {"thick": "20,30"}, COUPLING, maximise=True, answers=["bead"], workers=1)
    assert f"The highest was asked for, though lower is better of {found_.shown[0].words}." in found_.sentences
    assert [q.name for q in found_.shown] == [COUPLING, "sensors.bead.reading"]
    assert not any("was asked for" in s for s in best(slab, {"thick": "20,30"}, COUPLING, workers=1).sentences)
