"""Reading a cabinet file: everything a file may hold, and one clear sentence for everything it may not."""

import math
from pathlib import Path

import pytest

from fdm.cabinet.datasheet import DataSheet
from fdm.cabinet.reader import read_cabinet
from fdm.errors import InputError
from tests.wrong_values import WRONG, with_wrong_value

GEOMETRIES = Path(__file__).parents[2] / "geometries"

MODULE_SECTION = """
unit = "mm"
depth = 40
[let]
wall = 30
length = 100
[[environment]]
name = "inside"
temperature = 7
film = 8
[[environment]]
name = "outside"
temperature = 30
film = 8
[[part]]
name = "foam"
material = "XPS foam"
rectangle = { x = [0, "length"], y = [0, "wall"] }
[[part]]
name = "body"
void = true
rectangle = { x = [40, 60], y = [10, "wall - 10"] }
[border]
bottom = "inside"
top = "outside"
[[source]]
name = "cold face"
segment = { x = [40, 60], y = 10 }
heat = -5
[[source]]
name = "hot face"
segment = { x = [40, 60], y = "wall - 10" }
heat = 15
[[sensor]]
name = "on the skin"
at = [5, 0]
"""
SEAL_SECTION = """
unit = "cm"
{view}
[let]
gap = 1
[[environment]]
name = "in"
temperature = 7
film = 8
[[environment]]
name = "out"
temperature = 30
film = 8
[[part]]
name = "foam"
material = "XPS foam"
rectangle = {{ x = [0, 10], y = [0, 5] }}
[[part]]
name = "seal"
material = "foam rubber"
rectangle = {{ x = [0, "gap"], y = [0, 5] }}
[border]
bottom = "in"
top = "out"
[[bridge]]
remove = ["seal"]
[[sensor]]
name = "bead"
at = [9, 1]
"""

FULL = """
title = "A cabinet"
unit = "mm"

[let]
wall = 40
width = 400
room = 30
strings = 2
gap = "wall / 10"

[material."my foam"]
conductivity = 0.03
density = 30
specific_heat = 1400

[cabinet]
inside = ["width", 300, "width + 50"]
room = "room"
setpoint = 7
start = 25
air_changes = 0.5
inside_heat = 2

[[wall]]
name = "sides"
faces = ["left", "right", "front", "back"]
layers = [{ material = "PVC", thickness = 2 }, { material = "my foam", thickness = "wall - 2" }]
film_inside = 8
film_outside = 9

[[wall]]
name = "ends"
faces = ["top", "bottom"]
layers = [{ material = "my foam", thickness = "wall" }]
film_inside = 6
film_outside = 7

[[wall]]
name = "window"
area = 0.02
layers = [{ material = "glass", thickness = 6 }]
film_inside = 8
film_outside = 8

[[line]]
name = "edges"
length = "4 * width"
psi = 0.02

[[line]]
name = "lid seal"
length = 1400
section = "seal.toml"
bridge = "seal"
let = { gap = "gap / 2" }

[[line]]
name = "door seal"
length = 1000
section = "./seal.toml"
bridge = "seal"
let = { gap = 2 }

[[point]]
name = "screws"
count = 6
chi = 0.001

[[point]]
name = "bolts"
count = "2 * strings"
section = "bolt.toml"
bridge = "seal"

[module]
section = "module.toml"
let = { wall = "wall" }
inside = ["inside"]
outside = ["outside"]
wall = "sides"
wall_along = "x"
greatest_heat = 50
greatest_difference = 68
greatest_current = 6
greatest_voltage = 15.4
hot_side = 27
resistance_slope = 0.004
hot_sink = { film = 50, area = 0.1, efficiency = 0.5 }
cold_capacity = 20
hot_capacity = 30

[supply]
voltage = 12
lead_resistance = 0.1
series = 1
parallel = "strings"

[load]
mass = 5
material = "water"
surface = 0.4
film = 6
start = 20
heat = 1

[thermostat]
hysteresis = 1
sensor = "on the skin"
switches = "half"
"""

SINKS = """section = "module.toml"
let = { wall = "wall" }
inside = ["inside"]
outside = ["outside"]
wall = "sides"
wall_along = "x"
"""


@pytest.fixture
def read(tmp_path):
    (tmp_path / "module.toml").write_text(MODULE_SECTION)
    (tmp_path / "seal.toml").write_text(SEAL_SECTION.format(view=""))
    (tmp_path / "bolt.toml").write_text(SEAL_SECTION.format(view='view = "axisymmetric"'))
    (tmp_path / "bare.toml").write_text(SEAL_SECTION.format(view="").split("[[bridge]]")[0])

    def read(text, **let):
        path = tmp_path / "cabinet.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_cabinet(path, **let)

    return read


@pytest.fixture
def refusal(read, tmp_path):
    """The message with which a text is refused, without the file's path, which it must begin with."""

    def refusal(text, **let):
        with pytest.raises(InputError) as error:
            read(text, **let)
        start = f"{tmp_path / 'cabinet.toml'}: "
        assert str(error.value).startswith(start)
        assert str(error.value).count(start) == 1
        assert "\n" not in str(error.value)
        return str(error.value).removeprefix(start)

    return refusal


