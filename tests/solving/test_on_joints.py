"""A sensor exactly on a joint is told of, with the temperatures of both sides."""

from dataclasses import replace

import pytest

from fdm.section.model import Border, Environment, Joint, Section, Sensor
from fdm.solving.steady import solve
from validation.cases import box, solid

HELD = float("inf")


def bar(x, joint=1e-3):
    """20 mm of 1 W/(m K), of which a joint parts 10 mm, between 0 and 21 degC: 1000 W/m2 with 1e-3 m2 K/W."""
    parts = solid("left", 1, box(0, 0.01, 0, 0.01)), solid("right", 1, box(0.01, 0.02, 0, 0.01))
    ends = Environment("cold", 0, HELD), Environment("warm", 21, HELD)
    return Section("bar", parts, ends, border=Border("cold", "warm"), joints=(Joint(("left", "right"), joint),),
                   sensors=(Sensor("probe", at=(x, 0.004)),))  # fmt: skip


def test_both_sides_are_told():
    (said,) = solve(bar(0.01)).warnings
    assert said.startswith("sensor 'probe' lies on the joint of 'left' and 'right', which are at about 10 and 11 degC")


@pytest.mark.parametrize(("x", "joint"), [(0.0099, 1e-3), (0.0101, 1e-3), (0.01, 0.0), (0.01, 1e-7)])
def test_none_is_told_beside_a_joint_or_where_it_hardly_matters(x, joint):
    assert solve(bar(x, joint)).warnings == ()


def test_without_joints_none_is_told():
    assert solve(replace(bar(0.01), joints=())).warnings == ()
