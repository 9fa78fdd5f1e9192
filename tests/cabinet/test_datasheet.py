"""A data sheet's ratings and the module behind them, against hand-worked figures and published closed forms.

Worked figures: evaluated independently from the lumped model of S. Lineykin and S. Ben-Yaakov, IEEE Trans. Ind. Appl.
43(2), 2007, 505-512 (formulas from memory, derived anew).
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from fdm.cabinet.datasheet import DataSheet, heat_check, module_from_datasheet
from fdm.cabinet.module import ThermoelectricModule, heat_balances, properties, voltage
from fdm.errors import InputError

RATED = {"greatest_difference": 68.0, "greatest_current": 6.0, "greatest_voltage": 15.4, "hot_side": 27.0}
SLOPES = {"seebeck_slope": 0.001, "resistance_slope": 0.004, "conductance_slope": -0.0015}
CONSTANT = module_from_datasheet(DataSheet(**RATED))


def figure_of_merit(module: ThermoelectricModule, cold: float, hot: float) -> float:
    """Z = a^2 / (R K), 1/K."""
    a, r, k = properties(module, cold, hot)
    return float(a**2 / (r * k))


def most_heat_current(module: ThermoelectricModule, cold: float, hot: float) -> float:
    """a Tc / R, A, from dQc/dI = 0."""
    a, r, _ = properties(module, cold, hot)
    return float(a * (cold + 273.15) / r)


def test_worked_parameters():
    assert_allclose(CONSTANT.seebeck, 0.0513077, atol=5e-8)
    assert_allclose(CONSTANT.resistance, 1.985180, atol=5e-7)
    assert_allclose(CONSTANT.conductance, 0.525489, atol=5e-7)
    assert_allclose(figure_of_merit(CONSTANT, 5, 35), 2.523490e-3, atol=5e-10)


def test_worked_greatest_heat():
    check = heat_check(CONSTANT, DataSheet(**RATED, greatest_heat=50))
    assert_allclose(check.predicted, 56.6668, atol=5e-5)
    assert check.stated == 50
    assert_allclose(check.excess, 0.133336, atol=1e-6)


def test_worked_absolute_greatest_heat_without_difference():
    current = most_heat_current(CONSTANT, 27, 27)
    assert_allclose(current, 7.7575, atol=5e-5)
    assert_allclose(heat_balances(CONSTANT, current, 27, 27)[0], 59.7326, atol=5e-5)


@pytest.mark.parametrize("slopes", [{}, SLOPES], ids=["constant", "sloped"])
def test_ratings_come_back(slopes):
    module = module_from_datasheet(DataSheet(**RATED), **slopes)
    assert_allclose(heat_balances(module, 6, 27 - 68, 27)[0], 0, atol=1e-12)
    assert_allclose(voltage(module, 6, 27 - 68, 27), 15.4)
    # 68 K is the greatest difference that any current holds without load
    currents = np.linspace(0, 12, 241)
    beyond = heat_balances(module, currents, 27 - 68.001, 27)[0]
    assert beyond.max() < 0
    assert_allclose(currents[beyond.argmax()], 6)
    # dTmax = Z Tc^2 / 2
    assert_allclose(figure_of_merit(module, 27 - 68, 27) * (300.15 - 68) ** 2 / 2, 68)


@pytest.mark.parametrize("slopes", [{}, SLOPES], ids=["constant", "sloped"])
def test_ratings_with_heat_instead_of_voltage_come_back(slopes):
    module = module_from_datasheet(DataSheet(68, 6, hot_side=27, greatest_heat=50), **slopes)
    assert_allclose(heat_balances(module, 6, 27, 27)[0], 50)
    assert_allclose(heat_balances(module, 6, 27 - 68, 27)[0], 0, atol=1e-12)
    assert_allclose(most_heat_current(module, 27 - 68, 27), 6)


def test_heat_instead_of_voltage_published_form():
    """Closed forms with Qmax in place of Vmax, Lineykin and Ben-Yaakov 2007 (from memory)."""
    module = module_from_datasheet(DataSheet(68, 6, hot_side=27, greatest_heat=50))
    a = 2 * 50 / (6 * (300.15 + 68))
    r = a * (300.15 - 68) / 6
    assert_allclose(module.seebeck, a)
    assert_allclose(module.resistance, r)
    assert_allclose(module.conductance, (300.15 - 68) ** 2 * a**2 / (2 * r * 68))


def test_consistent_heat_and_voltage_give_the_same_module():
    implied = 6 * 15.4 * (300.15 + 68) / (2 * 300.15)
    by_heat = module_from_datasheet(DataSheet(68, 6, hot_side=27, greatest_heat=implied))
    for key in ("seebeck", "resistance", "conductance", "reference_mean"):
        assert_allclose(getattr(by_heat, key), getattr(CONSTANT, key))


@pytest.mark.parametrize(
    ("difference", "current", "volts", "hot_side", "stated", "implied", "excess"),
    [(70, 3.9, 15.5, 27, 32.0, 37.3, 0.16), (67, 3.0, 15.4, 25, 25.7, 28.3, 0.10)],
    ids=["127 couples, 40 mm", "127 couples, 30 mm"],
)
def test_real_ratings_disagree(difference, current, volts, hot_side, stated, implied, excess):
    """Ratings as two makers publish them; the hot side of the second is assumed."""
    rated = {"greatest_difference": difference, "greatest_current": current, "hot_side": hot_side}
    sheet = DataSheet(greatest_voltage=volts, greatest_heat=stated, **rated)
    check = heat_check(module_from_datasheet(sheet), sheet)
    assert_allclose(check.predicted, implied, atol=0.05)
    assert_allclose(check.excess, excess, atol=0.005)
    # the other way round, the voltage falls short by the same ratio
    by_heat = module_from_datasheet(DataSheet(greatest_heat=stated, **rated))
    short = volts / voltage(by_heat, current, hot_side - difference, hot_side)
    assert_allclose(short, check.predicted / stated)


def test_typical_module_of_the_trade():
    """2 ohm, 0.05 V/K, 0.5 to 0.55 W/K, 2.5e-3 1/K for 40 mm, 127 couples, 6 A: common practice, no source."""
    assert_allclose(CONSTANT.resistance, 2, rtol=0.02)
    assert_allclose(CONSTANT.seebeck, 0.05, rtol=0.03)
    assert 0.5 < CONSTANT.conductance < 0.55
    assert_allclose(figure_of_merit(CONSTANT, 0, 0), 2.5e-3, rtol=0.01)


def test_no_check_without_a_stated_heat():
    assert heat_check(CONSTANT, DataSheet(**RATED)) is None


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"greatest_voltage": None}, "greatest_voltage and greatest_heat are both missing"),
        ({"greatest_difference": 310.0}, "greatest_difference: 310 K .* negative; give less than 300.15 K"),
        ({"greatest_difference": 0.0}, "greatest_difference: 0.0 is not a number above 0"),
        ({"greatest_current": -6.0}, "greatest_current: -6.0"),
        ({"greatest_voltage": -15.4}, "greatest_voltage: -15.4"),
        ({"greatest_heat": 0.0}, "greatest_heat: 0.0"),
        ({"greatest_voltage": float("nan")}, "greatest_voltage: nan"),
        ({"hot_side": -300.0}, "hot_side: -300.0 is not a temperature"),
    ],
)
def test_ratings_that_cannot_be(change, said):
    with pytest.raises(InputError, match=said):
        DataSheet(**(RATED | change))
