"""What solving a cabinet would refuse or warn of, without solving it."""

from dataclasses import replace

import pytest

from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.unsolved import check_cabinet
from fdm.cabinet.walls import Layer, Wall
from fdm.errors import InputError
from fdm.section.model import Sensor
from tests.cabinet.plain_box import FACES, FILE, IN_A_WALL, PIECE, SKIN, box


def in_a_wall(file: SectionFile = FILE) -> dict:
    return {**IN_A_WALL, "file": file}


def test_its_sections_are_checked_with_what_they_are_for():
    check = check_cabinet(box(in_a_wall()))
    assert check.warnings == () and dict(check.sections) == {FILE: "the modules"}
    assert "400 x 300 x 300" in check_cabinet(box(in_a_wall(), unit="mm")).text
    assert "piece.toml, for the modules:\n  a piece of wall with a module" in check.text


def test_their_warnings_name_the_file():
    vague = [replace(p, material=replace(p.material, density=None)) if p.name == "wall" else p for p in PIECE.parts]
    doubtful = replace(
        PIECE, parts=tuple(vague), sources=tuple(replace(s, fills_depth=False) for s in PIECE.sources), depth=0.1
    )
    cold, hot, lacking = check_cabinet(box(in_a_wall(SectionFile("piece.toml", (), doubtful)))).warnings
    assert cold.startswith("piece.toml: source 'cold face' is 0.02 m wide") and "'hot face'" in hot
    assert lacking == "material 'foam' has no density and specific heat; its heat capacity is left out"


def test_what_a_section_refuses_names_the_file():
    blind = replace(PIECE, sensors=(Sensor("lost", at=(0.03, 0.028)),))
    with pytest.raises(InputError, match=r"^piece.toml: sensor 'lost', at: it lies in a void"):
        check_cabinet(box(in_a_wall(SectionFile("piece.toml", (), blind))))


def test_nodes_that_store_nothing_are_refused():
    with pytest.raises(InputError, match="cold face: it has no heat capacity"):
        check_cabinet(box({"cold_capacity": 0}))
    with pytest.raises(InputError, match="lining of w: it has no heat capacity"):
        check_cabinet(box(walls=(Wall("w", (Layer(replace(SKIN, density=None), 0.01),), 8, 8, FACES),)))


def test_open_faces_are_told():
    (shell,) = box().walls
    open_box = box(walls=(replace(shell, faces=FACES[:5]), Wall("hatch", shell.layers, 8, 9, (), 0.05)))
    assert check_cabinet(open_box).warnings == (
        "the walls cover 0.59 m2 of 0.66 m2 inside; the rest lets nothing through",
    )