def edited(old, new, text=FULL):
    assert text.count(old) == 1, old
    return text.replace(old, new)


def test_everything_a_file_may_hold(read):
    c = read(FULL)
    assert (c.title, c.unit, c.room, c.setpoint, c.start) == ("A cabinet", "mm", 30, 7, 25)
    assert c.inside == pytest.approx((0.4, 0.3, 0.45))
    assert (c.air_changes, c.inside_heat) == (0.5, 2)
    assert c.let == {"wall": 40, "width": 400, "room": 30, "strings": 2, "gap": 4}
    sides, ends, window = c.walls
    assert sides.faces == ("left", "right", "front", "back") and sides.area is None
    assert [(x.material.name, x.thickness) for x in sides.layers] == [("PVC", 0.002), ("my foam", pytest.approx(0.038))]
    assert (sides.film_inside, sides.film_outside, ends.film_inside) == (8, 9, 6)
    assert window.area == 0.02 and window.faces == ()
    edges, lid, _ = c.lines
    assert (edges.length, edges.psi, edges.file) == (pytest.approx(1.6), 0.02, None)
    assert (lid.length, lid.psi, lid.bridge) == (pytest.approx(1.4), None, "seal")
    screws, bolts = c.points
    assert (screws.count, screws.chi, bolts.count, bolts.chi, bolts.bridge) == (6, 0.001, 4, None, "seal")
    assert bolts.file.section.view == "axisymmetric" and bolts.file.let == ()
    b = c.bank
    assert (b.cold, b.hot, b.inside, b.outside, b.wall) == ("cold face", "hot face", ("inside",), ("outside",), "sides")
    assert b.wall_area == pytest.approx(0.1 * 0.04)
    assert b.module.seebeck == pytest.approx(15.4 / 300.15) and b.module.resistance_slope == 0.004
    assert b.data_sheet == DataSheet(68, 6, hot_side=27, greatest_voltage=15.4, greatest_heat=50)
    assert b.cold_sink is None and b.hot_sink.resistance == pytest.approx(1 / 2.5)
    assert (b.cold_capacity, b.hot_capacity) == (20, 30)
    assert (b.supply.voltage, b.supply.current, b.supply.lead_resistance) == (12, None, 0.1)
    assert (b.supply.series, b.supply.parallel, b.supply.idle) == (1, 2, 0)
    assert (c.load.mass, c.load.specific_heat, c.load.surface) == (5, 4190, 0.4)
    assert (c.load.film, c.load.start, c.load.heat) == (6, 20, 1)
    t = c.thermostat
    assert (t.hysteresis, t.sensor, t.file, t.switches) == (1, "on the skin", b.file, "half")
    assert (t.inside, t.outside) == (("inside",), ("outside",))


def test_moisture(read):
    text = edited(
        "air_changes = 0.5", "air_changes = 0.5\nhumidity = { value = 60, uncertainty = 5 }\ninside_humidity = 80"
    )
    c = read(edited('bridge = "seal"\nlet = { gap = 2 }', 'bridge = "seal"\ninside = ["in"]\noutside = ["out"]', text))
    assert (c.humidity, c.dew_point, c.inside_humidity, c.load.moisture) == (60, None, 80, 0)
    assert "cabinet, humidity" in {u.place for u in c.uncertain}
    assert [(x.inside, x.outside) for x in c.lines] == [((), ()), ((), ()), (("in",), ("out",))]
    assert c.room_pressure == pytest.approx(0.6 * 4247, rel=1e-3)  # Pa
    c = read(edited("start = 20\n", "start = 20\nmoisture = 86.4\n", edited("air_changes = 0.5", "dew_point = 12")))
    assert c.load.moisture == pytest.approx(1e-6) and c.room_pressure == pytest.approx(1403, rel=1e-3)


def test_what_may_be_left_out(read):
    text = FULL
    for line in ('title = "A cabinet"\n', "start = 25\n", "air_changes = 0.5\n", "inside_heat = 2\n", "start = 20\n",
                 "\nheat = 1\n", "lead_resistance = 0.1\n", "series = 1\n", 'parallel = "strings"\n',
                 'switches = "half"\n', 'sensor = "on the skin"\n', "greatest_heat = 50\n",
                 "resistance_slope = 0.004\n", "cold_capacity = 20\n", "hot_capacity = 30\n"):  # fmt: skip
        text = edited(line, "\n" if line.startswith("\n") else "", text)
    c = read(text)
    assert (c.title, c.start, c.air_changes, c.inside_heat) == ("cabinet", None, 0, 0)
    assert (c.load.start, c.load.heat) == (30, 0)
    assert (c.bank.supply.lead_resistance, c.bank.supply.modules) == (0, 1)
    assert (c.thermostat.sensor, c.thermostat.file, c.thermostat.switches) == ("air", None, "all")
    assert (c.bank.data_sheet.greatest_heat, c.bank.cold_capacity, c.bank.module.resistance_slope) == (None, 0, 0)


