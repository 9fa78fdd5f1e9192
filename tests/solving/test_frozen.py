"""Films that follow the temperature of their surface."""

from dataclasses import replace

import pytest

from fdm.section.reader import read_section
from fdm.solving.frozen import ALLOWED
from fdm.solving.steady import solve
from fdm.surroundings import Conditions, StillFace, film_of

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


def test_the_film_is_found_from_any_start(read):
    right = solve(read()).frozen.values[0].value
    for start in (1e-9, 1e-3, 1, 1e4, 1e9):
        solution = solve(with_films(read(), start))
        assert solution.frozen.values[0].value == pytest.approx(right, rel=ALLOWED)
        assert solution.frozen.rounds <= 9
