"""Solving one design: on the grids of the file, with sections solved once, whatever it fails of."""

from pathlib import Path

import numpy as np
import pytest

from fdm.section.reader import read_section
from fdm.solving.steady import solve
from fdm.studies import design, study
from tests.studies.slab import CABINET, SILL


def test_designs_that_differ_in_numbers_alone_are_solved_on_the_grids_of_the_file(
    slab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    like = []
    monkeypatch.setattr(
        design, "solve", lambda s, target, **how: like.append(how.get("like")) or solve(s, target, **how)
    )
    study(slab, {"film": [6.0, 12.0, 60.0]}, workers=1)
    assert [known.section.let["film"] for known in like if known] == [read_section(slab).let["film"]] * 3
    like.clear()
    study(slab, {"thick": [20.0, 30.0]}, workers=1)
    assert like == [None, None]  # drawn otherwise


def test_a_cabinet_is_studied_with_its_sections(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, solved = tmp_path / "cabinet.toml", []
    path.write_text(CABINET)
    (tmp_path / "sill.toml").write_text(SILL)
    monkeypatch.setattr(
        design, "solve", lambda s, target, **how: solved.append(s.let["thick"]) or solve(s, target, **how)
    )
    result = study(path, {"room": "20,30", "thick": "30,50"}, workers=1, out=tmp_path / "out")
    assert solved == [30, 50]  # each section once, though it serves two rooms
    air = result.values("operating_point.temperature.air")
    assert air[2] > air[0] + 5 and np.isfinite(result.bands("operating_point.temperature.air")).all()
    psi = result.values("sections.sill.bridge.bolt.psi")
    assert psi[0] == psi[2] and psi[1] > 1.5 * psi[0]
    assert result.values("budget.walls.watts")[2] > 0
    assert [q.name for q in result.main][:2] == ["operating_point.temperature.air", "operating_point.temperature.load"]
    (tmp_path / "sill.toml").write_text(SILL.replace("[45, 55]", "[40, 60]"))
    changed = study(path, {"room": "20", "thick": "50"}, workers=1, out=tmp_path / "out")  # the section counts as well
    assert changed.values("sections.sill.bridge.bolt.psi")[0] > psi[1]


def test_a_crash_is_kept_apart_and_tried_again(slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def short_of_memory(section: object, target: float, **how: object) -> None:
        raise MemoryError("no room")

    study(slab, {"thick": "20"}, workers=1, out=tmp_path / "out")
    with monkeypatch.context() as patched:
        patched.setattr(design, "solve", short_of_memory)
        result = study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out")
    assert result.failed[0].message == "MemoryError: no room"
    assert not study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out").failed
