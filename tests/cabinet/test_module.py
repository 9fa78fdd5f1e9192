"""The thermoelectric module against hand-worked figures, its own balances, and finite differences.

Worked figures: evaluated independently from the lumped model of S. Lineykin and S. Ben-Yaakov, IEEE Trans. Ind. Appl.
43(2), 2007, 505-512 (formulas from memory, derived anew).
"""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_bvp
from scipy.optimize import minimize_scalar

from fdm.cabinet.module import (
    Supply,
    ThermoelectricModule,
    bank_heat_balances,
    bank_heat_derivatives,
    cop,
    current_derivatives,
    current_for_voltage,
    figure_of_merit,
    greatest_cop,
    greatest_cop_current,
    greatest_heat_current,
    heat_balances,
    heat_check,
    heat_derivatives,
    heat_derivatives_by_current,
    lead_loss,
    module_current,
    module_from_datasheet,
    power,
    properties,
    supply_power,
    voltage,
)
from fdm.errors import InputError

RATED = {"greatest_difference": 68.0, "greatest_current": 6.0, "greatest_voltage": 15.4, "hot_side": 27.0}
SLOPES = {"seebeck_slope": 0.001, "resistance_slope": 0.004, "conductance_slope": -0.0015}
CONSTANT = module_from_datasheet(**RATED)
SLOPED = replace(CONSTANT, **SLOPES)
BOTH = pytest.mark.parametrize("module", [CONSTANT, SLOPED], ids=["constant", "sloped"])
SUPPLIES = pytest.mark.parametrize(
    "supply",
    [
        Supply(voltage=12),
        Supply(current=4.5),
        Supply(voltage=24, lead_resistance=0.15, series=2, parallel=3, idle=2),
        Supply(current=9, lead_resistance=0.15, series=2, parallel=3, idle=6),
    ],
    ids=["voltage", "current", "voltage bank", "current bank"],
)
COLD = np.array([-20.0, 5.0, 24.0, 40.0])
HOT = np.array([45.0, 35.0, 24.0, 30.0])


# --- from a datasheet


def test_worked_parameters():
    assert_allclose(CONSTANT.seebeck, 0.0513077, atol=5e-8)
    assert_allclose(CONSTANT.resistance, 1.985180, atol=5e-7)
    assert_allclose(CONSTANT.conductance, 0.525489, atol=5e-7)
    assert_allclose(figure_of_merit(CONSTANT, 5, 35), 2.523490e-3, atol=5e-10)


def test_worked_greatest_heat():
    check = heat_check(CONSTANT, greatest_heat=50, greatest_current=6, hot_side=27)
    assert_allclose(check.predicted, 56.6668, atol=5e-5)
    assert check.stated == 50
    assert_allclose(check.excess, 0.133336, atol=1e-6)


def test_worked_absolute_greatest_heat_without_difference():
    current = greatest_heat_current(CONSTANT, 27, 27)
    assert_allclose(current, 7.7575, atol=5e-5)
    assert_allclose(heat_balances(CONSTANT, current, 27, 27)[0], 59.7326, atol=5e-5)


@pytest.mark.parametrize("slopes", [{}, SLOPES], ids=["constant", "sloped"])
def test_ratings_come_back(slopes):
    module = module_from_datasheet(**RATED, **slopes)
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
    module = module_from_datasheet(greatest_difference=68, greatest_current=6, greatest_heat=50, hot_side=27, **slopes)
    assert_allclose(heat_balances(module, 6, 27, 27)[0], 50)
    assert_allclose(heat_balances(module, 6, 27 - 68, 27)[0], 0, atol=1e-12)
    assert_allclose(greatest_heat_current(module, 27 - 68, 27), 6)


def test_heat_instead_of_voltage_published_form():
    """Closed forms with Qmax in place of Vmax, Lineykin and Ben-Yaakov 2007 (from memory)."""
    module = module_from_datasheet(greatest_difference=68, greatest_current=6, greatest_heat=50, hot_side=27)
    a = 2 * 50 / (6 * (300.15 + 68))
    r = a * (300.15 - 68) / 6
    assert_allclose(module.seebeck, a)
    assert_allclose(module.resistance, r)
    assert_allclose(module.conductance, (300.15 - 68) ** 2 * a**2 / (2 * r * 68))


