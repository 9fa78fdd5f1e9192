"""What a cabinet file answers with other uncertain and named numbers.

Its sections are solved once, on three grids. A section that depends on a changed number is solved again on the coarsest
of these grids alone, and only the difference there counts. The lumped model is then solved again.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from os import PathLike, fspath

import numpy as np

from fdm.answers.bridges import bridge_losses
from fdm.answers.quantity import Answers, Array, joined
from fdm.answers.stems import self_heating
from fdm.cabinet.at_work import sections_at_work
from fdm.cabinet.circuit import Circuit
from fdm.cabinet.model import Cabinet
from fdm.cabinet.moisture import moist_circuit_at_work, with_latent_heat, with_moisture
from fdm.cabinet.pulldown import pull_down
from fdm.cabinet.quantities import moisture_answers, pull_down_answers, steady_answers
from fdm.cabinet.reader import read_cabinet
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sections import LumpedSection, Sections, SectionSurfaces, heat_capacities, lumped, solve_sections
from fdm.cabinet.solution import SolvedCabinet
from fdm.cabinet.steady import operating_point
from fdm.errors import in_file
from fdm.inference.following import followed
from fdm.inference.section_reanalysis import AS_IT_STANDS, Let, Moves, moved_values, solved_near
from fdm.section.model import Section, Uncertain
from fdm.solving.solution import Solution

COARSEST = 0  # number of the grid, of a section's three, for differences: a cabinet has several sections to solve
MOST_KEPT = 64  # changed sections that a cabinet keeps


@dataclass(frozen=True)
class CabinetReanalysis:
    """A cabinet file whose sections are solved, which also answers with other numbers."""

    path: str
    let: Let
    sections: Sections = field(repr=False)
    as_it_stands: Circuit = field(repr=False)
    centre: tuple[Moves, Let] = ({}, AS_IT_STANDS)  # numbers moved and named, with which that circuit was made
    kept: dict[SectionFile, LumpedSection] = field(default_factory=dict, repr=False)

    @property
    def inputs(self) -> tuple[Uncertain, ...]:
        return self.as_it_stands.cabinet.uncertain

    @property
    def named(self) -> Mapping[str, float]:
        return self.as_it_stands.cabinet.let

    @cached_property
    def answers(self) -> Answers:
        """The steady state with the modules always on, and the pull-down."""
        return _answers(self.as_it_stands)

    @property
    def failed(self) -> str:
        """Which of their checks the answers of the sections failed, in a sentence; empty: none."""
        return next((f"{file.path}: {s.failed}" for file, s in self.sections.items() if s.failed), "")

    @property
    def warnings(self) -> tuple[str, ...]:
        """Those of the sections as solved."""
        return tuple(f"{file.path}: {w}" for file, s in self.sections.items() for w in s.warnings)

    @cached_property
    def measurable(self) -> Answers:
        """The answers that a measured file may have: the steady state with the modules always on."""
        return _steady(self.as_it_stands)

    def values(self, moved: Moves, let: Let = AS_IT_STANDS) -> Array:
        """(Q,) the answers, in their order, with uncertain numbers `moved` and named numbers `let`."""
        return _answers(self.circuit(moved, let)).value + self._beside_values

    def measured(self, moved: Moves, let: Let = AS_IT_STANDS) -> Array:
        """(Q,) the measurable answers with uncertain numbers `moved` and named numbers `let`."""
        return _steady(self.circuit(moved, let)).value + self._beside_measured

    @cached_property
    def _beside_values(self) -> Array:
        return _difference(self.answers, _answers(self.circuit(*self.centre)))

    @cached_property
    def _beside_measured(self) -> Array:
        return _difference(self.measurable, _steady(self.circuit(*self.centre)))

    def ends(self, place: str, step: float) -> tuple[Array, Array]:
        """(Q,) the answers with one number less by `step`, and greater by it."""
        return self.values({place: -step}), self.values({place: step})

    def circuit(self, moved: Moves, let: Let = AS_IT_STANDS) -> Circuit:
        """The lumped cabinet with uncertain numbers `moved` and named numbers `let`; sections that do not change are
        not solved again."""
        cabinet = read_cabinet(self.path, moved, **{**self.let, **let})
        sections: dict[SectionFile, LumpedSection] = {}
        for old, new in zip(self.as_it_stands.cabinet.section_files, cabinet.section_files):
            if old is None or new is None or new in sections:
                continue
            if new in self.kept:
                sections[new] = self.kept[new]
            elif new in self.sections:
                solution = self.sections[new]
                surfaces = SectionSurfaces(solution, solution.grids[COARSEST])
                sections[new] = replace(lumped(solution), surfaces=surfaces)
            else:
                sections[new] = _moved_section(self.sections[old], new.section)
        if len(self.kept) > MOST_KEPT:
            self.kept.clear()
        self.kept.update(sections)
        return moist_circuit_at_work(cabinet, sections, bands=False)  # only values are asked for

    def centred(self, moved: Moves, let: Let, target: float) -> "CabinetReanalysis":
        """The same file with other numbers, its sections solved with these on three grids."""
        cabinet = read_cabinet(self.path, moved, **{**self.let, **let})
        return replace(_reanalysis(self.path, self.let, cabinet, self.sections, target), centre=(moved, let))


def cabinet_reanalysis(
    path: str | PathLike[str], let: Let = AS_IT_STANDS, solved: SolvedCabinet | None = None, target: float = 0.005
) -> CabinetReanalysis:
    """A cabinet file, solved unless that is given. Raises InputError as `read_cabinet` and `fdm.solve` do."""
    name = fspath(path)
    if solved is not None:
        return CabinetReanalysis(name, let, solved.sections, solved.circuit)
    cabinet = read_cabinet(name, **let)
    with in_file(name):
        return _reanalysis(name, let, cabinet, None, target)


def _reanalysis(path: str, let: Let, cabinet: Cabinet, known: Sections | None, target: float) -> CabinetReanalysis:
    c, sections = sections_at_work(cabinet, solve_sections(cabinet, known, target), wet=with_latent_heat)
    return CabinetReanalysis(path, let, sections, with_moisture(c, {file: lumped(s) for file, s in sections.items()}))


def _difference(answers: Answers, on_coarsest: Answers) -> Array:
    """(Q,) what answers as they stand are more than with all that differs on the coarsest grids; 0 where they are never
    reached."""
    with np.errstate(invalid="ignore"):
        more = answers.value - on_coarsest.value
    return np.where(np.isfinite(more), more, 0.0)


def _steady(c: Circuit) -> Answers:
    return joined([steady_answers(c, operating_point(c, c.cabinet.bank.supply)), moisture_answers(c)])


def _answers(c: Circuit) -> Answers:
    return joined([_steady(c), pull_down_answers(pull_down(c))])


def _moved_section(solution: Solution, section: Section) -> LumpedSection:
    """What the lumped model takes of a section that differs little from the solved one. What follows the temperature in
    it is taken where the solved one was."""
    before = solution.grids[COARSEST]
    if solution.frozen is not None:
        section = followed(solution, _as_warm(section, solution.section))
    after = solved_near(before, section)
    values = moved_values(solution, section, before.answers, after.answers)
    moved = solution.asked.at(section).network(values)
    network = replace(solution.network, values=moved, self_heating=self_heating(section))
    bridges = bridge_losses(section, replace(solution.answers, value=values))
    stored, warnings = heat_capacities(after, network.values)
    return LumpedSection(network, bridges, stored, warnings, SectionSurfaces(solution, after))


def _as_warm(section: Section, other: Section) -> Section:
    """The section at the temperatures and watts of another with the same terminals."""
    airs = {e.name: e.temperature for e in other.environments}
    sources = {s.name: s for s in other.sources}
    return replace(
        section,
        environments=tuple(e.at(airs[e.name]) for e in section.environments),
        sources=tuple(
            replace(s, heat=sources[s.name].heat, temperature=sources[s.name].temperature) for s in section.sources
        ),
    )