def test_openings_lose_a_share_of_the_air(read):
    """Those of a lid or a door are guesses, and have the uncertainty of one."""
    opened = '[[opening]]\nname = "{}"\na_day = 4\n{}\n\n[module]\nsection'
    for given, share, spread in (('at = "top"', 0.2, 0.058), ('at = "side"', 0.9, 0.045), ("share = 0.5", 0.5, 0)):
        c = read(edited("[module]\nsection", opened.format("lid", given)))
        (lid,) = c.openings
        assert (lid.a_day, lid.share, lid.changes) == (4, share, pytest.approx(share / 6))
        stated = {u.place: u.uncertainty for u in c.uncertain}.get("opening 'lid', share", 0)
        assert stated == pytest.approx(spread, rel=0.01)


@pytest.mark.parametrize(
    "given, message",
    [
        ('at = "up"', """opening 'lid', at: 'up' is neither "top", a lid, nor "side", a door; """),
        ("", "opening 'lid': give exactly one of at and share"),
        ("share = 20", "opening 'lid', share: 20.0 is not a share of the air inside, from 0 to 1"),
    ],
)
def test_openings_that_are_refused(refusal, given, message):
    opened = f'[[opening]]\nname = "lid"\na_day = 4\n{given}\n[module]\nsection'
    assert refusal(edited("[module]\nsection", opened)).startswith(message)


ZONES = """
[[zone]]
name = "air below"
height = [0, 150]
inside_heat = 3

[[zone]]
name = "air above"
height = [150, "width + 50"]

[[zone]]
name = "air in a drawer"
share = 0.1
walls = { window = 1 }

[[exchange]]
name = "down"
between = ["air above", "air below"]
along = "cold sink"
flow = 3.6
height = 80
perimeter = "2 * width"
gap = 8

[[exchange]]
name = "crack"
between = ["air in a drawer", "air below"]
flow = { value = 1.8, uncertainty = 0.5 }

[module]
section"""


def zoned(*edits):
    text = edited("[module]\nsection", ZONES)
    for old, new in (('name = "screws"', 'name = "screws"\nzone = "air above"'), *edits):
        text = edited(old, new, text)
    return text


def test_zones_and_what_is_in_them(read):
    plate = 'zones = { "air below" = 0.8, "air above" = 0.2 }'
    plate += "\ncold_plate = { area = 0.02, gap = 5, emissivity = [0.9, 0.1] }"
    c = read(
        zoned(('material = "water"', f'material = "water"\n{plate}'), ("start = 25", "start = 25\nemissivity = 0.5"))
    )
    assert [(z.name, z.height, z.share, z.inside_heat) for z in c.zones] == [
        ("air below", (0, pytest.approx(0.15)), None, 3),
        ("air above", (pytest.approx(0.15), pytest.approx(0.45)), None, 0),
        ("air in a drawer", None, 0.1, 0),
    ]
    down, crack = c.exchanges
    assert (down.between, down.along_sink) == (("air above", "air below"), True)
    assert (down.flow, down.height, down.perimeter, down.gap) == pytest.approx((0.001, 0.08, 0.8, 0.008))
    assert crack.flow == pytest.approx(0.0005) and not crack.along_sink
    unsure = {u.place: u for u in c.uncertain}
    assert unsure["exchange 'down', factor"].between == pytest.approx((1 - 0.33 * 3**0.5, 1 + 0.33 * 3**0.5))
    assert unsure["exchange 'crack', flow"].uncertainty == 0.5
    assert (c.points[0].zone, c.points[1].zone, c.emissivity) == ("air above", None, 0.5)
    assert c.load_shares == {"air below": 0.8, "air above": 0.2} and c.load_zone == "air below"
    assert (c.load.facing.area, c.load.facing.gap, c.load.facing.emissivity) == (0.02, 0.005, (0.9, 0.1))
    assert c.wall_shares(c.walls[2]) == {"air in a drawer": 1}
    assert (c.sink_zones, c.thermostat_zone) == (("air above", "air below"), "air above")
    assert sum(c.air_shares.values()) == pytest.approx(1) and c.air_shares["air below"] == pytest.approx(0.3)


def test_what_zones_leave_out(read):
    """All that names no zone is in the first one; a line lies where the walls do."""
    c = read(zoned(('along = "cold sink"\nflow = 3.6\nheight = 80\nperimeter = "2 * width"\ngap = 8', "flow = 3.6")))
    assert c.load_shares == {"air below": 1} and c.sink_zones == ("air below", "air below")
    assert c.thermostat_zone == "air below"
    assert sum(c.loss_shares(None).values()) == pytest.approx(1) and len(c.loss_shares(None)) == 3
    contact = read(
        zoned(('material = "water"', 'material = "water"\nzone = "air above"\ncold_plate = { contact = 2 }'))
    )
    assert contact.load.contact == 2 and contact.load_zone == "air above"


