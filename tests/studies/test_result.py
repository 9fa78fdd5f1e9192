"""What a study found."""

from pathlib import Path

from fdm.studies import Design, Study, study
from tests.studies.slab import MEAN


def test_main_answers_have_a_value_and_a_size() -> None:
    cross = "spreading.plate.fan.mean"
    rows = tuple(
        Design({"plate": k}, {MEAN: 0.1 / k, cross: 1e-7} | {"sensors.a.misreading": None, "sensors.a.reading": 2.0})
        for k in (1.0, 2.0)
    )
    made = Study("made.toml", ("plate",), rows, (MEAN,), 0.005)
    assert made.main == (MEAN, "sensors.a.reading")


def test_designs_that_miss_their_target_are_counted(slab: Path) -> None:
    met = [{"grid.target_met": 1.0}, {"sections.sill.grid.target_met": 0.0, "sections.lid.grid.target_met": 1.0}, {}]
    rows = tuple(Design({"plate": float(k)}, answers) for k, answers in enumerate(met))
    assert Study("made.toml", ("plate",), rows, (), 0.005).missed == 1
    assert study(slab, {"thick": "20,50"}, workers=1).missed == 0
