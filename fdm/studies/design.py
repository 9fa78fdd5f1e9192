"""One design: its varied numbers, and every number that it answers once it is solved.

A worker runs this file. It reads no files: it receives sections and cabinets that have been read already.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from fdm.answers.quantity import Answers, joined, named_numbers
from fdm.errors import InputError
from fdm.section.model import Section
from fdm.solving.solution import Solution
from fdm.solving.steady import solve

if TYPE_CHECKING:  # workers that solve sections only start sooner without it
    from fdm.cabinet.model import Cabinet
    from fdm.cabinet.section_file import SectionFile

KEPT_SECTIONS = 12  # solved sections of cabinets that a worker keeps; each some 10 MB

Values = tuple[tuple[str, float], ...]
NOTHING = Answers((), np.empty(0), np.empty(0))


@dataclass(frozen=True)
class Design:
    """One design: its varied numbers, everything that it answers, and its warnings. A design that failed has no
    answers, and a message that says why."""

    values: Mapping[str, float]
    answers: Answers = field(default_factory=lambda: NOTHING)
    message: str = ""
    crashed: bool = False  # it failed although the input is right, and is tried again
    met: bool = True  # all its solves meet their target
    warnings: tuple[str, ...] = ()

    @property
    def status(self) -> str:
        return "crashed" if self.crashed else "failed" if self.message else "done"


def design_key(values: Mapping[str, float]) -> Values:
    """The key of a design: two designs are the same where equal names have equal numbers, in any order."""
    return tuple(sorted((n, float(v)) for n, v in values.items()))


def design_in_words(values: Mapping[str, float], names: Iterable[str] | None = None) -> str:
    """A design in words.

    >>> design_in_words({"plate": 6.0, "wall": 30.0})
    'plate = 6, wall = 30'
    """
    return ", ".join(f"{n} = {values[n]:.6g}" for n in (values if names is None else names))


# ---- solving --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Common:
    """What all designs of a study have in common. `study` identifies the study; `first` is the section file as it
    stands: designs with the same drawing are solved on its grids, whichever worker solves them."""

    study: str
    target: float
    first: Section | None = None


def solved(common: Common, designs: "Sequence[tuple[Mapping[str, float], Section | Cabinet]]") -> list[Design]:
    """The designs, given by their values and what is read with them, solved one after the other."""
    return [_solved(common, values, case) for values, case in designs]


def _solved(common: Common, values: Mapping[str, float], case: "Section | Cabinet") -> Design:
    values = dict(values)
    try:
        if isinstance(case, Section):
            solution = solve(case, common.target, like=_first_solution(common, case))
            if solution.failed:
                return Design(values, message=solution.failed)
            answers = joined([solution.answers, named_numbers(case.let)])
            return Design(values, answers, met=solution.grid.target_met, warnings=solution.warnings)
        from fdm.cabinet.solution import solve_cabinet

        sections = {
            file: _kept_solution(_StudySection(common.study, file.section, file), common.target)
            for file in case.section_files
            if file is not None
        }
        cabinet = solve_cabinet(case, sections, common.target)
        if cabinet.failed:
            return Design(values, message=cabinet.failed)
        answers = joined([cabinet.answers, named_numbers(case.let)])
        met = all(solution.grid.target_met for solution in cabinet.sections.values())
        return Design(values, answers, met=met, warnings=cabinet.warnings)
    except InputError as fault:
        return Design(values, message=str(fault))
    except Exception as fault:  # noqa: BLE001  the other designs are solved all the same
        return Design(values, message=f"{type(fault).__name__}: {fault}", crashed=True)


def _first_solution(common: Common, section: Section) -> Solution | None:
    """The solution on whose grids the section is solved; None where its drawing differs."""
    if common.first is None or common.first.plan != section.plan:
        return None
    return _kept_first(_StudySection(common.study, common.first), common.target)


# A worker keeps some solved sections from design to design. They live at the module, and not in an object, because an
# executor hands a worker nothing but single calls: between two of them only modules last.


@dataclass(frozen=True)
class _StudySection:
    """A section, identified by its study and by the cabinet's section file with its overrides, as these mean the same
    section within one study only. Without `file` it is the study's own file as it stands."""

    study: str
    section: Section = field(compare=False)
    file: "SectionFile | None" = None


@lru_cache(KEPT_SECTIONS)
def _kept_solution(asked: _StudySection, target: float) -> Solution:
    """A cabinet's section, solved once by each worker: most varied numbers leave most sections as they are."""
    return solve(asked.section, target)


@lru_cache(1)
def _kept_first(asked: _StudySection, target: float) -> Solution | None:
    """The file as it stands, solved; None where it cannot be solved. The designs are then solved without it, and it is
    not tried again for each of them."""
    try:
        return solve(asked.section, target)
    except Exception:  # noqa: BLE001
        return None
