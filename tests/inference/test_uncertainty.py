"""Uncertain numbers of a file: reading them, what they make of the answers to first order and by sampling."""

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import fdm.conduction.adjoint.system
import fdm.inference.section_reanalysis
from fdm.cabinet.circuit import Circuit, circuit
from fdm.cabinet.model import Cabinet
from fdm.cabinet.moisture import with_moisture
from fdm.cabinet.reader import read_cabinet
from fdm.cabinet.sections import lumped, solve_sections
from fdm.cabinet.solution import solve_cabinet
from fdm.conduction import solver
from fdm.conduction.solver import Solver
from fdm.errors import InputError
from fdm.inference.cabinet_reanalysis import CabinetReanalysis, cabinet_reanalysis
from fdm.inference.reanalysis import reanalysis
from fdm.inference.section_reanalysis import section_reanalysis
from fdm.inference.uncertainty import sample, uncertainty
from fdm.section.model import Section
from fdm.section.reader import read_section

WALL = """
unit = "mm"
[let]
wall = 30
k = 0.04
inner = {{ value = 8, uncertainty = 0 }}
{let}
[material."foam"]
conductivity = "k"
[[environment]]
name = "room"
temperature = 20
film = "inner"
[[environment]]
name = "out"
temperature = {out}
film = {{ value = 20, uncertainty = 0 }}
[[part]]
name = "wall"
material = {material}
rectangle = {{ x = [0, {width}], y = [0, "wall"] }}
[border]
bottom = "room"
top = "out"
[[sensor]]
name = "skin"
at = [50, 0]
"""
CABINET = """
unit = "mm"
[let]
room = {room}
voltage = 8
[cabinet]
inside = [300, 300, 300]
room = "room"
setpoint = {setpoint}
air_changes = {air_changes}
[[wall]]
name = "all"
faces = ["left", "right", "front", "back", "bottom", "top"]
layers = [{{ material = "XPS foam", thickness = 40 }}]
film_inside = {{ value = 8, uncertainty = 0 }}
film_outside = {{ value = 8, uncertainty = 0 }}
{line}
[module]
seebeck = {{ value = 0.05, uncertainty = 0 }}
resistance = {{ value = 2, uncertainty = 0 }}
conductance = {{ value = 0.5, uncertainty = 0 }}
cold_sink = {{ resistance = {{ value = 0.3, uncertainty = 0 }} }}
hot_sink = {{ resistance = {{ value = 0.2, uncertainty = 0 }} }}
cold_capacity = 300
hot_capacity = 600
[supply]
voltage = "voltage"
[load]
mass = 0.5
specific_heat = 3600
surface = 0.2
film = {{ value = 40, uncertainty = 0 }}
[thermostat]
hysteresis = {hysteresis}
"""


def wall_file(tmp_path: Path, let: str = "", **other: str) -> Path:
    """A plane wall, films on both sides, with named numbers replaced by `let`'s."""
    given = {"let": "", "out": "5", "material": '"foam"', "width": "100"} | other
    text = WALL.format(**given)
    for line in filter(None, let.split("\n")):
        name = line.split("=")[0].strip()
        old = next((x for x in text.split("\n") if x.split("=")[0].strip() == name), None)
        text = text.replace(old, line) if old else text.replace("[let]", f"[let]\n{line}")
    path = tmp_path / "wall.toml"
    path.write_text(text)
    return path


def cabinet_file(tmp_path: Path, **other: str) -> Path:
    path = tmp_path / "cabinet.toml"
    given = {"room": "25", "setpoint": "10", "hysteresis": "5", "line": ""}
    given["air_changes"] = "{ value = 0.5, uncertainty = 0.2 }"
    path.write_text(CABINET.format(**given | other))
    return path


def reading(k: float = 0.04, wall: float = 30, inner: float = 8, out: float = 5) -> float:
    """degC of the wall's skin towards the room: resistances in series."""
    r = np.array([1 / inner, wall / 1000 / k, 1 / 20])
    return 20 - (20 - out) * r[0] / r.sum()


# Reading


