"""The file of a study: what makes another study of it, and what is refused."""

from pathlib import Path

import pytest

from fdm.errors import InputError
from fdm.solving.steady import solve
from fdm.studies import design, job, study
from tests.studies.slab import COUPLING, SLAB, coupling


def test_another_text_or_target_is_another_study(slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out, solved = tmp_path / "out", []
    monkeypatch.setattr(design, "solve", lambda s, target, **how: solved.append(target) or solve(s, target, **how))
    study(slab, {"thick": "20"}, workers=1, out=out)
    study(slab, {"thick": "20"}, workers=1, out=out, target=0.01)
    slab.write_text(SLAB.replace("conductivity = 1", "conductivity = 2"))
    result = study(slab, {"thick": "20"}, workers=1, out=out)
    assert solved == [0.005, 0.01, 0.005]
    assert result.values(COUPLING)[0] == pytest.approx(0.1 / (0.2 + 0.01), rel=1e-6)


def test_another_program_or_material_table_is_another_study(
    slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first, second, third = (tmp_path / name for name in ("1", "2", "3"))
    for package, program, table in ((first, "a = 1", "k,1"), (second, "a = 2", "k,1"), (third, "a = 1", "k,2")):
        package.mkdir()
        (package / "program.py").write_text(program)
        (package / "materials.csv").write_text(table)
    hashes = [job.program_hash(package) for package in (first, second, third)]
    assert len(set(hashes)) == 3
    solved = []
    monkeypatch.setattr(design, "solve", lambda s, target, **how: solved.append(target) or solve(s, target, **how))
    for answer, count in ((hashes[0], 1), (hashes[0], 1), (hashes[1], 2), (hashes[2], 3)):
        monkeypatch.setattr(job, "program_hash", lambda answer=answer: answer)
        study(slab, {"thick": "10"}, workers=1, out=tmp_path / "out")
        assert len(solved) == count


def test_a_file_changed_during_a_study_does_not_change_it(slab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def rewriting(section, target, **how):  # type: ignore[no-untyped-def]
        slab.write_text(SLAB.replace("conductivity = 1", "conductivity = 2"))
        return solve(section, target, **how)

    monkeypatch.setattr(design, "solve", rewriting)
    result = study(slab, {"thick": "20,50"}, workers=1)
    assert result.values(COUPLING) == pytest.approx([coupling(20), coupling(50)])


def test_a_cabinet_file_that_changes_meanwhile_ends_the_study(tmp_path: Path) -> None:
    for file in (Path(__file__).parents[2] / "geometries").glob("*.toml"):
        (tmp_path / file.name).write_text(file.read_text())
    cabinet = tmp_path / "bulb_cabinet.toml"

    def change(text: str) -> None:
        cabinet.write_text(cabinet.read_text().replace("room = 30", "room = 20"))

    with pytest.raises(InputError, match="bulb_cabinet.toml: it, or a section file it names, was changed"):
        study(cabinet, {"bulbs": "4,5,6"}, workers=1, target=0.05, progress=change)


def test_names_that_the_file_does_not_have_are_refused(slab: Path, tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match=r"slab.toml: let: there is no named number 'thik' to vary; did you mean 'thick'"
    ):
        study(slab, {"thik": "20"})
    with pytest.raises(InputError, match="cannot be read"):
        study(tmp_path / "none.toml", {"thick": "20"})
    with pytest.raises(InputError, match="set different names"):
        study(slab, [{"thick": 20.0}, {"film": 8.0}])
    with pytest.raises(InputError, match="workers: 0"):
        study(slab, {"thick": "20"}, workers=0)
    with pytest.raises(InputError, match="target"):
        study(slab, {"thick": "20"}, target=2)
