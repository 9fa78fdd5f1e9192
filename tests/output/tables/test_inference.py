"""Tables and plain data of uncertainties and fits."""

import json
from dataclasses import replace
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from fdm.answers.quantity import Answers, Quantity
from fdm.inference.fitted import Fit, Fitted, Residual
from fdm.inference.measured import Measurement
from fdm.inference.uncertainty import Sample, Uncertainty
from fdm.output.export.inference import fit_dict, sample_dict, uncertainty_dict
from fdm.output.export.json_file import write_json
from fdm.output.tables.fit import fit_in_words, print_fit
from fdm.output.tables.uncertainty import print_sample, print_uncertainty
from fdm.section.model import Uncertain

INPUTS = (
    Uncertain("let [wall]", 30.0, 1.0),
    Uncertain("material 'foam', conductivity", 0.04, 0.0115, (0.02, 0.06)),
    Uncertain("material 'steel', conductivity", 50.0, 5.0, None, "materials"),
    Uncertain("environment 'air', film", 8.0, 2.0, None, "usual"),
)
ANSWERS = Answers(
    (
        Quantity(("sensors", "skin", "reading"), "reading of skin", "degC", "reading"),
        Quantity(("pull_down", "time_to_setpoint"), "time to setpoint", "s", "time"),
        Quantity(("network", "weight", "skin", "out"), "weight of out in skin", "", "weight"),
        Quantity(("network", "coupling", "in", "out"), "coupling of in and out", "W/K", "coupling"),
    ),
    np.array([18.0, 7200.0, 0.2, 0.214]),
    np.array([0.001, 0.0, 1e-5, 0.001]),
)
CHANGE = np.array([[0.1, np.nan, 1e-5, 0.02], [0.3, 1800.0, 1e-6, -0.02], [0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 0.0]])
FIRST = Uncertainty(ANSWERS, INPUTS, CHANGE, np.array([[0.2, np.nan, 0, 0], *[[0.0] * 4] * 3]))
VALUES = np.array([[17.9, 7000.0, 0.2, 0.20], [18.0, np.inf, 0.2, 0.21], [18.1, 7400.0, 0.2, 0.22]])
SAMPLE = Sample(ANSWERS, INPUTS, np.zeros((3, 4)), VALUES, 1)


AIR, LOAD = (Quantity((name, "temperature"), name, "degC", "temperature") for name in ("air", "load"))


def fitted(time: float | None = None, prior: float | None = None) -> Fit:
    rows = (
        Residual(Measurement("air", 9.0, 0.2, time), AIR, 7.0, 8.9),
        Residual(Measurement("air", 8.0, 0.2, time), AIR, 7.0, 8.7),
        Residual(Measurement("load", 10.0, 0.5, time), LOAD, 9.0, 10.1),
    )
    numbers = (
        Fitted("let wall", 30.0, 33.3333333, 0.5, 2.0, False),
        Fitted("bulbs", 12.0, 13.0, float("inf"), prior, True),
    )
    chi = sum(r.scaled**2 for r in rows)
    return Fit("file.toml", numbers, rows, np.array([[1, -0.95], [-0.95, 1]]), chi, 2, {}, {})


def shown(draw, found, width: int = 80) -> str:
    console = Console(file=StringIO(), width=width, color_system=None)
    draw(found, console)
    return console.file.getvalue()


def test_both_uncertainties_stand_apart() -> None:
    text = shown(print_uncertainty, FIRST)
    assert max(map(len, text.splitlines())) <= 80
    row = next(line for line in text.splitlines() if line.startswith("reading of skin"))
    assert "18.00 ± 0.32 degC *" in row and "0.001" in row and "b 90 %, a 10 %" in row
    assert "a   let [wall]" in text and "evenly 0.02 to 0.06" in text
    assert "and 2 more, which are nowhere among the three" in text and "steel" not in text and "usual: the file" in text
    assert "2 ± ? h" in text and "* bends within" in text and "? not reached within" in text
    assert "coupling of in and out" in text and "0.214 ± 0.028 W/K" in text
    assert "weight of out" not in text  # it rounds to nothing


def test_a_sample_shows_its_range() -> None:
    text = shown(print_sample, SAMPLE)
    assert max(map(len, text.splitlines())) <= 80
    assert "18.00 ± 0.10" in text and "67 % reach it" in text and "never" in text
    assert "normal, table" in text and "normal, usual" in text
    assert "3 samples; 1 more made no sense and are left out." in text


@pytest.mark.parametrize("time", [None, 7200.0])
def test_a_fit_says_what_it_knows(time: float | None) -> None:
    text = shown(print_fit, fitted(time))
    assert max(map(len, text.splitlines())) <= 80
    flat = " ".join(text.split())
    assert "30.0 ± 2.0 33.33 ± 0.50" in flat
    assert "not told by the data; at its bound" in flat
    assert "do NOT explain what was measured: chi-square 12.5 with 2 degrees of freedom, 6.3 each" in flat
    when = "" if time is None else " after 2 h"
    assert f"air{when}, measured 8, is 0.7 below the fitted 8.7, 3.5 times its uncertainty" in flat
    assert "The data say nothing about bulbs." in flat
    assert "bulbs and let wall can hardly be told apart (correlation -0.95)." in flat
    assert "To solve with them: wall=33.333" in flat


def test_a_number_torn_from_its_uncertainty_is_not_called_untold() -> None:
    torn = Fitted("material 'steel', conductivity", 50.0, 20.0, 4.9, 5.0, False)
    found = replace(fitted(), fitted=(torn, fitted().fitted[0]), chi_square=1.0, freedom=2)
    flat = " ".join(shown(print_fit, found, 160).split())
    assert "material 'steel', conductivity 50.0 ± 5.0 20.0 ± 4.9 6 of its uncertainties away" in flat
    assert "material 'steel', conductivity is moved by 6 of the uncertainties that the file gives it" in flat
    assert "do NOT explain what was measured" in flat  # though the sum of squares is small
    assert "say nothing" not in flat and "not told" not in flat


def test_plain_data_is_json(tmp_path: Path) -> None:
    for k, data in enumerate((uncertainty_dict(FIRST), sample_dict(SAMPLE), fit_dict(fitted(60.0)))):
        write_json(data, tmp_path / f"{k}.json")
    first, many, fit = (json.loads((tmp_path / f"{k}.json").read_text()) for k in range(3))
    answer = first["answers"]["network.coupling.in.out"]
    assert answer["value"] == 0.214 and answer["band"] == 0.001
    assert answer["uncertainty"] == pytest.approx(0.02 * 2**0.5) and answer["first_order_holds"]
    assert answer["by"]["let [wall]"] == {"change": 0.02, "share": pytest.approx(0.5)}
    assert first["answers"]["pull_down.time_to_setpoint"]["uncertainty"] is None
    assert not first["answers"]["sensors.skin.reading"]["first_order_holds"]
    assert many["answers"]["pull_down.time_to_setpoint"]["reached"] == pytest.approx(2 / 3)
    assert many["answers"]["sensors.skin.reading"]["quantile_97.5"] == 18.1
    assert fit["fitted"]["bulbs"]["uncertainty"] is None and fit["explained"] is False
    assert fit["residuals"][0]["time"] == 60.0 and fit["words"] == fit_in_words(fitted(60.0))
