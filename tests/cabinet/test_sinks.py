"""Modules on plates with fins, beside hand calculations from the plate's own network."""

from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
from rich.console import Console
from scipy.optimize import root

from fdm.cabinet.air import flows
from fdm.cabinet.at_work import plate_terminals
from fdm.cabinet.bank import Block, PlateSink, Sink
from fdm.cabinet.budget import budget
from fdm.cabinet.circuit import circuit
from fdm.cabinet.cold_places import cold_places
from fdm.cabinet.following import circuit_at_work
from fdm.cabinet.load import Load
from fdm.cabinet.module import ThermoelectricModule
from fdm.cabinet.moisture import with_moisture
from fdm.cabinet.plausible import implausible_figures
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sections import lumped
from fdm.cabinet.sinks import PLACE, half_apart, places_apart, plate_network, plate_stored
from fdm.cabinet.solution import solve_cabinet
from fdm.cabinet.steady import operating_point
from fdm.cabinet.supply import Supply
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.zones import Exchange, Zone
from fdm.errors import InputError
from fdm.output.tables.cabinet import print_cabinet
from fdm.output.tables.cabinet_summary import print_cabinet_summary
from fdm.section.model import Environment, Part, Rectangle, Section, Segment, Sensor, Source
from fdm.solving.solution import superposed
from fdm.solving.steady import solve
from tests.cabinet.plain_box import FOAM, METAL, MODULE, box
from tests.conduction.stack.plates import fins, sink

LEFT, CORNER = Rectangle((0.01, 0.04), (0.02, 0.05)), Rectangle((0.07, 0.1), (0.12, 0.15))
PLATE = SectionFile(
    "plate.toml",
    (),
    sink(
        parts=(Part("plate", (Rectangle((0, 0.1), (0, 0.15)),), METAL, thickness=0.006),),
        fins=(fins(material=METAL),),
        sources=tuple(
            Source(name, part="plate", face="back", rectangle=r, heat=10) for name, r in (("A", LEFT), ("B", CORNER))
        ),
    ),
)
HOT = PlateSink(PLATE, ("A", "B"), (), ("air", "still"), joint=2e-5, fan_power=2)
BLOCK = Block(METAL, 0.05)
COLD = PlateSink(PLATE, ("A",), ("air", "still"), (), joint=3e-5, block=BLOCK, fan_power=1.5)
AROUND = SectionFile(
    "around.toml",
    (),
    Section(
        "wall around a module",
        (
            Part("air inside", (Rectangle((0.06, 0.1), (-0.01, 0)),), environment="inside"),
            Part("no plate", (Rectangle((0, 0.06), (-0.01, 0)),), void=True),
            Part("wall", (Rectangle((0, 0.1), (0, 0.05)),), FOAM),
            Part("module", (Rectangle((0, 0.02), (0.04, 0.05)),), void=True),
        ),
        (Environment("inside", 7, 8), Environment("outside", 30, 8)),
        depth=0.1,
        sources=(
            Source("cold", segment=Segment((0, 0.06), (0, 0)), temperature=0),
            Source("hot", segment=Segment((0.02, 0.06), (0.05, 0.05)), temperature=50),
        ),
    ),
)
BANK = {"supply": Supply(voltage=8, parallel=2), "cold_sink": COLD, "hot_sink": HOT}
IN_WALL = BANK | {"file": AROUND, "cold": "cold", "hot": "hot", "inside": ("inside",), "outside": ("outside",)}


@pytest.fixture(scope="module")
def solved():
    return {file: solve(file.section, 0.02, max_cells=30_000) for file in (PLATE, AROUND)}


def cabinet(bank, **changes):
    return box({"cold_capacity": 0, "hot_capacity": 0} | bank, **changes)


def circuit_of(bank, solved, **changes):
    return circuit(cabinet(bank, **changes), {file: lumped(s) for file, s in solved.items()})


