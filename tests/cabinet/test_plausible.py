"""Figures of a cabinet out of all proportion are told; a module whose figures fall below 0 fails the answers."""

from dataclasses import replace

import pytest

from fdm.cabinet.bank import Sink
from fdm.cabinet.datasheet import DataSheet
from fdm.cabinet.load import Load
from fdm.cabinet.losses import LineLoss, Opening, PointLoss
from fdm.cabinet.plausible import implausible_figures
from fdm.cabinet.reader import read_cabinet
from fdm.cabinet.solution import solve_cabinet
from fdm.cabinet.supply import Supply
from fdm.cabinet.walls import Layer, Wall
from fdm.cabinet.zones import Exchange, Facing, Zone
from tests.cabinet.plain_box import FACES, FOAM, IN_A_WALL, SEAL_FILE, SKIN, SLOPING, box, solved

SHEET = DataSheet(68, 6, 27, greatest_voltage=15.4)
LOAD = Load(mass=5, specific_heat=3600, surface=0.3, film=8, start=25)
LAYERS = (Zone("upper", (0.1, 0.3)), Zone("lower", (0, 0.1)))


def along(height):
    return Exchange("loop", ("upper", "lower"), along="cold sink", height=height, perimeter=0.5)


@pytest.mark.parametrize(
    "bank, changes, told",
    [
        ({}, {}, ""),
        ({}, {"room": 298}, "cabinet, room: 298 degC is hotter"),
        ({}, {"setpoint": 280}, "if these are kelvin, give 6.85"),
        ({"data_sheet": DataSheet(68, 6, 300, greatest_voltage=15.4)}, {}, "module, hot_side: 300 degC"),
        ({}, {"inside": (400, 300, 300), "unit": "m"}, '300 m is no small cabinet; look whether unit = "m"'),
        ({}, {"load": replace(LOAD, mass=5000)}, "load, mass: 5000 kg are more than 36 litres"),
        ({}, {"load": replace(LOAD, specific_heat=3.6)}, "give joules, not kilojoules"),
        ({}, {"load": replace(LOAD, film=8000)}, "load, film: a film of 8000 W/(m2 K)"),
        ({}, {"zones": LAYERS, "exchanges": (along(0.12),)}, ""),
        ({}, {"zones": LAYERS, "exchanges": (along(0.00012),)}, "exchange 'loop', height: 0.00012 m is not that"),
        ({}, {"zones": LAYERS, "exchanges": (Exchange("fan", ("upper", "lower"), 10 / 3600),)}, ""),
        ({}, {"zones": LAYERS, "exchanges": (Exchange("fan", ("upper", "lower"), 1e-6),)}, "flow: 0.0036 m3/h is not"),
        ({}, {"zones": LAYERS, "exchanges": (Exchange("fan", ("upper", "lower"), 3.0),)}, "flow: 10800 m3/h is not"),
        ({}, {"load": replace(LOAD, surface=3000)}, "load, surface: 3000 m2 is far more than the faces inside"),
        ({}, {"altitude": 0.5}, "altitude: 0.5 m is felt by no air; if these are kilometres, give 500"),
        ({}, {"altitude": 3.0}, ""),
        ({"data_sheet": DataSheet(68, 6000, 27, greatest_voltage=15.4)}, {}, "greatest_current: 6000 A are more than"),
        ({}, {"air_changes": 5000.0}, "cabinet, air_changes: 5000 an hour are those of no closed cabinet"),
        ({}, {"walls": (Wall("all", (Layer(SKIN, 40.0),), 8, 9, FACES),)}, "wall 'all', layers: they are 40 m thick"),
        ({}, {"lines": (LineLoss("edges", 3.0, 18.0),)}, "line 'edges', psi: 18 W/(m K) are more than any edge"),
        ({}, {"points": (PointLoss("bolts", 3, 30.0),)}, "point 'bolts', chi: 30 W/K are more than any bolt passes"),
        ({"supply": Supply(voltage=8, lead_resistance=200)}, {}, "lead_resistance: 200 ohm are more than such a"),
        ({"supply": Supply(voltage=8000)}, {}, "supply, voltage: 8000 V are more than such a supply has; give V"),
        ({"hot_sink": Sink(1e-6)}, {}, "module, hot_sink: its 1e-06 K/W are less than sinks of small cabinets have"),
        ({}, {"lines": (LineLoss("edges", 3000.0, 0.03),)}, "line 'edges', length: 3000 m is far more"),
        ({}, {"walls": (Wall("all", (Layer(SKIN, 0.04),), 8, 9, area=1e6),)}, "wall 'all', area: 1e+06 m2 is"),
        ({}, {"openings": (Opening("lid", 5000, 0.2),)}, "opening 'lid', a_day: 5000 is more than once a minute"),
        ({}, {"room": 77}, "if these are degrees Fahrenheit, give 25"),
        ({"cold_sink": Sink(300)}, {}, "module, cold_sink: its 300 K/W are more than"),
        ({"cold_capacity": 0.3}, {}, "module, cold_capacity: 0.3 J/K are not those of a sink or plate"),
        ({"data_sheet": SHEET, "supply": Supply(voltage=230)}, {}, "voltage: 230 V are 230 V for each module, far"),
        ({"data_sheet": SHEET, "supply": Supply(current=90, parallel=2)}, {}, "current: 90 A are 45 A for each module"),
        ({"data_sheet": SHEET, "supply": Supply(voltage=48, series=4)}, {}, ""),
        ({}, {"start": 290.0}, "cabinet, start: 290 degC is hotter"),
        ({}, {"setpoint": 45.0}, "if these are degrees Fahrenheit, give 7.22"),
        ({}, {"inside_heat": 1500.0}, "cabinet, inside_heat: 1500 W are more than any small cabinet takes away"),
        ({}, {"load": replace(LOAD, heat=-0.5)}, "load, heat: -0.5 W is below 0, so that the load itself cools"),
        ({}, {"load": replace(LOAD, moisture=2e-5 / 86400), "humidity": 60}, "if kilograms are meant, give 20"),
        ({}, {"load": replace(LOAD, contact=5000.0)}, "cold_plate, contact: 5000 W/K are more than any load"),
        ({}, {"load": replace(LOAD, facing=Facing(300, 0.01, (0.9, 0.9)))}, "cold_plate, area: 300 m2 is more than"),
        ({}, {"walls": (Wall("all", (Layer(FOAM, 4e-5),), 8, 9, FACES),)}, "layer of 'foam': 4e-05 m is thinner than"),
        ({}, {"lines": (LineLoss("edges", 0.003, 0.03),)}, "line 'edges', length: 0.003 m is shorter than any"),
        ({}, {"points": (PointLoss("bolts", 3, 10.0),)}, "point 'bolts', chi: 10 W/K are more than any bolt passes"),
        ({}, {"zones": LAYERS, "exchanges": (replace(along(0.12), perimeter=8e-4),)}, "perimeter: 0.0008 m is not"),
        ({}, {"zones": LAYERS, "exchanges": (replace(along(0.12), gap=8e-6),)}, "gap: 8e-06 m is not how far fins"),
        ({}, {"zones": LAYERS, "exchanges": (replace(along(0.12), factor=150),)}, "if % are meant, give 1.5"),
        ({"hot_sink": Sink(0.2, fan_power=2000)}, {}, "hot_sink, fan_power: 2000 W is far more than such a fan takes"),
    ],
)  # fmt: skip
def test_likely_slips(bank, changes, told):
    said = list(implausible_figures(box(bank, **changes)))
    assert len(said) == bool(told) and all(told in s for s in said)


