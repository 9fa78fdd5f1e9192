"""Slips of first users, a file each: what the drawing takes for granted, and they do not mean, is said in a sentence.

Each file begins with what is wrong, and with the sentences that it must bring, after "# > ".
"""

import json
import re
from pathlib import Path

import pytest

import fdm
from fdm.cli.main import main
from fdm.errors import InputError
from fdm.section.reader import read_section
from fdm.solving.check import check_section

FOLDER = Path(__file__).parent
REFUSED = "segment_beyond_the_drawing"
WARNED = sorted(p.stem for p in FOLDER.glob("*.toml") if p.stem != REFUSED)


def sentences(name: str) -> tuple[str, ...]:
    lines = (FOLDER / f"{name}.toml").read_text(encoding="utf-8").splitlines()
    return tuple(line.removeprefix("# > ") for line in lines if line.startswith("# > "))


@pytest.mark.parametrize("name", WARNED)
def test_check_says_it(name):
    assert check_section(read_section(FOLDER / f"{name}.toml")).warnings == sentences(name) != ()


def test_what_reaches_beyond_the_drawing_is_refused():
    with pytest.raises(InputError, match=re.escape(*sentences(REFUSED))):
        read_section(FOLDER / f"{REFUSED}.toml")


def test_solve_says_it_everywhere(tmp_path, capsys):
    file, out = FOLDER / "sink_as_deep_as_itself.toml", tmp_path / "result.json"
    (said,) = sentences(file.stem)
    assert fdm.solve(read_section(file), 0.1).warnings == (said,)
    assert main(["solve", str(file), "--target", "10%", "--no-files", "--quiet", "--json", str(out)]) == 0
    assert f"{file}: warning: {said}\n" in capsys.readouterr().err
    assert json.loads(out.read_text(encoding="utf-8"))["grid"]["warnings"] == [said]


def test_the_advice_helps(tmp_path):
    """Each slip, mended as its sentence says, is silent."""
    for name, old, new in (
        ("sink_as_deep_as_itself", "heat = 40", "heat = 40\nfills_depth = true"),
        ("forgotten_border", 'right = "air"', 'right = "air"\ntop = "air"'),
        ("covered_patch", 'part = "plate"', 'part = ["plate", "under the module"]'),
        ("segment_partly_in_air", "x = [20, 80]", "x = [20, 60]"),
        ("fins_nowhere", "speed = 3", "speed = 3, conductivity = 200"),
        ("fins_counted_twice", ", conductivity = 200", ""),
        ("gap_beside_air", "y = [5.5, 35]", "y = [5, 35]"),
        ("parts_that_hardly_touch", "y = [0.1, 5]", "y = [0, 5]"),
        ("two_bolts_in_a_wall", 'material = "steel"', 'material = "steel"\nround = true'),
    ):
        text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
        (tmp_path / "mended.toml").write_text(text.replace(old, new), encoding="utf-8")
        assert text.count(old) == 1 and check_section(read_section(tmp_path / "mended.toml")).warnings == (), name