def hand(solved, places, watts, air, still):
    """degC of each place of the plate with so many watts in each of `places`, from its fields' superposition."""
    n = solved[PLATE].network
    heat = np.array([watts * (name in places) for name in n.heat])
    return n.values.weight @ [air, still] + n.values.resistance @ heat


def test_the_mean_of_the_places_is_that_of_the_plate_with_even_watts(solved):
    n = plate_network(replace(HOT, joint=0.0), solved[PLATE].network)
    assert n.heat == (PLACE,)
    both = hand(solved, ("A", "B"), 5, 20, 30)
    assert both[0] != pytest.approx(both[1], abs=0.5)
    mean = n.values.weight[0] @ [20, 30] + n.values.resistance[0, 0] * 10
    assert mean == pytest.approx(both.mean(), rel=1e-12)
    apart = places_apart(HOT, solved[PLATE].network, {"air": 20, "still": 30}, 5)
    assert apart == pytest.approx(np.ptp(both), rel=1e-12)


def test_places_are_not_alike_while_half_of_the_modules_are_off(solved):
    """Which is told, as the lumped cabinet takes them so: beside the fields with one place on, and one plate of two."""
    network = solved[PLATE].network
    one = hand(solved, ("A",), 5, 25, 25)
    assert 0.2 < half_apart(HOT, network, 5) == pytest.approx(one[0] - one.mean(), rel=1e-9)
    assert half_apart(COLD, network, 5) == pytest.approx((one[0] - 25) / 2, rel=1e-9)
    told = solve_cabinet(cabinet(IN_WALL, thermostat=Thermostat(hysteresis=30, switches="half")), solved).warnings
    said = [w for w in told if w.startswith("thermostat, switches: while half of the modules are off")]
    assert len(said) == 2 and "K colder" in said[0] and "K warmer" in said[1]


def test_what_a_plate_stores_is_that_of_its_metal_whatever_it_is_shared_among(solved):
    metal = METAL.density * METAL.specific_heat * 0.1 * (0.15 * 0.006 + 16 * 0.0015 / 0.1 * 0.15 * 0.04)
    for places in (("A", "B"), ("B",)):
        stored = plate_stored(replace(HOT, places=places), lumped(solved[PLATE]))
        assert sum(stored.values()) == pytest.approx(metal, rel=1e-6)
        assert stored[PLACE] > 0.3 * metal


def test_the_operating_point_by_hand(solved):
    """Two modules on one plate outside, each on a plate of its own inside at the end of a block, beside the raw
    equations of every place, solved by scipy."""
    point = operating_point(circuit_of(BANK, solved, inside_heat=2), BANK["supply"])
    walls = 0.66 / (1 / 8 + 0.002 / 0.2 + 0.04 / 0.03 + 1 / 9)
    block = 0.05 / (200 * 0.0009) + 2 * 3e-5 / 0.0009
    a, r, k = MODULE.seebeck, MODULE.resistance, MODULE.conductance

    def equations(x):
        air, cold, hot, absorbed, rejected = x
        amps = (8 - a * (hot - cold)) / r
        foot = hand(solved, ("A",), -absorbed, air, air)[0]
        faces = hand(solved, ("A", "B"), rejected, 25, 25) + rejected * 2e-5 / 0.0009
        return [
            walls * (25 - air) + 2 + 1.5 - 2 * absorbed,
            cold - (foot - block * absorbed),
            hot - faces.mean(),
            absorbed - (a * amps * (cold + 273.15) - amps**2 * r / 2 - k * (hot - cold)),
            rejected - (a * amps * (hot + 273.15) + amps**2 * r / 2 - k * (hot - cold)),
        ]

    found = root(equations, [15, 5, 35, 5, 10], tol=1e-13).x
    told = (*(point.temperature[n] for n in ("air", "cold face", "hot face")), point.pumped / 2, point.rejected / 2)
    assert told == pytest.approx(found, rel=1e-7)


