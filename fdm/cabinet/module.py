"""The thermoelectric module: heat pumped, heat rejected, and the current its supply drives.

With Seebeck coefficient a, resistance R and conductance K of the whole module, Tc and Th in kelvin, dT = Th - Tc:

    Qc = a I Tc - I^2 R / 2 - K dT    absorbed at the cold face, W
    Qh = a I Th + I^2 R / 2 - K dT    rejected at the hot face, W
    P  = Qh - Qc = a I dT + I^2 R,    V = a dT + I R

(the standard lumped model, as in S. Lineykin and S. Ben-Yaakov, IEEE Trans. Ind. Appl. 43(2), 2007, 505-512; from
memory). a, R and K may change linearly with the mean of the two face temperatures; taking a at the mean counts the
Thomson heat, half to each face, to first order in I and in dT.

Temperatures are degC. `current` is that through one module, A, positive where it cools the cold face. Numbers and
arrays broadcast against each other.

>>> module = module_from_datasheet(greatest_difference=68, greatest_current=6, greatest_voltage=15.4, hot_side=27)
>>> print(f"{module.seebeck:.5f} V/K, {module.resistance:.4f} ohm, {module.conductance:.4f} W/K")
0.05131 V/K, 1.9852 ohm, 0.5255 W/K
>>> absorbed, rejected = heat_balances(module, current=3, cold=5, hot=[25, 35])
>>> absorbed.round(2), rejected.round(2)
(array([23.37, 18.12]), array([44.32, 40.6 ]))
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.errors import InputError

Array = NDArray[np.float64]

ZERO_CELSIUS = 273.15  # K
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
            _positive(f"module, {key}", getattr(self, key))
        _temperature("module, reference_mean", self.reference_mean)
        for key in ("seebeck_slope", "resistance_slope", "conductance_slope"):
            slope = getattr(self, key)
            if not abs(slope) < STEEPEST:
                raise InputError(
                    f"module, {key}: {slope!r} is not a relative change per kelvin between -{STEEPEST} and {STEEPEST}; "
                    "for 0.4 % a kelvin give 0.004"
                )


def module_from_datasheet(
    *,
    greatest_difference: float | None,
    greatest_current: float | None,
    hot_side: float,
    greatest_voltage: float | None = None,
    greatest_heat: float | None = None,
    seebeck_slope: float = 0.0,
    resistance_slope: float = 0.0,
    conductance_slope: float = 0.0,
) -> ThermoelectricModule:
    """The module behind a datasheet's ratings (K, A, V, W), all stated at the hot face temperature `hot_side` (degC).

    At `greatest_current` I the module reaches its greatest difference D with no load, at `greatest_voltage` V; with
    no difference it absorbs `greatest_heat` Q. With Th in kelvin and Tc = Th - D

        a = V / Th,  R = a Tc / I,  K = a I Tc / (2 D)        or, without V,  a = 2 Q / (I (Th + D))

    (S. Lineykin and S. Ben-Yaakov, IEEE Trans. Ind. Appl. 43(2), 2007, 505-512; formulas from memory, derived anew).
    Three ratings suffice, so greatest_voltage or greatest_heat may be left out. If all four are given they disagree:
    greatest_voltage is used, and the module then absorbs more than the stated greatest_heat with no difference, by
    10 to 16 % for two common 127-couple modules. Without greatest_voltage the heat is met, and the voltage falls
    short by as much. `heat_check` tells how far apart the ratings are.

    I, D and V belong to the mean temperature Th - D / 2, which becomes the module's `reference_mean`; they are met
    exactly with slopes too, as the best current at given temperatures is a Tc / R for any slope.

    Raises InputError where a needed rating is missing, not above 0, or where D is not below Th.

    >>> module_from_datasheet(greatest_difference=68, greatest_current=6, greatest_heat=50, hot_side=27).reference_mean
    -7.0
    """
    if greatest_difference is None or greatest_current is None:
        missing = "greatest_difference" if greatest_difference is None else "greatest_current"
        raise InputError(
            f"module, {missing}: missing; give greatest_difference, greatest_current "
            "and one of greatest_voltage and greatest_heat"
        )
    if greatest_voltage is None and greatest_heat is None:
        raise InputError("module: greatest_voltage and greatest_heat are both missing; give at least one of them")
    _temperature("module, hot_side", hot_side)
    _positive("module, greatest_difference", greatest_difference)
    _positive("module, greatest_current", greatest_current)
    hot = hot_side + ZERO_CELSIUS
    cold = hot - greatest_difference
    if cold <= 0:
        raise InputError(
            f"module, greatest_difference: {greatest_difference:g} K below a hot side of {hot_side:g} degC is no "
            f"temperature and would make resistance and conductance negative; give less than {hot:g} K "
            "(one stage reaches about 70 K)"
        )
    if greatest_heat is not None:
        _positive("module, greatest_heat", greatest_heat)
    if greatest_voltage is not None:
        _positive("module, greatest_voltage", greatest_voltage)
        seebeck = greatest_voltage / hot
    else:
        assert greatest_heat is not None
        warmer = greatest_difference / 2  # greatest_heat is stated at a mean temperature this far above the reference
        joule = cold / 2 * (1 + resistance_slope * warmer)
        seebeck = greatest_heat / greatest_current / (hot * (1 + seebeck_slope * warmer) - joule)
    return ThermoelectricModule(
        seebeck=seebeck,
        resistance=seebeck * cold / greatest_current,
        conductance=seebeck * greatest_current * cold / (2 * greatest_difference),
        reference_mean=hot_side - greatest_difference / 2,
        seebeck_slope=seebeck_slope,
        resistance_slope=resistance_slope,
        conductance_slope=conductance_slope,
    )


@dataclass(frozen=True)
class HeatCheck:
    """Heat (W) absorbed at greatest current with no temperature difference: by the model, and as stated."""

    predicted: float
    stated: float

    @property
    def excess(self) -> float:
        """How far the model is above the datasheet, relative to the datasheet."""
        return self.predicted / self.stated - 1


def heat_check(
    module: ThermoelectricModule, *, greatest_heat: float, greatest_current: float, hot_side: float
) -> HeatCheck:
    """The module's greatest heat against the stated one, W, A and degC; see `module_from_datasheet`.

    >>> ratings = dict(greatest_current=3.9, hot_side=27)
    >>> module = module_from_datasheet(greatest_difference=70, greatest_voltage=15.5, **ratings)
    >>> check = heat_check(module, greatest_heat=32, **ratings)
    >>> print(f"{check.predicted:.1f} W instead of {check.stated:.1f} W: {check.excess:+.0%}")
    37.3 W instead of 32.0 W: +16%

    Raises InputError where greatest_heat or greatest_current is not above 0.
    """
    _positive("module, greatest_heat", greatest_heat)
    _positive("module, greatest_current", greatest_current)
    absorbed, _ = heat_balances(module, greatest_current, hot_side, hot_side)
    return HeatCheck(predicted=float(absorbed), stated=greatest_heat)


def properties(module: ThermoelectricModule, cold: ArrayLike, hot: ArrayLike) -> tuple[Array, Array, Array]:
    """Seebeck coefficient V/K, resistance ohm and conductance W/K at the mean of the face temperatures."""
    away = (np.asarray(cold, float) + np.asarray(hot, float)) / 2 - module.reference_mean
    return (
        module.seebeck * (1 + module.seebeck_slope * away),
        module.resistance * (1 + module.resistance_slope * away),
        module.conductance * (1 + module.conductance_slope * away),
    )


def figure_of_merit(module: ThermoelectricModule, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Z = a^2 / (R K), 1/K."""
    a, r, k = properties(module, cold, hot)
    return a**2 / (r * k)


