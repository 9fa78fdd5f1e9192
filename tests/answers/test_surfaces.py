"""Which surfaces have an answer."""

import numpy as np
import pytest

from fdm.section.model import Border, Environment, Material, Part, Polygon, Section
from fdm.solving.steady import solve
from validation.cases import box, solid

STEEL = Material("steel", (50.0, 50.0))


@pytest.mark.parametrize("within", [False, True])
def test_a_part_that_meets_an_air_in_a_point_alone_has_no_surface_there(within):
    """A wedge whose tip lies on the slanted edge of a duct: the coarsest grid sees it touch the duct, the next ones do
    not. Then one whose tip reaches into the duct."""
    tip = (0.052, 0.05 if within else 0.046)
    parts = (
        solid("foam", 0.03, box(0, 0.1, 0, 0.1)),
        Part("duct", (Polygon(((0.04, 0.04), (0.08, 0.06), (0.05, 0.08))),), environment="cold"),
        Part("wedge", (Polygon((tip, (0.056, 0.02), (0.072, 0.02))),), STEEL),
    )
    airs = (Environment("cold", 0, 5), Environment("air", 20, 10))
    solution = solve(Section("duct", parts, airs, border=Border(bottom="air")), target=0.1)
    assert solution.grid.target_met
    assert np.isfinite(solution.answers.value).all() and np.isfinite(solution.answers.band).all()
    surfaces = {q.path[1:3] for q in solution.answers.quantities if q.family == "surface"}
    assert surfaces == {("foam", "cold"), ("foam", "air")} | ({("wedge", "cold")} if within else set())
