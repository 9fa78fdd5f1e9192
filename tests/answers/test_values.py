"""Unit fields to a network: superposition, the N-terminal matrix, spreading and bridges, all on one grid."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fdm.answers.values import flows, grid_values, network_values, should_read
from fdm.conduction.solver import unit_fields
from fdm.conduction.system import assemble
from fdm.grid.lines import first_lines, halved
from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
    Joint,
    Part,
    Section,
    Segment,
    Sensor,
    Source,
    Spreading,
)
from validation.cases import air, box, solid

HELD = math.inf
VIEWS = ("section", "axisymmetric", "plate")


def bench(view="section", **more):
    """A wall between cabinet and room with a block through it, a cord in it, a held coil and two heaters."""
    plate = {"thickness": 0.004, "front": "room"} if view == "plate" else {}
    return Section(
        **{
            "title": "bench",
            "parts": (
                solid("foam", 0.03, box(0, 0.1, 0, 0.04), **plate),
                solid("block", 200.0, box(0.03, 0.05, 0, 0.03), **plate),
                solid("lid", 0.25, box(0, 0.1, 0.03, 0.04), **plate),
                solid("cord", 0.3, Disc((0.08, 0.02), 0.008), **plate),
            ),
            "environments": (Environment("cabinet", 7, 8), Environment("room", 28, 25)),
            "view": view,
            "depth": 0.4 if view == "section" else 1.0,
            "border": Border(bottom="cabinet", top="room"),
            "joints": (Joint(("block", "lid"), 1e-3),),
            "sources": (
                Source("foil", segment=Segment((0.032, 0.048), (0.03, 0.03)), heat=3),
                Source("coil", segment=Segment((0.1, 0.1), (0.01, 0.025)), temperature=-4),
                Source("warm cord", part="cord", heat=0.5),
            ),
            "sensors": (Sensor("bead", at=(0.02, 0), should_read="cabinet"), Sensor("core", part="block")),
            **more,
        }
    )


def lines(section, halvings=0):
    x, y = first_lines(section)
    for _ in range(halvings):
        x, y = halved(x), halved(y)
    return x, y


def solved(section, halvings=0):
    system = assemble(section, *lines(section, halvings))
    fields = unit_fields(system)
    return network_values(system, fields)[0], system, fields.reshape(len(fields), -1)


@pytest.mark.parametrize("view", VIEWS)
def test_readings_at_any_temperatures_and_watts_need_no_new_solve(view):
    section = bench(view)
    network, *_ = solved(section)
    other = replace(
        section,
        environments=(Environment("cabinet", -10, 8), Environment("room", 35, 25)),
        sources=(
            replace(section.sources[0], heat=-20.0),
            replace(section.sources[1], temperature=60.0),
            replace(section.sources[2], heat=7.0),
        ),
    )
    values, *_ = grid_values(other, *lines(other))
    expected = network.weight @ [-10, 35, 60] + network.resistance @ [-20, 7]
    assert values.reading == pytest.approx(expected[2:], rel=1e-9)
    assert values.misreading[0] == pytest.approx(expected[2] + 10, rel=1e-9)
    assert np.isnan(values.misreading[1])


@pytest.mark.parametrize("view", VIEWS)
def test_weights_sum_to_one_and_impedance_is_symmetric(view):
    network, *_ = solved(bench(view))
    assert network.weight.sum(1) == pytest.approx(np.ones(4), abs=1e-11)
    assert network.resistance[:2] == pytest.approx(network.resistance[:2].T, rel=1e-9)
    assert (network.weight >= 0).all() and (network.resistance > 0).all()
    assert (network.resistance_max >= network.resistance[:2] - 1e-12).all()


@pytest.mark.parametrize("view", VIEWS)
def test_the_conductance_matrix_of_all_terminals_gives_the_flows_of_the_field(view):
    """Heat terminals' mean temperatures instead of their watts: with L the coupling Laplacian, G the heat terminals'
    weights and Z their resistance, [[L + G' Z^-1 G, -G' Z^-1], [-Z^-1 G, Z^-1]] times all temperatures."""
    section = bench(view)
    network, system, flat = solved(section)
    heat = len(section.heat_names)
    temperatures, watts = np.array([7.0, 28.0, -4.0]), np.array([3.0, 0.5])
    g, z = network.weight[:heat], np.linalg.inv(network.resistance[:heat])
    laplacian = np.diag(network.coupling.sum(1)) - network.coupling
    matrix = np.block([[laplacian + g.T @ z @ g, -g.T @ z], [-z @ g, z]])
    assert matrix == pytest.approx(matrix.T, abs=1e-9 * abs(matrix).max())
    assert matrix.sum(0) == pytest.approx(np.zeros(len(matrix)), abs=1e-9 * abs(matrix).max())

    of_heat = g @ temperatures + network.resistance[:heat] @ watts
    into_section = matrix @ np.concatenate([temperatures, of_heat])
    assert into_section[-heat:] == pytest.approx(watts, rel=1e-8)
    from_field = flows(system, flat, temperatures, watts)
    assert into_section[:-heat] == pytest.approx(from_field, rel=1e-8)
    assert from_field.sum() + watts.sum() == pytest.approx(0, abs=1e-9 * abs(from_field).max())


def test_of_a_sources_watts_each_terminal_takes_its_weight():
    section = bench()
    network, system, flat = solved(section)
    out = -flows(system, flat, np.zeros(3), np.array([1.0, 0.0]))
    assert out == pytest.approx(network.weight[0], rel=1e-9)


def test_the_highest_temperature_lies_on_the_face_and_above_its_mean():
    """An even flux on half of a plate's face: highest at the mirror edge."""
    section = Section(
        "plate",
        (solid("plate", 160.0, box(0, 0.05, 0, 0.01)),),
        (Environment("air", 0, 3200.0),),
        border=Border(bottom="air"),
        sources=(Source("q", segment=Segment((0, 0.01), (0.01, 0.01)), heat=1),),
        sensors=(Sensor("at the mirror", at=(0.0, 0.01)), Sensor("at the end", at=(0.01, 0.01))),
    )
    network, *_ = solved(section, 3)
    assert network.resistance_max[0, 0] == pytest.approx(network.resistance[1, 0], rel=2e-3)
    assert network.resistance[2, 0] < network.resistance[0, 0] < network.resistance_max[0, 0]