def heat_balances(
    module: ThermoelectricModule, current: ArrayLike, cold: ArrayLike, hot: ArrayLike
) -> tuple[Array, Array]:
    """Heat absorbed at the cold face and heat rejected at the hot face of one module, W."""
    i, tc, th = _kelvin(current, cold, hot)
    a, r, k = properties(module, cold, hot)
    leak = k * (th - tc)
    return a * i * tc - i**2 * r / 2 - leak, a * i * th + i**2 * r / 2 - leak


def voltage(module: ThermoelectricModule, current: ArrayLike, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Voltage across one module, V."""
    i, tc, th = _kelvin(current, cold, hot)
    a, r, _ = properties(module, cold, hot)
    return a * (th - tc) + i * r


def power(module: ThermoelectricModule, current: ArrayLike, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Electric power into one module, W; negative where it generates."""
    return np.asarray(current, float) * voltage(module, current, cold, hot)


def cop(module: ThermoelectricModule, current: ArrayLike, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Coefficient of performance: heat absorbed over electric power; infinite at no power, NaN where it generates."""
    absorbed, _ = heat_balances(module, current, cold, hot)
    spent = power(module, current, cold, hot)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(spent < 0, np.nan, absorbed / np.abs(spent))  # abs: a power of -0.0 is no power


def heat_derivatives(
    module: ThermoelectricModule,
    current: ArrayLike,
    cold: ArrayLike,
    hot: ArrayLike,
    current_by_cold: ArrayLike = 0.0,
    current_by_hot: ArrayLike = 0.0,
) -> Array:
    """Derivatives (..., 2, 2) of the heat balances, W/K: rows Qc and Qh, columns Tc and Th.

    At constant current as it stands; with the derivatives of the current (A/K) from `current_derivatives`, for
    whatever supply they belong to.

    >>> module = ThermoelectricModule(0.05, 2.0, 0.5, reference_mean=20)
    >>> heat_derivatives(module, current=4, cold=5, hot=35)
    array([[ 0.7, -0.5],
           [ 0.5, -0.3]])
    """
    i, tc, th = _kelvin(current, cold, hot)
    a, _, k = properties(module, cold, hot)
    # a property changes by half its slope with either face temperature, which adds the same to both columns
    a_slope = module.seebeck * module.seebeck_slope / 2
    joule_slope = i**2 / 2 * module.resistance * module.resistance_slope / 2
    leak_slope = (th - tc) * module.conductance * module.conductance_slope / 2
    qc_both = a_slope * i * tc - joule_slope - leak_slope
    qh_both = a_slope * i * th + joule_slope - leak_slope
    qc_current, qh_current = heat_derivatives_by_current(module, current, cold, hot)
    by_cold, by_hot = np.asarray(current_by_cold, float), np.asarray(current_by_hot, float)
    entries = np.broadcast_arrays(
        qc_both + a * i + k + qc_current * by_cold,
        qc_both - k + qc_current * by_hot,
        qh_both + k + qh_current * by_cold,
        qh_both + a * i - k + qh_current * by_hot,
    )
    return np.stack(entries, -1).reshape(*entries[0].shape, 2, 2)


def heat_derivatives_by_current(
    module: ThermoelectricModule, current: ArrayLike, cold: ArrayLike, hot: ArrayLike
) -> tuple[Array, Array]:
    """Derivatives of Qc and Qh with respect to the current at constant temperatures, W/A."""
    i, tc, th = _kelvin(current, cold, hot)
    a, r, _ = properties(module, cold, hot)
    return a * tc - i * r, a * th + i * r


def greatest_heat_current(module: ThermoelectricModule, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Current that absorbs the most heat at these face temperatures, A.

    a Tc / R, from dQc/dI = 0 (any textbook on thermoelectrics, e.g. A.F. Ioffe, Semiconductor Thermoelements, 1957;
    from memory). Exact with slopes too: the properties depend on temperatures only.
    """
    _, tc, _ = _kelvin(0.0, cold, hot)
    a, r, _ = properties(module, cold, hot)
    return a * tc / r


def greatest_cop_current(module: ThermoelectricModule, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Current of the best coefficient of performance at these face temperatures, A; 0 where the hot face is no warmer.

    a dT / (R (M - 1)) with M = sqrt(1 + Z (Tc + Th) / 2) (Ioffe 1957, from memory). Exact with slopes too.
    """
    _, tc, th = _kelvin(0.0, cold, hot)
    a, r, _ = properties(module, cold, hot)
    m = np.sqrt(1 + figure_of_merit(module, cold, hot) * (tc + th) / 2)
    return np.where(th > tc, a * (th - tc) / (r * (m - 1)), 0.0)


def greatest_cop(module: ThermoelectricModule, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Best coefficient of performance at these face temperatures; infinite where the hot face is no warmer.

    (Tc / dT) (M - Th / Tc) / (M + 1) with M as in `greatest_cop_current` (Ioffe 1957, from memory). Negative where
    the difference is beyond the module's reach.
    """
    _, tc, th = _kelvin(0.0, cold, hot)
    m = np.sqrt(1 + figure_of_merit(module, cold, hot) * (tc + th) / 2)
    with np.errstate(divide="ignore"):
        return np.where(th > tc, (m * tc - th) / (np.abs(th - tc) * (m + 1)), np.inf)


def current_for_voltage(
    module: ThermoelectricModule,
    voltage: ArrayLike,
    cold: ArrayLike,
    hot: ArrayLike,
    lead_resistance: float = 0.0,
    series: int = 1,
    parallel: int = 1,
) -> Array:
    """Current through each module, A, where `parallel` strings of `series` modules share a voltage and its leads.

    V = series (a dT + I R) + parallel I R_lead (Kirchhoff), solved for I. Negative where the modules' own voltage
    exceeds the supply's: the supply is taken to let current flow back.
    """
    _, tc, th = _kelvin(0.0, cold, hot)
    a, r, _ = properties(module, cold, hot)
    return (np.asarray(voltage, float) - series * a * (th - tc)) / (series * r + parallel * lead_resistance)


@dataclass(frozen=True)
class Supply:
    """What drives the modules: a constant `voltage` (V) or a constant `current` (A, shared by all strings).

    It feeds `parallel` strings of `series` modules each through leads of `lead_resistance` (ohm, there and back, in
    the common path). `idle` more modules sit between the same faces with no current (open circuit): they only leak.
    All modules are alike and see the same two face temperatures.

    Raises InputError unless exactly one of voltage and current is given, both of 0 or more, and the counts are whole.

    >>> supply = Supply(voltage=12, series=1, parallel=4)
    >>> supply.half_off()
    Supply(voltage=12, current=None, lead_resistance=0.0, series=1, parallel=2, idle=2)
    """

    voltage: float | None = None
    current: float | None = None
    lead_resistance: float = 0.0
    series: int = 1
    parallel: int = 1
    idle: int = 0

    def __post_init__(self) -> None:
        if (self.voltage is None) == (self.current is None):
            raise InputError("supply: give exactly one of voltage and current")
        for key in ("voltage", "current", "lead_resistance"):
            if getattr(self, key) is not None:
                _positive(f"supply, {key}", getattr(self, key), zero=True)
        for key, least in (("series", 1), ("parallel", 1), ("idle", 0)):
            count = getattr(self, key)
            if not (math.isfinite(count) and count == int(count) and count >= least):
                raise InputError(f"supply, {key}: {count!r} is not a whole number of {least} or more")

    @property
    def driven(self) -> int:
        """Modules that carry current."""
        return self.series * self.parallel

    @property
    def modules(self) -> int:
        """All modules: driven and idle."""
        return self.driven + self.idle

    def half_off(self) -> "Supply":
        """The same with half of the strings disconnected; a constant current then crowds into the other half.

        Raises InputError where `parallel` is odd.
        """
        if self.parallel % 2:
            raise InputError(
                f"supply, parallel: {self.parallel} cannot be halved; give an even number of strings, or let the "
                "thermostat switch all of them"
            )
        return replace(self, parallel=self.parallel // 2, idle=self.idle + self.driven // 2)


def module_current(module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Current through each driven module, A."""
    if supply.voltage is not None:
        return current_for_voltage(
            module, supply.voltage, cold, hot, supply.lead_resistance, supply.series, supply.parallel
        )
    assert supply.current is not None
    shape = np.broadcast_shapes(np.shape(cold), np.shape(hot))
    return np.full(shape, supply.current / supply.parallel)


def current_derivatives(
    module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike
) -> tuple[Array, Array]:
    """Derivatives of `module_current` with respect to cold and hot face temperature, A/K; 0 at constant current."""
    i, tc, th = _kelvin(module_current(module, supply, cold, hot), cold, hot)
    if supply.voltage is None:
        return np.zeros_like(i), np.zeros_like(i)
    a, r, _ = properties(module, cold, hot)
    per_volt = supply.series / (supply.series * r + supply.parallel * supply.lead_resistance)
    voltage_slope = (
        module.seebeck * module.seebeck_slope * (th - tc) + i * module.resistance * module.resistance_slope
    ) / 2
    return per_volt * (a - voltage_slope), per_volt * (-a - voltage_slope)


def bank_heat_balances(
    module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike
) -> tuple[Array, Array]:
    """Heat absorbed at the cold and rejected at the hot face by all modules together, idle ones included, W."""
    on = heat_balances(module, module_current(module, supply, cold, hot), cold, hot)
    off = heat_balances(module, 0.0, cold, hot)
    return supply.driven * on[0] + supply.idle * off[0], supply.driven * on[1] + supply.idle * off[1]


def bank_heat_derivatives(module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Derivatives (..., 2, 2) of `bank_heat_balances`, W/K: rows Qc and Qh, columns Tc and Th."""
    current = module_current(module, supply, cold, hot)
    on = heat_derivatives(module, current, cold, hot, *current_derivatives(module, supply, cold, hot))
    return supply.driven * on + supply.idle * heat_derivatives(module, 0.0, cold, hot)


def lead_loss(module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Heat given off by the leads, W; it reaches neither face."""
    return (supply.parallel * module_current(module, supply, cold, hot)) ** 2 * supply.lead_resistance


def supply_power(module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Electric power that the supply gives, W: into the modules and lost in the leads."""
    current = module_current(module, supply, cold, hot)
    return supply.driven * power(module, current, cold, hot) + lead_loss(module, supply, cold, hot)


def _kelvin(current: ArrayLike, cold: ArrayLike, hot: ArrayLike) -> tuple[Array, Array, Array]:
    return np.asarray(current, float), np.asarray(cold, float) + ZERO_CELSIUS, np.asarray(hot, float) + ZERO_CELSIUS


def _positive(where: str, value: float, zero: bool = False) -> None:
    if not (math.isfinite(value) and (value > 0 or (zero and value == 0))):
        raise InputError(f"{where}: {value!r} is not a number {'of 0 or more' if zero else 'above 0'}")


def _temperature(where: str, value: float) -> None:
    if not (math.isfinite(value) and value > -ZERO_CELSIUS):
        raise InputError(f"{where}: {value!r} is not a temperature in degC above {-ZERO_CELSIUS}")
