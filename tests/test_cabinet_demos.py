"""The demo cabinets: solved as they stand, and in the neighbourhood of what such cabinets do.

What they should come near is common practice, no source: there is no measured cabinet behind the invented ones.
"""

from functools import cache
from io import StringIO
from pathlib import Path
from time import perf_counter

import numpy as np
import pytest
from rich.console import Console

from fdm.cabinet.following import circuit_at_work
from fdm.cabinet.mends import mends
from fdm.cabinet.misreading import misreading
from fdm.cabinet.reader import read_cabinet
from fdm.cabinet.sections import lumped, solve_sections
from fdm.cabinet.solution import SolvedCabinet, solve_cabinet
from fdm.cabinet.steady import operating_point
from fdm.output.tables.cabinet_summary import print_cabinet_summary

GEOMETRIES = Path(__file__).parents[1] / "geometries"
KNOWN = {}


@cache
def demo(name: str, **let: float) -> SolvedCabinet:
    answer = solve_cabinet(read_cabinet(GEOMETRIES / f"{name}.toml", **let), KNOWN, target=0.03)
    KNOWN.update(answer.sections)
    return answer


def test_two_modules_hold_the_setpoint():
    start = perf_counter()
    answer = demo("bulb_cabinet")
    assert perf_counter() - start < 20  # about 3 s alone
    assert 20 < 30 - answer.point.temperature["air"] < 27
    assert answer.warnings == ()
    run = answer.pull_down
    assert run.settled and run.period is not None and 0.5 < run.duty < 1
    assert 600 < run.period < 7200
    assert abs(run.load_settles - 7) < 1
    assert 12 * 3600 < run.time_to_setpoint < 48 * 3600  # a night or two for 12 kg


def test_the_first_screen_says_what_a_builder_asks():
    for name, words in (
        (
            "bulb_cabinet",
            ("below the setpoint of 7 degC", "The load gets from 30 to 7 degC in", "the load stands at 7"),
        ),
        ("bulb_cabinet_single", ("which is NOT reached", "does NOT get down to 7 degC", "no voltage up to 24 V holds")),
    ):
        text = StringIO()
        print_cabinet_summary(demo(name), Console(file=text, width=80))
        assert len(text.getvalue().splitlines()) <= 24  # what a terminal shows at once
        said = " ".join(text.getvalue().split())
        assert all(word in said for word in (*words, "kWh a day", "come from: walls", "Supply and fuse", "To try"))


def test_the_time_to_the_setpoint_is_about_the_heat_over_the_mean_surplus():
    """By hand: the heat of the bulbs over the mean of what the modules have to spare on the way."""
    answer = demo("bulb_cabinet")
    heat = 12 * 3600 * (30 - 8)
    first, last = answer.pull_down.always_on.temperature[[0, -1]]
    assert first[answer.circuit.number("load")] == 30 and last[answer.circuit.number("load")] < 5
    chart = answer.chart
    spare = float(
        np.interp(12, chart.supply, chart.setpoint_spare)
    )  # at the setpoint; at the start it is some 25 W more
    assert heat / (spare + 25) < answer.pull_down.load_time < heat / spare


def test_the_current_falls_as_the_modules_get_their_difference():
    """Supply and fuse are for the current at switch-on; the modules' own voltage takes a tenth to a fifth of it."""
    for name in ("bulb_cabinet", "bulb_cabinet_single"):
        power = demo(name).pull_down.always_on.power  # at constant voltage, as the current
        assert 0.10 < 1 - power[-1] / power[0] < 0.20


def test_half_the_modules_halve_the_current():
    two, one = demo("bulb_cabinet"), demo("bulb_cabinet_single")
    total = [a.point.power / 12 for a in (two, one)]
    assert 0.45 < total[1] / total[0] < 0.55
    assert one.point.temperature["air"] > two.point.temperature["air"] + 5
    assert any("never switches off" in w for w in one.warnings)


