"""Solve many designs of one file, side by side, keeping each as it is done.

A study is kept as lines of JSON, one a design, and ended with a table (CSV). Lines hold the design's values, whether it
is `done`, `failed` (the input is at fault; it would fail again) or `crashed` (tried again), and the study they belong
to: a hash of the text of the file, of the section files it names, of the target, and of the program itself with its
table of materials.
"""

import csv
import hashlib
import itertools
import json
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    wait,
)
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache, cached_property, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fdm.accuracy.refinement import TARGET
from fdm.errors import InputError, nearest
from fdm.section.files import written_beside
from fdm.section.model import Section
from fdm.section.reader import section_in
from fdm.section.tables import read_document
from fdm.solving.solution import Solution
from fdm.solving.steady import solve
from fdm.studies.choices import Given, designs
from fdm.studies.paths import (
    Answers,
    Array,
    band_path,
    cabinet_answers,
    found,
    found_all,
    main_answers,
    section_answers,
)

if TYPE_CHECKING:  # workers that solve sections only start sooner without it
    from fdm.cabinet.model import Cabinet, SectionFile

LINES, TABLE = "study.jsonl", "study.csv"
TABLE_EVERY = 5.0  # s after which the table is written anew while a study runs
CHUNK = 4  # designs handed over at once, at most: few enough that a stop comes soon
AHEAD = 3  # chunks a worker, handed over before they are wanted
LEAST_SPREADING = 1e-3  # of the largest, among a study's main answers
KEPT_MEMORY = 64_000_000  # bytes that a worker keeps for the next design
KEPT_SECTIONS = 12  # solved sections of cabinets that a worker keeps; each some 10 MB

Values = tuple[tuple[str, float], ...]
Say = Callable[[str], None]


@dataclass(frozen=True)
class Design:
    """One design: its varied numbers, and every number it answers by path; none, and why, where it failed; and what it
    was warned of."""

    values: Mapping[str, float]
    answers: Answers
    message: str = ""
    crashed: bool = False
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Study:
    """Designs in the order asked for, or the best first. `columns`: the asked answers, `names`: all that were set."""

    path: str
    names: tuple[str, ...]
    designs: tuple[Design, ...]
    columns: tuple[str, ...]
    target: float

    @property
    def varied(self) -> tuple[str, ...]:
        """The names with more than one value."""
        return tuple(n for n in self.names if len({d.values[n] for d in self.designs}) > 1)

    @property
    def failed(self) -> tuple[Design, ...]:
        return tuple(d for d in self.designs if d.message)

    @cached_property
    def known(self) -> tuple[str, ...]:
        """Every path that some design answers."""
        return tuple(dict.fromkeys(path for d in self.designs for path in d.answers))

    @cached_property
    def main(self) -> tuple[str, ...]:
        """What a builder looks at first, of the answers that have a value; no spreading that is next to nothing."""
        valued = [p for p in self.known if any(d.answers.get(p) is not None for d in self.designs)]
        paths = main_answers(valued)
        size = {p: np.nanmax(abs(self.values(p))) for p in paths if p.startswith("spreading.")}
        least = LEAST_SPREADING * max(size.values(), default=0.0)
        return tuple(p for p in paths if size.get(p, least) >= least)

    @property
    def missed(self) -> int:
        """Number of designs with an answer that misses the target."""
        return sum(any(v == 0 for p, v in d.answers.items() if p.endswith("grid.target_met")) for d in self.designs)

    def inputs(self, name: str) -> Array:
        """(designs,) values of a varied name."""
        return np.array([d.values[name] for d in self.designs])

    def values(self, answer: str) -> Array:
        """(designs,) values of an answer; NaN where a design failed or has none. InputError for an unknown answer."""
        path = found(answer, self.known)
        return np.array([_or_nan(d.answers.get(path)) for d in self.designs])

    def bands(self, answer: str) -> Array:
        """(designs,) half-widths of their errors; the study's target where the result states none."""
        path = found(answer, self.known)
        if path.startswith("let."):
            return np.zeros(len(self.designs))
        band = band_path(path, self.known)
        if band is None:
            return self.target * np.abs(self.values(path))
        return np.array([np.inf if (b := d.answers.get(band)) is None else b for d in self.designs])


