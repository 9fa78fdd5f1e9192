"""The file of a study: what makes another study of it, and what is refused."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from fdm.cabinet.reader import read_cabinet
from fdm.errors import InputError
from fdm.section.model import Section
from fdm.section.reader import read_section
from fdm.solving.steady import solve
from fdm.studies import best, design, job, study
from tests.studies.slab import CABINET, COUPLING, SILL, SLAB, coupling


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
    cabinet = tmp_path / "cabinet.toml"
    cabinet.write_text(CABINET)
    (tmp_path / "sill.toml").write_text(SILL)

    def change(text: str) -> None:
        cabinet.write_text(CABINET.replace("room = 25", "room = 20"))

    with pytest.raises(InputError, match="cabinet.toml: it, or a section file it names, was changed"):
        study(cabinet, {"foam": "30,40,50"}, workers=1, target=0.05, progress=change)


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


# ---- sections and functions in place of a file ----------------------------------------------------------------------


def test_a_section_read_from_a_file_varies_with_the_numbers_it_was_read_with(slab: Path, tmp_path: Path) -> None:
    section = read_section(slab, film=20, warm="thick / 2")
    found = study(section, {"thick": [20, 50]}, workers=1, out=tmp_path / "out")
    assert found.path == str(slab) and found.varied == ("thick",)
    assert found.values(COUPLING) == pytest.approx([0.1 / (0.15 + 0.02), 0.1 / (0.15 + 0.05)], rel=1e-6)
    assert found.values("outside") == pytest.approx([10, 25])  # an expression, with the numbers of each design
    with_other_film = study(read_section(slab, film=5), {"thick": [20]}, workers=1, out=tmp_path / "out")
    assert with_other_film.values(COUPLING) == pytest.approx([0.1 / 0.32], rel=1e-6)  # nothing that was kept


def test_the_section_of_a_bolt_read_from_a_file_varies_too() -> None:
    section = read_section("geometries/bolt_in_wall.toml", bush="foam / 9")
    found = study(section, {"foam": [45]}, workers=1)
    (design,) = found.designs
    assert design.answers.at("let.bush")[0] == 5 and design.answers.at("let.foam")[0] == 45


def test_a_section_that_its_file_no_longer_describes_is_refused(slab: Path) -> None:
    section = read_section(slab)
    changed = replace(section, environments=tuple(replace(e, film=3) for e in section.environments))
    for other in (changed, replace(section, file="")):
        with pytest.raises(InputError, match="study: this Section has no named numbers to vary, as it was built or"):
            study(other, {"thick": [20]}, workers=1)
    slab.write_text(SLAB.replace("conductivity = 1", "conductivity = 2"))
    with pytest.raises(InputError, match="or its file has changed; give the path of a file"):
        study(section, {"thick": [20]}, workers=1)


def test_a_function_makes_the_designs(slab: Path) -> None:
    """Any function, as it never leaves the calling process, also where others solve its sections."""
    calls = []

    def made(thick: float, film: float = 10) -> Section:
        calls.append(thick)
        return read_section(slab, thick=thick, film=film)

    with ThreadPoolExecutor(2) as executor:
        found = study(made, {"thick": [20, 50]}, workers=executor)
    assert found.path == "made" and found.varied == ("thick",)
    assert found.values(COUPLING) == pytest.approx([coupling(20), coupling(50)], rel=1e-6)
    assert found.values("let.thick").tolist() == [20, 50] and set(calls) == {20, 50}
    limit = (coupling(20) + coupling(50)) / 2
    lowest = best(lambda t: made(t), {"t": "20,50,80"}, "let.t", subject=f"{COUPLING} < {limit}", workers=1)
    assert lowest.values == {"t": 50} and lowest.feasible


def test_a_function_makes_cabinets_too(tmp_path: Path) -> None:
    (tmp_path / "cabinet.toml").write_text(CABINET, "utf-8")
    (tmp_path / "sill.toml").write_text(SILL, "utf-8")
    found = study(
        lambda foam: read_cabinet(tmp_path / "cabinet.toml", foam=foam), {"foam": [40, 80]}, target=0.5, workers=1
    )
    thin, thick = found.values("operating_point.power")
    assert not found.failed and thin > 0 and thick > 0


def test_a_design_that_the_function_cannot_make_is_one_that_failed(slab: Path) -> None:
    found = study(lambda thick: read_section(slab, thick=100 / (thick - 20)), {"thick": [20, 50]}, workers=1)
    assert [d.message for d in found.designs] == ["the function: ZeroDivisionError: float division by zero", ""]


@pytest.mark.parametrize(
    "varied, more, said",
    [
        ({"thik": [20]}, {}, "the function: takes no argument 'thik'; did you mean 'thick'"),
        ({"thick": [20]}, {}, "missing a required argument: 'film'; give values of it, too"),
        ({"thick": [20], "film": [3]}, {"out": "kept"}, "out: designs of a function cannot be kept, as nothing tells"),
        (
            {"thick": [20], "film": [3]},
            {},
            "every design failed; .* returned 1.0; let it return a Section or a Cabinet",
        ),
    ],
)
def test_what_does_not_go_with_a_function_is_refused(
    varied: dict[str, list[float]], more: dict[str, str], said: str
) -> None:
    with pytest.raises(InputError, match=said):
        study(lambda thick, film: 1.0, varied, workers=1, **more)  # type: ignore[arg-type, return-value]
