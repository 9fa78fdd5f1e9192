"""Reading a section file: everything a file may hold, and one clear sentence for everything it may not."""

import math

import pytest

from fdm.errors import InputError
from fdm.section import Disc, Polygon, Rectangle, read_section
from fdm.section.files import LARGEST_FILE
from fdm.solving.check import check_section
from tests.wrong_values import WRONG, with_wrong_value

FULL = """
title = "Back wall cut through one module"
view = "section"
unit = "mm"
depth = 40

[let]
wall = 30
plate = 6
block = "wall - 2"
room = 21

[material."my foam"]
conductivity = { x = 0.031, y = "0.03 + 0.002" }
density = 30
specific_heat = 1400
source = "invented"

[[environment]]
name = "cabinet air"
temperature = 7
film = 8

[[environment]]
name = "room"
temperature = "room"
film = inf

[[part]]
name = "cabinet side"
environment = "cabinet air"
rectangle = { x = [0, 200], y = [-40, 0] }

[[part]]
name = "wall"
material = "my foam"
rectangle = { x = [0, 200], y = [0, "wall"] }

[[part]]
name = "base plate"
material = "aluminium 6063-T5"
rectangle = { x = [40, 160], y = ["wall", "wall + plate"] }

[[part]]
name = "block"
material = "copper"
rectangle = { x = [80, 120], y = ["wall - block", "wall"] }

[[part]]
name = "fins"
material = "aluminium 6063-T5"
rectangle = { x = [50, 51.5], y = ["wall + plate", "wall + plate + 30"] }
repeat = { count = 12, step = [8, 0] }

[[part]]
name = "bolt"
material = "steel"
polygon = { points = [[10, 0], [14, 0], [14, "wall"], [10, "wall"]] }

[[part]]
name = "hole"
void = true
disc = { centre = [30, 10], radius = "wall / 10" }

[border]
bottom = "cabinet air"
top = "room"

[[joint]]
between = ["base plate", "block"]
thickness = 0.05
conductivity = 0.9

[[joint]]
between = ["base plate", "fins"]
resistance = 2e-5

[[source]]
name = "hot face"
segment = { x = [80, 120], y = "wall + plate" }
heat = "2 * 15"

[[source]]
name = "tank"
part = "block"
temperature = 4

[[sensor]]
name = "thermostat"
at = [25, 4]
should_read = "cabinet air"

[[sensor]]
name = "bead"
part = "wall"
should_read = "room + 2"

[[spreading]]
part = "base plate"
along = "x"

[[bridge]]
remove = ["bolt"]
between = ["cabinet air", "room"]
name = "the bolt"
"""

SMALL = """
unit = "mm"
[let]
wall = 30
[[environment]]
name = "air"
temperature = 7
film = 8
[[part]]
name = "wall"
material = "XPS foam"
rectangle = { x = [0, 100], y = [0, "wall"] }
"""


@pytest.fixture
def read(tmp_path):
    def read(text, **let):
        path = tmp_path / "wall.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_section(path, **let)

    return read


@pytest.fixture
def refusal(read, tmp_path):
    """The message with which a text is refused, without the file's path, which it must begin with."""

    def refusal(text, **let):
        with pytest.raises(InputError) as error:
            read(text, **let)
        start = f"{tmp_path / 'wall.toml'}: "
        assert str(error.value).startswith(start)
        assert str(error.value).count(start) == 1
        assert "\n" not in str(error.value)
        return str(error.value).removeprefix(start)

    return refusal


def edited(old, new, text=FULL):
    assert text.count(old) == 1, old
    return text.replace(old, new)


