"""Stems, beads and self-heating of sensors: reading them, what they touch, and what is refused or doubted."""

import math
import re

import pytest

from fdm.errors import InputError
from fdm.section.model import Bead, Border, Material, Section, Sensor, Stem
from fdm.section.reader import read_section
from fdm.section.sensors import touched
from fdm.solving.check import check_section
from fdm.surroundings.stems import STILL_SPREAD, still_bead_film, still_lead_film
from validation.cases import air, box, solid

FILE = """
unit = "mm"
let = { inside = 50, d = 0.2 }
environment = [{ name = "air", temperature = 5, film = 10 }, { name = "room", temperature = 25, film = 8 }]
border = { top = "room" }
[[part]]
name = "wall"
material = "XPS foam"
rectangle = { x = [0, 120], y = [0, 50] }
[[part]]
name = "inside"
environment = "air"
rectangle = { x = [0, 120], y = [-40, 0] }
[[sensor]]
name = "probe"
at = [60, -20]
should_read = "air"
self_heating = 0.27
[sensor.stem]
material = "copper"
diameter = "d"
count = 2
length = "inside"
through = 50
insulation = 0.4
to = "room"
[sensor.bead]
diameter = 2.4
"""
COPPER = Material("copper", (390.0, 390.0))
STEM = {"material": COPPER, "diameter": 2e-4, "length": 0.05, "to": "room"}


def read(tmp_path, text, moved=None, **let) -> Section:
    (tmp_path / "probe.toml").write_text(text)
    return read_section(tmp_path / "probe.toml", moved, **let)


def test_a_probe_is_read_with_films_of_still_air_which_are_uncertain(tmp_path):
    section = read(tmp_path, FILE)
    (probe,) = section.sensors
    assert (probe.stem.count, probe.stem.to, probe.stem.material.name) == (2, "room", "copper")
    lengths = probe.stem.diameter, probe.stem.length, probe.stem.through, probe.stem.insulation
    assert lengths == pytest.approx((2e-4, 0.05, 0.05, 4e-4))
    assert probe.stem.film == pytest.approx(still_lead_film(1e-3, dull=True))
    assert probe.bead == Bead(0.0024, still_bead_film(0.0024))
    assert probe.self_heating == pytest.approx(0.27e-3)
    by_place = {u.place: u for u in section.uncertain}
    stem = by_place["sensor 'probe', stem, film"]
    assert stem.uncertainty == pytest.approx(STILL_SPREAD * probe.stem.film)
    assert "material 'copper', conductivity" in by_place
    moved = read(tmp_path, FILE, {"sensor 'probe', stem, film": 2.0})
    assert moved.sensors[0].stem.film == pytest.approx(probe.stem.film + 2)
    given = read(tmp_path, FILE.replace("diameter = 2.4", "dissipation = 1.5").replace("to =", "film = 9\nto ="))
    assert (given.sensors[0].bead.dissipation, given.sensors[0].stem.film) == (pytest.approx(1.5e-3), 9)


def test_within_a_solid_there_is_no_film_of_air(tmp_path):
    (probe,) = read(tmp_path, FILE.replace("[60, -20]", "[60, 20]")).sensors
    assert (probe.stem.film, probe.bead.film) == (None, None)
    (probe,) = read(tmp_path, FILE.replace("[60, -20]", "[60, 0]")).sensors  # on the wall: leads in air, bead on foam
    assert probe.stem.film == pytest.approx(still_lead_film(1e-3, dull=True)) and probe.bead.film is None


@pytest.mark.parametrize(
    "sensor, share, conductivity",
    [
        (Sensor("s", at=(0.05, 0.02)), 1, 0.04),
        (Sensor("s", at=(0.05, -0.01)), 0, 0),
        (Sensor("s", at=(0.05, 0.0)), 0.5, 0.04),
        (Sensor("s", at=(0.0, 0.0)), 0.5, 0.04),  # at a cut, or on the axis: all goes on alike
        (Sensor("s", at=(0.0, 0.03)), 1, 0.04),
        (Sensor("s", at=(0.05, 0.04)), 0.5, 0.04),  # at the border's air
        (Sensor("s", at=(0.02, 0.03)), 1, (3 * 0.04 + 200) / 4),  # at a corner of the block, within the foam
        (Sensor("s", part="block"), 1, 200),
        (Sensor("s", part="side of inside"), 0, 0),
    ],
)
def test_what_a_sensor_touches_is_found_in_the_drawing(sensor, share, conductivity):
    parts = (
        air("inside", box(0, 0.1, -0.02, 0)), solid("foam", 0.04, box(0, 0.1, 0, 0.04)),
        solid("block", 200.0, box(0.02, 0.04, 0.01, 0.03)),
    )  # fmt: skip
    found = touched(parts, Border(top="room"), sensor)
    assert (found.solid, found.conductivity) == pytest.approx((share, conductivity))


