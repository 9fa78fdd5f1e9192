"""Which way of an answer is better."""

import pytest

from fdm.answers.quantity import Quantity
from fdm.cabinet.quantities import pull_down_answers, steady_answers
from fdm.section.reader import read_section
from fdm.solving.steady import solve
from fdm.studies.directions import BETTER, HIGHER, LOWER, SMALLER, better
from tests.output.cabinet_example import example

EXPECTED = {  # every path of the demo of a wall, by its beginning or end
    "terminals.cold face.temperature": HIGHER,
    "terminals.hot face.temperature": LOWER,
    "terminals.cabinet air.temperature": None,
    "terminals.cabinet air.heat": None,
    "sensors.thermostat.reading": None,
    "sensors.thermostat.misreading": SMALLER,
    "spreading.hot plate.hot face.mean": LOWER,
    "network.coupling.cabinet air.greenhouse air": LOWER,
    "network.weight.cold face.cabinet air": None,
    "network.resistance.hot face.hot face": LOWER,
    "network.resistance.thermostat.hot face": None,
    "surface.cold fins.cabinet air at the fins.lowest": None,
}


def test_of_a_section_each_kind_of_answer_has_its_way_or_none() -> None:
    answers = solve(read_section("geometries/wall_module.toml"), target=0.5).answers
    found = {path: better(answers.quantities[answers.number(path)]) for path in EXPECTED}
    assert found == EXPECTED
    assert {better(q) for q in answers.quantities if q.family == "surface"} == {None}


def test_of_a_cabinet_too() -> None:
    solved = example()
    ways = {
        q.path[-1]: better(q)
        for q, _, _ in (*steady_answers(solved.circuit, solved.point), *pull_down_answers(solved.pull_down))
    }
    assert (ways["air"], ways["load"], ways["hot face"], ways["power"], ways["energy_a_day"]) == (LOWER,) * 5
    assert ways["cop"] == HIGHER
    assert [ways[key] for key in ("cold face", "current", "thermostat_reading", "load_settles", "period")] == [None] * 5


@pytest.mark.parametrize("family", ["reading", "surface", "flow", "given", "let", "weight", "current"])
def test_what_is_not_in_the_table_has_no_better(family: str) -> None:
    assert all(known != family for known, _ in BETTER)
    assert better(Quantity(("a", "b"), "b of a", "", family)) is None
