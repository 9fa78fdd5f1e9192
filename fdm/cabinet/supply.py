"""What drives the modules: the current through each, and the heat and power of all of them together.

Temperatures are degC; numbers and arrays broadcast against each other, as in `fdm.cabinet.module`.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.cabinet.checks import require_count, require_not_negative
from fdm.cabinet.module import ThermoelectricModule, heat_balances, heat_derivatives, kelvin, power, properties
from fdm.errors import InputError

Array = NDArray[np.float64]


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
                require_not_negative(f"supply, {key}", getattr(self, key))
        for key, least in (("series", 1), ("parallel", 1), ("idle", 0)):
            require_count(f"supply, {key}", getattr(self, key), least)

    @property
    def quantity(self) -> str:
        """What is kept constant: "voltage" or "current"."""
        return "voltage" if self.voltage is not None else "current"

    @property
    def figure(self) -> float:
        """The constant voltage (V) or current (A)."""
        figure = self.voltage if self.voltage is not None else self.current
        assert figure is not None
        return figure

    def at(self, figure: float) -> "Supply":
        """The same with another voltage, or current where that is constant."""
        voltage, current = (figure, None) if self.voltage is not None else (None, figure)
        return replace(self, voltage=voltage, current=current)

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
    """Current through each driven module, A.

    At constant voltage V = series (a dT + I R) + parallel I R_lead (Kirchhoff), solved for I. It is negative where the
    modules' own voltage exceeds the supply's: the supply is taken to let current flow back.
    """
    if supply.voltage is None:
        assert supply.current is not None
        shape = np.broadcast_shapes(np.shape(cold), np.shape(hot))
        return np.full(shape, supply.current / supply.parallel)
    _, tc, th = kelvin(0.0, cold, hot)
    a, r, _ = properties(module, cold, hot)
    return (supply.voltage - supply.series * a * (th - tc)) / (
        supply.series * r + supply.parallel * supply.lead_resistance
    )


def current_derivatives(
    module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike
) -> tuple[Array, Array]:
    """Derivatives of `module_current` with respect to cold and hot face temperature, A/K; 0 at constant current."""
    i, tc, th = kelvin(module_current(module, supply, cold, hot), cold, hot)
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
    if not supply.idle:
        return supply.driven * on[0], supply.driven * on[1]
    off = heat_balances(module, 0.0, cold, hot)
    return supply.driven * on[0] + supply.idle * off[0], supply.driven * on[1] + supply.idle * off[1]


def bank_heat_derivatives(module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Derivatives (..., 2, 2) of `bank_heat_balances`, W/K: rows Qc and Qh, columns Tc and Th."""
    current = module_current(module, supply, cold, hot)
    on = heat_derivatives(module, current, cold, hot, *current_derivatives(module, supply, cold, hot))
    if not supply.idle:
        return supply.driven * on
    return supply.driven * on + supply.idle * heat_derivatives(module, 0.0, cold, hot)


def lead_loss(module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Heat given off by the leads, W; it reaches neither face."""
    return (supply.parallel * module_current(module, supply, cold, hot)) ** 2 * supply.lead_resistance


def supply_power(module: ThermoelectricModule, supply: Supply, cold: ArrayLike, hot: ArrayLike) -> Array:
    """Electric power that the supply gives, W: into the modules and lost in the leads."""
    current = module_current(module, supply, cold, hot)
    return supply.driven * power(module, current, cold, hot) + lead_loss(module, supply, cold, hot)