def test_uncertain_numbers_are_drawn_at_their_nominal_values(tmp_path: Path) -> None:
    let = 'wall = { value = "2 * 15", uncertainty = "wall0 / 10" }\nwall0 = 30\nk = { between = [0.02, "0.06"] }'
    out, width = "{ value = 5, uncertainty = 2 }", "{ between = [99, 101] }"
    section = read_section(wall_file(tmp_path, let, out=out, width=width))
    assert section.let["wall"] == 30 and section.let["k"] == pytest.approx(0.04)
    assert section.extent == pytest.approx((0, 0.1, 0, 0.03))
    found = {u.place: u for u in section.uncertain}
    assert list(found) == ["let wall", "let k", "environment 'out', temperature", "part 'wall', rectangle, x 2"]
    assert found["let wall"].uncertainty == pytest.approx(3) and found["let wall"].between is None
    assert found["let k"].between == (0.02, 0.06)
    assert found["let k"].uncertainty == pytest.approx(0.04 / math.sqrt(12))  # of an even distribution
    assert found["environment 'out', temperature"].nominal == 5
    assert found["part 'wall', rectangle, x 2"].nominal == pytest.approx(100)  # in the file's unit


def test_moved_numbers_take_with_them_what_depends_on_them(tmp_path: Path) -> None:
    path = wall_file(tmp_path, 'wall = { value = "3 * k0", uncertainty = 1 }\nk0 = { value = 10, uncertainty = 1 }')
    assert read_section(path, {"let k0": 2.0}).let["wall"] == 36
    both = read_section(path, {"let k0": 2.0, "let wall": -1.0})
    assert both.let["wall"] == 35
    assert both.extent[3] == pytest.approx(0.035)
    assert {u.place: u.nominal for u in both.uncertain} == {"let wall": 36, "let k0": 10}


def test_an_override_is_certain(tmp_path: Path) -> None:
    path = wall_file(tmp_path, "wall = { value = 30, uncertainty = 1 }\nk = { value = 0.04, uncertainty = 0 }")
    assert [u.place for u in read_section(path).uncertain] == ["let wall"]
    assert read_section(path, wall=40).uncertain == ()


def test_the_material_table_s_spread_counts(tmp_path: Path) -> None:
    path = wall_file(tmp_path, material='"XPS foam"')
    (u,) = read_section(path).uncertain
    assert (u.place, u.nominal, u.from_table) == ("material 'XPS foam', conductivity", 0.033, True)
    assert u.uncertainty == pytest.approx(0.09 * 0.033) and u.between is None
    moved = read_section(path, {u.place: 0.002})
    assert moved.parts[0].material.conductivity == pytest.approx((0.035, 0.035))
    assert moved.uncertain == (u,)
    own = path.read_text() + '[material."XPS foam"]\nconductivity = { value = 0.03, uncertainty = 0.001 }\n'
    path.write_text(own)
    (u,) = read_section(path).uncertain
    assert (u.place, u.nominal, u.from_table) == ("material 'XPS foam', conductivity", 0.03, False)


def test_a_wide_spread_is_taken_as_even_so_that_it_stays_above_0(tmp_path: Path) -> None:
    (u,) = read_section(wall_file(tmp_path, material='"gap pad"')).uncertain
    assert u.between is not None and 0 < u.between[0] < u.between[1]
    assert (u.between[1] - u.between[0]) / math.sqrt(12) == pytest.approx(u.uncertainty)


USUAL_FILM = """
[[part]]
name = "board"
material = "foam"
rectangle = { x = [0, 100], y = [30, 32] }
[[joint]]
between = ["wall", "board"]
resistance = 2e-3
"""


def places(section: Section | Cabinet) -> dict[str, str]:
    """The table that says how uncertain each number is, by place."""
    return {u.place: u.table for u in section.uncertain}


