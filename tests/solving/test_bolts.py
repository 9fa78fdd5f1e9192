"""The loss of a [bolt]: against a closed form and finite elements, and wherever one may be asked for."""

import math
import re
from dataclasses import replace

import pytest
from scipy.special import k0, k1

import fdm
from fdm.cabinet.quantities import section_names
from fdm.cabinet.reader import read_cabinet
from fdm.cabinet.sections import lumped
from fdm.cli.main import main
from fdm.errors import InputError
from fdm.output.export.section_file import section_text
from fdm.section.bolts import Bar, Bolt, OnWall, WallLayer, bolt_section
from fdm.section.model import Environment, Material
from fdm.surroundings import StillFace
from fdm.surroundings.questions import Following
from validation.finite_elements import network as finite_elements

STEEL, SHEET, FOAM = Material("steel", (50.0, 50.0)), Material("sheet", (200.0, 200.0)), Material("foam", (0.03, 0.03))
NYLON = Material("nylon", (0.25, 0.25))
AIRS = Environment("in", 5, 10), Environment("out", 25, 10)


def chi(section):
    return fdm.solve(section).answers.at("bridge.bolt.chi")


def test_a_rod_between_two_fins():
    """Between sheets about a near-perfect insulator, each sheet is a fin about the rod: sheet, rod and sheet in
    series."""
    r, t, h, length = 0.002, 0.001, 10.0, 0.05
    layers = [WallLayer("in sheet", SHEET, t), WallLayer("gap", Material("gap", (1e-5, 1e-5)), length)]
    section = bolt_section(
        "rod", [*layers, WallLayer("out sheet", SHEET, t)], *AIRS, Bolt(Bar("bolt", STEEL, 2 * r, t, t + length))
    )
    m = math.sqrt(h / (200 * t))
    fin = 2 * math.pi * 200 * t * m * r * k1(m * r) / k0(m * r) + h * math.pi * r**2
    value, band = chi(section)
    assert value == pytest.approx(1 / (2 / fin + length / (50 * math.pi * r**2)), rel=0.008)
    assert band < 0.006 * value


@pytest.fixture(scope="module")
def bushed():
    """A bolt with a sleeve, a washer and a head through a foam wall with sheets."""
    layers = [WallLayer("in sheet", SHEET, 0.002), WallLayer("foam", FOAM, 0.03), WallLayer("out sheet", STEEL, 0.001)]
    washer, head = OnWall("washer", NYLON, 0.014, 0.002), OnWall("head", STEEL, 0.009, 0.005)
    sleeve = Bar("sleeve", NYLON, 0.008, 0.01, None)
    bolt = Bolt(Bar("bolt", STEEL, 0.005, 0.001, None), sleeve, outside=(washer, head))
    return lambda spacing=None: bolt_section("bushed", layers, *AIRS, replace(bolt, spacing=spacing))


def test_against_finite_elements(bushed):
    section = bushed(0.06)
    bare = replace(
        section, parts=tuple(p for p in section.parts if p.name not in section.bridges[0].remove), bridges=()
    )
    with_bolt, without = (float(finite_elements(s, 4).coupling[0, 1]) for s in (replace(section, bridges=()), bare))
    value, band = chi(section)
    assert band < 0.01 * value and value == pytest.approx(with_bolt - without, rel=0.01)


def test_the_wall_is_drawn_as_far_as_the_bolt_is_felt(bushed):
    alone = bushed()
    value, _ = chi(alone)
    further, _ = chi(bushed(2 * math.sqrt(math.pi) * alone.extent[1]))
    assert value == pytest.approx(further, rel=1e-3)


FILE = """
unit = "mm"
let = { foam = 50, d = 5 }
environment = [{ name = "in", temperature = 7, film = 8 }, { name = "out", temperature = 30, film = 8 }]
layer = [
    { material = "PVC", thickness = 2 },
    { material = "XPS foam", thickness = "foam" },
    { material = "PVC", thickness = 2 },
]
bolt = { material = "steel", diameter = "d", outside = [{ diameter = 8, height = 3 }] }
"""


