import re
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from fdm.answers.rounding import with_band
from fdm.cabinet.solution import LEFT_OUT
from fdm.output.tables.cabinet import print_cabinet, supply_in_words
from tests.output.cabinet_example import example


@pytest.fixture(scope="module")
def cabinet():
    return example()


def said(solved, width=80):
    console = Console(file=StringIO(), width=width, color_system=None, force_terminal=False)
    print_cabinet(solved, console)
    return console.file.getvalue()


def plain(text):
    return " ".join(text.split())


def test_fits_into_80_columns_without_colour(cabinet):
    text = said(cabinet)
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text
    assert text.startswith("bulb [box]\n")


def test_operating_point_with_bands(cabinet):
    text, p = said(cabinet), cabinet.point
    air = re.search(r"cabinet air +(\S+) ± (\S+) +degC", text)
    assert air is not None
    assert float(air[1]) == pytest.approx(p.temperature["air"], abs=p.band["air"])
    assert float(air[2]) == pytest.approx(p.band["air"], rel=0.05)
    cop = re.search(r"COP, leads included +(\S+) ±", text)
    assert cop is not None and float(cop[1]) == pytest.approx(p.pumped / p.power, rel=0.01)
    assert f"thermostat reads {with_band(p.reading, p.reading_band)} degC" in plain(text)


def test_budget_is_sorted_and_its_bars_show_the_worst(cabinet):
    text = said(cabinet).split("What the modules pump")[1].split("Supply")[0]
    lengths = [line.count("█") for line in text.splitlines() if " % " in line]
    assert len(lengths) == len(cabinet.budget)
    assert lengths == sorted(lengths, reverse=True) and lengths[0] > 2 * lengths[1] > 0
    shares = [float(x) for x in re.findall(r"([\d.]+) %", text)]
    assert sum(shares) == pytest.approx(100, abs=0.05 * len(shares))


def test_supply_in_words(cabinet):
    chart = replace(cabinet.chart, lowest=(9.0, -3.21), best=(4.5, 0.815))
    coldest, best = supply_in_words(replace(cabinet, chart=chart))
    assert coldest.startswith("The lowest cabinet temperature is -3.21 degC, at 9 V; more or less makes it warmer")
    assert best.startswith("Held at the setpoint of 8 degC, the best COP is 0.815 at 4.5 V; 6 V has ")
    end = supply_in_words(replace(cabinet, chart=replace(cabinet.chart, lowest=(12.0, -9.0), best=None)))
    assert "at 12 V, the most that was tried" in end[0]
    assert end[1] == "No voltage up to 12 V holds the setpoint of 8 degC."
    cold = supply_in_words(replace(cabinet, chart=replace(cabinet.chart, lowest=(0.06, -9.0), best=None, needed=False)))
    assert "at 0.06 V, the least that was tried" in cold[0]
    assert cold[1].startswith("The cabinet stays below its setpoint of 8 degC without cooling")


def test_pull_down_and_the_rest(cabinet):
    run = replace(cabinet.pull_down, time_to_setpoint=5400.0, load_time=None, duty=0.5, energy_a_day=1.8e6)
    text = plain(said(replace(cabinet, pull_down=run)))
    assert "thermostat reads 8 degC after 90 min" in text
    assert re.search(r"load within 1 K of .* after never", text)
    assert "share of time on 50.0 %" in text
    unsettled = plain(said(replace(cabinet, pull_down=replace(run, settled=False, load_goal=9.0))))
    assert "load at the end" in unsettled and "load within" not in unsettled and "settles at" not in unsettled
    begun = plain(said(replace(cabinet, pull_down=replace(run, time_to_setpoint=0.0))))
    assert "thermostat reads 8 degC or less from the start" in begun
    assert "energy a day 0.5 kWh" in text
    assert "Switched on, the modules draw 5.1" in text
    assert re.search(r"the model absorbs 5\d.\d W .* the data sheet states 51 W \(\+\d+ %\)", text)
    assert LEFT_OUT in text
    assert "had not settled" not in text
    assert "It had not settled after" in plain(said(replace(cabinet, pull_down=replace(run, settled=False))))


def test_no_check_without_a_stated_heat(cabinet):
    assert "data sheet" not in said(replace(cabinet, heat_check=None))


def test_the_load_has_its_own_time_and_the_dial_is_told(cabinet):
    run = cabinet.pull_down
    slow = replace(run, load_setpoint_time=7200.0, time_to_setpoint=3600.0, load_at_setpoint_reading=12.3, dial=8.44)
    text = plain(said(replace(cabinet, pull_down=slow)))
    assert "load itself at 8 degC after 2 h" in text and "load when the thermostat reads 8 degC 12.30 degC" in text
    assert "Set the thermostat to 8.44 degC, and the load stands at 8 degC." in text
    never = replace(slow, load_setpoint_time=None, load_settles=20.1, settled=False, dial=None)
    text = plain(said(replace(cabinet, pull_down=never)))
    assert "load itself at 8 degC after not in " in text and "Set the thermostat" not in text
    assert "The load does not get down to the setpoint of 8 degC: it is still at 20.10 degC after " in text


def test_the_fuse_is_sized_for_the_most_there_is(cabinet):
    run = cabinet.pull_down
    assert "Size supply, leads and fuse for the first." in plain(said(cabinet))
    later = replace(run, peaks=replace(run.peaks, power=99.0, supply_current=16.5))
    text = plain(said(replace(cabinet, pull_down=later)))
    assert "leads and fuse for the most that comes later, 16.5 A (99 W)." in text
