"""Fields of any loads, by factors and by multigrid."""

from dataclasses import replace

import numpy as np
import pytest

from fdm.conduction.linear.direct import factorised
from fdm.conduction.solver import heat_loads, prepared, unit_fields
from fdm.conduction.system import assemble
from fdm.errors import InputError
from fdm.grid.lines import first_lines, halved
from tests.conduction.test_system import VIEWS, messy, plate_on_film


def test_fields_are_the_sum_of_what_their_loads_cause():
    section = messy("section")
    system = assemble(section, *first_lines(section))
    factors = prepared(system)
    one, two, _ = heat_loads(system)
    together = (np.concatenate([one[0], two[0]]), np.concatenate([2 * one[1], -3 * two[1]]))
    apart, both = factors.fields([one, two]), factors.fields([together])
    assert both[0] == pytest.approx(2 * apart[0] - 3 * apart[1], abs=1e-10)


@pytest.mark.parametrize("count", [0, 1, 4, 7])
def test_many_loads_have_the_fields_of_each(count):
    section = messy("section")
    system = assemble(section, *first_lines(section))
    factors, loads = prepared(system), (heat_loads(system) * 3)[:count]
    fixed = factors.fields([], with_fixed=True)
    together = factors.fields(loads, with_fixed=True)
    assert len(together) == len(fixed) + count
    alone = [*fixed, *(factors.fields([load])[0] for load in loads)]
    assert together == pytest.approx(np.array(alone), rel=1e-12, abs=1e-14)


@pytest.mark.parametrize("view", VIEWS)
def test_multigrid_and_factors_agree(view, monkeypatch):
    section = messy(view)
    system = assemble(section, *map(halved, first_lines(section)))
    factored = unit_fields(system)
    for name, value in (("LARGE", 0), ("LINKED", 0), ("FEW", 100)):
        monkeypatch.setattr(f"fdm.conduction.solver.{name}", value)
    assert prepared(system).direct is None
    iterated = unit_fields(system)
    largest = abs(factored).max((1, 2), keepdims=True)
    assert (abs(iterated - factored) < 1e-8 * largest).all()


def test_a_field_of_one_terminal_is_all_one():
    section = replace(plate_on_film(), sources=())
    system = assemble(section, *first_lines(section))
    assert unit_fields(system)[0] == pytest.approx(1.0, rel=1e-12)


def test_a_sliver_that_is_tied_to_nothing_is_told():
    """Unknowns without any conductance, as cells in which those at slanted edges cancel."""
    with pytest.raises(InputError, match="a sliver of a solid is tied to nothing"):
        factorised(np.array([[0, 1]]), np.empty((0, 2)), np.zeros((1, 1)), None, np.array([1.0, 0.0]))
