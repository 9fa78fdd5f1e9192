"""Finite-difference heat conduction for small thermoelectric cabinets and finned heat sinks."""

from fdm.errors import InputError
from fdm.network.solution import Solution, solve
from fdm.section import read_section

__all__ = ["InputError", "Solution", "read_section", "solve"]
