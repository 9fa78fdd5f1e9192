"""Air in zones: against balances written out here, and what an undivided cabinet answers."""

from dataclasses import replace

import numpy as np
import pytest

from fdm.cabinet.air import flows
from fdm.cabinet.bank import Sink
from fdm.cabinet.budget import budget, levers
from fdm.cabinet.following import circuit_at_work
from fdm.cabinet.load import Load
from fdm.cabinet.losses import LineLoss, Opening, PointLoss
from fdm.cabinet.mends import mends
from fdm.cabinet.misreading import misreading
from fdm.cabinet.moisture import moist_circuit_at_work
from fdm.cabinet.pulldown import pull_down
from fdm.cabinet.sections import lumped
from fdm.cabinet.solution import solve_cabinet
from fdm.cabinet.steady import inflow, inflow_slopes, operating_point, settle
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.transient import always_on
from fdm.cabinet.walls import Layer, Wall
from fdm.cabinet.zones import Exchange, Facing, Zone, wall_shares
from fdm.errors import InputError
from fdm.section.model import Material
from tests.cabinet.plain_box import FACES, FILE, IN_A_WALL, SEAL_FILE, box, box_circuit, solved

SEALED = (Wall("shell", (Layer(Material("void", (1e-12, 1e-12)), 0.04),), 8, 9, FACES),)


def two_zones(perimeter: float, fan: float, cold_heat: float):
    """A warm zone above a cold one, each with 0.35 W/K to a room of 27 degC, and a sink of -2 degC, 0.1 m high."""
    return box(
        {"cold_sink": Sink(None)},
        walls=SEALED,
        zones=(Zone("warm", (0.1, 0.3)), Zone("cold", (0, 0.1), inside_heat=cold_heat)),
        exchanges=(Exchange("loop", ("warm", "cold"), fan / 3600, "cold sink", height=0.1, perimeter=perimeter),),
        points=tuple(PointLoss(f"to the {zone}", 1, chi=0.35, zone=zone) for zone in ("warm", "cold")),
        room=27,
        emissivity=0,
    )


@pytest.mark.parametrize(
    "perimeter, fan, cold_heat, natural, carried, warm, cold, sink",
    [
        (0.7, 0, 0, 2.623, 0.9200, 18.26, 14.93, 7.286),
        (1.4, 0, 0, 4.877, 1.7251, 13.47, 10.72, 10.433),
        (0.7, 5, 0, 2.294, 2.5948, 10.30, 8.05, 12.479),
        (0.7, 0, 2, 2.677, 0.9361, 19.80, 17.11, 7.980),
    ],
)
def test_two_zones_and_a_sink(perimeter, fan, cold_heat, natural, carried, warm, cold, sink):
    """W (T_cold - T_warm) + UA (27 - T_warm) = 0; W (T_out - T_cold) + UA (27 - T_cold) + Q = 0, with T_out =
    T_warm - 0.391 (T_warm + 2), W = rho cp (1.704 nu Gr^(1/4) P + fan): solved elsewhere, with air's own figures."""
    held = {"cold face": -2.0}
    c = circuit_at_work(two_zones(perimeter, fan, cold_heat), {}, held)
    point = operating_point(c, c.cabinet.bank.supply, held)
    (flow,) = c.flows
    assert 3600 * flow.natural == pytest.approx(natural, abs=0.002)
    assert flow.carries == pytest.approx(carried, abs=0.0008)
    assert point.temperature["warm"] == pytest.approx(warm, abs=0.01)
    assert point.temperature["cold"] == pytest.approx(cold, abs=0.01)
    (path,) = (p for p in c.paths if p.name == "cold sink")
    taken = path.conductance * (point.temperature["warm"] + 2)
    assert taken == pytest.approx(sink, abs=0.005)
    assert flow.laminar and c.passing == pytest.approx(1)


def test_air_that_moves_by_itself_follows_the_wet_sink():
    """Water that is kept in the air warms the sink where it freezes; the flow along it is that of the warmer sink."""
    cabinet = replace(two_zones(1.4, 0, 0), humidity=60, inside_humidity=85, air_changes=0.5)
    c = moist_circuit_at_work(cabinet, {})
    point = operating_point(c, cabinet.bank.supply)
    (flow,), (own,) = c.flows, flows(cabinet, point.temperature, "cold face")
    assert flow.volume == pytest.approx(own.volume, rel=1e-4)
    (dry,) = circuit_at_work(cabinet, {}).flows
    assert flow.volume < 0.96 * dry.volume
    assert c.moisture.always_on.latent > 3