def test_everything_a_file_may_hold(read):
    s = read(FULL)
    assert (s.title, s.view, s.unit, s.depth) == ("Back wall cut through one module", "section", "mm", 0.04)
    assert s.let == {"wall": 30, "plate": 6, "block": 28, "room": 21}
    assert [(e.name, e.temperature, e.film) for e in s.environments] == [("cabinet air", 7, 8), ("room", 21, math.inf)]
    assert [p.name for p in s.parts] == ["cabinet side", "wall", "base plate", "block", "fins", "bolt", "hole"]
    side, wall, plate, block, fins, bolt, hole = s.parts
    assert side.environment == "cabinet air" and side.material is None and not side.void
    foam = wall.material
    assert foam.conductivity == pytest.approx((0.031, 0.032))
    assert (foam.name, foam.density, foam.specific_heat, foam.source) == ("my foam", 30, 1400, "invented")
    assert wall.shapes == (Rectangle((0, 0.2), (0, 0.03)),)
    assert plate.material.conductivity == (209, 209)
    assert block.shapes[0].y == pytest.approx((0.002, 0.03))
    assert len(fins.shapes) == 12
    assert [f.x[0] for f in fins.shapes] == pytest.approx([0.05 + 0.008 * i for i in range(12)])
    assert isinstance(bolt.shapes[0], Polygon) and bolt.shapes[0].points[2] == pytest.approx((0.014, 0.03))
    assert hole.void and hole.shapes == (Disc((0.03, 0.01), 0.003),)
    assert (s.border.left, s.border.right, s.border.bottom, s.border.top) == (None, None, "cabinet air", "room")
    assert [j.between for j in s.joints] == [("base plate", "block"), ("base plate", "fins")]
    assert [j.resistance for j in s.joints] == pytest.approx([0.05e-3 / 0.9, 2e-5])
    face, tank = s.sources
    assert (face.segment.x, face.segment.y) == (pytest.approx((0.08, 0.12)), pytest.approx((0.036, 0.036)))
    assert face.heat == 30 and face.temperature is None
    assert tank.part == "block" and tank.temperature == 4 and tank.heat is None
    thermostat, bead = s.sensors
    assert thermostat.at == (0.025, 0.004) and thermostat.should_read == "cabinet air"
    assert bead.part == "wall" and bead.should_read == 23
    assert s.spreading[0].parts == ("base plate",) and s.spreading[0].along == "x"
    bridge = s.bridges[0]
    assert (bridge.remove, bridge.between, bridge.name) == (("bolt",), ("cabinet air", "room"), "the bolt")


def test_what_may_be_left_out(read):
    s = read(SMALL)
    assert (s.title, s.view, s.depth) == ("wall", "section", 1)
    assert (s.joints, s.sources, s.sensors, s.spreading, s.bridges) == ((), (), (), (), ())
    assert s.border.top is None


@pytest.mark.parametrize("unit, metres", [("mm", 1e-3), ("cm", 1e-2), ("m", 1)])
def test_lengths_are_in_the_unit_of_the_file(read, unit, metres):
    s = read(edited('unit = "mm"', f'unit = "{unit}"\ndepth = 2', SMALL))
    assert s.extent == pytest.approx((0, 100 * metres, 0, 30 * metres))
    assert s.depth == 2 * metres


def test_the_axisymmetric_and_plate_views(read):
    assert read(edited('unit = "mm"', 'unit = "mm"\nview = "axisymmetric"', SMALL)).view == "axisymmetric"
    plate = edited('unit = "mm"', 'unit = "mm"\nview = "plate"', SMALL) + 'thickness = 6\nfront = "air"'
    part = read(plate).parts[0]
    assert (part.thickness, part.front, part.back) == (0.006, "air", None)


def test_a_segment_may_be_vertical(read):
    s = read(edited('{ x = [80, 120], y = "wall + plate" }', '{ x = 40, y = ["wall", "wall + plate"] }'))
    assert s.sources[0].segment.vertical


def test_spreading_may_name_several_parts(read):
    s = read(edited('part = "base plate"\nalong = "x"', 'part = ["base plate", "block"]'))
    assert s.spreading[0].parts == ("base plate", "block") and s.spreading[0].along is None


def test_a_name_wins_over_a_named_number_in_should_read(read):
    assert read(edited('should_read = "room + 2"', 'should_read = "room"')).sensors[1].should_read == "room"
    assert read(edited('should_read = "room + 2"', 'should_read = "thermostat"')).sensors[1].should_read == "thermostat"
    assert read(edited('should_read = "room + 2"', "should_read = 5")).sensors[1].should_read == 5
    assert read(edited('should_read = "room + 2"\n', "")).sensors[1].should_read is None


def test_a_material_of_the_file_wins_over_the_table(read):
    s = read(SMALL + '[material."XPS foam"]\nconductivity = 0.05\n')
    assert s.parts[0].material.conductivity == (0.05, 0.05)
    assert s.parts[0].material.density is None


def test_line_ends_and_a_byte_order_mark_do_not_matter(read):
    assert read(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode()) == read(SMALL)


def test_overrides(read):
    s = read(FULL, wall=40, plate="wall / 4")
    assert s.let == {"wall": 40, "plate": 10, "block": 38, "room": 21}
    assert s.part_named["base plate"].shapes[0].y == pytest.approx((0.04, 0.05))


