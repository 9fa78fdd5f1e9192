"""What is kept of a study: `study.jsonl`, a line of JSON a design as it is done, and `study.csv`, the table at the end.

A line holds the hash of the study it belongs to, the design's values, its status, and its results or its message:
`done`, `failed` (the input is at fault; it would fail again) or `crashed` (it is tried again). Lines are only ever
added, so that an interruption costs one design at most; one file may hold the lines of several studies.
"""

import csv
import json
import os
from collections.abc import Mapping
from pathlib import Path

from fdm.errors import InputError
from fdm.section.files import written_beside
from fdm.studies.design import Design, Values, design_key
from fdm.studies.result import Study

LINES, TABLE = "study.jsonl", "study.csv"


class Kept:
    """The designs of a study, named by its hash, that are done: in memory and, where a folder is given, in its
    study.jsonl."""

    def __init__(self, study: str, out: str | os.PathLike[str] | None) -> None:
        self._study, self._done, self._file = study, dict[Values, Design](), None
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
            if (design := _read_line(line, self._study)) is not None:
                self._done[design_key(design.values)] = design

    def __contains__(self, values: Mapping[str, float]) -> bool:
        return design_key(values) in self._done

    def __getitem__(self, values: Mapping[str, float]) -> Design:
        return self._done[design_key(values)]

    def __len__(self) -> int:
        return len(self._done)

    def add(self, design: Design) -> None:
        """Keep one more. Raises InputError where its line cannot be written."""
        self._done[design_key(design.values)] = design
        if self._file is None:
            return
        line = {"study": self._study, "design": dict(design.values), "status": design.status}
        line |= {"message": design.message} if design.message else {"results": design.answers}
        line |= {"warnings": design.warnings} if design.warnings else {}
        try:
            self._append(json.dumps(line, ensure_ascii=False, allow_nan=False))
        except OSError as fault:
            raise InputError(f"{self._file}: cannot be written: {fault.strerror or fault}") from None

    def _append(self, line: str) -> None:
        assert self._file is not None
        with open(self._file, "a", encoding="utf-8", newline="\n") as file:
            file.write(line + "\n")


def _read_line(line: bytes, study: str) -> Design | None:
    """The design of a line; None where it is not whole, belongs to another study, or is to be tried again."""
    try:
        data = json.loads(line)
        if data["study"] != study or data["status"] not in ("done", "failed"):
            return None
        warnings = tuple(map(str, data.get("warnings", ())))
        return Design(data["design"], data.get("results", {}), data.get("message", ""), warnings=warnings)
    except (ValueError, KeyError, TypeError):
        return None


def write_table(study: Study, folder: str | os.PathLike[str]) -> None:
    """The study as study.csv, in SI units: a row a design, in their order. Raises InputError where it cannot be
    written."""
    path = Path(folder) / TABLE
    with written_beside(path) as temporary, open(temporary, "w", newline="", encoding="utf-8") as file:
        write = csv.writer(file, lineterminator="\n")
        write.writerow([*study.names, "status", "message", *study.columns])
        for d in study.designs:
            numbers = (d.answers.get(path) for path in study.columns)
            row = ["" if v is None else f"{v:.10g}" for v in numbers]
            write.writerow([*(repr(d.values[n]) for n in study.names), d.status, d.message, *row])