def test_films_and_joints_have_their_usual_uncertainty_unless_the_file_says_it(tmp_path: Path) -> None:
    room, joint = "environment 'room', film", "joint 1, resistance"
    plain = wall_file(tmp_path, "inner = 8")
    plain.write_text(plain.read_text() + USUAL_FILM)
    section = read_section(plain)
    assert places(section) == {room: "usual", joint: "usual"}
    film, paste = section.uncertain
    assert (film.nominal, film.uncertainty, film.between) == (8, 2, None)
    assert paste.between is not None and 0 < paste.between[0]  # wide, so evenly spread
    moved = read_section(plain, {room: 1.0, joint: 1e-3})
    assert moved.environments[0].film == 9 and moved.joints[0].resistance == pytest.approx(3e-3)
    assert moved.uncertain == section.uncertain
    # an uncertainty of its own, by the name that it is made of, or in the expression's other names; or exactly known
    assert places(read_section(wall_file(tmp_path, "inner = { value = 8, uncertainty = 1 }"))) == {"let inner": ""}
    made_of = 'inner = "2 * still"\nstill = { between = [3, 5] }'
    assert places(read_section(wall_file(tmp_path, made_of))) == {"let still": ""}
    assert places(read_section(wall_file(tmp_path, "inner = { value = 8, uncertainty = 0 }"))) == {}
    assert places(read_section(wall_file(tmp_path), inner=9)) == {room: "usual"}  # a new number says nothing of it
    held = plain.read_text().replace('film = "inner"', "film = inf").replace("= 2e-3", "= 0")
    plain.write_text(held)
    assert places(read_section(plain)) == {}


def test_a_joint_of_a_layer_is_uncertain_by_its_thickness(tmp_path: Path) -> None:
    path = wall_file(tmp_path)
    layer = USUAL_FILM.rstrip().replace("resistance = 2e-3", "thickness = 0.1\nconductivity = ")
    path.write_text(path.read_text() + layer + "0.8")
    (thickness,) = read_section(path).uncertain
    assert (thickness.place, thickness.nominal) == ("joint 1, thickness", 0.1)  # in the file's unit
    assert read_section(path, {thickness.place: 0.05}).joints[0].resistance == pytest.approx(0.15e-3 / 0.8)
    path = wall_file(tmp_path)
    path.write_text(path.read_text() + layer + "{ value = 0.8, uncertainty = 0.1 }")
    assert places(read_section(path)) == {"joint 1, conductivity": ""}


def test_a_cabinet_s_films_sinks_and_figures_are_usually_uncertain(tmp_path: Path) -> None:
    seal_file(tmp_path)
    path = cabinet_file(tmp_path, line=SEAL.replace('wall = "40"', 'inner = "voltage"'))
    exact, usual = path.read_text(), re.sub(r"{ value = ([\d.]+), uncertainty = 0 }", r"\1", path.read_text())
    path.write_text(usual)
    kinds = places(read_cabinet(path))
    assert [place for place, table in kinds.items() if table == "usual"] == [
        "module, seebeck",
        "module, resistance",
        "module, conductance",
        "module, cold_sink, resistance",
        "module, hot_sink, resistance",
        "wall 'all', film_inside",
        "wall 'all', film_outside",
        "load, film",
        "seal.toml: environment 'room', film",
    ]
    # a film that the cabinet gives with its uncertainty is not doubted once more by the section
    path.write_text(exact.replace("voltage = 8", "voltage = { value = 8, uncertainty = 0.1 }"))
    kinds = places(read_cabinet(path))
    assert "let voltage" in kinds and "usual" not in kinds.values()
    ratings = "greatest_heat = 30\ngreatest_difference = 68\ngreatest_current = 4\n{}hot_side = 27\n"
    given = re.sub(r"seebeck.*\nresistance.*\nconductance.*\n", ratings.format("greatest_voltage = 15\n"), exact)
    path.write_text(given)  # the heat is only checked against the others
    assert [p for p, t in places(read_cabinet(path)).items() if t == "usual"] == [
        "module, greatest_difference",
        "module, greatest_current",
        "module, greatest_voltage",
        "seal.toml: environment 'room', film",
    ]
    path.write_text(given.replace("greatest_voltage = 15\n", ""))
    assert "module, greatest_heat" in places(read_cabinet(path))