def test_a_named_number_may_be_called_path(read):
    assert read(edited("wall = 30", "wall = 30\npath = 1", SMALL), path=2).let["path"] == 2


@pytest.mark.parametrize(
    "let, message",
    [
        ({"wal": 40}, "let: there is no named number 'wal' to change; did you mean 'wall'?"),
        ({"wall": "block + 2"}, " goes in a circle"),
        ({"wall": "4x"}, "let, wall: '4x' is no expression"),
        ({"wall": math.nan}, "let, wall: nan is not finite"),
        ({"wall": True}, "let, wall: is true or false"),
        ({"wall": -40}, "part 'wall', rectangle: rectangle has no size"),
    ],
)
def test_overrides_that_are_refused(refusal, let, message):
    assert message in refusal(FULL, **let)


def test_an_override_where_the_file_has_no_named_numbers(refusal):
    text = edited("[let]\nwall = 30\n", "", edited('"wall"]', "30]", SMALL))
    assert refusal(text, wall=3) == "let: there is no named number 'wall' to change; there are none"


WALL_X = '{ x = [0, 200], y = [0, "wall"] }'
REFUSED = [
    # unknown and missing
    ('title = "Back', 'titel = "Back', "titel: unknown key; did you mean 'title'?"),
    ("[border]", "[boarder]", "boarder: unknown key; did you mean 'border'?"),
    ('[[joint]]\nbetween = ["base plate", "fins"]', "[[joints]]", "joints: unknown key; did you mean 'joint'?"),
    ("radius =", "rad =", "part 'hole', disc, rad: unknown key; did you mean 'radius'?"),
    ("void = true", "viod = true", "part 'hole', viod: unknown key; did you mean 'void'?"),
    ("radius =", "radus =", "part 'hole', disc, radus: unknown key; did you mean 'radius'?"),
    ("count = 12, step", "cuont = 12, step", "part 'fins', repeat, cuont: unknown key; did you mean 'count'?"),
    ("film = 8", "fillm = 8", "environment 'cabinet air', fillm: unknown key; did you mean 'film'?"),
    ("film = 8", "", "environment 'cabinet air', film: missing"),
    ("density = 30", "densty = 30", "material 'my foam', densty: unknown key; did you mean 'density'?"),
    ('name = "wall"\n', "", "part 2, name: missing"),
    ('unit = "mm"', "", "unit: missing"),
    ('unit = "mm"', 'unit = "inch"', "unit: 'inch' is not a unit of length"),
    ('view = "section"', 'view = "plan"', "view: 'plan' is not a view; did you mean 'plate'?"),
    (
        'material = "copper"',
        'material = "coper"',
        "part 'block', material: there is no material named 'coper'; did you mean 'copper'?",
    ),
    (
        'material = "my foam"',
        'material = "my fom"',
        "part 'wall', material: there is no material named 'my fom'; did you mean 'my foam'?",
    ),
    (
        'material = "copper"',
        'material = "FR4"',
        "part 'block', material: there is no material named 'FR4'; fdm materials finds it at 'glass-epoxy board'",
    ),
    (
        'material = "copper"',
        'material = "unobtainium"',
        (
            "part 'block', material: there is no material named 'unobtainium'; fdm materials lists those of the "
            'built-in table; describe others in [material."unobtainium"]'
        ),
    ),
    (
        "film = 8",
        "film = 8\naltitude = 500",
        (
            "environment 'cabinet air', altitude: unknown key; that of the file stands at its top, above all [tables]; "
            "here known are"
        ),
    ),
    ('top = "room"', 'top = "rom"', "border, top: there is no environment named 'rom'; did you mean 'room'?"),
    (
        'should_read = "cabinet air"',
        'should_read = "cabinet aire"',
        (
            "sensor 'thermostat', should_read: there is no environment, source or sensor named 'cabinet aire'; "
            "did you mean 'cabinet air'?"
        ),
    ),
    (
        'part = "base plate"',
        'part = "bas plate"',
        "spreading of 'bas plate', part: there is no part named 'bas plate'; did you mean 'base plate'?",
    ),
    (
        'remove = ["bolt"]',
        'remove = ["bolts"]',
        "bridge 'the bolt', remove: there is no part named 'bolts'; did you mean 'bolt'?",
    ),
    # wrong kinds
    ('title = "Back wall cut through one module"', "title = 3", "title: is a number; give a text in quotes"),
    ("void = true", "void = 1", "part 'hole', void: is a number; give true or false"),
    ("film = 8", "film = true", "environment 'cabinet air', film: is true or false; give a number"),
    ("film = 8", "film = nan", "environment 'cabinet air', film: nan is not finite"),
    ("film = 8", "film = -inf", "environment 'cabinet air', film: -inf is not finite"),
    ("temperature = 7", "temperature = inf", "environment 'cabinet air', temperature: inf is not finite"),
    ("temperature = 7", "temperature = 2024-01-01", "environment 'cabinet air', temperature: is a date"),
    ('between = ["base plate", "block"]', 'between = "block"', "joint 1, between: is text; give a list of names"),
    ('between = ["base plate", "block"]', 'between = ["block"]', "joint 1, between: holds 1 names; give two"),
    ('remove = ["bolt"]', "remove = []", "bridge 'the bolt', remove: is not a list of names"),
    ('remove = ["bolt"]', "remove = [3]", "bridge 'the bolt', remove: is not a list of names"),
    ("at = [25, 4]", "at = [25]", "sensor 'thermostat', at: holds 1 values; give two lengths"),
    ("at = [25, 4]", "at = 25", "sensor 'thermostat', at: is a number; give two lengths"),
    ("at = [25, 4]", "at = [25, [4]]", "sensor 'thermostat', at: is a list; give a number"),
    ("[14, 0],", "[14, 0, 0],", "part 'bolt', polygon, points: point 2 holds 3 values; give two numbers"),
    ("[14, 0],", "14,", "part 'bolt', polygon, points: point 2 is a number; give two numbers"),
    (WALL_X, "[0, 200]", "part 'wall', rectangle: is a list; give { x = .., y = .. }"),
    # expressions and numbers
    (
        'y = [0, "wall"] }',
        'y = [0, "waal"] }',
        "part 'wall', rectangle, y: 'waal' uses 'waal', which is not in [let]; did you mean 'wall'?",
    ),
    ('y = [0, "wall"] }', 'y = [0, "wall / 0"] }', "part 'wall', rectangle, y: 'wall / 0' divides by zero"),
    ('y = [0, "wall"] }', 'y = [0, "10**12"] }', "part 'wall', rectangle, y: 1e+09 m is too far"),
    ('y = [0, "wall"] }', f"y = [0, {'9' * 400}] }}", "part 'wall', rectangle, y: inf is not finite"),
    ('y = [0, "wall"] }', f"y = [0, {'9' * 9000}] }}", "holds a whole number of too many digits"),
    ("wall = 30", "wall = 1e400", "let, wall: inf is not finite"),
    ("wall = 30", 'wall = "block + 2"', "let: "),
    ("wall = 30", "wall = [30]", "let, wall: is a list"),
    ("plate = 6", "pi = 6", "let: 'pi' has a meaning of its own"),
    ("plate = 6", '"plate 2" = 6', "let: 'plate 2' cannot be a name"),
    # materials
    ("x = 0.031", "x = 0", "material 'my foam', conductivity: 0.0 is not a number above 0"),
    ("density = 30", "density = -30", "material 'my foam', density: -30.0 is not a number above 0"),
    (', y = "0.03 + 0.002"', "", "material 'my foam', conductivity, y: missing"),
    ('conductivity = { x = 0.031, y = "0.03 + 0.002" }', "", "material 'my foam', conductivity: missing"),
    # shapes
    (WALL_X, "{ x = [200, 0], y = [0, 5] }", "part 'wall', rectangle: rectangle has no size or is turned around"),
    ('radius = "wall / 10"', "radius = 0", "part 'hole', disc: disc has no size"),
    (', [14, "wall"], [10, "wall"]', "", "part 'bolt', polygon: polygon has 2 points"),
    ('[14, "wall"], [10, "wall"]', "[18, 0]", "part 'bolt', polygon: polygon has no area"),
    (f"rectangle = {WALL_X}", "", "part 'wall': give exactly one of rectangle, disc and polygon"),
    (
        "void = true",
        "void = true\nrectangle = { x = [0, 1], y = [0, 1] }",
        "part 'hole': give exactly one of rectangle, disc and polygon",
    ),
    (
        "void = true",
        'void = true\nmaterial = "steel"',
        "part 'hole': give exactly one of material, environment, gap",
    ),
    ("void = true", "void = false", "part 'hole': give exactly one of material, environment, gap"),
    ("void = true", "void = true\nthickness = 3", "part 'hole': thickness, front and back belong to"),
    (
        'segment = { x = [80, 120], y = "wall + plate" }',
        "segment = { x = [80, 120], y = [1, 2] }",
        "source 'hot face', segment: segment has no length or is slanted",
    ),
    # repeat
    (
        "count = 12",
        "count = 0",
        "part 'fins', repeat, count: 0 is not a whole number of copies; give one from 1 to 10000",
    ),
    ("count = 12", "count = 2.5", "part 'fins', repeat, count: 2.5 is not a whole number of copies"),
    ("count = 12", "count = 1_000_000", "part 'fins', repeat, count: 1e+06 is not a whole number of copies"),
    ("count = 12", 'count = "10**300"', "part 'fins', repeat, count: 1e+300 is not a whole number of copies"),
    ("count = 12", "count = true", "part 'fins', repeat, count: is true or false"),
    ("step = [8, 0]", "step = 8", "part 'fins', repeat, step: is a number; give two lengths"),
    # joints, sources, questions
    ("resistance = 2e-5", "", "joint 2, resistance: missing"),
    (
        "resistance = 2e-5",
        "resistance = 2e-5\nthickness = 1",
        "joint 2: give either resistance, or thickness with conductivity",
    ),
    ("thickness = 0.05\n", "", "joint 1, thickness: missing"),
    ("conductivity = 0.9", "", "joint 1, conductivity: missing"),
    ("conductivity = 0.9", "conductivity = 0", "joint 1: give a thickness of 0 or more and a conductivity above 0"),
    ("[let]\n", "[let]\nhöhe = 3\n", 'put names with other letters than a to z in quotes: "höhe" = ..'),
    ("depth = 40", "depth = 40,5", "; decimals take a point"),
    ("depth = 40", 'depth = "40,5"', "; decimals take a point"),
    ("depth = 40", 'depth = "40 mm"', "; leave units out"),
    ('unit = "mm"', "unit = “mm”", "; quotes are straight"),
    ("thickness = 0.05", "thickness = -1", "joint 1, thickness: -1 is not a length above 0"),
    ('heat = "2 * 15"', "", "source 'hot face': give exactly one of heat and temperature"),
    ("at = [25, 4]", "at = [250, 4]", "sensor 'thermostat', at: [250, 4] lies outside the drawing"),
    ('along = "x"', 'along = "z"', "spreading of 'base plate', along: 'z' is no direction"),
    ('between = ["cabinet air", "room"]\n', "", "bridge 'the bolt': 3 terminals have a given temperature"),
    ('view = "section"', 'view = "plate"', "depth: belongs to the section view"),
    ('view = "section"', 'view = "axisymmetric"', "depth: belongs to the section view"),
    ("depth = 40", "depth = 0", "depth: 0.0 is not a number above 0"),
    ('name = "bolt"', 'name = "wall"', "part: the name 'wall' is defined twice"),
]


