"""The cabinet as a circuit, against hand sums and against what its sections answer."""

import numpy as np
import pytest

from fdm.cabinet.bank import Sink
from fdm.cabinet.circuit import circuit
from fdm.cabinet.load import Load
from fdm.cabinet.losses import LineLoss, Opening, PointLoss
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sections import lumped, section_mesh
from fdm.cabinet.steady import operating_point
from fdm.cabinet.supply import Supply
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.walls import Layer, Wall
from fdm.section.model import Bead, Border, Environment, Section, Sensor, Stem
from fdm.solving.steady import solve
from tests.cabinet import plain_box
from tests.cabinet.plain_box import (
    BOLT_FILE,
    FILE,
    FOAM,
    IN_A_WALL,
    METAL,
    SEAL_FILE,
    SKIN,
    box_circuit,
    piece,
)
from validation.cases import box, solid


def between(c, a, b):
    """W/K from node a to node b with every other node afloat."""
    rest = [k for k, node in enumerate(c.names) if node not in (a, b)]
    keep = [c.number(a), c.number(b)]
    lap = c.laplacian
    reduced = (
        lap[np.ix_(keep, keep)]
        - lap[np.ix_(keep, rest)] @ np.linalg.pinv(lap[np.ix_(rest, rest)]) @ lap[np.ix_(rest, keep)]
    )
    return -reduced[0, 1]


def paths(c, name):
    return [p for p in c.paths if p.name == name]


def test_conductance_of_a_plain_box_by_hand():
    """U of layers and films in series (ISO 6946), then H = sum A U + sum l psi + sum chi (ISO 14683, ISO 10211)."""
    c = box_circuit(
        walls=(
            Wall(
                "sides", (Layer(SKIN, 0.002), Layer(FOAM, 0.04)), 1 / 0.13, 1 / 0.04, ("left", "right", "front", "back")
            ),
            Wall("ends", (Layer(FOAM, 0.05),), 1 / 0.17, 1 / 0.04, ("bottom", "top")),
        ),
        lines=(LineLoss("edges", 4.0, psi=0.016), LineLoss("seal", 1.4, psi=0.05)),
        points=(PointLoss("bolts", 4, chi=0.012),),
        air_changes=0.5,
    )
    sides = 2 * (0.4 * 0.3 + 0.3 * 0.3) / (0.13 + 0.002 / 0.2 + 0.04 / 0.03 + 0.04)
    ends = 2 * 0.4 * 0.3 / (0.17 + 0.05 / 0.03 + 0.04)
    bridges = 4.0 * 0.016 + 1.4 * 0.05 + 4 * 0.012
    air = 0.5 / 3600 * 0.4 * 0.3 * 0.3 * 1.23 * 1008  # air of ISO 10456, from memory
    assert between(c, "air", "room") == pytest.approx(sides + ends + bridges + air, rel=1e-12)


def test_each_opening_replaces_a_share_of_the_air():
    """By hand: six times a day a fifth of 0.036 m3 of air of ISO 10456 (from memory), as W/K."""
    c = box_circuit(openings=(Opening("lid", a_day=6, share=0.2), Opening("door", a_day=0, share=0.9)))
    lid, door = (p for p in c.paths if p.kind == "air exchange")
    assert (lid.name, lid.ends, door.conductance) == ("lid", ("air", "room"), 0)
    assert lid.conductance == pytest.approx(6 * 0.2 * 0.036 * 1.23 * 1008 / 86400, rel=1e-12)


def test_capacities_of_a_plain_box_by_hand():
    c = box_circuit()
    area = 2 * (0.4 * 0.3 + 0.4 * 0.3 + 0.3 * 0.3)
    expected = {
        "air": 0.036 * 1.23 * 1008,
        "load": 5 * 3600,
        "cold face": 300,
        "hot face": 600,
        "lining of shell": area * 0.002 * 1200 * 1000,
        "room": 0,
    }
    assert dict(zip(c.names, c.capacity)) == pytest.approx(expected)