def _or_nan(value: float | None) -> float:
    return np.nan if value is None else value


def study(
    path: str | os.PathLike[str],
    varied: Mapping[str, Given] | Sequence[Mapping[str, float]],
    *,
    executor: Executor | None = None,
    workers: int | None = None,
    cluster: str | None = None,
    out: str | os.PathLike[str] | None = None,
    target: float = TARGET,
    answers: Sequence[str] | None = None,
    progress: Say | None = None,
) -> Study:
    """Every number that a section or cabinet file answers, for many designs: those of `designs(...)`, or what it takes.

    They are solved by `workers` processes (one for each processor), by the `executor` given, or by the workers of the
    Dask `cluster` at that address. With a folder `out` each design is kept in study.jsonl as soon as it is done, and
    study.csv is written at the end; started again after an interruption, it solves only what is missing. `answers` are
    the paths to put in the table, or the beginnings of such (all, if left out). `progress` is called with a line of
    text after each design.

    A design that fails is kept with its message. Raises InputError where the file cannot be read, a varied name is not
    in its [let], an answer is unknown, or every design fails. In a script of one's own, call it below
    `if __name__ == "__main__":`, as the worker processes read the script too.
    """
    job = Job(path, target)
    wanted = job.checked(designs(varied) if isinstance(varied, Mapping) else varied)
    kept = Kept(job, out)
    count = Count(progress, wanted, kept)
    written = time.monotonic()
    with workbench(executor, workers, cluster, sum(d not in kept for d in wanted)) as bench:
        try:
            for design in solved_designs(job, wanted, kept, bench):
                if answers and not design.message:
                    for asked in answers:
                        found_all(asked, design.answers)
                count(design)
                if out is not None and time.monotonic() - written > TABLE_EVERY:
                    _write_so_far(job, wanted, kept, answers, out)
                    written = time.monotonic()
        except BaseException:
            if out is not None:
                _write_so_far(job, wanted, kept, answers, out)
            raise
    return concluded(job, [kept[d] for d in wanted], answers, out)


def _write_so_far(
    job: "Job", wanted: Sequence[Mapping[str, float]], kept: "Kept", answers: Sequence[str] | None,
    out: str | os.PathLike[str],
) -> None:  # fmt: skip
    done = [kept[d] for d in wanted if d in kept]
    if any(not d.message for d in done):
        concluded(job, done, answers, out)


def concluded(
    job: "Job", done: Sequence[Design], answers: Sequence[str] | None = None, out: str | os.PathLike[str] | None = None
) -> Study:
    """The study of designs that are done, and its table in the folder `out`."""
    if all(d.message for d in done):
        why = done[0].message.removeprefix(f"{job.path}: ")
        raise InputError(f"{job.path}: every design failed; the first, {said(done[0].values)}: {why}")
    names = tuple(dict.fromkeys(n for d in done for n in d.values))
    known = tuple(dict.fromkeys(p for d in done for p in d.answers))
    if answers:
        columns = tuple(dict.fromkeys(p for asked in answers for p in found_all(asked, known)))
    else:
        columns = tuple(p for p in known if p not in {f"let.{n}" for n in names})
    result = Study(job.path, names, tuple(done), columns, job.target)
    if out is not None:
        write_table(result, Path(out) / TABLE)
    return result


def write_table(result: Study, path: str | os.PathLike[str]) -> None:
    """The study as CSV, in SI units: a row a design, in their order. Raises InputError where it cannot be written."""
    with written_beside(Path(path)) as temporary, open(temporary, "w", newline="", encoding="utf-8") as file:
        write = csv.writer(file, lineterminator="\n")
        write.writerow([*result.names, "status", "message", *result.columns])
        for d in result.designs:
            numbers = (d.answers.get(path) for path in result.columns)
            row = ["" if v is None else f"{v:.10g}" for v in numbers]
            write.writerow([*(repr(d.values[n]) for n in result.names), _status(d), d.message, *row])


def said(values: Mapping[str, float], names: Iterable[str] | None = None) -> str:
    """A design in words.

    >>> said({"plate": 6.0, "wall": 30.0})
    'plate = 6, wall = 30'
    """
    return ", ".join(f"{n} = {values[n]:.6g}" for n in (values if names is None else names))


