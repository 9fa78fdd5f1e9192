"""Air driven along a flat plate: the mean Nu = h L / k over Re = U L / nu, of the plate's length L along the flow, with
properties at the mean of plate and air. From memory of any textbook; an open library agrees."""

import numpy as np
from numpy.typing import ArrayLike

from fdm.surroundings.air import Array


def plate_laminar(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """0.664 Re^(1/2) Pr^(1/3): undisturbed flow, Re < 5e5; exact to 2 % for 0.6 < Pr < 10.

    >>> float(plate_laminar(1e5, 0.707).round(2))
    187.06
    """
    return np.asarray(0.664 * np.sqrt(np.asarray(reynolds, float)) * np.cbrt(prandtl))


def plate_turbulent(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Turbulent from its edge on, 5e5 < Re < 1e7: 0.037 Re^0.8 Pr / (1 + 2.443 Re^-0.1 (Pr^(2/3) - 1)); 10 to 20 %.

    >>> float(plate_turbulent(1e5, 0.707).round(1))
    311.2
    """
    re, pr = np.asarray(reynolds, float), np.asarray(prandtl, float)
    return np.asarray(0.037 * re**0.8 * pr / (1 + 2.443 * re**-0.1 * (np.cbrt(pr) ** 2 - 1)))


def plate_disturbed(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Behind a fan or a blunt edge: sqrt(laminar^2 + turbulent^2), 10 < Re < 1e7 (VDI Heat Atlas).

    >>> plate_disturbed([1e4, 1e6], 0.707).round(2)
    array([  78.67, 1980.28])
    """
    return np.asarray(np.hypot(plate_laminar(reynolds, prandtl), plate_turbulent(reynolds, prandtl)))