@pytest.mark.parametrize(
    "edit, message",
    [
        (('along = "cold sink"', 'along = "cold skin"'), "exchange 'down', along: there is no thing that air"),
        (("\nflow = { value = 1.8, uncertainty = 0.5 }", ""), "exchange 'crack', flow: missing; give it in m3/h"),
        (("flow = { value = 1.8, uncertainty = 0.5 }", "flow = 1\nfactor = 2"), "exchange 'crack', factor: belongs to"),
        (('name = "screws"', 'name = "screws"\nbox = 1'), "point 'screws', box: unknown key"),
        (('zone = "air above"', 'zone = "air abode"'), "point 'screws', zone: there is no zone named 'air abode'"),
        (("walls = { window = 1 }", "walls = { windows = 1 }"), "zone 'air in a drawer', walls: there is no wall"),
        (("walls = { window = 1 }", "walls = 1"), "zone 'air in a drawer', walls: is a number; give a table of shares"),
        (("share = 0.1\n", ""), "zone 'air in a drawer': give exactly one of height and share"),
        (("mass = 5", 'mass = 5\nzone = "air below"\nzones = { }'), "load: give either zone or zones"),
        (("mass = 5", "mass = 5\ncold_plate = { contact = 1, gap = 2 }"), "load, cold_plate, gap: belongs to"),
        (("mass = 5", "mass = 5\ncold_plate = { area = 1, gap = 2, emissivity = [1] }"), "emissivity: holds 1 values"),
        (("hysteresis = 1", 'hysteresis = 1\nzone = "air below"'), "thermostat, zone: its sensor is in the modules'"),
        (("greatest_heat = 50", 'greatest_heat = 50\nzone = "air below"'), "module, zone: the exchange 'down' says"),
    ],
    ids=range(13),
)  # fmt: skip
def test_zones_that_are_refused(refusal, edit, message):
    assert message in refusal(zoned(edit))


def test_an_emissivity_needs_zones(refusal):
    message = "cabinet, emissivity: is that from zone to zone, and there are none; leave it out"
    assert refusal(edited("start = 25", "start = 25\nemissivity = 0.5")) == message


def test_a_module_between_two_sinks(read):
    text = edited('sensor = "on the skin"\n', "", edited(SINKS, "cold_sink = { resistance = 0.2 }\n"))
    bank = read(text).bank
    assert bank.file is None and bank.wall_area == 0
    assert (bank.cold_sink.resistance, bank.hot_sink.resistance) == (0.2, pytest.approx(0.4))


def test_a_module_by_its_own_figures(read):
    rated = FULL[FULL.index("greatest_heat") : FULL.index("hot_sink")]
    module = read(edited(rated, "seebeck = 0.05\nresistance = 2\nconductance = 0.5\n")).bank.module
    assert (module.seebeck, module.resistance, module.conductance) == (0.05, 2, 0.5)
    own = "seebeck = 0.05\nresistance = 2\nconductance = 0.5\nseebeck_slope = 0.002\nreference_mean = 25\n"
    module = read(edited(rated, own)).bank.module
    assert (module.seebeck_slope, module.reference_mean) == (0.002, 25)


def test_a_current_instead_of_a_voltage_and_a_specific_heat_instead_of_a_material(read):
    text = edited("voltage = 12", 'current = "2 * strings"', edited('material = "water"', "specific_heat = 3600"))
    c = read(text)
    assert (c.bank.supply.current, c.bank.supply.voltage, c.load.specific_heat) == (4, None, 3600)


def test_the_piece_of_wall_by_its_area_or_along_either_axis(read):
    assert read(edited('wall_along = "x"', 'wall_area = "0.001 * strings"')).bank.wall_area == 0.002
    assert read(edited('wall_along = "x"', 'wall_along = "y"')).bank.wall_area == pytest.approx(0.04 * 0.04)


def test_named_numbers_reach_the_sections(read):
    c = read(FULL)
    lid = c.lines[1]
    assert lid.file.section.let == {"gap": 2} and lid.file.let == (("gap", "2"),)
    assert c.bank.file.section.let["wall"] == 40 and c.bank.file.let == (("wall", "40"),)
    # each file in its own unit
    assert lid.file.section.part_named["seal"].shapes[0].x[1] == pytest.approx(0.02)


def test_a_section_used_twice_is_the_same(read):
    c = read(FULL)
    lid, door = (x.file for x in c.lines[1:])
    assert lid == door and hash(lid) == hash(door) and lid.path == "seal.toml"
    again = read(FULL, gap=6)
    assert again.lines[1].file != again.lines[2].file == door
    assert again.bank.file == c.bank.file


def test_a_section_elsewhere_is_found_from_the_cabinets_folder(read, tmp_path):
    (tmp_path / "inner").mkdir()
    (tmp_path / "inner" / "seal.toml").write_text(SEAL_SECTION.format(view=""))
    c = read(edited('section = "./seal.toml"', 'section = "inner/../inner/seal.toml"'))
    assert c.lines[2].file.path == "inner/seal.toml" and c.lines[2].file != c.lines[1].file
    assert read(edited("./seal.toml", str(tmp_path / "seal.toml"))).lines[2].file == c.lines[1].file


def test_a_thermostat_in_a_section_of_its_own(read):
    own = 'sensor = "bead"\nsection = "seal.toml"\ninside = ["in"]\noutside = ["out"]\nlet = { gap = 2 }'
    c = read(edited('sensor = "on the skin"', own))
    assert c.thermostat.file == c.lines[1].file and c.thermostat.inside == ("in",)


def test_a_thermostat_in_the_modules_section_by_name(read):
    own = 'sensor = "on the skin"\nsection = "module.toml"\nlet = { wall = 40 }'
    c = read(edited('sensor = "on the skin"', own))
    assert c.thermostat.file == c.bank.file and c.thermostat.outside == ("outside",)