class Job:
    """A file whose designs are solved to one target. Raises InputError where it cannot be read."""

    def __init__(self, path: str | os.PathLike[str], target: float) -> None:
        self.path, self.target = os.fspath(path), target
        if not 0 < target < 1:
            raise InputError(f"target: {target!r} is not a share between 0 and 1, such as 0.005 or 0.5%")
        try:
            document = self._document = read_document(self.path)
        except InputError as fault:
            raise InputError(f"{self.path}: {fault}") from None
        self.cabinet = "cabinet" in document
        let = document.get("let", {})
        self.let = tuple(let) if isinstance(let, dict) else ()
        self.study = self._hash(document)

    def _hash(self, document: Mapping[str, object]) -> str:
        folder = Path(self.path).parent
        digest = hashlib.sha256(repr(self.target).encode() + program_hash())
        files = sorted(set(_section_paths(document))) if self.cabinet else []
        for file in (Path(self.path), *(folder / name for name in files)):
            text = file.read_bytes() if file.is_file() else b""
            digest.update(len(text).to_bytes(8, "big") + text)
        return digest.hexdigest()[:16]

    def checked(self, wanted: Iterable[Mapping[str, float]]) -> list[dict[str, float]]:
        """The designs, each once. Raises InputError for names that the file's [let] does not have, and for none."""
        out = list({_key(d): dict(d) for d in wanted}.values())
        if not out or not out[0]:
            raise InputError(f"{self.path}: no designs to solve; give at least one value of a name in [let]")
        for name in out[0]:
            if name not in self.let:
                raise InputError(
                    f"{self.path}: let: there is no named number {name!r} to vary; {nearest(name, self.let)}"
                )
        if any(d.keys() != out[0].keys() for d in out):
            raise InputError(f"{self.path}: the designs set different names; give each of them all names that vary")
        return out

    @property
    def first(self) -> Section | None:
        """A section file as it stands; None where that makes no sense, and of a cabinet."""
        try:
            return None if self.cabinet else section_in(self._document, self.path, {})
        except InputError:
            return None

    def refuse_changed(self) -> None:
        """Raise InputError where a file of the study, read again for each cabinet, is no longer what it was."""
        if self.cabinet and self._hash(self._document) != self.study:
            raise InputError(f"{self.path}: it, or a section file it names, was changed; start the study again")

    def read(self, values: Mapping[str, float]) -> "Section | Cabinet":
        if not self.cabinet:
            return section_in(self._document, self.path, values)
        from fdm.cabinet.reader import read_cabinet

        return read_cabinet(self.path, **values)


@cache
def program_hash(package: Path = Path(__file__).parents[1]) -> bytes:
    """Of all that answers come from beside the files: the program's own text and its table of materials."""
    # not of its version number, which stays while the program is worked on
    digest = hashlib.sha256()
    for file in sorted(f for f in package.rglob("*") if f.suffix in (".py", ".csv")):
        text = file.read_bytes()
        digest.update(f"{file.relative_to(package).as_posix()} {len(text)}\n".encode() + text)
    return digest.digest()


def _section_paths(table: object) -> Iterator[str]:
    """Every `section = "PATH"` in a cabinet file's tables."""
    if isinstance(table, list):
        for value in table:
            yield from _section_paths(value)
    elif isinstance(table, dict):
        if isinstance(path := table.get("section"), str):
            yield path
        for value in table.values():
            yield from _section_paths(value)


class Kept:
    """The designs of a job that are done, in memory and, where a folder is given, in its study.jsonl."""

    def __init__(self, job: Job, out: str | os.PathLike[str] | None) -> None:
        self._study, self._done, self._file = job.study, dict[Values, Design](), None
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
                self._done[_key(design.values)] = design

    def __contains__(self, values: Mapping[str, float]) -> bool:
        return _key(values) in self._done

    def __getitem__(self, values: Mapping[str, float]) -> Design:
        return self._done[_key(values)]

    def __len__(self) -> int:
        return len(self._done)

    def add(self, design: Design) -> None:
        self._done[_key(design.values)] = design
        if self._file is None:
            return
        line = {"study": self._study, "design": dict(design.values), "status": _status(design)}
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


def _status(design: Design) -> str:
    return "crashed" if design.crashed else "failed" if design.message else "done"


