"""Films of a cabinet by relation, which follow where it settles."""

from dataclasses import replace
from pathlib import Path

import pytest

from fdm.cabinet.at_work import left_as_drawn, sections_at_work
from fdm.cabinet.following import circuit_at_work
from fdm.cabinet.moisture import with_latent_heat
from fdm.cabinet.plausible import implausible_figures
from fdm.cabinet.reader import read_cabinet
from fdm.cabinet.sections import lumped
from fdm.cabinet.steady import operating_point
from fdm.cabinet.unsolved import check_cabinet
from fdm.errors import InputError
from fdm.inference.cabinet_reanalysis import CabinetReanalysis
from fdm.solving.steady import solve
from fdm.surroundings.film import Conditions
from fdm.surroundings.questions import film_of
from fdm.surroundings.still import StillFace

TEXT = """
unit = "mm"
let = { tall = 300 }
[cabinet]
inside = [400, 300, 300]
room = 30
setpoint = 7
inside_heat = 2
[[wall]]
name = "shell"
faces = ["left", "right", "front", "back", "bottom", "top"]
layers = [{ material = "PVC", thickness = 3 }, { material = "XPS foam", thickness = 40 }]
film_inside = { flow = "still", face = "vertical", height = "tall", emissivity = 0.9 }
film_outside = { flow = "indoor", heat = "horizontal" }
[module]
seebeck = 0.05
resistance = 2
conductance = 0.5
cold_capacity = 100
cold_sink = { film = { flow = "still", face = "vertical", height = 100 }, area = 0.2, efficiency = 0.9 }
hot_sink = { section = "plate.toml", sources = ["module"] }
[supply]
current = 2
[load]
mass = 4
material = "water"
surface = 0.2
film = { flow = "still", face = "vertical", height = 60, warmer = 5 }
[thermostat]
hysteresis = 20
"""
PLATE = """
unit = "mm"
view = "plate"
environment = [{ name = "air", temperature = 30, film = { flow = "still", emissivity = 0.8 } }]
part = [{ name = "base", material = "aluminium 6063-T5", thickness = 6, rectangle = { x = [0, 200], y = [0, 200] } }]
source = [{ name = "module", part = "base", face = "back", rectangle = { x = [80, 120], y = [80, 120] }, heat = 30 }]
[[fins]]
name = "fins"
part = "base"
face = "front"
along = "y"
count = 18
thickness = 2
height = 40
environment = "air"
"""


BESIDE = """
[[point]]
name = "bolt"
count = 4
wall = "shell"
bolt = { material = "steel", diameter = 6 }
[[line]]
name = "seal"
length = 2000
section = "seal.toml"
bridge = "strip"
"""
SIDES = """
inside = ["cold side"]
outside = ["warm side"]
"""
SEAL = """
unit = "mm"
environment = [{ name = "cold side", temperature = 20, film = { flow = "still", face = "vertical", height = 300 } },
               { name = "warm side", temperature = 21, film = 8 }]
part = [{ name = "foam", material = "XPS foam", rectangle = { x = [0, 80], y = [0, 40] } },
        { name = "strip", material = "PVC", rectangle = { x = [0, 8], y = [0, 40] } }]
border = { bottom = "cold side", top = "warm side" }
bridge = [{ remove = ["strip"], name = "strip" }]
"""


def lumped_of(solutions):
    return {file: lumped(s) for file, s in solutions.items()}


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cabinet")
    (folder / "plate.toml").write_text(PLATE)
    (folder / "cabinet.toml").write_text(TEXT)
    return folder / "cabinet.toml"


@pytest.fixture(scope="module")
def cabinet(path):
    return read_cabinet(path)


@pytest.fixture(scope="module")
def as_read(cabinet):
    """The plate at its file's own temperatures and watts."""
    file = cabinet.bank.hot_sink.file
    return {file: solve(file.section, 0.05, max_cells=20_000)}


@pytest.fixture(scope="module")
def at_work(cabinet, as_read):
    return sections_at_work(cabinet, as_read)