def test_overrides(read):
    c = read(FULL, wall=60, width="wall * 5")
    assert c.inside[0] == pytest.approx(0.3) and c.walls[1].layers[0].thickness == pytest.approx(0.06)
    assert c.bank.file.let == (("wall", "60"),) and c.lines[1].file.let == (("gap", "3"),)


@pytest.mark.parametrize(
    "let, message",
    [
        ({"wal": 40}, "let: there is no named number 'wal' to change; did you mean 'wall'?"),
        ({"wall": "gap"}, " goes in a circle"),
        ({"wall": "2 * rom"}, "let, wall: '2 * rom' uses 'rom', which is not in [let]; did you mean 'room'?"),
        ({"wall": math.nan}, "let, wall: nan is not finite"),
        ({"wall": 15}, "module.toml: part 'body', rectangle: rectangle has no size"),
        ({"strings": 3}, "supply, parallel: 3 cannot be halved"),
        ({"strings": 1.5}, "supply, parallel: 1.5 is not a whole number of 1 or more"),
        ({"strings": 1000}, "wall 'sides': the modules' sections take more than its whole area"),
        ({"width": 0}, "line 'edges', length: 0.0 is not a number above 0"),
    ],
)
def test_overrides_that_are_refused(refusal, let, message):
    assert message in refusal(FULL, **let)


