"""Plate fins on a base: their dimensions, and how much of their area counts, as they are cooler than the base.

Fin theory is that of any textbook; one dimension, which is 2 % high where h t / (2 k) is 0.1 and less below.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fdm.errors import InputError, checked, require_types
from fdm.surroundings.air import Array
from fdm.surroundings.film import require_positive

MOST_FINS = 10_000


@dataclass(frozen=True)
class FinArray:
    """Fins `thickness` thick, `height` high above their base, `gap` apart, `length` long along the flow (m); `count` of
    them, None where it is not known: then all is for one channel, with half a fin on either side. `base_width` is that
    of their base, None where it ends with them."""

    length: float
    height: float
    thickness: float
    gap: float
    count: int | None = None
    base_width: float | None = None
    resolved: bool = False

    def __post_init__(self) -> None:
        require_types(self)
        for key in ("length", "height", "thickness", "gap"):
            require_positive(key, getattr(self, key))
        if self.count is not None and not 2 <= self.count <= MOST_FINS:
            raise InputError(f"count: {self.count} is not a number of fins from 2 to {MOST_FINS}")

    @property
    def channels(self) -> int:
        return 1 if self.count is None else self.count - 1

    @property
    def width(self) -> float:
        """From the first fin to the last, m."""
        if self.count is None:
            return self.gap + self.thickness
        return self.channels * self.gap + self.count * self.thickness

    @property
    def open_share(self) -> float:
        """Share of the front, width x height, through which the air enters."""
        return self.channels * self.gap / self.width

    @property
    def flow_area(self) -> float:
        """m2"""
        return self.channels * self.gap * self.height

    @property
    def hydraulic_diameter(self) -> float:
        """m"""
        return 2 * self.gap * self.height / (self.gap + self.height)

    @property
    def aspect(self) -> float:
        """The channel's shorter side over its longer one."""
        return min(self.gap, self.height) / max(self.gap, self.height)

    @property
    def fin_area(self) -> float:
        """Both faces of the fins, without the two outermost faces and the tips, m2."""
        return 2 * self.channels * self.height * self.length

    @property
    def area(self) -> float:
        """The walls of all channels: `fin_area` and the base between, m2."""
        return self.fin_area + self.channels * self.gap * self.length

    @property
    def outer_area(self) -> float:
        """The two outermost faces and the tips, m2."""
        return (2 * self.height + (self.count or 0) * self.thickness) * self.length

    @property
    def wetted_area(self) -> float:
        """Both faces of all fins, their tips and ends, and the base between and beside them, m2."""
        count = self.count or 1
        ends = 2 * count * self.thickness * self.height
        return 2 * count * self.height * self.length + ends + self.base_area

    @property
    def base_area(self) -> float:
        """m2"""
        return (self.width if self.base_width is None else self.base_width) * self.length


@checked
def fins_across(
    width: float | None,
    length: float,
    height: float,
    thickness: float,
    gap: float | None = None,
    pitch: float | None = None,
    count: int | None = None,
) -> FinArray:
    """Fins given by one of `gap`, `pitch` and `count`, on a base that is `width` wide (None: of any width).

    With a gap or pitch, as many as there is room for. Raises InputError where they do not fit.

    >>> round(fins_across(width=0.1, length=0.1, height=0.03, thickness=0.001, count=25).gap, 6)
    0.003125
    >>> fins_across(width=0.1, length=0.1, height=0.03, thickness=0.001, pitch=0.004).count
    25
    """
    given = [key for key, value in (("gap", gap), ("pitch", pitch), ("count", count)) if value is not None]
    if len(given) != 1:
        raise InputError("fins: give exactly one of gap, pitch and count")
    require_positive("thickness", thickness)
    require_positive("width", width)
    if count is not None:
        if width is None:
            raise InputError("width: missing; a count of fins needs the width of their base across the flow")
        if not 2 <= count <= MOST_FINS:
            raise InputError(f"count: {count} is not a number of fins from 2 to {MOST_FINS}")
        if count * thickness >= width:
            raise InputError(
                f"count: {count} fins of {1e3 * thickness:g} mm leave no gap on a base {1e3 * width:g} mm wide"
            )
        return FinArray(length, height, thickness, (width - count * thickness) / (count - 1), count)
    require_positive("gap", gap)
    if pitch is not None and pitch <= thickness:
        raise InputError(f"pitch: {1e3 * pitch:g} mm leaves no gap between fins of {1e3 * thickness:g} mm")
    between = gap if gap is not None else (pitch or 0.0) - thickness
    if width is None:
        return FinArray(length, height, thickness, between)
    room = (width - thickness) / (between + thickness)
    if not 1 - 1e-9 <= room < MOST_FINS:
        how = "less than two fins" if room < 1 else f"more than {MOST_FINS} fins"
        raise InputError(f"width: {1e3 * width:g} mm has room for {how}, {1e3 * (between + thickness):g} mm apart")
    return FinArray(length, height, thickness, between, math.floor(room + 1e-9) + 1, width)


def efficiency(film: ArrayLike, conductivity: ArrayLike, thickness: ArrayLike, height: ArrayLike) -> Array:
    """Of a straight fin with an adiabatic tip: tanh(m H) / (m H), m = sqrt(2 h / (k t)). Where the tip takes heat, give
    H + t/2 for the height.

    >>> efficiency([50, 100], [200, 160], [0.001, 0.002], [0.02, 0.04]).round(6)
    array([0.938267, 0.761594])
    """
    h, k, long = (np.asarray(x, float) for x in (film, conductivity, height))
    mh = np.sqrt(2 * h / (k * thickness)) * long
    return np.asarray(np.where(mh > 0, np.tanh(mh) / np.where(mh > 0, mh, 1), 1.0))


def effectiveness(film: ArrayLike, conductivity: ArrayLike, thickness: ArrayLike, height: ArrayLike) -> Array:
    """What a fin passes on, over what its footprint alone would: below 2 a fin is hardly worth its while.

    >>> float(effectiveness(50, 200, 0.001, 0.02).round(2))
    37.53
    """
    slender = np.asarray(height, float) / np.asarray(thickness, float)
    return np.asarray(2 * efficiency(film, conductivity, thickness, height) * slender)


def base_film(fins: FinArray, film: ArrayLike, conductivity: ArrayLike, outer: ArrayLike = 0.0) -> Array:
    """The film (W/(m2 K) of base) that stands for fins: h A [1 - A_fins/A (1 - efficiency)] / base area.

    `outer` is the film on the outermost faces and on the tips of fins that stand free; 0 in a duct. The two outermost
    fins then have the efficiency of the mean film on both of their faces.

    >>> fins = fins_across(0.1, 0.1, 0.03, 0.001, count=25)
    >>> round(float(1 / (base_film(fins, 35.214, 200) * fins.base_area)), 5)  # K/W
    0.20579
    """
    h, out = np.asarray(film, float), np.asarray(outer, float)
    inside = efficiency(h, conductivity, fins.thickness, fins.height)
    carried = h * (fins.area - fins.fin_area * (1 - inside))
    if fins.count is not None and np.any(out):
        face = fins.height * fins.length
        outermost = efficiency((h + out) / 2, conductivity, fins.thickness, fins.height)
        carried = carried + 2 * face * ((h + out) * outermost - h * inside)
        carried = carried + out * inside * fins.count * fins.thickness * fins.length
    return np.asarray(carried / fins.base_area)