def test_a_file_in_commands(tmp_path, capsys):
    file = tmp_path / "b.toml"
    file.write_text(FILE, encoding="utf-8")
    drawn, again = tmp_path / "drawn.toml", tmp_path / "again.toml"
    assert main(["check", str(file), "--no-files", "--section", str(drawn)]) == 0
    assert (
        section_text(fdm.read_section(drawn)).splitlines()[1:] == section_text(fdm.read_section(file)).splitlines()[1:]
    )
    assert main(["check", str(file), "--no-files", "--section", str(drawn)]) == 1  # it may have been drawn on
    assert main(["check", str(drawn), "--no-files", "--section", str(again)]) == 1 and not again.exists()
    follows = Following(StillFace("vertical", 0.1))
    airs = tuple(replace(e, follows=follows) for e in fdm.read_section(file).environments)
    with pytest.raises(InputError, match="film: follows the temperature of its surface, and is a number in such"):
        section_text(replace(fdm.read_section(file), environments=airs))
    assert "this file is a drawing already; it is for files with a [bolt]" in capsys.readouterr().err
    assert main(["solve", str(file), "d=6", "--no-files"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "bolt: with it 0.0" in said and "W more pass from out to in than without: per kelvin" in said
    assert "coldest surface in out: bolt, " in said and "; it sweats where that air has more than" in said


def test_a_cabinet_asks_for_its_bolts_itself(tmp_path):
    """The same bolt, from a file of its own and through a wall of the cabinet."""
    walls = """{ name = "all", faces = ["left", "right", "front", "back", "bottom", "top"], film_inside = 8,
        film_outside = 8, layers = [{ material = "PVC", thickness = 2 }, { material = "XPS foam", thickness = 50 },
        { material = "PVC", thickness = 2 }] }"""
    text = f"""
        unit = "mm"
        cabinet = {{ inside = [400, 400, 400], room = 30, setpoint = 7 }}
        wall = [{walls}]
        module = {{ seebeck = 0.05, resistance = 2, conductance = 0.5, cold_sink = {{ resistance = 0.2 }}, hot_sink = {{
        resistance = 0.2 }} }}
        supply = {{ voltage = 12 }}
        load = {{ mass = 1, specific_heat = 4000, surface = 0.1, film = 8 }}
        thermostat = {{ hysteresis = 1 }}
        point = [{{ name = "bolts", count = 8, wall = "all", bolt = {{ material = "steel",
        diameter = {{ value = 5, uncertainty = 0.1 }}, outside = [{{ diameter = 8, height = 3 }}] }} }}]
        """
    text = "\n".join(" ".join(line.split()) for line in text.replace(",\n", ", ").replace("{\n", "{ ").splitlines())
    (tmp_path / "c.toml").write_text(text, encoding="utf-8")
    (tmp_path / "b.toml").write_text(FILE, encoding="utf-8")
    cabinet = read_cabinet(tmp_path / "c.toml")
    (point,) = cabinet.points
    expected = chi(fdm.read_section(tmp_path / "b.toml"))[0]
    assert lumped(fdm.solve(point.file.section)).bridges["bolt"].value == pytest.approx(expected, rel=1e-6)
    assert section_names(f for f in cabinet.section_files if f is not None) == ["bolts"]
    places = [u.place for u in cabinet.uncertain]
    assert "point 'bolts', bolt, diameter" in places and "material 'steel', conductivity" in places
    thicker = read_cabinet(tmp_path / "c.toml", {"point 'bolts', bolt, diameter": 1.0}).points[0]
    assert thicker.file != point.file and thicker.file.section.part_named["bolt"].shapes[0].x[1] == 0.003

    for old, new, said in (
        ('wall = "all"', 'wall = "al"', "point 'bolts', wall: there is no wall named 'al'; did you mean 'all'?"),
        ('wall = "all"', 'wall = "all", chi = 1', "point 'bolts', chi: is given where there is no bolt; leave it out"),
        ("value = 5,", "value = -5,", "point 'bolts', bolt, diameter: -5 is not a length above 0"),
        ("height = 3 }] }", "height = 3 }], to = 3 }", "point 'bolts', bolt, outside: the bolt ends within the wall"),
        ("diameter = 8,", "diametre = 8,", "point 'bolts', bolt, outside 1, diametre: unknown key; did you mean"),
    ):
        assert text.count(old) == 1, old
        (tmp_path / "c.toml").write_text(text.replace(old, new), encoding="utf-8")
        with pytest.raises(InputError, match=re.escape(said)):
            read_cabinet(tmp_path / "c.toml")