LID = 'section = "seal.toml"'
BOLT = 'section = "bolt.toml"\nbridge = "seal"'
REFUSED = [
    # unknown and missing
    ("[cabinet]", "[cabnet]", "cabnet: unknown key; did you mean 'cabinet'?"),
    ("[thermostat]", "[termostat]", "termostat: unknown key; did you mean 'thermostat'?"),
    ('title = "A cabinet"', 'titel = "A"', "titel: unknown key; did you mean 'title'?"),
    ('unit = "mm"', "", "unit: missing"),
    ('title = "A cabinet"', 'title = "A\\u001b[2J"', "title: holds the hidden character U+001B; leave it out"),
    ('name = "window"', 'name = "win\\ndow"', "wall 'win\\ndow': holds the hidden character U+000A; leave it out"),
    ('name = "edges"', 'name = "\\u202eedges"', "line '\\u202eedges': holds the hidden character U+202E; leave it out"),
    ('"./seal.toml"', '"./\\u001bseal.toml"', "seal.toml': holds the hidden character U+001B; leave it out"),
    ('"./seal.toml"', '"/dev/zero"', "section: /dev/zero: is a pipe or a device, which cannot be read twice; "),
    ('"./seal.toml"', '"."', ": cannot be read: Is a directory; give the path of a section file"),
    ('unit = "mm"', 'unit = "inch"', "unit: 'inch' is not a unit of length"),
    ("setpoint = 7", "set_point = 7", "cabinet, set_point: unknown key; did you mean 'setpoint'?"),
    ("setpoint = 7", "", "cabinet, setpoint: missing; give a number"),
    ('room = "room"', "", "cabinet, room: missing; give a number"),
    ("film_inside = 6", "film_insid = 6", "wall 'ends', film_insid: unknown key; did you mean 'film_inside'?"),
    ("film_inside = 6", "", "wall 'ends', film_inside: missing"),
    ('name = "ends"\n', "", "wall 2, name: missing"),
    ('layers = [{ material = "glass", thickness = 6 }]', "", "wall 'window', layers: missing; give at least one layer"),
    ("thickness = 6 }", "thicknes = 6 }", "wall 'window', layers 1, thicknes: unknown key; did you mean 'thickness'?"),
    (', thickness = 6 }', " }", "wall 'window', layers 1, thickness: missing; give a length"),
    ("length = 1400", "lenght = 1400", "line 'lid seal', lenght: unknown key; did you mean 'length'?"),
    ("length = 1400", "", "line 'lid seal', length: missing; give a length"),
    ("count = 6", "", "point 'screws', count: missing"),
    ("hot_side = 27", "", "module, hot_side: missing; give a number"),
    ("greatest_difference = 68", "", "module, greatest_difference: missing; give greatest_difference"),
    ("greatest_current = 6", "", "module, greatest_current: missing; give greatest_difference, greatest_current"),
    ("greatest_heat = 50\ngreatest_difference", "greatest_difference", None),
    ("greatest_voltage = 15.4", "", None),
    ("greatest_curr", "greatest_curent_", "module, greatest_curent_ent: unknown key; did you mean 'greatest_current'?"),
    ("[supply]\nvoltage = 12", "[supply]", "supply: give exactly one of voltage and current"),
    ("voltage = 12\n", "voltage = 12\ncurrent = 3\n", "supply: give exactly one of voltage and current"),
    ("lead_resistance", "leads", "supply, leads: unknown key"),
    ("mass = 5", "", "load, mass: missing"),
    ('material = "water"', "", "load: give exactly one of material and specific_heat"),
    ("hysteresis = 1", "", "thermostat, hysteresis: missing"),
    # wrong kinds and values
    ('inside = ["width", 300, "width + 50"]', "inside = [400, 300]", "cabinet, inside: holds 2 values; give three"),
    ('inside = ["width", 300, "width + 50"]', "inside = 400", "cabinet, inside: is a number; give three lengths"),
    ('"width + 50"', '"widht + 50"', "cabinet, inside: 'widht + 50' uses 'widht', which is not in [let]; did you mean"),
    ('"width", 300,', "0, 300,", "cabinet, inside: 0.0 is not a number above 0"),
    ("air_changes = 0.5", "air_changes = -1", "cabinet, air_changes: -1.0 is not a number of 0 or more"),
    ("air_changes = 0.5", "humidty = 60", "cabinet, humidty: unknown key; did you mean 'humidity'?"),
    ("start = 20\n", "moisture = -5\n", "load, moisture: -5 is below 0; give the water that evaporates from the load"),
    ("psi = 0.02", "psi = 0.02\ninside = 'in'", "line 'edges', inside: belongs to a section, but psi is given"),
    ("start = 25", "start = -300", "cabinet, start: -300.0 is not a temperature in degC above -273.15"),
    ("film_inside = 6", "film_inside = inf", "wall 'ends', film_inside: inf is not finite"),
    ("film_inside = 6", "film_inside = 0", "wall 'ends', film_inside: 0.0 is not a number above 0"),
    ('layers = [{ material = "glass", thickness = 6 }]', 'layers = { material = "glass", thickness = 6 }',
     "wall 'window', layers: is a table; give a list, [{ material = .., thickness = .. }, ...]"),
    ('{ material = "glass", thickness = 6 }', '"glass"', "wall 'window', layers 1: is text; write each as { mat"),
    ('material = "glass"', 'material = "glas"',
     "wall 'window', layers 1, material: there is no material named 'glas'; did you mean 'glass'?"),
    ("conductivity = 0.03", "conductivity = { x = 1, y = 2 }", "layers 2, material: 'my foam' conducts by direction"),
    ('"wall - 2"', '"wall - 50"', "wall 'sides', layers 2, thickness: -10 is not a length above 0"),
    ("area = 0.02", "area = -1", "wall 'window', area: -1.0 is not a number above 0"),
    ("area = 0.02", 'area = 0.02\nfaces = ["top"]', "wall 'window': give exactly one of faces and area"),
    ("area = 0.02", "", "wall 'window': give exactly one of faces and area"),
    ('faces = ["top", "bottom"]', 'faces = ["top", "botom"]',
     "wall 'ends', faces: there is no face named 'botom'; did you mean 'bottom'?"),
    ('faces = ["top", "bottom"]', 'faces = ["top", "left"]', "wall 'ends', faces: 'left' belongs to wall 'sides'"),
    ('faces = ["top", "bottom"]', 'faces = "top"', "wall 'ends', faces: is text; give a list of names"),
    ('name = "ends"', 'name = "sides"', "wall 'sides': the name is used twice"),
    ("count = 6", "count = 2.5", "point 'screws', count: 2.5 is not a whole number of 1 or more"),
    ("count = 6", "count = 0", "point 'screws', count: 0 is not a whole number of 1 or more"),
    ("length = 1400", "length = 0", "line 'lid seal', length: 0.0 is not a number above 0"),
    ("psi = 0.02", "psi = -1", "line 'edges', psi: -1.0 is not a number of 0 or more"),
    # sections
    ("psi = 0.02", f"psi = 0.02\n{LID}", "line 'edges': give exactly one of psi and section"),
    ("psi = 0.02", "", "line 'edges': give exactly one of psi and section"),
    ("psi = 0.02", 'psi = 0.02\nbridge = "seal"', "line 'edges', bridge: belongs to a section, but psi is given"),
    ("chi = 0.001", "chi = 0.001\nlet = { gap = 1 }", "point 'screws', let: belongs to a section, but chi is given"),
    (LID, 'section = "seel.toml"', "seel.toml: cannot be read: No such file"),
    (LID, "section = 3", "line 'lid seal', section: is a number; give a text in quotes"),
    (LID, r'section = "a\u0000b"', "line 'lid seal', section: "),
    ('gap = "gap / 2"', 'gab = "gap / 2"', "seal.toml: let: there is no named number 'gab' to change; did you mean"),
    ('gap = "gap / 2"', 'gap = "gab / 2"', "line 'lid seal', let, gap: 'gab / 2' uses 'gab', which is not in [let];"),
    ('let = { gap = "gap / 2" }', "let = 3", "line 'lid seal', let: is a number; give a table of named numbers"),
    ('let = { gap = "gap / 2" }', "let = { gap = -1 }", "seal.toml: part 'seal', rectangle: rectangle has no size"),
    (f'{LID}\nbridge = "seal"', LID, "line 'lid seal', bridge: missing; name the bridge of seal.toml to count: 'seal'"),
    (f'{LID}\nbridge = "seal"', 'section = "bare.toml"', "bridge: missing; name the bridge of bare.toml to count: it"),
    (f'{LID}\nbridge = "seal"', f'{LID}\nbridge = "seel"',
     "line 'lid seal', bridge: there is no bridge of seal.toml named 'seel'; did you mean 'seal'?"),
    (LID, 'section = "bolt.toml"', "line 'lid seal', section: bolt.toml has the view 'axisymmetric', but psi needs"),
    (BOLT, 'section = "seal.toml"\nbridge = "seal"',
     "point 'bolts', section: seal.toml has the view 'section', but chi needs"),
    # the module
    ('inside = ["inside"]\n', "", "module: 'inside' of module.toml must be named in exactly one of inside and outside"),
    ('inside = ["inside"]', 'inside = ["insid"]',
     "module, inside: there is no environment of module.toml named 'insid'; did you mean 'inside'?"),
    ('outside = ["outside"]', 'outside = ["outside", "inside"]', "module: 'inside' of module.toml must be named in"),
    ('wall_along = "x"', 'wall_along = "x"\ncold = "cold fase"',
     "module, cold: module.toml has no source with heat named 'cold fase'; did you mean 'cold face'?"),
    ('wall_along = "x"', 'wall_along = "x"\ncold = "hot face"', "module: cold and hot name the same face"),
    ('section = "module.toml"\nlet = { wall = "wall" }', 'section = "seal.toml"',
     "module, cold: seal.toml has no source with heat named 'cold face'; there are none"),
    ('wall = "sides"', 'wall = "side"', "module, wall: there is no wall named 'side'; did you mean 'sides'?"),
    ('wall = "sides"\n', "", "module, wall_along: belongs to a wall, and none is given; leave it out"),
    ('wall_along = "x"', "", "module: give exactly one of wall_area and wall_along"),
    ('wall_along = "x"', 'wall_along = "z"', "module, wall_along: 'z' is no direction; give \"x\" or \"y\""),
    ('wall_along = "x"', "wall_area = -1", "module, wall_area: -1.0 is not a number of 0 or more"),
    ('section = "module.toml"\nlet = { wall = "wall" }', 'section = "bolt.toml"',
     "module, wall_along: bolt.toml has the view 'axisymmetric' and no depth; give wall_area"),
    (SINKS, "", "module, cold_sink: missing; without a section the module needs a cold_sink and a hot_sink"),
    ('section = "module.toml"\n', "", "module, let: belongs to a section, and none is given; leave it out"),
    ("greatest_current = 6", "greatest_current = 0", "module, greatest_current: 0.0 is not a number above 0"),
    ("greatest_difference = 68", "greatest_difference = 400", "module, greatest_difference: 400 K below a hot side"),
    ("hot_side = 27", "hot_side = 27\nseebeck = 0.05", "module, greatest_heat: is a data sheet's figure, but seebeck"),
    ("hot_side = 27", "hot_side = 27\nreference_mean = 5", "module, reference_mean: belongs to seebeck, resistance"),
    ("resistance_slope = 0.004", "resistance_slope = 0.4", "module, resistance_slope: 0.4 is not a relative change"),
    (FULL[FULL.index("greatest_heat") : FULL.index("resistance_slope")], "", "module: no figures of the module; give"),
    (FULL[FULL.index("greatest_heat") : FULL.index("resistance_slope")], "seebeck = 1\nresistance = 2\n",
     "module, reference_mean: missing"),
    (FULL[FULL.index("greatest_heat") : FULL.index("hot_sink")], "seebeck = 1\nresistance = 2\n",
     "module, conductance: missing"),
    ("cold_capacity = 20", "cold_capacity = -1", "module, cold_capacity: -1.0 is not a number of 0 or more"),
    ("film = 50, ", "", "module, hot_sink: give exactly one of resistance, film and section"),
    ("film = 50, ", "resistance = 1, ", "module, hot_sink, area: belongs to a film, but resistance is given"),
    ("area = 0.1, ", "", "module, hot_sink, area: missing"),
    ("area = 0.1, ", "area = 0, ", "module, hot_sink, area: 0.0 is not a number above 0"),
    ("efficiency = 0.5", "efficiency = 2", "module, hot_sink, efficiency: 2.0 is not a number above 0 and at most 1"),
    ("efficiency = 0.5", "eficiency = 1", "module, hot_sink, eficiency: unknown key; did you mean 'efficiency'?"),
    # supply, load, thermostat
    ("voltage = 12", "voltage = 0", "supply, voltage: 0 leaves the modules off, with nothing to compare"),
    ("voltage = 12", "voltage = -12", "supply, voltage: -12.0 is not a number of 0 or more"),
    ("series = 1", "series = 1.5", "supply, series: 1.5 is not a whole number of 1 or more"),
    ('material = "water"', 'material = "watr"', "load, material: there is no material named 'watr'; did you mean"),
    ('material = "water"', 'material = "gap pad"', "load, material: 'gap pad' has no specific heat; give the load's"),
    ("mass = 5", "mass = 0", "load, mass: 0.0 is not a number above 0"),
    ("start = 20", "start = -274", "load, start: -274.0 is not a temperature"),
    ("hysteresis = 1", "hysteresis = 0", "thermostat, hysteresis: 0.0 is not a number above 0"),
    ('switches = "half"', 'switches = "halve"', "thermostat, switches: 'halve' is neither \"all\" nor \"half\""),
    ('sensor = "on the skin"', 'sensor = "on a skin"',
     "thermostat, sensor: there is no sensor of module.toml named 'on a skin'; did you mean 'on the skin'?"),
    ('sensor = "on the skin"', LID, "thermostat, section: belongs to a sensor in a section, but sensor is \"air\""),
    ('sensor = "on the skin"', 'sensor = "bead"\nlet = { gap = 1 }', "thermostat, let: belongs to a section, and none"),
    ('sensor = "on the skin"', f'sensor = "bead"\n{LID}', "thermostat: 'in' of seal.toml must be named in exactly one"),
]  # fmt: skip


