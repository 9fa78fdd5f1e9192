"""One thermoelectric module: the heat that it absorbs and rejects, and its voltage.

With Seebeck coefficient a, resistance R and conductance K of the whole module, Tc and Th in kelvin, dT = Th - Tc:

    Qc = a I Tc - I^2 R / 2 - K dT    absorbed at the cold face, W
    Qh = a I Th + I^2 R / 2 - K dT    rejected at the hot face, W
    P  = Qh - Qc = a I dT + I^2 R,    V = a dT + I R

(the standard lumped model, as in S. Lineykin and S. Ben-Yaakov, IEEE Trans. Ind. Appl. 43(2), 2007, 505-512; from
memory). a, R and K may change linearly with the mean of the two face temperatures; taking a at the mean counts the
Thomson heat, half to each face, to first order in I and in dT.

Temperatures are degC. `current` is that through one module, A, positive where it cools the cold face. Numbers and
arrays broadcast against each other.

>>> module = ThermoelectricModule(seebeck=0.0513077, resistance=1.985180, conductance=0.525489, reference_mean=-7)
>>> absorbed, rejected = heat_balances(module, current=3, cold=5, hot=[25, 35])
>>> absorbed.round(2), rejected.round(2)
(array([23.37, 18.12]), array([44.32, 40.6 ]))
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.cabinet.checks import ZERO_CELSIUS, require_positive, require_temperature
from fdm.errors import InputError

Array = NDArray[np.float64]

STEEPEST = 0.01  # 1/K; a linear property steeper than this turns negative within 100 K of its reference


@dataclass(frozen=True)
class ThermoelectricModule:
    """`seebeck` V/K, `resistance` ohm, `conductance` W/K of one module at the mean temperature `reference_mean` (degC).

    Each slope is the relative change per kelvin of the mean temperature (Tc + Th) / 2, e.g. 0.004 for +0.4 % a kelvin.
    Raises InputError where a figure is not above 0, or a slope is 0.01 or steeper.
    """

    seebeck: float
    resistance: float
    conductance: float
    reference_mean: float
    seebeck_slope: float = 0.0
    resistance_slope: float = 0.0
    conductance_slope: float = 0.0

    def __post_init__(self) -> None:
        for key in ("seebeck", "resistance", "conductance"):
            require_positive(f"module, {key}", getattr(self, key))
        require_temperature("module, reference_mean", self.reference_mean)
        for key in ("seebeck_slope", "resistance_slope", "conductance_slope"):
            slope = getattr(self, key)
            if not abs(slope) < STEEPEST:
                raise InputError(
                    f"module, {key}: {slope!r} is not a relative change per kelvin between -{STEEPEST} and {STEEPEST}; "
                    "for 0.4 % a kelvin give 0.004"
                )


def properties(module: ThermoelectricModule, cold: ArrayLike, hot: ArrayLike) -> tuple[Array, Array, Array]:
    """Seebeck coefficient V/K, resistance ohm and conductance W/K at the mean of the face temperatures."""
    away = (as_given(cold) + as_given(hot)) / 2 - module.reference_mean
    return (
        module.seebeck * (1 + module.seebeck_slope * away),
        module.resistance * (1 + module.resistance_slope * away),
        module.conductance * (1 + module.conductance_slope * away),
    )


@dataclass(frozen=True)
class GrossHeat:
    """What a module's heat absorbed is made of, W: the `peltier` heat, less what is `conducted` back from the hot face,
    less `half_joule`, the half of the Joule heat that reaches the cold face."""

    peltier: float
    conducted: float
    half_joule: float


def gross_heat(module: ThermoelectricModule, current: float, cold: float, hot: float) -> GrossHeat:
    """The terms of the heat absorbed by one module.

    >>> module = ThermoelectricModule(0.05, 2.0, 0.5, reference_mean=20)
    >>> gross_heat(module, current=4, cold=6.85, hot=36.85)
    GrossHeat(peltier=56.0, conducted=15.0, half_joule=16.0)
    """
    i, tc, th = kelvin(current, cold, hot)
    a, r, k = properties(module, cold, hot)
    terms = (a * i * tc, k * (th - tc), i * i * r / 2)
    return GrossHeat(*(round(float(x), 12) for x in terms))


def heat_balances(
    module: ThermoelectricModule, current: ArrayLike, cold: ArrayLike, hot: ArrayLike
) -> tuple[Array, Array]:
    """Heat absorbed at the cold face and heat rejected at the hot face of one module, W."""
    i, tc, th = kelvin(current, cold, hot)
    a, r, k = properties(module, cold, hot)
    leak = k * (th - tc)
    return a * i * tc - i * i * r / 2 - leak, a * i * th + i * i * r / 2 - leak


def voltage(module: ThermoelectricModule, current: ArrayLike, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Voltage across one module, V."""
    i, tc, th = kelvin(current, cold, hot)
    a, r, _ = properties(module, cold, hot)
    return a * (th - tc) + i * r


