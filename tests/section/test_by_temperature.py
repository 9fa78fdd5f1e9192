"""Conductivities by temperature and closed gaps, as a file gives them."""

import pytest

from fdm.errors import InputError
from fdm.section.by_temperature import Line, Pairs
from fdm.section.materials import builtin_materials
from fdm.section.reader import read_section

FILE = """
unit = "mm"
{top}
environment = [{{ name = "in", temperature = 20, film = 8 }}, {{ name = "out", temperature = 0, film = 25 }}]
part = [{{ name = "inner", material = "m", rectangle = {{ x = [0, 200], y = [0, 3] }} }},
  {{ name = "gap", {gap}, rectangle = {{ x = [0, 200], y = [3, 23] }} }},
  {{ name = "outer", material = "XPS foam by temperature", rectangle = {{ x = [0, 200], y = [23, 26] }} }}]
border = {{ bottom = "in", top = "out" }}
let = {{ f = {{ value = 1, uncertainty = 0.1 }} }}
{more}
[material.m]
conductivity = {conductivity}
"""


def section(tmp_path, conductivity="0.2", gap="gap = true", top="", more="", moved=None):
    path = tmp_path / "wall.toml"
    path.write_text(FILE.format(conductivity=conductivity, gap=gap, top=top, more=more))
    return read_section(path, moved)


def test_a_line_and_its_uncertainties(tmp_path):
    line = "{ value = 0.033, uncertainty = 0.002, at = 10, per_kelvin = { value = 0.00015, uncertainty = 0.00003 } }"
    read = section(tmp_path, line)
    assert read.parts[0].material.by_temperature == Line(0.033, 10, 0.00015)
    assert read.parts[0].material.conductivity == (0.033, 0.033) != read.parts[0].material.at(30).conductivity
    uncertain = {u.place: u.uncertainty for u in read.uncertain}
    assert uncertain["material 'm', conductivity"] == 0.002
    assert uncertain["material 'm', conductivity, per_kelvin"] == 0.00003
    assert uncertain["part 'gap', gap, relation"] == 0.1
    moved = section(tmp_path, line, moved={"material 'm', conductivity": 0.001, "part 'gap', gap, relation": 0.05})
    assert moved.parts[0].material.by_temperature == Line(0.034, 10, 0.00015)
    assert moved.parts[1].gap.times == 1.05


def test_pairs_may_use_named_numbers(tmp_path):
    read = section(tmp_path, '[[-10, "0.03 * f"], [40, 0.035]]', moved={"let f": 0.1})
    curve = read.parts[0].material.by_temperature
    assert curve == Pairs((-10, 40), (0.033, 0.035)) and curve(15) == pytest.approx(0.034)
    assert read.parts[0].material.conductivity[0] == curve(10) == curve.reference


def test_foams_of_the_table_that_follow_do_not_change_those_that_do_not():
    for foam, relative in (("XPS foam", 0.0038), ("EPS foam", 0.0047), ("PU foam", 0.0055)):
        own = builtin_materials()[f"{foam} by temperature"]
        plain = builtin_materials()[foam if foam in builtin_materials() else f"{foam} board"]
        assert plain.by_temperature is None and plain.conductivity == own.conductivity
        assert own.by_temperature.per_kelvin / own.conductivity[0] == pytest.approx(relative, rel=0.02)
        assert own.by_temperature.at == 10


def test_a_moved_spread_of_the_table_moves_the_line(tmp_path):
    place = "material 'XPS foam by temperature', conductivity"
    outer = section(tmp_path, moved={place: 0.001}).parts[2].material
    assert outer.by_temperature(20) == pytest.approx(0.034 + 10 * 0.000125)


def test_a_gap(tmp_path):
    air = section(tmp_path, gap="gap = { emissivity = [0.9, { value = 0.05, uncertainty = 0.01 }], thickness = 10 }")
    assert air.parts[1].gap.emissivity == (0.9, 0.05) and air.parts[1].gap.thickness == pytest.approx(0.01)
    assert air.parts[1].follows and not air.parts[0].follows
    assert "part 'gap', gap, emissivity 2" in [u.place for u in air.uncertain]
    assert section(tmp_path, top='down = "left"').down == "left"


@pytest.mark.parametrize(
    "given, told",
    [
        ({"conductivity": "{ value = 0.03, at = 10 }"}, "conductivity, per_kelvin: missing"),
        ({"conductivity": "{ at = 10, per_kelvin = 0.001 }"}, "conductivity, value: missing"),
        ({"conductivity": "{ value = 0.03, at = 10, per_K = 1e-4 }"}, "did you mean 'per_kelvin'"),
        ({"conductivity": "{ value = 0.03, at = -300, per_kelvin = 1e-4 }"}, "-300 is not a temperature"),
        ({"conductivity": "{ pairs = [[0, 1], [1, 2]] }"}, "give the list of pairs itself"),
        ({"conductivity": "[[0, 0.03]]"}, "two pairs at least"),
        ({"conductivity": "[[10, 0.03], [0, 0.04]]"}, "by rising temperature"),
        ({"conductivity": "[[0, 0.03], [10]]"}, "holds [10]; give pairs"),
        ({"conductivity": "[[0, 0.03], [10, -1]]"}, "-1 is no conductivity"),
        ({"gap": "gap = { emissivity = 1.2 }"}, "part 'gap', gap, emissivity: 1.2 is not"),
        ({"gap": "gap = { emissivity = [0.9] }"}, "one for both faces, or two"),
        ({"gap": 'gap = { heat = "up" }'}, 'say at the top which way is down, such as down = "bottom"'),
        ({"gap": 'gap = { along = "z" }'}, "'z' is no direction"),
        ({"gap": 'gap = true, material = "PVC"'}, "leave out one of the two"),
        ({"gap": "gap = true, void = true"}, "give exactly one of material, environment, gap = true and void"),
        ({"gap": "gap = true, depth = 10"}, "only a part with a material may have a depth"),
        ({"top": 'down = "botom"'}, "did you mean 'bottom'"),
        ({"more": 'source = [{ name = "s", part = "gap", heat = 1 }]'}, "'gap' is no solid part"),
        ({"more": 'joint = [{ between = ["inner", "gap"], resistance = 1 }]'}, "'gap' is no solid part"),
    ],
)  # fmt: skip
def test_faults_are_told_with_their_place(tmp_path, given, told):
    with pytest.raises(InputError) as fault:
        section(tmp_path, **given)
    assert told in str(fault.value)
