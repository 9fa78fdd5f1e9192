"""A cabinet's curves as CSV."""

import csv
from pathlib import Path

import numpy as np

from fdm.cabinet.pulldown import Curve
from fdm.cabinet.solution import SolvedCabinet
from fdm.section.files import written_beside


def write_curves(solved: SolvedCabinet, path: str | Path) -> None:
    """The pull-down as CSV, switched by the thermostat first, then always on, as column `modules` says. Times in s,
    temperatures in degC, power in W. Raises InputError where it cannot be written."""
    run = solved.pull_down
    with written_beside(path) as temporary, open(temporary, "w", newline="", encoding="utf-8") as file:
        write = csv.writer(file, lineterminator="\n")
        nodes = (f"{node} (degC)" for node in solved.circuit.names)
        write.writerow(["modules", "time (s)", *nodes, "thermostat reading (degC)", "power (W)"])
        for modules, curve in (("switched", run.switched), ("always on", run.always_on)):
            write.writerows([modules, *row] for row in _rows(curve))


def _rows(curve: Curve) -> list[list[str]]:
    columns = np.column_stack([curve.time, curve.temperature, curve.reading, curve.power])
    return [[f"{v:.7g}" for v in row] for row in columns.tolist()]
