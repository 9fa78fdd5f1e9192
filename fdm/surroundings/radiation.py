"""Heat radiation between grey surfaces, as a film: q = h_r (T1 - T2).

Temperatures in degC, emissivities as shares of a black body's, lengths in m. Numbers and arrays broadcast.
"""

import numpy as np
from numpy.typing import ArrayLike

from fdm.surroundings.air import ZERO_CELSIUS, Array

STEFAN_BOLTZMANN = 5.670374e-8  # W/(m2 K4)


def radiative_film(emissivity: ArrayLike, first: ArrayLike, second: ArrayLike) -> Array:
    """h_r = e s (T1^2 + T2^2) (T1 + T2), W/(m2 K); exact. `emissivity` is that of a small body in a large room, or
    what `between_plates` or `channel_factor` give.

    >>> float(radiative_film(1, 60, 20).round(3)), float(radiative_film(1, 5, 25).round(3))
    (6.994, 5.433)
    """
    a, b = np.asarray(first, float) + ZERO_CELSIUS, np.asarray(second, float) + ZERO_CELSIUS
    return np.asarray(np.asarray(emissivity, float) * STEFAN_BOLTZMANN * (a**2 + b**2) * (a + b))


def between_plates(first: ArrayLike, second: ArrayLike) -> Array:
    """What two large parallel faces have in place of an emissivity: 1 / (1/e1 + 1/e2 - 1).

    >>> between_plates([0.9, 0.1], 0.9).round(4)
    array([0.8182, 0.0989])
    """
    return np.asarray(1 / (1 / np.asarray(first, float) + 1 / np.asarray(second, float) - 1))


def facing_rectangles(width: ArrayLike, height: ArrayLike, distance: ArrayLike) -> Array:
    """View factor between two equal rectangles, face to face (any textbook).

    >>> float(facing_rectangles(1, 1, 1).round(6))
    0.199825
    """
    a, c = np.asarray(width, float) / distance, np.asarray(height, float) / distance
    p, q = np.sqrt(1 + a**2), np.sqrt(1 + c**2)
    logarithm = 0.5 * np.log(p**2 * q**2 / (1 + a**2 + c**2))
    arcs = a * q * np.arctan(a / q) + c * p * np.arctan(c / p) - a * np.arctan(a) - c * np.arctan(c)
    return np.asarray(2 / (np.pi * a * c) * (logarithm + arcs))


def adjoining_rectangles(edge: ArrayLike, length: ArrayLike, height: ArrayLike) -> Array:
    """View factor from a rectangle edge x length to the one edge x height that stands on its edge (any textbook).

    >>> float(adjoining_rectangles(1, 1, 1).round(6))
    0.200044
    """
    w, h = np.asarray(length, float) / edge, np.asarray(height, float) / edge
    ww, hh = w**2, h**2
    both = np.sqrt(hh + ww)
    arcs = w * np.arctan(1 / w) + h * np.arctan(1 / h) - both * np.arctan(1 / both)
    logarithm = (
        np.log((1 + ww) * (1 + hh) / (1 + ww + hh))
        + ww * np.log(ww * (1 + ww + hh) / ((1 + ww) * (ww + hh)))
        + hh * np.log(hh * (1 + hh + ww) / ((1 + hh) * (hh + ww)))
    )
    return np.asarray((arcs + logarithm / 4) / (np.pi * w))


def channel_factor(gap: ArrayLike, height: ArrayLike, length: ArrayLike, emissivity: ArrayLike) -> Array:
    """What the walls of a channel between two fins and the base there have in place of an emissivity, per area of these
    walls, as they see each other more than the room: G / A, 1/G = 1/G0 + (1 - e) / (e A).

    G0 is what passes out of the open front and the two ends where all is black. One temperature of all walls. Rays that
    were followed by chance come within 2 % where e is 0.9 and 4 % where it is 0.85; for e = 0.1 it is up to 30 % high.

    >>> channel_factor([0.02, 0.008889, 0.003125], [0.02, 0.03, 0.03], 0.1, [1, 0.9, 0.85]).round(4)
    array([0.3992, 0.1825, 0.0745])
    """
    b, h, le = np.asarray(gap, float), np.asarray(height, float), np.asarray(length, float)
    to_end = adjoining_rectangles(b, le, h)
    end_to_end = facing_rectangles(b, h, le)
    black = b * le + 2 * b * h - 4 * b * le * to_end - 2 * b * h * end_to_end
    walls = 2 * h * le + b * le
    e = np.asarray(emissivity, float)
    return np.asarray(1 / (1 / black + (1 - e) / (e * walls)) / walls)