@pytest.mark.parametrize(
    ("let", "said"),
    [
        ("wall = { value = 30 }", "let, wall: uncertainty is missing; give { value = .., uncertainty = .. } or"),
        ("wall = { uncertainty = 3 }", "let, wall: value is missing;"),
        (
            "wall = { value = 30, uncertain = 3 }",
            "let, wall: 'uncertain' is an unknown key; did you mean 'uncertainty'?",
        ),
        ("wall = { value = 30, uncertainty = -1 }", "let, wall: uncertainty -1 is below 0;"),
        ("wall = { value = 30, between = [1, 2] }", "let, wall: give either value with uncertainty, or between"),
        ("wall = { between = 3 }", "let, wall: between does not hold two numbers;"),
        ("wall = { between = [3, 3] }", "let, wall: between [3, 3] is empty or turned around;"),
        ("wall = { value = true, uncertainty = 1 }", "let, wall: is true or false; give a number"),
        ("wall = { value = 'wal', uncertainty = 1 }", "let, wall: 'wal' uses 'wal', which is not in [let]"),
    ],
)
def test_refused_with_place(tmp_path: Path, let: str, said: str) -> None:
    with pytest.raises(InputError) as error:
        read_section(wall_file(tmp_path, let))
    assert said in str(error.value)


def test_refused_elsewhere_with_place(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="environment 'out', temperature: uncertainty is missing"):
        read_section(wall_file(tmp_path, out="{ value = 5 }"))
    with pytest.raises(InputError, match="let wal: there is no number with an uncertainty; did you mean 'let wall'"):
        read_section(wall_file(tmp_path, "wall = { value = 30, uncertainty = 1 }"), {"let wal": 1.0})


SEAL = '[[line]]\nname = "seal"\nlength = 9000\nsection = "seal.toml"\nbridge = "seal"\nlet = { wall = "40" }'
SEAL_PART = """
[[part]]
name = "seal"
material = "XPS foam"
rectangle = { x = [0, 10], y = [0, "wall"] }
[[bridge]]
remove = ["seal"]
"""


def seal_file(tmp_path: Path) -> None:
    path = wall_file(tmp_path, "wall = { value = 30, uncertainty = 1 }\nk = { value = 0.02, uncertainty = 0.002 }")
    (tmp_path / "seal.toml").write_text(path.read_text() + SEAL_PART)


def test_a_cabinet_s_sections_share_the_table_s_materials_and_keep_their_own(tmp_path: Path) -> None:
    seal_file(tmp_path)
    path = cabinet_file(tmp_path, line=SEAL)
    cabinet = read_cabinet(path)
    assert {u.place for u in cabinet.uncertain} == {
        "cabinet, air_changes",
        "seal.toml: let k",  # not its wall, which the cabinet sets
        "material 'XPS foam', conductivity",
    }
    own = read_cabinet(path, {"seal.toml: let k": 0.01})
    assert own.lines[0].file.section.let["k"] == pytest.approx(0.03)
    assert own.walls[0].layers[0].material == cabinet.walls[0].layers[0].material
    foam = read_cabinet(path, {"material 'XPS foam', conductivity": 0.001})
    assert foam.walls[0].layers[0].material.conductivity[0] == pytest.approx(0.034)
    assert foam.lines[0].file.section.part_named["seal"].material.conductivity[0] == pytest.approx(0.034)
    # what is not moved is the same section, which need not be solved again
    assert read_cabinet(path, {"cabinet, air_changes": 0.1}).lines[0].file == cabinet.lines[0].file
    assert foam.lines[0].file != cabinet.lines[0].file


