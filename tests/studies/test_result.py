"""What a study found."""

from dataclasses import replace
from pathlib import Path

from fdm.studies import Design, Study, study
from tests.studies.slab import MEAN, MISREADING, READING, answered


def test_main_answers_have_a_value_and_a_size() -> None:
    cross = replace(MEAN, path=("spreading", "plate", "fan", "mean"))
    rows = tuple(
        Design({"plate": k}, answered({MEAN: 0.1 / k, cross: 1e-7, MISREADING: None, READING: 2.0})) for k in (1.0, 2.0)
    )
    made = Study("made.toml", ("plate",), rows, (MEAN,), 0.005)
    assert made.main == (MEAN, READING)


def test_designs_that_miss_their_target_are_counted(slab: Path) -> None:
    rows = tuple(Design({"plate": float(k)}, met=met) for k, met in enumerate((True, False, True)))
    assert Study("made.toml", ("plate",), rows, (), 0.005).missed == 1
    assert study(slab, {"thick": "20,50"}, workers=1).missed == 0
