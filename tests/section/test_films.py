"""film = { flow = .. } in a file, and the same keys as words."""

import re

import pytest

from fdm.errors import InputError
from fdm.inference.section_reanalysis import section_reanalysis
from fdm.inference.uncertainty import uncertainty
from fdm.section.films import FLOWS, KEY_WORDS, SURFACE, effects, film_in, read_film
from fdm.section.reader import read_section
from fdm.section.tables import Table
from fdm.solving.check import check_section
from fdm.solving.result import result_dict
from fdm.solving.steady import solve

SINK = "length = 10, width = 10, height = 3, thickness = 0.1, count = 25"
PLATE = """
unit = "cm"
depth = 10
{top}
let = {{ speed = 5.0 }}
environment = [{{ name = "air", temperature = 25, film = {film} }}]
part = [{{ name = "plate", material = "aluminium 6063-T5", rectangle = {{ x = [0, 4], y = [0, 1] }} }}]
border = {{ top = "air" }}
source = [{{ name = "LEDs", segment = {{ x = [0, 4], y = 0 }}, heat = {watts} }}]
"""


@pytest.fixture
def section(tmp_path):
    def read(film, top="", moved=None, watts=60, **let):
        file = tmp_path / "plate.toml"
        file.write_text(PLATE.format(film=film, top=top, watts=watts), encoding="utf-8")
        return read_section(file, moved, **let)

    return read


def channels(**more):
    text = "".join(f", {key} = {value}" for key, value in more.items())
    return f'{{ flow = "channels", {SINK}{text} }}'


def table(**values):
    return Table("film", values, {}, 1e-2)


def test_a_relation_gives_an_environment_its_film(section):
    (air,) = section(channels(speed='"speed"', conductivity=200)).environments
    words = {"flow": "channels", "length": 10, "width": 10, "height": 3, "thickness": 0.1, "count": 25}
    same = film_in(table(**words, speed="5", conductivity="2e2"), 25, 0)
    assert air.film == same.film and air.film_from == same
    assert air.film == pytest.approx(484.6, rel=1e-3)
    assert section(channels(speed='"speed"'), speed=8).environments[0].film > 1.2 * 35


def test_fins_in_an_air_that_is_misspelt_are_told_and_not_the_film(tmp_path):
    """The film has its dimensions from the fins that stand in its air; without any it would lack its own."""
    text = PLATE.format(film='{ flow = "still" }', top='view = "plate"', watts=1).replace("depth = 10\n", "")
    text = (
        text.split("source")[0].replace("[0, 1] }", "[0, 1] }, thickness = 1")
        + """
[[fins]]
part = "plate"
face = "front"
along = "y"
count = 4
thickness = 0.1
height = 2
environment = "aer"
"""
    )
    (tmp_path / "sink.toml").write_text(text, "utf-8")
    with pytest.raises(
        InputError, match="fins 1, environment: there is no environment named 'aer'; did you mean 'air'"
    ):
        read_section(tmp_path / "sink.toml")


def test_altitude_is_a_key_of_the_file(section):
    low, high = (section(channels(speed=5), top=f"altitude = {z}").environments[0].film for z in (0, 2000))
    assert 0.8 < high / low < 0.95


def test_its_uncertainty_is_the_film_s_own(section):
    read = section('{ flow = "indoor", heat = "up" }')
    (u,) = [u for u in read.uncertain if not u.from_table]
    assert (u.place, u.nominal, u.uncertainty) == ("environment 'air', film", 10, 2)
    moved = section('{ flow = "indoor", heat = "up" }', moved={u.place: 1.5})
    assert moved.environments[0].film == pytest.approx(11.5)


def test_uncertain_numbers_inside_have_their_own_place(section, tmp_path):
    read = section(channels(speed="{ value = 5, uncertainty = 1 }"))
    places = [u.place for u in read.uncertain if not u.from_table]
    assert places == ["environment 'air', film, speed", "environment 'air', film"]
    found = uncertainty(section_reanalysis(str(tmp_path / "plate.toml")))
    share = {s.input.place: s.share for s in found.shares(0)}
    less, film, more = (section(channels(speed=v)).environments[0].film for v in (4, 5, 6))
    assert share[places[0]] / share[places[1]] == pytest.approx(((more - less) / 2 / (0.06 * film)) ** 2, rel=0.05)