@pytest.mark.parametrize("old, new, message", REFUSED, ids=[f"{i}" for i in range(len(REFUSED))])
def test_refused_with_place_and_nearest(refusal, old, new, message):
    assert message in refusal(edited(old, new))


@pytest.mark.parametrize("hidden, number", [("\\u001b[2J", "1B"), ("\\n", "0A"), ("\\u0000", "00"), ("\\u009b", "9B")])
def test_control_characters_are_refused_in_each_name(refusal, hidden, number):
    said = f"holds the hidden character U+00{number}; leave it out"
    assert refusal(edited('title = "Back', f'title = "{hidden}Back')) == f"title: {said}"
    for kind, name in (("part", "bolt"), ("environment", "room"), ("source", "hot face"), ("sensor", "thermostat")):
        message = refusal(edited(f'name = "{name}"', f'name = "{name}{hidden}"'))
        assert kind in message and message.endswith(f": {said}") and message.isprintable()
    message = refusal(FULL.replace("my foam", f"my foam{hidden}"))
    assert message.startswith("material 'my foam") and message.endswith(f": {said}") and message.isprintable()


def test_what_turns_the_direction_of_writing_is_refused_and_what_joins_letters_is_not(read, refusal):
    for code in ("202E", "2066", "200F", "2028", "FEFF"):
        assert f"U+{code}; leave it out" in refusal(edited('title = "Back', f'title = "\\u{code}Back'))
    assert read(edited('title = "Back', 'title = "\\u200d\\u00a0Back')).title.startswith("\u200d\xa0Back")


