"""What is kept of a study: `study.jsonl`, a line of JSON a design as it is done, and `study.csv`, the table at the end.

A line holds `study`, the hash of the study it belongs to (of the file, the section files it names, the target, and the
program), `design`, `status`, `met`, `results` or a `message`, and `warnings`. The status is `done`, `failed` (the input
is at fault; it would fail again) or `crashed` (it is tried again). Results are value and band by path; a line before
them has the `quantities` that they are of, written again where these change. Lines are only ever added, so that an
interruption costs one design at most.

One file holds the lines of one study. Where it turns out to be another's, it becomes `study.HASH.jsonl`, and is taken
back when that study goes on. A damaged file becomes `study.damaged.jsonl`, and its whole lines are used.

study.csv has a row for each design, in SI units: the varied numbers, `status`, `message`, then each answer by its path,
followed by `band.` and the path. It is written anew every few seconds, or less often where that takes long, and at any
end.
"""

import itertools
import json
import math
import os
import re
import stat
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import MISSING, fields, replace
from pathlib import Path
from typing import Any, NoReturn

import numpy as np

from fdm.answers.quantity import Answers, Array, Quantity
from fdm.errors import InputError, hidden_in
from fdm.section.files import write_csv, written_beside
from fdm.studies.design import Design, Values, design_key
from fdm.studies.result import Study

LINES, TABLE = "study.jsonl", "study.csv"
GIVEN = ("let", "given")  # families without an error
LONGEST_LINE = 100_000_000  # bytes; far above any use


class Kept:
    """The designs of a study, named by its hash, that are done: in memory and, where a folder is given, in its
    study.jsonl. `remarks` say what was wrong with that file.

    Raises InputError where the folder or the file cannot be read or written.
    """

    def __init__(self, study: str, out: str | os.PathLike[str] | None) -> None:
        self._study, self._done, self._file = study, dict[Values, Design](), None
        self._quantities: tuple[Quantity, ...] = ()  # of the lines that follow, which all share them
        self._names: list[str] = []
        self.remarks: list[str] = []
        if out is None:
            return
        folder = Path(out)
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._file = Path(os.path.realpath(folder / LINES))  # a link stays one
            self._change_places(folder)
            if self._file.exists():
                self._take_up(folder)
        except OSError as fault:
            raise InputError(f"{folder}: cannot be written: {fault.strerror or fault}; name another folder") from None

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

    def _change_places(self, folder: Path) -> None:
        """Sets another study's file aside, and takes back this study's own."""
        assert self._file is not None
        if self._file.exists():
            other = _study_of(self._file)
            if other is None or other == self._study:
                return
            aside = _free(self._file, other)
            self._file.rename(aside)
            self.remarks.append(
                f"{folder}: {LINES} was that of another file, target or version of the program; it is {aside.name} now."
            )
        own = self._file.with_suffix(f".{self._study}.jsonl")
        if own.is_file():
            own.rename(self._file)

    def _take_up(self, folder: Path) -> None:
        """Reads the file's lines. Where some are not whole lines of this study, the file is set aside, and the others
        are written anew."""
        assert self._file is not None
        whole, size, unfinished = list[bool](), 0, False
        for line in _lines(self._file):
            unfinished = not line.endswith(b"\n") and line.startswith(self._beginning[: len(line)])
            if unfinished:  # interrupted in the middle of a line
                break
            try:
                self._read_line(line)
            except (ValueError, LookupError, TypeError, AttributeError, ArithmeticError, RecursionError):
                whole.append(False)
            else:
                whole.append(line.endswith(b"\n"))
            size += len(line)
        if all(whole):
            if unfinished:
                os.truncate(self._file, size)
            return
        with written_beside(self._file) as temporary:
            with open(temporary, "wb") as file:
                file.writelines(itertools.compress(_lines(self._file), whole))
            aside = _free(self._file, "damaged")
            self._file.rename(aside)
        self.remarks.append(
            f"{folder}: {LINES} had {len(whole) - sum(whole)} of {len(whole)} lines that are damaged or of another "
            f"study; it is {aside.name} now, and the study went on from the others."
        )

    @property
    def _beginning(self) -> bytes:
        """Of each line of this study."""
        return json.dumps({"study": self._study})[:-1].encode() + b", "

    def _read_line(self, line: bytes) -> None:
        """Keeps the design of a line, unless it is to be tried again. Raises what Python raises where the line is no
        whole line of this study."""
        data = json.loads(line.decode("utf-8"), parse_constant=_refuse)
        if data["study"] != self._study:
            _refuse(data["study"])
        if "quantities" in data:
            self._know(tuple(_quantity(given) for given in data["quantities"]))
            return
        values, message, warnings = data["design"], data.get("message", ""), data.get("warnings", [])
        if not all(type(v) in (int, float) and math.isfinite(v) for v in values.values()):
            _refuse(line)
        if data["status"] not in ("done", "failed", "crashed") or type(data.get("met", True)) is not bool:
            _refuse(line)
        if not (isinstance(message, str) and isinstance(warnings, list) and all(isinstance(w, str) for w in warnings)):
            _refuse(line)
        design = Design(values, message=message, met=data.get("met", True), warnings=tuple(warnings))
        if not message:
            results = data["results"]
            if list(results) != self._names:  # the line that has its quantities is damaged
                _refuse(line)
            value, band = (_numbers(pair[k] for pair in results.values()) for k in (0, 1))
            design = replace(design, answers=Answers(self._quantities, value, band))
        if data["status"] != "crashed":
            self._done[design_key(values)] = design

    def _know(self, quantities: tuple[Quantity, ...]) -> None:
        self._quantities, self._names = quantities, [q.name for q in quantities]

    def _append(self, line: str) -> None:
        assert self._file is not None
        with open(self._file, "ab") as file:
            file.write(line.encode("utf-8", "backslashreplace") + b"\n")


