"""Moist air: saturation over water and over ice, dew and frost points, how much vapour air holds, and how much settles.

Air can hold vapour up to a *saturation pressure* that rises by some 7 % with each kelvin. Its *relative humidity* is
its vapour pressure over that of saturation above water, at its own temperature. Water settles on a surface that is
colder than the air's *dew point*, at which its vapour would be saturated. Below 0 degC it settles as ice, over which
saturation is lower: from the *frost point* on, about a tenth nearer to 0 degC than the dew point.

Saturation after D. Sonntag, Z. Meteorol. 40 (1990) 340 (over water from memory, over ice as later works cite it):
within 0.07 % of the ASHRAE formulas between -40 and 100 degC, which is a hundredth of a kelvin. Vapour is an ideal gas.

Vapour reaches a cold surface through the same boundary layer as heat does, so its flow follows from the convective film
(the analogy of Chilton and Colburn, from memory): good to some 15 %, as drops and edges go.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.surroundings.air import GAS_CONSTANT as DRY_GAS_CONSTANT
from fdm.surroundings.air import SEA_LEVEL, ZERO_CELSIUS, air_at

Array = NDArray[np.float64]

# ln(Pa) = a / T + b + c T + d T^2 + f ln T, with T in K
WATER = (-6096.9385, 21.2409642, -2.711193e-2, 1.673952e-5, 2.433502)
ICE = (-6024.5282, 29.32707, 1.0613868e-2, -1.3198825e-5, -0.49382577)
COLDEST, WARMEST = -80.0, 100.0  # degC, of air whose humidity is given, and of its dew point
CLIPPED = -150.0, 200.0  # degC: surfaces beyond are taken to be there
FREEZES = 0.01  # degC, of the triple point, where both saturation pressures are the same
GAS_CONSTANT = 461.52  # J/(kg K), of vapour
VAPOUR_TO_AIR = 0.621945  # molar masses
VAPOUR_HEAT = 1860.0  # J/(kg K)
NEARLY_BOILS = 0.99  # of the air's pressure, the most that vapour can have
SUBLIMATION = 2.834e6  # J/kg, of frost
FREEZING = 0.1  # K on both sides of 0 degC within which a part of the water freezes, so that nothing jumps
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
    t = np.asarray(temperature, float)
    freezes, out = t < FREEZES, np.empty(t.shape)
    out[freezes], out[~freezes] = saturation_over_ice(t[freezes]), saturation_over_water(t[~freezes])
    return out


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


def humidity_ratio(pressure: ArrayLike) -> Array:
    """kg of vapour for each kg of dry air at sea level, from the vapour's pressure (Pa), which is less than the air's.

    >>> (1e3 * humidity_ratio(vapour_pressure([25, 5], [60, 90]))).round(2)
    array([11.9 ,  4.86])
    """
    e = np.minimum(np.asarray(pressure, float), NEARLY_BOILS * SEA_LEVEL)
    return np.asarray(VAPOUR_TO_AIR * e / (SEA_LEVEL - e))


def pressure_of_ratio(ratio: ArrayLike) -> Array:
    """Pa of vapour, from kg for each kg of dry air: the inverse of `humidity_ratio`."""
    w = np.asarray(ratio, float)
    return SEA_LEVEL * w / (VAPOUR_TO_AIR + w)


def dry_density(temperature: ArrayLike, pressure: ArrayLike) -> Array:
    """kg/m3 of dry air in moist air at degC, whose vapour has a pressure (Pa)."""
    t = np.asarray(temperature, float) + ZERO_CELSIUS
    return np.asarray(np.maximum(SEA_LEVEL - np.asarray(pressure, float), 0.0) / (DRY_GAS_CONSTANT * t))


def lewis_number(temperature: ArrayLike) -> Array:
    """Diffusivity of heat over that of vapour, in air at degC. The latter after Pruppacher and Klett, from memory;
    Schirmer's, also in use, makes 4 % more water settle.

    >>> lewis_number([0, 15, 30]).round(3)
    array([0.888, 0.884, 0.879])
    """
    t = np.asarray(temperature, float)
    of_vapour = 2.11e-5 * ((t + ZERO_CELSIUS) / ZERO_CELSIUS) ** 1.94
    return np.asarray(air_at(t).diffusivity / of_vapour)


def settling_ratio(surface: ArrayLike) -> Array:
    """kg of vapour for each kg of dry air, above which it settles on a surface at degC."""
    return humidity_ratio(saturation_on_surface(surface))


@dataclass(frozen=True)
class Boundary:
    """The boundary layer between air and surfaces, as vapour passes it.

    >>> cold = Boundary.between(np.array([10.0, 5.0]), np.array([25.0, 20.0]), np.array([5.0, -5.0]))
    >>> air = humidity_ratio(vapour_pressure([25, 20], [60, 50]))
    >>> (3.6e6 * cold.settling(air)).round(0)  # g/h from a square metre
    array([248.,  92.])
    """

    saturated: Array  # kg of vapour for each kg of dry air at the surface
    conductance: Array  # W/K, over Le^(2/3)
    heat: Array  # J/(kg K) of air as moist as at the surface, by half

    @classmethod
    def between(cls, conductance: Array, air: ArrayLike, surface: Array) -> "Boundary":
        """Of air and surfaces at degC. `conductance` is convective film times area (W/K): radiation carries no
        vapour."""
        mean, saturated = (np.asarray(air, float) + surface) / 2, settling_ratio(surface)
        heat = air_at(mean).specific_heat + VAPOUR_HEAT * saturated / 2
        return cls(saturated, conductance / lewis_number(mean) ** (2 / 3), heat)

    def settling(self, ratio: ArrayLike) -> Array:
        """kg/s of water that settle from air with `ratio` kg of vapour for each kg of dry air; below 0: they dry."""
        w = np.asarray(ratio, float)
        return np.asarray(self.conductance * (w - self.saturated) / (self.heat + VAPOUR_HEAT * w / 2))


def frozen_share(surface: ArrayLike) -> Array:
    """Of water that settles on a surface at degC: 1 below 0 degC, 0 above."""
    return np.asarray(np.clip((FREEZES + FREEZING - np.asarray(surface, float)) / (2 * FREEZING), 0, 1))


def latent_heat(surface: ArrayLike) -> Array:
    """J/kg that settling water gives off on a surface at degC, by condensing or by freezing.

    >>> latent_heat([-5, 5]).round(-3)
    array([2834000., 2489000.])
    """
    share = frozen_share(surface)
    return share * SUBLIMATION + (1 - share) * evaporation_heat(surface)


def evaporation_heat(temperature: ArrayLike) -> Array:
    """J/kg that water takes up where it evaporates at degC."""
    return np.asarray(2.501e6 - 2.36e3 * np.asarray(temperature, float))