def test_check_and_solve_say_what_it_came_to(section):
    read = section(channels(fan="{ free_flow = 75, shut_off = 55 }", conductivity=200))
    check = check_section(read)
    assert "degC behind 482 ± 27 W/(m2 K) of the base below the fins, fins included; Teertstra" in check.text
    (warning,) = [w for w in check.warnings if "film" in w]
    assert warning.startswith("environment 'air', film: a straight line between free flow and shut-off")
    solution = solve(read)
    assert warning in solution.warnings
    films = result_dict(solution)["films"]
    assert films["air"]["film"] == read.environments[0].film
    assert films["air"]["numbers"]["volume_flow"]["unit"] == "m3/h"
    assert "films" not in result_dict(solve(section("12")))


def test_lengths_are_in_the_file_s_unit_and_fans_in_m3_per_hour():
    curve = {"curve": [[0, 55], [75, 0]]}
    two = {"free_flow": 75, "shut_off": 55}
    sink = {"flow": "channels", "length": 10, "width": 10, "height": 3, "thickness": 0.1, "pitch": 0.4125}
    asked, at = read_film(table(**sink, fan=curve, warmer=-5), 25, 100)
    assert asked.fins.gap == pytest.approx(0.003125) and asked.fins.count == 25
    assert asked.fan.free_flow == pytest.approx(75 / 3600) and asked.fan.pressure == (55, 0)
    assert (at.temperature, at.surface, at.altitude) == (25, 20, 100)
    assert read_film(table(**sink, fan=two), 25, 0)[0].fan == asked.fan
    slow = read_film(table(**sink, fan=two | {"speed": 0.5}), 25, 0)[0].fan
    assert slow.free_flow == pytest.approx(75 / 7200) and slow.pressure == (13.75, 0)


@pytest.mark.parametrize(
    "film, told",
    [
        ("{ speed = 3 }", "film, flow: missing; known are 'channels'"),
        ('{ flow = "chanels" }', "film, flow: 'chanels' is no kind of flow; did you mean 'channels'"),
        ('{ flow = "indoor", haet = "up" }', "film, haet: unknown key; did you mean 'heat'"),
        ('{ flow = "gap", heat = "up", thickness = 1 }', '"gap" lies between two faces; draw it'),
        ('{ flow = "still", face = "vertical", height = 3, warmer = 0 }', "film, surface: it is as warm as the air"),
        ('{ flow = "still", face = "up", height = 3, warmer = 5 }', "film, height: does not belong to a bare face"),
        ('{ flow = "still", warmer = 5 }', "film, face: missing; give the way"),
        ('{ flow = "still", face = "vertical", height = 3, warmer = 5, surface = 3 }', "either surface or warmer"),
        ('{ flow = "plate", length = 3, speed = -1 }', "film, speed: -1 is not a number above 0"),
        ('{ flow = "plate", length = -3, speed = 1 }', "film, length: -3 is not a length above 0"),
        ('{ flow = "plate", speed = 1 }', "film, length: missing; of fins or of a face, along the flow"),
        ('{ flow = "plate", length = "lenght", speed = 1 }', "film, length: 'lenght' uses 'lenght'"),
        (channels(fan="{ curve = [[0, 5], [5, 4.9]] }"), "film, fan: its curve ends at 5 m3/h"),
        (channels(fan="{ curve = [[10, 4], [0, 5]] }"), "film, fan: curve: its flows do not rise"),
        (channels(fan="{ free_flow = 10 }"), "film, fan, shut_off: missing"),
        (channels(fan="{ free_flow = 10, shut_off = 0 }"), "film, fan, shut_off: 0 is not above 0"),
        (channels(fan="{ free_flow = 10, shut_off = 5, curve = [[0, 1]] }"), "give either curve, or free_flow"),
        (channels(fan="{ free_flow = 10, shut_off = 5, speed = 50 }"), "50 is not a share of the fan's full speed"),
        (channels(speed=5, emissivity=1.9), "film, emissivity: 1.9 is not above 0 and at most 1"),
        (channels(), "film, channels: give exactly one of speed"),
        ('"still"', """film: 'still' is a kind of flow; give { flow = "still", .. }, or a number, W/(m2 K)"""),
    ],
)
def test_slips_are_refused_with_their_place(section, film, told):
    with pytest.raises(InputError) as fault:
        section(film)
    assert told in str(fault.value)
    assert "environment 'air', film" in str(fault.value)


