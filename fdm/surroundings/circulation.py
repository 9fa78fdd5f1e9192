"""Air that a cold or warm surface sets in motion: how much flows along it, and how far it is cooled or warmed.

The layer of air along a vertical surface carries air from one end to the other: a cold sink takes warm air in at its
upper edge, and lets colder air out at its lower one. Laminar similarity solution (E. Pohlhausen; S. Ostrach, NACA
Report 1111, 1953; from memory), for a surface of one temperature in air of another:

    V' = c nu Gr^(1/4)                                flow for each metre of width, m2/s
    T_air - T_out = m (T_air - T_surface)             mean temperature of what leaves
    Gr = g beta |T_air - T_surface| H^3 / nu^2        properties at the mean of both temperatures

c and m depend on the Prandtl number alone: 1.704 and 0.391 at 0.71, within half a percent for air between -40 and
80 degC. The heat that the air carries away is what the surface gives off: m V' rho cp dT = h H dT.

Laminar up to Gr of 1e9. The formula is exact for a plate in still air of one temperature; in a small cabinet, where
the air below is colder already and walls are near, the flow is uncertain by a factor of 1.5 to 2 (common practice, no
source).
"""

import numpy as np
from numpy.typing import ArrayLike

from fdm.surroundings.air import GRAVITY, Air, Array, rayleigh
from fdm.surroundings.gaps import gap_heated_below

FLOW, COOLED = 1.704, 0.391  # c and m at a Prandtl number of 0.71
LAMINAR = 1e9  # Gr


def grashof(air: Air, difference: ArrayLike, height: ArrayLike) -> Array:
    """Gr of a difference (K) between a surface and the air over a height (m)."""
    return np.asarray(rayleigh(air, difference, height) / air.prandtl)


def plate_flow(air: Air, difference: ArrayLike, height: ArrayLike) -> Array:
    """V' along a surface with free air before it, m2/s for each metre of width.

    >>> from fdm.surroundings.air import air_at
    >>> float((3600 * 0.7 * plate_flow(air_at(8.13), 20.26, 0.1)).round(3))  # m3/h on 0.7 m
    2.623
    """
    return np.asarray(FLOW * air.kinematic_viscosity * grashof(air, difference, height) ** 0.25)


def channel_flow(air: Air, difference: ArrayLike, height: ArrayLike, gap: ArrayLike) -> tuple[Array, Array]:
    """V' between fins that stand a gap (m) apart, m2/s for each metre of wetted width, both sides counted; and m.

    Narrow gaps are limited by friction: air that is fully as cold as the fins flows at g beta dT gap^3 / (24 nu), as
    between two plates, and m is 1. Between this limit and that of a free plate, flow and heat are both joined as
    Bar-Cohen and Rohsenow (J. Heat Transfer 106 (1984) 116) join the heat: a = (a1^-2 + a2^-2)^(-1/2). In the narrow
    limit the heat is theirs, in the wide one 13 % less.

    >>> from fdm.surroundings.air import air_at
    >>> air = air_at(10)
    >>> flow, cooled = channel_flow(air, 20, 0.1, np.array([0.002, 0.006, 0.1]))
    >>> (flow / plate_flow(air, 20, 0.1)).round(3), cooled.round(3)
    (array([0.016, 0.388, 1.   ]), array([0.999, 0.738, 0.391]))
    """
    gap = np.asarray(gap, float)
    narrow = GRAVITY * air.expansion * np.abs(difference) * gap**3 / (24 * air.kinematic_viscosity)
    free = plate_flow(air, difference, height)
    return narrow / np.hypot(1, narrow / free), np.hypot(1, narrow / free) / np.hypot(1, narrow / (COOLED * free))


def layer_film(air: Air, colder_below: ArrayLike, distance: ArrayLike) -> Array:
    """Between the middles of two layers of air, one above the other, W/(m2 K): at rest where the lower one is colder,
    by `colder_below` (K), and mixed by plumes where it is the warmer one (`gap_heated_below`, far beyond its range:
    that such layers mix is all that counts).

    >>> from fdm.surroundings.air import air_at
    >>> layer_film(air_at(10), np.array([5, -5]), 0.2).round(2)
    array([0.13, 1.36])
    """
    below = np.asarray(colder_below, float)
    unstable = rayleigh(air, np.maximum(-below, 0.0), distance)
    return np.asarray(gap_heated_below(unstable) * air.conductivity / np.asarray(distance, float))
