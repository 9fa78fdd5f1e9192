"""Moist air: saturation over water and over ice, dew and frost points, and how much vapour air holds.

Air can hold vapour up to a *saturation pressure* that rises by some 7 % with each kelvin. Its *relative humidity* is
its vapour pressure over that of saturation above water, at its own temperature. Water settles on a surface that is
colder than the air's *dew point*, at which its vapour would be saturated. Below 0 degC it settles as ice, over which
saturation is lower: from the *frost point* on, about a tenth nearer to 0 degC than the dew point.

Saturation after D. Sonntag, Z. Meteorol. 40 (1990) 340 (over water from memory, over ice as later works cite it):
within 0.07 % of the ASHRAE formulas between -40 and 100 degC, which is a hundredth of a kelvin. Vapour is an ideal gas.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.surroundings.air import ZERO_CELSIUS

Array = NDArray[np.float64]

# ln(Pa) = a / T + b + c T + d T^2 + f ln T, with T in K
WATER = (-6096.9385, 21.2409642, -2.711193e-2, 1.673952e-5, 2.433502)
ICE = (-6024.5282, 29.32707, 1.0613868e-2, -1.3198825e-5, -0.49382577)
COLDEST, WARMEST = -80.0, 100.0  # degC, of air whose humidity is given, and of its dew point
CLIPPED = -150.0, 200.0  # degC: surfaces beyond are taken to be there
FREEZES = 0.01  # degC, of the triple point, where both saturation pressures are the same
GAS_CONSTANT = 461.52  # J/(kg K), of vapour
STEPS = 5  # of Newton's method, which needs three from -80 to 100 degC

Formula = tuple[float, float, float, float, float]


def _saturation(formula: Formula, temperature: ArrayLike) -> Array:
    a, b, c, d, f = formula
    t = np.clip(np.asarray(temperature, float), *CLIPPED) + ZERO_CELSIUS
    return np.asarray(np.exp(a / t + b + c * t + d * t**2 + f * np.log(t)))


def saturation_over_water(temperature: ArrayLike) -> Array:
    """Pa, at degC; below 0 that of supercooled water, to which relative humidity refers.

    >>> saturation_over_water([-20, 0, 20, 40]).round(1)
    array([ 125.6,  611.2, 2339.2, 7385.3])
    """
    return _saturation(WATER, temperature)


def saturation_over_ice(temperature: ArrayLike) -> Array:
    """Pa, at degC up to 0.

    >>> saturation_over_ice([-20, -10, 0]).round(2)
    array([103.24, 259.89, 611.15])
    """
    return _saturation(ICE, temperature)


def saturation_on_surface(temperature: ArrayLike) -> Array:
    """Pa, above which vapour settles on a surface at degC: over water, below 0 degC over ice."""
    freezes = np.asarray(temperature, float) < FREEZES
    return np.where(freezes, saturation_over_ice(temperature), saturation_over_water(temperature))


def _temperature(formula: Formula, pressure: ArrayLike) -> Array:
    """degC at which the saturation pressure is `pressure`, by Newton's method in ln(Pa) over 1/T, which is nearly a
    straight line."""
    a, _, c, d, f = formula
    wanted = np.log(np.asarray(pressure, float))
    u = 1 / ZERO_CELSIUS + (np.log(611.2) - wanted) / 5420.0
    for _ in range(STEPS):
        t = 1 / u
        slope = a - t * (c * t + 2 * d * t**2 + f)
        u = u + (wanted - np.log(_saturation(formula, t - ZERO_CELSIUS))) / slope
    return np.asarray(1 / u - ZERO_CELSIUS)


def dew_point(pressure: ArrayLike) -> Array:
    """degC at which air with a vapour pressure (Pa) is saturated over water.

    >>> dew_point(vapour_pressure([25, 25, 10], [60, 40, 40])).round(2)
    array([16.7 , 10.48, -2.97])
    """
    return _temperature(WATER, pressure)


def frost_point(pressure: ArrayLike) -> Array:
    """degC at which air with a vapour pressure (Pa) is saturated over ice; it has a meaning below 0 alone.

    >>> frost_point(vapour_pressure([10, 20, 0], [40, 20, 50])).round(2)
    array([-2.63, -3.21, -8.16])
    """
    return _temperature(ICE, pressure)


def settling_point(pressure: ArrayLike) -> Array:
    """degC below which vapour of a pressure (Pa) settles on a surface: the dew point, below 0 degC the frost point."""
    freezes = np.asarray(pressure, float) < saturation_on_surface(FREEZES)
    return np.where(freezes, frost_point(pressure), dew_point(pressure))


def vapour_pressure(temperature: ArrayLike, humidity: ArrayLike) -> Array:
    """Pa, of air at degC with a relative humidity (%)."""
    return np.asarray(np.asarray(humidity, float) / 100 * saturation_over_water(temperature))


def relative_humidity(temperature: ArrayLike, pressure: ArrayLike) -> Array:
    """%, of air at degC with a vapour pressure (Pa).

    >>> relative_humidity(20, saturation_over_water([10, 20])).round(1)  # dew points 10 and 20 degC
    array([ 52.5, 100. ])
    """
    return np.asarray(100 * np.asarray(pressure, float) / saturation_over_water(temperature))


def vapour_content(temperature: ArrayLike, pressure: ArrayLike) -> Array:
    """kg/m3 of vapour in air at degC, from the vapour's pressure (Pa).

    >>> (1e3 * vapour_content([25, 5], vapour_pressure([25, 5], [60, 90]))).round(2)
    array([13.82,  6.12])
    """
    t = np.asarray(temperature, float) + ZERO_CELSIUS
    return np.asarray(np.asarray(pressure, float) / (GAS_CONSTANT * t))
