"""Studies of many designs: which, solving and keeping them, what they show, the best of a range, their pictures."""

import csv
import json
import math
from concurrent.futures import ThreadPoolExecutor
from io import StringIO
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from rich.console import Console

from fdm.cli.main import main
from fdm.errors import InputError
from fdm.output.drawing.study import draw_lines, draw_map, draw_study
from fdm.output.tables.study import print_study
from fdm.section.reader import read_section
from fdm.solving.result import result_dict
from fdm.solving.steady import solve
from fdm.studies import Design, Study, best, designs, findings, main_answers, run, study, warned
from fdm.studies.optimum import _limit
from fdm.studies.paths import band_path, found, found_all, unit

# a slab of k = 1 W/(m K), 100 mm wide, 1 m deep, between two films of 10 W/(m2 K): every coupling is known by hand
SLAB = """
unit = "mm"
[let]
thick = 50
film = 10
warm = 20
weight = "3 * thick"
[material.stone]
conductivity = 1
[[environment]]
name = "inside 1.5 m"
temperature = 0
film = "film"
[[environment]]
name = "outside"
temperature = "warm"
film = 10
[[part]]
name = "slab"
material = "stone"
rectangle = { x = [0, 100], y = [0, "thick"] }
[[sensor]]
name = "bead"
at = [50, "thick"]
should_read = "inside 1.5 m"
[border]
bottom = "inside 1.5 m"
top = "outside"
"""
MEAN = "spreading.plate.LEDs.mean"
COUPLING = 'network.coupling."inside 1.5 m".outside'


def coupling(thick: float, film: float = 10.0) -> float:
    """W/K of the slab: 0.1 m2 over two films and the slab in series."""
    return 0.1 / (1 / film + thick / 1000 + 0.1)


@pytest.fixture
def slab(tmp_path: Path) -> Path:
    path = tmp_path / "slab.toml"
    path.write_text(SLAB)
    return path


def made_up(values: dict[str, list[float]], answer: list[float | None], band: float = 0.0) -> Study:
    """A study with the answer `spreading.plate.LEDs.mean` of its designs; None where one failed."""
    rows = [dict(zip(values, row)) for row in zip(*values.values())]
    done = tuple(
        Design(row, {}, "part 'plate': too thin")
        if v is None
        else Design(row, {MEAN: v, "spreading.plate.LEDs.mean_band": band})
        for row, v in zip(rows, answer)
    )
    return Study("plate.toml", tuple(values), done, (MEAN,), 0.005)


# which designs


def test_ranges_include_both_ends_and_lists_may_hold_ranges() -> None:
    assert [d["plate"] for d in designs({"plate": "0.1:0.5:0.1"})] == [0.1, 0.2, 0.3, 0.4, 0.5]
    assert [d["plate"] for d in designs({"plate": "3:12:4"})] == [3, 7, 11]
    assert [d["plate"] for d in designs({"plate": "2,3:5:1,8,3"})] == [2, 3, 4, 5, 8]
    assert designs({"plate": "3"}) == [{"plate": 3.0}]


def test_a_grid_has_every_combination_with_the_last_name_fastest() -> None:
    grid = designs([("plate", "3,4"), ("wall", "20:40:10")])
    assert [tuple(d.values()) for d in grid] == [(3, 20), (3, 30), (3, 40), (4, 20), (4, 30), (4, 40)]


def test_samples_fill_their_ranges_and_are_always_the_same() -> None:
    asked = {"plate": "3:12", "fins": "5:9:2", "wall": "30"}
    sample = designs(asked, lhs=9)
    assert sample == designs(asked, lhs=9) != designs(asked, lhs=9, seed=1)
    assert sorted(int(d["plate"] - 3) for d in sample) == list(range(9))  # one in each ninth of the range
    assert sorted(d["fins"] for d in sample) == [5, 5, 5, 7, 7, 7, 9, 9, 9]
    assert {d["wall"] for d in sample} == {30}
    loose = designs(asked, random=50)
    assert len(loose) == 50 and all(3 <= d["plate"] <= 12 for d in loose)


