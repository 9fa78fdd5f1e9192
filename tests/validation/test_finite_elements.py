"""The independent solver against closed forms, without the solver it checks."""

import math

import pytest

pytest.importorskip("skfem")

from fdm.errors import InputError
from fdm.section.model import Border, Disc, Environment, Joint, Polygon, Section, Segment, Shape, Source
from validation import formulas
from validation.cases import air, box, held, solid
from validation.finite_elements import network

ROOM = Environment("room", 20, 10)


def test_edge_of_unequal_walls() -> None:
    """P.M. Hall, Thin Solid Films 1 (1968) 277."""
    section = Section(
        "edge",
        (solid("walls", 1.0, box(0, 5, 0, 4)), air("inside", box(1, 5, 2, 4))),
        held("inside", "outside"),
        border=Border(left="outside", bottom="outside"),
    )
    true = 2 / 1 + 4 / 2 + formulas.edge_shape_factor(1, 2)
    assert network(section, 8).coupling[0, 1] == pytest.approx(true, rel=2e-5)


def test_error_falls_with_the_fourth_power() -> None:
    section = Section(
        "strip",
        (solid("plate", 1.0, box(0, 1, 0, 0.2)),),
        (Environment("air", 0, 1),),
        border=Border(bottom="air"),
        sources=(Source("source", segment=Segment((0, 0.2), (0.2, 0.2)), heat=1),),
    )
    true = 2 * formulas.strip_on_channel(0.2, 0.2, 1)[0] + 1.2
    coarse, fine = (abs(network(section, n).resistance[0, 0] - true) for n in (4, 8))
    assert 10 < coarse / fine < 25


def test_joint_about_an_axis() -> None:
    r1, r2, r3, k1, k2, joint = 0.01, 0.02, 0.03, 2.0, 5.0, 1e-3
    section = Section(
        "sleeve",
        (solid("inner", k1, box(r1, r2, 0, 0.1)), solid("outer", k2, box(r2, r3, 0, 0.1))),
        (Environment("water", 60, 500), ROOM),
        view="axisymmetric",
        border=Border(left="water", right="room"),
        joints=(Joint(("inner", "outer"), joint),),
    )
    resistance = (
        1 / (500 * 2 * math.pi * r1) + formulas.tube_resistance(r1, r2, k1) + joint / (2 * math.pi * r2)
        + formulas.tube_resistance(r2, r3, k2) + 1 / (10 * 2 * math.pi * r3)
    )  # fmt: skip
    assert network(section, 8).coupling[0, 1] == pytest.approx(0.1 / resistance, rel=1e-6)


def test_joint_in_part_of_a_seam_lies_between_open_and_none() -> None:
    def coupling(joints: tuple[Joint, ...]) -> float:
        parts = (solid("a", 1.0, box(0, 2, 0, 1)), solid("b", 1.0, box(0, 1, 1, 2)), solid("c", 1.0, box(1, 2, 1, 2)))
        section = Section("seam", parts, held("in", "out"), border=Border(bottom="in", top="out"), joints=joints)
        return float(network(section).coupling[0, 1])

    open_half = coupling((Joint(("a", "b"), 1e9),))
    assert coupling(()) == pytest.approx(1.0)
    assert coupling((Joint(("a", "b"), 1e-9),)) == pytest.approx(1.0, rel=1e-6)
    assert 0.5 < open_half < coupling((Joint(("a", "b"), 1.0),)) < 1.0


def test_weights_sum_to_one_and_resistance_is_symmetric() -> None:
    section = Section(
        "plate",
        (solid("plate", (3.0, 7.0), box(0, 2, 0, 1)), solid("chip", 1.0, box(0.5, 1, 1, 1.2))),
        (Environment("below", 0, 2), Environment("beside", 0, 5)),
        border=Border(bottom="below", right="beside"),
        sources=(
            Source("chip", part="chip", heat=1),
            Source("lamp", segment=Segment((1.2, 1.5), (1, 1)), heat=1),
            Source("held", segment=Segment((0, 0), (0.2, 0.6)), temperature=4),
        ),
    )
    values = network(section)
    assert values.weight.sum(1) == pytest.approx(1.0)
    assert values.resistance == pytest.approx(values.resistance.T)
    assert (values.resistance_max >= values.resistance).all()


