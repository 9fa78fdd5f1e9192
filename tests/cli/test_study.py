"""fdm study."""

import csv
from pathlib import Path

import pytest

from fdm.cli.main import main
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
    assert "is 0.357142857" in said and "at thick = 80." in said and all(name in said for name in pictures)
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
    assert "The lowest let.thick that meets every limit is 50" in said and "; active: it holds the goal back" in said
    # the picture is of what is limited, and marks this design
    assert [f.name for f in (tmp_path / "best").glob("*.png")] == ["network.coupling._inside_1.5_m_.outside.png"]


def test_what_is_given_is_neither_drawn_nor_told_beside_answers(
    slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["study", str(slab), "thick=20,50,80", "--workers", "1", "--quiet", "--out", str(tmp_path / "out")]
    assert main([*words, "--answer", "terminals"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "lowest terminals.outside.heat" in said and "lowest terminals.outside.temperature" not in said
    assert not list((tmp_path / "out").glob("*temperature.png"))
    assert main([*words, "--answer", "terminals.outside.temperature"]) == 0  # asked for by itself
    assert "lowest terminals.outside.temperature" in " ".join(capsys.readouterr().out.split())


def test_answers_go_by_short_names_too(slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["study", str(slab), "thick=20,50,80", "--workers", "1", "--quiet", "--out", str(tmp_path / "out")]
    assert main([*words, "--answer", "bead"]) == 0
    assert "The lowest sensors.bead.reading is" in " ".join(capsys.readouterr().out.split())
    assert main([*words, "--best", "bead", "--maximise"]) == 0
    assert "The highest sensors.bead.reading is" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    "words, code, said",
    [
        (["thik=20,50"], 1, "let: there is no named number 'thik' to vary; did you mean 'thick'"),
        (["thick=20:50"], 1, "thick: 20:50 has no step"),
        (["thick=20,50", "--answer", "sensors.bed"], 1, "answer: the result has no 'sensors.bed'"),
        (["thick=20,50", "--answer", "bed"], 1, "answer: the result has no 'bed'; did you mean 'bead'?"),
        (["thick=20,50", "--subject", "let.thick < 3"], 2, "--subject goes with --best PATH"),
        (["thick=20:50", "--best", "let.thick", "--lhs", "4"], 2, "--lhs and --best do not go together"),
        (["thick=20:50", "--lhs", "0"], 2, "--lhs: '0' is not a whole number of 1 or more"),
        (["thick=20:50", "--best", "let.thick", "--random", "4"], 2, "--random and --best do not go together"),
        ([], 2, "name=values"),
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


def test_one_design_has_a_table_and_no_words(slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["study", str(slab), "thick=50", "--workers", "1", "--quiet", "--out", str(tmp_path / "one")]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "lowest" not in said and "sensors" in said and "50" in said.split()
