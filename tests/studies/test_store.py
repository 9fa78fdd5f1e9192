"""What is kept of a study, and that it is taken up again."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fdm.answers.quantity import Quantity
from fdm.errors import InputError
from fdm.solving.steady import solve
from fdm.studies import Design, study, warned
from fdm.studies import design as design_module
from fdm.studies.store import LINES, Kept
from tests.studies.slab import COUPLING, MISREADING, READING, answered, coupling


def test_an_interrupted_study_is_taken_up_again(slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out, solved = tmp_path / "out", []
    monkeypatch.setattr(
        design_module, "solve", lambda s, target, **how: solved.append(s.let["thick"]) or solve(s, target, **how)
    )

    def stop(text: str) -> None:
        if text.startswith("2 of"):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        study(slab, {"thick": "20,30,40,60"}, workers=1, out=out, progress=stop)
    assert solved == [20, 30]
    rows = list(csv.DictReader((out / "study.csv").read_text().splitlines()))  # as far as it came
    assert [float(r["thick"]) for r in rows] == [20, 30]
    lines = out / "study.jsonl"
    lines.write_bytes(lines.read_bytes()[:-40])  # as if it had been stopped in the middle of a line
    solved.clear()
    result = study(slab, {"thick": "20,30,40,60"}, workers=1, out=out)
    assert solved == [30, 40, 60]
    assert result.values(COUPLING) == pytest.approx([coupling(t) for t in (20, 30, 40, 60)], rel=1e-6)
    solved.clear()
    assert study(slab, {"thick": "60,20"}, workers=1, out=out).values(COUPLING) == pytest.approx(
        [coupling(60), coupling(20)]
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


def kept_designs() -> list[Design]:
    """Two designs that answer the same, one that failed, and one that answers more than they do."""
    time = Quantity(("pull_down", "time_to_setpoint"), "Zeit bis 7 °C", "s", "time_to_setpoint", main=7)
    return [
        Design({"plate": 1.0}, answered({READING: 7.1, MISREADING: None}, {READING: np.inf}), met=False),
        Design({"plate": 2.0}, answered({READING: 0.1 + 0.2, MISREADING: -1e-17}, {MISREADING: 0.0})),
        Design({"plate": 3.0}, message="too thin"),
        Design({"plate": 4.0}, answered({READING: -3.0, time: np.inf}, {READING: 0.25}), warnings=("never",)),
    ]


def test_values_bands_and_quantities_are_read_as_they_were_kept(tmp_path: Path) -> None:
    kept = Kept("a", tmp_path)
    for design in kept_designs():
        kept.add(design)
    Kept("b", tmp_path).add(kept_designs()[0])  # another study in the same folder
    assert len((tmp_path / LINES).read_text().splitlines()) == 2 and (tmp_path / "study.a.jsonl").exists()
    again = Kept("a", tmp_path)
    assert [again[d.values] for d in kept_designs()] == kept_designs() == [kept[d.values] for d in kept_designs()]
    one, two = (again[d.values].answers.quantities for d in kept_designs()[:2])
    assert one is two and one[1].main == 3 and one[0].also == (("bead",),)  # held once, however many designs
    lines = len((tmp_path / LINES).read_text().splitlines())
    assert lines == 2 + 4  # quantities at the beginning, and for the last design
    assert (tmp_path / "study.b.jsonl").exists() and len(again.remarks) == 1 and "study.b.jsonl" in again.remarks[0]
    again.add(replace(kept_designs()[3], values={"plate": 5.0}))
    assert len((tmp_path / LINES).read_text().splitlines()) == lines + 1  # those stand there already


def test_without_a_whole_line_of_quantities_designs_are_solved_again(tmp_path: Path) -> None:
    kept = Kept("a", tmp_path)
    for design in kept_designs():
        kept.add(design)
    lines = (tmp_path / LINES).read_text().splitlines()
    known = [k for k, line in enumerate(lines) if "quantities" in line]
    for damaged, left in ((known[0], [3.0, 4.0]), (known[1], [1.0, 2.0, 3.0])):
        for text in (
            lines[damaged][:40],
            lines[damaged].replace('"words"', '"word"'),
            '{"study": "a", "quantities": 1}',
        ):
            (tmp_path / LINES).write_text("\n".join([*lines[:damaged], text, *lines[damaged + 1 :], ""]))
            again = Kept("a", tmp_path)
            assert [d.values["plate"] for d in kept_designs() if d.values in again] == left
            for design in kept_designs():
                if design.values not in again:
                    again.add(design)
            mended = Kept("a", tmp_path)
            assert [mended[d.values] for d in kept_designs()] == kept_designs()


def line(rest: str, study: str = "a") -> bytes:
    return f'{{"study": "{study}", {rest}}}\n'.encode()


FAILED = '"status": "failed", "message": "no"'
DONE = '"design": {"plate": 9}, "status": "done", "results": '
DAMAGE = {
    "not JSON": b"{oops}\n",
    "a truncated line": line(FAILED)[:30] + b"\n",
    "an unfinished line of something else": b"#!/bin/sh",
    "a list": b"[1]\n",
    "a number": b"7\n",
    "nothing": b"\n",
    "no UTF-8": line('"design": {"plate": 9}, ' + FAILED).replace(b"no", b"\xff"),
    "UTF-16": line(FAILED).decode().encode("utf-16")[:-1],
    "deeply nested": line('"design": ' + "[" * 100_000 + "]" * 100_000),
    "deeply nested tables": b'{"a":' * 100_000 + b"1" + b"}" * 100_000 + b"\n",
    "NaN": line('"design": {"plate": NaN}, ' + FAILED),
    "NaN in a result": line(DONE + '{"sensors.bead.reading": [NaN, 1], "sensors.bead.misreading": [1, 1]}'),
    "a text for a number": line('"design": {"plate": "9"}, ' + FAILED),
    "too large a number": line('"design": {"plate": 1' + "0" * 400 + "}, " + FAILED),
    "too many digits": line('"design": {"plate": 1' + "0" * 9000 + "}, " + FAILED),
    "no design": line('"design": [9], ' + FAILED),
    "a message that is none": line('"design": {"plate": 9}, "status": "failed", "message": 5'),
    "warnings that are none": line(DONE + '{}, "warnings": "no"'),
    "no results": line(DONE + "[]"),
    "results without bands": line(DONE + '{"sensors.bead.reading": [1], "sensors.bead.misreading": [1]}'),
    "a result that is a text": line(DONE + '{"sensors.bead.reading": ["7", 1], "sensors.bead.misreading": [1, 1]}'),
    "met that is no truth": line('"design": {"plate": 9}, "met": "yes", ' + FAILED),
    "a line and half of one": b"{oops}\n" + line(FAILED)[:30],
    "another status": line('"design": {"plate": 9}, "status": ["done"]'),
    "quantities of a wrong kind": line(
        '"quantities": [{"path": [1, 2], "words": 3, "unit": 4, "family": 5, "also": []}]'
    ),
    "quantities that are none": line('"quantities": 1'),
    "another study's line": line('"design": {"plate": 1.0}, ' + FAILED, "b"),
}


@pytest.mark.parametrize(
    "damage, where",
    [(damage, "last") for damage in DAMAGE]
    + [(damage, "first") for damage in DAMAGE if DAMAGE[damage].endswith(b"\n") and damage != "another study's line"],
)
def test_a_damaged_file_is_set_aside_and_its_whole_lines_are_used(tmp_path: Path, damage: str, where: str) -> None:
    kept, file = Kept("a", tmp_path), tmp_path / LINES
    for design in kept_designs()[:3]:
        kept.add(design)
    lines = file.read_bytes()
    if where == "last":
        file.write_bytes(lines + DAMAGE[damage])
    else:
        file.write_bytes(DAMAGE[damage] + lines)
    damaged = file.read_bytes()
    again = Kept("a", tmp_path)
    assert [again[d.values] for d in kept_designs()[:3]] == kept_designs()[:3] and len(again) == 3
    assert file.read_bytes() == lines and (tmp_path / "study.damaged.jsonl").read_bytes() == damaged
    assert len(again.remarks) == 1 and "study.damaged.jsonl" in again.remarks[0] and "\n" not in again.remarks[0]
    file.write_bytes(DAMAGE["NaN"])
    Kept("a", tmp_path)
    assert {f.name for f in tmp_path.iterdir()} == {LINES, "study.damaged.jsonl", "study.damaged-2.jsonl"}
    assert Kept("a", tmp_path).remarks == []


def test_an_unfinished_line_of_the_study_itself_is_no_damage(tmp_path: Path) -> None:
    kept, file = Kept("a", tmp_path), tmp_path / LINES
    for design in kept_designs()[:2]:
        kept.add(design)
    content = file.read_bytes()
    begin = content[:-1].rindex(b"\n") + 1
    for end in (begin + 1, begin + 9, begin + 40, len(content) - 1):
        file.write_bytes(content[:end])
        again = Kept("a", tmp_path)
        assert len(again) == 1 and again.remarks == [] and file.read_bytes() == content[:begin]
    assert [f.name for f in tmp_path.iterdir()] == [LINES]


def test_a_study_cannot_be_kept_in_what_is_no_file(tmp_path: Path) -> None:
    (tmp_path / LINES).mkdir()
    with pytest.raises(InputError, match="study.jsonl: is no regular file; name another folder"):
        Kept("a", tmp_path)


def test_two_studies_take_turns_in_a_folder_and_are_not_at_work_there_together(slab: Path, tmp_path: Path) -> None:
    out, text = tmp_path / "out", slab.read_text()
    first = study(slab, {"thick": "20,50"}, workers=1, out=out)
    slab.write_text(text.replace("conductivity = 1", "conductivity = 2"))
    other = study(slab, {"thick": "20"}, workers=1, out=out)
    assert len(other.remarks) == 1 and "study.jsonl was that of another file, target or version" in other.remarks[0]
    assert len((out / LINES).read_text().splitlines()) == 2
    slab.write_text(text)
    said: list[str] = []
    assert study(slab, {"thick": "20,50"}, workers=1, out=out, progress=said.append) == first
    assert said == ["2 of 2 designs were done before"]  # its file was taken back
    assert len(list(out.glob("study.*.jsonl"))) == 1

    def another(text: str) -> None:
        with pytest.raises(InputError, match="out: another study is at work there; wait for its end, or name another"):
            study(slab, {"film": "5"}, workers=1, out=out)

    pytest.importorskip("fcntl")
    study(slab, {"thick": "30"}, workers=1, out=out, progress=another)


def test_a_study_taken_up_again_is_the_same_study(slab: Path, tmp_path: Path) -> None:
    first = study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out")
    assert study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out") == first
    more = study(slab, {"thick": "20,50,70"}, workers=1, out=tmp_path / "out")
    assert more.designs[:2] == first.designs and more.known == first.known


def test_warnings_of_designs_are_kept_and_told_once(slab: Path, tmp_path: Path) -> None:
    text = slab.read_text() + '[[environment]]\nname = "attic"\ntemperature = 3\nfilm = 8\n'
    slab.write_text(text)
    solved = study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out")
    again = study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out")
    assert solved.designs == again.designs
    assert warned(solved) == ("Warning for 2 of 2 designs: environment 'attic' touches no solid part.",)


def test_a_link_that_leads_nowhere_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / LINES).symlink_to(tmp_path / LINES)
    with pytest.raises(InputError, match="Too many levels of symbolic links"):
        Kept("a", tmp_path).add(kept_designs()[0])
