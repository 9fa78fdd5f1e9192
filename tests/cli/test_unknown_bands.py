"""A foil that is lost between the cells leaves answers with infinite bands: every command takes them, and says so."""

import json
from pathlib import Path

import pytest

import fdm
from fdm.cli.main import main
from fdm.solving.steady import solve
from tests.cli.wall import WALL
from tests.studies.slab import CABINET

FOIL = """
[[part]]
name = "foil"
material = "aluminium 6063-T5"
polygon = { points = [[10, 5], [110, 25], [110, "25 + foil"], [10, "5 + foil"]] }

[[bridge]]
remove = ["foil"]
"""
WITH_FOIL = WALL.replace("plate = 6\n", "plate = 6\nfoil = 0.002\n") + FOIL
WITH_FOIL = WITH_FOIL.replace("conductivity = 0.031", "conductivity = { value = 0.031, uncertainty = 0.003 }")
TOO_THIN = "part 'foil' is too thin for this grid"


SOLVED = []


def on_small_grids(section, target=0.005, max_cells=300_000, cells=None, like=None, progress=None):
    """The section with the foil on small grids; not again what another command has solved just so."""
    if "foil" in section.part_named:
        max_cells = 16_000
    asked = (section, target, max_cells, cells)
    if like is not None:
        return solve(*asked, like=like)
    if (found := next((solution for known, solution in SOLVED if known == asked), None)) is None:
        SOLVED.append((asked, found := solve(*asked)))
    return found


@pytest.fixture
def foil(tmp_path, monkeypatch):
    """The file; all commands solve it on small grids."""
    monkeypatch.chdir(tmp_path)
    for place in (
        "fdm.solving.steady", "fdm.studies.design", "fdm.inference.section_reanalysis", "fdm.cabinet.sections"
    ):  # fmt: skip
        monkeypatch.setattr(f"{place}.solve", on_small_grids)
    Path("foil.toml").write_text(WITH_FOIL, encoding="utf-8")
    return tmp_path / "foil.toml"


def strict(text):
    def refuse(word):
        raise AssertionError(f"{word} is no JSON")

    return json.loads(text, parse_constant=refuse)


@pytest.mark.filterwarnings("error")
def test_solve_takes_them_with_every_option(foil, capsys):
    options = ["--sensitivity", "--uncertainty", "--sample", "2", "--max-cells", "16000"]
    assert main(["solve", "foil.toml", "foil=0.002", "--out", "out", *options]) == 0
    said = capsys.readouterr()
    assert TOO_THIN in said.err and "NOT met" in said.out and "± ?" in said.out
    result = strict((foil.parent / "out" / "result.json").read_text(encoding="utf-8"))
    assert result["sensors"]["thermostat"]["reading"] is not None
    assert result["band"]["sensors"]["thermostat"]["reading"] is None
    assert {f.name for f in (foil.parent / "out").iterdir()} > {"parts.png", "temperature.png", "budget.png"}


@pytest.mark.filterwarnings("error")
def test_a_notebook_takes_them(foil):
    solution = fdm.solve(fdm.read_section("foil.toml"), max_cells=16_000)
    assert not solution.grid.target_met and not solution.failed
    assert "± ?" in repr(solution) and "± ?" in solution._repr_html_()


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("format", ["json", "csv", "spice"])
def test_network_takes_them(foil, capsys, format):
    assert main(["network", "foil.toml", "--format", format, "--out", "out"]) == 0
    assert TOO_THIN in capsys.readouterr().err
    for file in (foil.parent / "out").glob("*.json"):
        strict(file.read_text(encoding="utf-8"))
    assert list((foil.parent / "out").iterdir())


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("more", [[], ["--best", "thermostat", "--subject", "bridge.foil.psi < 1"]])
def test_study_takes_them_and_goes_on(foil, capsys, more):
    words = ["study", "foil.toml", "wall=30,40", "--answer", "sensors", "--workers", "1", "--quiet", *more]
    for _ in range(2):  # anew, then from what is kept
        assert main(words) == 0
        said = " ".join(capsys.readouterr().out.split())
        assert "± ?" in said and TOO_THIN in said and "2 of 2 designs miss the target" in said
    for line in (foil.parent / "foil-study" / "study.jsonl").read_text(encoding="utf-8").splitlines():
        strict(line)


@pytest.mark.filterwarnings("error")
def test_fit_takes_them(foil, capsys):
    Path("measured.csv").write_text("quantity,value,uncertainty\nhot face,138,5\n", encoding="utf-8")
    assert main(["fit", "foil.toml", "measured.csv", "--adjust", "my foam", "--quiet", "--json", "fit.json"]) == 0
    said = capsys.readouterr()
    assert "hot face" in said.out and TOO_THIN in said.err
    strict((foil.parent / "fit.json").read_text(encoding="utf-8"))


@pytest.mark.filterwarnings("error")
def test_cabinet_takes_them(foil, capsys):
    foiled = CABINET.replace('section = "sill.toml"\nbridge = "bolt"', 'section = "foil.toml"\nbridge = "foil"')
    Path("foiled.toml").write_text(foiled.replace('let = { thick = "thick" }', ""), encoding="utf-8")
    assert main(["cabinet", "foiled.toml", "--out", "out"]) == 0
    said = capsys.readouterr()
    assert TOO_THIN in said.err and "± ?" in said.out
    strict((foil.parent / "out" / "result.json").read_text(encoding="utf-8"))