@pytest.mark.parametrize("old, new, message", REFUSED, ids=[f"{i}" for i in range(len(REFUSED))])
def test_refused_with_place_and_nearest(read, refusal, old, new, message):
    text = FULL.replace(old, new, 1)
    assert text != FULL
    if message is None:  # three of the four ratings are enough
        assert read(text).bank.module.seebeck > 0
    else:
        assert message in refusal(text)


def test_a_missing_table_is_named(refusal):
    for table in ("cabinet", "module", "supply", "load", "thermostat"):
        begin = FULL.index(f"[{table}]")
        end = FULL.find("\n[", begin)
        assert refusal(FULL[:begin] + (FULL[end:] if end > 0 else "")).startswith(f"{table}: missing; give {{ ")


def test_a_face_without_a_wall(refusal):
    text = edited('wall = "sides"\nwall_along = "x"\n', "")
    bare = text[: text.index("[[wall]]")] + text[text.index("[module]") :]
    assert refusal(bare) == "wall: no wall covers the face 'left'; name it in the faces of a wall"


def test_single_brackets_where_double_are_meant(refusal):
    text = FULL[: FULL.index("[[line]]")] + '[line]\nname = "a"\n' + FULL[FULL.index("[[point]]") :]
    assert refusal(text) == "line: is a table; give [[line]], with double brackets"