@pytest.mark.parametrize(
    ("asked", "more", "said"),
    [
        ({"plate": "3:12"}, {}, "plate: 3:12 has no step; give 3:12:1"),
        ({"plate": "3:x:1"}, {}, "plate: 'x' in '3:x:1' is no number; give low:high:step such as 3:12:1"),
        ({"plate": "thick"}, {}, "plate: 'thick' is no number"),
        ({"plate": "3:12:1:2"}, {}, "plate: '3:12:1:2' is not understood"),
        ({"plate": "3,,4"}, {}, "is no number"),
        ({"plate": "12:3:1"}, {}, "leads nowhere"),
        ({"plate": "3:12:0"}, {}, "leads nowhere"),
        ({"plate": "12:3"}, {"lhs": 3}, "no room between its ends"),
        ({"plate": "nan"}, {}, "no number"),
        ({"plate": "0:1:1e-9"}, {}, "more than 100000 values"),
        ({"a": "1:1000:1", "b": "1:1000:1"}, {}, "1000000 designs are more than"),
        ({}, {}, "no name to vary"),
        ({"plate": "3:12"}, {"lhs": 0}, "a sample of 0 designs"),
        ({"plate": "3:12"}, {"lhs": 2, "random": 2}, "give one of them"),
        ([("plate", "3"), ("plate", "4")], {}, "plate: given twice"),
    ],
)
def test_what_is_no_choice_of_designs_is_refused(asked: object, more: dict[str, int], said: str) -> None:
    with pytest.raises(InputError) as fault:
        designs(asked, **more)  # type: ignore[arg-type]
    assert said in str(fault.value)


# paths of answers


def test_answers_are_found_by_path_with_or_without_quotes(slab: Path) -> None:
    known = study(slab, {"thick": "50"}).known
    assert found(COUPLING, known) == found("network.coupling.inside 1.5 m.outside", known) == COUPLING
    assert found_all("sensors.bead", known) == [p for p in known if p.startswith("sensors.bead.")]
    with pytest.raises(InputError, match="did you mean 'sensors.bead.misreading'"):
        found("sensors.bead.misreadin", known)
    with pytest.raises(InputError, match="holds .* numbers; give one, such as"):
        found("sensors.bead", known)


def test_every_answer_knows_its_band_and_unit(slab: Path) -> None:
    known = study(slab, {"thick": "50"}).known
    for path, band, symbol in (
        (COUPLING, 'network.band.coupling."inside 1.5 m".outside', "W/K"),
        ("sensors.bead.reading", "sensors.bead.band", "degC"),
        ("sensors.bead.misreading", "sensors.bead.misreading_band", "K"),
        ("sensors.bead.should_read", None, "degC"),
        ("let.thick", None, ""),
    ):
        assert (band_path(path, known), unit(path)) == (band, symbol)


# solving


def test_a_study_answers_what_solve_answers(slab: Path, tmp_path: Path) -> None:
    said: list[str] = []
    result = study(slab, {"thick": "20,50,90", "film": [10, 40]}, workers=1, out=tmp_path / "out", progress=said.append)
    assert result.varied == ("thick", "film")
    want = [coupling(t, f) for t in (20, 50, 90) for f in (10, 40)]
    assert result.values(COUPLING) == pytest.approx(want, rel=1e-6)
    one = result_dict(solve(read_section(slab, thick=90, film=40)))
    assert result.designs[-1].answers["sensors.bead.misreading"] == one["sensors"]["bead"]["misreading"]
    assert result.designs[-1].answers["let.weight"] == 270
    assert said[-1].startswith("6 of 6 designs")

    with open(tmp_path / "out" / "study.csv", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(float(r["thick"]), float(r["film"]), r["status"]) for r in rows] == [
        (t, f, "done") for t in (20, 50, 90) for f in (10, 40)
    ]
    assert float(rows[3][COUPLING]) == pytest.approx(coupling(50, 40), rel=1e-6)
    lines = [json.loads(line) for line in (tmp_path / "out" / "study.jsonl").read_text().splitlines()]
    assert len(lines) == 6
    assert lines[0]["design"] == {"thick": 20, "film": 10} and lines[0]["results"][COUPLING] > 0


