"""A cabinet's answers by path."""

import numpy as np
import pytest

from fdm.answers.quantity import find, main_quantities
from fdm.cabinet.losses import LineLoss
from fdm.cabinet.quantities import numbered, section_names
from fdm.cabinet.result import cabinet_dict
from fdm.cabinet.solution import solve_cabinet
from tests.cabinet.plain_box import IN_A_WALL, SEAL_FILE, box, seal, solved
from tests.output.cabinet_example import example

UNITS = {
    "operating_point.temperature.air": ("degC", "temperature of the air"),
    "operating_point.thermostat_reading": ("degC", "thermostat's reading"),
    "operating_point.current": ("A", "current through each module"),
    "operating_point.voltage": ("V", "voltage of the supply"),
    "operating_point.pumped": ("W", "heat pumped"),
    "operating_point.cop": ("", "COP"),
    "budget.shell.watts": ("W", "heat by shell"),
    "supply.lowest.supply": ("V", "voltage of the supply at the lowest air"),
    "supply.lowest.air": ("degC", "lowest air with any supply"),
    "supply.best.cop": ("", "best COP that holds the setpoint"),
    "pull_down.time_to_setpoint": ("s", "time to the setpoint"),
    "pull_down.energy_a_day": ("J", "energy a day"),
    "sections.piece.sensors.probe.misreading": ("K", "misreading of probe"),
    "sections.piece.terminals.inside.heat": ("W", "heat from inside into the section"),
}


def test_every_quantity_stands_at_its_path_with_its_band():
    answers, result = example().answers, cabinet_dict(example())
    assert len({q.path for q in answers.quantities}) == len(answers.quantities)
    for quantity, *numbers in answers:
        for inside, number in zip((result, result["band"]), numbers):
            for name in quantity.path:
                inside = inside[name]
            assert inside == (number if np.isfinite(number) else None), quantity.name


def test_the_band_of_the_heat_rejected_is_that_of_what_it_is_made_of():
    bands = {name: example().answers.at(name)[1] for name in ("heat rejected", "heat pumped", "power")}
    assert bands["heat rejected"] == pytest.approx(bands["heat pumped"] + bands["power"]) and bands["power"] > 0


def test_every_number_of_the_operating_point_is_a_quantity():
    answers, result = example().answers, cabinet_dict(example())
    point = {("operating_point", *path) for path in leaves(result["operating_point"])}
    assert point == {q.path for q in answers.quantities if q.path[0] == "operating_point"}
    pull_down = {("pull_down", *path) for path in leaves(result["pull_down"])} - {("pull_down", "settled")}
    assert pull_down == {q.path for q in answers.quantities if q.path[0] == "pull_down"}
    assert {q.path[:2] for q in answers.quantities if q.path[0] == "budget"} == {
        ("budget", b) for b in result["budget"]
    }


def leaves(of):
    return [(k, *p) for k, v in of.items() for p in (leaves(v) if isinstance(v, dict) else [()])]


def test_short_names_are_those_of_nodes_and_of_the_operating_point():
    answers, point = example().answers, example().point
    assert (
        answers.at("air")
        == answers.at("operating_point.temperature.air")
        == (point.temperature["air"], point.band["air"])
    )
    assert answers.at("power") == (point.power, point.power_band)
    assert answers.at("heat pumped")[0] == point.pumped
    assert answers.at("supply current")[0] == pytest.approx(2 * point.current)
    with pytest.raises(ValueError, match="did you mean"):
        answers.at("probe")  # of a section: a short name is the cabinet's own


@pytest.mark.parametrize("path", UNITS)
def test_units_and_words(path):
    quantity = find(path, example().answers.quantities)
    assert (quantity.name, quantity.unit, quantity.words) == (path, *UNITS[path])


def test_sections_are_called_by_their_file():
    names = {q.path[1] for q in example().answers.quantities if q.path[0] == "sections"}
    assert names == {"piece"} == set(section_names(example().sections))
    edge = LineLoss("edge", 1.0, file=SEAL_FILE, bridge="seal")
    two = solve_cabinet(box(IN_A_WALL, lines=(edge,), setpoint=-60), solved())
    assert {q.path[1] for q in two.answers.quantities if q.path[0] == "sections"} == {"piece", "seal"}
    assert two.answers.at("sections.seal.bridge.seal.psi") == seal().answers.at("bridge.seal.psi")
    assert numbered(["bolt", "lid", "bolt"]) == ["bolt", "lid", "bolt 2"]


def test_what_never_comes_is_infinite_and_what_a_builder_looks_at_first_is_the_cabinets_own():
    answers = solve_cabinet(box(setpoint=-20), {}).answers
    assert answers.at("pull_down.time_to_setpoint")[0] == np.inf
    assert np.isnan(answers.at("supply.best.cop")[0])
    assert [q.name for q in main_quantities(example().answers.quantities)] == [
        "operating_point.temperature.air", "operating_point.temperature.load", "operating_point.power",
        "pull_down.time_to_setpoint", "pull_down.energy_a_day",
    ]  # fmt: skip
