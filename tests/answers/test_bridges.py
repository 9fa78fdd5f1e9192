"""Bridges: what parts leak, on one grid."""

from dataclasses import replace

import numpy as np
import pytest

from fdm.answers.bridges import metres, sizes, symbol_of
from fdm.section.model import Border, Bridge, Environment, Part, Section
from tests.answers.bench import VIEWS, answered, bench, lines, on_grid
from validation.cases import box, solid


@pytest.mark.parametrize("view", VIEWS)
def test_a_bridge_is_the_difference_of_two_solves(view):
    bridges = Bridge(("block",), ("cabinet", "room")), Bridge(("cord", "block"), ("room", "coil"))
    section = bench(view, joints=(), sources=bench(view).sources[:2], bridges=bridges)
    x, y = lines(section)
    values, per = answered(section, at=(x, y)), metres(section)
    symbol, _ = symbol_of(section)
    drop = section.fixed_temperatures[0] - section.fixed_temperatures[1]
    assert drop != 0
    assert values["bridge.block.watts"] == pytest.approx(values[f"bridge.block.{symbol}"] * per * drop, rel=1e-12)

    def without(*names):
        left = replace(section, parts=tuple(p for p in section.parts if p.name not in names), bridges=(), sensors=())
        return on_grid(left, at=(x, y)).answers.network.coupling

    whole = on_grid(section, at=(x, y)).answers.network.coupling
    assert values[f"bridge.block.{symbol}"] * per == pytest.approx((whole - without("block"))[0, 1], rel=1e-8)
    assert values[f"bridge.cord + block.{symbol}"] * per == pytest.approx(
        (whole - without("cord", "block"))[1, 2], rel=1e-8
    )


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
    values = answered(section)

    def u(k):
        return 1 / (1 / 8 + 0.05 / k + 1 / 25)

    assert values["bridge.stud.psi"] == pytest.approx(0.01 * (u(0.13) - u(0.03)), rel=1e-9)


def test_a_small_bridge_is_wanted_as_exactly_as_a_share_of_all_that_passes():
    section = bench(bridges=(Bridge(("block",), ("cabinet", "room")),))
    network = on_grid(section).answers.network
    whole = network.coupling[0, 1] / metres(section)
    small, large = (sizes(section, network, np.array([psi, 1.0])) for psi in (0.0, 2 * whole))
    assert 0.001 * whole < small[0] < whole and large[0] == 2 * whole
    assert np.isinf(small[1])  # watts follow