def power(module: ThermoelectricModule, current: ArrayLike, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Electric power into one module, W; negative where it generates."""
    return np.asarray(current, float) * voltage(module, current, cold, hot)


def heat_derivatives(
    module: ThermoelectricModule,
    current: ArrayLike,
    cold: ArrayLike,
    hot: ArrayLike,
    current_by_cold: ArrayLike = 0.0,
    current_by_hot: ArrayLike = 0.0,
) -> Array:
    """Derivatives (..., 2, 2) of the heat balances, W/K: rows Qc and Qh, columns Tc and Th.

    Without `current_by_cold` and `current_by_hot` they are those at constant current; with the derivatives of the
    current (A/K), as `fdm.cabinet.supply.current_derivatives` gives them, those with that supply.

    >>> module = ThermoelectricModule(0.05, 2.0, 0.5, reference_mean=20)
    >>> heat_derivatives(module, current=4, cold=5, hot=35)
    array([[ 0.7, -0.5],
           [ 0.5, -0.3]])
    """
    i, tc, th = kelvin(current, cold, hot)
    a, _, k = properties(module, cold, hot)
    # a property changes by half its slope with either face temperature, which adds the same to both columns
    a_slope = module.seebeck * module.seebeck_slope / 2
    joule_slope = i * i / 2 * module.resistance * module.resistance_slope / 2
    leak_slope = (th - tc) * module.conductance * module.conductance_slope / 2
    qc_both = a_slope * i * tc - joule_slope - leak_slope
    qh_both = a_slope * i * th + joule_slope - leak_slope
    qc_current, qh_current = heat_derivatives_by_current(module, current, cold, hot)
    by_cold, by_hot = as_given(current_by_cold), as_given(current_by_hot)
    out = np.array(
        [
            [qc_both + a * i + k + qc_current * by_cold, qc_both - k + qc_current * by_hot],
            [qh_both + k + qh_current * by_cold, qh_both + a * i - k + qh_current * by_hot],
        ]
    )
    return np.moveaxis(out, (0, 1), (-2, -1)) if out.ndim > 2 else out


def heat_derivatives_by_current(
    module: ThermoelectricModule, current: ArrayLike, cold: ArrayLike, hot: ArrayLike
) -> tuple[Array, Array]:
    """Derivatives of Qc and Qh with respect to the current at constant temperatures, W/A."""
    i, tc, th = kelvin(current, cold, hot)
    a, r, _ = properties(module, cold, hot)
    return a * tc - i * r, a * th + i * r


def kelvin(current: ArrayLike, cold: ArrayLike, hot: ArrayLike) -> tuple[Array, Array, Array]:
    """The current (A) and both face temperatures in kelvin, as arrays."""
    return as_given(current), as_given(cold) + ZERO_CELSIUS, as_given(hot) + ZERO_CELSIUS


def as_given(x: ArrayLike) -> Array:
    """Numbers as an array; a single one as it is, with which Python counts several times as fast as with an array."""
    return x if isinstance(x, float) else np.asarray(x, float)