def test_consistent_heat_and_voltage_give_the_same_module():
    implied = 6 * 15.4 * (300.15 + 68) / (2 * 300.15)
    by_heat = module_from_datasheet(greatest_difference=68, greatest_current=6, greatest_heat=implied, hot_side=27)
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
    module = module_from_datasheet(greatest_voltage=volts, greatest_heat=stated, **rated)
    check = heat_check(module, greatest_heat=stated, greatest_current=current, hot_side=hot_side)
    assert_allclose(check.predicted, implied, atol=0.05)
    assert_allclose(check.excess, excess, atol=0.005)
    # the other way round, the voltage falls short by the same ratio
    by_heat = module_from_datasheet(greatest_heat=stated, **rated)
    short = volts / voltage(by_heat, current, hot_side - difference, hot_side)
    assert_allclose(short, check.predicted / stated)


def test_typical_module_of_the_trade():
    """2 ohm, 0.05 V/K, 0.5 to 0.55 W/K, 2.5e-3 1/K for 40 mm, 127 couples, 6 A: common practice, no source."""
    assert_allclose(CONSTANT.resistance, 2, rtol=0.02)
    assert_allclose(CONSTANT.seebeck, 0.05, rtol=0.03)
    assert 0.5 < CONSTANT.conductance < 0.55
    assert_allclose(figure_of_merit(CONSTANT, 0, 0), 2.5e-3, rtol=0.01)


# --- one module


@pytest.mark.parametrize(
    ("difference", "heat_current", "heat", "cop_current", "best_cop", "cop_heat", "cop_power"),
    [
        (20, 7.2406, 41.5277, 1.63512, 1.480122, 10.3394, 6.9855),
        (40, 6.7237, 23.8532, 3.37291, 0.430709, 12.7088, 29.5067),
    ],
)
def test_worked_optima(difference, heat_current, heat, cop_current, best_cop, cop_heat, cop_power):
    cold, hot = 27 - difference, 27
    i_heat = greatest_heat_current(CONSTANT, cold, hot)
    assert_allclose(i_heat, heat_current, atol=5e-5)
    assert_allclose(heat_balances(CONSTANT, i_heat, cold, hot)[0], heat, atol=5e-5)
    i_cop = greatest_cop_current(CONSTANT, cold, hot)
    assert_allclose(i_cop, cop_current, atol=5e-6)
    assert_allclose(greatest_cop(CONSTANT, cold, hot), best_cop, atol=5e-7)
    assert_allclose(cop(CONSTANT, i_cop, cold, hot), best_cop, atol=5e-7)
    assert_allclose(heat_balances(CONSTANT, i_cop, cold, hot)[0], cop_heat, atol=5e-5)
    assert_allclose(power(CONSTANT, i_cop, cold, hot), cop_power, atol=5e-5)


@BOTH
@pytest.mark.parametrize("cold", [10.0, -15.0, -60.0])
def test_optima_are_the_best_of_all_currents(module, cold):
    def found(worth):
        return minimize_scalar(lambda i: -worth(i), bounds=(0.01, 40), method="bounded", options={"xatol": 1e-9}).x

    heat = found(lambda i: heat_balances(module, i, cold, 30)[0])
    assert_allclose(greatest_heat_current(module, cold, 30), heat, rtol=1e-6)
    best = found(lambda i: cop(module, i, cold, 30))
    assert_allclose(greatest_cop_current(module, cold, 30), best, rtol=1e-5)
    assert_allclose(greatest_cop(module, cold, 30), cop(module, best, cold, 30), rtol=1e-9)


@BOTH
def test_rejected_less_absorbed_is_electric_power(module):
    current = np.linspace(-8, 8, 9)[:, None]
    absorbed, rejected = heat_balances(module, current, COLD, HOT)
    assert absorbed.shape == (9, 4)
    assert_allclose(rejected - absorbed, power(module, current, COLD, HOT), rtol=0, atol=1e-13 * np.abs(rejected).max())


@BOTH
def test_without_current_it_only_conducts(module):
    absorbed, rejected = heat_balances(module, 0, COLD, HOT)
    _, _, conductance = properties(module, COLD, HOT)
    assert_allclose(absorbed, conductance * (COLD - HOT))
    assert_allclose(rejected, absorbed)


def test_reversed_current_heats_the_cold_face():
    absorbed, rejected = heat_balances(CONSTANT, -3, 20, 20)
    assert absorbed < 0 and rejected < 0
    # the module turned around: faces and directions swapped
    forward = heat_balances(SLOPED, 3, 10, 30)
    backward = heat_balances(SLOPED, -3, 30, 10)
    assert_allclose(backward, [-forward[1], -forward[0]])


