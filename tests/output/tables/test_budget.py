import math
import re
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from fdm.inference.budget import Share, budgets
from fdm.inference.sensitivity import sensitivities
from fdm.output.tables.budget import print_budget, print_lengths, print_sensitivities, share_words
from fdm.section.model import Border, Environment, Section
from tests.output.sensitivity_example import LENGTHS, TABLE


def printed(job, *args, width=100):
    out = StringIO()
    job(*args[:1], Console(file=out, width=width), *args[1:])
    return out.getvalue()


def words(text):
    return " ".join(text.split())


def test_shares_in_words_largest_first_and_the_rest_together():
    shares = [Share("air", "film", 4.5, 0.45), Share("paste", "part", 3.1, 0.31)]
    shares += [Share("a | b", "joint", 1.2, 0.12), Share("fins", "part", 0.8, 0.08), Share("tape", "part", 0.4, 0.04)]
    assert share_words(shares, most=3) == "film of air 45 %, paste 31 %, joint a | b 12 %, the rest 12 %"
    assert share_words(shares[:2], most=3) == "film of air 45 %, paste 31 %"


def test_the_budget_of_every_heat_terminal_and_of_the_loss_is_said(wall):
    text = printed(print_budget, budgets(wall))
    assert "face to the surroundings" in text and "cabinet [air] to <b>room</b>" in text
    first = budgets(wall).resistance["face"][0]
    assert f"{100 * first.share:.0f} %" in text
    assert max(map(len, printed(print_budget, budgets(wall), width=80).splitlines())) <= 80


def test_shares_below_0_are_explained(wall, solved):
    third = solved(replace(wall.section, environments=(*wall.section.environments, Environment("third", 12, 30)),
                           border=replace(wall.section.border, right="third"), bridges=()))  # fmt: skip
    found = budgets(third)
    assert any(s.share < -0.01 for shares in found.loss.values() for s in shares)
    assert "third temperature" in printed(print_budget, found)
    assert "third temperature" not in printed(print_budget, budgets(wall))


def test_one_temperature_without_heat_has_no_budget(slab, solved):
    lone = solved(Section("lone", slab.section.parts, (Environment("air", 20, 8),), border=Border(top="air")))
    assert printed(print_budget, budgets(lone)) == ""


def test_effects_are_said_largest_first():
    text = words(printed(print_sensitivities, TABLE, 4))
    assert "all foam of mine +0.6 %, foam +0.4 %, lid +0.2 %, film of air +0.15 %" in text
    assert "joint lid" not in text  # only so many
    assert "film of air -0.025 K" in text
    assert "weight" not in text and "a and c" not in text  # data only; and next to nothing
    assert "joint lid | rim -0.1 %, tape +0.05 %" in words(printed(print_sensitivities, TABLE))
    assert "tape of mine" not in printed(print_sensitivities, TABLE)  # its one part says the same


def test_lengths_are_said_by_what_a_hundredth_of_them_does_and_those_left_out_with_the_reason():
    text = words(printed(print_lengths, LENGTHS))
    assert "wall -1 %, paste +75 %" in text
    assert "fins is left out: count: not whole" in text


def test_sensitivities_of_a_wall_are_said(wall):
    text = printed(print_sensitivities, sensitivities(wall))
    assert "reading of s1" in text and re.search(r"film of cabinet \[air\] [+-][\d.]+ %", words(text))


def test_an_infinite_film_has_no_share(slab):
    assert math.isinf(slab.section.environments[0].film)
    (shares,) = budgets(slab).loss.values()
    assert [(s.name, s.share) for s in shares] == [("slab", pytest.approx(1))]
