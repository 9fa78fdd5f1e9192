"""Joints on slanted edges."""

import math

import pytest

from fdm.answers.kinds import solved
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import first_lines
from fdm.inference.budget import budgets
from fdm.section.model import Disc, Environment, Joint, Polygon, Section, Sensor, Source
from fdm.solving.steady import solve
from validation.cases import air, box, solid

WIDTH, LAYER, JOINT, CONDUCTIVITY, FILM = 0.04, 0.01, 0.02, (1.0, 0.4), (20.0, 10.0)


@pytest.mark.parametrize("angle", [0.1, 0.35, 0.6])
@pytest.mark.parametrize("deep", [(1.0, 1.0), (1.0, 0.7)])  # of each layer; where they differ, seen face on as a plate
def test_a_slanted_joint_that_ends_in_the_open_passes_what_it_does_in_series(angle, deep):
    """Two layers between two airs, all turned; nothing passes their ends. The joint is as deep as the thinner one."""
    one, two = ({}, {}) if deep[0] == deep[1] else ({"thickness": t} for t in deep)

    def layer(low, high):
        corners = ((0, low), (WIDTH, low), (WIDTH, high), (0, high))
        c, s = math.cos(angle), math.sin(angle)
        return Polygon(tuple((c * x - s * y, s * x + c * y) for x, y in corners))

    section = Section(
        "slab",
        (
            air("below", layer(-0.004, 0)),
            air("above", layer(2 * LAYER, 2 * LAYER + 0.004)),
            solid("one", CONDUCTIVITY[0], layer(0, LAYER), **one),
            solid("two", CONDUCTIVITY[1], layer(LAYER, 2 * LAYER), **two),
        ),
        (Environment("below", 0, FILM[0]), Environment("above", 20, FILM[1])),
        joints=(Joint(("one", "two"), JOINT),),
        view="plate" if one else "section",
    )
    x, y, *_ = first_lines(section)
    found = solved(conduction_system(section, x, y)).answers.network.coupling[0, 1]
    in_series = JOINT / min(deep) + sum((LAYER / k + 1 / h) / d for k, h, d in zip(CONDUCTIVITY, FILM, deep))
    assert found == pytest.approx(WIDTH / in_series, rel=2e-3 if one else 8e-4)


@pytest.mark.parametrize("joint", [1e-5, 1e-3, 0.1])
@pytest.mark.parametrize("view", ["section", "plate"])
def test_a_joint_on_the_round_edge_of_a_held_part_counts(joint, view):
    """A held disc of radius 10 mm in a ring up to 30 mm, with air around: all in series."""
    thick = {"thickness": 0.002} if view == "plate" else {}
    parts = (
        air("out", box(-0.035, 0.035, -0.035, 0.035)),
        solid("ring", 2.0, Disc((0, 0), 0.03), **thick),
        solid("core", 2.0, Disc((0, 0), 0.01), **thick),
    )
    held = Section(
        "held", parts, (Environment("out", 0, 20.0),), joints=(Joint(("ring", "core"), joint),), view=view,
        sources=(Source("held", part="core", temperature=1.0),), sensors=(Sensor("edge", at=(0.0, 0.01)),),
    )  # fmt: skip
    deep = 0.002 if view == "plate" else 1.0
    parted, ring, film = joint / 0.01, math.log(3) / 2.0, 1 / 20.0 / 0.03
    solution = solve(held)
    value, band = solution.answers.at("network.coupling.out.held")
    assert abs(value - 2 * math.pi * deep / (parted + ring + film)) < band < 0.01 * value
    share = {e.name: e.share for e in budgets(solution).loss["out", "held"] if e.kind == "joint"}
    assert sum(share.values()) == pytest.approx(parted / (parted + ring + film), rel=0.01)
