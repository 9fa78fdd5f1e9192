"""The highest temperature of a heated part between grid points, against closed forms of one dimension."""

import numpy as np
import pytest

from fdm.conduction.network import network_values
from fdm.conduction.peaks import parabola_rise, parabola_rise_weights
from fdm.conduction.solver import unit_fields
from fdm.conduction.system import assemble
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Section, Segment, Source
from validation.cases import box, solid

THICK, WIDE, K = 0.02, 0.1, 0.4  # m, m, W/(m K)


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("film", [0.5, 3, 20, 150, 4000])
def test_a_layer_heated_evenly_has_its_top_where_it_belongs(axis, film):
    """Between a film of 20 W/(m2 K) and another. T = a + b x - q x^2 / (2 k), k b = h1 a at x = 0, and at the other
    face what flows out passes the other film."""
    environments = Environment("a", 0, 20), Environment("b", 0, film)
    sides = ("left", "right") if axis == 0 else ("bottom", "top")
    shape = box(0, THICK, 0, WIDE) if axis == 0 else box(0, WIDE, 0, THICK)
    section = Section(
        "heated layer", (solid("layer", K, shape),), environments,
        border=Border(**dict(zip(sides, "ab"))), sources=(Source("layer", part="layer", heat=1),),
    )  # fmt: skip
    q = 1 / (THICK * WIDE)
    a = (q * THICK + film * q * THICK**2 / (2 * K)) / (20 + film * (1 + 20 * THICK / K))
    b = 20 * a / K
    place = np.clip(K * b / q, 0, THICK)
    x, y = (halved(lines) for lines in first_lines(section))
    system = assemble(section, x, y)
    found = network_values(system, unit_fields(system)).resistance_max[0, 0]
    assert found == pytest.approx(a + b * place - q * place**2 / (2 * K), rel=1e-9)


def test_the_rise_to_a_top_is_of_first_degree_and_none_beyond_the_places():
    s, t = (
        np.array([[0.0, -1.0, 3.0], [0.0, 1.0, 2.0], [0.0, 0.0, 0.0]]),
        np.array([[5, 3.0, 2.0], [5, 3, 0], [5, 5, 5]]),
    )
    rise = parabola_rise(s, t)
    assert rise[0] > 0
    assert rise[1:].tolist() == [0, 0]
    assert (parabola_rise_weights(s, t) * t).sum(1) == pytest.approx(rise)
    step = np.array([0.0, 1e-6, 0.0])
    slope = (parabola_rise(s, t + step) - parabola_rise(s, t - step)) / 2e-6
    assert parabola_rise_weights(s, t)[:, 1] == pytest.approx(slope, abs=1e-8)


@pytest.mark.parametrize("degrees", [17, 40, 63])
@pytest.mark.parametrize("film", [0.0, 5.0])
def test_a_slanted_bar_that_is_cooled_at_one_end_is_warmest_at_the_other(degrees, film):
    """In a void, or in air: grid points beyond its edges, which have no temperature or the air's, make no top."""
    long, wide, k = 0.05, 0.008, 20.0
    along = np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))])

    def bar(u0, u1, v0, v1):
        points = np.array([(u0, v0), (u1, v0), (u1, v1), (u0, v1)]) @ [along, [-along[1], along[0]]]
        return Polygon(tuple(map(tuple, points.tolist())))

    around = box(-0.05, 0.08, -0.05, 0.08)
    section = Section(
        "bar",
        (
            Part("void", (around,), void=True) if film == 0 else Part("air", (around,), environment="air"),
            solid("cold", k, bar(-0.01, 0, -0.01, wide + 0.01)),
            solid("bar", k, bar(0, long, 0, wide)),
        ),
        (Environment("air", 0, film or 1.0),),
        sources=(Source("held", part="cold", temperature=0), Source("bar", part="bar", heat=1)),
    )
    # of a fin with heat in it, K / W: far (1 - cosh a u) + b sinh a u, where k dT/du = -film T at its end
    a, end = np.sqrt(2 * (film or 1e-6) / (k * wide)), film / k
    far, sinh, cosh = 1 / (k * wide * long * a**2), np.sinh(a * long), np.cosh(a * long)
    b = far * (a * sinh - end * (1 - cosh)) / (a * cosh + end * sinh)
    true = far * (1 - cosh) + b * sinh
    system = assemble(section, *(halved(lines) for lines in first_lines(section)))
    assert network_values(system, unit_fields(system)).resistance_max[0, 0] == pytest.approx(true, rel=0.02)


def test_cells_that_reach_beyond_a_round_part_do_not_make_it_hotter():
    """A disc that conducts perfectly is as hot everywhere as it is on average, however steep the gradient beside it."""
    parts = solid("block", 0.5, box(0, 0.06, 0, 0.03)), solid("disc", 1e5, Disc((0.031, 0.0147), 0.004))
    sources = Source("disc", part="disc", heat=1), Source("strip", Segment((0.06, 0.06), (0, 0.03)), heat=1)
    section = Section("disc", parts, (Environment("air", 0, 100),), border=Border(left="air"), sources=sources)
    system = assemble(section, *first_lines(section))
    network = network_values(system, unit_fields(system))
    assert network.resistance_max[0, 1] == pytest.approx(network.resistance[0, 1], rel=0.002)
