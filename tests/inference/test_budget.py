"""Shares add up to the whole, and are what resistances in series and the dissipation say."""

import math

import numpy as np
import pytest

from fdm import solve
from fdm.conduction.derivatives import tangent
from fdm.conduction.inputs import inputs_of
from fdm.conduction.network import network_values
from fdm.inference.budget import budgets
from fdm.section.model import Border, Disc, Environment, Joint, Section, Segment, Source
from tests.inference.test_sensitivity import bolt, fin, on_a_coarse_grid, rod, wall
from validation.cases import air, box, solid


def stack(**more):
    """Film, joint and two layers in series, heated from above."""
    return Section(
        **{
            "title": "stack",
            "parts": (solid("base", 150.0, box(0, 0.1, 0, 0.006)), solid("paste", 0.8, box(0, 0.1, 0.006, 0.0062))),
            "environments": (Environment("air", 20, 60),),
            "border": Border(bottom="air"),
            "joints": (Joint(("base", "paste"), 5e-5),),
            "sources": (Source("module", segment=Segment((0, 0.1), (0.0062, 0.0062)), heat=5),),
            **more,
        }
    )


def test_resistances_in_series():
    budget = budgets(solve(stack())).resistance["module"]
    true = {"air": 1 / 60, "paste": 0.0002 / 0.8, "base | paste": 5e-5, "base": 0.006 / 150.0}
    assert [s.name for s in budget] == list(true)  # the largest first
    assert [s.kind for s in budget] == ["film", "part", "joint", "part"]
    for s in budget:
        assert s.value == pytest.approx(true[s.name] / 0.1, rel=1e-9)
        assert s.share == pytest.approx(true[s.name] / sum(true.values()), rel=1e-9)


def test_a_loss_through_layers_in_series():
    airs = Environment("air", 20, 60), Environment("room", 0, 8)
    section = stack(environments=airs, border=Border(bottom="air", top="room"), sources=())
    budget = {s.name: s.share for s in budgets(solve(section)).loss["air", "room"]}
    true = {"air": 1 / 60, "room": 1 / 8, "paste": 0.0002 / 0.8, "base | paste": 5e-5, "base": 0.006 / 150.0}
    for name, resistance in true.items():
        assert budget[name] == pytest.approx(resistance / sum(true.values()), rel=1e-9)


def test_paths_in_parallel_share_by_what_they_carry():
    section = Section(
        "two",
        (solid("poor", 0.03, box(0, 0.09, 0, 0.05)), solid("good", 1.0, box(0.09, 0.1, 0, 0.05))),
        (Environment("in", 20, math.inf), Environment("out", 0, math.inf)),
        border=Border(bottom="in", top="out"),
    )
    budget = {s.name: s.share for s in budgets(solve(section)).loss["in", "out"]}
    assert budget["poor"] == pytest.approx(0.0027 / 0.0127, rel=1e-9)
    assert budget["good"] == pytest.approx(0.01 / 0.0127, rel=1e-9)


def test_layers_of_a_pipe_and_its_films():
    """1/(h a), ln(b/a)/k, 1/(h b) over their sum, around round edges (Incropera et al.); on a grid of squares."""
    section = Section(
        "pipe",
        (
            air("out", box(-0.04, 0.04, -0.04, 0.04)), solid("foam", 0.1, Disc((0, 0), 0.03)),
            solid("wall", 2.0, Disc((0, 0), 0.015)), air("in", Disc((0, 0), 0.01)),
        ),
        (Environment("in", 1, 50), Environment("out", 0, 20)),
    )  # fmt: skip
    true = {"in": 1 / 50 / 0.01, "wall": math.log(1.5) / 2.0, "foam": math.log(2) / 0.1, "out": 1 / 20 / 0.03}
    for s in budgets(solve(section)).loss["in", "out"]:
        assert s.share == pytest.approx(true[s.name] / sum(true.values()), abs=0.003)


@pytest.mark.parametrize("make", [wall, rod, fin, bolt])
def test_shares_add_up_to_the_whole(make):
    solution = on_a_coarse_grid(make)
    values = network_values(solution.system, solution.unit_fields)
    found = budgets(solution)
    fixed, heat = solution.network.fixed, solution.network.heat
    assert tuple(found.resistance) == heat
    for name, budget in found.resistance.items():
        k = heat.index(name)
        assert sum(s.value for s in budget) == pytest.approx(values.resistance[k, k], rel=1e-9)
        assert sum(s.share for s in budget) == pytest.approx(1, rel=1e-12)
    for (a, b), budget in found.loss.items():
        assert sum(s.value for s in budget) == pytest.approx(values.coupling[fixed.index(a), fixed.index(b)], rel=1e-9)


@pytest.mark.parametrize("make", [wall, rod, fin, bolt])
def test_unit_fields_are_at_rest_between_the_conductances(make):
    """What reaches each cell through all conductances leaves it: none is missing, none is counted twice."""
    solution = on_a_coarse_grid(make)
    t = tangent(solution.system)
    sign = np.array([-1.0 if i.kind == "joint" else 1.0 for i in inputs_of(solution.section)])
    conductance = t.change.T @ sign  # of first degree in its inputs, so the sum of its derivatives
    nodes = t.units(solution.unit_fields)
    fixed = len(solution.section.fixed_names)
    for field, drops in zip(nodes[:fixed], t.drops(nodes[:fixed])):
        flow = conductance * drops
        left = np.bincount(t.link[0], flow, len(field)) - np.bincount(t.link[1], flow, len(field))
        inner = np.r_[: solution.system.solid.size, solution.system.solid.size + fixed : len(field)]
        assert abs(left[inner]).max() < 1e-8 * abs(flow).max()
