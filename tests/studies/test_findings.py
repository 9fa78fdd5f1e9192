"""What a study means, in sentences."""

from dataclasses import replace

from fdm.studies import Design, Study, findings, without_setpoint
from tests.studies.slab import ABOVE, COLD, MEAN, MISREADING, POWER, READING, WARM, answered, made_up


def test_findings_name_the_best_the_smallest_and_where_the_curve_is_flat() -> None:
    plate = [3.0, 5, 7, 9, 11, 13]
    said = findings(made_up({"plate": plate}, [2.0, 1.3, 1.018, 1.003, 1.0, 1.002], 0.0001), MEAN)
    assert said == (
        "The lowest mean spreading of LEDs on plate is 1.00 K/W, at plate = 11.",
        "The smallest plate within 2 % of the best is 7 (1.02 K/W).",
        "Beyond plate = 9 the curve is flat: less than 1 % a step.",
    )


def test_findings_call_designs_equal_whose_bands_overlap() -> None:
    study_ = made_up({"plate": [3.0, 5, 7]}, [1.3, 1.001, 1.0], 0.001)
    assert "Equal to it within the bands: plate = 5." in findings(study_, MEAN)
    sharp = made_up({"plate": [3.0, 5, 7]}, [1.3, 1.01, 1.0], 0.001)
    said = findings(sharp, MEAN)
    assert not any("Equal" in s for s in said)
    assert "That is the largest plate of those tried, 3 to 7; what lies beyond may be better still." in said


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
    done = tuple(Design(v, answered({WARM: t, MISREADING: e}, {WARM: 0.01})) for v, t, e in rows)
    study_ = Study("a.toml", ("plate",), done, (), 0.005)
    assert "The smallest plate within 0.5 K of the best is 2 (0.60 ± 0.01 degC)." in findings(study_, WARM)
    said = findings(study_, "sensors.bead.misreading")
    assert said[0] == "The lowest size of the misreading of bead is 0.200 ± 0.001 K, at plate = 3."
    assert said[-1] == "The result states no band for it; the study's target of 0.5 % is taken."


def test_fine_steps_are_no_flat_curve() -> None:
    """A straight line from 30 to 60: each step of it changes little, all of it much."""
    fine = made_up({"heat": [10 + 0.1 * k for k in range(301)]}, [30 + 0.1 * k for k in range(301)])
    said = findings(fine, MEAN)
    assert not any("flat throughout" in s or "Beyond" in s for s in said)
    assert any(s.startswith("The curve is not flat at heat = 40: its last tenth changes 5.3 %") for s in said)


def test_of_a_face_that_takes_heat_away_the_warmest_is_best() -> None:
    rows = ((2.0, -5.0), (4.0, -3.0), (6.0, -2.0))
    done = tuple(Design({"plate": p}, answered({COLD: t}, {COLD: 0.01})) for p, t in rows)
    said = findings(Study("a.toml", ("plate",), done, (), 0.005), COLD)
    assert said[0] == "The highest temperature of cold face is -2.00 ± 0.01 degC, at plate = 6."
    heated = Design({"plate": 8.0}, answered({replace(COLD, role="heated"): 9.0}))
    mixed = Study("a.toml", ("plate",), (*done, heated), (), 0.005)
    assert mixed.better(COLD) is None and "no design is best" in findings(mixed, COLD)[1]


def test_of_a_plain_reading_nothing_is_best_unless_it_is_asked_which_way() -> None:
    done = tuple(Design({"plate": p}, answered({READING: t}, {READING: 0.01})) for p, t in ((2.0, 9.0), (4.0, 7.0)))
    study_ = Study("a.toml", ("plate",), done, (), 0.005)
    assert findings(study_, READING)[:2] == (
        "The reading of bead goes from 7.00 ± 0.01 degC, at plate = 4, to 9.00 ± 0.01 degC, at plate = 2.",
        "By it alone no design is best: what is right depends on what it should be, as a limit says.",
    )
    assert findings(study_, READING, maximise=True)[0].startswith("The highest reading of bead is 9.00")
    assert findings(study_, READING, maximise=False)[0].startswith("The lowest reading of bead is 7.00")


def test_a_cabinet_that_misses_its_setpoint_is_not_best() -> None:
    rows = ((1.0, 25.0, 7.0), (2.0, 50.0, -2.0), (3.0, 70.0, -8.0))
    done = tuple(Design({"modules": m}, answered({POWER: w, ABOVE: above})) for m, w, above in rows)
    study_ = Study("a.toml", ("modules",), done, (), 0.005)
    said = findings(study_, POWER)
    assert said[0].endswith("at modules = 2.")
    assert "Of 3 designs, 1 cannot be best, as the setpoint is not reached there." in said
    assert not any("smallest modules of those tried" in s for s in said) and not without_setpoint(study_)
    warm = Study("a.toml", ("modules",), done[:1], (), 0.005)
    assert "at modules = 1, stays 7 K above it" in without_setpoint(warm)
