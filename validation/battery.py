"""A battery: do the bands hold on sections drawn by chance? Each is checked with independent finite elements.

`python -m validation.battery` draws sections of every class of `validation.random_sections`, solves each to the target,
and once more with the finite elements of `validation.finite_elements`. It prints by class, and by kind of answer, how
many values lie outside their bands, and then the worst of these with all that is needed to draw them again.

The finite elements are solved on two meshes at least. Their change from one to the next is what they are known to;
where it is not below a fifth of a band, a finer mesh follows, while it stays small enough. A value that is still known
no better is undecided: it is counted, and judged neither way. So are the values of sections that miss their target.
"""

import argparse
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np
from rich.console import Console
from rich.progress import track
from rich.table import Table

from fdm import InputError, Solution, solve
from fdm.accuracy.refinement import TARGET
from fdm.answers import network, sensors
from fdm.answers.grid import KELVIN, UnitAnswers
from fdm.answers.quantity import Array
from fdm.conduction.network import NetworkValues
from fdm.section.model import Section
from validation.finite_elements import Model
from validation.random_sections import CLASSES, section_of

KINDS = (sensors, network)  # of answers, that finite elements have as well
CELLS = (4, 6, 9, 13, 19, 28)  # of the meshes, one after the other
MOST_ELEMENTS = 20_000  # of any mesh after the second
DECIDED = 0.2  # of a band: what a reference may leave open
# of the median change from mesh to mesh in one family: what a reference leaves open, however little it changed itself
COMMON = 0.3
ROUNDING = 1e-7  # relative: a smaller error says nothing, nor does a smaller band
WORST = 20  # rows that are listed


@dataclass(frozen=True)
class Row:
    """One value of one section beside its reference, which is known to `known_to`."""

    kind: str  # class of the section
    seed: int
    number: int
    title: str
    path: str
    family: str  # kind of answer
    value: float
    band: float
    reference: float
    known_to: float
    rounding: float  # an error or band below this is none

    @property
    def error(self) -> float:
        return abs(self.value - self.reference)

    @property
    def decided(self) -> bool:
        return self.known_to <= DECIDED * max(self.band, 5 * self.rounding)

    @property
    def bands_off(self) -> float:
        """The error that is certain, in bands: above 1, the value lies outside."""
        return max(self.error - self.known_to - self.rounding, 0.0) / max(self.band, self.rounding)

    @property
    def outside(self) -> bool:
        return self.decided and self.bands_off > 1

    @property
    def caution(self) -> float:
        """Band over error; NaN where either is mere rounding."""
        return self.band / self.error if min(self.band, self.error) > self.rounding else np.nan


@dataclass(frozen=True)
class Trial:
    """A section of the battery. Rows are there only where its target is met."""

    kind: str
    seed: int
    number: int
    rows: tuple[Row, ...] = ()
    missing: str = ""  # why there are no rows


def run(
    sections: int = 20,
    seed: int = 1,
    target: float = TARGET,
    classes: Sequence[str] = tuple(CLASSES),
    processes: int = 1,
    progress: Callable[[Iterable[Trial], int], Iterable[Trial]] = lambda trials, count: trials,
) -> list[Trial]:
    """`sections` of each class; `progress` may watch the trials as they are done, and their number.

    Raises InputError where there is no such class.
    """
    for kind in classes:
        if kind not in CLASSES:
            raise InputError(f"classes: there is no class {kind!r}; known are {', '.join(CLASSES)}")
    drawn = [(kind, number) for number in range(sections) for kind in classes]
    with _mapping(processes) as mapped:
        return list(progress(mapped(partial(_trial_of, seed=seed, target=target), drawn), len(drawn)))


@contextmanager
def _mapping(processes: int) -> Iterator[Callable[..., Iterable[Trial]]]:
    if processes > 1:
        with ProcessPoolExecutor(processes) as pool:
            yield pool.map
    else:
        yield map


def _trial_of(drawn: tuple[str, int], seed: int, target: float) -> Trial:
    return trial(*drawn, seed, target)


def trial(kind: str, number: int, seed: int = 1, target: float = TARGET) -> Trial:
    """One section, always the same for the same class, number and seed."""
    try:
        section = section_of(kind, seed, number)
        solution = solve(section, target)
        if not solution.grid.target_met:
            return Trial(kind, seed, number, missing=f"target not met: {solution.grid.note}")
        return Trial(kind, seed, number, tuple(_rows(kind, seed, number, solution)))
    except InputError as fault:
        return Trial(kind, seed, number, missing=str(fault))


def _rows(kind: str, seed: int, number: int, solution: Solution) -> Iterator[Row]:
    section, values = solution.section, solution.network.values
    asked = [q for of in KINDS for q in of.quantities(solution.system)]
    value, band = np.array([solution.answers.at(q.path) for q in asked]).T
    size = np.concatenate([of.sizes(section, values, of.values(section, UnitAnswers(values))) for of in KINDS])
    size = np.where(np.isinf(size), KELVIN, size)  # misreadings have no target of their own
    reference, known_to = references(section, band, size, [q.family for q in asked])
    for k, q in enumerate(asked):
        yield Row(
            kind, seed, number, section.title, q.name, q.family, float(value[k]), float(band[k]),
            float(reference[k]), float(known_to[k]), ROUNDING * float(size[k]),
        )  # fmt: skip


