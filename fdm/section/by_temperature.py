"""What of a part depends on its temperatures: a conductivity by temperature, and air in a closed gap.

A part has one conductivity all the same, `Material.conductivity`. In a section as read it is that of the curve's
`reference`, or `GUESS`; a solve puts in its place what belongs to the part's temperatures.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError, require_types

REFERENCE = 10.0  # degC, of declared conductivities of foams
GUESS = 0.05  # W/(m K), of a closed gap before its temperatures are known
EMISSIVITY = 0.9  # of all surfaces but bare metal
STEEPEST = 0.02  # 1/K: no solid's conductivity changes as much in a kelvin; a larger number is likely relative


@dataclass(frozen=True)
class Spans:
    """Temperatures of a part (degC): K spans, each from `middle` - `half` to `middle` + `half`, evenly, and their
    weights. All are arrays of one shape."""

    middle: NDArray[np.float64]
    half: NDArray[np.float64]
    weight: NDArray[np.float64]

    @property
    def mean(self) -> float:
        """degC, weighed."""
        return float((self.middle * self.weight).sum() / self.weight.sum())


@dataclass(frozen=True)
class Line:
    """A conductivity of `value` W/(m K) at `at` degC, and `per_kelvin` W/(m K2) more for each kelvin above."""

    value: float
    at: float
    per_kelvin: float

    def __post_init__(self) -> None:
        require_types(self)

    def __call__(self, temperature: float) -> float:
        """W/(m K). Raises InputError where nothing would be left of it.

        >>> round(Line(0.033, 10, 0.00015)(30), 6)
        0.036
        """
        k = self.value + self.per_kelvin * (temperature - self.at)
        if not k > 0:
            raise InputError(
                f"at {temperature:.4g} degC nothing is left of {self.value:g} W/(m K) at {self.at:g} degC with "
                f"{self.per_kelvin:g} a kelvin; per_kelvin is in W/(m K) and not a share, and at in degC; or give "
                "pairs of temperature and conductivity"
            )
        return k

    def over(self, spans: Spans) -> float:
        """The mean over all spans, W/(m K): that of their mean temperature."""
        return self(spans.mean)

    @property
    def reference(self) -> float:
        """At the temperature that it is given for."""
        return self.value


@dataclass(frozen=True)
class Pairs:
    """Conductivities (W/(m K)) at rising temperatures (degC): linear in between, and beyond them as at the nearest."""

    temperature: tuple[float, ...]
    conductivity: tuple[float, ...]

    def __post_init__(self) -> None:
        require_types(self)
        if len(self.temperature) < 2:
            raise InputError("needs two pairs at least, [[degC, W/(m K)], ..]")
        for low, high in zip(self.temperature, self.temperature[1:]):
            if not low < high:
                raise InputError(f"{high:g} degC comes after {low:g}; give the pairs by rising temperature")
        for k in self.conductivity:
            if not (math.isfinite(k) and k > 0):
                raise InputError(f"{k:g} is no conductivity above 0, W/(m K)")

    def __call__(self, temperature: float) -> float:
        """W/(m K).

        >>> known = Pairs((0, 20, 40), (0.030, 0.032, 0.036))
        >>> known(30), known(60)
        (0.034, 0.036)
        """
        return float(np.interp(temperature, self.temperature, self.conductivity))

    def over(self, spans: Spans) -> float:
        """The mean over all spans, W/(m K); exact, as all is straight between the pairs.

        >>> bend = Pairs((0, 10, 40), (0.02, 0.02, 0.05))  # 0.02 in a quarter of 0 to 40 degC, else 0.035 in the mean
        >>> round(bend.over(Spans(np.array([20.0]), np.array([20.0]), np.ones(1))), 6), round(bend(20), 6)
        (0.03125, 0.03)
        """
        half = abs(spans.half)
        low, high = spans.middle - half, spans.middle + half
        ends = (np.interp(at, self.temperature, self.conductivity) for at in (low, high))
        mean = sum(ends) / 2
        slopes = np.diff(self.conductivity) / np.diff(self.temperature)
        for t, bend in zip(self.temperature, np.diff(slopes, prepend=0.0, append=0.0)):
            across = np.maximum(high - t, 0) * np.maximum(t - low, 0)
            mean -= bend * np.divide(across, 4 * half, out=np.zeros_like(half), where=half > 0)
        return float((mean * spans.weight).sum() / spans.weight.sum())

    @property
    def reference(self) -> float:
        """At 10 degC, or at the temperature that is nearest."""
        return self(REFERENCE)


Curve = Line | Pairs


@dataclass(frozen=True)
class AirGap:
    """Closed air in place of a material, between faces of two emissivities.

    Heat crosses it `along` x or y; None: the way in which its temperature falls most. `thickness` (m) is how far it is
    from face to face; None: as far as it is drawn. What the relation gives is taken `times` as large.
    """

    emissivity: tuple[float, float] = (EMISSIVITY, EMISSIVITY)
    along: str | None = None
    thickness: float | None = None
    times: float = 1.0

    def __post_init__(self) -> None:
        require_types(self)
        for e in self.emissivity:
            if not 0 < e <= 1:
                raise InputError(f"emissivity: {e:g} is not above 0 and at most 1")
        if self.along not in (None, "x", "y"):
            raise InputError(f'along: {self.along!r} is no direction; give "x" or "y", the way from face to face')
        if self.thickness is not None and not (math.isfinite(self.thickness) and self.thickness > 0):
            raise InputError(f"thickness: {self.thickness:g} is not a length above 0")
