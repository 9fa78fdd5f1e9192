"""The network: superposition, conservation and symmetry on one grid."""

from dataclasses import replace

import numpy as np
import pytest

from fdm.answers.grid import UnitAnswers
from fdm.answers.network import conductance_matrix, goals, network_in, quantities, sizes, values
from fdm.conduction.flows import terminal_flows
from fdm.section.model import Border, Environment, Section, Segment, Sensor, Source
from tests.answers.bench import VIEWS, bench, on_grid
from validation.cases import air, box, solid


@pytest.mark.parametrize("view", VIEWS)
def test_weights_sum_to_one_and_resistance_is_symmetric(view):
    network = on_grid(bench(view)).answers.network
    assert network.weight.sum(1) == pytest.approx(np.ones(4), abs=1e-11)
    assert network.resistance[:2] == pytest.approx(network.resistance[:2].T, rel=1e-9)
    assert (network.weight >= 0).all() and (network.resistance > 0).all()
    assert (network.resistance_max >= network.resistance[:2] - 1e-12).all()


@pytest.mark.parametrize("view", VIEWS)
def test_the_conductance_matrix_of_all_terminals_gives_the_flows_of_the_field(view):
    """From the heat terminals' mean temperatures instead of their watts."""
    section = bench(view)
    grid = on_grid(section)
    network, flat = grid.answers.network, grid.units.reshape(len(grid.units), -1)
    heat = len(section.heat_names)
    temperatures, watts = np.array([7.0, 28.0, -4.0]), np.array([3.0, 0.5])
    matrix = conductance_matrix(network)
    assert matrix == pytest.approx(matrix.T, abs=1e-9 * abs(matrix).max())
    assert matrix.sum(0) == pytest.approx(np.zeros(len(matrix)), abs=1e-9 * abs(matrix).max())

    of_heat = network.weight[:heat] @ temperatures + network.resistance[:heat] @ watts
    into_section = matrix @ np.concatenate([temperatures, of_heat])
    assert into_section[-heat:] == pytest.approx(watts, rel=1e-8)
    from_field = terminal_flows(grid.system, np.concatenate([temperatures, watts]) @ flat, temperatures, watts)
    assert into_section[:-heat] == pytest.approx(from_field, rel=1e-8)
    assert from_field.sum() + watts.sum() == pytest.approx(0, abs=1e-9 * abs(from_field).max())


def test_of_a_sources_watts_each_terminal_takes_its_weight():
    section = bench()
    grid = on_grid(section)
    network, flat = grid.answers.network, grid.units.reshape(len(grid.units), -1)
    watts = np.array([1.0, 0.0])
    out = -terminal_flows(grid.system, watts @ flat[3:], np.zeros(3), watts)
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
    network = on_grid(section, 3).answers.network
    assert network.resistance_max[0, 0] == pytest.approx(network.resistance[1, 0], rel=2e-3)
    assert network.resistance[2, 0] < network.resistance[0, 0] < network.resistance_max[0, 0]


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
    network = on_grid(section).answers.network
    assert network.coupling == pytest.approx(np.array([[0, 2.0], [2.0, 0]]), rel=1e-12)


def test_a_coupling_far_below_the_largest_is_wanted_as_exactly_as_a_fiftieth_of_that():
    """By its target, and by the goal of refinement; larger ones as exactly as they are themselves."""
    section = bench()
    grid = on_grid(section)
    coupling = np.array([[0, 1e-4, 0.5], [1e-4, 0, 4.0], [0.5, 4.0, 0]])
    network = replace(grid.answers.network, coupling=coupling)
    vector = values(section, UnitAnswers(network))
    wanted = {(0, 1): 0.02 * 4.0, (0, 2): 0.5, (1, 2): 4.0}
    paths = [q.path for q in quantities(grid.system)]
    found = dict(zip(paths, sizes(section, network, vector)))
    names = section.fixed_names
    assert {pair: found["network", "coupling", names[pair[0]], names[pair[1]]] for pair in wanted} == wanted
    felt = {(g.adjoint[1], g.field[1]): g.size for g in goals(section, network, vector, np.zeros(len(vector)))[:3]}
    assert felt == wanted


def test_a_sensors_resistance_is_wanted_as_exactly_as_four_kelvin_need_it():
    """More watts ask more of it, until it is wanted relative to itself or to its place's own rise."""
    network, section = on_grid(bench()).answers.network, bench()

    def wanted(scale):
        sources = tuple(s if s.heat is None else replace(s, heat=scale * s.heat) for s in section.sources)
        vector = sizes(replace(section, sources=sources), network, values(section, UnitAnswers(network)))
        return network_in(section, vector).resistance[2:]

    assert wanted(1e-3) == pytest.approx(np.tile(4.0 / np.array([3e-3, 0.5e-3]), (2, 1)))
    assert wanted(1e-3).min() > wanted(1e9).max() > 0
    assert wanted(1e9) == pytest.approx(np.maximum(network.resistance[2:], 0.1 * np.diag(network.resistance[:2])))
