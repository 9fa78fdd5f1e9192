"""What sweats and freezes, in sentences and in tables."""

from dataclasses import replace

import numpy as np
import pytest

from fdm.inference.uncertainty import Uncertainty
from fdm.output.tables.moisture import moisture_sentences
from fdm.output.tables.ranges import print_between
from fdm.output.tables.section import print_solution
from fdm.output.tables.shown import as_text
from fdm.output.tables.uncertainty import print_uncertainty
from fdm.section.model import Border, Environment, Section, Segment, Source, Uncertain
from fdm.solving.ranges import between
from fdm.solving.steady import solve
from validation.cases import box, solid

INSIDE, OUTSIDE = Environment("inside", 20, 8, humidity=60), Environment("outside", -10, 25)


@pytest.fixture(scope="module")
def solved():
    """20 mm of foam between air of -10 and 20 degC, with a sheet of metal on its warm side."""
    parts = solid("foam", 0.04, box(0, 0.1, 0, 0.02)), solid("sheet", 50.0, box(0, 0.1, 0.02, 0.021))
    return solve(Section("wall", parts, (INSIDE, OUTSIDE), border=Border(bottom="outside", top="inside")))


def said(solved, **air):
    inside = replace(INSIDE, **{"humidity": None, **air})
    section = replace(solved.section, environments=(inside, OUTSIDE))
    return list(moisture_sentences(solve(section, like=solved)))


def test_what_sweats_and_by_how_much(solved):
    (line,) = said(solved, dew_point=19)
    assert line == (
        "sheet will sweat: 4.64 K below the dew point of inside (19 degC); keep water away from anything electric"
    )


def test_what_is_dry_and_from_where_it_would_not_be(solved):
    (line,) = said(solved, humidity=50)
    assert line == (
        "nothing sweats: sheet comes nearest, at 14.4 degC, 5.09 K above the dew point of inside (9.27 degC); it would "
        "from 70.0 % humidity on"
    )


def test_what_freezes(solved):
    (line,) = said(solved, temperature=0, dew_point=-1)
    assert line.startswith("sheet will freeze over: ") and "below the frost point of inside (-0.882 degC)" in line


def test_without_a_humidity_the_one_from_which_it_sweats(solved):
    (line,) = said(solved)
    assert line == "coldest surface in inside: sheet, 14.4 degC; it sweats where that air has more than 70 % humidity"


@pytest.mark.parametrize("y, told", [(0.0, "it touches heater"), (-0.005, "heater is 5 mm off"), (-0.05, None)])
def test_water_near_what_is_electric(y, told):
    bottom = -0.06
    parts = solid("plate", 200.0, box(0, 0.1, bottom, 0)), solid("rest", 0.03, box(0, 0.1, bottom, -0.058))
    heater = Source("heater", segment=Segment((0, 0.1), (y, y)), heat=-20)
    section = Section("plate", parts, (replace(INSIDE, humidity=90),), border=Border(top="inside"), sources=(heater,))
    (line,) = moisture_sentences(solve(section))
    assert line.endswith(f"anything electric: {told}" if told else "anything electric")


def test_tables_list_airs_margins_and_stretches(solved):
    wet, unknown = (replace(INSIDE, humidity=rh) for rh in (80, None))
    sections = [replace(solved.section, environments=(inside, OUTSIDE)) for inside in (wet, unknown)]
    text, without = (as_text(print_solution, solve(section), 120) for section in sections)
    assert "inside           80            16.45                  -         13.8" in text
    assert "sheet in inside: all sweats, at x = 0 to 0.1, y = 0.021 m" in text
    (row,) = (line.split() for line in text.splitlines() if line.startswith("sheet   inside   -"))
    assert float(row[2]) == pytest.approx(-2.1, abs=0.1) and "0.8120" in row[-1] + row[-3]
    assert "Moist" not in without


def test_humidities_that_no_air_has_are_never(solved):
    """The outer side of the foam is warmer than its air, which is known here to be dry."""
    section = replace(solved.section, environments=(replace(INSIDE, humidity=None), replace(OUTSIDE, humidity=50)))
    outside = solve(section, like=solved)
    at = outside.answers.at("surface.foam.outside.sweats_from")[0]
    text = as_text(print_between, between(outside, {"inside": (18, 22)}), 200)
    (row,) = (line for line in text.splitlines() if line.startswith("humidity of outside from which foam sweats"))
    assert at > 103 and row.split()[-5:] == ["never", "18", "never", "22", "%"]
    change = np.full((1, len(outside.answers.quantities)), 1.0)
    for humidity, told in ((at, "never"), (101.0, "101.0 ± 1.0 %"), (99.0, "99.0 ± 1.0 %")):
        answers = replace(outside.answers, value=np.where(outside.answers.value == at, humidity, outside.answers.value))
        found = Uncertainty(answers, (Uncertain("let k", 1.0, 1.0),), change, 0 * change)
        text = as_text(print_uncertainty, found, 200)
        (row,) = (line for line in text.splitlines() if line.startswith("humidity of outside from which foam sweats"))
        assert told in row