def test_films_are_those_of_the_surfaces_where_it_settles(at_work):
    """Each film again from the temperatures of the operating point, by the relation alone."""
    c, _ = at_work
    t = operating_point(c, c.cabinet.bank.supply).temperature
    shell = c.cabinet.walls[0]
    u = 1 / (1 / shell.film_inside + 0.003 / 0.17 + 0.04 / 0.033 + 1 / shell.film_outside)
    surface = t["air"] + u * (30 - t["air"]) / shell.film_inside
    inside = film_of(StillFace("vertical", height=0.3), Conditions(t["air"], surface, 0.9)).film
    assert shell.film_inside == pytest.approx(inside, rel=1e-3)
    assert shell.film_outside == pytest.approx(1 / 0.13)  # depends on no surface
    cold = film_of(StillFace("vertical", height=0.1), Conditions(t["air"], t["cold face"])).film
    assert c.cabinet.bank.cold_sink.resistance == pytest.approx(1 / (cold * 0.2 * 0.9), rel=1e-3)
    assert {f.place for f in c.cabinet.films} == {"wall 'shell', film_inside", "module, cold_sink, film"}
    assert c.cabinet.load.film == pytest.approx(film_of(StillFace("vertical", height=0.06), Conditions(7, 12)).film)


def test_the_films_of_plates_follow_too(at_work, as_read, cabinet):
    c, sections = at_work
    point = operating_point(c, c.cabinet.bank.supply)
    file = cabinet.bank.hot_sink.file
    (own,), (read,) = sections[file].frozen.values, as_read[file].frozen.values
    assert sections[file].section.watts[0] == pytest.approx(point.rejected, rel=1e-3)
    assert own.value == pytest.approx(own.coefficient.wanted(sections[file].grids[-1])[1], rel=2e-3)
    assert own.value < 0.97 * read.value  # fewer watts than the file's


def test_films_of_a_moist_cabinet_follow_where_it_settles_wet(cabinet, as_read):
    """Still air at the cold sink and at the hot plate, both warmer by the water that is kept in the air."""
    moist = replace(cabinet, humidity=70, inside_humidity=90)
    c, sections = sections_at_work(moist, as_read, wet=with_latent_heat)
    wet = with_latent_heat(c, lumped_of(sections))
    point = operating_point(wet, moist.bank.supply)
    t, (hot,) = point.temperature, sections.values()
    assert hot.section.watts[0] == pytest.approx(point.rejected, rel=1e-3)
    cold = film_of(StillFace("vertical", height=0.1), Conditions(t["air"], t["cold face"])).film
    assert c.cabinet.bank.cold_sink.resistance == pytest.approx(1 / (cold * 0.2 * 0.9), rel=1e-3)
    assert t["cold face"] > operating_point(c, moist.bank.supply).temperature["cold face"] + 1


def test_films_of_lines_and_bolts_follow_too(path):
    """In air of the cabinet and the room; a bolt's with its wall's."""
    path.with_name("seal.toml").write_text(SEAL)
    other = path.with_name("beside.toml")
    plain = TEXT.replace(
        'hot_sink = { section = "plate.toml", sources = ["module"] }', "hot_sink = { resistance = 0.5 }"
    )
    other.write_text(plain + BESIDE + SIDES)
    cabinet = read_cabinet(other)
    assert left_as_drawn(cabinet) == []
    as_read = {file: solve(file.section, 0.2, cells=300) for file in cabinet.section_files if file}
    c, sections = sections_at_work(cabinet, as_read)
    air = operating_point(c, c.cabinet.bank.supply).temperature["air"]
    for file, section in as_read.items():
        (own,), (read,) = sections[file].frozen.values, section.frozen.values
        assert sections[file].section.fixed_temperatures == pytest.approx((air, 30), abs=0.02)
        assert own.value == pytest.approx(own.coefficient.wanted(sections[file].grids[-1])[1], rel=2e-3)
        assert abs(own.value / read.value - 1) > 0.01  # other temperatures than the file's
        if file.made:
            assert own.value == pytest.approx(c.cabinet.walls[0].film_inside, rel=5e-3)
    other.write_text(plain + BESIDE)
    (told,) = left_as_drawn(read_cabinet(other))
    assert told.startswith("seal.toml: what follows the temperature in it is taken at the temperatures of its own file")