def test_a_window_takes_its_own_area_and_the_modules_sections_take_theirs():
    walls = (
        Wall("shell", (Layer(FOAM, 0.03),), 8, 8, plain_box.FACES),
        Wall("window", (Layer(SKIN, 0.004),), 8, 8, area=0.05),
    )
    c = box_circuit(IN_A_WALL | {"supply": Supply(voltage=8, parallel=3)}, walls=walls)
    shell = 0.66 - 3 * 0.12 * 0.06
    by_name = {p.name: p.conductance for p in c.paths if p.kind == "wall"}
    assert by_name["shell"] == pytest.approx(shell / (0.03 / 0.03 / 2 + 1 / 8))
    assert by_name["window"] == pytest.approx(0.05 / (0.004 / 0.2 / 2 + 1 / 8))


def test_losses_from_the_bridges_of_sections():
    c = box_circuit(
        lines=(LineLoss("seal", 1.4, file=SEAL_FILE, bridge="seal"),),
        points=(PointLoss("bolts", 6, file=BOLT_FILE, bridge="seal"),),
    )
    seal, bolts = paths(c, "seal")[0], paths(c, "bolts")[0]
    psi = plain_box.seal().bridges["seal"]
    assert seal.conductance == pytest.approx(1.4 * psi.value, rel=1e-12)
    assert seal.band == pytest.approx(1.4 * psi.band) and seal.band > 0
    assert bolts.conductance == pytest.approx(6 * plain_box.bolt().bridges["seal"].value)
    # bounds of any textbook: no flow along the wall, or none against it
    films = 1 / 8 + 1 / 8
    bare = 0.1 / (films + 0.03 / 0.03)
    least = 0.01 / (films + 0.03 / 0.2) + 0.09 / (films + 0.03 / 0.03) - bare
    most = 1 / (films / 0.1 + 0.03 / (0.01 * 0.2 + 0.09 * 0.03)) - bare
    assert least < psi.value < most
    assert (seal.kind, bolts.kind, seal.ends) == ("line", "point", ("air", "room"))


def test_paths_of_the_modules_section_add_up():
    """Both airs of a side are one node; two modules are two pieces of wall."""
    one, two = (box_circuit(IN_A_WALL | {"supply": Supply(voltage=8, parallel=n)}) for n in (1, 2))
    names, mesh, band = section_mesh(piece().network)
    node = dict(zip(names, ("air", "room", "air", "room", "cold face", "hot face")))
    for c, count in ((one, 1), (two, 2)):
        for a in ("air", "room", "cold face", "hot face"):
            for b in ("air", "room", "cold face", "hot face"):
                pairs = [(i, j) for i in range(6) for j in range(6) if (node[names[i]], node[names[j]]) == (a, b)]
                found = [p for p in paths(c, "module section") if set(p.ends) == {a, b}]
                if a != b:
                    assert len(found) == 1
                    assert found[0].conductance == pytest.approx(count * sum(mesh[k] for k in pairs))
                    assert found[0].band == pytest.approx(count * sum(band[k] for k in pairs))


def test_nodes_say_what_they_are_whatever_walls_are_called():
    walls = (
        Wall("air", (Layer(FOAM, 0.03),), 8, 8, plain_box.FACES),
        Wall("lining of air", (Layer(SKIN, 0.004),), 8, 8, area=0.05),
    )
    plain = ["air", "load", "cold face", "hot face"]
    linings = [("lining of air", "lining"), ("lining of lining of air", "lining")]
    c = box_circuit(walls=walls)
    assert [(n.name, n.kind) for n in c.nodes] == [*((n, n) for n in plain), *linings, ("room", "room")]
    bank = IN_A_WALL | {"cold_sink": Sink(0.2), "hot_sink": Sink(0.1), "wall": "air"}
    c = box_circuit(bank, walls=walls)
    airs = ["air at the cold sink", "air at the hot sink"]
    assert [(n.name, n.kind) for n in c.nodes] == [*((n, n) for n in plain + airs), *linings, ("room", "room")]
    assert c.names == tuple(n.name for n in c.nodes) and c.kind("lining of air") == "lining"


