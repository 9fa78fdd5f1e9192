"""Closed air gaps between two faces: Nu = h d / k on the gap d, over Ra = g beta dT d^3 / (nu a) of the difference
between the faces, with properties at their mean."""

import numpy as np
from numpy.typing import ArrayLike

from fdm.surroundings.air import Array


def vertical_gap(rayleigh: ArrayLike, aspect: ArrayLike) -> Array:
    """Between vertical faces, heat level: ElSherbiny, Raithby and Hollands (1982), as an open modelling library has it;
    100 < Ra < 2e7, height over gap 5 to 110 (these limits from memory). At most 10 % in their tests, from memory.

    Nu = max of [1 + (0.104 Ra^0.293 / (1 + (6310/Ra)^1.36))^3]^(1/3), 0.242 (Ra/A)^0.272 and 0.0605 Ra^(1/3)

    >>> vertical_gap([1e3, 1e5, 1e6], [20, 20, 5]).round(3)
    array([1.   , 3.002, 6.694])
    """
    ra, a = np.asarray(rayleigh, float), np.asarray(aspect, float)
    with np.errstate(divide="ignore", over="ignore"):  # Ra may be 0
        slow = (1 + (0.104 * ra**0.293 / (1 + (6310 / ra) ** 1.36)) ** 3) ** (1 / 3)
    return np.asarray(np.maximum(np.maximum(slow, 0.242 * (ra / a) ** 0.272), 0.0605 * np.cbrt(ra)))


def gap_heated_below(rayleigh: ArrayLike, tilt: ArrayLike = 0.0) -> Array:
    """Warm below, cold above, tilted by up to 60 degrees from level: Hollands et al. (1976), as Nellis and Klein have
    it; Ra < 1e5 in air, wide gaps; 5 % (both from memory). Heated from above, air rests: Nu = 1.

    Nu = 1 + 1.44 [1 - 1708/R] [1 - 1708 sin^1.6(1.8 tilt)/R] + [(R/5830)^(1/3) - 1], R = Ra cos(tilt), brackets >= 0

    >>> gap_heated_below([5e3, 1e4, 1e5]).round(3), gap_heated_below([5e3, 1e4, 1e5], 60).round(3)
    (array([1.948, 2.391, 3.994]), array([1.169, 1.649, 3.394]))
    """
    angle = np.radians(tilt)
    ra = np.maximum(np.asarray(rayleigh, float) * np.cos(angle), 1e-9)
    onset = np.maximum(1 - 1708 / ra, 0)
    slant = np.maximum(1 - 1708 * np.abs(np.sin(1.8 * angle)) ** 1.6 / ra, 0)
    return np.asarray(1 + 1.44 * onset * slant + np.maximum(np.cbrt(ra / 5830) - 1, 0))
