"""Sections without a published answer, against the independent finite elements."""

import pytest

from fdm import solve
from validation.cross_checks import CrossCheck, compare, cross_checks

pytest.importorskip("skfem")


@pytest.mark.parametrize("check", cross_checks(), ids=lambda check: check.name)
def test_agrees_with_finite_elements(check: CrossCheck) -> None:
    found = compare(check, solve(check.section).network)
    assert found
    missed = [
        f"{o.quantity.name}: {o.value:.6g} +-{o.band:.1g}, finite elements {o.quantity.true:.6g}"
        for o in found
        if not o.inside
    ]
    assert not missed, missed