@pytest.fixture(scope="module")
def answer(solved):
    """With a thermostat that never switches off."""
    return solve_cabinet(cabinet(IN_WALL, thermostat=Thermostat(hysteresis=30)), solved)


def heat_into(answer, node, kind):
    """W that all paths of a kind bring into a node."""
    t, paths = answer.point.temperature, [p for p in answer.circuit.paths if p.kind == kind and node in p.ends]
    return sum(p.conductance * (t[p.ends[0]] + t[p.ends[1]] - 2 * t[node]) for p in paths)


def test_the_budget_adds_up_to_what_is_pumped(answer, solved):
    point, t = answer.point, answer.point.temperature
    watts = {b.name: b.watts for b in answer.budget}
    assert sum(watts.values()) == pytest.approx(point.pumped, rel=1e-9)
    assert watts["fan of the cold sink"] == 1.5
    # around the modules, by the section's own coupling; the plate takes it where it begins
    leak = 2 * solved[AROUND].answers.at("network.coupling.cold.hot")[0] * (t["hot face"] - t["cold plate"])
    assert (
        watts["module section: back from the hot face to the cold plate"] == pytest.approx(leak, rel=1e-6) and leak > 0
    )
    assert -heat_into(answer, "hot face", "sink") - heat_into(answer, "hot face", "section") == pytest.approx(
        point.rejected, rel=1e-9
    )
    assert heat_into(answer, "cold face", "block") == pytest.approx(point.pumped, rel=1e-9)


def test_fans_are_paid_for_and_warm_the_inside(answer, solved):
    still = {"cold_sink": replace(COLD, fan_power=0), "hot_sink": replace(HOT, fan_power=0)}
    by_hand = operating_point(circuit_of(IN_WALL | still, solved, inside_heat=1.5), BANK["supply"])
    assert answer.point.temperature["air"] == pytest.approx(by_hand.temperature["air"], abs=1e-9)
    assert answer.answers.at("power with fans")[0] == pytest.approx(answer.point.power + 3.5)
    run = answer.pull_down
    assert run.mean_power == pytest.approx(run.switched.power[-1] + 3.5)
    assert run.energy_a_day == pytest.approx(86400 * run.mean_power)
    text = StringIO()
    print_cabinet_summary(answer, Console(file=text, width=200))
    amps = run.peaks.supply_current
    assert f"stand {amps:.3g} A, {8 * amps:.3g} W (with the fans {amps + 3.5 / 8:.3g} A" in text.getvalue()
    print_cabinet(answer, Console(file=text, width=400))
    assert f"leads and fuse for the first (with the fans {amps + 3.5 / 8:.3g} A" in text.getvalue()
    assert "(fans always: 3.5 W)" in text.getvalue() and "K on the hot sink" in text.getvalue()


def test_the_plates_at_work_have_the_lumped_temperatures(answer):
    t, hot, cold = answer.point.temperature, answer.plate_at_work("hot_sink"), answer.plate_at_work("cold_sink")
    watts = hot.section.watts[0]
    faces = [hot.answers.at(f"terminals.{name}.temperature")[0] for name in "AB"]
    assert np.mean(faces) + watts * 2e-5 / 0.0009 == pytest.approx(t["hot face"], abs=1e-3)
    assert np.ptp(faces) == pytest.approx(answer.answers.at("operating_point.places_apart.hot sink")[0], abs=1e-3)
    assert cold.section.watts[1] == 0  # a place that stays empty
    assert cold.answers.at("terminals.A.temperature")[0] == pytest.approx(t["cold plate"], abs=1e-3)
    assert answer.module_at_work().answers.at("terminals.cold.temperature")[0] == t["cold plate"]