def test_single_brackets_where_double_are_meant(refusal):
    assert refusal('unit = "mm"\n[part]\nname = "a"') == "part: is a table; give [[part]], with double brackets"
    assert "part 1: is a number; write each as a table under [[part]]" in refusal('unit = "mm"\npart = [1]')


def test_materials_in_the_wrong_shape(refusal):
    assert 'material: is a list; write each as [material."NAME"]' in refusal(SMALL + '[[material]]\nname = "foam"')
    assert "material: 'conductivity' is a number" in refusal(SMALL + "[material]\nconductivity = 1")


def test_an_odd_key_is_shown_on_one_line(refusal):
    assert refusal('"a\\nb" = 1').startswith("'a\\nb': unknown key")


def test_tables_that_are_none(refusal):
    assert "let: is a number; give a table" in refusal('unit = "mm"\nlet = 3')
    assert "border: is a number; give { left = .., right = .., bottom" in refusal("border = 3" + SMALL)


def test_a_negative_conductivity_is_refused_even_if_unused(refusal):
    text = SMALL + '[material."spare"]\nconductivity = -1\n'
    assert refusal(text) == "material 'spare', conductivity: -1.0 is not a number above 0"


def test_broken_toml_tells_line_and_column(refusal):
    message = refusal('unit = "mm"\nwall 30\n')
    assert message.startswith("not valid TOML: ") and "line 2, column 6" in message
    assert "not valid TOML" in refusal('unit = "mm"\nunit = "cm"\n')


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("x = [12, 12 + gap]  # mm", "12 + gap"),
        ('air = { name = "a, b", film = 1 / 0.13, temperature = 4 }', "1 / 0.13"),
        ("let = { a = 3, b = max(2, a) }", "max(2, a)"),
        ("unit = mm", "mm"),
        ("width = 30 mm", "30 mm"),
        ('unit = "mm', None),
        ("[[part]", None),
        ("let = { a = 3,5 }", None),
        ("a = True", None),
    ],
)
def test_what_stands_without_quotes_is_told(refusal, line, value):
    message = refusal(f"depth = 100\n{line}\n")
    assert message.startswith("not valid TOML: ") and "line 2" in message
    _, told, _ = message.partition(f"; {value} is no number: put texts and expressions in quotes")
    assert told if value else "quotes" not in message