def test_discs_have_curved_elements() -> None:
    section = Section(
        "annulus",
        (air("outside", box(-1.1, 1.1, -1.1, 1.1)), solid("ring", 1, Disc((0, 0), 1)), air("in", Disc((0.25, 0), 0.5))),
        held("outside", "in"),
    )
    true = formulas.eccentric_cylinders(2, 1, 0.25)
    coarse, fine = (abs(network(section, n).coupling[0, 1] / true - 1) for n in (3, 6))
    assert fine < 1e-5
    assert fine < coarse / 8


def test_slanted_parts_are_as_upright_ones() -> None:
    """A square with a square hole, turned by an angle of 3, 4, 5."""

    def turned(x0: float, x1: float) -> Polygon:
        corners = ((x0, x0), (x1, x0), (x1, x1), (x0, x1))
        return Polygon(tuple((0.8 * x - 0.6 * y, 0.6 * x + 0.8 * y) for x, y in corners))

    def section(outer: Shape, hole: Shape) -> Section:
        environments = (Environment("out", 0, 2), Environment("in", 0, 5))
        return Section("tube", (air("out", box(-2, 2, -2, 2)), solid("wall", 1, outer), air("in", hole)), environments)

    upright = network(section(box(-1, 1, -1, 1), box(-0.4, 0.4, -0.4, 0.4)), 8)
    slanted = network(section(turned(-1, 1), turned(-0.4, 0.4)), 4)
    assert slanted.coupling[0, 1] == pytest.approx(upright.coupling[0, 1], rel=1e-5)


def test_plate_between_two_films() -> None:
    """A strip warmed at its end, thin on its second half: a fin with two films, and one with a single film."""
    section = Section(
        "strip",
        (
            solid("thick", 5.0, box(0, 0.1, 0, 0.02), thickness=0.004, front="air", back="air"),
            solid("thin", 5.0, box(0.1, 0.2, 0, 0.02), thickness=0.002, front="air"),
        ),
        (Environment("air", 0, 10),),
        view="plate",
        sources=(Source("end", segment=Segment((0, 0), (0, 0.02)), heat=1),),
    )

    def fin(films: float, thickness: float) -> tuple[float, float]:
        m, k = math.sqrt(films * 10 / (5.0 * thickness)), 5.0 * thickness * 0.02
        return m * k, math.tanh(m * 0.1)

    (g1, t1), (g2, t2) = fin(2, 0.004), fin(1, 0.002)
    conductance = g1 * (g2 * t2 + g1 * t1) / (g1 + g2 * t2 * t1)
    assert network(section, 8).resistance[0, 0] == pytest.approx(1 / conductance, rel=5e-5)
    assert network(section, 16).resistance[0, 0] == pytest.approx(1 / conductance, rel=3e-6)


def test_highest_temperature_between_nodes() -> None:
    """A bar heated evenly throughout, held at one end and weakly cooled at the other."""
    section = Section(
        "bar",
        (solid("bar", 2.0, box(0, 1, 0, 0.1)),),
        (Environment("cold", 0, math.inf), Environment("air", 0, 1.3)),
        border=Border(left="cold", right="air"),
        sources=(Source("bar", part="bar", heat=1),),
    )
    watts = 1 / 0.1  # per m3
    slope = watts * (1 / 1.3 + 1 / 4) / (1 / 1.3 + 1 / 2) / 2  # K/m at the held end
    assert network(section, 3).resistance_max[0, 0] == pytest.approx(slope**2 * 2.0 / (2 * watts), rel=1e-5)


def test_refuses_a_source_on_a_joint() -> None:
    section = Section(
        "joint",
        (solid("a", 1.0, box(0, 1, 0, 1)), solid("b", 1.0, box(0, 1, 1, 2))),
        (ROOM,),
        border=Border(top="room"),
        joints=(Joint(("a", "b"), 0.1),),
        sources=(Source("foil", segment=Segment((0, 1), (1, 1)), heat=1),),
    )
    with pytest.raises(InputError, match="lies on a joint"):
        network(section)
