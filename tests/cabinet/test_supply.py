"""The supply and all modules together, against their balances, finite differences and worked operating points."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from fdm.cabinet.module import heat_balances, heat_derivatives, power, voltage
from fdm.cabinet.supply import (
    Supply,
    bank_heat_balances,
    bank_heat_derivatives,
    current_derivatives,
    lead_loss,
    module_current,
    supply_power,
)
from fdm.errors import InputError
from tests.cabinet.test_module import BOTH, COLD, CONSTANT, HOT, SLOPED, differences

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


@BOTH
def test_derivatives_at_constant_voltage(module):
    supply = Supply(voltage=12)

    def balances(cold, hot):
        return heat_balances(module, module_current(module, supply, cold, hot), cold, hot)

    slopes = current_derivatives(module, supply, COLD, HOT)
    exact = heat_derivatives(module, module_current(module, supply, COLD, HOT), COLD, HOT, *slopes)
    assert_allclose(exact, differences(balances, COLD, HOT), atol=1e-8)


@BOTH
@SUPPLIES
def test_derivatives_of_current_and_bank(module, supply):
    expected = differences(lambda c, h: module_current(module, supply, c, h)[None], COLD, HOT)[:, 0]
    assert_allclose(np.stack(current_derivatives(module, supply, COLD, HOT), -1), expected, atol=1e-9)
    expected = differences(lambda c, h: bank_heat_balances(module, supply, c, h), COLD, HOT)
    assert_allclose(bank_heat_derivatives(module, supply, COLD, HOT), expected, atol=1e-7)


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
    assert_allclose(module_current(CONSTANT, Supply(voltage=emf), 0, 30), 0, atol=1e-15)
    assert_allclose(module_current(CONSTANT, Supply(voltage=12, lead_resistance=1e9), 20, 20), 12e-9, rtol=1e-6)
    for volts in (6, 12):
        assert_allclose(module_current(CONSTANT, Supply(voltage=volts), 20, 20), volts / CONSTANT.resistance)


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


def test_another_figure_of_the_same_supply():
    assert Supply(voltage=12, parallel=2).at(9) == Supply(voltage=9, parallel=2)
    assert Supply(current=3, lead_resistance=0.1).at(2) == Supply(current=2, lead_resistance=0.1)
    assert (Supply(voltage=0).quantity, Supply(voltage=0).figure) == ("voltage", 0)
    assert (Supply(current=3).quantity, Supply(current=3).figure) == ("current", 3)
