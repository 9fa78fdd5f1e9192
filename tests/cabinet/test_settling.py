"""The water in a cabinet's air, beside the same balance written another way."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from fdm.cabinet.settling import ColdPlaces, water_balance


def saturation(t):
    """Pa, by Magnus' formula with the constants of ISO 13788."""
    a, b = (17.269, 237.3) if t >= 0 else (21.875, 265.5)
    return 610.5 * math.exp(a * t / (b + t))


def ratio(pressure):
    return 0.622 * pressure / (101325 - pressure)


def settles(w, air, conductance, surface):
    """kg/s, with Le = 0.884 and properties of air by heart."""
    out = 0.0
    for g, t in zip(conductance, surface):
        moist = 1006 + 1860 * (w + ratio(saturation(t))) / 2
        out += max(0.0, g * (w - ratio(saturation(t))) / (moist * 0.884 ** (2 / 3)))
    return out


@pytest.mark.parametrize("seed", range(8))
def test_random_balances(seed):
    r = np.random.default_rng(seed)
    air, room = r.uniform(4, 12), ratio(saturation(r.uniform(5, 25)))
    conductance, surface = r.uniform(0.1, 3, 6), r.uniform(-8, air, 6)
    exchange, evaporated = r.uniform(1e-6, 2e-5), r.uniform(0, 5e-7)
    found = water_balance(
        air, [(conductance[:2], surface[:2]), (conductance[2:], surface[2:])], room, exchange, evaporated
    )
    assert [len(rate) for rate in found.settling] == [2, 4] and found.rest == 0

    def gain(w):
        return exchange * (room - w) + evaporated - settles(w, air, conductance, surface)

    w = brentq(gain, 0, 0.1, xtol=1e-14)
    assert found.ratio == pytest.approx(w, rel=5e-3)
    settled = sum(rate.sum() for rate in found.settling)
    assert settled == pytest.approx(found.exchanged + evaporated, rel=1e-6)  # it closes
    assert settled == pytest.approx(settles(w, air, conductance, surface), rel=5e-3)


COLD = [(np.array([2.0]), np.array([-3.0]))]


def test_air_that_is_too_dry_to_wet_anything_holds_what_comes_in():
    found = water_balance(7, COLD, 0.002, 1e-5, 1e-9)
    assert found.ratio == pytest.approx(0.0021) and found.settling[0] == 0 and found.rest == 0
    assert found.exchanged == pytest.approx(-1e-9)


def test_where_nothing_comes_in_the_air_is_as_dry_as_the_coldest_place():
    found = water_balance(7, COLD, 0.01, 0.0, 0.0)
    assert found.ratio == pytest.approx(ratio(saturation(-3)), rel=5e-3)
    assert found.exchanged == 0 and found.settling[0] == pytest.approx(0, abs=1e-15)


def test_air_holds_no_more_than_it_can():
    for places in (COLD, []):
        found = water_balance(7, places, 0.01, 1e-5, 1e-5)
        assert found.ratio == pytest.approx(ratio(saturation(7)), rel=2e-3)
        settled = sum(float(rate.sum()) for rate in found.settling)
        assert settled + found.rest == pytest.approx(found.exchanged + 1e-5)
    assert found.rest > 9e-6


def test_air_that_is_kept_moist_says_what_that_takes():
    found = water_balance(7, COLD, 0.01, 1e-5, 0.0, kept=0.005)
    assert found.ratio == 0.005 and found.exchanged == pytest.approx(5e-8)
    assert found.settling[0] == pytest.approx(settles(0.005, 7, [2], [-3]), rel=5e-3)
    assert found.evaporated == pytest.approx(found.settling[0][0] - 5e-8)
    assert water_balance(7, COLD, 0.01, 1e-5, 0.0, kept=0.002).evaporated < 0  # a dryer
    assert water_balance(7, COLD, 0.01, 1e-5, 0.0, kept=0.02).ratio == pytest.approx(ratio(saturation(7)), rel=2e-3)


def test_heat_at_places_goes_to_the_nodes_that_set_their_temperature():
    places = ColdPlaces("plate", np.array([[0.25, 0.75], [1.0, 0.0]]), np.array([1.0, 1.0]))
    assert places.heat(np.array([4.0, 2.0])).tolist() == [3.0, 3.0]
