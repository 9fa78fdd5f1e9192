"""Reads a CSV file of what was measured on the built thing, to compare it with a file's answers.

Numbers are in degC, W, A, V and otherwise SI units; lines that begin with # are remarks. Measurements of a steady state
have a row each:

    quantity,value,uncertainty
    thermostat,9.4,0.2
    LEDs,61.5,0.5

For a section, a quantity is a sensor or a terminal (its temperature), or any answer by its path, such as
"network.resistance.LEDs.LEDs". For a cabinet, with its modules always on, it is a node ("air", "load", "cold face",
"hot face"), the thermostat's "reading", "current" (through each module), "supply current", "voltage" or "power".

A log of a cabinet's pull-down, with the modules always on, has a column for each quantity. Its first column is time_s,
time_min or time_h since switching on; in one row it holds the word uncertainty. An empty cell stands for no value:

    time_h,air,load
    uncertainty,0.3,0.3
    0.5,24.1,29.0

Uncertainties are standard ones. Every row counts as a measurement of its own, so a log of many rows that share an
error, such as a sensor's offset, should be thinned out.
"""

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from os import PathLike, fspath

from fdm.errors import InputError, in_file, is_number, nearest, what_is
from fdm.section.files import read_text
from fdm.section.pieces import LEAST, MOST

TIMES = {"time_s": 1.0, "time_min": 60.0, "time_h": 3600.0}
LONGEST_SHOWN = 60  # letters of a first line
STEADY = ("quantity", "value", "uncertainty")


@dataclass(frozen=True)
class Measurement:
    """One measured value with its standard uncertainty."""

    quantity: str
    value: float
    uncertainty: float
    time: float | None = None  # s since switching on; None: steady


def read_measured(
    path: str | PathLike[str], uncertainties: Mapping[str, float] | None = None
) -> tuple[Measurement, ...]:
    """The rows of a measured CSV file, or the cells of a log. `uncertainties` gives those of a log by column.

    Raises InputError, which begins with the path, for whatever the file should not hold.
    """
    name = fspath(path)
    with in_file(name):
        return _measured(_rows(name), uncertainties or {})


def _rows(path: str) -> list[tuple[int, list[str]]]:
    """(line number, cells) of all lines that are not empty and no remark."""
    lines = read_text(path, "CSV file", "thin the log out", "CSV in UTF-8").splitlines()
    try:
        cells = [(k, [cell.strip() for cell in row]) for k, row in enumerate(csv.reader(lines), 1)]
    except csv.Error as error:
        raise InputError(f"is not CSV: {error}; give lines of cells with commas between them") from None
    rows = [(k, row) for k, row in cells if any(row) and not row[0].startswith("#")]
    if not rows:
        raise InputError("is empty; give a line quantity,value,uncertainty and what was measured below it")
    return rows


def _measured(rows: list[tuple[int, list[str]]], uncertainties: Mapping[str, float]) -> tuple[Measurement, ...]:
    (first, head), body = rows[0], rows[1:]
    if ";" in head[0]:
        raise InputError(f"line {first}: separate cells with commas, not semicolons, and write 9.4 with a point")
    for number, row in body:
        if len(row) != len(head):
            raise InputError(f"line {number}: has {len(row)} cells, but the first line has {len(head)}; give as many")
    if tuple(head) == STEADY:
        if uncertainties:
            raise InputError(
                "has an uncertainty in each row; uncertainties belong to the columns of a log, leave them out"
            )
        found = [Measurement(row[0], _number(k, "value", row[1]), _above(k, row[2])) for k, row in body]
    elif head[0] in TIMES:
        found = _log(head, body, uncertainties)
    else:
        raise InputError(
            f"line {rows[0][0]}: is {','.join(head)[:LONGEST_SHOWN]!r}; give quantity,value,uncertainty, or time_s, "
            "time_min or time_h and a column for each quantity"
        )
    if not found:
        raise InputError("holds no measured value; give at least one below the first line")
    return tuple(found)


def _log(head: list[str], body: list[tuple[int, list[str]]], uncertainties: Mapping[str, float]) -> list[Measurement]:
    columns = head[1:]
    if twice := [name for k, name in enumerate(columns) if name in columns[:k]]:
        raise InputError(f"there are two columns {twice[0]!r}; keep one")
    for name, given in uncertainties.items():
        if name not in columns:
            raise InputError(f"there is no column {name!r} to give an uncertainty; {nearest(name, columns)}")
        if not is_number(given) or not LEAST <= given <= MOST:
            raise InputError(f"uncertainties, {name!r}: {what_is(given)} is not above 0; give the standard uncertainty")
    known = dict(uncertainties)
    for number, row in body:
        if row[0] == "uncertainty":
            known = {name: _above(number, cell) for name, cell in zip(columns, row[1:]) if cell} | known
    out = []
    for number, row in body:
        if row[0] == "uncertainty":
            continue
        time = _number(number, head[0], row[0]) * TIMES[head[0]]
        if time < 0:
            raise InputError(f"line {number}, {head[0]}: {row[0]} is before switching on; count from there")
        for name, cell in zip(columns, row[1:]):
            if cell:
                if name not in known:
                    raise InputError(f"{name}: has no uncertainty; add a line that begins with uncertainty")
                out.append(Measurement(name, _number(number, name, cell), known[name], time))
    return out


def _number(line: int, what: str, cell: str) -> float:
    try:
        number = float(cell)
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise InputError(f"line {line}, {what}: {cell!r} is not a number; give one such as 9.4")
    return number


def _above(line: int, cell: str) -> float:
    number = _number(line, "uncertainty", cell)
    if number <= 0:
        raise InputError(f"line {line}, uncertainty: {cell} is not above 0; give the standard uncertainty")
    if not LEAST <= number <= MOST:
        raise InputError(
            f"line {line}, uncertainty: {cell} is beyond all that is measured; give the standard uncertainty"
        )
    return number