@pytest.mark.parametrize(
    ("amps", "resistance", "cold", "hot", "air", "watts"),
    [
        (2, 0.294192, 1.215, 30.774, 5.541, 10.974),
        (3, 0.294192, -5.743, 35.255, -0.402, 24.177),
        (4, 0.294192, -9.491, 40.848, -3.603, 42.094),
        (5, 0.294192, -10.499, 47.531, -4.464, 64.517),
    ],
)
def test_a_box_with_sinks_as_resistances(amps, resistance, cold, hot, air, watts):
    """Of a small module between a fan sink and a cold side of 0.5 K/W, with a box of 0.3418 W/K and 2 W in it; found
    elsewhere by another solver of the same equations."""
    module = ThermoelectricModule(0.0513077, 1.98518, 0.525489, reference_mean=0)
    bank = {"module": module, "supply": Supply(current=amps), "cold_sink": Sink(0.5), "hot_sink": Sink(resistance)}
    plain = box(bank, inside_heat=2.0)
    (shell,) = plain.walls
    area = 0.3418 * (1 / 8 + 0.002 / 0.2 + 0.04 / 0.03 + 1 / 9)
    c = circuit(replace(plain, walls=(replace(shell, faces=(), area=area),)), {})
    point = operating_point(c, Supply(current=amps))
    assert sum(b.watts for b in budget(c, point)) == pytest.approx(point.pumped)
    told = [point.temperature[n] for n in ("cold face", "hot face", "air")] + [point.power]
    assert told == pytest.approx([cold, hot, air, watts], abs=0.01)


@pytest.mark.parametrize(
    ("bank", "message"),
    [
        ({"hot_sink": replace(HOT, places=("A", "C"))}, "module, hot_sink, sources: there is no source with heat of"),
        (
            {"hot_sink": replace(HOT, places=("A", "A"))},
            "module, hot_sink, sources: name each source of plate",
        ),
        ({"supply": Supply(voltage=8)}, "module, hot_sink: 1 module does not fill plates with 2 places each"),
        (
            {"hot_sink": replace(HOT, outside=("air",))},
            "module, hot_sink: 'still' of plate.toml must be named",
        ),
        ({"hot_sink": replace(HOT, file=AROUND)}, "module, hot_sink, section: around.toml has the view 'section'"),
        ({"cold_sink": replace(COLD, block=Block(METAL, 0.0))}, "module, cold_sink, block, length: 0.0 is not"),
        ({"hot_sink": None}, "module, hot: around.toml has no source with heat named 'hot'"),
    ],
)
def test_refused(bank, message):
    with pytest.raises(InputError, match=message):
        cabinet(IN_WALL | bank)


def test_a_section_that_draws_the_plate_as_well_is_refused(solved):
    """By its source with watts, and by what it passes to the air."""
    watts = replace(AROUND.section, sources=(replace(AROUND.section.sources[0], temperature=None, heat=-5.0),))
    with pytest.raises(InputError, match="'cold' of around.toml takes watts, so the section draws its own way"):
        cabinet(IN_WALL | {"file": SectionFile("around.toml", (), watts)})
    films = replace(AROUND.section, environments=(Environment("inside", 7, 900), Environment("outside", 30, 8)))
    parts = tuple(replace(p, void=False, environment="inside") if p.name == "no plate" else p for p in films.parts)
    fins_drawn = SectionFile("twice.toml", (), replace(films, parts=parts))
    known = {**solved, fins_drawn: solve(fins_drawn.section, 0.05, max_cells=30_000)}
    with pytest.raises(InputError, match="twice.toml passes .* W/K from 'cold' straight to the air on its side"):
        solve_cabinet(cabinet(IN_WALL | {"file": fins_drawn}), known)


def test_air_and_load_meet_the_plate_and_not_the_end_of_its_block(solved):
    """What moves along the sink is driven by the plate's own temperature."""
    zones = {
        "zones": (Zone("upper", (0.1, 0.3)), Zone("lower", (0, 0.1))),
        "exchanges": (Exchange("loop", ("upper", "lower"), along="cold sink", height=0.1, perimeter=0.5),),
        "load": Load(5, 3600, 0.3, 8, 25, contact=1.5),
    }
    sections = {file: lumped(s) for file, s in solved.items()}
    c = circuit_at_work(cabinet(BANK, **zones), sections)
    assert [p.ends[1] for p in c.paths if p.name == "load on the cold plate"] == ["cold plate"]
    t = operating_point(c, c.cabinet.bank.supply).temperature
    assert t["cold plate"] > t["cold face"] + 1
    (again,) = flows(c.cabinet, t, "cold plate")
    assert c.flows[0].natural == pytest.approx(again.natural, rel=1e-4)


