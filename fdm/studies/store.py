"""What is kept of a study: `study.jsonl`, a line of JSON a design as it is done, and `study.csv`, the table at the end.

A line holds the hash of the study it belongs to, the design's values, its status, and its results or its message:
`done`, `failed` (the input is at fault; it would fail again) or `crashed` (it is tried again). Results are value and
band by path; a line before them has the quantities that they are of, written again where these change. Lines are only
ever added, so that an interruption costs one design at most; one file may hold the lines of several studies.
"""

import csv
import json
import math
import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from fdm.answers.quantity import Answers, Array, Quantity
from fdm.errors import InputError
from fdm.section.files import written_beside
from fdm.studies.design import Design, Values, design_key
from fdm.studies.result import Study

LINES, TABLE = "study.jsonl", "study.csv"
GIVEN = ("let", "given")  # families without an error


class Kept:
    """The designs of a study, named by its hash, that are done: in memory and, where a folder is given, in its
    study.jsonl."""

    def __init__(self, study: str, out: str | os.PathLike[str] | None) -> None:
        self._study, self._done, self._file = study, dict[Values, Design](), None
        self._quantities: tuple[Quantity, ...] = ()  # of the lines that follow, which all share them
        self._names: list[str] = []
        if out is None:
            return
        folder = Path(out)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._file = folder / LINES
            text = self._file.read_bytes() if self._file.exists() else b""
            if text and not text.endswith(b"\n"):  # interrupted in the middle of a line
                self._append("")
        except OSError as fault:
            raise InputError(f"{folder}: cannot be written: {fault.strerror or fault}; name another folder") from None
        for line in text.splitlines():
            if (design := self._read_line(line)) is not None:
                self._done[design_key(design.values)] = design

    def __contains__(self, values: Mapping[str, float]) -> bool:
        return design_key(values) in self._done

    def __getitem__(self, values: Mapping[str, float]) -> Design:
        return self._done[design_key(values)]

    def __len__(self) -> int:
        return len(self._done)

    def add(self, design: Design) -> None:
        """Keep one more. Raises InputError where its line cannot be written."""
        answers = design.answers
        changed = bool(answers.quantities) and answers.quantities != self._quantities
        if changed:
            self._know(answers.quantities)
        elif answers.quantities:
            design = replace(design, answers=Answers(self._quantities, answers.value, answers.band))
        self._done[design_key(design.values)] = design
        if self._file is None:
            return
        line: dict[str, Any] = {"study": self._study, "design": dict(design.values), "status": design.status}
        if design.message:
            line["message"] = design.message
        else:
            numbers = ([_or_none(value), _or_none(band)] for _, value, band in answers)
            line |= {"met": design.met, "results": dict(zip(self._names, numbers))}
        line |= {"warnings": design.warnings} if design.warnings else {}
        try:
            if changed:
                quantities = {"study": self._study, "quantities": [vars(q) for q in self._quantities]}
                self._append(json.dumps(quantities, ensure_ascii=False))
            self._append(json.dumps(line, ensure_ascii=False, allow_nan=False))
        except OSError as fault:
            raise InputError(f"{self._file}: cannot be written: {fault.strerror or fault}") from None

    def _read_line(self, line: bytes) -> Design | None:
        """The design of a line; None where it is not whole, belongs to another study, or is to be tried again."""
        try:
            data = json.loads(line)
            if data["study"] != self._study:
                return None
            if "quantities" in data:
                self._know(tuple(_quantity(given) for given in data["quantities"]))
                return None
            if data["status"] not in ("done", "failed"):
                return None
            warnings, met = tuple(map(str, data.get("warnings", ()))), bool(data.get("met", True))
            design = Design(data["design"], message=data.get("message", ""), met=met, warnings=warnings)
            if design.message:
                return design
            results = data["results"]
            if list(results) != self._names:  # the line that has its quantities is damaged
                return None
            value, band = (_numbers(pair[k] for pair in results.values()) for k in (0, 1))
            return replace(design, answers=Answers(self._quantities, value, band))
        except (ValueError, LookupError, TypeError, AttributeError):
            return None

    def _know(self, quantities: tuple[Quantity, ...]) -> None:
        self._quantities, self._names = quantities, [q.name for q in quantities]

    def _append(self, line: str) -> None:
        assert self._file is not None
        with open(self._file, "a", encoding="utf-8", newline="\n") as file:
            file.write(line + "\n")


def _quantity(given: Mapping[str, Any]) -> Quantity:
    also = tuple(tuple(path) for path in given["also"])
    return Quantity(**{**given, "path": tuple(given["path"]), "also": also})


def _or_none(value: float) -> float | str | None:
    """A number as JSON holds it: null for NaN, and a word for infinity."""
    return None if math.isnan(value) else value if math.isfinite(value) else "inf"


def _numbers(values: Iterable[float | str | None]) -> Array:
    return np.array([math.nan if v is None else float(v) for v in values], float)


def write_table(study: Study, folder: str | os.PathLike[str]) -> None:
    """The study as study.csv, in SI units: a row for each design, in their order, with the value and band of each
    answer; no band of what is given.

    Raises InputError where it cannot be written.
    """
    path = Path(folder) / TABLE
    columns = []
    for quantity in study.columns:
        columns.append((quantity.name, study.values(quantity)))
        if quantity.family not in GIVEN and study.states_band(quantity):
            columns.append((f"band.{quantity.name}", study.bands(quantity)))
    with written_beside(path) as temporary, open(temporary, "w", newline="", encoding="utf-8") as file:
        write = csv.writer(file, lineterminator="\n")
        write.writerow([*study.names, "status", "message", *(name for name, _ in columns)])
        for k, d in enumerate(study.designs):
            row = [f"{v[k]:.10g}" if math.isfinite(v[k]) else "" for _, v in columns]
            write.writerow([*(repr(d.values[n]) for n in study.names), d.status, d.message, *row])