def test_a_sink_beside_a_section_lies_between_its_airs_and_the_cabinets():
    c = box_circuit(IN_A_WALL | {"cold_sink": Sink(0.2), "hot_sink": Sink(0.1)})
    assert {"air at the cold sink", "air at the hot sink"} < set(c.names)
    assert {p.ends: p.conductance for p in c.paths if p.kind == "sink"} == pytest.approx(
        {("air", "air at the cold sink"): 5.0, ("air at the hot sink", "room"): 10.0}
    )
    for p in paths(c, "module section"):
        assert not {"air", "room"} & set(p.ends)


def test_capacities_of_the_section_count_for_every_module():
    one, two = (box_circuit(IN_A_WALL | {"supply": Supply(voltage=8, parallel=n)}) for n in (1, 2))
    stored = lumped(piece()).stored
    for c, n in ((one, 1), (two, 2)):
        assert c.capacity[c.number("cold face")] == pytest.approx(300 + n * stored["cold face"])
        assert c.capacity[c.number("air")] == pytest.approx(
            0.036 * 1.23 * 1008 + n * (stored["inside"] + stored["inside fan"])
        )
        assert c.capacity[c.number("room")] == 0


def test_the_thermostat_reads_by_weights_of_nodes():
    n = piece().network
    t = np.array([3.0, 31.0, -6.0, 52.0])  # air, room, cold, hot
    for sensor in ("on the skin", "on the plate"):
        c = box_circuit(
            IN_A_WALL, thermostat=Thermostat(1, FILE, sensor, *(IN_A_WALL[k] for k in ("inside", "outside")))
        )
        assert c.sensing.sum() == pytest.approx(1)
        nodes = np.array(
            [{"air": t[0], "room": t[1], "cold face": t[2], "hot face": t[3]}.get(x, 0.0) for x in c.names]
        )
        # the watts at which the section's faces have these temperatures, then what the sensor reads
        fixed = np.array([t[0], t[1], t[0], t[1]])
        watts = np.linalg.solve(n.values.resistance[:2], t[2:] - n.values.weight[:2] @ fixed)
        row = n.observed.index(sensor)
        assert c.sensing @ nodes == pytest.approx(n.values.weight[row] @ fixed + n.values.resistance[row] @ watts)


def test_a_sensor_of_another_section_reads_the_two_airs():
    c = box_circuit(thermostat=Thermostat(1, SEAL_FILE, "in the wall", ("in",), ("out",)))
    weight = dict(zip(c.names, c.sensing))
    assert weight["air"] + weight["room"] == pytest.approx(1)
    assert weight["air"] == pytest.approx(0.5, abs=0.01)  # half way through a wall with equal films
    assert weight["cold face"] == weight["hot face"] == weight["load"] == 0


def test_heat_inside_and_of_the_load():
    c = box_circuit(inside_heat=3, load=Load(5, 3600, 0.3, 8, 25, heat=2))
    assert {n: h for n, h in zip(c.names, c.heat) if h} == {"air": 3, "load": 2}


def test_a_sensor_with_leads_reads_the_room_through_them_and_its_own_watts():
    stem = Stem(METAL, 1e-3, 0.02, "room", film=10.0)
    sensor = Sensor("bead", at=(0.05, 0.0), stem=stem, bead=Bead(3e-3), self_heating=1e-3)
    section = Section(
        "slab", (solid("foam", 0.03, box(0, 0.1, 0, 0.04)),), (Environment("in", 7, 8), Environment("room", 28, 25)),
        border=Border(bottom="in", top="room"), sensors=(sensor,),
    )  # fmt: skip
    file = SectionFile("slab.toml", (), section)
    cabinet = plain_box.box(thermostat=Thermostat(1, file, "bead", ("in",), ("room",)))
    solution = solve(section, 0.05)
    c = circuit(cabinet, {file: lumped(solution)})
    assert c.sensing.sum() == pytest.approx(1)
    assert c.self_heating == solution.sensors["bead"].self_heating > 0.1
    t = np.array([{"air": 7.0, "room": 28.0}.get(name, 0.0) for name in c.names])
    assert c.reading(t) == pytest.approx(solution.sensors["bead"].reading)
    assert c.reading(np.stack([t, t])).shape == (2,)
    point = operating_point(c, cabinet.bank.supply)
    nodes = np.array([point.temperature[name] for name in c.names])
    assert point.reading == pytest.approx(c.sensing @ nodes + c.self_heating)
