"""Natural convection: still air that moves because a surface warms or cools it.

All relations give Nu = h L / k over Ra = g beta dT L^3 / (nu a), with properties at the mean of surface and air. L is
the height of a vertical plate, area over perimeter of a horizontal one, and the gap of a channel. Numbers and arrays
broadcast against each other. What is said of accuracy is from memory where no source is named.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize_scalar

from fdm.surroundings.air import Air, Array, rayleigh

CHANNEL, CHANNEL_ONE_SIDE = 576.0, 144.0  # both walls of a channel warm; one of them, the other adiabatic


def vertical_plate(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, for all flows: 0.1 < Ra < 1e12; 10 to 15 %.

    Nu = (0.825 + 0.387 Ra^(1/6) / [1 + (0.492/Pr)^(9/16)]^(8/27))^2

    >>> vertical_plate([1e5, 1e8], 0.71).round(3)
    array([ 9.213, 61.065])
    """
    ra, pr = np.asarray(rayleigh, float), np.asarray(prandtl, float)
    return np.asarray((0.825 + 0.387 * ra ** (1 / 6) / (1 + (0.492 / pr) ** (9 / 16)) ** (8 / 27)) ** 2)


def vertical_plate_laminar(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """Churchill and Chu 1975, their form for laminar flow: Ra < 1e9; 10 %. To be preferred for small surfaces.

    Nu = 0.68 + 0.670 Ra^(1/4) / [1 + (0.492/Pr)^(9/16)]^(4/9)

    >>> vertical_plate_laminar([1e5, 1e8], 0.71).round(3)
    array([ 9.825, 52.105])
    """
    ra, pr = np.asarray(rayleigh, float), np.asarray(prandtl, float)
    return np.asarray(0.68 + 0.670 * ra**0.25 / (1 + (0.492 / pr) ** (9 / 16)) ** (4 / 9))


def horizontal_plate_unstable(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """A warm plate that faces up, or a cold one that faces down: Raithby and Hollands, as Nellis and Klein,
    Introduction to Engineering Heat Transfer, have it; 1 < Ra < 1e10. Handbooks differ by 15 to 50 % here.

    >>> horizontal_plate_unstable([1e4, 1e6], 0.71).round(2)
    array([ 4.97, 15.17])
    """
    ra, pr = np.asarray(rayleigh, float), np.asarray(prandtl, float)
    c = 0.671 / (1 + (0.492 / pr) ** (9 / 16)) ** (4 / 9)
    laminar = 1.4 / np.log1p(1.4 / (0.835 * c * ra**0.25))
    turbulent = 0.14 * (1 + 0.0107 * pr) / (1 + 0.01 * pr) * np.cbrt(ra)
    return np.asarray((laminar**10 + turbulent**10) ** 0.1)


def horizontal_plate_stable(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """A warm plate that faces down, or a cold one that faces up: Raithby and Hollands, as Nellis and Klein have it;
    1e3 < Ra < 1e10. Older forms lie 26 % below to 35 % above.

    >>> horizontal_plate_stable([1e4, 1e6], 0.71).round(2)
    array([3.64, 7.53])
    """
    ra, pr = np.asarray(rayleigh, float), np.asarray(prandtl, float)
    return np.asarray(2.5 / np.log1p(2.5 * (1 + (1.9 / pr) ** 0.9) ** (2 / 9) / (0.527 * ra**0.2)))


def horizontal_cylinder(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """Of a level cylinder, of its diameter, also a thin wire: Churchill and Chu, Int. J. Heat Mass Transfer 18 (1975)
    1049; 1e-5 < Ra < 1e12; 15 %.

    Nu = (0.60 + 0.387 Ra^(1/6) / [1 + (0.559/Pr)^(9/16)]^(8/27))^2

    >>> horizontal_cylinder([1e-2, 1e5], 0.71).round(3)
    array([0.561, 7.778])
    """
    ra, pr = np.asarray(rayleigh, float), np.asarray(prandtl, float)
    return np.asarray((0.60 + 0.387 * ra ** (1 / 6) / (1 + (0.559 / pr) ** (9 / 16)) ** (8 / 27)) ** 2)


def sphere(rayleigh: ArrayLike, prandtl: ArrayLike) -> Array:
    """Of a sphere, of its diameter: Churchill, in Schluender (ed.), Heat Exchanger Design Handbook, 1983; Ra < 1e11,
    Pr > 0.7; 15 %. Air at rest gives 2.

    Nu = 2 + 0.589 Ra^(1/4) / [1 + (0.469/Pr)^(9/16)]^(4/9)

    >>> sphere([0, 10], 0.71).round(3)
    array([2.   , 2.808])
    """
    ra, pr = np.asarray(rayleigh, float), np.asarray(prandtl, float)
    return np.asarray(2 + 0.589 * ra**0.25 / (1 + (0.469 / pr) ** (9 / 16)) ** (4 / 9))


def channel(elenbaas: ArrayLike, walls: float = CHANNEL) -> Array:
    """Between vertical walls of one temperature, Nu = h S / k over El = Ra_S S / L, of the gap S and the height L:
    Bar-Cohen and Rohsenow, J. Heat Transfer 106 (1984) 116; smooth walls, much deeper than the gap; 10 %.

    Nu = (576 / El^2 + 2.873 / sqrt(El))^(-1/2); 144 (`CHANNEL_ONE_SIDE`) where one of the walls is adiabatic

    Wide gaps give a single plate's Nu, narrow ones air that leaves as warm as the walls: El / 24.

    >>> channel([1, 54.3, 1e4]).round(4)
    array([0.0416, 1.3072, 5.8991])
    """
    el = np.asarray(elenbaas, float)
    return np.asarray((walls / el**2 + 2.873 / np.sqrt(el)) ** -0.5)


def optimum_gap(air: Air, difference: float, length: float, thickness: float = 0.0) -> float:
    """The gap (m) between vertical fins, `thickness` thick, that takes most heat from a base of given width: that with
    the largest Nu / (S (S + t)). 2.7155 (g beta dT / (nu a L))^(-1/4) for thin ones (Bar-Cohen and Rohsenow 1984).

    >>> from fdm.surroundings.air import air_at
    >>> air = air_at(51.85)
    >>> [round(1e3 * optimum_gap(air, 50, 0.1, t), 2) for t in (0, 0.002)]
    [6.41, 6.81]
    """
    scale = (float(rayleigh(air, difference, 1.0)) / length) ** -0.25

    def lost(gap: float) -> float:
        return -float(channel((gap / scale) ** 4)) / (gap * (gap + thickness))

    found = minimize_scalar(lost, bounds=(0.5 * scale, 20 * scale), method="bounded", options={"xatol": 1e-9})
    return float(found.x)
