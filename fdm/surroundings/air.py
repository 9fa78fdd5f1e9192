"""Properties of dry air by temperature and altitude.

Fitted to the equation of state and the transport properties of Lemmon et al. (2000) and Lemmon and Jacobsen (2004), as
an open program for fluid properties has them (the papers are cited from memory). The largest deviations of the fits
from it between -40 and 120 degC are named below. Outside of that range conductivity, viscosity and specific heat keep
their values at its ends; `notes` says so.

Humid air differs by less than 2 % up to 30 degC.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.surroundings.film import outside

Array = NDArray[np.float64]

ZERO_CELSIUS = 273.15  # K
GRAVITY = 9.80665  # m/s2
GAS_CONSTANT = 287.05  # J/(kg K), of dry air
SEA_LEVEL = 101325.0  # Pa
COLDEST, WARMEST = -40.0, 120.0  # degC, of the fits
THINNEST, DENSEST = 60e3, 110e3  # Pa


@dataclass(frozen=True)
class Air:
    """Air at a `temperature` (degC): `pressure` Pa, `density` kg/m3, `specific_heat` J/(kg K), `conductivity` W/(m K)
    and `viscosity` Pa s; numbers or arrays of one shape."""

    temperature: Array
    pressure: Array
    density: Array
    specific_heat: Array
    conductivity: Array
    viscosity: Array

    @property
    def kinematic_viscosity(self) -> Array:
        """m2/s"""
        return self.viscosity / self.density

    @property
    def diffusivity(self) -> Array:
        """Of heat, m2/s."""
        return self.conductivity / (self.density * self.specific_heat)

    @property
    def prandtl(self) -> Array:
        return self.viscosity * self.specific_heat / self.conductivity

    @property
    def expansion(self) -> Array:
        """1/K; that of an ideal gas, 0.3 % too small at room temperature."""
        return 1 / (self.temperature + ZERO_CELSIUS)


def pressure_at(altitude: ArrayLike) -> Array:
    """Of the standard atmosphere (ISO 2533, from memory), Pa; altitude in m, up to 11 km.

    >>> (pressure_at([1000, 2000, 3000]) / SEA_LEVEL).round(4)
    array([0.887 , 0.7846, 0.6919])
    """
    return np.asarray(SEA_LEVEL * (1 - 2.25577e-5 * np.asarray(altitude, float)) ** 5.25588)


def air_at(temperature: ArrayLike, altitude: ArrayLike = 0.0) -> Air:
    """Dry air at a temperature (degC) and an altitude (m).

    Within 0.13 % in density (an ideal gas), 0.003 % in specific heat, 0.044 % in conductivity, 0.057 % in viscosity.

    >>> air = air_at(20)
    >>> [float(f"{x:.5g}") for x in (air.density, air.specific_heat, air.conductivity, air.viscosity, air.prandtl)]
    [1.2041, 1006.1, 0.025871, 1.8203e-05, 0.70795]
    """
    theta = np.asarray(temperature, float)
    pressure = pressure_at(altitude)
    at = np.clip(theta, COLDEST, WARMEST)
    return Air(
        temperature=theta,
        pressure=pressure,
        density=pressure / (GAS_CONSTANT * (theta + ZERO_CELSIUS)),
        specific_heat=1005.67 + 0.0149 * at + 4.07e-4 * at**2,
        conductivity=(24.356 + 0.076502 * at - 3.8563e-5 * at**2) * 1e-3,
        viscosity=(17.215 + 0.050068 * at - 3.243e-5 * at**2) * 1e-6,
    )


def rayleigh(air: Air, difference: ArrayLike, length: ArrayLike) -> Array:
    """Ra = g beta |dT| L^3 / (nu a) of a difference (K) between a surface and the air, over a length (m).

    >>> float(rayleigh(air_at(40), 40, 0.1).round(-4))
    3060000.0
    """
    drive = GRAVITY * air.expansion * np.abs(difference) * np.asarray(length, float) ** 3
    return np.asarray(drive / (air.kinematic_viscosity * air.diffusivity))


def notes(air: Air) -> tuple[str, ...]:
    """What is outside of the fits' range, in words."""
    return (
        *outside("air temperature (degC)", float(air.temperature), COLDEST, WARMEST, "its properties are those there"),
        *outside("air pressure (kPa)", float(air.pressure) / 1e3, THINNEST / 1e3, DENSEST / 1e3, "the gas is ideal"),
    )
