"""fdm study."""

import csv
from pathlib import Path
from typing import Any

import pytest

from fdm.cli.main import main
from fdm.solving.solution import Solution
from fdm.studies import workers
from fdm.studies.design import Design
from tests.studies.slab import COUPLING, coupling, write_slab


@pytest.fixture
def slab(tmp_path: Path) -> Path:
    return write_slab(tmp_path)


def test_the_command_writes_a_folder_and_says_what_was_found(
    slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    words = ["study", str(slab), "thick=20,50,80", "--answer", "network.coupling", "--workers", "1", "--quiet"]
    assert main(words) == 0
    out, err = capsys.readouterr()
    assert not err
    rows = list(csv.DictReader((tmp_path / "slab-study" / "study.csv").read_text().splitlines()))
    assert [float(r["thick"]) for r in rows] == [20, 50, 80]
    for row in rows:
        assert float(row[COUPLING]) == pytest.approx(coupling(float(row["thick"])), rel=1e-6)
    # each coupling once, and no band
    pictures = sorted(f.name for f in (tmp_path / "slab-study").glob("*.png"))
    assert len(pictures) == 1 and not any("band" in name for name in pictures)
    said = " ".join(out.split())
    assert "is 0.357 W/K" in said and "at thick = 80." in said and all(name in said for name in pictures)
    assert main(words) == 0  # from what is kept
    assert len((tmp_path / "slab-study" / "study.jsonl").read_text().splitlines()) == 4  # and what they answer


def test_the_command_finds_the_best_within_limits(
    slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    limit = f"{COUPLING} < 0.4"
    words = ["study", str(slab), "thick=20:80", "--best", "let.thick", "--subject", limit, "--workers", "1"]
    assert main([*words, "--out", str(tmp_path / "best"), "--quiet"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    # 0.1 / (0.2 + thick) = 0.4
    assert "The lowest thick that meets every limit is 50." in said and "; active: it holds the goal back" in said
    assert "designs; --tables shows all" in said  # after the best few
    # the picture is of what is limited, and marks this design
    assert [f.name for f in (tmp_path / "best").glob("*.png")] == ["network.coupling._inside_1.5_m_.outside.png"]


def test_what_is_given_is_neither_drawn_nor_told_beside_answers(
    slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["study", str(slab), "thick=20,50,80", "--workers", "1", "--quiet", "--out", str(tmp_path / "out")]
    assert main([*words, "--answer", "terminals"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "heat from outside into the section goes from" in said and "temperature of outside goes from" not in said
    assert not list((tmp_path / "out").glob("*temperature.png"))
    assert main([*words, "--answer", "terminals.outside.temperature"]) == 0  # asked for by itself
    assert "temperature of outside goes from" in " ".join(capsys.readouterr().out.split())


def test_answers_go_by_short_names_too(slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["study", str(slab), "thick=20,50,80", "--workers", "1", "--quiet", "--out", str(tmp_path / "out")]
    assert main([*words, "--answer", "bead"]) == 0
    assert "The reading of bead goes from" in " ".join(capsys.readouterr().out.split())
    assert main([*words, "--best", "bead", "--maximise"]) == 0
    assert "The highest reading of bead is" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    "words, code, said",
    [
        (["thik=20,50"], 1, "let: there is no named number 'thik' to vary; did you mean 'thick'"),
        (["thick=20:50"], 1, "thick: 20:50 has no step"),
        (["thick=20,50", "--answer", "sensors.bed"], 1, "answer: the result has no 'sensors.bed'"),
        (["thick=20:80", "--best", COUPLING, "--answer", "sensors.bed"], 1, "answer: the result has no 'sensors.bed'"),
        (["thick=20:80", "--best", "termin"], 1, "'terminals.outside.temperature', 'terminals."),
        (["thick=-5,-3"], 3, "every design failed; the first, thick = -5"),
        (["thick=20,50", "--answer", "bed"], 1, "answer: the result has no 'bed'; did you mean 'bead'?"),
        (["thick=20,50", "--subject", "let.thick < 3"], 2, "--subject goes with --best ANSWER"),
        (["thick=20:50", "--best", "let.thick", "--lhs", "4"], 2, "--lhs and --best do not go together"),
        (["thick=20:50", "--lhs", "0"], 2, "--lhs: '0' is not a whole number of 1 or more"),
        (["thick=20:50", "--best", "let.thick", "--random", "4"], 2, "--random and --best do not go together"),
        ([], 2, "NAME=VALUES"),
    ],
)
def test_the_command_refuses_in_one_line(
    slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], code: int, said: str
) -> None:
    words = ["study", str(slab), *words, "--workers", "1", "--quiet", "--out", str(tmp_path / "out")]
    try:
        assert main(words) == code
    except SystemExit as end:  # argparse's
        assert end.code == code
    out, err = capsys.readouterr()
    assert not out and said in err.splitlines()[-1]


def test_a_number_follows_others_by_an_expression(
    slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    words = ["study", str(slab), "thick=20,50", "film=thick / 2", "--answer", "let.film", "--workers", "1", "--quiet"]
    assert main(words) == 0
    rows = list(csv.DictReader((tmp_path / "slab-study" / "study.csv").read_text().splitlines()))
    assert [float(r["let.film"]) for r in rows] == [10, 25]
    assert main(["study", str(slab), "thick=20,50", "film=thik / 2", "--quiet"]) == 1
    assert "'thick'" in capsys.readouterr().err
    cabinet = Path(__file__).parents[2] / "geometries" / "bulb_cabinet.toml"
    assert main(["study", str(cabinet), "wall=50,60", "cold_plate=wall / 10", "--quiet"]) == 1
    assert "section files only" in capsys.readouterr().err


def test_one_design_has_a_table_and_no_words(slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["study", str(slab), "thick=50", "--workers", "1", "--quiet", "--out", str(tmp_path / "one")]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "lowest" not in said and "sensors" in said and "50" in said.split()


def test_an_unknown_answer_is_refused_before_anything_is_solved(
    slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def solving(*_: object, **__: object) -> Solution:
        raise AssertionError("solved")

    monkeypatch.setattr("fdm.studies.design.solve", solving)
    words = ["study", str(slab), "thick=20:80", "--workers", "1", "--quiet", "--out", str(tmp_path / "out")]
    for more in (["--best", COUPLING, "--answer", "sensors.bed"], ["--best", "bed"], ["--lhs", "3", "--answer", "bed"]):
        assert main([*words, *more]) == 1
        assert "the result has no" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_study_without_a_feasible_design_ends_with_code_3(
    slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["study", str(slab), "--workers", "1", "--quiet", "--out", str(tmp_path / "out")]
    assert main([*words, "thick=20,30", "--best", COUPLING, "--subject", "let.weight < 50"]) == 3
    said = " ".join(capsys.readouterr().out.split())
    assert said.count("No design tried meets every limit") == 1
    assert "thick lies at the lower end of its range, 20 to 30; beyond it may be better still." in said
    assert main([*words, "thick=20,-30"]) == 0


def test_a_study_that_is_stopped_says_how_far_it_came_and_goes_on(
    slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["study", str(slab), "thick=20,50,80", "--workers", "1", "--out", str(tmp_path / "out"), "--quiet"]
    solved, left = workers.solved, [2]

    def stopped_at_the_third(*given: Any) -> list[Design]:
        left[0] -= 1
        if left[0] < 0:
            raise KeyboardInterrupt
        return solved(*given)

    with monkeypatch.context() as patch:
        patch.setattr(workers, "solved", stopped_at_the_third)
        assert main(words) == 130
    out, err = capsys.readouterr()
    assert (out, err) == ("", "fdm: stopped after 2 of 3 designs; run the same again to go on\n")
    assert main(words) == 0
    assert len((tmp_path / "out" / "study.csv").read_text().splitlines()) == 4
