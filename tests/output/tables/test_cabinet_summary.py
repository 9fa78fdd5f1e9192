"""The summary of a cabinet: what a builder asks, in agreement with the numbers behind it."""

import re
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
from rich.console import Console

from fdm.answers.rounding import rough
from fdm.cabinet.budget import levers
from fdm.cabinet.circuit import AIR
from fdm.cabinet.nodes import COLD, HOT, ROOM
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.solution import SolvedCabinet
from fdm.cabinet.steady import settle
from fdm.cabinet.thermostat import Thermostat
from fdm.output.tables.cabinet import print_cabinet
from fdm.output.tables.cabinet_summary import print_cabinet_summary
from fdm.solving.steady import solve
from tests.output.cabinet_example import example, zoned
from tests.output.export.test_probes import SLAB


@pytest.fixture(scope="module")
def cabinet() -> SolvedCabinet:
    return example()


def lines(solved: SolvedCabinet, width: int = 80) -> list[str]:
    text = StringIO()
    print_cabinet_summary(solved, Console(file=text, width=width))
    return text.getvalue().splitlines()


def said(solved: SolvedCabinet) -> str:
    return " ".join(lines(solved, 500))


def test_it_is_a_dozen_sentences_at_any_width(cabinet: SolvedCabinet) -> None:
    assert 9 <= len(lines(cabinet, 500)) <= 12
    for width in (60, 80, 120):
        assert max(map(len, lines(cabinet, width))) <= width
    assert lines(cabinet)[0] == "bulb [box]"


def test_its_numbers_are_those_of_the_answers(cabinet: SolvedCabinet) -> None:
    text, point, run = said(cabinet), cabinet.point, cabinet.pull_down
    air = re.search(r"the air gets to (-?[0-9.]+)(?: ± ([0-9.]+))? degC", text)
    assert air and float(air[1]) == pytest.approx(point.temperature["air"], rel=0.005, abs=float(air[2] or 0))
    largest = max(cabinet.budget, key=lambda b: b.watts)
    assert f"come from: {largest.name} {100 * largest.share:.0f} %" in text
    assert f"{run.mean_power:.3g} W on average, {run.energy_a_day / 3.6e6:.3g} kWh a day" in text
    assert f"{run.peaks.supply_current:.3g} A, {run.peaks.power:.3g} W; the modules stay within ratings" in text


def test_what_is_not_reached_and_what_is_too_much_is_said(cabinet: SolvedCabinet) -> None:
    cold = replace(cabinet.cabinet, setpoint=-40.0)
    sheet = replace(cabinet.cabinet.bank.data_sheet, greatest_voltage=1.0)
    hard = replace(cold, bank=replace(cold.bank, data_sheet=sheet))
    run = replace(cabinet.pull_down, load_setpoint_time=None, period=None, duty=1.0, dial=None)
    text = said(replace(cabinet, cabinet=hard, pull_down=run))
    assert "above the setpoint of -40 degC, which is NOT reached" in text
    assert "The load does NOT get down to -40 degC: it settles at" in text
    assert "as it is always on" in text and "above their greatest_voltage of 1 V" in text
    slow = replace(run, load_settles=7.999), replace(run, load_settles=8.01)
    under, over = (said(replace(cabinet, pull_down=x)) for x in slow)
    assert "The load comes to 8 degC by and by: it is " in under
    assert "The load stays a little above 8 degC: it settles at 8.01 degC, 0.01 K above" in over
    at_once = said(replace(cabinet, pull_down=replace(cabinet.pull_down, load_setpoint_time=0.0)))
    assert "The load is at 8 degC or less from the start" in at_once


def test_a_tenth_does_what_is_said(cabinet: SolvedCabinet) -> None:
    c, supply = cabinet.circuit, cabinet.cabinet.bank.supply
    found = levers(c, cabinet.point)
    assert [abs(x.colder) for x in found] == sorted((abs(x.colder) for x in found), reverse=True)
    for x in found[:3]:
        more = [
            replace(p, conductance=1.01 * p.conductance) if p.name == x.name and {*p.ends} <= _of(x.ends, p.kind) else p
            for p in c.paths
        ]
        moved = settle(replace(c, paths=tuple(more)), supply)[c.number(AIR)]
        before = settle(c, supply)[c.number(AIR)]
        assert before - moved == pytest.approx(x.colder / 10, rel=0.05, abs=1e-9)
    sink = next(x for x in found if {*x.ends} == {HOT, ROOM})
    wall = next(x for x in found if x.name == "shell")
    assert sink.colder > 0 > wall.colder and np.isfinite(wall.colder)
    assert f"a tenth less through the shell, {-wall.colder:.2g} K" in said(cabinet)
    assert next(x for x in found if {*x.ends} == {AIR, COLD}).colder > 0


def _of(ends: tuple[str, str], kind: str) -> set[str]:
    """Nodes between which a lever's paths lie: a wall's also by its lining."""
    return {*ends} if kind == "section" else {*ends, AIR, ROOM, "lining of shell"}


def test_leads_of_the_thermostats_sensor_are_named(cabinet: SolvedCabinet) -> None:
    assert "along its" not in said(cabinet)
    file = SectionFile("slab.toml", (), SLAB)
    thermostat = Thermostat(1, file, "bead", ("cabinet",), ("room",))
    sections = {**cabinet.sections, file: solve(SLAB, 0.05)}
    solved = replace(cabinet, cabinet=replace(cabinet.cabinet, thermostat=thermostat), sections=sections)
    found = solved.thermostat_at_work()
    assert found is not None and found.stem and found.self_heating
    assert found.should_read is None
    assert f"({rough(found.stem)} K along its stem, {rough(found.self_heating)} K by its own heating)" in said(solved)
    weight = solved.sections[file].network.values.weight[0]
    t = solved.point.temperature
    assert found.reading == pytest.approx(weight @ [t[AIR], t[ROOM]] + found.self_heating)


def test_zones_are_named_and_the_thermostat_s_place_is_told() -> None:
    solved = zoned()
    text, t = said(solved), solved.point.temperature
    place = t["air above"] - t["air below"]
    assert f"the air below gets to {t['air below']:.2g}"[:24] in text
    assert "come from: shell (air above) " in text
    assert f"The thermostat reads {place:.2g} K more than the air below" in text
    assert f"its mount makes nothing, beside the air around it, and its place {place:.2g} K too much" in text
    (fan,) = solved.mends
    assert f"{fan.words}, {fan.left:.2g} K too much, with the air below at {fan.air:.3g} degC" in text
    assert fan.left < 0.5 * place
    weak = next(w for w in solved.warnings if w.startswith("exchange 'small fan': its 2 m3/h bring "))
    assert f" bring {100 * solved.circuit.passing:.0f} % of the heat that the cold sink would take" in weak
    assert "From the air above to the air below pass 2 m3/h along the cold sink" in text
    assert f"the load settles at {t['load (air below)']:.3g} degC in the air below, " in text
    tables = StringIO()
    print_cabinet(solved, Console(file=tables, width=500))
    assert f"The thermostat reads {place:+.2f} K beside the air below." in tables.getvalue()
    assert "temperature differences within each zone of air" in tables.getvalue()