def test_margins_of_a_cabinet_move_as_if_it_were_solved_anew(tmp_path: Path) -> None:
    seal_file(tmp_path)
    line = SEAL + '\ninside = ["room"]\noutside = ["out"]'
    moist_air = "0.5\nhumidity = { value = 60, uncertainty = 4 }"
    path = cabinet_file(tmp_path, line=line, air_changes=moist_air)
    model = cabinet_reanalysis(path)
    assert {"cabinet, humidity", "seal.toml: let k"} <= {u.place for u in model.inputs}

    def margins(of: Circuit) -> dict[tuple[str, str], float]:
        return {(s.side, s.name): s.margin for s in of.moisture.always_on.surfaces}

    middle = margins(model.circuit({}))
    for place, step in (("seal.toml: let k", 0.002), ("cabinet, humidity", 4.0)):
        moved = read_cabinet(path, {place: step})
        sections = {file: lumped(s) for file, s in solve_sections(moved, model.sections).items()}
        anew = margins(with_moisture(circuit(moved, sections), sections))
        near = margins(model.circuit({place: step}))
        assert near == pytest.approx(anew, abs=1e-3)
        assert abs(near["outside", "seal"] - middle["outside", "seal"]) > 3e-3
    assert model.answers.at("moisture.always_on.outside.seal.margin")[0] == pytest.approx(middle["outside", "seal"])
    assert float(model.answers.at("moisture.always_on.water_a_day")[0]) > 0


# To first order


def test_first_order_is_the_change_by_one_standard_uncertainty(tmp_path: Path) -> None:
    """JCGM 100:2008, 5.1.2: against the wall's exact temperature, resistances in series."""
    let = "k = { value = 0.04, uncertainty = 0.003 }\nwall = { value = 30, uncertainty = 1 }\n"
    let += "inner = { between = [6, 10] }"
    model = section_reanalysis(wall_file(tmp_path, let, out="{ value = 5, uncertainty = 1.5 }"))
    found = uncertainty(model)
    answer = found.answers.number("sensors.skin.reading")
    even = 4 / math.sqrt(12)
    by_hand = {
        "let k": (reading(k=0.043) - reading(k=0.037)) / 2,
        "let wall": (reading(wall=31) - reading(wall=29)) / 2,
        "let inner": (reading(inner=8 + even) - reading(inner=8 - even)) / 2,
        "environment 'out', temperature": (reading(out=6.5) - reading(out=3.5)) / 2,
    }
    total = sum(v**2 for v in by_hand.values())
    shares = found.shares(answer, 4)
    assert {s.input.place: s.change for s in shares} == pytest.approx(by_hand, rel=1e-5)
    assert {s.input.place: s.share for s in shares} == pytest.approx(
        {k: v**2 / total for k, v in by_hand.items()}, rel=1e-5
    )
    assert found.standard[answer] == pytest.approx(math.sqrt(total), rel=1e-5)
    assert len(found.shares(answer)) == 3 and sum(s.share for s in shares) == pytest.approx(1)
    assert model.answers.value[answer] == pytest.approx(reading())
    assert not found.bent[answer]


FIN = """
unit = "mm"
[let]
{let}
[material."foam"]
conductivity = "k / 2"
[[environment]]
name = "room"
temperature = "warm"
film = "200 * k + 4 * wind ** 0.6"
[[environment]]
name = "out"
temperature = 5
film = {{ value = 20, uncertainty = 0 }}
[[part]]
name = "wall"
material = "foam"
rectangle = {{ x = [0, 100], y = [0, 30] }}
[[part]]
name = "block"
material = "steel"
rectangle = {{ x = [40, 50], y = [0, 20] }}
[[part]]
name = "plate"
material = "aluminium alloy"
rectangle = {{ x = [20, 70], y = [30, 33] }}
[[part]]
name = "side"
environment = "out"
rectangle = {{ x = [0, 100], y = [30, 40] }}
[[part]]
name = "plate again"
material = "aluminium alloy"
rectangle = {{ x = [20, 70], y = [30, 33] }}
[[joint]]
between = ["block", "wall"]
resistance = "paste"
[border]
bottom = "room"
top = "out"
[[source]]
name = "lamp"
segment = {{ x = [40, 60], y = 33 }}
heat = "power"
[[sensor]]
name = "skin"
at = [50, 0]
should_read = "room"
[[sensor]]
name = "block"
part = "block"
should_read = "skin"
[[spreading]]
part = "plate again"
[[bridge]]
remove = ["block"]
"""


