"""Moist air, beside an open library of psychrometrics and the worked figures of ISO 13788."""

import numpy as np
import psychrolib
import pytest

from fdm.surroundings.moist import (
    dew_point,
    frost_point,
    relative_humidity,
    saturation_on_surface,
    saturation_over_ice,
    saturation_over_water,
    settling_point,
    vapour_content,
    vapour_pressure,
)

psychrolib.SetUnitSystem(psychrolib.SI)
AIRS = [(t, rh) for t in range(-30, 61, 5) for rh in (2, 10, 30, 50, 70, 90, 100)]  # degC, %: 133 of them


def test_saturation_is_that_of_the_library():
    at = np.arange(-40, 100.5, 0.5)  # 281 temperatures
    other = np.array([psychrolib.GetSatVapPres(t) for t in at])  # over ice below 0
    assert saturation_on_surface(at) == pytest.approx(other, rel=7e-4)
    assert saturation_on_surface(-80) == pytest.approx(psychrolib.GetSatVapPres(-80), rel=2e-3)


def test_dew_points_are_those_of_the_library():
    airs = [(t, rh) for t, rh in AIRS if t >= 0]  # below, its humidity refers to ice
    other = [psychrolib.GetTDewPointFromRelHum(t, rh / 100) for t, rh in airs]  # frost points below 0
    assert settling_point(vapour_pressure(*np.transpose(airs))) == pytest.approx(np.array(other), abs=0.02)


def test_vapour_contents_are_those_of_the_library():
    for t, rh in ((t, rh) for t, rh in AIRS if t >= 0):
        ratio = psychrolib.GetHumRatioFromRelHum(t, rh / 100, 101325)
        grams = ratio / psychrolib.GetMoistAirVolume(t, ratio, 101325)  # per m3 of the mixture
        assert vapour_content(t, vapour_pressure(t, rh)) == pytest.approx(grams, rel=1e-3)


# degC, % of a room: degC at which surfaces have 80 % and 100 %, by the formula of ISO 13788
@pytest.mark.parametrize(
    "room, humidity, mould, dew", [(20, 50, 12.62, 9.27), (25, 60, 20.26, 16.70), (30, 70, 27.69, 23.92)]
)
def test_figures_of_the_standard(room, humidity, mould, dew):
    assert dew_point(vapour_pressure(room, humidity)) == pytest.approx(dew, abs=0.02)
    assert dew_point(vapour_pressure(room, humidity) / 0.8) == pytest.approx(mould, abs=0.02)


def test_points_turn_saturation_round():
    at = np.linspace(-80, 100, 91)
    assert dew_point(saturation_over_water(at)) == pytest.approx(at, abs=1e-9)
    assert frost_point(saturation_over_ice(at[at < 0])) == pytest.approx(at[at < 0], abs=1e-9)
    assert relative_humidity(at, vapour_pressure(at, 37.0)) == pytest.approx(np.full(91, 37.0))
    assert np.isfinite(settling_point([1e-12, 1e-3, 1e5])).all()


def test_ice_takes_over_from_water_without_a_jump():
    pressures = np.linspace(610, 613, 3001)
    points = settling_point(pressures)
    assert (np.diff(points) > 0).all() and np.diff(points).max() < 2e-4
    assert saturation_on_surface(-5) < saturation_over_water(-5)
