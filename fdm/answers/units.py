"""The units in which times, energies and water are shown; everything else is shown in its SI unit."""

import numpy as np
from numpy.typing import NDArray

TIMES = (("s", 1.0), ("min", 60.0), ("h", 3600.0), ("days", 86400.0))
KWH = 3.6e6  # J
GRAM = 1e-3  # kg
SUPPLY_UNITS = {"voltage": "V", "current": "A"}  # of what a supply holds constant


def time_unit(seconds: float) -> tuple[str, float]:
    """The largest unit of which a time has at least two, and the seconds of that unit.

    >>> time_unit(5400), time_unit(7200)
    (('min', 60.0), ('h', 3600.0))
    """
    return [u for u in TIMES if seconds >= 2 * u[1] or u is TIMES[0]][-1]


def duration(seconds: float | None) -> str:
    """In words, to three digits; None is never.

    >>> duration(76502), duration(1772), duration(None)
    ('21.3 h', '29.5 min', 'never')
    """
    if seconds is None:
        return "never"
    unit, length = time_unit(seconds)
    return f"{seconds / length:.3g} {unit}"


def shown_unit(unit: str, values: float | NDArray[np.float64]) -> tuple[str, float]:
    """The one unit in which values of a given unit are shown, and its size; for times, that of the longest.

    >>> shown_unit("s", np.array([600.0, 90000.0, np.nan])), shown_unit("J", 4e6), shown_unit("W", 3.0)
    (('h', 3600.0), ('kWh', 3600000.0), ('W', 1.0))
    """
    if unit == "J":
        return "kWh", KWH
    if unit == "kg":
        return "g", GRAM
    finite = np.abs(np.atleast_1d(values))[np.isfinite(np.atleast_1d(values))]
    return time_unit(float(finite.max())) if unit == "s" and finite.size else (unit, 1.0)
