"""The estimate of what a grid misses: near the truth, zero where nothing is missed, and put where the error is."""

import math

import numpy as np
import pytest

from fdm.conduction.flows import side_flows
from fdm.conduction.interval_errors import interval_errors
from fdm.conduction.network import network_values
from fdm.conduction.solver import unit_fields
from fdm.conduction.system import assemble
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Disc, Environment, Joint, Part, Section, Segment, Source
from validation.cases import air, box, solid
from validation.formulas import strip_on_channel

HELD = math.inf


def refined(section, halvings):
    x, y = first_lines(section)
    for _ in range(halvings):
        x, y = halved(x), halved(y)
    return x, y


def strip(k=160.0, c=0.05, t=0.01, h=3200.0):
    source = Source("q", segment=Segment((0, 0.01), (t, t)), heat=1)
    return Section(
        "strip",
        (solid("plate", k, box(0, c, 0, t)),),
        (Environment("air", 0, h),),
        border=Border(bottom="air"),
        sources=(source,),
    )


def errors(section, x, y, pairs, aim=0.0):
    system = assemble(section, x, y)
    fields = unit_fields(system)
    return interval_errors(system, fields, np.array(pairs), np.ones(len(pairs)), aim), network_values(system, fields)


@pytest.mark.parametrize("halvings", [1, 2, 3])
def test_the_estimate_is_near_the_error(halvings):
    """Of the strip's mean resistance, whose true value is a series (Yovanovich, Muzychka and Culham 1999)."""
    section = strip()
    true = 2 * strip_on_channel(0.2, 0.2, 1.0)[0] / 160 + (0.01 / 160 + 1 / 3200) / 0.05
    (estimated, _), network = errors(section, *refined(section, halvings), [(1, 1)])
    actual = abs(network.resistance[0, 0] - true)
    assert 0.4 * actual < estimated[0] < 4 * actual


def test_the_estimate_falls_with_the_square_of_the_cells():
    section = strip()
    found = [errors(section, *refined(section, n), [(1, 1)])[0][0][0] for n in (1, 2, 3)]
    assert found[0] > 3 * found[1] > 9 * found[2]


def test_where_heat_flows_straight_nothing_is_missed():
    section = Section(
        "slab",
        (solid("skin", 0.2, box(0, 0.1, 0, 0.002)), solid("foam", 0.03, box(0, 0.1, 0.002, 0.04))),
        (Environment("in", 20, 8), Environment("out", 0, 25)),
        border=Border(bottom="in", top="out"),
    )
    (estimated, (ex, ey)), network = errors(section, *refined(section, 0), [(0, 1)])
    assert estimated[0] < 1e-12 * network.coupling[0, 1]
    assert max(ex.max(), ey.max()) < 1e-12


def disc_half_in_another_block(k):
    """Held at 1 on one side and at 0 on the other; a round edge, and a straight one through the disc."""
    return Section(
        "half disc",
        (
            solid("below", 1.0, box(0, 1, 0, 0.5)),
            solid("disc", k, Disc((0.5, 0.5), 0.3)),
            solid("above", 1.0, box(0, 1, 0.5, 1)),
        ),
        (Environment("cold", 0, HELD), Environment("warm", 1, HELD)),
        border=Border(left="cold", right="warm"),
    )


@pytest.mark.parametrize("k", [1e4, 1e-4])
def test_a_jump_of_the_gradient_across_a_round_edge_is_no_error(k):
    """The coupling on three grids, against the same on one of an eighth of the last one's cells per axis."""
    section = disc_half_in_another_block(k)
    true = errors(section, *refined(section, 5), [(0, 1)])[1].coupling[0, 1]
    found = [errors(section, *refined(section, halvings), [(0, 1)]) for halvings in (0, 1, 2)]
    for (estimated, _), network in found:
        actual = abs(network.coupling[0, 1] - true)
        assert actual / 4 < estimated[0] < 4 * actual
    assert found[0][0][0] > 3 * found[2][0][0]


def test_two_solids_share_the_step_of_the_gradient_along_their_edge_by_conductivity():
    """A wire that is at one temperature all along leaves as much to miss, however well it conducts."""
    found = []
    for k in (1e4, 1e6):
        section = Section(
            "wire",
            (solid("foam", 1.0, box(0, 1, 0, 1)), solid("wire", k, box(0.4, 1, 0.45, 0.55))),
            (Environment("cold", 0, HELD), Environment("warm", 1, 5)),
            border=Border(left="cold", right="warm"),
        )
        found.append(errors(section, *refined(section, 1), [(0, 1)])[0][0][0])
    assert found[1] == pytest.approx(found[0], rel=0.05)


def test_the_intervals_hold_all_of_the_error_of_the_goals_above_the_aim():
    section = strip()
    x, y = refined(section, 1)
    (estimated, (ex, ey)), _ = errors(section, x, y, [(1, 1), (0, 1)])
    assert (len(ex), len(ey)) == (len(x) - 1, len(y) - 1)
    assert ex.sum() + ey.sum() == pytest.approx(estimated.sum(), rel=1e-9)
    aim = estimated.max() / 2
    (_, (ex, ey)), _ = errors(section, x, y, [(1, 1), (0, 1)], aim)
    assert ex.sum() + ey.sum() == pytest.approx(estimated[estimated > aim].sum(), rel=1e-9)


def test_the_error_is_found_where_the_source_ends():
    """The flux into the plate jumps at x = 10 mm: the worst interval along x ends there, along y at the heated face."""
    section = strip()
    x, y = refined(section, 2)
    (_, (ex, ey)), _ = errors(section, x, y, [(1, 1)])
    worst = int(ex.argmax())
    assert min(abs(x[worst] - 0.01), abs(x[worst + 1] - 0.01)) < 1e-9
    assert ey.argmax() == len(ey) - 1


def test_flows_through_a_cells_sides_balance():
    """Without round edges and heated parts, what enters a cell leaves it, in every unit field; also at heated and held
    faces, joints, borders and drawn airs."""
    section = Section(
        "balance",
        (
            air("room", box(0, 0.1, 0.04, 0.06)),
            solid("foam", 0.03, box(0, 0.1, 0, 0.04)),
            solid("block", (200.0, 100.0), box(0.03, 0.05, 0, 0.05)),
            Part("hole", (box(0.07, 0.08, 0.01, 0.02),), void=True),
            solid("pad", 1.5, box(0.03, 0.05, 0.03, 0.035)),
        ),
        (Environment("room", 28, 25), Environment("cabinet", 7, HELD)),
        border=Border(bottom="cabinet", right="room"),
        joints=(Joint(("pad", "block"), 1e-3),),
        sources=(
            Source("foil", segment=Segment((0.03, 0.05), (0.03, 0.03)), heat=1),
            Source("coil", segment=Segment((0.01, 0.02), (0.04, 0.04)), temperature=-3),
            Source("inner coil", segment=Segment((0.06, 0.06), (0.01, 0.03)), temperature=-3),
            Source("side", segment=Segment((0, 0), (0.01, 0.03)), heat=1),
        ),
    )
    system = assemble(section, *refined(section, 0))
    (west, east), (south, north) = side_flows(system, unit_fields(system))
    left_over = (west - east + south - north)[:, system.solid]
    largest = np.maximum(abs(west).max((1, 2)), abs(south).max((1, 2)))
    assert abs(left_over).max(1) == pytest.approx(np.zeros(len(west)), abs=1e-9 * largest.max())
    assert abs(left_over).max() < 1e-9 * largest.min()