def test_on_a_face_of_a_plate_a_bead_is_sunk_half_into_it():
    plate = (solid("plate", 200.0, box(0, 0.1, 0, 0.1), thickness=0.004),)
    for sensor, share in ((Sensor("s", at=(0.05, 0.05), face="front"), 0.5), (Sensor("s", at=(0.05, 0.05)), 1.0)):
        assert touched(plate, Border(), sensor).solid == share


@pytest.mark.parametrize(
    "old, new, message",
    [
        ('\nto = "room"', "", "stem, to: missing; name the environment on the other side"),
        ('to = "room"', 'to = "roem"', "stem, to: there is no environment named 'roem'; did you mean 'room'?"),
        ('length = "inside"', "length = 0", "sensor 'probe', stem, length: 0.0 is not a number above 0"),
        ('length = "inside"', "length = 0.05", "length: 0.05 mm is not more than its own width, 1 mm"),
        ("count = 2", "count = 0", "stem, count: 0 is not a whole number of leads from 1 to 1000"),
        ("count = 2", "count = 2.5", "stem, count: 2.5 is not a whole number of leads"),
        ("insulation = 0.4", "wall = 0.4", "stem, wall: 0.4 mm is more than half of its 0.2 mm"),
        ("insulation = 0.4", "insulation = -1", "stem, insulation: -1 is not a length above 0"),
        ('"copper"', '"coper"', "stem, material: there is no material named 'coper'; did you mean 'copper'?"),
        ("diameter = 2.4", "diameter = 2.4\ndissipation = 1", "bead: give exactly one of diameter and dissipation"),
        ("diameter = 2.4", "film = 9\ndissipation = 1", "bead, film: is in its dissipation already"),
        ("self_heating = 0.27", "self_heating = -1", "self_heating (W): -0.001 is not a number of 0 or more"),
        ("[sensor.stem]", "[[sensor.stem]]", "sensor 'probe', stem: is a list; give { material = .., diameter = .."),
        ("at = [60, -20]", 'part = "outside"', "sensor 'probe', part: there is no part named 'outside'"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(tmp_path, old, new, message):
    assert old in FILE
    with pytest.raises(InputError, match=re.escape(message)):
        read(tmp_path, FILE.replace(old, new, 1))


@pytest.mark.parametrize(
    "build, message",
    [
        (lambda: Stem(**STEM, count=0), "stem, count: 0 is not a number of leads"),
        (lambda: Stem(**STEM, film=0.0), "stem, film: 0.0 is not a number above 0"),
        (lambda: Stem(**STEM | {"material": Material("m", (1, 2))}), "stem, material: 'm' conducts better one way"),
        (lambda: Sensor("t", at=(0, 0), self_heating=1e-3), "self_heating: what it warms is missing; give bead"),
        (lambda: Sensor("t", at=(0, 0), bead=Bead(1e-3), self_heating=math.nan), "sensor 't', self_heating"),
    ],
)
def test_a_probe_that_cannot_be_is_refused_when_it_is_made(build, message):
    with pytest.raises(InputError, match=re.escape(message)):
        build()


@pytest.mark.parametrize(
    "old, new, message",
    [
        ("d = 0.2", "d = 0.0002", "stem, diameter: 0.0002 mm is not what sensors have (0.02 to 20 mm)"),
        ("diameter = 2.4", "diameter = 0.0024", "bead, diameter: 0.0024 mm is not what sensors have"),
        ("inside = 50", "inside = 50000", "stem, length: 50 m is far more than is felt"),
        ('to = "room"', 'to = "air"', "stem, to: 'air' is what it should read, so its stem does no harm"),
        ('to = "room"', 'film = 9000\nto = "room"', "stem: a film of 9000 W/(m2 K) is out of all"),
        ("self_heating = 0.27", "self_heating = 0.00027", "self_heating: 0.00027 mW warms nothing; give mW, not W"),
        ("self_heating = 0.27", "self_heating = 100", "self_heating: 100 mW warm it by"),
        ("diameter = 2.4", "dissipation = 0.001", "bead, dissipation: 0.001 mW/K is less than any sensor has"),
    ],
)
def test_likely_slips_are_told(tmp_path, old, new, message):
    (said,) = check_section(read(tmp_path, FILE.replace(old, new, 1))).warnings
    assert said.startswith("sensor 'probe', ") and message in said


def test_check_says_what_leads_a_sensor_has(tmp_path):
    found = check_section(read(tmp_path, FILE))
    assert found.warnings == ()
    assert (
        "  sensor probe, should read air; 2 leads of copper, 0.2 mm, from room, behind 50 mm of wall and 50 mm in 25.5 "
        "W/(m2 K); bead of 2.4 mm behind 34.7 W/(m2 K); 0.27 mW of its own"
    ) in found.text.splitlines()