def fin_file(tmp_path: Path, **let: str) -> Path:
    """A number in a film and a conductivity, one in a power of a film, a joint, a temperature, a watt."""
    given = {
        "k": "{ value = 0.06, uncertainty = 0.012 }", "wind": "{ value = 1.5, uncertainty = 0.4 }",
        "paste": "{ value = 2e-3, uncertainty = 6e-4 }", "warm": "{ value = 20, uncertainty = 1 }",
        "power": "{ value = 2, uncertainty = 0.2 }",
    } | let  # fmt: skip
    path = tmp_path / "fin.toml"
    path.write_text(FIN.format(let="\n".join(f"{name} = {value}" for name, value in given.items())))
    return path


def test_what_moves_no_edge_is_not_solved_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    model = section_reanalysis(fin_file(tmp_path), target=0.006)
    again = {u.place: [model.values({u.place: d * u.uncertainty}) for d in (-1, 1)] for u in model.inputs}
    prepared: list[int] = []

    def counted(*given: int) -> Solver:
        prepared.append(1)
        return solver.prepared(*given)

    monkeypatch.setattr(fdm.inference.section_reanalysis, "solved", None)
    monkeypatch.setattr(fdm.conduction.adjoint.system, "prepared", counted)
    found = uncertainty(model)
    assert len(prepared) == 3  # the section, its spreading and its bridge: once, whatever is uncertain
    assert len(found.inputs) == 7 and {u.from_table for u in found.inputs} == {False, True}
    middle, local = model.answers.value, np.array([q.local for q in model.answers.quantities])
    for row, u in enumerate(found.inputs):
        low, high = again[u.place]
        change = (high - low) / 2
        near = 2e-4 * max(abs(high - low))
        assert found.change[row][~local] == pytest.approx(change[~local], rel=2e-3, abs=near)
        assert found.change[row][local] == pytest.approx(change[local], rel=0.02, abs=near)  # fields without adjoints
        # the second order is what is left of larger numbers
        bend = (high + low) / 2 - middle
        room = 0.02 * abs(bend) + 3e-3 * found.standard + 1e-9
        assert (abs(found.bend[row] - bend)[~local] < room[~local]).all(), u.place


def test_a_length_and_one_axis_alone_are_solved_again(tmp_path: Path) -> None:
    along = fin_file(tmp_path).read_text().replace('"k / 2"', "{ x = { value = 0.03, uncertainty = 0.006 }, y = 0.03 }")
    path = tmp_path / "along.toml"
    path.write_text(along.replace("x = [40, 50]", "x = [40, { value = 50, uncertainty = 1 }]"))
    model = section_reanalysis(path)
    for place in ("part 'block', rectangle, x 2", "material 'foam', conductivity, x"):
        step = next(u.uncertainty for u in model.inputs if u.place == place)
        for end, sign in zip(model.ends(place, step), (-1, 1)):
            assert np.array_equal(end, model.values({place: sign * step}))


def test_the_table_s_spread_can_be_left_out(tmp_path: Path) -> None:
    path = wall_file(tmp_path, "wall = { value = 30, uncertainty = 1 }", material='"XPS foam"')
    model = section_reanalysis(path)
    assert [u.place for u in uncertainty(model).inputs] == ["let wall", "material 'XPS foam', conductivity"]
    assert [u.place for u in uncertainty(model, table=False).inputs] == ["let wall"]
    with pytest.raises(InputError, match="no number of the file has an uncertainty; write one as"):
        uncertainty(section_reanalysis(wall_file(tmp_path, material='"XPS foam"')), table=False)


def test_an_input_that_cannot_be_moved_is_named(tmp_path: Path) -> None:
    model = section_reanalysis(wall_file(tmp_path, "wall = { value = 30, uncertainty = 40 }"))
    with pytest.raises(
        InputError, match="where let wall differs by its standard uncertainty of 40; give a smaller one"
    ):
        uncertainty(model)