def test_a_sensor_without_any_section(refusal):
    text = edited(SINKS, "cold_sink = { resistance = 0.2 }\n")
    assert "thermostat, sensor: 'on the skin' needs the section it is in" in refusal(text)


def test_a_section_with_a_third_heat_terminal(refusal, tmp_path):
    extra = '[[source]]\nname = "heater"\nsegment = { x = [0, 20], y = 0 }\nheat = 1\n'
    (tmp_path / "three.toml").write_text(MODULE_SECTION + extra)
    message = refusal(edited('section = "module.toml"', 'section = "three.toml"'))
    assert message.startswith("module, section: three.toml has a third heat terminal 'heater'")


def test_a_cabinet_file_is_no_section(read, tmp_path):
    said = "line 'lid seal', section: .*cabinet.toml: .cabinet.: this file describes a whole cabinet"
    with pytest.raises(InputError, match=said):
        read(FULL.replace(LID, 'section = "cabinet.toml"', 1))


def test_a_fault_inside_a_section_names_both_files(refusal, tmp_path):
    (tmp_path / "module.toml").write_text(MODULE_SECTION.replace("film = 8", "flim = 8", 1))
    path = tmp_path / "module.toml"
    expected = f"module, section: {path}: environment 'inside', flim: unknown key; did you mean 'film'?"
    assert refusal(FULL) == expected


def test_files_that_cannot_be_read(refusal, tmp_path):
    assert "not valid TOML: " in refusal("[cabinet")
    assert "is not UTF-8 text (byte 9)" in refusal(b'title = "\xff"')
    with pytest.raises(InputError, match="cannot be read: .*; give the path of a cabinet file"):
        read_cabinet(tmp_path / "none.toml")


@pytest.mark.parametrize("name, modules", [("bulb_cabinet", 2), ("bulb_cabinet_single", 1)])
def test_the_demos_read(name, modules):
    path = GEOMETRIES / f"{name}.toml"
    c = read_cabinet(path)
    assert c.bank.supply.modules == modules
    assert c.bank.file.path == "around_module.toml" and ("wall", "60") in c.bank.file.let
    assert c.bank.wall_area == pytest.approx(3.14159 * (c.bank.file.section.let["end"] / 1e3) ** 2)
    places = {"cold_sink": ("block A", "block B")[:modules], "hot_sink": ("module A", "module B")[:modules]}
    assert {key: sink.places for key, sink in c.bank.plates.items()} == places
    assert c.bank.fan_power == 3.5 and c.bank.cold_sink.block.length == pytest.approx(0.056)
    assert 0.4 < sum(c.wall_area(w) for w in c.walls) < 1.0
    thicker = read_cabinet(path, wall=80)
    files = [x.file for x in (*thicker.lines[1:], thicker.bank, thicker.thermostat)]
    assert all(("wall", "80") in f.let for f in files)
    assert ("foam", "80") in thicker.points[0].file.let


@pytest.mark.parametrize("wrong", WRONG, ids=repr)
def test_any_value_in_any_place_is_read_or_refused_in_one_sentence(read, tmp_path, wrong):
    """Nothing but InputError, with the path first, may leave the reader."""
    refused = 0
    for at, text in with_wrong_value(FULL, wrong):
        try:
            read(text)
        except InputError as error:
            assert str(error).startswith(f"{tmp_path / 'cabinet.toml'}: ") and "\n" not in str(error), at
            refused += 1
    assert refused > 50
