"""Finite-difference heat conduction for small thermoelectric cabinets and finned heat sinks.

>>> import fdm
>>> solution = fdm.solve(fdm.read_section("geometries/bolt.toml"))  # doctest: +SKIP
>>> solution.bridges  # doctest: +SKIP
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fdm.cabinet.reader import read_cabinet
    from fdm.cabinet.solution import SolvedCabinet, solve_cabinet
    from fdm.errors import InputError
    from fdm.section.reader import read_section
    from fdm.solving.solution import Solution, solve
    from fdm.studies import best, study

_HOMES = {  # imported when first used, so that the command line starts at once
    "InputError": "fdm.errors",
    "Solution": "fdm.solving.solution",
    "SolvedCabinet": "fdm.cabinet.solution",
    "best": "fdm.studies",
    "read_cabinet": "fdm.cabinet.reader",
    "read_section": "fdm.section.reader",
    "solve": "fdm.solving.solution",
    "solve_cabinet": "fdm.cabinet.solution",
    "study": "fdm.studies",
}
__all__ = [
    "InputError",
    "Solution",
    "SolvedCabinet",
    "best",
    "read_cabinet",
    "read_section",
    "solve",
    "solve_cabinet",
    "study",
]


def __getattr__(name: str) -> Any:
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'fdm' has no attribute {name!r}")
