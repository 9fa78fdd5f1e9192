"""Checks of single figures that the cabinet's dataclasses share. `where` is the figure's place in the file."""

import math
from collections.abc import Iterable

from fdm.errors import InputError, nearest

ZERO_CELSIUS = 273.15  # K


def require_positive(where: str, value: float) -> None:
    """Raise InputError unless the value is a finite number above 0."""
    if not (math.isfinite(value) and value > 0):
        raise InputError(f"{where}: {value!r} is not a number above 0")


def require_not_negative(where: str, value: float) -> None:
    """Raise InputError unless the value is a finite number of 0 or more."""
    if not (math.isfinite(value) and value >= 0):
        raise InputError(f"{where}: {value!r} is not a number of 0 or more")


def require_temperature(where: str, value: float) -> None:
    """Raise InputError unless the value is a temperature in degC above absolute zero."""
    if not (math.isfinite(value) and value > -ZERO_CELSIUS):
        raise InputError(f"{where}: {value!r} is not a temperature in degC above {-ZERO_CELSIUS}")


def require_count(where: str, count: float, least: int = 1) -> None:
    """Raise InputError unless the count is a whole number of `least` or more."""
    if not (math.isfinite(count) and count == int(count) and count >= least):
        raise InputError(f"{where}: {count!r} is not a whole number of {least} or more")


def require_known(where: str, name: str, known: Iterable[str], what: str) -> None:
    """Raise InputError, with the nearest name, unless `known` has the name of a `what`."""
    known = list(known)
    if name not in known:
        raise InputError(f"{where}: there is no {what} named {name!r}; {nearest(name, known)}")
