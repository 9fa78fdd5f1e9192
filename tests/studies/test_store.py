"""What is kept of a study, and that it is taken up again."""

import csv
import math
from pathlib import Path

import pytest

from fdm.errors import InputError
from fdm.solving.steady import solve
from fdm.studies import design, study, warned
from tests.studies.slab import COUPLING, coupling


def test_an_interrupted_study_is_taken_up_again(slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out, solved = tmp_path / "out", []
    monkeypatch.setattr(
        design, "solve", lambda s, target, **how: solved.append(s.let["thick"]) or solve(s, target, **how)
    )

    def stop(text: str) -> None:
        if text.startswith("2 of"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        study(slab, {"thick": "20,30,40,50"}, workers=1, out=out, progress=stop)
    assert solved == [20, 30]
    rows = list(csv.DictReader((out / "study.csv").read_text().splitlines()))  # as far as it came
    assert [float(r["thick"]) for r in rows] == [20, 30]
    lines = out / "study.jsonl"
    lines.write_bytes(lines.read_bytes()[:-40])  # as if it had been stopped in the middle of a line
    solved.clear()
    result = study(slab, {"thick": "20,30,40,50"}, workers=1, out=out)
    assert solved == [30, 40, 50]
    assert result.values(COUPLING) == pytest.approx([coupling(t) for t in (20, 30, 40, 50)], rel=1e-6)
    solved.clear()
    assert study(slab, {"thick": "50,20"}, workers=1, out=out).values(COUPLING) == pytest.approx(
        [coupling(50), coupling(20)]
    )
    assert solved == []


def test_designs_that_fail_are_reported_and_not_tried_again(slab: Path, tmp_path: Path) -> None:
    said: list[str] = []
    result = study(slab, {"thick": "-5,0,50"}, workers=1, out=tmp_path / "out", progress=said.append)
    assert [bool(d.message) for d in result.designs] == [True, True, False]
    assert "slab" in result.failed[0].message
    assert math.isnan(result.values(COUPLING)[0]) and result.values(COUPLING)[2] == pytest.approx(
        coupling(50), rel=1e-6
    )
    assert said[-1].startswith("3 of 3 designs, 2 failed")
    rows = list(csv.DictReader((tmp_path / "out" / "study.csv").read_text().splitlines()))
    assert [r["status"] for r in rows] == ["failed", "failed", "done"] and rows[0]["message"] == result.failed[
        0
    ].message
    study(slab, {"thick": "-5,0,50"}, workers=1, out=tmp_path / "out")
    assert len((tmp_path / "out" / "study.jsonl").read_text().splitlines()) == 4  # and what they answer
    with pytest.raises(InputError, match="every design failed; the first, thick = -5: "):
        study(slab, {"thick": "-5"})


def test_warnings_of_designs_are_kept_and_told_once(slab: Path, tmp_path: Path) -> None:
    text = slab.read_text() + '[[environment]]\nname = "attic"\ntemperature = 3\nfilm = 8\n'
    slab.write_text(text)
    solved = study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out")
    again = study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out")
    assert solved.designs == again.designs
    assert warned(solved) == ("Warning for 2 of 2 designs: environment 'attic' touches no solid part.",)
