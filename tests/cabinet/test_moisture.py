"""Moisture of a whole cabinet: beside balances written by hand, and a section with water as a source of heat on it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq

from fdm.answers.network import conductance_matrix
from fdm.cabinet.budget import budget
from fdm.cabinet.circuit import circuit
from fdm.cabinet.cold_places import cold_places
from fdm.cabinet.load import Load
from fdm.cabinet.losses import LineLoss, PointLoss
from fdm.cabinet.moisture import impossible_moisture, unlikely_moisture, with_moisture
from fdm.cabinet.nodes import terminal_nodes
from fdm.cabinet.sections import lumped
from fdm.cabinet.solution import solve_cabinet
from fdm.cabinet.steady import operating_point, settle
from fdm.cabinet.supply import Supply
from fdm.cabinet.sweating import AirState, Coldest, cool_surface, unread_surfaces
from fdm.errors import InputError
from fdm.section.model import Segment, Source
from fdm.solving.operating_point import at_operating_point
from fdm.solving.steady import solve
from fdm.surroundings import moist
from tests.cabinet.plain_box import BOLT_FILE, IN_A_WALL, PIECE, SEAL_FILE, box, solved
from tests.cabinet.test_settling import ratio, saturation, settles

DAY = 86.4e6  # g a day in a kg/s
WALL = IN_A_WALL | {"supply": Supply(voltage=8, parallel=2)}


@pytest.fixture(scope="module")
def sections():
    return {file: lumped(s) for file, s in solved().items()}


def moist_circuit(cabinet, sections):
    return with_moisture(circuit(cabinet, sections), sections)


def load(grams=0.0):
    return Load(5, 3600, 0.3, 8, 25, moisture=grams / DAY)


def test_without_a_humidity_nothing_changes(sections):
    c = moist_circuit(box(WALL), sections)
    assert c.moisture is None and c.nodes == circuit(box(WALL), sections).nodes


def test_the_place_that_sets_the_humidity_is_no_colder_than_its_point():
    sink, air = Coldest("inside", "cold sink", "", 1.6, 0.0), AirState(5.0, math.nextafter(1.6, 0), 0.0)
    assert cool_surface(sink, air).margin == 0


def test_a_cold_sink_that_is_not_drawn(sections):
    """Two unknowns, the latent watts and the vapour, by hand: the sink is as cold as the face."""
    cabinet = box(humidity=70, air_changes=2, load=load(40))
    c = moist_circuit(cabinet, sections)
    air = c.moisture.always_on
    assert [s.name for s in air.settled] == ["cold sink"] and air.drained == 0

    def state(latent):
        dry = circuit(cabinet, sections)
        heat = {"cold face": latent, "load": -40 / DAY * 2.49e6}
        wet = replace(dry, nodes=tuple(replace(n, heat=n.heat + heat.get(n.name, 0)) for n in dry.nodes))
        t = dict(zip(wet.names, settle(wet, cabinet.bank.supply)))
        vapour = saturation(25) * 0.7
        dry_air = 2 / 3600 * 0.4 * 0.3 * 0.3 * (101325 - 700) / (287 * (t["air"] + 273.15))

        def gain(w):
            return dry_air * (ratio(vapour) - w) + 40 / DAY - settles(w, t["air"], [1 / 0.3], [t["cold face"]])

        w = brentq(gain, 0, 0.1, xtol=1e-14)
        return settles(w, t["air"], [1 / 0.3], [t["cold face"]]), w

    watts = brentq(lambda q: state(q)[0] * 2.834e6 - q, 0, 30)
    water, w = state(watts)
    assert DAY * air.frozen == pytest.approx(DAY * water, rel=0.01) and 60 < DAY * water < 120
    assert air.latent == pytest.approx(watts, rel=0.01) and air.ratio == pytest.approx(w, rel=0.01)
    assert air.exchanged + air.evaporated == pytest.approx(air.frozen)
    assert air.settling_point == pytest.approx(float(moist.frost_point(w * 101325 / (0.622 + w))), abs=0.15)


def test_latent_heat_is_in_the_budget(sections):
    for bank in ({}, WALL):
        cabinet = box(bank, humidity=80, air_changes=3, load=load(60))
        c = moist_circuit(cabinet, sections)
        point = operating_point(c, cabinet.bank.supply)
        lines = {b.name: b.watts for b in budget(c, point)}
        air = c.moisture.always_on
        assert sum(lines.values()) == pytest.approx(point.pumped)
        assert lines["water that settles"] == pytest.approx(air.latent, rel=2e-3)
        assert lines["water that evaporates"] == pytest.approx(-air.taken) and air.taken > 1.5
        dry = operating_point(circuit(cabinet, sections), cabinet.bank.supply)
        warmer = point.temperature["air"] - dry.temperature["air"]
        assert 0.1 < warmer < 0.5 * (air.latent - air.taken) / 0.3


@pytest.fixture(scope="module")
def with_water():
    """The section of the tests with one more source: water on the bottom of the cold plate."""
    water = Source("water", segment=Segment((0, 0.06), (-0.004, -0.004)), heat=1.0, fills_depth=True)
    return solve(replace(PIECE, sources=(*PIECE.sources, water)), max_cells=4000)


def test_drawn_places_are_warmed_as_a_source_on_them_is(sections, with_water):
    """Where a watt on the plate goes, and by how much it warms it, with air and faces held."""
    c = circuit(box(WALL), sections)
    (places,) = [p for p in cold_places(c, sections) if p.name == "cold sink"]
    assert places.weights.sum(1) == pytest.approx(np.ones(len(places.weights)), abs=1e-6)
    network = with_water.network
    mesh = conductance_matrix(network.values)  # fixed, then cold face, hot face, water
    shares = -mesh[-1, :-1] / mesh[-1, -1]
    names = (*network.fixed, *network.heat)[:-1]
    by_node = dict.fromkeys(terminal_nodes(c.cabinet).values(), 0.0)
    for name, share in zip(names, shares):
        by_node[terminal_nodes(c.cabinet)[name]] += share
    spread = places.heat(places.conductance / places.conductance.sum())  # nearly all under the film of 400
    assert {n: spread[c.number(n)] for n in by_node} == pytest.approx(by_node, abs=0.02)
    alone = 1 / mesh[-1, -1]  # K/W, of one section
    assert 2 * places.own == pytest.approx(alone, rel=0.1)


def test_air_kept_moist_loads_the_cold_sink_with_more(sections):
    """By hand at the temperatures found: what settles on the drawn plate, place by place."""
    cabinet = box(WALL, humidity=60, air_changes=0.3, inside_humidity=85)
    c = moist_circuit(cabinet, sections)
    air, point = c.moisture.always_on, operating_point(c, cabinet.bank.supply)
    assert air.humidity == pytest.approx(85, rel=1e-3)
    (places,) = [p for p in cold_places(c, sections) if p.name == "cold sink"]
    t = places.weights @ np.array(list(point.temperature.values())) + places.own * air.latent
    w = ratio(saturation(point.temperature["air"]) * 0.85)
    w *= moist.saturation_over_water(point.temperature["air"]) / saturation(point.temperature["air"])  # over water
    water = settles(w, point.temperature["air"], places.conductance, t)
    assert air.frozen + air.drained == pytest.approx(water, rel=0.03)
    assert DAY * air.evaporated > 50
    dry = moist_circuit(replace(cabinet, inside_humidity=None), sections)
    assert operating_point(dry, cabinet.bank.supply).temperature["cold face"] < point.temperature["cold face"] - 0.2


@pytest.fixture(scope="module")
def answer():
    """With a seal whose airs have names of their own, and bolts whose have none."""
    lines = (LineLoss("seal", 1.0, file=SEAL_FILE, bridge="seal", inside=("in",), outside=("out",)),)
    cabinet = box(WALL, humidity=60, air_changes=0.5, lines=lines, load=Load(0.5, 3600, 0.3, 8, 7))
    return solve_cabinet(cabinet, solved())


def test_surfaces_are_those_of_the_operating_point(answer, sections):
    point, air = answer.point, answer.circuit.moisture.always_on
    found = {(s.side, s.name): s for s in air.surfaces}
    inside, cabinet = point.temperature["air"], answer.cabinet
    resistances = 1 / 8 + 0.002 / 0.2 + 0.04 / 0.03 + 1 / 9
    outer, inner = found["outside", "shell"], found["inside", "shell"]
    assert outer.lowest == pytest.approx(25 - (25 - inside) / resistances / 9)
    assert inner.lowest == pytest.approx(inside + (25 - inside) / resistances / 8)
    assert outer.factor == pytest.approx(1 - 1 / 9 / resistances) and math.isnan(inner.factor)
    seal = at_operating_point(answer.sections[SEAL_FILE], {"in": inside, "out": 25}).answers
    assert found["outside", "seal"].lowest == pytest.approx(seal.at("surface.seal.out.lowest")[0])
    assert found["outside", "seal"].band == pytest.approx(seal.at("surface.seal.out.lowest")[1])
    assert found["inside", "seal"].part == "wall" and found["outside", "seal"].part == "seal"
    plate = answer.module_at_work().answers.at("surface.cold plate.inside fan.lowest")[0]
    warmer = next(p.own for p in cold_places(answer.circuit, sections) if p.name == "cold sink") * air.latent
    assert found["inside", "piece"].lowest == pytest.approx(plate + warmer, abs=1e-4) and warmer > 0.01
    room = float(moist.dew_point(moist.vapour_pressure(25, 60)))
    for s in air.surfaces:
        settles_at = room if s.side == "outside" else air.settling_point
        assert s.margin == pytest.approx(s.lowest - settles_at)
    assert outer.sweats_from == pytest.approx(
        float(moist.relative_humidity(25, moist.saturation_over_water(outer.lowest)))
    )
    assert cabinet.moist and answer.warnings == ()


# degC and % of a room: the temperature factor above which nothing sweats around air at 5 degC, by the standard
@pytest.mark.parametrize("room, humidity, needed", [(20, 50, 0.285), (25, 60, 0.585), (30, 70, 0.757)])
def test_walls_sweat_below_the_factor_that_the_standard_asks_for(answer, room, humidity, needed):
    dew = float(moist.dew_point(moist.vapour_pressure(room, humidity)))
    assert (dew - 5) / (room - 5) == pytest.approx(needed, abs=2e-3)
    wall = next(s for s in answer.circuit.moisture.always_on.surfaces if s.side == "outside" and s.name == "shell")
    assert wall.factor > needed  # and so it does not
    assert wall.margin > 0


def test_the_field_at_work_is_as_moist_as_the_cabinet(answer):
    at_work, air = answer.module_at_work(), answer.circuit.moisture.always_on
    points = {e.name: e.settling_point for e in at_work.section.environments}
    assert points["inside fan"] == points["inside"] == pytest.approx(air.settling_point, abs=1e-6)
    assert points["outside"] == pytest.approx(answer.circuit.moisture.room_point)
    assert {w.part for w in at_work.wetted} == {"cold plate"}
    n = at_work.network.values
    faces = n.weight[:2] @ at_work.section.fixed_temperatures + n.resistance[:2] @ at_work.section.watts
    assert faces == pytest.approx([answer.point.temperature[f] for f in ("cold face", "hot face")], abs=1e-6)


def test_answers_have_paths(answer):
    a, m = answer.answers, answer.circuit.moisture
    assert a.at("moisture.always_on.frozen_a_day")[0] == pytest.approx(86400 * m.always_on.frozen)
    assert a.at("moisture.always_on.outside.shell.margin")[0] == pytest.approx(m.always_on.surfaces[0].margin)
    assert a.at("moisture.at_setpoint.humidity")[0] == pytest.approx(m.at_setpoint.humidity)
    assert a.at("moisture.room.point")[0] == pytest.approx(m.room_point)


def test_a_setpoint_that_is_not_reached_has_no_state(sections):
    m = moist_circuit(box(WALL, humidity=60, setpoint=-60), sections).moisture
    assert m.at_setpoint is None and m.always_on.settling_point < 25


def test_sections_whose_airs_are_not_named_are_told():
    points = (PointLoss("bolts", 2, file=BOLT_FILE, bridge="seal"),)
    cabinet = box(WALL, points=points)
    assert unread_surfaces(cabinet) == []
    (warning,) = unread_surfaces(replace(cabinet, humidity=50))
    assert "bolt.toml" in warning and "name them as inside and outside" in warning
    named = replace(points[0], inside=("in",), outside=("out",))
    assert unread_surfaces(replace(cabinet, humidity=50, points=(named,))) == []


def test_more_water_than_a_load_can_give_off_is_told(sections):
    for grams, told in ((10, 0), (300, 1)):
        c = moist_circuit(box(WALL, humidity=60, air_changes=0.3, load=load(grams)), sections)
        assert len(unlikely_moisture(c)) == told
        assert "300 g of water a day" in "".join(unlikely_moisture(c)) or not told
        assert impossible_moisture(c) == ""


@pytest.mark.parametrize(
    "changes, message",
    [
        ({"humidity": 0}, "cabinet, humidity: 0 is no relative humidity in %"),
        ({"humidity": 60, "dew_point": 5}, "cabinet: give either humidity or dew_point"),
        ({"dew_point": 26}, "cabinet, dew_point: 26 degC is above the air's temperature of 25"),
        ({"load": load(5)}, "load, moisture: what becomes of the water depends on the room's air; give"),
        ({"inside_humidity": 80}, "cabinet, inside_humidity: what becomes of the water depends on the room's air"),
        ({"humidity": 60, "inside_humidity": 101}, "cabinet, inside_humidity: 101 is no relative humidity in %"),
        ({"humidity": 60, "inside_humidity": 80, "load": load(5)}, "leave out the load's moisture, or this"),
        ({"load": Load}, "load, moisture: -1"),
    ],
)
def test_what_cannot_be_is_refused(changes, message):
    with pytest.raises(InputError) as error:
        if changes.get("load") is Load:
            load(-DAY)
        box(**changes)
    assert message in str(error.value)


def test_sides_of_a_loss_without_a_section_are_refused():
    with pytest.raises(InputError, match="line 'edge', inside: belongs to a section, and none is given"):
        LineLoss("edge", 1.0, psi=0.1, inside=("in",))
    with pytest.raises(InputError, match="'out' of seal.toml must be named in exactly one of inside and outside"):
        LineLoss("seal", 1.0, file=SEAL_FILE, bridge="seal", inside=("in",))


def test_water_that_nothing_can_give_off_is_no_answer(sections):
    """The load would be far below the dew point; beyond what dry air takes from a wet surface, it is refused."""
    c = moist_circuit(box(WALL, humidity=60, air_changes=0.3, load=load(1500)), sections)
    assert "1500 g of water a day" in impossible_moisture(c) and "give less" in impossible_moisture(c)
    with pytest.raises(InputError, match="load, moisture: 50000 g a day are more than .* m2 of wet surface give off"):
        box(WALL, humidity=60, load=load(50_000))