# ---- what should be read --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("goal", ["cabinet", "coil", "foil", "core", 5.5, None])
def test_a_sensor_may_be_meant_to_read_anything_with_a_temperature(goal):
    section = bench(sensors=(Sensor("bead", at=(0.02, 0), should_read=goal), Sensor("core", part="block")))
    values, *_ = grid_values(section, *lines(section))
    n = values.network
    observed = n.weight @ section.fixed_temperatures + n.resistance @ section.watts
    expected = {"cabinet": 7, "coil": -4, "foil": observed[0], "core": observed[3], 5.5: 5.5, None: np.nan}[goal]
    assert should_read(section, n)[0] == pytest.approx(expected, nan_ok=True)
    assert values.misreading[0] == pytest.approx(values.reading[0] - expected, nan_ok=True)


# ---- bridges --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("view", VIEWS)
def test_a_bridge_is_the_difference_of_two_solves(view):
    bridges = Bridge(("block",), ("cabinet", "room")), Bridge(("cord", "block"), ("room", "coil"))
    section = bench(view, joints=(), sources=bench(view).sources[:2], bridges=bridges)
    x, y = lines(section)
    values, *_ = grid_values(section, x, y)

    def without(*names):
        left = replace(section, parts=tuple(p for p in section.parts if p.name not in names), bridges=(), sensors=())
        system = assemble(left, x, y)
        return network_values(system, unit_fields(system))[0].coupling

    whole = values.network.coupling
    assert values.bridge[0] == pytest.approx((whole - without("block"))[0, 1], rel=1e-8)
    assert values.bridge[1] == pytest.approx((whole - without("cord", "block"))[1, 2], rel=1e-8)