def test_a_thermostat_may_stand_on_a_plate(solved):
    """Its reading by superposition on the plate at work."""
    on_plate = replace(
        PLATE, path="sensed.toml", section=replace(PLATE.section, sensors=(Sensor("guard", at=(0.08, 0.05)),))
    )
    bank = BANK | {"cold_sink": replace(COLD, file=on_plate)}
    known = {**solved, on_plate: solve(on_plate.section, 0.02, max_cells=30_000)}
    thermostat = Thermostat(1, on_plate, "guard", COLD.inside)
    c = circuit_of(bank, known, thermostat=thermostat)
    point = operating_point(c, BANK["supply"])
    n = known[on_plate].network
    airs = n.values.weight[-1].sum() * point.temperature["air"]
    assert point.reading == pytest.approx(airs - n.values.resistance[-1, 0] * point.pumped / 2, rel=1e-9)
    assert point.temperature["cold plate"] < point.reading < point.temperature["air"]
    with pytest.raises(InputError, match="other.toml has the heat terminal 'A', whose watts are not known here"):
        cabinet(bank, thermostat=replace(thermostat, file=replace(on_plate, path="other.toml")))


def test_plates_and_blocks_store_heat(solved):
    c = circuit_of(IN_WALL, solved)
    capacity = dict(zip(c.names, c.capacity))
    block = METAL.density * METAL.specific_heat * 0.05 * 0.0009
    assert capacity["cold face"] == pytest.approx(2 * block / 2)
    plates = sum(plate_stored(COLD, lumped(solved[PLATE])).values()) * 2
    assert capacity["cold plate"] > block + 0.4 * plates


def test_water_settles_on_each_plate_at_the_temperatures_of_its_fields(solved):
    """Two plates inside with a module each; their places are as warm as the plate's own superposition says."""
    sections = {file: lumped(s) for file, s in solved.items()}
    for bank in (BANK, IN_WALL):
        moist = cabinet(bank, humidity=70, air_changes=2)
        c = with_moisture(circuit(moist, sections), sections)
        point, air = operating_point(c, bank["supply"]), c.moisture.always_on
        places = {p.name: p for p in cold_places(c, sections)}["cold sink"]
        t = np.array([point.temperature[name] for name in c.names])
        at_work = superposed(solved[PLATE], plate_terminals(c, point, "cold_sink"))
        loads = np.concatenate([at_work.section.fixed_temperatures, at_work.section.watts])
        surfaces = solved[PLATE].grids[-1].answers.surfaces
        assert places.weights @ t == pytest.approx(surfaces.rows @ loads, abs=1e-3)
        film = np.array([e.film for e in PLATE.section.environments])[surfaces.places.terminal]
        assert places.conductance == pytest.approx(2 * film * surfaces.places.area)
        coldest = next(s for s in air.surfaces if (s.side, s.name) == ("inside", "plate"))
        assert coldest.lowest == pytest.approx((surfaces.rows @ loads).min() + places.own * air.latent, abs=0.05)
        assert air.settled[0].name == "cold sink" and air.water == pytest.approx(air.exchanged, rel=1e-6)
        assert sum(b.watts for b in budget(c, point)) == pytest.approx(point.pumped)


def test_a_block_in_another_unit_is_told():
    short = replace(COLD, block=replace(BLOCK, length=5e-5))
    (told,) = implausible_figures(box(BANK | {"cold_sink": short}))
    assert told.startswith("module, cold_sink, block, length: 5e-05 m is not what reaches through a wall")
    assert not any(implausible_figures(box(BANK)))