@contextmanager
def alone_in(out: str | os.PathLike[str] | None) -> Iterator[None]:
    """Keeps other studies out of the folder `out` meanwhile. Raises InputError where one is at work there."""
    try:
        import fcntl
    except ImportError:  # Windows
        out = None
    if out is None:
        yield
        return
    try:
        Path(out).mkdir(parents=True, exist_ok=True)
        folder = os.open(out, os.O_RDONLY)
    except OSError as fault:
        raise InputError(f"{out}: cannot be written: {fault.strerror or fault}; name another folder") from None
    try:
        fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(folder)
        raise InputError(f"{out}: another study is at work there; wait for its end, or name another folder") from None
    except OSError:  # a file system without locks
        pass
    try:
        yield
    finally:
        os.close(folder)


def _lines(file: Path) -> Iterator[bytes]:
    with open(file, "rb") as lines:
        while line := lines.readline(LONGEST_LINE):
            yield line


def _study_of(file: Path) -> str | None:
    """The study that the first line names; None where there is none that can be read."""
    if not stat.S_ISREG(file.stat().st_mode):
        raise InputError(f"{file}: is no regular file; name another folder")
    try:
        study = json.loads(next(_lines(file)))["study"]
        return study if re.fullmatch(r"\w{1,40}", study, re.ASCII) else None
    except (ValueError, LookupError, TypeError, RecursionError, StopIteration):
        return None


def _free(file: Path, label: str) -> Path:
    """A name beside the file, with a label, that is not taken."""
    names = (file.with_suffix(f".{label}{f'-{k}' if k > 1 else ''}.jsonl") for k in itertools.count(1))
    return next(name for name in names if not os.path.lexists(name))


def _refuse(what: object) -> NoReturn:
    raise ValueError(what)


def _quantity(given: Mapping[str, Any]) -> Quantity:
    also = tuple(tuple(path) for path in given["also"])
    out = Quantity(**{**given, "path": tuple(given["path"]), "also": also})
    for field in fields(out)[1:]:  # after the path
        if type(getattr(out, field.name)) is not (str if field.default is MISSING else type(field.default)):
            _refuse(given)
    if len(out.path) < 2 or any(hidden_in(name) for path in (out.path, *also) for name in path):
        _refuse(given)
    return out


def _or_none(value: float) -> float | str | None:
    """A number as JSON holds it: null for NaN, and a word for infinity."""
    return None if math.isnan(value) else value if math.isfinite(value) else str(value)


def _numbers(values: Iterable[object]) -> Array:
    """The numbers that `_or_none` wrote; ValueError for anything else."""
    return np.array([_number(value) for value in values], float)


def _number(value: object) -> float:
    if value is None:
        return math.nan
    if type(value) in (int, float) or value in ("inf", "-inf"):
        return float(value)  # type: ignore[arg-type]
    _refuse(value)


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
    rows = [[*study.names, "status", "message", *(name for name, _ in columns)]]
    for k, d in enumerate(study.designs):
        row = [f"{v[k]:.10g}" if math.isfinite(v[k]) else "" for _, v in columns]
        rows.append([*(repr(d.values[n]) for n in study.names), d.status, d.message, *row])
    write_csv(path, rows)
