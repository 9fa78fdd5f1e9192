"""Films that follow the temperature of their surface."""

from dataclasses import replace

import numpy as np
import pytest

from fdm.errors import InputError
from fdm.section.reader import read_section
from fdm.solving import frozen, steady
from fdm.solving.check import check_section
from fdm.solving.frozen import ALLOWED
from fdm.solving.operating_point import at_operating_point
from fdm.solving.result import result_dict
from fdm.solving.steady import solve as solved_well
from fdm.surroundings import Conditions, StillFace, film_of


def solve(section):
    """On few cells: what films are hardly depends on them."""
    return solved_well(section, target=0.05)


PLATE = """
unit = "mm"
depth = 100
environment = [{{ name = "air", temperature = 25, film = {film} }}]
part = [{{ name = "plate", material = "aluminium 6063-T5", rectangle = {{ x = [0, 40], y = [0, 4] }} }}]
border = {{ top = "air" }}
source = [{{ name = "LEDs", segment = {{ x = [0, 40], y = 0 }}, heat = {watts} }}]
"""
STILL = '{ flow = "still", face = "vertical", height = 120, emissivity = 0.9 }'


@pytest.fixture(scope="module")
def read(tmp_path_factory):
    def read(film=STILL, watts=1.0):
        file = tmp_path_factory.mktemp("plates") / "plate.toml"
        file.write_text(PLATE.format(film=film, watts=watts), encoding="utf-8")
        return read_section(file)

    return read


def with_films(section, film):
    return replace(section, environments=tuple(replace(e, film=film) for e in section.environments))


def by_hand(watts, area=0.1 * 0.04):
    """Film and surface of an evenly heated plate, by repeated substitution."""
    question, surface = StillFace("vertical", height=0.12), 60.0
    for _ in range(60):
        film = film_of(question, Conditions(25, surface, 0.9)).film
        surface = 25 + watts / area / film
    return film, surface


@pytest.mark.parametrize("watts", [0.02, 1, 4, -0.3])
def test_films_of_an_evenly_heated_plate_are_those_found_by_hand(read, watts):
    solution, (film, surface) = solve(read(watts=watts)), by_hand(watts)
    (found,) = solution.frozen.values
    assert found.value == pytest.approx(film, rel=ALLOWED)
    assert found.temperatures[0] - 25 == pytest.approx(surface - 25, rel=2 * ALLOWED)
    assert solution.frozen.rounds <= 6


@pytest.mark.parametrize("watts", [0.02, 1, 4, -0.3])
def test_bands_have_what_films_do_not_agree_by(read, watts, monkeypatch):
    """No grid errs here, so that bands have nothing else."""
    monkeypatch.setattr(frozen, "AGREED", 1e-4)
    monkeypatch.setattr(steady, "AGREED", 1e-4)
    answers = solve(read(watts=watts)).answers
    for path in (f"surface.plate.air.{which}" for which in ("lowest", "highest")):
        value, band = answers.at(path)
        assert value == pytest.approx(by_hand(watts)[1], abs=band) and 0 < band < 0.01


@pytest.fixture(scope="module")
def solution(read):
    return solve(read())


def test_films_are_found_from_any_start(read, solution):
    right = solution.frozen.values[0].value
    for start in (1e-12, 1, 1e4, 1e12):
        found = solve(with_films(read(), start))
        assert found.frozen.values[0].value == pytest.approx(right, rel=1e-5)
        assert found.frozen.rounds <= 9


SEVERAL = """
unit = "mm"
depth = 100
environment = [
    {{ name = "above", temperature = 25, film = {{ flow = "still", face = "up", length = 40, width = 100, emissivity = 0.9 }} }},
    {{ name = "below", temperature = 20, film = {{ flow = "still", face = "down", length = 40, width = 100 }} }},
    {{ name = "beside", temperature = 30, film = {{ flow = "plate", length = 40, speed = 1, emissivity = 0.5 }} }},
    {{ name = "fan", temperature = 22, film = 30 }}]
part = [{{ name = "plate", material = "{material}", rectangle = {{ x = [0, 40], y = [0, 4] }} }}]
border = {{ top = "above", bottom = "below", left = "beside", right = "fan" }}
source = [{{ name = "LEDs", part = "plate", heat = {watts} }}]
"""  # noqa: E501


