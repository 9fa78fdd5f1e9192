"""What every question about a film is answered with, and what it is asked at."""

import math
from dataclasses import dataclass
from typing import Any

from fdm.errors import InputError, require_types

FACE = "the face"  # what a film is of, where it is that of a bare face
COLDEST, HOTTEST = -200.0, 1000.0  # degC; no air that this knows of
LOWEST, HIGHEST = -500.0, 9000.0  # m


@dataclass(frozen=True)
class Number:
    """A number in between: its key in JSON, what it is, its value and unit."""

    key: str
    words: str
    value: float
    unit: str = ""


@dataclass(frozen=True)
class Film:
    """A film coefficient (W/(m2 K)) with its relative standard `uncertainty`, as far as the relation goes.

    `of` says which area it belongs to, `relation` where it is from, `numbers` what lies in between, and `notes` what is
    outside of a relation's range or was taken for granted. `convective` and `radiative` are its two parts, both for the
    faces that the air touches, also where the film itself stands for fins. `surface` is the temperature of the surface
    (degC) that it was taken for, where it depends on one.
    """

    film: float
    uncertainty: float
    convective: float
    radiative: float
    of: str
    relation: str
    numbers: tuple[Number, ...] = ()
    notes: tuple[str, ...] = ()
    surface: float | None = None

    def number(self, key: str, otherwise: float = math.nan) -> float:
        """A number in between by its key."""
        return next((n.value for n in self.numbers if n.key == key), otherwise)


@dataclass(frozen=True)
class Conditions:
    """What a film is asked at: the air's `temperature` and that of the `surface` (degC, None where it is not known),
    the altitude (m), and the surface's `emissivity` (None: no radiation is counted)."""

    temperature: float
    surface: float | None = None
    emissivity: float | None = None
    altitude: float = 0.0

    def __post_init__(self) -> None:
        require_types(self)
        for key, value in (("temperature", self.temperature), ("surface", self.surface)):
            if value is not None and not COLDEST <= value <= HOTTEST:
                raise InputError(f"{key}: {value:g} is not a temperature from {COLDEST:g} to {HOTTEST:g} degC")
        if self.emissivity is not None and not 0 < self.emissivity <= 1:
            raise InputError(f"emissivity: {self.emissivity:g} is not above 0 and at most 1; give it, or leave it out")
        require_altitude(self.altitude)
        if self.surface is None and self.emissivity is not None:
            raise InputError(
                "emissivity: radiation depends on the temperature of the surface; give surface (degC) or warmer (K)"
            )

    @property
    def mean(self) -> float:
        """The mean temperature of surface and air, or the air's, degC."""
        return self.temperature if self.surface is None else (self.temperature + self.surface) / 2

    def needed_surface(self, why: str) -> float:
        """The surface's temperature. Raises InputError where it is not known, or is the air's own."""
        if self.surface is None:
            raise InputError(f"surface: missing; {why} depends on it: give surface (degC) or warmer (K)")
        if self.surface == self.temperature:
            raise InputError(f"surface: it is as warm as the air, which then does not move; {why} needs a difference")
        return self.surface


def film_dict(found: Film) -> dict[str, Any]:
    """The film, with all that is told of it, as plain data."""
    return {
        "film": found.film,
        "uncertainty": found.uncertainty,
        "convective": found.convective,
        "radiative": found.radiative,
        "of": found.of,
        "relation": found.relation,
        "numbers": {n.key: {"value": n.value, "unit": n.unit, "words": n.words} for n in found.numbers},
        "notes": list(found.notes),
    }


def outside(what: str, value: float, low: float, high: float, done: str) -> tuple[str, ...]:
    """A note that a number is outside of a range, and what was done; none where it is inside.

    >>> outside("Re", 4e7, 10, 1e7, "the relation was used all the same")
    ('Re 4e+07 is outside of 10 to 1e+07: the relation was used all the same',)
    """
    if low <= value <= high:
        return ()
    return (f"{what} {value:.3g} is outside of {low:g} to {high:g}: {done}",)


def require_altitude(metres: float) -> None:
    """Raise InputError for an altitude at which no cabinet stands."""
    if not LOWEST <= metres <= HIGHEST:
        raise InputError(f"altitude: {metres:g} is not from {LOWEST:g} to {HIGHEST:g} m")


def require_positive(key: str, value: float | None, or_zero: bool = False) -> None:
    """Raise InputError, which begins with the key, unless the number is above 0 (or 0); None passes."""
    if value is not None and not (math.isfinite(value) and (value > 0 or (or_zero and value == 0))):
        raise InputError(f"{key}: {value:g} is not a number {'of 0 or more' if or_zero else 'above 0'}")


def combined(convective: float, uncertain: float, radiative: float = 0.0, radiation_uncertain: float = 0.0) -> float:
    """The relative uncertainty of a sum of both, each given with its own.

    >>> round(combined(6, 0.1, 2, 0.0), 6)
    0.075
    """
    whole = convective + radiative
    return math.hypot(convective * uncertain, radiative * radiation_uncertain) / whole if whole else 0.0


def doubled_outside(uncertainty: float, notes: tuple[str, ...]) -> float:
    """A relation's uncertainty, doubled where a number is outside of its range."""
    return 2 * uncertainty if notes else uncertainty


USED_ALL_THE_SAME = "the relation was used all the same, and its uncertainty doubled"
