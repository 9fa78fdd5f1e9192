"""From the ratings of a module's data sheet to the module's parameters.

>>> sheet = DataSheet(greatest_difference=68, greatest_current=6, greatest_voltage=15.4, hot_side=27)
>>> module = module_from_datasheet(sheet)
>>> print(f"{module.seebeck:.5f} V/K, {module.resistance:.4f} ohm, {module.conductance:.4f} W/K")
0.05131 V/K, 1.9852 ohm, 0.5255 W/K
"""

from dataclasses import dataclass

from fdm.cabinet.checks import ZERO_CELSIUS, require_positive, require_temperature
from fdm.cabinet.module import ThermoelectricModule, heat_balances
from fdm.errors import InputError


@dataclass(frozen=True)
class DataSheet:
    """A module's ratings, all stated at the hot face temperature `hot_side` (degC).

    At `greatest_current` (A) the module reaches its `greatest_difference` (K) with no load, at `greatest_voltage` (V);
    with no difference it absorbs `greatest_heat` (W). One of the last two may be left out.

    Raises InputError where both are left out, where a rating is not above 0, or where the difference is not below the
    hot side's absolute temperature.
    """

    greatest_difference: float
    greatest_current: float
    hot_side: float
    greatest_voltage: float | None = None
    greatest_heat: float | None = None

    def __post_init__(self) -> None:
        if self.greatest_voltage is None and self.greatest_heat is None:
            raise InputError("module: greatest_voltage and greatest_heat are both missing; give at least one of them")
        require_temperature("module, hot_side", self.hot_side)
        for key in ("greatest_difference", "greatest_current", "greatest_heat", "greatest_voltage"):
            if getattr(self, key) is not None:
                require_positive(f"module, {key}", getattr(self, key))
        if self.greatest_difference >= (hot := self.hot_side + ZERO_CELSIUS):
            raise InputError(
                f"module, greatest_difference: {self.greatest_difference:g} K below a hot side of {self.hot_side:g} "
                "degC is no temperature and would make resistance and conductance negative; "
                f"give less than {hot:g} K (one stage reaches about 70 K)"
            )


def module_from_datasheet(
    sheet: DataSheet, seebeck_slope: float = 0.0, resistance_slope: float = 0.0, conductance_slope: float = 0.0
) -> ThermoelectricModule:
    """The module behind a data sheet's ratings; the slopes (1/K), which no data sheet has, as `ThermoelectricModule`'s.

    With I, D, V and Q the greatest current, difference, voltage and heat, Th in kelvin and Tc = Th - D

        a = V / Th,  R = a Tc / I,  K = a I Tc / (2 D)        or, without V,  a = 2 Q / (I (Th + D))

    (S. Lineykin and S. Ben-Yaakov, IEEE Trans. Ind. Appl. 43(2), 2007, 505-512; formulas from memory, derived anew).
    Three ratings suffice. If all four are given they disagree: greatest_voltage is used, and the module then absorbs
    more than the stated greatest_heat with no difference, by 10 to 16 % for two common 127-couple modules. Without
    greatest_voltage the heat is met, and the voltage falls short by as much. `heat_check` tells how far apart the
    ratings are.

    I, D and V belong to the mean temperature Th - D / 2, which becomes the module's `reference_mean`; they are met
    exactly with slopes too, as the best current at given temperatures is a Tc / R for any slope.

    Raises InputError as `ThermoelectricModule`.

    >>> module_from_datasheet(DataSheet(68, 6, hot_side=27, greatest_heat=50)).reference_mean
    -7.0
    """
    difference, current = sheet.greatest_difference, sheet.greatest_current
    hot = sheet.hot_side + ZERO_CELSIUS
    cold = hot - difference
    if sheet.greatest_voltage is not None:
        seebeck = sheet.greatest_voltage / hot
    else:
        assert sheet.greatest_heat is not None
        warmer = difference / 2  # greatest_heat is stated at a mean temperature this far above the reference
        joule = cold / 2 * (1 + resistance_slope * warmer)
        seebeck = sheet.greatest_heat / current / (hot * (1 + seebeck_slope * warmer) - joule)
    return ThermoelectricModule(
        seebeck=seebeck,
        resistance=seebeck * cold / current,
        conductance=seebeck * current * cold / (2 * difference),
        reference_mean=sheet.hot_side - difference / 2,
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
        """How far the model is above the data sheet, relative to the data sheet."""
        return self.predicted / self.stated - 1


def heat_check(module: ThermoelectricModule, sheet: DataSheet) -> HeatCheck | None:
    """The module's greatest heat against the stated one; None where the sheet states none. See `module_from_datasheet`.

    >>> sheet = DataSheet(70, 3.9, hot_side=27, greatest_voltage=15.5, greatest_heat=32)
    >>> check = heat_check(module_from_datasheet(sheet), sheet)
    >>> print(f"{check.predicted:.1f} W instead of {check.stated:.1f} W: {check.excess:+.0%}")
    37.3 W instead of 32.0 W: +16%
    """
    if sheet.greatest_heat is None:
        return None
    absorbed, _ = heat_balances(module, sheet.greatest_current, sheet.hot_side, sheet.hot_side)
    return HeatCheck(predicted=float(absorbed), stated=sheet.greatest_heat)
