"""Numbers out of all proportion are told, before a solve and after it; usual ones are not."""

from dataclasses import replace

import pytest

from fdm.section.model import (
    Border,
    Environment,
    Joint,
    Material,
    Part,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Source,
    Uncertain,
    repeated,
)
from fdm.solving.check import check_section
from fdm.solving.plausible import implausible_numbers
from fdm.solving.steady import solve
from fdm.surroundings.driven import AlongPlate
from fdm.surroundings.film import Conditions
from fdm.surroundings.questions import film_of
from tests.conduction.stack.plates import AIR, STILL, fins, sink


def lamp(film: float = 10.0, watts: float = 6.0) -> Section:
    plate = Part("plate", (Rectangle((0, 0.12), (0, 0.004)),), Material("aluminium", (200.0, 200.0)))
    source = Source("LEDs", segment=Segment((0.0, 0.12), (0.0, 0.0)), heat=watts)
    air = Environment("air", 25, film)
    return Section("lamp", (plate,), (air,), unit="mm", depth=0.1, border=Border(top="air"), sources=(source,))


@pytest.mark.parametrize("film, told", [(0.01, True), (4, False), (60, False), (2000, False), (1e4, True)])
def test_films_beyond_what_air_does(film, told):
    said = list(implausible_numbers(lamp(film)))
    assert bool(said) == told and all(f"'air': a film of {film:g} W/(m2 K)" in s for s in said)


@pytest.mark.parametrize("watts, told", [(6, ""), (15, ""), (6000, "50035 degC"), (-20, "-142 degC")])
def test_heated_places_that_nothing_stands(watts, told):
    """6 W through 10 W/(m2 K) on 0.012 m2 are 50 K; the plate adds a 5000th."""
    said = [w for w in solve(lamp(watts=watts), 0.05).warnings if "would be at" in w]
    assert len(said) == bool(told) and all(told in s for s in said)


def test_what_the_file_explains_is_told_once():
    kelvin = replace(lamp(watts=6000), environments=(Environment("air", 298, 10),))
    (said,) = solve(kelvin, 0.05).warnings
    assert "if these are kelvin, give 24.85" in said


@pytest.mark.parametrize(
    "name, conductivity, told",
    [
        ("my foam", 33.0, "if these are mW/(m K), give 0.033"),
        ("foamed aluminium", 5.0, ""),
        ("my alloy of aluminium", 0.2, "is far from the 160 to 237 of built-in materials with such a name"),
        ("what is not built in", 33.0, ""),
    ],
)
def test_conductivities_unlike_those_of_such_a_name(name, conductivity, told):
    part = Part("plate", lamp().parts[0].shapes, Material(name, (conductivity, conductivity)))
    said = list(implausible_numbers(replace(lamp(), parts=(part,))))
    assert len(said) == bool(told) and all(told in s for s in said)


@pytest.mark.parametrize("resistance, told", [(0.0, False), (5e-5, False), (0.2, False), (5.0, True), (6e-11, True)])
def test_joints_that_none_has(resistance, told):
    pieces = [
        Part(n, (Rectangle(x, (0, 0.004)),), lamp().parts[0].material)
        for n, x in (("a", (0, 0.05)), ("b", (0.05, 0.12)))
    ]
    said = list(implausible_numbers(replace(lamp(), parts=tuple(pieces), joints=(Joint(("a", "b"), resistance),))))
    assert [s.startswith("joint between 'a' and 'b': ") for s in said] == [True] * told


def overlapping(step: float) -> Part:
    return Part("bars", repeated(Rectangle((0, 0.004), (0, 0.004)), 3, (step, 0)), lamp().parts[0].material)


@pytest.mark.parametrize(
    "section, told",
    [
        (replace(lamp(), depth=600.0), "depth: 600000 mm is much for a cabinet or a heat sink; give mm"),
        (
            replace(lamp(), parts=(*lamp().parts, overlapping(0.003))),
            "part 'bars', repeat: its copies lie on each other",
        ),
        (replace(lamp(), parts=(*lamp().parts, overlapping(0.004))), ""),
        (replace(lamp(), sensors=(Sensor("probe", at=(0.01, 0), should_read=280.0),)), "are kelvin, give 6.85"),
        (
            replace(lamp(), uncertain=(Uncertain("environment 'air', film", 10, 25),)),
            "an uncertainty of 25 is more than",
        ),
        (replace(lamp(), uncertain=(Uncertain("environment 'air', film", 10, 25, table="usual"),)), ""),
        (replace(lamp(), uncertain=(Uncertain("environment 'air', temperature", 0, 2),)), ""),
        (
            replace(lamp(), parts=(replace(lamp().parts[0], material=Material("stuff", (2e5, 2e5))),)),
            "is out of what solids",
        ),
        (replace(sink(), parts=(replace(sink().parts[0], thickness=6e-6),)), "thickness: 6e-06 m is thinner than any"),
        (replace(sink(), parts=(replace(sink().parts[0], thickness=6.0),)), "is more than all of the drawing is wide"),
    ],
)
def test_numbers_of_another_unit(section, told):
    said = list(implausible_numbers(section))
    assert len(said) == bool(told) and all(told in s for s in said)


def test_films_of_bare_faces_are_none_of_fins():
    driven = replace(AIR, film_from=film_of(AlongPlate(0.1, 3), Conditions(25)))
    for height, told in ((0.03, 1), (0.001, 0)):
        section = replace(sink(), environments=(driven, STILL), fins=(fins(height=height),))
        said = [w for w in check_section(section).warnings if "its film is that of a bare face" in w]
        assert len(said) == told


@pytest.mark.parametrize("size, word", [(0.00001, "small"), (40.0, "large")])
def test_drawings_of_another_unit(size, word):
    part = Part("plate", (Rectangle((0, size), (0, size / 10)),), Material("aluminium", (200.0, 200.0)))
    (said,) = implausible_numbers(replace(lamp(), parts=(part,), sources=()))
    assert f"which is {word} for" in said


@pytest.mark.parametrize("film, said", [(0.8, "less than half of still"), (30, ""), (600, "more than air of 15")])
def test_films_that_no_air_between_such_fins_has(film, said):
    """Six fins 18 mm apart; a number that stands for the fins on their base is such a slip."""
    air = (replace(AIR, film=film), STILL)
    told = [w for w in implausible_numbers(sink(environments=air, fins=(fins(count=6),))) if "as drawn" in w]
    assert len(told) == bool(said) and said in "".join(told)
    one = sink(environments=air, fins=(fins(count=1),))
    assert not any("as drawn" in w for w in implausible_numbers(one))


@pytest.mark.parametrize(
    "metres, told", [(0, False), (3, False), (0.5, True), (1.65, True), (1650, False), (-2.5, False)]
)
def test_an_altitude_in_kilometres(metres, told):
    said = list(implausible_numbers(replace(lamp(), altitude=metres)))
    assert len(said) == told and all(f"if these are kilometres, give {1000 * metres:g}" in s for s in said)