def test_grid_error_stays_out_of_the_changes(tmp_path: Path) -> None:
    """A wall with a block through it, on a coarse grid: changes come out as those of a much better solution."""
    block = '[[part]]\nname = "block"\nmaterial = "steel"\nrectangle = { x = [0, "side"], y = [5, "wall"] }\n'
    path = wall_file(tmp_path, "side = { value = 12, uncertainty = 1 }\nwall = { value = 30, uncertainty = 1 }")
    path.write_text(path.read_text().replace("[border]", block + "[border]"))
    rough, fine = section_reanalysis(path), section_reanalysis(path, target=0.001)
    found = uncertainty(rough)
    for place, step in [(u.place, u.uncertainty) for u in rough.inputs if not u.from_table]:
        high, low = (fine.centred({place: s * step}, {}, 0.001).answers.value for s in (1, -1))
        change = (high - low) / 2
        row = [u.place for u in found.inputs].index(place)
        local, largest = np.array([q.local for q in rough.answers.quantities]), max(map(abs, change))
        assert found.change[row][~local] == pytest.approx(change[~local], rel=0.1, abs=1e-3 * largest)
        assert found.change[row][local] == pytest.approx(change[local], rel=0.1, abs=2e-3 * largest)  # at corners


def test_bridges_and_spreading_have_uncertainties(tmp_path: Path) -> None:
    seal_file(tmp_path)
    found = uncertainty(section_reanalysis(tmp_path / "seal.toml"))
    k = found.answers.number("bridge.seal.psi")
    # by hand: parallel paths, which the small difference of the two foams hardly disturbs
    u = [1 / (1 / 8 + 0.03 / c + 1 / 20) for c in (0.033 + 0.09 * 0.033, 0.033 - 0.09 * 0.033)]
    change = next(s.change for s in found.shares(k) if s.input.from_table)
    assert change == pytest.approx(0.01 * (u[0] - u[1]) / 2, rel=0.15)
    assert found.standard[found.answers.number("bridge.seal.watts")] == pytest.approx(15 * found.standard[k], rel=1e-6)


# Sampled


def test_sample_agrees_with_first_order_where_answers_are_straight(tmp_path: Path) -> None:
    let = "k = { value = 0.04, uncertainty = 0.002 }\nwall = { value = 30, uncertainty = 1 }"
    model = section_reanalysis(wall_file(tmp_path, let, out="{ between = [4, 6] }"))
    first, many = uncertainty(model), sample(model, 128)
    k = model.answers.number("sensors.skin.reading")
    assert many.standard[k] == pytest.approx(first.standard[k], rel=0.05)
    assert many.mean[k] == pytest.approx(model.answers.value[k], abs=0.05 * first.standard[k])
    assert many.high[k] - many.low[k] == pytest.approx(2 * 1.96 * first.standard[k], rel=0.1)
    assert not first.bent[k]
    again = sample(model, 128)
    assert np.array_equal(again.values, many.values)  # no chance in the result


def test_sample_is_right_where_answers_bend(tmp_path: Path) -> None:
    """A foam that may conduct nearly nothing or very well: quantiles of a monotonic answer are those of the input."""
    model = section_reanalysis(wall_file(tmp_path, "k = { between = [0.0005, 1] }"))
    first, many = uncertainty(model), sample(model, 128)
    k = model.answers.number("sensors.skin.reading")
    assert first.bent[k]
    within = [[reading(k=0.0005 + q * 0.9995) for q in (p + 2 / 128, p - 2 / 128)] for p in (0.975, 0.025)]
    assert within[0][0] < many.low[k] < within[0][1] and within[1][0] < many.high[k] < within[1][1]
    exact = np.array([reading(k=v) for v in np.linspace(0.0005, 1, 20_001)])
    assert many.mean[k] == pytest.approx(exact.mean(), abs=0.02)
    assert many.standard[k] == pytest.approx(exact.std(), rel=0.05)
    assert abs(first.standard[k] / exact.std() - 1) > 0.2


