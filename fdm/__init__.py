"""Finite-difference heat conduction for small thermoelectric cabinets and finned heat sinks.

>>> import fdm
>>> solution = fdm.solve(fdm.read_section("geometries/bolt.toml"))
>>> chi, band = solution.answers.at("bridge.bolt with its bush.chi")  # W/K
>>> round(chi, 4), band < 1e-4
(0.0059, True)
"""

from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fdm.cabinet.reader import read_cabinet
    from fdm.cabinet.solution import SolvedCabinet, solve_cabinet
    from fdm.errors import InputError
    from fdm.inference.fit import fit
    from fdm.inference.reanalysis import reanalysis
    from fdm.inference.uncertainty import sample, uncertainty
    from fdm.section.reader import read_section
    from fdm.solving.solution import Solution, at_operating_point
    from fdm.solving.steady import solve
    from fdm.studies import best, study

_HOMES = {  # imported when first used, so that the command line starts at once
    "InputError": "fdm.errors",
    "Solution": "fdm.solving.solution",
    "SolvedCabinet": "fdm.cabinet.solution",
    "at_operating_point": "fdm.solving.solution",
    "best": "fdm.studies",
    "fit": "fdm.inference.fit",
    "read_cabinet": "fdm.cabinet.reader",
    "read_section": "fdm.section.reader",
    "reanalysis": "fdm.inference.reanalysis",
    "sample": "fdm.inference.uncertainty",
    "solve": "fdm.solving.steady",
    "solve_cabinet": "fdm.cabinet.solution",
    "study": "fdm.studies",
    "uncertainty": "fdm.inference.uncertainty",
}
__all__ = [
    "InputError",
    "Solution",
    "SolvedCabinet",
    "at_operating_point",
    "best",
    "fit",
    "read_cabinet",
    "read_section",
    "reanalysis",
    "sample",
    "solve",
    "solve_cabinet",
    "study",
    "uncertainty",
]

try:
    __version__ = version("fdm")
except PackageNotFoundError:  # not installed: run from its folder
    __version__ = "0+unknown"


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'fdm' has no attribute {name!r}")
    found = getattr(import_module(_HOMES[name]), name)
    if name in ("Solution", "solve"):
        _show_tables()
    return found


def __dir__() -> list[str]:
    return [*__all__, "__version__"]


def _show_tables() -> None:
    """Let a solution show its tables where it is printed, also in notebooks; `fdm.solving` may not import them."""

    def shown(form: str) -> Any:
        return lambda solution: getattr(import_module("fdm.output.tables.section"), form)(solution)

    solution = import_module("fdm.solving.solution").Solution
    solution.__repr__, solution._repr_html_ = shown("solution_text"), shown("solution_html")
