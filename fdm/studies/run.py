"""Solve many designs of one file side by side, keep each one when it is done, and report progress."""

import os
import time
from collections.abc import Callable, Mapping, Sequence

from fdm.accuracy.refinement import TARGET
from fdm.answers.quantity import find_all
from fdm.answers.surfaces import may_be_lacking
from fdm.errors import texts_of
from fdm.studies.choices import Values, designs
from fdm.studies.design import Design
from fdm.studies.job import FunctionJob, Given, Job, job_of
from fdm.studies.result import Study, concluded
from fdm.studies.store import Kept, alone_in, write_table
from fdm.studies.workers import Workers, solved_designs, workbench

# the table is written anew while a study runs: after so many s, or so many times as long as that took the last time
TABLE_EVERY, TABLE_PAUSE = 5.0, 50.0

Say = Callable[[str], None]


def study(
    given: Given,
    varied: Mapping[str, Values] | Sequence[Mapping[str, float]],
    *,
    workers: Workers = None,
    out: str | os.PathLike[str] | None = None,
    target: float = TARGET,
    answers: str | Sequence[str] | None = None,
    progress: Say | None = None,
) -> Study:
    """Every number that a section or cabinet answers, for many designs.

    `given` is the path of a file whose named numbers vary; or a section that was read from one, with the numbers that
    were changed in it; or a function that takes the numbers that vary, by name, and returns a section or a cabinet.
    `varied` are names with their values, as in {"base": [4, 6, 8], "fins": "8:14:2"}; or the designs themselves, such
    as `fdm.studies.designs` returns.

    The designs are solved by as many processes as `workers` says (left out: one for each processor); or, where it is
    one, by an executor of `concurrent.futures`; or on the Dask cluster at that address. A function runs in the calling
    process alone, and may be of any kind.

    With a folder `out`, each design is kept in study.jsonl as soon as it is done, and study.csv is written at the end;
    a study that is started again solves only the missing designs. `answers` are the paths, or beginnings of paths, in
    the table; left out, all are. `progress` is called with a line of text after each design.

    A design that fails is kept with its message. Raises InputError where the file cannot be read; where a varied name
    is not in its [let], or no argument of the function; where an answer is unknown; where another study is at work in
    `out`, or a function's designs are to be kept there; FailedChecks, an InputError too, where every design fails. In a
    script, call it below `if __name__ == "__main__":`, as the worker processes read the script too.

    >>> found = study("geometries/bolt.toml", {"foam": "40,60"}, workers=1)
    >>> thin, thick = found.values("bridge.bolt with its bush.chi")  # W/K
    >>> bool(thin > thick)
    True
    """
    job = job_of(given, target, out)
    wanted = job.checked(designs(varied, counted=job.counted) if isinstance(varied, Mapping) else varied)
    asked = () if answers is None else texts_of(answers, "answers", "'sensors'")
    job.refuse_unknown(wanted[0], lambda known: [find_all(a, known) for a in asked])
    with alone_in(out):
        kept = Kept(job.study, out)
        count = Count(progress, wanted, kept)

        def write_so_far() -> None:
            write_done(job, [kept[d] for d in wanted if d in kept], out, asked)

        next_table = time.monotonic() + TABLE_EVERY
        with workbench(workers, sum(d not in kept for d in wanted)) as bench:
            try:
                for design in solved_designs(job, wanted, kept, bench):
                    _refuse_unanswered(asked, design)
                    count(design)
                    if (begun := time.monotonic()) > next_table:
                        write_so_far()
                        ended = time.monotonic()
                        next_table = ended + max(TABLE_EVERY, TABLE_PAUSE * (ended - begun))
            except BaseException:  # ^C as well
                write_so_far()
                raise
        result = concluded(job.path, target, [kept[d] for d in wanted], asked, kept.remarks, job.kinds)
        if out is not None:
            write_table(result, out)
    return result


def _refuse_unanswered(asked: Sequence[str], design: Design) -> None:
    """Raise InputError for an answer that a solved design should have and does not have. Which answers a cabinet has
    shows only now."""
    for answer in asked if not design.message else ():
        if not may_be_lacking(answer):
            find_all(answer, design.answers.quantities)


def write_done(
    job: Job | FunctionJob, done: Sequence[Design], out: str | os.PathLike[str] | None, answers: Sequence[str] = ()
) -> None:
    """Write the table of the designs that are done, where there is a folder for it and one of them has answers."""
    if out is not None and any(not d.message for d in done):
        write_table(concluded(job.path, job.target, done, answers), out)


class Count:
    """Reports the progress of a study: designs done and failed, and the time left at the pace so far."""

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