def test_samples_without_sense_are_left_out_and_many_refused(tmp_path: Path) -> None:
    model = section_reanalysis(wall_file(tmp_path, "k = { value = 0.04, uncertainty = 0.02 }"))
    many = sample(model, 100)
    assert many.left_out in (2, 3) and len(many.values) == 100 - many.left_out  # 2.3 % of a normal distribution
    path = wall_file(tmp_path, "k = { value = 0.04, uncertainty = 0.035 }")
    with pytest.raises(InputError, match="of 100 samples make no sense, such as: .*conductivity"):
        sample(section_reanalysis(path), 100)


# Cabinets


def test_a_cabinet_s_answers_are_those_of_a_cabinet_solved_again(tmp_path: Path) -> None:
    seal_file(tmp_path)
    path = cabinet_file(tmp_path, line=SEAL, room="{ value = 25, uncertainty = 2 }", air_changes="0.5")
    found = uncertainty(cabinet_reanalysis(path), table=False)
    assert len(found.inputs) == 2
    room = [u.place for u in found.inputs].index("let room")
    warm, cold = (solve_cabinet(read_cabinet(path, room=room)) for room in (27, 23))
    for name, high, low in [
        ("air", warm.point.temperature["air"], cold.point.temperature["air"]),
        ("power", warm.point.power, cold.point.power),
        ("pull_down.time_to_setpoint", warm.pull_down.time_to_setpoint, cold.pull_down.time_to_setpoint),
        ("pull_down.energy_a_day", warm.pull_down.energy_a_day, cold.pull_down.energy_a_day),
    ]:
        assert found.change[room, found.answers.number(name)] == pytest.approx((high - low) / 2, rel=1e-3), name
    # the seal's foam: its section solved again, in a cabinet solved again
    place = "seal.toml: let k"
    row = [u.place for u in found.inputs].index(place)
    high, low = (solve_cabinet(read_cabinet(path, {place: s * 0.002})).point.temperature["air"] for s in (1, -1))
    assert found.change[row, found.answers.number("air")] == pytest.approx((high - low) / 2, rel=0.02)
    assert abs(high - low) > 0.01


def test_what_may_never_be_reached_is_not_given_an_uncertainty(tmp_path: Path) -> None:
    cabinet = cabinet_reanalysis(cabinet_file(tmp_path))
    settles = cabinet.answers.at("reading")[0]
    model = cabinet_reanalysis(cabinet_file(tmp_path, setpoint=f"{settles + 0.3:.4f}", hysteresis="0.2"))
    found, many = uncertainty(model), sample(model, 8)
    k = model.answers.number("pull_down.time_to_setpoint")
    assert math.isfinite(model.answers.value[k]) and np.isnan(found.standard[k])
    assert 0.5 < np.isfinite(many.values[:, k]).mean() < 1
    assert many.mean[k] == math.inf and math.isfinite(many.low[k]) and many.high[k] == math.inf


def test_either_kind_of_file(tmp_path: Path) -> None:
    assert isinstance(reanalysis(cabinet_file(tmp_path)), CabinetReanalysis)
    assert not isinstance(reanalysis(wall_file(tmp_path)), CabinetReanalysis)
    assert replace(reanalysis(wall_file(tmp_path), {"wall": 40})).named["wall"] == 40
    with pytest.raises(InputError, match="cannot be read"):
        reanalysis(tmp_path / "none.toml")


def test_a_section_that_no_air_touches(tmp_path):
    path = tmp_path / "bar.toml"
    path.write_text(
        'unit = "mm"\n'
        "part = [{ name = 'bar', material = 'copper', rectangle = { x = [0, 50], y = [0, 10] } }]\n"
        "[material.copper]\nconductivity = { value = 400, uncertainty = 20 }\n"
        "[[source]]\nname = 'a'\nsegment = { x = 0, y = [0, 10] }\ntemperature = 20\n"
        "[[source]]\nname = 'b'\nsegment = { x = 50, y = [0, 10] }\ntemperature = 30\n"
    )
    found = uncertainty(section_reanalysis(path))
    number = found.answers.number("network.coupling.a.b")
    assert found.standard[number] == pytest.approx(20 / 400 * found.answers.value[number])