def test_slopes_work_about_the_reference_mean():
    at_reference = properties(SLOPED, SLOPED.reference_mean - 20, SLOPED.reference_mean + 20)
    assert_allclose(at_reference, [SLOPED.seebeck, SLOPED.resistance, SLOPED.conductance])
    warmer = properties(SLOPED, SLOPED.reference_mean, SLOPED.reference_mean + 20)
    assert_allclose(np.divide(warmer, at_reference), [1.01, 1.04, 0.985])


def test_mean_seebeck_counts_thomson_heat():
    """Against K T'' = I tau T' - I^2 R along the legs, tau = T da/dT (Domenicali's equation, from memory)."""
    a, r, k, slope, current, tc, th = 0.05, 2.0, 0.5, 0.001, 1.0, 273.15, 293.15
    module = ThermoelectricModule(a, r, k, reference_mean=10, seebeck_slope=slope)
    legs = solve_bvp(
        lambda x, y: np.array([y[1], (current * a * slope * y[0] * y[1] - current**2 * r) / k]),
        lambda at_cold, at_hot: np.array([at_cold[0] - tc, at_hot[0] - th]),
        [0, 1],
        [[tc, th], [th - tc, th - tc]],
        tol=1e-8,
    )
    a_cold = a * (1 - slope * (th - tc) / 2)
    exact = a_cold * current * tc - k * legs.sol(0)[1]
    absorbed, _ = heat_balances(module, current, tc - 273.15, th - 273.15)
    thomson = (a - a_cold) * current * tc
    assert_allclose(absorbed, exact, atol=0.1 * thomson)


def test_cop_at_its_limits():
    assert cop(CONSTANT, 0, 20, 10) == np.inf  # heat flows by itself
    assert cop(CONSTANT, 0, 10, 20) == -np.inf  # nothing pumped, heat leaks back
    assert np.isnan(cop(CONSTANT, 0.1, 20, 10))  # generates
    assert_allclose(cop(CONSTANT, 1e9, 10, 20), -0.5, rtol=1e-6)  # Joule heat alone, half of it to each face


def test_best_cop_without_a_difference_to_pump_over():
    assert_allclose(greatest_cop_current(CONSTANT, [20, 20], [20, 10]), 0)
    assert_allclose(greatest_cop(CONSTANT, [20, 20], [20, 10]), np.inf)


def test_best_cop_turns_negative_at_the_greatest_difference():
    assert_allclose(greatest_cop(CONSTANT, 27 - 68, 27), 0, atol=1e-12)
    assert greatest_cop(CONSTANT, 27 - 67, 27) > 0 > greatest_cop(CONSTANT, 27 - 69, 27)


def test_best_cop_approaches_carnot():
    perfect = ThermoelectricModule(0.05, 1e-6, 1e-6, reference_mean=20)
    assert_allclose(greatest_cop(perfect, 5, 35), 278.15 / 30, rtol=1e-4)


# --- derivatives


def differences(function, cold, hot, h=1e-3):
    """(..., outputs, 2): central differences of function(cold, hot) with respect to cold and hot."""
    by_cold = (np.array(function(cold + h, hot)) - np.array(function(cold - h, hot))) / (2 * h)
    by_hot = (np.array(function(cold, hot + h)) - np.array(function(cold, hot - h))) / (2 * h)
    return np.moveaxis(np.stack([by_cold, by_hot], -1), 0, -2)


@BOTH
@pytest.mark.parametrize("current", [-2.0, 0.0, 5.0])
def test_derivatives_at_constant_current(module, current):
    expected = differences(lambda c, h: heat_balances(module, current, c, h), COLD, HOT)
    assert_allclose(heat_derivatives(module, current, COLD, HOT), expected, atol=1e-8)


@BOTH
def test_derivatives_at_constant_voltage(module):
    def balances(cold, hot):
        return heat_balances(module, current_for_voltage(module, 12, cold, hot), cold, hot)

    slopes = current_derivatives(module, Supply(voltage=12), COLD, HOT)
    exact = heat_derivatives(module, current_for_voltage(module, 12, COLD, HOT), COLD, HOT, *slopes)
    assert_allclose(exact, differences(balances, COLD, HOT), atol=1e-8)


