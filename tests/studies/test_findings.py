"""What a study means, in sentences."""

from fdm.studies import Design, Study, findings
from tests.studies.slab import MEAN, MISREADING, READING, answered, made_up


def test_findings_name_the_best_the_smallest_and_where_the_curve_is_flat() -> None:
    plate = [3.0, 5, 7, 9, 11, 13]
    said = findings(made_up({"plate": plate}, [2.0, 1.3, 1.018, 1.003, 1.0, 1.002], 0.0001), MEAN)
    assert said == (
        "The lowest spreading.plate.LEDs.mean is 1.00000 ± 0.00010 K/W, at plate = 11.",
        "The smallest plate within 2 % of the best is 7 (1.01800 ± 0.00010 K/W).",
        "Beyond plate = 9 the curve is flat: less than 1 % a step.",
    )


def test_findings_call_designs_equal_whose_bands_overlap() -> None:
    study_ = made_up({"plate": [3.0, 5, 7]}, [1.3, 1.001, 1.0], 0.001)
    assert "Equal to it within the bands: plate = 5." in findings(study_, MEAN)
    sharp = made_up({"plate": [3.0, 5, 7]}, [1.3, 1.01, 1.0], 0.001)
    said = findings(sharp, MEAN)
    assert not any("Equal" in s for s in said)
    assert "That is the largest value of plate tried; what lies beyond may be better still." in said


def test_findings_of_two_names_give_the_best_pair_and_the_smallest() -> None:
    pairs = {"plate": [3.0, 3, 6, 6, 9, 9], "wall": [20.0, 40, 20, 40, 20, 40]}
    said = findings(made_up(pairs, [2.0, 1.5, 1.4, 1.01, 1.015, 1.0], 1e-4), MEAN)
    assert said[0].endswith("at plate = 9, wall = 40.")
    assert any(
        s.startswith("The smallest within 2 % of the best: plate = 6, wall = 40 (1.0")
        and "; or plate = 9, wall = 20" in s
        for s in said
    )


def test_findings_count_failures_and_can_look_for_the_highest() -> None:
    said = findings(made_up({"plate": [1.0, 2, 3, 4]}, [None, None, 1.0, 2.0]), MEAN, maximise=True)
    assert said[0].startswith("The highest") and said[0].endswith("at plate = 4.")
    assert said[-2:] == ("2 of 4 designs failed.", "Failed at plate = 1 and 1 more: part 'plate': too thin")


def test_findings_of_temperatures_count_in_kelvins_and_of_misreadings_their_size() -> None:
    rows = [({"plate": p}, t, e) for p, t, e in ((2.0, 0.6, -3.0), (3.0, 0.4, -0.2), (4.0, 0.1, 1.0))]
    done = tuple(Design(v, answered({READING: t, MISREADING: e}, {READING: 0.01})) for v, t, e in rows)
    study_ = Study("a.toml", ("plate",), done, (), 0.005)
    assert "The smallest plate within 0.5 K of the best is 2 (0.600 ± 0.010 degC)." in findings(
        study_, "sensors.bead.reading"
    )
    said = findings(study_, "sensors.bead.misreading")
    assert said[0] == "The lowest size of sensors.bead.misreading is 0.2000 ± 0.0010 K, at plate = 3."
    assert said[-1] == "The result states no band for it; the study's target of 0.5 % is taken."


def test_fine_steps_are_no_flat_curve() -> None:
    """A straight line from 30 to 60: each step of it changes little, all of it much."""
    fine = made_up({"heat": [10 + 0.1 * k for k in range(301)]}, [30 + 0.1 * k for k in range(301)])
    said = findings(fine, MEAN)
    assert not any("flat throughout" in s or "Beyond" in s for s in said)
    assert any(s.startswith("The curve is not flat at heat = 40: the last 3 change it by 5.3 %") for s in said)
