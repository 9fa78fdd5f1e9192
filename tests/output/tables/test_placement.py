"""Places for a sensor, and the least and most of answers, in words, as tables and as plain data."""

import json
from functools import cache

import pytest

from fdm import Solution, between, placement, solve
from fdm.output.export.placement import between_dict, placement_dict
from fdm.output.tables.placement import placement_sentences, print_placement
from fdm.output.tables.ranges import between_sentences, print_between
from fdm.output.tables.shown import as_html, as_text
from fdm.section.model import Bead, Sensor
from tests.sections import slab_section


@cache
def slab() -> Solution:
    """Held at 10 and 30 degC; y mm above the cold face a bead that should read it misreads y K."""
    return solve(slab_section(sensors=(Sensor("guard", at=(0.05, 0.005), should_read="cold"),)))


def test_in_words() -> None:
    found = placement(slab(), "guard", within=2)
    reads, best, now = placement_sentences(found)
    assert reads.startswith("A bare bead in place of guard reads cold to within 2 K: in cold, on slab in cold, in ")
    assert "The best solid place, also a millimetre off, is on slab in cold, at x = " in best
    assert best.endswith("by 1 K/mm more or less beside it") and "y = 0 mm: there it misreads" in best
    assert now == "Where it is now, guard misreads 5.00 K"


def test_leads_and_own_heating_are_not_those_of_a_bare_bead() -> None:
    sensor = Sensor("guard", at=(0.05, 0.005), should_read="cold", bead=Bead(dissipation=1e-3), self_heating=2e-4)
    found = placement(solve(slab_section(sensors=(sensor,))), "guard")
    *_, now = placement_sentences(found)
    assert now == "Where it is now, guard misreads 5.20 K: 5.00 K as a bare bead would, 0.2 K by its own heating"
    assert found.now is not None and found.now[0] == pytest.approx(5.2)


def test_in_words_over_ranges_and_where_there_is_no_place() -> None:
    found = placement(slab(), "guard", between={"warm": (20, 30)})
    assert next(placement_sentences(found)).startswith(
        "A bare bead in place of guard reads cold to within 0.5 K, with warm from 20 to 30: in cold"
    )
    sensor = Sensor("hot", at=(0.05, 0.005), should_read=70.0)
    far = placement(solve(slab_section(sensors=(sensor,))), "hot")
    reads, best, _ = placement_sentences(far)
    assert reads == "Nowhere does a bare bead in place of hot read 70 degC to within 0.5 K"
    assert "on slab in warm" in best and "misreads -40.0 K" in best


def test_as_a_table() -> None:
    found = placement(slab(), "guard", within=2, between={"warm": (20, 30)})
    shown = as_text(print_placement, found, 100)
    assert "Places for guard" in shown and "within 2 K" in shown and "Left out is what its" in shown
    assert str(found) == as_text(print_placement, found) and "guard" in as_html(print_placement, found)
    row = next(line for line in shown.splitlines() if "on slab in warm" in line)
    assert row.split()[0] == str(1 + [p.air for p in found.solid].index("warm")) and row.split()[-1] == "30"


def test_least_and_most_in_words_and_as_a_table() -> None:
    found = between(slab(), {"warm": (20, 30)})
    first, *rest = between_sentences(found)
    assert first == "With warm from 20 to 30, and all else as it is (all of them: --tables):"
    assert rest == ["  guard misreads 2.50 K at 20 to 5.00 K at 30"]
    table = as_text(print_between, found, 120)
    assert "Least and most with warm from 20 to 30" in table and "heat from warm into the section" in table
    assert str(found) == as_text(print_between, found)


def test_as_plain_data() -> None:
    found = placement(slab(), "guard", within=2, between={"warm": (20, 30)})
    data = json.loads(json.dumps(placement_dict(found)))
    assert data["ranges"] == {"warm": [20, 30]} and data["now"]["misreading"] == pytest.approx(5)
    assert set(data["parts"]["slab"]) == {"in", "on"} and set(data["airs"]["warm"]) == {
        "misreading",
        "band",
        "share",
        "at",
    }
    warm = data["parts"]["slab"]["on"]["warm"]
    assert (warm["y"], warm["share"], warm["at"]) == (20, 0, {"warm": 30})
    assert (warm["misreading"], warm["slope"]) == (pytest.approx(20), pytest.approx(1)) and 0 <= warm["x"] <= 100
    ends = between_dict(between(slab(), {"warm": (20, 30)}))["answers"]["sensors.guard.misreading"]
    assert ends["least"]["value"] == pytest.approx(2.5) and ends["most"]["at"] == {"warm": 30}