def _key(values: Mapping[str, float]) -> Values:
    return tuple(sorted((n, float(v)) for n, v in values.items()))


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


class Count:
    """Says how far a study is: done, failed, and the time left at the pace so far."""

    def __init__(self, progress: Say | None, wanted: Sequence[Mapping[str, float]], kept: Kept) -> None:
        self._say, self._total, self._begin = progress, len(wanted), time.monotonic()
        before = [kept[d] for d in wanted if d in kept]
        self._before, self._done, self._failed = len(before), len(before), sum(bool(d.message) for d in before)
        if self._say and before:
            self._say(f"{len(before)} of {self._total} designs were done before")

    def __call__(self, design: Design) -> None:
        self._done += 1
        self._failed += bool(design.message)
        if self._say:
            pace = (time.monotonic() - self._begin) / (self._done - self._before)
            failed = f", {self._failed} failed" if self._failed else ""
            left = _duration(pace * (self._total - self._done))
            self._say(f"{self._done} of {self._total} designs{failed}{left}")


def _duration(seconds: float) -> str:
    if seconds < 1:
        return ""
    minutes = round(seconds / 60)
    if seconds < 90:
        return f", {seconds:.0f} s left"
    return f", {minutes} min left" if minutes < 90 else f", {minutes // 60} h {minutes % 60} min left"


@dataclass(frozen=True)
class Workbench:
    """Where designs are solved: here, without an executor."""

    executor: Executor | None
    workers: int


@contextmanager
def workbench(executor: Executor | None, workers: int | None, cluster: str | None, most: int) -> Iterator[Workbench]:
    """The given executor, the cluster's, or processes of our own, as many as `most` designs can use."""
    if workers is not None and workers < 1:
        raise InputError(f"workers: {workers} is no number of workers; give 1 or more")
    own = workers or (len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1)
    if executor is not None:
        yield Workbench(executor, own)
    elif cluster is not None:
        with _cluster(cluster) as bench:
            yield bench
    elif min(own, most) <= 1:
        yield Workbench(None, 1)
    else:
        with _processes(min(own, most)) as processes:
            yield Workbench(processes, min(own, most))


@contextmanager
def _processes(workers: int) -> Iterator[Executor]:
    """Worker processes with one thread each: the designs already keep every processor busy."""
    # spawned, as a fork would inherit threads; they take the environment of the moment they start, before numpy is read
    threads = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
    # memory stays with the process from array to array: a tenth of a small design is the system clearing it (glibc)
    memory = ("MALLOC_MMAP_THRESHOLD_", "MALLOC_TRIM_THRESHOLD_")
    settings = dict.fromkeys(threads, "1") | dict.fromkeys(memory, str(KEPT_MEMORY))
    before = {name: os.environ.get(name) for name in settings}
    os.environ.update(settings)
    context, ignored = multiprocessing.get_context("spawn"), signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    on_stop = (signal.SIGINT, signal.SIG_IGN if ignored else signal.SIG_DFL)  # ^C ends them without a word
    pool = ProcessPoolExecutor(workers, context, initializer=_begin_worker, initargs=on_stop)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _begin_worker(number: signal.Signals, handler: signal.Handlers) -> None:
    """Sets what a signal does, and ends the worker with the process that began it, however that one ends."""
    signal.signal(number, handler)
    parent = multiprocessing.parent_process()

    def end_with_it() -> None:
        assert parent is not None
        parent.join()
        os._exit(1)

    threading.Thread(target=end_with_it, daemon=True).start()


@contextmanager
def _cluster(address: str) -> Iterator[Workbench]:
    try:
        from distributed import Client
    except ImportError:
        raise InputError(
            "cluster: the package distributed is not installed; install it with pip install distributed"
        ) from None
    try:
        client = Client(address, timeout=10)
    except (OSError, ValueError, TimeoutError) as fault:
        raise InputError(
            f"cluster: no Dask scheduler answers at {address!r}; give its address, such as tcp://HOST:8786"
        ) from fault
    with client:
        yield Workbench(client.get_executor(), max(sum(client.ncores().values()), 1))