@pytest.mark.parametrize("flow", [0.5, 0.1])
def test_air_that_is_kept_moist_where_little_comes_in_settles(flow):
    """The first guess, what the dry and warm zone would need, is many times too large."""
    zones = (Zone("bulbs", share=0.6, walls=(("shell", 0.6),)), Zone("sink", share=0.4, walls=(("shell", 0.4),)))
    gap = Exchange("gap", ("sink", "bulbs"), flow / 3600)
    cabinet = box({"zone": "sink"}, zones=zones, exchanges=(gap,), humidity=60, inside_humidity=75)
    c = moist_circuit_at_work(cabinet, {})
    t, moist = operating_point(c, cabinet.bank.supply).temperature, c.moisture.always_on
    assert moist.humidity == pytest.approx(75)
    ways = [p for p in c.paths if "bulbs" in p.ends]
    comes_in = sum(p.conductance * (sum(t[end] for end in p.ends) - 2 * t["bulbs"]) for p in ways)
    assert moist.taken == pytest.approx(comes_in, rel=1e-6) and moist.taken > 5
    assert t["bulbs"] == pytest.approx(t["load"])


# An undivided cabinet cut into zones

LAYERS = (Zone("lower", (0, 0.12)), Zone("upper", (0.12, 0.3)))
STORM = (Exchange("storm", ("upper", "lower"), flow=10),)  # m3/s: next to no difference is left
LOSSY = {
    "lines": (LineLoss("seal", 1.4, file=SEAL_FILE, bridge="seal"),),
    "points": (PointLoss("bolts", 4, chi=0.02),),
    "openings": (Opening("lid", 6, 0.2),),
    "air_changes": 0.4,
    "inside_heat": 2.0,
    "load": Load(5, 3600, 0.3, 8, 25, heat=1.5),
}
READS = Thermostat(3, FILE, "on the skin", *(IN_A_WALL[key] for key in ("inside", "outside")))
TAKEN = {file: lumped(s) for file, s in solved().items()}


@pytest.mark.parametrize("along", [False, True])
def test_stirred_zones_are_one(along):
    """All that is shared among zones comes to what the undivided cabinet has; also where the air passes the sink."""
    one = box_circuit(IN_A_WALL, thermostat=READS, **LOSSY)
    stirred = (replace(STORM[0], along="cold sink" if along else None),)
    c = circuit_at_work(replace(one.cabinet, zones=LAYERS, exchanges=stirred), TAKEN)
    whole, cut = operating_point(one, one.cabinet.bank.supply), operating_point(c, one.cabinet.bank.supply)
    for key in ("power", "pumped", "reading"):
        assert getattr(cut, key) == pytest.approx(getattr(whole, key), rel=1e-4), key
    for name in ("lower", "upper"):
        assert cut.temperature[name] == pytest.approx(whole.temperature["air"], abs=2e-3)
    assert sum(c.capacity) == pytest.approx(sum(one.capacity), rel=1e-12)
    assert sum(b.watts for b in budget(c, cut)) == pytest.approx(cut.pumped, rel=1e-7)
    assert {n.name for n in c.nodes if n.kind == "lining"} == {"lining of shell (lower)", "lining of shell (upper)"}


def test_one_zone_is_what_no_zone_is():
    """Bit for bit, but for the names."""
    plain = box_circuit(IN_A_WALL, thermostat=READS, **LOSSY)
    zone = circuit_at_work(replace(plain.cabinet, zones=(Zone("air", (0, 0.3)),)), TAKEN)
    assert np.array_equal(zone.laplacian, plain.laplacian) and np.array_equal(zone.capacity, plain.capacity)
    assert np.array_equal(zone.sensing, plain.sensing) and np.array_equal(zone.heat, plain.heat)


@pytest.fixture(scope="module")
def parted():
    """The load in both layers, a fan along the sink from the upper to the lower one, a thermostat in the upper one."""
    cabinet = box(
        IN_A_WALL,
        zones=LAYERS,
        exchanges=(Exchange("down", ("upper", "lower"), 4 / 3600, "cold sink", height=0.1, perimeter=0.8),),
        thermostat=Thermostat(3, SEAL_FILE, "in the wall", ("in",), ("out",), zone="upper"),
        **LOSSY | {"load": Load(5, 3600, 0.3, 8, 25, heat=1.5, zones=(("lower", 0.75), ("upper", 0.25)))},
    )
    return circuit_at_work(cabinet, TAKEN)


