"""Solve a whole cabinet: its sections, its steady state, its losses, its pull-down."""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from os import PathLike

from fdm.answers.quantity import Answers, joined
from fdm.answers.sensors import Reading
from fdm.cabinet.at_work import (
    module_terminals,
    plate_airs,
    plate_terminals,
    plate_watts,
    sections_at_work,
)
from fdm.cabinet.budget import BudgetLine, budget
from fdm.cabinet.circuit import Circuit
from fdm.cabinet.datasheet import HeatCheck, heat_check
from fdm.cabinet.doubts import doubts, failure
from fdm.cabinet.mends import Mend, mends
from fdm.cabinet.model import Cabinet
from fdm.cabinet.moisture import with_latent_heat, with_moisture
from fdm.cabinet.nodes import ROOM
from fdm.cabinet.pulldown import PullDown, pull_down
from fdm.cabinet.quantities import (
    apart_answers,
    budget_answers,
    moisture_answers,
    pull_down_answers,
    section_answers,
    steady_answers,
    supply_answers,
)
from fdm.cabinet.reader import read_cabinet
from fdm.cabinet.sections import Sections, lumped, solve_sections
from fdm.cabinet.settling import Moisture
from fdm.cabinet.sinks import places_apart, require_separate
from fdm.cabinet.steady import OperatingPoint, operating_point
from fdm.cabinet.supply_chart import SupplyChart, supply_chart
from fdm.cabinet.zones import AIR
from fdm.errors import InputError, require_share, what_is
from fdm.solving.solution import Solution, superposed
from fdm.surroundings import moist

_ALWAYS = (
    "radiation other than in the films, the change of films on the way there, heat stored in walls behind their first "
    "layer, and what the drawn sections leave out."
)
LEFT_OUT = f"Left out: temperature differences within the air and within the load, moisture and frost, {_ALWAYS}"
LEFT_OUT_MOIST = (
    "Left out: temperature differences within the air and within the load, what frost does to films and to the air "
    "between fins, water that dries or thaws while the modules are off, that which settles on the way down (the latent "
    f"heat is that of the operating point throughout), that radiation in given films carries no water, {_ALWAYS}"
)
IN_ZONES = (  # what these leave out of air in zones, in place of what they do of air that is alike
    ("the air and", "each zone of air and"),
    ("in the films,", "in the films and between layers of air,"),
    ("the change of films", "how flows of air change while the modules stand still, the change of films"),
)


@dataclass(frozen=True)
class SolvedCabinet:
    """A cabinet's answers. `answers` has them by path, each with its unit; printed, and in notebooks, it shows its
    tables. `sections` can be handed to the next solve, which then repeats none of them."""

    cabinet: Cabinet
    circuit: Circuit = field(repr=False)
    sections: Sections = field(repr=False)
    point: OperatingPoint  # modules always on
    budget: tuple[BudgetLine, ...]
    chart: SupplyChart
    pull_down: PullDown
    heat_check: HeatCheck | None  # of the module's greatest heat against its data sheet
    warnings: tuple[str, ...]
    mends: tuple[Mend, ...] = ()  # of what the thermostat misreads, where its air is not the load's
    failed: str = ""  # which checks its answers failed, in a sentence, also among the warnings; empty: none

    @cached_property
    def answers(self) -> Answers:
        """Every answer by path; those of the drawn sections below `sections`."""
        return joined(
            [
                steady_answers(self.circuit, self.point),
                budget_answers(self.budget),
                moisture_answers(self.circuit),
                supply_answers(self.chart),
                pull_down_answers(self.pull_down),
                apart_answers({key.replace("_", " "): self.places_apart(key) for key in self.cabinet.bank.plates}),
                section_answers(self.sections),
            ]
        )

    @property
    def left_out(self) -> str:
        """What the model leaves out, in a sentence."""
        text = LEFT_OUT if self.circuit.moisture is None else LEFT_OUT_MOIST
        for plain, of_zones in IN_ZONES if self.cabinet.zones else ():
            text = text.replace(plain, of_zones)
        return text

    @property
    def module_section(self) -> Solution | None:
        """The solved section of the modules; None where they have none."""
        file = self.cabinet.bank.file
        return self.sections[file] if file is not None else None

    def thermostat_at_work(self) -> Reading | None:
        """What the thermostat's sensor reads at the operating point, and why; None where it reads the air itself."""
        t = self.cabinet.thermostat
        if t.file is None or t.sensor == AIR:
            return None
        if t.file == self.cabinet.bank.file:
            at_work = self.module_at_work()
            return None if at_work is None else at_work.sensors[t.sensor]
        airs = dict.fromkeys(t.inside, self.cabinet.thermostat_zone) | dict.fromkeys(t.outside, ROOM)
        terminals = {name: self.point.temperature[node] for name, node in airs.items()}
        return superposed(self.sections[t.file], terminals).sensors[t.sensor]

    def module_at_work(self) -> Solution | None:
        """The module's section at the operating point, by superposition of its unit fields; None without a section."""
        solution = self.module_section
        if solution is None:
            return None
        return self._at_work(solution, module_terminals(self.circuit, self.point), self.cabinet.bank.inside)

    def plate_at_work(self, key: str) -> Solution:
        """The plate of a sink ("cold_sink" or "hot_sink") at the operating point."""
        sink = self.cabinet.bank.plates[key]
        return self._at_work(self.sections[sink.file], plate_terminals(self.circuit, self.point, key), sink.inside)

    def _at_work(self, solution: Solution, terminals: Mapping[str, float], inside: Collection[str]) -> Solution:
        """A section at other temperatures and watts, in airs as moist as those of the cabinet, if that is known."""
        at_work, moisture = superposed(solution, terminals), self.circuit.moisture
        return at_work if moisture is None else _with_moist_air(at_work, self.cabinet, moisture, inside)

    def places_apart(self, key: str) -> float:
        """K between the warmest and the coldest place of a module on the plate of a sink, at the operating point."""
        c, point, sink = self.circuit, self.point, self.cabinet.bank.plates[key]
        airs, watts = plate_airs(c, point, sink), plate_watts(c, point, key)
        return places_apart(sink, self.sections[sink.file].network, airs, watts)


