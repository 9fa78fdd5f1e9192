import json
import math
import re
from dataclasses import replace
from io import StringIO

import numpy as np
import pytest
from matplotlib.image import imread
from rich.console import Console

from fdm import InputError
from fdm.inference.lengths import LengthSensitivities
from fdm.inference.sensitivity import Answer, Sensitivities, sensitivities
from fdm.inference.shares import Input, Share, budgets, resistance_budget
from fdm.output.tables.budget import (
    budget_dict,
    draw_budget,
    print_budget,
    print_lengths,
    print_sensitivities,
    sensitivity_dict,
    share_words,
)
from fdm.section.model import Border, Environment, Section


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
    text = printed(print_budget, wall)
    assert "face to the surroundings" in text and "cabinet [air] to <b>room</b>" in text
    first = resistance_budget(wall, "face")[0]
    assert f"{100 * first.share:.0f} %" in text
    assert max(map(len, printed(print_budget, wall, width=80).splitlines())) <= 80


def test_shares_below_0_are_explained(wall, solved):
    third = solved(replace(wall.section, environments=(*wall.section.environments, Environment("third", 12, 30)),
                           border=replace(wall.section.border, right="third"), bridges=()))  # fmt: skip
    assert any(s.share < -0.01 for shares in budgets(third)[1].values() for s in shares)
    assert "third temperature" in printed(print_budget, third)
    assert "third temperature" not in printed(print_budget, wall)


def test_picture_has_a_bar_for_the_largest_share_in_its_colour(wall, out):
    draw_budget(wall, out / "budget.png")
    pixels = imread(out / "budget.png")[..., :3]
    assert pixels.shape[1] == 1600
    # bars stand on white: their widths, in rows of pixels, hold one that reaches far to the right
    filled = (abs(pixels - 1).max(2) > 0.02)[:, 400:].sum(1)
    assert filled.max() > 600


def test_one_temperature_without_heat_has_no_budget(slab, solved, out):
    lone = solved(Section("lone", slab.section.parts, (Environment("air", 20, 8),), border=Border(top="air")))
    assert printed(print_budget, lone) == ""
    with pytest.raises(InputError, match="budget: .* give a source with heat"):
        draw_budget(lone, out / "budget.png")
    assert not list(out.iterdir())


def test_budget_as_data(wall):
    data = json.loads(json.dumps(budget_dict(wall)))
    shares = data["resistance"]["face"]
    assert sum(s["share"] for s in shares) == pytest.approx(1)
    assert {s["kind"] for s in shares} <= {"part", "film", "joint"}
    assert sum(s["value"] for s in shares) == pytest.approx(wall.network.values.resistance[0, 0], rel=0.01)
    assert sum(s["share"] for s in data["loss"]["cabinet [air]"]["<b>room</b>"]) == pytest.approx(1)


TABLE = Sensitivities(
    (
        Input("foam", "part", 0.03, "W/(m K)"),
        Input("lid", "part", 0.03, "W/(m K)"),
        Input("tape", "part", 0.2, "W/(m K)"),
        Input("air", "film", 8.0, "W/(m2 K)"),
        Input("lid | rim", "joint", 1e-3, "m2 K/W"),
        Input("foam of mine", "material", 0.03, "W/(m K)"),
        Input("tape of mine", "material", 0.2, "W/(m K)"),
    ),
    (Answer("coupling of a and b", "coupling", "W/K", 2.0), Answer("reading of s", "reading", "degC", 7.0),
     Answer("weight of a in s", "weight", "1", 0.5), Answer("coupling of a and c", "coupling", "W/K", 1e-4)),
    np.array([[0.8, 0.4, 0.1, 0.3, -0.2, 1.2, 0.1], [0.0, 0.0, 0.0, -2.5, 0.0, 0.0, 0.0], [0.1] * 7, [0.1] * 7]),
)  # fmt: skip


def test_effects_are_said_largest_first():
    text = words(printed(print_sensitivities, TABLE, 4))
    assert "all foam of mine +0.6 %, foam +0.4 %, lid +0.2 %, film of air +0.15 %" in text
    assert "joint lid" not in text  # only so many
    assert "film of air -0.025 K" in text
    assert "weight" not in text and "a and c" not in text  # data only; and next to nothing
    assert "joint lid | rim -0.1 %, tape +0.05 %" in words(printed(print_sensitivities, TABLE))
    assert "tape of mine" not in printed(print_sensitivities, TABLE)  # its one part says the same


def test_lengths_are_said_by_what_a_hundredth_of_them_does_and_those_left_out_with_the_reason():
    lengths = LengthSensitivities(
        ("paste", "wall"), (0.05, 50.0), TABLE.answers[:1], np.array([[1.5, -0.02]]), {"fins": "count: not whole"}
    )
    text = words(printed(print_lengths, lengths))
    assert "wall -1 %, paste +75 %" in text
    assert "fins is left out: count: not whole" in text
    data = json.loads(json.dumps(sensitivity_dict(TABLE, lengths)))
    assert data["lengths"]["answers"][0]["per_mm"] == {"paste": 1.5, "wall": -0.02}
    assert data["lengths"]["left_out"] == {"fins": "count: not whole"}


def test_sensitivities_as_data(wall):
    table = sensitivities(wall)
    data = json.loads(json.dumps(sensitivity_dict(table)))
    assert [i["name"] for i in data["inputs"]] == [i.name for i in table.inputs]
    assert len(data["answers"]) == len(table.answers)
    assert all(len(a["effect"]) == len(data["inputs"]) for a in data["answers"])
    named = {i["name"] for i in data["inputs"] if i["kind"] == "part"}
    assert named == {"wall", "plate", "block"}
    text = printed(print_sensitivities, table)
    assert "reading of s1" in text and re.search(r"film of cabinet \[air\] [+-][\d.]+ %", words(text))


def test_an_infinite_film_has_no_share(slab):
    assert math.isinf(slab.section.environments[0].film)
    (shares,) = budgets(slab)[1].values()
    assert [(s.name, s.share) for s in shares] == [("slab", pytest.approx(1))]