@BOTH
@SUPPLIES
def test_derivatives_of_current_and_bank(module, supply):
    expected = differences(lambda c, h: module_current(module, supply, c, h)[None], COLD, HOT)[:, 0]
    assert_allclose(np.stack(current_derivatives(module, supply, COLD, HOT), -1), expected, atol=1e-9)
    expected = differences(lambda c, h: bank_heat_balances(module, supply, c, h), COLD, HOT)
    assert_allclose(bank_heat_derivatives(module, supply, COLD, HOT), expected, atol=1e-7)


@BOTH
def test_derivatives_by_current(module):
    above, below = (np.array(heat_balances(module, 4 + d, COLD, HOT)) for d in (1e-3, -1e-3))
    assert_allclose(heat_derivatives_by_current(module, 4, COLD, HOT), (above - below) / 2e-3, atol=1e-8)


def test_derivatives_broadcast():
    current = np.linspace(1, 6, 5)[:, None]
    assert heat_derivatives(SLOPED, current, COLD, 30).shape == (5, 4, 2, 2)
    assert heat_derivatives(SLOPED, 3, 5, 30).shape == (2, 2)
    one = heat_derivatives(SLOPED, current[2, 0], COLD[1], 30)
    assert_allclose(heat_derivatives(SLOPED, current, COLD, 30)[2, 1], one)


# --- on a sink, at a given load


@pytest.mark.parametrize(
    ("current", "cold", "hot", "spent"),
    [
        (1, 20.9217, 28.7155, 2.3851),
        (2, 3.7432, 31.2283, 10.7611),
        (3, -6.7132, 35.3000, 24.3334),
        (4, -11.9740, 40.7767, 42.5889),
        (5, -13.1284, 47.5595, 65.1983),
        (6, -10.9734, 55.5871, 91.9569),
    ],
)
def test_worked_operating_points(current, cold, hot, spent):
    """10 W from the cold face, 0.3 K/W from the hot face to 25 degC; found with the module's own Jacobian.

    Figures from the two linear balances solved independently.
    """
    supply = Supply(current=current)
    t = np.array([25.0, 25.0])
    for _ in range(2):  # the balances are linear at constant current: one step lands, the second must not move
        absorbed, rejected = bank_heat_balances(CONSTANT, supply, *t)
        residual = np.array([absorbed - 10, rejected - (t[1] - 25) / 0.3])
        jacobian = bank_heat_derivatives(CONSTANT, supply, *t) - [[0, 0], [0, 1 / 0.3]]
        step = np.linalg.solve(jacobian, -residual)
        t = t + step
    assert_allclose(step, 0, atol=1e-11)
    assert_allclose(t, [cold, hot], atol=5e-5)
    assert_allclose(power(CONSTANT, current, *t), spent, atol=5e-5)
    assert_allclose(10 + spent, (t[1] - 25) / 0.3, atol=1e-4)


@SUPPLIES
def test_newton_converges_with_slopes(supply):
    t, steps = np.array([10.0, 40.0]), []
    for _ in range(6):
        absorbed, rejected = bank_heat_balances(SLOPED, supply, *t)
        residual = np.array([absorbed - 2 * (25 - t[0]), rejected - 5 * (t[1] - 25)])
        jacobian = bank_heat_derivatives(SLOPED, supply, *t) - [[-2, 0], [0, 5]]
        step = np.linalg.solve(jacobian, -residual)
        t = t + step
        steps.append(np.abs(step).max())
    assert steps[-1] < 1e-11


# --- supply


@BOTH
def test_voltage_supply_meets_its_voltage(module):
    supply = Supply(voltage=24, lead_resistance=0.15, series=2, parallel=3)
    current = module_current(module, supply, COLD, HOT)
    assert_allclose(2 * voltage(module, current, COLD, HOT) + 3 * current * 0.15, 24)


def test_bank_of_voltage_without_leads_is_single_modules():
    one = module_current(SLOPED, Supply(voltage=12), COLD, HOT)
    assert_allclose(module_current(SLOPED, Supply(voltage=24, series=2, parallel=3), COLD, HOT), one)


def test_current_supply_is_shared_by_the_strings():
    supply = Supply(current=9, lead_resistance=1, series=4, parallel=3)
    assert_allclose(module_current(SLOPED, supply, COLD, HOT), 3)
    assert supply.driven == supply.modules == 12


def test_lead_resistance_against_the_open_and_short_limits():
    emf = CONSTANT.seebeck * 30
    assert_allclose(current_for_voltage(CONSTANT, emf, 0, 30), 0, atol=1e-15)
    assert_allclose(current_for_voltage(CONSTANT, 12, 20, 20, lead_resistance=1e9), 12e-9, rtol=1e-6)
    assert_allclose(current_for_voltage(CONSTANT, [6, 12], 20, 20), np.array([6, 12]) / CONSTANT.resistance)