def test_the_modules_work_in_their_useful_range():
    """No module is of use beyond some 60 K between its faces, nor much above its best current."""
    for name in ("bulb_cabinet", "bulb_cabinet_single"):
        answer = demo(name)
        p = answer.point
        assert 15 < p.temperature["hot face"] - p.temperature["cold face"] < 60
        assert 0.5 < p.current / 3 < 1  # of the greatest current
        assert 0.2 < p.cop < 1
        assert 0 < answer.heat_check.excess < 0.2
        assert p.temperature["hot face"] < 80


def test_bands_are_small_beside_what_they_belong_to():
    p = demo("bulb_cabinet").point
    assert max(p.band.values()) < 0.2 and 0 < p.band["air"]
    assert p.power_band < 0.01 * p.power and p.pumped_band < 0.01 * p.pumped


def test_the_budget_by_hand():
    """Walls by their layers; 0.54 x conductivity for the edges; the rest is what one expects of bolts and a seal."""
    answer = demo("bulb_cabinet")
    watts = {b.name: b.watts for b in answer.budget}
    drop = 30 - answer.point.temperature["air"]
    u = 1 / (1 / 8 + 0.002 / 0.17 + 0.054 / 0.033 + 0.004 / 0.13 + 1 / 8)
    piece = np.pi * (answer.cabinet.bank.file.section.let["end"] / 1e3) ** 2  # of wall, in a section
    assert watts["walls"] == pytest.approx(u * (2 * (0.4 + 0.35) * 0.45 - 2 * piece) * drop, rel=0.03)
    assert watts["lid and floor"] == pytest.approx(u * 2 * 0.4 * 0.35 * drop, rel=0.03)
    assert watts["edges"] == pytest.approx(0.54 * 0.033 * 4.8 * drop, rel=1e-6)
    assert watts["load's own heat"] == pytest.approx(0.36) and watts["fan of the cold sink"] == 1.5
    assert 0.1 * watts["walls"] < watts["lid seal"] < 0.3 * watts["walls"]
    assert watts["bolts"] < 0.15 * answer.point.pumped
    assert sum(watts.values()) == pytest.approx(answer.point.pumped)


def test_thick_plates_alone_do_not_replace_the_second_module():
    thin, thick = demo("bulb_cabinet_single"), demo("bulb_cabinet_single", hot_plate=10, cold_plate=6)
    gained = thin.point.temperature["air"] - thick.point.temperature["air"]
    assert 0.5 < gained < 30 - 15


def test_less_voltage_costs_less_a_day():
    """The chart's best voltage at the setpoint against 12 V: the sections are known, so only the lumps are solved."""
    answer = demo("bulb_cabinet")
    best, cop = answer.chart.best
    assert 6 < best < 12 and cop > answer.point.cop
    assert answer.chart.lowest[0] > 12 and answer.chart.lowest[1] < answer.point.temperature["air"]


def test_without_a_fan_inside_place_and_mount_are_told_apart():
    """What such boxes do is common practice, no source: some kelvins, of which the mount is a part. None is fitted."""
    cabinet = read_cabinet(GEOMETRIES / "bulb_cabinet_zones.toml")
    sections = {file: lumped(s) for file, s in solve_sections(cabinet, KNOWN, 0.03).items()}
    c = circuit_at_work(cabinet, sections)
    point = operating_point(c, cabinet.bank.supply)
    found = misreading(c, point)
    assert 2 < found.place < 6 and 1 < found.mount < 6
    bare, beside, fan = mends(cabinet, sections, point)
    assert bare.left == pytest.approx(found.place) and 0 < beside.left < found.whole
    assert found.mount < fan.left < found.whole - 1
    stirred = circuit_at_work(read_cabinet(GEOMETRIES / "bulb_cabinet_zones.toml", fan=100), sections)
    assert abs(misreading(stirred, operating_point(stirred, cabinet.bank.supply)).place) < 0.3