def test_a_bridge_of_a_stud_in_a_wall_is_exact_where_heat_flows_straight():
    """Insulated from its neighbours, a stud bridges by its own U-value less the wall's, times its width."""
    slits = Part("slits", (box(0.0399, 0.04, 0, 0.05), box(0.05, 0.0501, 0, 0.05)), void=True)
    section = Section(
        "wall",
        (solid("foam", 0.03, box(0, 0.1, 0, 0.05)), solid("stud", 0.13, box(0.04, 0.05, 0, 0.05)), slits),
        (Environment("in", 20, 8), Environment("out", 0, 25)),
        border=Border(bottom="in", top="out"),
        bridges=(Bridge(("stud",)),),
    )
    values, *_ = grid_values(section, *lines(section))

    def u(k):
        return 1 / (1 / 8 + 0.05 / k + 1 / 25)

    assert values.bridge[0] == pytest.approx(0.01 * (u(0.13) - u(0.03)), rel=1e-9)


# ---- spreading ------------------------------------------------------------------------------------------------------


def test_a_face_as_wide_as_its_plate_has_nothing_to_spread():
    section = Section(
        "plate",
        (solid("plate", 160.0, box(0, 0.05, 0, 0.01)),),
        (Environment("air", 0, 50.0),),
        border=Border(bottom="air"),
        sources=(Source("q", segment=Segment((0, 0.05), (0.01, 0.01)), heat=1),),
        spreading=(Spreading(("plate",)),),
    )
    values, *_ = grid_values(section, *lines(section, 1))
    whole = values.network.resistance[0, 0]
    assert values.spreading[0, 0] == pytest.approx([0, 0], abs=1e-5 * whole)


def test_spreading_takes_the_longer_side_unless_told():
    own, along_x, along_y = (
        grid_values(section, *lines(section))[0].spreading[0, 0]
        for section in (bench(spreading=(Spreading(("block",), along),)) for along in (None, "x", "y"))
    )
    assert own == pytest.approx(along_y, rel=1e-9)
    assert abs(along_x - along_y).min() > 0.1 * abs(along_y).max()


def test_plates_that_spread_together_are_one_plate():
    """A plate drawn in two halves spreads like one drawn whole."""

    def plate(*parts, names):
        return Section(
            "plate",
            parts,
            (Environment("air", 0, 500.0),),
            border=Border(bottom="air"),
            sources=(Source("q", segment=Segment((0, 0.01), (0.01, 0.01)), heat=1),),
            spreading=(Spreading(names, "x"),),
        )

    whole = plate(solid("plate", 40.0, box(0, 0.05, 0, 0.01)), names=("plate",))
    halves = plate(
        solid("a", 40.0, box(0, 0.02, 0, 0.01)), solid("b", 40.0, box(0.02, 0.05, 0, 0.01)), names=("a", "b")
    )
    x, y = lines(halves)
    one, two = grid_values(whole, x, y)[0], grid_values(halves, x, y)[0]
    assert two.spreading == pytest.approx(one.spreading, rel=1e-9)
    assert one.spreading[0, 0, 0] > 0


def test_held_part_and_air_alone_need_no_field():
    """Nothing conducts but films; still a network."""
    section = Section(
        "tank",
        (
            air("room", box(0, 0.2, 0.1, 0.2)),
            solid("tank", 0.6, box(0, 0.2, 0, 0.1)),
            solid("foot", 1.0, box(0, 0.2, -0.01, 0)),
        ),
        (Environment("room", 20, 10),),
        sources=(Source("water", part="tank", temperature=5),),
    )
    network, *_ = solved(section)
    assert network.coupling == pytest.approx(np.array([[0, 2.0], [2.0, 0]]), rel=1e-12)