@pytest.mark.parametrize("material, watts", [("acrylic", 8), ("copper", -0.3), ("copper", 0)])
def test_several_films_settle_together_each_on_its_own_law(tmp_path, material, watts):
    file = tmp_path / "plate.toml"
    file.write_text(SEVERAL.format(material=material, watts=watts), encoding="utf-8")
    section, found = read_section(file), []
    for first, second in ((None, None), (1e-6, 1e6)):
        films = {"above": first, "below": second, "beside": second}
        begun = replace(
            section,
            environments=tuple(replace(e, film=films.get(e.name) or e.film) for e in section.environments),
        )
        solution = solve(begun)
        assert solution.frozen.rounds <= 12 and solution.section.environments[3].film == 30
        found.append([v.value for v in solution.frozen.values])
    assert np.ptp(found, axis=0) == pytest.approx(0, abs=1e-4 * min(found[0]))
    for own, v in zip(solution.section.environments, solution.frozen.values):
        low, high = (solution.answers.at(("surface", "plate", own.name, end))[0] for end in ("lowest", "highest"))
        assert low - 1e-3 <= v.temperatures[0] <= high + 1e-3
        assert v.value == pytest.approx(own.follows.film(own.temperature, v.temperatures[0]).film, rel=ALLOWED)
        assert own.film == v.value and own.film_from.surface == v.temperatures[0]


def test_a_section_with_the_films_that_were_found_answers_the_same(solution):
    numbers = replace(
        solution.section, environments=tuple(replace(e, follows=None) for e in solution.section.environments)
    )
    plain = solve(numbers)
    assert plain.frozen is None
    own = [q.path[0] != "films" for q in solution.answers.quantities]
    assert np.array_equal(plain.answers.value, solution.answers.value[own])


def test_films_follow_to_another_operating_point(read, solution):
    hotter = at_operating_point(solution, {"LEDs": 4, "air": 30})
    again = solve(replace(read(watts=4), environments=tuple(e.at(30) for e in read().environments)))
    assert hotter.answers.at("LEDs")[0] == pytest.approx(again.answers.at("LEDs")[0], abs=1e-3)
    assert hotter.frozen.values[0].value > 1.2 * solution.frozen.values[0].value


def test_what_was_found_is_told_and_has_a_path(solution):
    (value,) = solution.frozen.values
    assert value.words == f"film of air {value.value:.3g} W/(m2 K) at a surface of {value.temperatures[0]:.3g} degC"
    assert solution.answers.at("films.air")[0] == value.value
    told = result_dict(solution)
    assert told["films"]["air"]["film"] == value.value and told["band"]["films"]["air"]["film"] < 1e-3 * value.value
    frozen_ones = told["frozen"]
    assert frozen_ones["agreed"] and frozen_ones["coefficients"]["film of air"]["value"] == value.value
    assert frozen_ones["coefficients"]["film of air"]["temperatures"] == {"surface": value.temperatures[0]}


def test_a_check_says_which_films_will_follow(read):
    text = check_section(read()).text
    assert "air: 25 degC behind a film that follows the temperature of its surface: at 35 degC" in text


def test_a_film_that_does_not_settle_fails_the_checks(read, monkeypatch):
    for module in (frozen, steady):
        monkeypatch.setattr(module, "ALLOWED", 1e-9, raising=False)
    monkeypatch.setattr(frozen, "MOST_ROUNDS", 2)
    solution = solve(read())
    assert solution.failed in solution.warnings and not solution.grid.target_met
    assert "after 2 rounds film of air still changed by" in solution.failed


def test_warnings_of_a_relation_come_once_and_are_those_of_the_answer(read):
    low = '{ flow = "still", face = "vertical", height = 4 }'
    solution = solve(read(film=low))
    assert [w for w in solution.warnings if "Ra" in w] == [
        w for w in solution.warnings if w.startswith("environment 'air', film: Ra")
    ]
    assert sum("Ra" in w for w in solution.warnings) == 1


