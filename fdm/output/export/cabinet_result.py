"""A cabinet's curves as CSV."""

from pathlib import Path

import numpy as np

from fdm.cabinet.pulldown import Curve
from fdm.cabinet.solution import SolvedCabinet
from fdm.section.files import write_csv


def write_curves(solved: SolvedCabinet, path: str | Path) -> None:
    """The pull-down as CSV, switched by the thermostat first, then always on, as column `modules` says. Times in s,
    temperatures in degC, power in W. Raises InputError where it cannot be written."""
    run = solved.pull_down
    nodes = (f"{node} (degC)" for node in solved.circuit.names)
    rows = [["modules", "time (s)", *nodes, "thermostat reading (degC)", "power (W)"]]
    for modules, curve in (("switched", run.switched), ("always on", run.always_on)):
        rows += [[modules, *row] for row in _rows(curve)]
    write_csv(path, rows)


def _rows(curve: Curve) -> list[list[str]]:
    columns = np.column_stack([curve.time, curve.temperature, curve.reading, curve.power])
    return [[f"{v:.7g}" for v in row] for row in columns.tolist()]
