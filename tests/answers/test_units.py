"""Units in which times and energies read best."""

import numpy as np
import pytest

from fdm.answers.units import duration, shown_unit, time_unit


@pytest.mark.parametrize(
    ("seconds", "text"), [(0.0, "0 s"), (119.0, "119 s"), (7199.0, "120 min"), (3 * 86400.0, "3 days")]
)
def test_durations(seconds, text):
    assert duration(seconds) == text
    assert time_unit(seconds)[0] == text.split()[1]


def test_what_is_never_reached_does_not_choose_the_unit():
    assert shown_unit("s", np.array([np.inf, 100.0])) == ("s", 1.0)
    assert shown_unit("s", np.array([np.nan])) == ("s", 1.0)


def test_a_day_has_86400_seconds():
    assert time_unit(5 * 86400.0) == ("days", 86400.0)
