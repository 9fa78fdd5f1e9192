"""Closed gaps beside the tables of ISO 6946 and the figures of ISO 10077-2 (both from memory)."""

import numpy as np
import pytest

from fdm.surroundings.cavities import DOWN, LEVEL, UP, Cavities, seen_across
from fdm.surroundings.film import Conditions
from fdm.surroundings.questions import film_of
from fdm.surroundings.still import Gap

BOTH = (0.9, 0.9)


@pytest.mark.parametrize(
    "mm, resistances",  # m2 K/W, heat up, level, down: design values of ISO 6946, both emissivities 0.8 and more
    [(5, (0.11, 0.11, 0.11)), (7, (0.13, 0.13, 0.13)), (10, (0.15, 0.15, 0.15)), (15, (0.16, 0.17, 0.17)),
     (25, (0.16, 0.18, 0.19)), (50, (0.16, 0.18, 0.21)), (100, (0.16, 0.18, 0.22)), (300, (0.16, 0.18, 0.23))],
)  # fmt: skip
def test_wide_gaps(mm, resistances):
    gap = Cavities(mm / 1000, 100.0, 10.0, 5.0, np.array([UP, LEVEL, DOWN]))
    assert (1 / sum(gap.films(BOTH))).round(2) == pytest.approx(resistances)


@pytest.mark.parametrize(
    "mm, fixed, at_5, bare",  # W/(m K): 10 K at 10 degC, 3 K at 5 degC, and 10 K with one face of bare metal
    [((3, 40), 0.0372, 0.0365, 0.0265), ((5, 5), 0.0399, 0.0391, 0.0268), ((10, 30), 0.0613, 0.0594, 0.0294),
     ((20, 20), 0.0911, 0.0815, 0.0387), ((50, 50), 0.2277, 0.1938, 0.0966), ((40, 5), 0.1525, 0.1270, 0.0737)],
)  # fmt: skip
def test_cavities_of_frames(mm, fixed, at_5, bare):
    d, b = (v / 1000 for v in mm)
    found = [
        float(Cavities(d, b, mean, difference, LEVEL).conductivity(e))
        for mean, difference, e in ((10.0, 10.0, BOTH), (5.0, 3.0, BOTH), (10.0, 10.0, (0.1, 0.9)))
    ]
    assert found == pytest.approx([fixed, at_5, bare], rel=0.007)  # resting air has its own temperature here


def test_a_wall_of_two_sheets_and_a_cavity():
    cavity = 1 / sum(Cavities(0.02, 0.2, 10.0, 10.0, LEVEL).films(BOTH))
    assert 1 / (0.13 + 2 * 0.003 / 0.17 + cavity + 0.04) == pytest.approx(2.603, rel=0.005)


def test_beside_the_relations_of_the_command_film():
    """Other relations for the same gaps, of which each says 10 %."""
    for mm in (5, 10, 20, 50):
        for heat, way in (("up", UP), ("horizontal", LEVEL), ("down", DOWN)):
            other = film_of(Gap(mm / 1000, heat, 0.3), Conditions(15, 5, 0.9)).film
            assert float(sum(Cavities(mm / 1000, 0.3, 10.0, 10.0, way).films(BOTH))) == pytest.approx(other, rel=0.13)


def test_narrow_cavities_have_resting_air_and_deep_ones_see_less():
    narrow = Cavities(0.04, 0.004, 10.0, 10.0, LEVEL)
    assert narrow.films(BOTH)[0] == pytest.approx(0.0251 / 0.04, rel=1e-2)
    assert seen_across(0.01, 0.01) < seen_across(0.001, 0.01) < 1


def test_what_is_no_gap_any_more_is_told():
    assert not Cavities(np.array([0.01]), np.array([0.1]), 10.0, 10.0, LEVEL).notes()
    room, deep = (
        Cavities(np.array([0.4]), np.array([9.0]), 1, 1, UP),
        Cavities(np.array([0.1]), np.array([0.02]), 1, 1, UP),
    )
    assert "room" in room.notes()[0] and "radiation" in deep.notes()[0]
