"""What a study found."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fdm.answers.quantity import Quantity
from fdm.errors import InputError
from fdm.studies import Design, Study, study
from fdm.studies.result import concluded
from tests.studies.slab import MEAN, MISREADING, READING, answered


def test_main_answers_have_a_value_and_a_size() -> None:
    cross = replace(MEAN, path=("spreading", "plate", "fan", "mean"))
    rows = tuple(
        Design({"plate": k}, answered({MEAN: 0.1 / k, cross: 1e-7, MISREADING: None, READING: 2.0})) for k in (1.0, 2.0)
    )
    made = Study("made.toml", ("plate",), rows, (MEAN,), 0.005)
    assert made.main == (MEAN, READING)


def test_couplings_are_looked_at_where_there_is_nothing_else() -> None:
    coupling = Quantity(("network", "coupling", "in", "out"), "in to out", "W/K", "coupling")
    weight = Quantity(("network", "weight", "bead", "out"), "out in bead", "1", "weight")
    alone, beside = answered({weight: 0.5, coupling: 2.0}), answered({weight: 0.5, coupling: 2.0, READING: 7.5})
    assert Study("made.toml", ("gap",), (Design({"gap": 1.0}, alone),), (), 0.01).main == (coupling,)
    assert Study("made.toml", ("gap",), (Design({"gap": 1.0}, beside),), (), 0.01).main == (READING,)


def test_an_answer_is_found_by_path_short_name_or_beginning() -> None:
    rows = (Design({"plate": 1.0}, answered({READING: 7.5, MISREADING: -2.5}, {READING: 0.1})),)
    made = Study("made.toml", ("plate",), rows, (READING,), 0.01)
    for asked in ("sensors.bead.reading", "bead", READING):
        assert made.find(asked) is READING
        assert (made.values(asked), made.bands(asked), made.states_band(asked)) == (7.5, 0.1, True)
    assert made.merit("sensors.bead.misreading") == 2.5
    assert made.bands(MISREADING) == pytest.approx(0.025) and not made.states_band(MISREADING)  # the target's share
    with pytest.raises(InputError, match="'sensors.bead' holds 2 numbers"):
        made.find("sensors.bead")
    with pytest.raises(InputError, match="did you mean 'sensors.bead.reading'"):
        made.values("sensors.bead.readin")


def test_what_some_designs_lack_or_never_reach_is_still_an_answer() -> None:
    time = Quantity(("pull_down", "time_to_setpoint"), "time to the setpoint", "s", "time_to_setpoint", main=7)
    rows = (
        Design({"plate": 1.0}, answered({READING: 7.5}, {READING: 0.1})),
        Design({"plate": 2.0}, message="too thin"),
        Design({"plate": 3.0}, answered({READING: 7.0, time: np.inf}, {READING: np.inf})),
    )
    made = concluded("made.toml", 0.01, rows, ["pull_down"])
    assert made.columns == (time,) and made.known == (READING, time) and made.main == (READING,)
    assert np.isnan(made.values(time)).all()
    assert np.array_equal(made.values("bead"), [7.5, np.nan, 7.0], equal_nan=True)
    assert made.bands("bead").tolist() == [0.1, np.inf, np.inf]


def test_designs_that_miss_their_target_are_counted(slab: Path) -> None:
    rows = tuple(Design({"plate": float(k)}, met=met) for k, met in enumerate((True, False, True)))
    assert Study("made.toml", ("plate",), rows, (), 0.005).missed == 1
    assert study(slab, {"thick": "20,50"}, workers=1).missed == 0
