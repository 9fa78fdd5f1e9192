"""A [bolt] through layers: the section that is made of it, and what is refused."""

import pytest

import fdm
from fdm.errors import InputError

FILE = """
unit = "mm"
environment = [{ name = "in", temperature = 7, film = 8 }, { name = "out", temperature = 30, film = 8 }]
layer = [
    { material = "PVC", thickness = 2 },
    { material = "XPS foam", thickness = 50 },
    { name = "skin", material = "PVC", thickness = 3 },
    { material = "PVC", thickness = 1 },
]
[bolt]
name = "M5"
material = "steel"
diameter = 5
"""


def read(tmp_path, more="", **changed):
    text = FILE + more
    for old, new in changed.items():
        assert text.count(old.replace("_", " ")) == 1, old
        text = text.replace(old.replace("_", " "), new)
    (tmp_path / "bolt.toml").write_text(text, encoding="utf-8")
    return fdm.read_section(tmp_path / "bolt.toml")


def places(section):
    return {p.name: tuple(round(1000 * v, 6) for v in p.shapes[0].bounds) for p in section.parts}


def test_layers_lie_from_inside_to_outside(tmp_path):
    section = read(tmp_path)
    r = round(1000 * section.extent[1], 6)
    assert places(section) == {
        "PVC": (0, r, 0, 2),
        "XPS foam": (0, r, 2, 52),
        "skin": (0, r, 52, 55),
        "PVC (2)": (0, r, 55, 56),
        "M5": (0, 2.5, 0, 56),
    }
    assert section.view == "axisymmetric" and section.title == "bolt"
    assert (section.border.bottom, section.border.top) == ("in", "out") and section.bridges[0].name == "M5"


def test_what_lies_on_the_wall_and_around_the_bolt(tmp_path):
    section = read(
        tmp_path,
        """
sleeve = { material = "nylon", diameter = 8, from = 2 }
inside = [{ diameter = 8, height = 4 }]
outside = [{ name = "washer", material = "nylon", diameter = 12, height = 1 },
    { name = "head", diameter = 9, height = 3 }]
spacing = 100
""",
    )
    found = places(section)
    assert found["M5"] == (0, 2.5, -4, 60) and found["sleeve of M5"] == (0, 4, 2, 56)
    assert (
        found["M5 inside 1"] == (0, 4, -4, 0)
        and found["washer"] == (0, 6, 56, 57)
        and found["head"] == (0, 4.5, 57, 60)
    )
    assert section.part_named["head"].material.name == "steel"
    assert section.extent[1] == pytest.approx(0.1 / 3.14159265**0.5)
    assert set(section.bridges[0].remove) == {"M5", "sleeve of M5", "M5 inside 1", "washer", "head"}


def test_a_dowel_ends_within_the_wall(tmp_path):
    assert places(read(tmp_path, "from = 20"))["M5"] == (0, 2.5, 20, 56)


@pytest.mark.parametrize(
    "more, said",
    [
        ("from = 20\nto = 20", "'M5': from 20 mm to 20 mm it has no length; give from below to"),
        ("to = 60", "'M5', to: 60 mm from the inner surface is outside of the wall, which is 56 mm thick"),
        ("to = 30\noutside = [{ diameter = 9, height = 3 }]", "bolt, outside: the bolt ends within the wall"),
        (
            "outside = [{ diameter = 5, height = 3 }]",
            "bolt, outside, diameter: 'M5 outside 1' is 5 mm wide, no more than the bolt, 5 mm",
        ),
        ("sleeve = { material = 'nylon', diameter = 4 }", "'sleeve of M5' is 4 mm wide, no more than the bolt"),
        ("outside = [{ diameter = 9, height = 0 }]", "bolt, height of 'M5 outside 1': 0.0 is not a number above 0"),
        ("outside = { diameter = 9, height = 3 }", "bolt, outside: is a table; give a list, [{"),
        ("spacing = 5", "bolt, spacing: the bolts would touch; give more than their diameter"),
        ("lenght = 5", "bolt, lenght: unknown key; known are"),
        ("[[part]]\nname = 'x'", "part: belongs to a drawing, and this file has a [bolt]"),
    ],
)
def test_what_cannot_be_is_refused(tmp_path, more, said):
    with pytest.raises(InputError) as fault:
        read(tmp_path, more)
    assert said in str(fault.value)


@pytest.mark.parametrize(
    "old, new, said",
    [
        ('{ name = "in", temperature = 7, film = 8 }, ', "", "environment: 1 are given; give two, the one inside"),
        ("diameter = 5", "diameter = 0", "bolt, diameter: 0.0 is not a number above 0"),
        ("thickness = 50", "thickness = -50", "thickness: -50 is not a length above 0"),
        ('material = "steel"', 'material = "stel"', "bolt, material: there is no material named 'stel'"),
        ("film = 8 }, {", "film = 0 }, {", "environment 'in', film: 0.0 is not a number above 0"),
    ],
)  # fmt: skip
def test_figures_that_cannot_be_are_refused(tmp_path, old, new, said):
    assert FILE.count(old) == 1
    (tmp_path / "bolt.toml").write_text(FILE.replace(old, new), encoding="utf-8")
    with pytest.raises(InputError) as fault:
        fdm.read_section(tmp_path / "bolt.toml")
    assert said in str(fault.value)
