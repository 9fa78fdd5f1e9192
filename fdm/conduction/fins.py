"""What fins give off, and how warm their roots are, in unit fields."""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array


@dataclass(frozen=True)
class FinTemperatures:
    """G groups of fins in the unit fields of F fixed and H heat terminals."""

    heat: Array  # (G, F + H) W from the fins to their environment
    roots: Array  # (G, F + H) by how much the mean of their roots is above their environment
    wetted: Array  # (G,) W/K, film times the area of the fins
    footprint: Array  # (G,) W/K, film times the area of their roots


def no_fins(units: Array) -> FinTemperatures:
    """Of a section without fins, for unit fields (F + H, ...)."""
    nothing = np.empty((0, len(units)))
    return FinTemperatures(nothing, nothing, np.empty(0), np.empty(0))
