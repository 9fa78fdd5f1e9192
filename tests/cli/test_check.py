"""fdm check."""

import shutil
from pathlib import Path

from fdm.cli.main import main
from tests.cli.wall import WALL
from tests.studies.slab import CABINET


def test_check_draws_the_parts_and_says_what_would_be_solved(here, capsys):
    assert main(["check", "wall.toml", "wall=50"]) == 0
    said = capsys.readouterr()
    for words in ("Wall with a plate", "4 parts", "cabinet air", "hot face", "thermostat", "base plate"):
        assert words in said.out
    assert [p.name for p in (here / "wall-wall=50").iterdir()] == ["parts.png"]


def test_what_is_likely_not_meant_is_a_warning(here, capsys):
    more = """
[[environment]]
name = "cellar"
temperature = 12
film = 8

[[part]]
name = "lid"
material = "my foam"
rectangle = { x = [20, 100], y = [30, 36] }
"""
    Path("wall.toml").write_text(WALL[: WALL.index("[[bridge]]")] + more, encoding="utf-8")
    assert main(["check", "wall.toml"]) == 0
    err = capsys.readouterr().err
    assert "fdm: wall.toml: warning: part 'base plate' is wholly covered by later parts\n" in err
    assert "fdm: wall.toml: warning: environment 'cellar' touches no solid part\n" in err
    assert len(err.splitlines()) == 2


GEOMETRIES = Path(__file__).parents[2] / "geometries"


def test_check_takes_a_cabinet_with_all_its_sections(here, capsys):
    assert main(["check", str(GEOMETRIES / "bulb_cabinet.toml"), "wall=50"]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    for words in ("2 modules", "corner_lid.toml, for lid seal:", "bolt.toml, for bolts:", "for the hot sink:"):
        assert words in said.out
    drawn = {"corner_lid", "bolt", "around_module", "sensor_standing", "cold_sink", "hot_sink"}
    assert {p.stem.removesuffix("_back") for p in (here / "bulb_cabinet-wall=50").iterdir()} == drawn


def test_check_of_a_cabinet_without_sections_draws_nothing_and_says_so_of_nothing(here, capsys):
    sill = CABINET.index("section = ")
    Path("box.toml").write_text(
        CABINET[:sill] + "psi = 0.02\n" + CABINET[CABINET.index("[module]") :], encoding="utf-8"
    )
    assert main(["check", "box.toml"]) == 0
    assert "Drawn" not in capsys.readouterr().out
    assert not Path("box").exists()


def test_what_is_doubtful_in_a_section_of_a_cabinet_is_a_warning_that_names_it(here, capsys):
    for file in GEOMETRIES.glob("*.toml"):
        shutil.copy(file, here)
    around = Path("around_module.toml")
    doubtful = around.read_text(encoding="utf-8").replace("temperature = 50", "temperature = 323")
    around.write_text(doubtful, encoding="utf-8")
    assert main(["check", "bulb_cabinet.toml", "--no-files", "--quiet"]) == 0
    out, err = capsys.readouterr()
    assert out == "" and len(err.splitlines()) == 1
    assert "fdm: bulb_cabinet.toml: warning: around_module.toml: source 'hot plate': 323 degC" in err
    around.write_text(f'{doubtful}\n[[sensor]]\nname = "lost"\nat = [5, "block + 2"]\n', encoding="utf-8")
    assert main(["check", "bulb_cabinet.toml"]) == 1
    assert "bulb_cabinet.toml: around_module.toml: sensor 'lost', at: it lies in a void" in capsys.readouterr().err