def test_every_balance_closes_and_its_slopes_are_those_of_differences(parted):
    c, supply = parted, parted.cabinet.bank.supply
    t = settle(c, supply)
    assert abs(inflow(c, c.laplacian, supply, t)[:-1]).max() < 1e-8
    assert abs(c.laplacian @ np.ones(len(t))).max() < 1e-12  # nothing flows where all is alike
    assert abs(c.laplacian.sum(0)).max() < 1e-12  # what leaves one node enters another
    assert abs(c.laplacian - c.laplacian.T).max() > 0.1  # but the air goes one way round
    slopes = inflow_slopes(c, c.laplacian, supply, t)
    for k in range(len(t)):
        step = np.where(np.arange(len(t)) == k, 1e-4, 0)
        by_difference = (inflow(c, c.laplacian, supply, t + step) - inflow(c, c.laplacian, supply, t - step)) / 2e-4
        assert slopes[:, k] == pytest.approx(by_difference, abs=1e-6)


def test_budget_and_levers_of_directed_air(parted):
    """Lines add up to what is pumped; a lever is what a solve with a tenth more of that way shows."""
    c, supply = parted, parted.cabinet.bank.supply
    point = operating_point(c, supply)
    assert sum(b.watts for b in budget(c, point)) == pytest.approx(point.pumped, rel=1e-9)
    by_name = {x.name: x for x in levers(c, point) if x.kind == "exchange"}
    little = 1e-3
    more = replace(
        c, paths=tuple(replace(p, conductance=p.conductance * (1 + little * (p.name == "down"))) for p in c.paths)
    )
    colder = point.temperature["lower"] - operating_point(more, supply).temperature["lower"]
    assert by_name["down"].colder == pytest.approx(0.1 / little * colder, rel=0.01)


def test_pieces_of_the_load_and_their_mean(parted):
    c = parted
    assert {n.name for n in c.nodes if n.kind == "load"} == {"load (lower)", "load (upper)"}
    assert (c.air, c.sensed_air) == ("lower", "upper")
    run = pull_down(c)
    assert run.settled
    assert run.always_on.temperature[0] @ c.load == pytest.approx(25)
    end = dict(zip(c.names, run.always_on.temperature[-1]))
    assert end["load (lower)"] < end["load (upper)"] - 0.5
    low, high = (always_on(c, np.array([3600.0 * 24 * 14]))[0, c.number(n)] for n in ("load (lower)", "load (upper)"))
    point = operating_point(c, c.cabinet.bank.supply)
    assert (low, high) == pytest.approx(
        (point.temperature["load (lower)"], point.temperature["load (upper)"]), abs=0.01
    )


def test_misreading_by_mount_and_by_place(parted):
    c = parted
    point = operating_point(c, c.cabinet.bank.supply)
    found, t = misreading(c, point), point.temperature
    assert found.whole == pytest.approx(point.reading - t["lower"], abs=1e-12)
    assert found.place == pytest.approx(t["upper"] - t["lower"], abs=1e-12) and found.place > 0.5
    weight = TAKEN[SEAL_FILE].network.values.weight[-1]  # of the sensor: on the air, and on the room
    assert found.mount == pytest.approx(weight[1] * (25 - t["upper"]), rel=1e-6)
    bare, moved, stirred = mends(c.cabinet, TAKEN, point)
    assert bare.left == pytest.approx(found.place)
    assert moved.left == pytest.approx(weight[1] * (25 - t["lower"]), rel=1e-6) and moved.air == t["lower"]
    assert stirred.left < found.whole and stirred.air > t["lower"]
    assert mends(replace(c.cabinet, thermostat=replace(c.cabinet.thermostat, zone="lower")), TAKEN, point) == ()


# What moves the air


def test_layers_at_rest_pass_little_and_mixed_ones_much():
    """By hand: 0.12 m2, 0.15 m between the middles, air's conductivity; without radiation."""
    for heat, least, most in (((0, 5), 0.018, 0.022), ((40, 0), 0.1, 0.6)):
        zones = tuple(replace(z, inside_heat=w) for z, w in zip(LAYERS, heat))
        still = circuit_at_work(box(zones=zones, emissivity=0), {})
        (layers,) = (p for p in still.paths if p.kind == "exchange")
        assert least < layers.conductance < most
    radiating = circuit_at_work(box(zones=LAYERS), {})
    (layers,) = (p for p in radiating.paths if p.kind == "exchange")
    assert layers.conductance == pytest.approx(0.12 * 0.82 * 5.3, rel=0.1)  # 4 s T^3 between grey plates