@BOTH
@SUPPLIES
def test_bank_closes_its_energy_balance(module, supply):
    absorbed, rejected = bank_heat_balances(module, supply, COLD, HOT)
    given = supply_power(module, supply, COLD, HOT)
    assert_allclose(rejected + lead_loss(module, supply, COLD, HOT), absorbed + given, rtol=1e-13, atol=1e-11)
    if supply.voltage is not None:
        assert_allclose(given, supply.voltage * supply.parallel * module_current(module, supply, COLD, HOT))


def test_half_off_keeps_the_modules_in_place():
    full = Supply(voltage=24, lead_resistance=0.2, series=2, parallel=4)
    half = full.half_off()
    assert (half.driven, half.idle, half.modules) == (4, 4, full.modules)
    # fewer modules load the leads less, so those that stay on get more
    assert module_current(SLOPED, half, 5, 35) > module_current(SLOPED, full, 5, 35)
    # without lead loss, half off is half of full on and half of all off
    full, half = replace(full, lead_resistance=0), replace(half, lead_resistance=0)
    on = np.array(bank_heat_balances(SLOPED, full, COLD, HOT))
    off = 8 * np.array(heat_balances(SLOPED, 0, COLD, HOT))
    assert_allclose(bank_heat_balances(SLOPED, half, COLD, HOT), (on + off) / 2)


def test_half_off_at_constant_current_crowds_the_other_half():
    assert_allclose(module_current(CONSTANT, Supply(current=6, parallel=2).half_off(), 5, 35), 6)


# --- input at fault


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"greatest_difference": None}, "greatest_difference: missing"),
        ({"greatest_current": None}, "greatest_current: missing"),
        ({"greatest_voltage": None}, "greatest_voltage and greatest_heat are both missing"),
        ({"greatest_difference": 310.0}, "greatest_difference: 310 K .* negative; give less than 300.15 K"),
        ({"greatest_difference": 0.0}, "greatest_difference: 0.0 is not a number above 0"),
        ({"greatest_current": -6.0}, "greatest_current: -6.0"),
        ({"greatest_voltage": -15.4}, "greatest_voltage: -15.4"),
        ({"greatest_heat": 0.0}, "greatest_heat: 0.0"),
        ({"greatest_voltage": float("nan")}, "greatest_voltage: nan"),
        ({"hot_side": -300.0}, "hot_side: -300.0 is not a temperature"),
        ({"resistance_slope": 0.4}, "resistance_slope: 0.4 .* give 0.004"),
    ],
)
def test_ratings_that_cannot_be(change, said):
    with pytest.raises(InputError, match=said):
        module_from_datasheet(**(RATED | change))


@pytest.mark.parametrize("key", ["seebeck", "resistance", "conductance"])
@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_module_figures_that_cannot_be(key, value):
    with pytest.raises(InputError, match=f"module, {key}: .* above 0"):
        replace(CONSTANT, **{key: value})


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "exactly one of voltage and current"),
        ({"voltage": 12, "current": 3}, "exactly one of voltage and current"),
        ({"voltage": -12}, "supply, voltage: -12"),
        ({"current": float("inf")}, "supply, current: inf"),
        ({"voltage": 12, "lead_resistance": -0.1}, "supply, lead_resistance: -0.1"),
        ({"voltage": 12, "series": 0}, "supply, series: 0 is not a whole number of 1 or more"),
        ({"voltage": 12, "parallel": 1.5}, "supply, parallel: 1.5"),
        ({"voltage": 12, "idle": -1}, "supply, idle: -1 is not a whole number of 0 or more"),
    ],
)
def test_supplies_that_cannot_be(given, said):
    with pytest.raises(InputError, match=said):
        Supply(**given)


def test_an_odd_number_of_strings_cannot_be_halved():
    with pytest.raises(InputError, match="parallel: 3 cannot be halved"):
        Supply(voltage=12, parallel=3).half_off()


@pytest.mark.parametrize("key", ["greatest_heat", "greatest_current"])
def test_heat_check_refuses_ratings_that_cannot_be(key):
    with pytest.raises(InputError, match=key):
        heat_check(CONSTANT, **({"greatest_heat": 50.0, "greatest_current": 6.0, "hot_side": 27.0} | {key: 0.0}))