def test_a_module_whose_figures_fall_below_zero_fails_the_answers():
    """0.55 % a kelvin from a mean of 300 degC: no resistance is left below 118 degC."""
    solved = solve_cabinet(box({"module": replace(SLOPING, reference_mean=300.0)}))
    assert "the modules' figures fall below 0" in solved.failed and solved.failed in solved.warnings


def test_modules_turned_around_are_told():
    bank = IN_A_WALL | {"supply": Supply(voltage=8, parallel=2)}
    for faces, told in (({}, False), ({"cold": "hot face", "hot": "cold face"}, True)):
        said = solve_cabinet(box(bank | faces, setpoint=-60), solved()).warnings
        assert any("look whether cold and hot, or inside and outside, are swapped" in w for w in said) == told


@pytest.mark.parametrize("inside, told", [("in", False), ("out", True)])
def test_inside_and_outside_the_wrong_way_round_are_told(inside, told):
    """The seal is drawn with 5 degC in and 25 degC out."""
    (outside,) = {"in", "out"} - {inside}
    line = LineLoss("seal", 1.2, file=SEAL_FILE, bridge="seal", inside=(inside,), outside=(outside,))
    said = [w for w in implausible_figures(box(lines=(line,))) if "swapped" in w]
    assert len(said) == told
    assert all("'out', named as inside, has 25 degC there, and 'in', named as outside, 5 degC" in s for s in said)


def test_plates_drawn_for_the_other_side_are_told():
    cabinet = read_cabinet("geometries/bulb_cabinet.toml")
    bank = cabinet.bank
    cold, hot = bank.plates["cold_sink"], bank.plates["hot_sink"]
    swapped = replace(bank, cold_sink=_in_place_of(cold, hot), hot_sink=_in_place_of(hot, cold))
    said = [w for w in implausible_figures(replace(cabinet, bank=swapped)) if "sink's file" in w]
    assert len(said) == 2
    assert said[0].startswith("module, cold_sink: in ") and "a module gives 39 W, and its air has 30 degC" in said[0]
    assert said[1].endswith("a module takes 10 W, and its air has 7 degC: look whether it is the cold sink's file")
    shared = replace(bank, cold_sink=_in_place_of(cold, hot))  # one drawing for both sides
    (told,) = implausible_figures(replace(cabinet, bank=shared))
    assert told.startswith("module: cold_sink and hot_sink are both hot_sink.toml, alike")
    taller = replace(shared.cold_sink.file, let=(("height", "60"),))
    differs = replace(shared, cold_sink=replace(shared.cold_sink, file=taller))
    assert list(implausible_figures(replace(cabinet, bank=differs))) == []


def _in_place_of(sink, other):
    """The plate of the other side, with the air of this one's."""
    airs = tuple(e.name for e in other.file.section.environments)
    return replace(other, inside=airs if sink.inside else (), outside=airs if sink.outside else (), block=None)
