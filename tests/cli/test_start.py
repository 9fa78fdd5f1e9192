"""Demo files to begin with, as a new user copies them."""

from pathlib import Path

import pytest

from fdm.cabinet.reader import is_cabinet, read_cabinet
from fdm.cli.main import main
from fdm.section.reader import read_section

DEMOS = sorted((Path(__file__).parents[2] / "geometries").glob("*.toml"))


@pytest.fixture(autouse=True)
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("demo", DEMOS, ids=lambda file: file.stem)
def test_a_copy_can_be_read_with_all_that_it_names(demo, capsys):
    assert main(["start", demo.stem, "--out", "mine"]) == 0
    copy = Path("mine") / demo.name
    assert copy.read_bytes() == demo.read_bytes()
    cabinet = is_cabinet(copy)
    (read_cabinet if cabinet else read_section)(copy)
    assert f"fdm {'cabinet' if cabinet else 'solve'} {copy}" in capsys.readouterr().out


def test_what_belongs_to_a_demo_comes_with_it(capsys):
    assert main(["start", "light_bar"]) == 0
    assert sorted(f.name for f in Path().iterdir()) == ["light_bar.ipynb", "light_bar.toml", "light_bar_log.csv"]
    assert "Copied to .: light_bar.toml light_bar_log.csv light_bar.ipynb" in capsys.readouterr().out


def test_without_a_name_the_demos_are_listed_with_their_titles(capsys):
    assert main(["start"]) == 0
    assert "light_bar            Grow-light bar\n" in capsys.readouterr().out
    assert not list(Path().iterdir())


def test_nothing_is_overwritten(capsys):
    Path("bolt.toml").write_text("mine", "utf-8")
    assert main(["start", "bulb_cabinet"]) == 1
    told = capsys.readouterr().err
    assert "'bolt.toml' exists already, and is not the demo's; name another folder with --out" in told
    assert [(file.name, file.read_text("utf-8")) for file in Path().iterdir()] == [("bolt.toml", "mine")]


def test_what_is_there_already_is_left_as_it_is(capsys):
    assert main(["start", "corner_lid"]) == 0
    before = Path("corner_lid.toml").stat().st_mtime_ns
    assert main(["start", "bulb_cabinet"]) == 0
    assert "In . already, as in the demo: corner_lid.toml" in capsys.readouterr().out
    assert Path("corner_lid.toml").stat().st_mtime_ns == before
    read_cabinet("bulb_cabinet.toml")
    assert main(["start", "bulb_cabinet"]) == 0
    assert "Copied" not in capsys.readouterr().out


def test_a_misspelt_demo_is_told_the_nearest(capsys):
    assert main(["start", "lightbar"]) == 1
    assert "there is no demo 'lightbar'; did you mean 'light_bar'?" in capsys.readouterr().err