def references(section: Section, band: Array, size: Array, family: Sequence[str]) -> tuple[Array, Array]:
    """(Q,) values by finite elements of all quantities of `KINDS`, and what they are known to, on as many meshes as
    bands (Q,) ask for; `size` (Q,) is what errors are relative to, `family` (Q,) what is compared with each other."""
    alike = np.array(family)[:, None] == np.array(family)
    coarse, elements = _by_finite_elements(section, CELLS[0])
    for before, cells in pairwise(CELLS):
        if cells != CELLS[1] and elements * (cells / before) ** 2 > MOST_ELEMENTS:
            break
        fine, elements = _by_finite_elements(section, cells)
        change = abs(fine - coarse) / size
        known_to = size * np.maximum(change, COMMON * np.array([np.median(change[a]) for a in alike]))
        coarse = fine
        if (known_to <= DECIDED * np.maximum(band, 5 * ROUNDING * size)).all():
            break
    return coarse, known_to


def _by_finite_elements(section: Section, cells: int) -> tuple[Array, int]:
    """(Q,) values, and the number of elements."""
    model = Model(section, cells)
    found: NetworkValues = model.answers()
    return np.concatenate([of.values(section, UnitAnswers(found)) for of in KINDS]), int(model.mesh.nelements)


# ---- tables ---------------------------------------------------------------------------------------------------------


def table(trials: Sequence[Trial]) -> Table:
    """By class, and by kind of answer."""
    out = Table(title="Values beside finite elements")
    headings = ("", "sections", "values", "outside", "beyond three bands", "band over error, median", "undecided")
    for heading in (*headings, "no target met"):
        out.add_column(heading, justify="left" if not heading else "right")
    rows = [row for t in trials for row in t.rows]
    for kind in dict.fromkeys(t.kind for t in trials):
        some = [t for t in trials if t.kind == kind]
        solved, missing = sum(not t.missing for t in some), sum(bool(t.missing) for t in some)
        out.add_row(kind, str(solved), *_counted([r for r in rows if r.kind == kind]), str(missing))
    out.add_section()
    for family in dict.fromkeys(r.family for r in rows):
        some_rows = [r for r in rows if r.family == family]
        out.add_row(family, str(len({(r.kind, r.number) for r in some_rows})), *_counted(some_rows), "")
    out.add_section()
    solved, missing = sum(not t.missing for t in trials), sum(bool(t.missing) for t in trials)
    out.add_row("all", str(solved), *_counted(rows), str(missing))
    return out


def _counted(rows: Sequence[Row]) -> tuple[str, ...]:
    decided = [r for r in rows if r.decided]
    cautions = [r.caution for r in decided if np.isfinite(r.caution)]
    beyond = sum(r.bands_off > 3 for r in decided)
    median = f"{np.median(cautions):.1f}" if cautions else "-"
    return str(len(decided)), str(sum(r.outside for r in decided)), str(beyond), median, str(len(rows) - len(decided))


def offenders(trials: Sequence[Trial]) -> list[Row]:
    """All that lie outside, the worst first."""
    return sorted((r for t in trials for r in t.rows if r.outside), key=lambda r: -r.bands_off)


def listed(rows: Sequence[Row]) -> Table:
    """Rows with what is needed to draw their sections again: `section_of(class, seed, number)`."""
    out = Table(title="The worst of those outside: validation.random_sections.section_of(class, seed, number)")
    for heading in ("class, seed, number", "title", "path", "value", "band", "reference", "known to", "bands off"):
        out.add_column(heading, overflow="fold")
    for r in rows:
        number = f"{r.kind}, {r.seed}, {r.number}"
        values = (f"{r.value:.8g}", f"{r.band:.2g}", f"{r.reference:.8g}", f"{r.known_to:.1g}", f"{r.bands_off:.2f}")
        out.add_row(number, r.title, r.path, *values)
    return out


def _share(text: str) -> float:
    """0.5% or 0.005."""
    return float(text[:-1]) / 100 if text.endswith("%") else float(text)


def main() -> int:
    words = argparse.ArgumentParser(prog="python -m validation.battery", description=__doc__.splitlines()[0])
    words.add_argument("--sections", type=int, default=20, metavar="N", help="sections to draw of each class (20)")
    words.add_argument("--seed", type=int, default=1, metavar="S", help="of the draw (1)")
    words.add_argument("--target", type=_share, default=TARGET, metavar="SHARE", help=f"such as 0.5%% ({TARGET:.1%}%)")
    words.add_argument("--classes", nargs="+", default=list(CLASSES), choices=list(CLASSES), metavar="CLASS",
                       help=", ".join(CLASSES))  # fmt: skip
    words.add_argument("--processes", type=int, default=1, metavar="N", help="to solve in, side by side (1)")
    asked = words.parse_args()
    errors, console = Console(stderr=True), Console(width=None if sys.stdout.isatty() else 150)

    def watched(trials: Iterable[Trial], count: int) -> Iterable[Trial]:
        return track(trials, "solving", count, console=errors, transient=True)

    trials = run(asked.sections, asked.seed, asked.target, asked.classes, asked.processes, watched)
    console.print(table(trials))
    for t in trials:
        if t.missing:
            console.print(f"not judged: {t.kind}, {t.seed}, {t.number}: {t.missing}")
    if found := offenders(trials):
        console.print(listed(found[:WORST]))
    return 0


if __name__ == "__main__":
    sys.exit(main())