def test_only_the_asked_answers_are_put_in_the_table(slab: Path, tmp_path: Path) -> None:
    result = study(slab, {"thick": "20"}, out=tmp_path / "out", answers=["sensors.bead.reading", "network.coupling"])
    assert result.columns[0] == "sensors.bead.reading" and COUPLING in result.columns
    assert all(c.startswith(("sensors.bead.reading", "network.coupling")) for c in result.columns)
    header = (tmp_path / "out" / "study.csv").read_text().splitlines()[0]
    assert header.split(",")[:4] == ["thick", "status", "message", "sensors.bead.reading"]
    with pytest.raises(InputError, match="did you mean"):
        study(slab, {"thick": "20"}, answers=["sensors.bead.readin"])


def test_an_interrupted_study_is_taken_up_again(slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out, solved = tmp_path / "out", []
    monkeypatch.setattr(run, "solve", lambda s, target, **how: solved.append(s.let["thick"]) or solve(s, target, **how))

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


def test_another_text_or_target_is_another_study(slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out, solved = tmp_path / "out", []
    monkeypatch.setattr(run, "solve", lambda s, target, **how: solved.append(target) or solve(s, target, **how))
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
    hashes = [run.program_hash(package) for package in (first, second, third)]
    assert len(set(hashes)) == 3
    solved = []
    monkeypatch.setattr(run, "solve", lambda s, target, **how: solved.append(target) or solve(s, target, **how))
    for answer, count in ((hashes[0], 1), (hashes[0], 1), (hashes[1], 2), (hashes[2], 3)):
        monkeypatch.setattr(run, "program_hash", lambda answer=answer: answer)
        study(slab, {"thick": "10"}, workers=1, out=tmp_path / "out")
        assert len(solved) == count


def test_a_file_changed_during_a_study_does_not_change_it(slab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def rewriting(section, target, **how):  # type: ignore[no-untyped-def]
        slab.write_text(SLAB.replace("conductivity = 1", "conductivity = 2"))
        return solve(section, target, **how)

    monkeypatch.setattr(run, "solve", rewriting)
    result = study(slab, {"thick": "20,50"}, workers=1)
    assert result.values(COUPLING) == pytest.approx([coupling(20), coupling(50)])


def test_designs_that_differ_in_numbers_alone_are_solved_on_the_grids_of_the_file(
    slab: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    films = {"film": [6.0, 12.0, 60.0]}
    one, two = study(slab, films, workers=1), study(slab, films, workers=2)
    assert (one.values(COUPLING) == two.values(COUPLING)).all()  # whichever worker solves them
    like = []
    monkeypatch.setattr(run, "solve", lambda s, target, **how: like.append(how.get("like")) or solve(s, target, **how))
    study(slab, films, workers=1)
    assert [known.section.let["film"] for known in like if known] == [read_section(slab).let["film"]] * 3
    like.clear()
    study(slab, {"thick": [20.0, 30.0]}, workers=1)
    assert like == [None, None]  # drawn otherwise


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
    assert len((tmp_path / "out" / "study.jsonl").read_text().splitlines()) == 3
    with pytest.raises(InputError, match="every design failed; the first, thick = -5: "):
        study(slab, {"thick": "-5"})


def test_a_crash_is_kept_apart_and_tried_again(slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def short_of_memory(section: object, target: float, **how: object) -> None:
        raise MemoryError("no room")

    study(slab, {"thick": "20"}, workers=1, out=tmp_path / "out")
    with monkeypatch.context() as patched:
        patched.setattr(run, "solve", short_of_memory)
        result = study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out")
    assert result.failed[0].message == "MemoryError: no room"
    assert not study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out").failed


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


@pytest.mark.parametrize("how", ["processes", "threads"])
def test_many_workers_give_the_same_study(slab: Path, how: str) -> None:
    varied = {"thick": "20:60:5", "film": "-1,10"}
    alone = study(slab, varied, workers=1)
    if how == "processes":
        together = study(slab, varied, workers=2)
    else:
        with ThreadPoolExecutor(2) as executor:
            together = study(slab, varied, executor=executor, workers=2)
    assert together == alone and len(alone.failed) == 9


def test_a_dask_cluster_gives_the_same_study(slab: Path) -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None, host="127.0.0.1", protocol="tcp"
    ) as cluster:
        assert study(slab, {"thick": "20,50"}, cluster=cluster.scheduler_address) == study(
            slab, {"thick": "20,50"}, workers=1
        )


def test_without_dask_a_cluster_is_refused_clearly(slab: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(InputError, match="cluster: the package distributed is not installed; install it"):
        study(slab, {"thick": "20,50"}, cluster="tcp://127.0.0.1:1")


CABINET = """
unit = "mm"
[let]
foam = 40
thick = 50
room = 25
[cabinet]
inside = [300, 300, 300]
room = "room"
setpoint = 10
[[wall]]
name = "walls"
faces = ["left", "right", "front", "back", "top", "bottom"]
layers = [{ material = "XPS foam", thickness = "foam" }]
film_inside = 8
film_outside = 8
[[line]]
name = "sill"
length = 300
section = "sill.toml"
bridge = "bolt"
let = { thick = "thick" }
[module]
seebeck = 0.05
resistance = 2
conductance = 1
cold_sink = { resistance = 0.3 }
hot_sink = { resistance = 0.2 }
cold_capacity = 100
hot_capacity = 200
[supply]
current = 1
[load]
mass = 5
specific_heat = 3600
surface = 0.4
film = 8
[thermostat]
hysteresis = 1
"""
SILL = (
    SLAB.split("[[sensor]]")[0]
    + """
[[part]]
name = "bolt"
material = "copper"
rectangle = { x = [45, 55], y = [0, "thick"] }
[[bridge]]
remove = ["bolt"]
[border]
bottom = "inside 1.5 m"
top = "outside"
"""
)


def test_a_cabinet_is_studied_with_its_sections(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, solved = tmp_path / "cabinet.toml", []
    path.write_text(CABINET)
    (tmp_path / "sill.toml").write_text(SILL)
    monkeypatch.setattr(run, "solve", lambda s, target, **how: solved.append(s.let["thick"]) or solve(s, target, **how))
    result = study(path, {"room": "20,30", "thick": "30,50"}, workers=1, out=tmp_path / "out")
    assert solved == [30, 50]  # each section once, though it serves two rooms
    air = result.values("operating_point.temperature.air")
    assert air[2] > air[0] + 5 and np.isfinite(result.bands("operating_point.temperature.air")).all()
    psi = result.values("sections.sill.bridge.bolt.psi")
    assert psi[0] == psi[2] and psi[1] > 1.5 * psi[0]
    assert result.values("budget.walls.watts")[2] > 0
    assert main_answers(result.known)[:2] == ["operating_point.temperature.air", "operating_point.temperature.load"]
    (tmp_path / "sill.toml").write_text(SILL.replace("[45, 55]", "[40, 60]"))
    changed = study(path, {"room": "20", "thick": "50"}, workers=1, out=tmp_path / "out")  # the section counts as well
    assert changed.values("sections.sill.bridge.bolt.psi")[0] > psi[1]


# what it means


def test_findings_name_the_best_the_smallest_and_where_the_curve_is_flat() -> None:
    plate = [3.0, 5, 7, 9, 11, 13]
    said = findings(made_up({"plate": plate}, [2.0, 1.3, 1.018, 1.003, 1.0, 1.002], 0.0001), MEAN)
    assert said == (
        "The lowest spreading.plate.LEDs.mean is 1.00000 ± 0.00010 K/W, at plate = 11.",
        "The smallest plate within 2 % of the best is 7 (1.01800 ± 0.00010 K/W).",
        "Beyond plate = 9 the curve is flat: less than 1 % a step.",
    )


def test_findings_call_designs_equal_whose_bands_overlap() -> None:
    study_ = made_up({"plate": [3.0, 5, 7]}, [1.3, 1.001, 1.0], 0.001)
    assert "Equal to it within the bands: plate = 5." in findings(study_, MEAN)
    sharp = made_up({"plate": [3.0, 5, 7]}, [1.3, 1.01, 1.0], 0.001)
    said = findings(sharp, MEAN)
    assert not any("Equal" in s for s in said)
    assert "That is the largest value of plate tried; what lies beyond may be better still." in said


def test_findings_of_two_names_give_the_best_pair_and_the_smallest() -> None:
    pairs = {"plate": [3.0, 3, 6, 6, 9, 9], "wall": [20.0, 40, 20, 40, 20, 40]}
    said = findings(made_up(pairs, [2.0, 1.5, 1.4, 1.01, 1.015, 1.0], 1e-4), MEAN)
    assert said[0].endswith("at plate = 9, wall = 40.")
    assert any(
        s.startswith("The smallest within 2 % of the best: plate = 6, wall = 40 (1.0")
        and "; or plate = 9, wall = 20" in s
        for s in said
    )


def test_findings_count_failures_and_can_look_for_the_highest() -> None:
    said = findings(made_up({"plate": [1.0, 2, 3, 4]}, [None, None, 1.0, 2.0]), MEAN, maximise=True)
    assert said[0].startswith("The highest") and said[0].endswith("at plate = 4.")
    assert said[-2:] == ("2 of 4 designs failed.", "Failed at plate = 1 and 1 more: part 'plate': too thin")


def test_findings_of_temperatures_count_in_kelvins_and_of_misreadings_their_size() -> None:
    rows = [({"plate": p}, t, e) for p, t, e in ((2.0, 0.6, -3.0), (3.0, 0.4, -0.2), (4.0, 0.1, 1.0))]
    done = tuple(
        Design(v, {"sensors.bead.reading": t, "sensors.bead.band": 0.01, "sensors.bead.misreading": e})
        for v, t, e in rows
    )
    study_ = Study("a.toml", ("plate",), done, (), 0.005)
    assert "The smallest plate within 0.5 K of the best is 2 (0.600 ± 0.010 degC)." in findings(
        study_, "sensors.bead.reading"
    )
    said = findings(study_, "sensors.bead.misreading")
    assert said[0] == "The lowest size of sensors.bead.misreading is 0.2000 ± 0.0010 K, at plate = 3."
    assert said[-1] == "The result states no band for it; the study's target of 0.5 % is taken."


# the best


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
    assert any("let.weight < 180: met" in s and "active" in s for s in found_.sentences)


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
    assert len((tmp_path / "out" / "study.jsonl").read_text().splitlines()) == 10
    best(slab, {"thick": "20:60:10", "film": "8,10"}, COUPLING, out=tmp_path / "out", workers=1)
    assert len((tmp_path / "out" / "study.jsonl").read_text().splitlines()) == 10


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


def test_best_says_what_is_missing_where_nothing_meets_the_limits(slab: Path) -> None:
    found_ = best(slab, {"thick": "20,30"}, COUPLING, subject=["let.weight < 50"], workers=1)
    assert not found_.feasible and found_.values == {"thick": 20}
    assert found_.sentences[0].startswith("No design tried meets every limit; the nearest, at thick = 20, has 60 where")


@pytest.mark.parametrize(
    ("goal", "subject", "said"),
    [
        ("network.coupling.inside 1.5 m.outsid", [], "goal: the result has no"),
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


def test_limits_are_read_with_spaces_in_names() -> None:
    limit = _limit('network.coupling."inside 1.5 m".outside >= 0.3')
    assert (limit.path, limit.below, limit.bound) == (COUPLING, False, 0.3)


def test_times_and_energies_are_shown_in_the_units_of_the_tables(
    slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hours, energy = "pull_down.time_to_setpoint", "pull_down.energy_a_day"
    made = [
        Design({"wall": wall}, {hours: time, energy: joules})
        for wall, time, joules in ((30.0, 90000.0, 3.6e6), (40.0, 72000.0, 1.8e6), (50.0, None, 7.2e6))
    ]
    result = Study("made up.toml", ("wall",), tuple(made), (hours, energy), 0.005)
    console = Console(file=StringIO(), width=100)
    print_study(result, console, [hours, energy])
    text = console.file.getvalue()  # type: ignore[attr-defined]
    rows = {words[0]: words[1:] for line in text.splitlines() if (words := line.split())}
    assert rows["wall"] == ["h", "kWh"]
    assert rows["30"][::3] == ["25.00", "1.0000"] and rows["50"][0] == "-"
    assert "The lowest pull_down.time_to_setpoint is 20.00 ± 0.10 h, at wall = 40." in findings(result, hours)
    assert str(_limit("pull_down.energy_a_day < 1.8e6")) == "pull_down.energy_a_day < 0.5 kWh"
    labels = []
    monkeypatch.setattr(
        "matplotlib.axes.Axes.set_ylabel", lambda axes, text, **_: labels.append((text, axes.get_ylim()))
    )
    draw_lines(result, energy, tmp_path / "energy.png")
    ((label, (low, high)),) = labels
    assert label == "pull_down.energy_a_day (kWh)" and 0.2 < low < 0.5 and 2 < high < 2.5


# pictures


def test_pictures_are_lines_or_a_map_by_what_varies(slab: Path, tmp_path: Path) -> None:
    one = study(slab, {"thick": "20:60:10"}, workers=1)
    assert draw_study(one, tmp_path, [COUPLING]) == ["network.coupling._inside_1.5_m_.outside.png"]
    draw_lines(one, COUPLING, tmp_path / "one.png")
    grid = study(slab, {"thick": "-5,20,40,60", "film": "5,10,20,40"}, workers=1)
    draw_map(grid, COUPLING, tmp_path / "map.png")
    draw_lines(grid, COUPLING, tmp_path / "lines.png")
    sample = study(slab, designs({"thick": "20:60", "film": "5:40"}, lhs=8), workers=1)
    draw_map(sample, COUPLING, tmp_path / "sample.png")
    seen = [matplotlib.image.imread(tmp_path / f"{name}.png") for name in ("one", "map", "lines", "sample")]
    for picture in seen:
        assert picture.shape[1] == 1600 and len(np.unique(picture[::4, ::4, :3].reshape(-1, 3), axis=0)) > 20
    with pytest.raises(InputError, match="too many lines"):
        draw_lines(
            study(slab, designs({"thick": "20:60", "film": "5:40"}, lhs=9), workers=1), COUPLING, tmp_path / "no.png"
        )
    with pytest.raises(InputError, match="a map needs two names"):
        draw_map(one, COUPLING, tmp_path / "no.png")
    assert draw_study(study(slab, {"thick": "20"}, workers=1), tmp_path) == []
    line = study(slab, [{"thick": 20.0 + k, "film": 5.0 + k} for k in range(4)], workers=1)
    draw_map(line, COUPLING, tmp_path / "line.png")  # designs on one line: dots, and no levels between them
    assert (tmp_path / "line.png").exists()


def test_the_table_shows_each_design_with_its_band(slab: Path) -> None:
    console = Console(file=StringIO(), width=100)
    print_study(study(slab, {"thick": "-5,50"}, workers=1), console, [COUPLING])
    text = console.file.getvalue()  # type: ignore[attr-defined]
    assert "W/K" in text and "failed" in text and "0.40000" in text


# the command line


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
    # of all numbers below the asked path those without bands are drawn and told
    pictures = sorted(f.name for f in (tmp_path / "slab-study").glob("*.png"))
    assert len(pictures) == 2 and not any("band" in name for name in pictures)
    said = " ".join(out.split())
    assert "is 0.357142857" in said and "at thick = 80." in said and all(name in said for name in pictures)
    assert main(words) == 0  # from what is kept
    assert len((tmp_path / "slab-study" / "study.jsonl").read_text().splitlines()) == 3


def test_the_command_finds_the_best_within_limits(
    slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    limit = f"{COUPLING} < 0.4"
    words = ["study", str(slab), "thick=20:80", "--best", "let.thick", "--subject", limit, "--workers", "1"]
    assert main([*words, "--out", str(tmp_path / "best"), "--quiet"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    # 0.1 / (0.2 + thick) = 0.4
    assert "The lowest let.thick that meets every limit is 50" in said and "active" in said
    # the picture is of what is limited, and marks this design
    assert [f.name for f in (tmp_path / "best").glob("*.png")] == ["network.coupling._inside_1.5_m_.outside.png"]


@pytest.mark.parametrize(
    "words, code, said",
    [
        (["thik=20,50"], 1, "let: there is no named number 'thik' to vary; did you mean 'thick'"),
        (["thick=20:50"], 1, "thick: 20:50 has no step"),
        (["thick=20,50", "--answer", "sensors.bed"], 1, "answer: the result has no 'sensors.bed'"),
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


def test_the_best_within_limits_is_the_one_marked(slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    optimum = best(slab, {"thick": "20:80"}, "let.thick", subject=[f"{COUPLING} < 0.4"], workers=1)
    marked = []
    monkeypatch.setattr("matplotlib.axes.Axes.annotate", lambda axes, text, xy, *_, **__: marked.append((text, xy)))
    draw_study(optimum.study, tmp_path, [COUPLING], best=0)
    ((text, (x, _)),) = marked
    assert text == "best" and x == pytest.approx(50, rel=0.01)


def test_fine_steps_are_no_flat_curve() -> None:
    """A straight line from 30 to 60: each step of it changes little, all of it much."""
    fine = made_up({"heat": [10 + 0.1 * k for k in range(301)]}, [30 + 0.1 * k for k in range(301)])
    said = findings(fine, MEAN)
    assert not any("flat throughout" in s or "Beyond" in s for s in said)
    assert any(s.startswith("The curve is not flat at heat = 40: the last 3 change it by 5.3 %") for s in said)


def test_a_cabinet_file_that_changes_meanwhile_ends_the_study(tmp_path: Path) -> None:
    for file in (Path(__file__).parents[2] / "geometries").glob("*.toml"):
        (tmp_path / file.name).write_text(file.read_text())
    cabinet = tmp_path / "bulb_cabinet.toml"

    def change(text: str) -> None:
        cabinet.write_text(cabinet.read_text().replace("room = 30", "room = 20"))

    with pytest.raises(InputError, match="bulb_cabinet.toml: it, or a section file it names, was changed"):
        study(cabinet, {"bulbs": "4,5,6"}, workers=1, target=0.05, progress=change)


def test_the_package_offers_studies() -> None:
    import fdm

    assert fdm.study is study and fdm.best is best


def test_main_answers_have_a_value_and_a_size(slab: Path) -> None:
    cross = "spreading.plate.fan.mean"
    rows = tuple(
        Design({"plate": k}, {MEAN: 0.1 / k, cross: 1e-7} | {"sensors.a.misreading": None, "sensors.a.reading": 2.0})
        for k in (1.0, 2.0)
    )
    made = Study("made.toml", ("plate",), rows, (MEAN,), 0.005)
    assert made.main == (MEAN, "sensors.a.reading")
    assert made.missed == 0
    assert study(slab, {"thick": "20,50"}, workers=1).missed == 0


def test_one_design_has_a_table_and_no_words(slab: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["study", str(slab), "thick=50", "--workers", "1", "--quiet", "--out", str(tmp_path / "one")]
    assert main(words) == 0
    assert "lowest" not in capsys.readouterr().out


def test_warnings_of_designs_are_kept_and_told_once(slab: Path, tmp_path: Path) -> None:
    text = slab.read_text() + '[[environment]]\nname = "attic"\ntemperature = 3\nfilm = 8\n'
    slab.write_text(text)
    solved = study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out")
    again = study(slab, {"thick": "20,50"}, workers=1, out=tmp_path / "out")
    assert solved.designs == again.designs
    assert warned(solved) == ("Warning for 2 of 2 designs: environment 'attic' touches no solid part.",)