def test_hostile_files(refusal):
    assert "not valid TOML: nested too deeply" in refusal("a = " + "[" * 100_000)
    assert "is not UTF-8 text (byte 8)" in refusal(b'unit = "\xff"')
    assert "is larger than" in refusal("#" * (LARGEST_FILE + 1))
    assert "unit: missing" in refusal("")
    assert "is too long" in refusal(edited('"wall"]', '"' + "1 + " * 10_000 + '1"]', SMALL))


def test_paths_that_cannot_be_read(tmp_path):
    for path in (tmp_path / "none.toml", tmp_path, "null\0character"):
        with pytest.raises(InputError, match="cannot be read: ") as error:
            read_section(path)
        assert str(error.value).startswith(f"{path}: ")


@pytest.mark.parametrize("wrong", WRONG, ids=repr)
def test_any_value_in_any_place_is_read_or_refused_in_one_sentence(read, tmp_path, wrong):
    """Nothing but InputError, with the path first, may leave the reader."""
    refused = 0
    for at, text in with_wrong_value(FULL, wrong):
        try:
            read(text)
        except InputError as error:
            assert str(error).startswith(f"{tmp_path / 'wall.toml'}: ") and "\n" not in str(error), at
            refused += 1
    assert refused > 50


@pytest.mark.parametrize(
    "names, let, told",
    [
        ("", {}, ""),
        ('half = 2\nthick = "wall / half"', {}, ""),  # a goal or limit of a study
        ("wal = 40", {}, "let, wal: nothing in this file uses it; look for another spelling of it"),
        ("wal = 40", {"wall": "wal / 2"}, ""),
        ("altitude = 2000", {}, "let, altitude: nothing in this file uses it; write it above [let], where"),
        ("Panel = 40", {}, "let, Panel: nothing"),  # a title uses nothing
    ],
)
def test_named_numbers_without_use_are_told(read, names, let, told):
    """A key of the file that stands below [let] is a named number to TOML."""
    text = SMALL.replace("wall = 30", f"wall = 30\n{names}") + "[border]\ntop = 'air'"
    section = read(f'title = "Panel"\n{text}', **let)
    assert len(section.unused) == bool(told) and all(s.startswith(told) for s in section.unused)
    assert set(section.unused) <= set(check_section(section).warnings)
