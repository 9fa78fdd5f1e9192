"""One thermoelectric module against hand-worked figures, its own balances, and finite differences.

Worked figures: evaluated independently from the lumped model of S. Lineykin and S. Ben-Yaakov, IEEE Trans. Ind. Appl.
43(2), 2007, 505-512 (formulas from memory, derived anew).
"""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import solve_bvp

from fdm.cabinet.datasheet import DataSheet, module_from_datasheet
from fdm.cabinet.module import (
    ThermoelectricModule,
    heat_balances,
    heat_derivatives,
    heat_derivatives_by_current,
    power,
    properties,
)
from fdm.errors import InputError

CONSTANT = module_from_datasheet(DataSheet(68, 6, hot_side=27, greatest_voltage=15.4))
SLOPED = replace(CONSTANT, seebeck_slope=0.001, resistance_slope=0.004, conductance_slope=-0.0015)
BOTH = pytest.mark.parametrize("module", [CONSTANT, SLOPED], ids=["constant", "sloped"])
COLD = np.array([-20.0, 5.0, 24.0, 40.0])
HOT = np.array([45.0, 35.0, 24.0, 30.0])


@pytest.mark.parametrize(
    ("difference", "current", "heat", "watts"),
    [(20, 1.63512, 10.3394, 6.9855), (40, 3.37291, 12.7088, 29.5067)],  # at the current of the best performance
)
def test_worked_heat_and_power(difference, current, heat, watts):
    cold, hot = 27 - difference, 27
    assert_allclose(heat_balances(CONSTANT, current, cold, hot)[0], heat, atol=5e-5)
    assert_allclose(power(CONSTANT, current, cold, hot), watts, atol=5e-5)


@pytest.mark.parametrize(("difference", "current", "heat"), [(20, 7.2406, 41.5277), (40, 6.7237, 23.8532)])
def test_worked_current_of_the_most_heat(difference, current, heat):
    around = heat_balances(CONSTANT, current + np.array([-0.01, 0, 0.01]), 27 - difference, 27)[0]
    assert around.argmax() == 1
    assert_allclose(around[1], heat, atol=5e-5)


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
def test_derivatives_by_current(module):
    above, below = (np.array(heat_balances(module, 4 + d, COLD, HOT)) for d in (1e-3, -1e-3))
    assert_allclose(heat_derivatives_by_current(module, 4, COLD, HOT), (above - below) / 2e-3, atol=1e-8)


def test_derivatives_broadcast():
    current = np.linspace(1, 6, 5)[:, None]
    assert heat_derivatives(SLOPED, current, COLD, 30).shape == (5, 4, 2, 2)
    assert heat_derivatives(SLOPED, 3, 5, 30).shape == (2, 2)
    one = heat_derivatives(SLOPED, current[2, 0], COLD[1], 30)
    assert_allclose(heat_derivatives(SLOPED, current, COLD, 30)[2, 1], one)


@pytest.mark.parametrize("key", ["seebeck", "resistance", "conductance"])
@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_module_figures_that_cannot_be(key, value):
    with pytest.raises(InputError, match=f"module, {key}: .* above 0"):
        replace(CONSTANT, **{key: value})


@pytest.mark.parametrize("key", ["seebeck_slope", "resistance_slope", "conductance_slope"])
def test_slopes_in_percent_are_refused(key):
    with pytest.raises(InputError, match=f"module, {key}: 0.4 .* give 0.004"):
        replace(CONSTANT, **{key: 0.4})