def test_effects_of_uncertain_words():
    values = {"flow": "plate", "length": 10, "speed": {"value": 3, "uncertainty": 0.3}}

    def read(moved):
        return film_in(Table("film", values, {}, 1e-2, moved, uncertain), 25, 0)

    uncertain = {}
    film = read({}).film
    (change,) = effects(read, dict(uncertain)).values()
    assert 0.05 < change / film < 0.08  # a tenth more speed, to the power of 0.5 to 0.8


def test_every_key_is_explained():
    keys = {key for flow in FLOWS.values() for key in flow} | set(SURFACE)
    assert keys == set(KEY_WORDS)


STILL = '{{ flow = "still", gap = 0.8, thickness = 0.2, height = 2.5, length = 10, width = 4, surface = {t}{more} }}'


def warnings(solution):
    return [w for w in solution.warnings if "its film" in w]


def test_a_film_for_a_surface_far_from_the_answer_is_told_and_what_to_try(section):
    guess, rounds = 30.0, 0
    while told := warnings(solution := solve(section(STILL.format(t=guess, more=", conductivity = 200"), watts=8))):
        assert f"its film is that of a surface of {guess:.3g} degC, and surfaces there come to" in told[0]
        guess, rounds = float(re.search(r"try surface = ([0-9.]+) in it", told[0]).group(1)), rounds + 1
        assert rounds < 3
    assert rounds == 2
    assert abs(solution.answers.at("surface.plate.air.highest")[0] - guess) < 0.2 * (guess - 25)


def test_a_surface_in_kelvin_is_told(section):
    given = section('{ flow = "still", face = "vertical", height = 3, surface = 330 }')
    assert any("film, surface: 330 degC is hotter" in w and "give 56.85" in w for w in check_section(given).warnings)


def test_fins_neither_drawn_nor_in_the_film_are_told(section):
    (told,) = [w for w in warnings(solve(section(STILL.format(t=300, more="")))) if "drawn" in w]
    assert told.endswith("none are drawn; give the fins' conductivity in it, and it is that of their base")


def test_fins_both_drawn_and_in_the_film_are_told(section, tmp_path):
    section(STILL.format(t=60, more=", conductivity = 200"))
    file = tmp_path / "plate.toml"
    fin = '{ name = "fins", material = "aluminium 6063-T5", rectangle = { x = [0, 0.2], y = [1, 3.5] }, '
    fin += 'repeat = { count = 5, step = [0.9, 0] } }, { name = "air between", environment = "air", '
    fin += "rectangle = { x = [0.2, 0.9], y = [1, 3.5] }, repeat = { count = 4, step = [0.9, 0] } }]"
    drawn = file.read_text().replace("y = [0, 1] } }]", "y = [0, 1] } }, " + fin)
    file.write_text(drawn)
    (told,) = [w for w in check_section(read_section(file)).warnings if "its film" in w]
    assert told.endswith("it touches drawn ones; leave the fins' conductivity out of it")
    file.write_text(drawn.replace(", conductivity = 200", ""))
    assert [w for w in check_section(read_section(file)).warnings if "its film" in w] == []


def test_an_altitude_where_nothing_stands_is_refused(section):
    with pytest.raises(InputError, match="altitude: 90000 is not from -500 to 9000 m"):
        section("10", top="altitude = 9e4")
