"""Moist air, beside an open library of psychrometrics and the worked figures of ISO 13788."""

import numpy as np
import psychrolib
import pytest

from fdm.surroundings.moist import (
    Boundary,
    dew_point,
    dry_density,
    evaporation_heat,
    frost_point,
    frozen_share,
    humidity_ratio,
    latent_heat,
    pressure_of_ratio,
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


# degC of a surface and of the air, % humidity, film: g/(m2 h) that settle, W/m2 of latent heat; computed by others
@pytest.mark.parametrize(
    "surface, air, humidity, film, grams, watts",
    [
        (5, 25, 60, 5, 124.2, 85.9),
        (5, 25, 60, 10, 248.3, 171.7),
        (-5, 20, 50, 5, 92.0, 72.4),
        (10, 30, 80, 5, 264.1, 181.7),
        (2, 5, 80, 3, -0.6, None),  # above the dew point: it dries
    ],
)
def test_what_settles_by_the_analogy(surface, air, humidity, film, grams, watts):
    ratio = humidity_ratio(vapour_pressure(air, humidity))
    rate = float(Boundary.between(np.array(film), air, np.array(surface)).settling(ratio))
    assert 3.6e6 * rate == pytest.approx(grams, rel=0.01, abs=0.1)
    if watts is not None:
        assert rate * float(latent_heat(surface)) == pytest.approx(watts, rel=0.01)


def test_ratios_are_those_of_the_library():
    for t, rh in ((t, rh) for t, rh in AIRS if t >= 0):
        ratio = psychrolib.GetHumRatioFromRelHum(t, rh / 100, 101325)
        pressure = vapour_pressure(t, rh)
        assert humidity_ratio(pressure) == pytest.approx(ratio, rel=1e-3)
        assert pressure_of_ratio(humidity_ratio(pressure)) == pytest.approx(pressure)
        assert dry_density(t, pressure) == pytest.approx(1 / psychrolib.GetMoistAirVolume(t, ratio, 101325), rel=1e-3)


# degC and % of the room: J and g of one change of 20 litres of air at 5 degC and 90 %, by enthalpies of the library
@pytest.mark.parametrize("room, humidity, joules, grams", [(25, 60, 963, 0.177), (30, 80, 1716, 0.421)])
def test_one_change_of_air(room, humidity, joules, grams):
    inside, outside = vapour_pressure(5, 90), vapour_pressure(room, humidity)
    dry = 0.02 * dry_density(5, inside)
    water = dry * (humidity_ratio(outside) - humidity_ratio(inside))
    assert 1e3 * water == pytest.approx(grams, rel=5e-3)
    assert dry * 1010 * (room - 5) + water * latent_heat(5) == pytest.approx(joules, rel=0.02)


def test_freezing_takes_over_without_a_jump():
    at = np.linspace(-1, 1, 401)
    assert abs(np.diff(latent_heat(at))).max() < 0.01 * latent_heat(0)
    assert frozen_share([-1, 1]).tolist() == [1, 0] and latent_heat(1) == evaporation_heat(1)
    assert latent_heat(-1) - evaporation_heat(-1) == pytest.approx(3.34e5, rel=0.02)  # melting
