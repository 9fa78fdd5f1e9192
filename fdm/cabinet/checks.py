"""Checks of single figures that the cabinet's dataclasses share. `where` is the figure's place in the file."""

import math
from collections.abc import Iterable

from fdm.errors import InputError, nearest
from fdm.section.pieces import MOST, require_positive

__all__ = [
    "ZERO_CELSIUS",
    "require_count",
    "require_known",
    "require_not_negative",
    "require_positive",
    "require_temperature",
]

ZERO_CELSIUS = 273.15  # K


def require_not_negative(where: str, value: float) -> None:
    """Raise InputError unless the value is 0, or above 0 and such as exists."""
    require_positive(where, value, or_zero=True)


def require_temperature(where: str, value: float) -> None:
    """Raise InputError unless the value is a temperature in degC above absolute zero."""
    if not -ZERO_CELSIUS < value <= MOST:
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