def _with_moist_air(at_work: Solution, cabinet: Cabinet, moisture: Moisture, inside: Collection[str]) -> Solution:
    """A section in airs as moist as the cabinet's and the room's, whatever its own file says of them."""
    points = {
        True: float(moist.dew_point(moist.pressure_of_ratio(moisture.always_on.ratio))),
        False: float(moist.dew_point(cabinet.room_pressure)),
    }
    environments = tuple(
        replace(e, humidity=None, dew_point=max(moist.COLDEST, min(points[e.name in inside], e.temperature)))
        for e in at_work.section.environments
    )
    asked = at_work.asked.at(replace(at_work.section, environments=environments))
    answers = Answers(asked.quantities, *at_work.extrapolation.of(asked, at_work.grids))
    return replace(at_work, asked=asked, answers=answers)


def solve_cabinet(
    cabinet: Cabinet | str | PathLike[str],
    sections: Sections | None = None,
    target: float = 0.005,
    progress: Callable[[str], None] | None = None,
) -> SolvedCabinet:
    """Solve a cabinet, given as it is or by the path of its file: the sections that `sections` does not hold yet, then
    the lumped cabinet.

    Raises InputError as `fdm.solve` does, where a node has no heat capacity, and where there is no steady state.
    """
    if isinstance(cabinet, (str, PathLike)):
        cabinet = read_cabinet(cabinet)
    if not isinstance(cabinet, Cabinet):
        raise InputError(f"solve_cabinet: got {what_is(cabinet)}; give a Cabinet, or the path of a cabinet file")
    require_share("target", target)
    if not isinstance(sections, Mapping | None):
        raise InputError(f"sections: {what_is(sections)} is none; give those of a solved cabinet, or leave it out")
    try:
        return _solved(cabinet, sections, target, progress)
    except ArithmeticError as fault:
        if type(fault) is not ArithmeticError:  # an overflow is no answer about the cabinet
            raise
        raise InputError(str(fault)) from None


def _solved(
    cabinet: Cabinet, sections: Sections | None, target: float, progress: Callable[[str], None] | None
) -> SolvedCabinet:
    solved: Sections = solve_sections(cabinet, sections, target, progress)
    say = progress or (lambda text: None)
    c, solved = sections_at_work(cabinet, solved, progress, with_latent_heat)
    by_file = {file: lumped(s) for file, s in solved.items()}
    require_separate(cabinet.bank, by_file)
    say("operating point")
    c = with_moisture(c, by_file)
    cabinet = c.cabinet
    point = operating_point(c, cabinet.bank.supply)
    chart = supply_chart(c)
    say("pull-down")
    run = pull_down(c)
    sheet = cabinet.bank.data_sheet
    check = None if sheet is None else heat_check(cabinet.bank.module, sheet)
    failed = failure(c, solved, point)
    warnings = (*((failed,) if failed else ()), *doubts(c, solved, point, chart, run, check))
    mended = mends(cabinet, by_file, point)
    return SolvedCabinet(cabinet, c, solved, point, budget(c, point), chart, run, check, warnings, mended, failed)
