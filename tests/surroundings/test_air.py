"""Properties of air."""

import fluids
import numpy as np
import pytest

from fdm.surroundings.air import SEA_LEVEL, air_at, notes, pressure_at, rayleigh

# density, specific heat, 1e3 conductivity, 1e6 viscosity, Prandtl, g beta / (nu a): an equation of state and transport
# equations of dry air (Lemmon et al. 2000, Lemmon and Jacobsen 2004) as an open program has them
TABLE = {
    -40: (1.516, 1005.7, 21.225, 15.152, 0.7179, 3.04e8),
    0: (1.2931, 1005.7, 24.360, 17.218, 0.7108, 1.444e8),
    20: (1.2046, 1006.1, 25.874, 18.206, 0.7080, 1.040e8),
    40: (1.1274, 1006.9, 27.354, 19.165, 0.7055, 7.664e7),
    80: (0.9995, 1009.5, 30.225, 21.009, 0.7017, 4.417e7),
    120: (0.8977, 1013.3, 32.990, 22.763, 0.6992, 2.715e7),
}


@pytest.mark.parametrize("temperature", TABLE)
def test_fits_keep_what_is_said_of_them(temperature):
    air = air_at(temperature)
    found = [air.density, air.specific_heat, 1e3 * air.conductivity, 1e6 * air.viscosity, air.prandtl]
    for value, true, within in zip(found, TABLE[temperature], (0.0014, 1e-4, 5e-4, 6e-4, 3e-4), strict=False):
        assert value == pytest.approx(true, rel=within)
    assert rayleigh(air, 1, 1) == pytest.approx(TABLE[temperature][-1], rel=0.01)


def test_pressure_falls_as_in_the_standard_atmosphere():
    heights = np.linspace(-500, 9000, 40)
    standard = [fluids.ATMOSPHERE_1976(z).P for z in heights]
    assert pressure_at(heights) == pytest.approx(standard, rel=2e-3)  # by height, not by its geopotential
    assert air_at(20, 2000).density == pytest.approx(0.7846 * air_at(20).density, rel=1e-4)
    assert air_at(20, 2000).viscosity == air_at(20).viscosity and pressure_at(0) == SEA_LEVEL


def test_fits_are_not_extrapolated_and_this_is_said():
    assert air_at(300).conductivity == air_at(120).conductivity
    assert [n.split(" is ")[0] for n in notes(air_at(300))] == ["air temperature (degC) 300"]
    assert [n.split(" is ")[0] for n in notes(air_at(20, 6000))] == ["air pressure (kPa) 47.2"]
    assert notes(air_at(20, 2000)) == ()