def test_a_sink_takes_no_more_than_the_air_that_passes_it_can_bring():
    fan = (Exchange("breath", ("upper", "lower"), 1 / 3600, "cold sink"),)
    c = circuit_at_work(box(zones=LAYERS, exchanges=fan), {})
    point, (flow,) = operating_point(c, c.cabinet.bank.supply), c.flows
    sink = next(p for p in c.paths if p.name == "cold sink")
    assert sink.conductance == pytest.approx(flow.carries) and c.passing == pytest.approx(0.3 * flow.carries)
    leaves = point.temperature["upper"] - point.pumped / flow.carries
    assert leaves == pytest.approx(point.temperature["cold face"], abs=1e-6)


def test_a_load_on_the_cold_plate_and_one_that_faces_it():
    """By hand: between plates of emissivity 0.9, 5 mm apart, k / d and 4 e s T^3."""
    c = circuit_at_work(box(load=Load(5, 3600, 0.3, 8, 25, contact=1.5)), {})
    assert [(p.ends, p.conductance) for p in c.paths if "plate" in p.name] == [(("load", "cold face"), 1.5)]
    c = circuit_at_work(box(load=Load(5, 3600, 0.3, 8, 25, facing=Facing(0.02, 0.005, (0.9, 0.9)))), {})
    point = operating_point(c, c.cabinet.bank.supply)
    (faces,) = (p for p in c.paths if "plate" in p.name)
    mean = (point.temperature["load"] + point.temperature["cold face"]) / 2
    film = (0.02436 + 7.65e-5 * mean) / 0.005 + 4 * 0.8182 * 5.67e-8 * (mean + 273.15) ** 3
    assert faces.conductance == pytest.approx(0.02 * film, rel=0.01)


def test_a_load_warms_the_drawn_cold_face_that_it_touches():
    answer = solve_cabinet(box(IN_A_WALL, load=Load(5, 3600, 0.3, 8, 25, contact=1.5), setpoint=-60), solved())
    at_work = answer.module_at_work().answers
    for face in ("cold face", "hot face"):
        assert at_work.at(f"terminals.{face}.temperature")[0] == pytest.approx(answer.point.temperature[face], abs=1e-3)


def test_thin_air_carries_less_and_moves_by_less():
    """By an ideal gas at 79.5 kPa; a boundary layer's flow goes with the density to the power of 1/2."""
    share = 0.7846
    held = {"cold face": -2.0, "warm": 18.0, "cold": 15.0}
    low, high = (
        circuit_at_work(replace(two_zones(0.7, 0, 0), altitude=metres, air_changes=1.0), {}, held)
        for metres in (0, 2000)
    )
    assert high.flows[0].carries == pytest.approx(low.flows[0].carries * share**0.5, rel=1e-3)
    exchanged = [sum(p.conductance for p in c.paths if p.kind == "air exchange") for c in (low, high)]
    assert exchanged[1] == pytest.approx(share * exchanged[0], rel=1e-4)


@pytest.mark.parametrize("sizes", [(0.3, 0.3, 0.4), (0.1, 0.5, 0.4)])
def test_layers_share_walls_by_their_faces(sizes):
    low, high = 0.1, 0.4
    zones = (Zone("low", (0, low)), Zone("high", (low, high)), Zone("shroud", share=0.1, walls=(("back", 0.5),)))
    areas = dict(zip(("left", "bottom", "top"), sizes))
    shares = wall_shares("shell", areas, zones, high)
    whole = sum(sizes)
    assert shares == pytest.approx({
        "low": (sizes[0] * low / high + sizes[1]) / whole, "high": (sizes[0] * (1 - low / high) + sizes[2]) / whole,
    })  # fmt: skip
    back = wall_shares("back", {"back": 0.2}, zones, high)
    assert back == pytest.approx({"low": 0.5 * low / high, "high": 0.5 * (1 - low / high), "shroud": 0.5})


# What cannot be


def refused(**changes):
    with pytest.raises(InputError) as error:
        box(**changes)
    return str(error.value)


FAN = Exchange("fan", ("upper", "lower"), 1e-3)


