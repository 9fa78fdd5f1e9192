"""Sections without a published answer, against the independent finite elements."""

import pytest

from fdm import solve
from fdm.section.model import Section
from validation.cross_checks import compare, sections

pytest.importorskip("skfem")


@pytest.mark.parametrize("name, section, cells", sections(), ids=lambda v: v if isinstance(v, str) else "")
def test_agrees_with_finite_elements(name: str, section: Section, cells: int) -> None:
    found = compare(section, solve(section).network, cells)
    assert found
    missed = [f"{o.quantity.name}: {o.value:.6g} +-{o.band:.1g}, finite elements {o.quantity.true:.6g}" for o in found if not o.inside]
    assert not missed, missed
