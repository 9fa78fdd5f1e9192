"""What a section file answers with other uncertain and named numbers, in milliseconds.

The file is solved once, on three grids. Every other answer is that one plus the difference that the other numbers make
on one grid, whose lines move with the drawing; the grid's own error cancels in this difference.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np

from fdm.answers.grid import SolvedGrid, UnitAnswers
from fdm.answers.kinds import solved
from fdm.answers.quantity import Answers, Array
from fdm.conduction.inputs import input_factors, inputs_of
from fdm.conduction.systems import conduction_system
from fdm.errors import in_file
from fdm.grid.lines import first_lines, halved
from fdm.grid.moving import moved_grid
from fdm.inference.adjoint import AdjointSystems, adjoint_systems
from fdm.inference.following import followed
from fdm.section.model import Section, Uncertain
from fdm.section.reader import read_section, section_in
from fdm.section.tables import read_document
from fdm.section.uncertain import MATERIALS, conductivity_of
from fdm.solving.solution import Solution
from fdm.solving.steady import solve

Moves = Mapping[str, float]  # by place, in the file's unit
Let = Mapping[str, float | str]

AS_IT_STANDS: Let = MappingProxyType({})
IN_SECTION = 1  # number of the grid, of a solution's three, on which differences are computed


@dataclass(frozen=True)
class SectionReanalysis:
    """A solved section file, which also answers with other numbers."""

    path: str
    let: Let
    solution: Solution = field(repr=False)

    @property
    def inputs(self) -> tuple[Uncertain, ...]:
        """The uncertain numbers."""
        return self.solution.section.uncertain

    @property
    def named(self) -> Mapping[str, float]:
        """The numbers of [let]."""
        return self.solution.section.let

    @property
    def answers(self) -> Answers:
        """The answers of the file as solved."""
        return self.solution.answers

    @property
    def failed(self) -> str:
        """Which of their checks the answers of the file as solved failed, in a sentence; empty: none."""
        return self.solution.failed

    @property
    def warnings(self) -> tuple[str, ...]:
        """Those of the file as solved."""
        return self.solution.warnings

    @property
    def measurable(self) -> Answers:
        """The answers that a measured file may have: all of them."""
        return self.solution.answers

    def values(self, moved: Moves, let: Let = AS_IT_STANDS) -> Array:
        """(Q,) the answers, in their order, with uncertain numbers `moved` and named numbers `let`."""
        section = followed(self.solution, self._read(moved, let))
        before = self.solution.grids[IN_SECTION]
        return moved_values(self.solution, section, before.answers, solved_near(before, section).answers)

    def measured(self, moved: Moves, let: Let = AS_IT_STANDS) -> Array:
        """(Q,) the measurable answers with uncertain numbers `moved` and named numbers `let`."""
        return self.values(moved, let)

    def ends(self, place: str, step: float) -> tuple[Array, Array]:
        """(Q,) the answers with one number less by `step`, and greater by it. Where no edge moves with the number, they
        come from the unit fields and adjoints, without a solve."""
        own = self.solution.section
        of_material = any(u.place == place and u.table == MATERIALS for u in self.inputs)
        probes = any(s.is_pulled for s in own.sensors)
        if of_material and self.solution.frozen is None and not probes:  # nothing in the file depends on it
            sections = own, own
            factors = [self._of_material(place, d) for d in (-step, step)]
        else:
            less_read, more_read = (followed(self.solution, self._read({place: d})) for d in (-step, step))
            sections = less_read, more_read
            factors = [f for s in sections if (f := input_factors(own, s)) is not None]
        if len(factors) < 2:
            return self.values({place: -step}), self.values({place: step})
        before, after = self.adjoint.as_solved, self.adjoint.with_scaled_inputs(np.array(factors))
        less, more = (moved_values(self.solution, s, before, end) for s, end in zip(sections, after))
        return less, more

    def centred(self, moved: Moves, let: Let, target: float) -> "SectionReanalysis":
        """The same file with other numbers, solved with these on three grids."""
        return replace(self, solution=_solved(self.path, moved, {**self.let, **let}, target, self.solution))

    @cached_property
    def adjoint(self) -> AdjointSystems:
        """The adjoint systems on the grid before the finest."""
        return adjoint_systems(self.solution.grids[IN_SECTION])

    @cached_property
    def _document(self) -> dict[str, object]:
        return read_document(self.path)

    def _read(self, moved: Moves, let: Let = AS_IT_STANDS) -> Section:
        return section_in(self._document, self.path, {**self.let, **let}, moved)

    def _of_material(self, place: str, step: float) -> Array:
        """(I,) factors of the inputs where a built-in material's conductivity moves."""
        section = self.solution.section
        out = np.ones(len(inputs_of(section)))
        for k, part in enumerate(section.parts):
            for share, material in part.layers:
                if part.material is not None and material is not None and conductivity_of(material.name) == place:
                    out[k] += share * step / part.material.conductivity[0]
        of_fins = len(section.parts) + len(section.environments) + len(section.joints)
        for k, fins in enumerate(section.fins):
            if conductivity_of(fins.material.name) == place:
                out[of_fins + 2 * k] += step / fins.material.conductivity[0]
        return out


def section_reanalysis(
    path: str, let: Let = AS_IT_STANDS, solution: Solution | None = None, target: float = 0.005
) -> SectionReanalysis:
    """A section file, solved unless its solution is given. Raises InputError as `read_section` and `solve` do."""
    return SectionReanalysis(path, let, solution or _solved(path, {}, let, target))


def _solved(path: str, moved: Moves, let: Let, target: float, like: Solution | None = None) -> Solution:
    section = read_section(path, moved, **let)
    with in_file(path):
        return solve(section, target, like=like)


def moved_values(solution: Solution, section: Section, before: UnitAnswers, after: UnitAnswers) -> Array:
    """(Q,) what a section answers that differs little from the solved one: the extrapolated answers at its temperatures
    and watts, plus the difference between `after` and `before`, which its other numbers make on one grid."""
    asked = solution.asked.at(section)
    extrapolated, _ = solution.extrapolation.of(asked, solution.grids)
    with np.errstate(invalid="ignore"):  # couplings without limit
        return extrapolated + (asked.values(after) - asked.values(before))


def solved_near(grid: SolvedGrid, section: Section) -> SolvedGrid:
    """A section that differs little from the one of a solved grid, solved on the same lines, moved with its edges."""
    x, y, *layers = grid.system.lines
    moved = moved_grid(x, y, grid.system.section, section)
    if moved is None:
        x, y, *_ = first_lines(section)
        moved = halved(x), halved(y)
    return solved(conduction_system(section, *moved, *layers))
