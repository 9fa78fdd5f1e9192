"""Joints on slanted edges."""

import math

import pytest

from fdm.answers.kinds import solved
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import first_lines
from fdm.section.model import Environment, Joint, Polygon, Section
from validation.cases import air, solid

WIDTH, LAYER, JOINT, CONDUCTIVITY, FILM = 0.04, 0.01, 0.02, (1.0, 0.4), (20.0, 10.0)


@pytest.mark.parametrize("angle", [0.1, 0.35, 0.6])
def test_a_slanted_joint_that_ends_in_the_open_passes_what_it_does_in_series(angle):
    """Two layers between two airs, all turned; nothing passes their ends."""

    def layer(low, high):
        corners = ((0, low), (WIDTH, low), (WIDTH, high), (0, high))
        c, s = math.cos(angle), math.sin(angle)
        return Polygon(tuple((c * x - s * y, s * x + c * y) for x, y in corners))

    section = Section(
        "slab",
        (
            air("below", layer(-0.004, 0)),
            air("above", layer(2 * LAYER, 2 * LAYER + 0.004)),
            solid("one", CONDUCTIVITY[0], layer(0, LAYER)),
            solid("two", CONDUCTIVITY[1], layer(LAYER, 2 * LAYER)),
        ),
        (Environment("below", 0, FILM[0]), Environment("above", 20, FILM[1])),
        joints=(Joint(("one", "two"), JOINT),),
    )
    x, y, *_ = first_lines(section)
    found = solved(conduction_system(section, x, y)).answers.network.coupling[0, 1]
    in_series = JOINT + sum(LAYER / k for k in CONDUCTIVITY) + sum(1 / h for h in FILM)
    assert found == pytest.approx(WIDTH / in_series, rel=8e-4)
