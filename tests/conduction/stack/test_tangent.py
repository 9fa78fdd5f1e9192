"""Budgets and sensitivities of plates in layers, against other inputs solved anew."""

from dataclasses import replace

import numpy as np
import pytest

from fdm import solve
from fdm.answers.kinds import asked_of, solved
from fdm.conduction.inputs import inputs_of
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import first_lines
from fdm.inference.adjoint import adjoint_systems
from fdm.inference.budget import budgets
from fdm.section.model import Section
from tests.conduction.stack.plates import fins, sink, uneven

SECTION = uneven()
LINES = first_lines(SECTION)
GRID = solved(conduction_system(SECTION, *LINES))
ASKED = asked_of(GRID.system)
ADJOINT = adjoint_systems(GRID)
NAMES = [i.name for i in inputs_of(SECTION)]


def scaled(name: str, factor: float) -> Section:
    """The section with one input `factor` times as large."""

    def metal(x):  # type: ignore[no-untyped-def]
        if x.name != name or x.material is None:
            return x
        k = x.material.conductivity
        return replace(x, material=replace(x.material, conductivity=(factor * k[0], factor * k[1])))

    joints = tuple(replace(f, joint=factor * f.joint) if name.startswith(f"{f.name} |") else f for f in SECTION.fins)
    air = tuple(replace(e, film=factor * e.film) if e.name == name else e for e in SECTION.environments)
    return replace(SECTION, parts=tuple(map(metal, SECTION.parts)), fins=tuple(map(metal, joints)), environments=air)


def values(name: str, factor: float) -> np.ndarray:
    return ASKED.values(solved(conduction_system(scaled(name, factor), *LINES)).answers)


@pytest.mark.parametrize("name", ["plate", "inlay", "air", "fins", "ribs", "fins | plate + inlay"])
def test_every_answer_changes_as_adjoints_say(name: str) -> None:
    slope = ASKED.changes(ADJOINT.changes())[:, NAMES.index(name)]
    true = (values(name, 1.001) - values(name, 0.999)) / 0.002
    for family in ("coupling", "weight", "resistance", "resistance_max", "reading", "spreading"):
        on = [q.family == family for q in ASKED.quantities]
        # of the largest change of its kind: weights with which faces under films are read are kept
        assert slope[on] == pytest.approx(true[on], rel=5e-3, abs=5e-3 * abs(true[on]).max(initial=1e-12) + 1e-5)


def test_answers_far_from_the_solved_ones_come_without_another_solve() -> None:
    factors = np.ones((2, len(NAMES)))
    factors[:, NAMES.index("air")] = 0.8, 1.25
    before = ASKED.values(ADJOINT.as_solved)
    for factor, after in zip((0.8, 1.25), ADJOINT.with_scaled_inputs(factors)):
        on = [q.family in ("coupling", "resistance", "resistance_max", "reading", "surface") for q in ASKED.quantities]
        change = (ASKED.values(after) - before)[on]
        true = (values("air", factor) - ASKED.values(GRID.answers))[on]
        assert change == pytest.approx(true, rel=0.03, abs=1e-4 * abs(true).max())
        of_fins = [q.family == "fins" for q in ASKED.quantities]
        assert ASKED.values(after)[of_fins] == pytest.approx(values("air", factor)[of_fins], rel=5e-3)


def test_shares_of_a_budget_make_up_the_whole() -> None:
    t = GRID.system.tangent
    drops = t.drops(t.units(GRID.units))
    for a, b, whole in ((2, 2, GRID.answers.network.resistance[0, 0]), (0, 1, -GRID.answers.network.coupling[0, 1])):
        assert (t.sign * t.effects(drops[a], drops[[b]])[:, 0]).sum() == pytest.approx(whole)
    of = {s.name: s.share for s in budgets(solve(sink(fins=(fins(joint=1e-5),)))).resistance["module"]}
    assert sum(of.values()) == pytest.approx(1)
    assert of["air"] > of["plate"] > of["fins"] > of["fins | plate"] > 0