def solved_designs(job: Job, wanted: Iterable[Mapping[str, float]], kept: Kept, bench: Workbench) -> Iterator[Design]:
    """Each wanted design that is not kept yet, as it is done, kept by then."""
    missing, first = {_key(d): d for d in wanted if d not in kept}, job.first
    size = 1 if bench.executor is None else min(max(len(missing) // (8 * bench.workers), 1), CHUNK)
    waiting: dict[Future[list[Outcome]], list[Mapping[str, float]]] = {}
    try:
        for chunk in _chunks(list(missing.values()), size):
            cases = []
            for values in chunk:
                try:
                    cases.append((values, job.read(values)))
                except InputError as fault:
                    yield _keep(kept, values, ({}, str(fault), False))
            job.refuse_changed()
            if not cases:
                continue
            some, sections = [values for values, _ in cases], [case for _, case in cases]
            if bench.executor is None:
                for values, outcome in zip(some, outcomes(job.study, sections, job.target, first)):
                    yield _keep(kept, values, outcome)
                continue
            waiting[bench.executor.submit(outcomes, job.study, sections, job.target, first)] = some
            if len(waiting) >= AHEAD * bench.workers:
                yield from _returned(waiting, kept)
        while waiting:
            yield from _returned(waiting, kept)
    except CancelledError:
        raise InputError(f"the workers went away after {len(kept)} designs; start again to go on") from None
    except BrokenExecutor:
        raise InputError(
            f"the workers ended unexpectedly after {len(kept)} designs, perhaps for want of memory; try 1 worker"
            + ("" if len(kept) else '; in a script, call this below if __name__ == "__main__":')
        ) from None
    finally:
        for future in waiting:
            future.cancel()


def _chunks(items: list[Mapping[str, float]], size: int) -> Iterator[list[Mapping[str, float]]]:
    for k in itertools.count():
        if not (chunk := items[k * size : (k + 1) * size]):
            return
        yield chunk


def _returned(waiting: dict["Future[list[Outcome]]", list[Mapping[str, float]]], kept: Kept) -> Iterator[Design]:
    for future in wait(waiting, return_when=FIRST_COMPLETED).done:
        for values, outcome in zip(waiting.pop(future), future.result()):
            yield _keep(kept, values, outcome)


def _keep(kept: Kept, values: Mapping[str, float], outcome: "Outcome") -> Design:
    answers, message, crashed, *warnings = outcome
    design = Design(dict(values), answers, message, crashed, tuple(warnings))
    kept.add(design)
    return design


# the answers, or a message and whether it was no fault of the input; then warnings
Outcome = tuple[Answers, str, bool, *tuple[str, ...]]


def outcomes(
    study: str, cases: "Sequence[Section | Cabinet]", target: float, first: Section | None = None
) -> list[Outcome]:
    """What a worker does: the answers of some designs, which need no file any more. `first` is the section file as it
    stands: designs that are drawn like it are solved on its grids, whichever worker solves them."""
    return [_outcome(study, case, target, first) for case in cases]


def _outcome(study: str, case: "Section | Cabinet", target: float, first: Section | None) -> Outcome:
    try:
        if isinstance(case, Section):
            like = None
            if first is not None and first.drawn == case.drawn:
                like = _solved_first(_First(study, first), target)
            solution = solve(case, target, like=like)
            return section_answers(solution), "", False, *solution.warnings
        from fdm.cabinet.solution import solve_cabinet

        sections = {file: _solved_section(study, file, target) for file in case.section_files if file is not None}
        solved = solve_cabinet(case, sections, target)
        return cabinet_answers(solved), "", False, *solved.warnings
    except InputError as fault:
        return {}, str(fault), False
    except Exception as fault:  # noqa: BLE001  one design that cannot be solved must not cost the others
        return {}, f"{type(fault).__name__}: {fault}", True


@dataclass(frozen=True)
class _First:
    """The section of a study's file as it stands."""

    study: str
    section: Section = field(compare=False)


@lru_cache(1)
def _solved_first(first: _First, target: float) -> Solution | None:
    """None where it cannot be solved, which must not cost the designs."""
    try:
        return solve(first.section, target)
    except Exception:  # noqa: BLE001
        return None


@lru_cache(KEPT_SECTIONS)
def _solved_section(study: str, file: "SectionFile", target: float) -> Solution:
    """A cabinet's section, solved once by each worker: most varied numbers leave most sections as they are. A file and
    its overrides mean the same section only within one study."""
    return solve(file.section, target)