def test_they_do_not_depend_on_where_they_begin(at_work, cabinet):
    begun = replace(cabinet, walls=tuple(replace(w, film_inside=20.0) for w in cabinet.walls))
    c = circuit_at_work(begun, lumped_of(at_work[1]))
    assert c.cabinet.walls[0].film_inside == pytest.approx(at_work[0].cabinet.walls[0].film_inside, rel=1e-3)


def test_an_uncertain_relation_moves_the_settled_film(path, at_work):
    model = CabinetReanalysis(path, {}, at_work[1], at_work[0])
    place = "wall 'shell', film_inside, relation"
    (relation,) = [u for u in model.inputs if u.place == place]
    assert relation.nominal == 1 and 0.02 < relation.uncertainty < 0.3
    before, after = (model.circuit(moved).cabinet.walls[0].film_inside for moved in ({}, {place: 0.1}))
    assert 1.06 < after / before < 1.1  # a higher film brings the surface nearer to the air


def test_a_cabinet_without_such_films_stays_as_it_is(cabinet, as_read):
    plain = replace(cabinet, films=())
    assert circuit_at_work(plain, lumped_of(as_read)).cabinet is plain


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('height = "tall"', 'hight = "tall"', "wall 'shell', film_inside, hight: unknown key; did you mean 'height'?"),
        (
            'flow = "still", face = "vertical", height = 100',
            'flow = "gap"',
            'module, cold_sink, film, flow: "gap" lies',
        ),
        ('"indoor"', '"indor"', "wall 'shell', film_outside, flow: 'indor' is no kind of flow; did you mean 'indoor'?"),
        ('unit = "mm"', 'unit = "mm"\naltitude = 1e6', "altitude: 1e+06 is not from -500 to 9000 m"),
    ],
)
def test_refused(path: Path, old, new, message):
    assert TEXT.count(old) == 1
    other = path.with_name("other.toml")
    other.write_text(TEXT.replace(old, new))
    with pytest.raises(InputError) as error:
        read_cabinet(other)
    assert message in str(error.value)


def test_what_is_doubtful_of_films_is_told_of_a_cabinet_too(path):
    """Of one that follows and one that does not: out of range, not modelled, and lengths in another unit."""
    fins = "count = 10, thickness = 2, height = 30, length = 100, width = 100, warmer = 10"
    lying = f'{{ flow = "still", along = "horizontal", {fins} }}'
    text = TEXT.replace("height = 60, warmer = 5", "height = 0.06").replace("tall = 300", "tall = 300, tal = 3")
    text = text.replace('{ flow = "indoor", heat = "horizontal" }', lying)
    (path.parent / "doubtful.toml").write_text(text)
    cabinet = read_cabinet(path.parent / "doubtful.toml")
    told = [w for w in check_cabinet(cabinet).warnings if not w.startswith("plate.toml")]
    assert [w.split(":")[0] for w in told] == ["let, tal", "wall 'shell', film_outside", "load, film", "load, film"]
    assert "not modelled: taken as a solid box" in told[1]
    assert "height: 6e-05 m is not what faces have" in told[2] and "is outside of 1000 to" in told[3]


def test_the_altitude_of_a_cabinet_is_that_of_its_sections(path, cabinet):
    """Else a fan beside the cabinet would blow air as dense as at the sea."""
    high = path.parent / "high.toml"
    high.write_text("altitude = 2000\n" + TEXT)
    found = read_cabinet(high)
    assert found.bank.hot_sink.file.section.environments[0].follows.altitude == 2000
    assert found.bank.hot_sink.file != cabinet.bank.hot_sink.file  # a study solves both
    own = path.parent / "own.toml"
    own.write_text("altitude = 500\n" + PLATE)
    for at, told in (("", "500 m, and that of the cabinet 0 m"), ("altitude = 2000\n", "cabinet 2000 m")):
        high.write_text(at + TEXT.replace("plate.toml", "own.toml"))
        said = list(implausible_figures(read_cabinet(high)))
        assert len(said) == 1 and said[0].startswith("own.toml: its altitude is 500 m") and told in said[0]