PLATE_WITH_FINS = """
view = "plate"
unit = "mm"
environment = [{{ name = "air", temperature = 25, film = {film} }}]
part = [{{ name = "base", material = "aluminium 6063-T5", thickness = 5, rectangle = {{ x = [0, 100], y = [0, 80] }} }}]
source = [{{ name = "module", part = "base", face = "back", heat = 8 }}]
[[fins]]
part = "base"
face = "front"
along = "y"
{pitch}
thickness = 2
height = 30
environment = "air"
{more}
"""


@pytest.fixture
def finned(tmp_path):
    def read(film='{ flow = "still", emissivity = 0.85 }', pitch="count = 10", more=""):
        file = tmp_path / "sink.toml"
        file.write_text(PLATE_WITH_FINS.format(film=film, pitch=pitch, more=more), encoding="utf-8")
        return read_section(file)

    return read


def test_dimensions_of_a_film_come_from_the_fins_that_are_drawn(finned):
    fins = finned().environments[0].follows.question.fins
    assert (fins.length, fins.width, fins.count) == pytest.approx((0.08, 0.1, 10))
    assert fins.gap == pytest.approx((0.1 - 10 * 0.002) / 9)
    assert finned(pitch="pitch = 14").environments[0].follows.question.fins.count == 8
    channels = finned(film='{ flow = "channels", volume_flow = 30 }').environments[0]
    assert channels.follows is None and channels.film_from.of == "all faces of the fins and the base between them"


@pytest.mark.parametrize(
    "more, told",
    [
        ({"film": '{ flow = "still", height = 30 }'}, "film, height: is known of the [[fins]] that stand in this"),
        ({"film": '{ flow = "channels", speed = 2, conductivity = 200 }'}, "film, conductivity: is known of the"),
        ({"pitch": "count = 1"}, "fins 1, count: 1 is not a number of fins from 2"),
        (
            {"pitch": "count = 5\nrectangle = { x = [0, 50], y = [0, 80] }",
             "more": '[[fins]]\nname = "b"\npart = "base"\nface = "front"\nalong = "y"\ncount = 5\nthickness = 1\n'
             'height = 20\nenvironment = "air"\nrectangle = { x = [50, 100], y = [0, 80] }'},
            "film: 2 [[fins]] stand in it, each with a film of its own; give each of them an environment of its own",
        ),
    ],
)  # fmt: skip
def test_fins_that_leave_a_film_unclear_are_refused(finned, more, told):
    with pytest.raises(InputError) as fault:
        finned(**more)
    assert told in str(fault.value)


def test_a_relation_that_is_not_of_fins_asks_for_no_fins(finned):
    indoors = finned(film='{ flow = "indoor", heat = "up" }', pitch="count = 1").environments[0]
    assert indoors.film == pytest.approx(10)


BOTH_SIDES = """
unit = "mm"
depth = 100
environment = [{ name = "air", temperature = 25, film = { flow = "still", face = "vertical", height = 100 } }]
part = [{ name = "plate", material = "acrylic", rectangle = { x = [0, 100], y = [0, 4] } }]
border = { top = "air" }
source = [{ name = "hot", segment = { x = 0, y = [0, 4] }, temperature = 45 },
          { name = "cold", segment = { x = 100, y = [0, 4] }, temperature = 6 }]
"""


def test_surfaces_on_both_sides_of_their_air_count_by_how_far_they_are_from_it(tmp_path):
    file = tmp_path / "plate.toml"
    file.write_text(BOTH_SIDES.replace("},\n          {", "}, {"), encoding="utf-8")
    solution = solve(read_section(file))
    (film,) = solution.frozen.values
    top = solution.field.table()
    cells = np.abs(top["T"][np.isclose(top["y"], top["y"].max())] - 25)
    assert film.temperatures[0] - 25 == pytest.approx(cells.mean(), rel=0.3) and film.value > 2
