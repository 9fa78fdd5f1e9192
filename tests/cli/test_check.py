"""fdm check."""

from pathlib import Path

from fdm.cli.main import main
from tests.cli.wall import WALL


def test_check_draws_the_parts_and_says_what_would_be_solved(here, capsys):
    assert main(["check", "wall.toml", "wall=50"]) == 0
    said = capsys.readouterr()
    for words in ("Wall with a plate", "3 parts", "cabinet air", "hot face", "thermostat", "base plate"):
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
