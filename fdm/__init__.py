"""Finite-difference heat conduction for small thermoelectric cabinets and finned heat sinks.

Temperatures are in degC, differences in K, heat in W, lengths in m; at places of `solution.field`, in the file's unit.
Whatever is wrong with what a function is given, its type too, is an InputError of one sentence.

>>> import fdm
>>> solution = fdm.solve(fdm.read_section("geometries/bolt.toml"))
>>> chi, band = solution.answers.at("bridge.bolt with its bush.chi")  # W/K
>>> round(chi, 4), band < 1e-4
(0.0059, True)
"""

import sys
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING, Any

from fdm.errors import nearest

if TYPE_CHECKING:
    from fdm.cabinet.reader import read_cabinet
    from fdm.cabinet.solution import SolvedCabinet, solve_cabinet
    from fdm.errors import InputError
    from fdm.inference.fit import fit
    from fdm.inference.reanalysis import reanalysis
    from fdm.inference.uncertainty import sample, uncertainty
    from fdm.section.reader import read_section
    from fdm.solving.operating_point import at_operating_point
    from fdm.solving.placement import placement
    from fdm.solving.ranges import between
    from fdm.solving.solution import Solution
    from fdm.solving.steady import solve
    from fdm.studies import best, study

_HOMES = {  # imported when first used, so that the command line starts at once
    "InputError": "fdm.errors",
    "Solution": "fdm.solving.solution",
    "SolvedCabinet": "fdm.cabinet.solution",
    "at_operating_point": "fdm.solving.operating_point",
    "best": "fdm.studies",
    "between": "fdm.solving.ranges",
    "fit": "fdm.inference.fit",
    "placement": "fdm.solving.placement",
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
    "between",
    "fit",
    "placement",
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


_PRINTED_BY = {  # where a class is, and what prints its objects, below fdm.output.tables
    "fdm.answers.quantity.Answers": "shown.print_answers",
    "fdm.cabinet.model.Cabinet": "shown.print_cabinet_file",
    "fdm.cabinet.solution.SolvedCabinet": "shown.print_solved_cabinet",
    "fdm.inference.fitted.Fit": "shown.print_fit_and_warnings",
    "fdm.inference.uncertainty.Sample": "uncertainty.print_sample",
    "fdm.inference.uncertainty.Uncertainty": "uncertainty.print_uncertainty",
    "fdm.section.model.Section": "shown.print_section",
    "fdm.solving.placement.Placement": "placement.print_placement",
    "fdm.solving.ranges.Between": "ranges.print_between",
    "fdm.solving.solution.Solution": "section.print_solution",
    "fdm.studies.optimum.Optimum": "shown.print_optimum",
    "fdm.studies.result.Study": "shown.print_findings",
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'fdm' has no attribute {name!r}; {nearest(name, __all__)}")
    found = getattr(import_module(_HOMES[name]), name)
    _give_displays()
    return found


def __dir__() -> list[str]:
    return [*__all__, "__version__"]


def _give_displays() -> None:
    """Let objects show their tables where they are printed, also in notebooks; folders below `output` may not."""
    for place, printer in _PRINTED_BY.items():
        home, _, name = place.rpartition(".")
        if (module := sys.modules.get(home)) is not None and (shown := getattr(module, name, None)) is not None:
            shown.__repr__, shown._repr_html_ = _display("as_text", printer), _display("as_html", printer)


def _display(form: str, printer: str) -> Any:
    home, name = printer.split(".")

    def display(thing: object) -> Any:
        print_to = getattr(import_module(f"fdm.output.tables.{home}"), name)
        return getattr(import_module("fdm.output.tables.shown"), form)(print_to, thing)

    return display
