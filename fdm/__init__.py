"""Finite-difference heat conduction for small thermoelectric cabinets and finned heat sinks."""

from fdm.errors import InputError
from fdm.network.solution import Solution, solve

__all__ = ["InputError", "Solution", "solve"]