@pytest.mark.parametrize(
    "changes, message",
    [
        ({"zones": (Zone("a", (0, 0.1)), Zone("b", (0.2, 0.3)))}, "zone 'b', height: begins at 0.2 m, but"),
        ({"zones": (Zone("a", (0, 0.1)), Zone("b", (0.1, 0.2)))}, "zone 'b', height: ends at 0.2 m, but"),
        ({"zones": (*LAYERS, Zone("c", share=1))}, "zone: the shares come to 1 of the air inside; leave some"),
        ({"zones": (Zone("a", share=0.5), Zone("b", share=0.4))}, "zone: the shares come to 0.9 of the air inside"),
        ({"zones": (*LAYERS, Zone("c", share=0.2))}, "zone 'c': no air gets there from 'lower'; join it by"),
        (  # two of four, joined to each other alone
            {
                "zones": tuple(Zone(name, share=0.25) for name in "abcd"),
                "exchanges": (Exchange("x", ("a", "b"), 1e-3), Exchange("y", ("c", "d"), 1e-3)),
            },
            "zone 'c': no air gets there from 'a'",
        ),
        ({"zones": (Zone("load", (0, 0.3)),)}, "zone 'load': the name is taken"),
        ({"zones": (Zone("air at the cold sink", (0, 0.3)),)}, "the name is taken; call it by its air, such as 'air a"),
        ({"zones": (Zone("a", (0, 0.1)), Zone("a", (0.1, 0.3)))}, "zone 'a': the name is used twice"),
        ({"exchanges": (FAN,)}, "exchange 'fan': there is no other zone"),
        ({"zones": LAYERS, "exchanges": (replace(FAN, between=("upper", "lover")),)}, "did you mean 'lower'"),
        (
            {"zones": LAYERS, "exchanges": (Exchange("x", ("lower", "upper"), 0, "cold sink", 0.1, 0.5),)},
            "exchange 'x', between: air sinks along a cold sink, but 'lower' lies below 'upper'",
        ),
        ({"zones": LAYERS, "exchanges": tuple(replace(FAN, name=n, along="cold sink") for n in "ab")}, "passes the"),
        ({"load": Load(5, 3600, 0.3, 8, 25, zones=(("low", 1.0),))}, "load, zone: there are no zones"),
        ({"zones": LAYERS, "load": Load(5, 3600, 0.3, 8, 25, zones=(("low", 1.0),))}, "did you mean 'lower'"),
        ({"zones": LAYERS, "bank": {"cold_sink": Sink(None)}}, "module, cold_sink, natural: no air passes"),
        (
            {"zones": (Zone("a", share=0.5), Zone("b", share=0.5)), "exchanges": (Exchange("x", ("a", "b"), 1e-3),)},
            "wall 'shell': the zones have 0 % of it; give shares in their walls that come to 1",
        ),
        (
            {"zones": (replace(LAYERS[0], walls=(("shell", 0.7),)), replace(LAYERS[1], walls=(("shell", 0.7),)))},
            "wall 'shell': the zones have 140 % of it",
        ),
    ],
    ids=range(18),
)  # fmt: skip
def test_zones_that_cannot_be(changes, message):
    assert message in refused(**changes)


@pytest.mark.parametrize(
    "make, message",
    [
        (lambda: Zone("a"), "zone 'a': give exactly one of height and share"),
        (lambda: Zone("a", (0.2, 0.1)), "zone 'a', height: is empty or turned around"),
        (lambda: Zone("a", share=2), "zone 'a', share: 2 is not a share of the air"),
        (lambda: Exchange("x", ("a", "a"), 1), "names 'a' twice"),
        (lambda: Exchange("x", ("a", "b"), 0, "cold sink"), "no air passes the cold sink"),
        (lambda: Exchange("x", ("a", "b"), 0, "cold sink", 0.1), "exchange 'x', perimeter: missing"),
        (lambda: Exchange("x", ("a", "b"), 1, None, 0.1, 0.5), "exchange 'x', height: belongs to along"),
        (lambda: Load(5, 3600, 0.3, 8, 25, zones=(("a", 0.5),)), "load, zones: the shares do not come to 1"),
        (lambda: Facing(0.1, 0.01, (0.9, 2)), "emissivity: 2 is not above 0 and at most 1"),
    ],
    ids=range(9),
)
def test_each_refuses_its_own_figures(make, message):
    with pytest.raises(InputError, match=message):
        make()
