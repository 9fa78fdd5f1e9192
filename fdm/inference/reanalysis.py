"""What a file answers when its uncertain numbers are moved and its named numbers changed, in a few milliseconds.

The file is solved once, well. Every other answer is that one, plus what the change makes on a coarser one of its three
grids, whose lines move with the drawing: the grid's own error falls out of the difference.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from os import PathLike, fspath
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from fdm.answers.results import NetworkValues
from fdm.answers.values import Checks, GridValues, OneGrid, arrays_of, bridge_ends, replaced, should_read, solved
from fdm.cabinet.circuit import LINING, ROOM, Circuit, circuit
from fdm.cabinet.model import Cabinet, SectionFile
from fdm.cabinet.pulldown import pull_down
from fdm.cabinet.reader import is_cabinet, read_cabinet
from fdm.cabinet.sections import LumpedSection, Sections, heat_capacities, lumped, solve_sections
from fdm.cabinet.steady import operating_point
from fdm.conduction.system import assemble
from fdm.errors import InputError
from fdm.grid.lines import SAME, edge_places, first_lines, halved
from fdm.inference.adjoint import Surroundings, surroundings
from fdm.inference.shares import input_factors, inputs_of
from fdm.section.model import Section, Uncertain
from fdm.section.reader import read_section, section_in
from fdm.section.tables import read_document
from fdm.section.uncertain import conductivity_of
from fdm.solving.solution import Solution, solve

Array = NDArray[np.float64]
Moves = Mapping[str, float]  # by place, in the file's unit
Let = Mapping[str, float | str]

AS_IT_STANDS: Let = MappingProxyType({})

IN_SECTION, IN_CABINET = 1, 0  # which of a solution's grids; a cabinet has several sections to solve
MOST_KEPT = 64  # sections solved with moves that a cabinet keeps


@dataclass(frozen=True)
class Answer:
    """One asked number, solved well, with its grid band (0 where no grid is behind it)."""

    name: str
    unit: str  # "" for a share
    value: float
    band: float


@dataclass(frozen=True)
class MovedSection:
    """A solved section, and the way to what it answers with other numbers."""

    path: str
    let: Let
    solution: Solution

    @cached_property
    def _document(self) -> dict[str, object]:
        return read_document(self.path)

    def _read(self, moved: Moves, let: Let = AS_IT_STANDS) -> Section:
        return section_in(self._document, self.path, {**self.let, **let}, moved)

    @property
    def inputs(self) -> tuple[Uncertain, ...]:
        return self.solution.section.uncertain

    @property
    def named(self) -> Mapping[str, float]:
        return self.solution.section.let

    @cached_property
    def answers(self) -> tuple[Answer, ...]:
        section = self.solution.section
        value, band = _values(self.solution), _bands(self.solution)
        rows = zip(_section_answers(section, value), _section_bands(section, value, band))
        return tuple(Answer(*row, b) for row, b in rows)

    @cached_property
    def surroundings(self) -> Surroundings:
        return surroundings(self.solution.grids[IN_SECTION])

    def _again(self, section: Section) -> GridValues:
        before = self.solution.grids[IN_SECTION]
        return _corrected(self.solution, before.values, section, _solved_near(before, section).values)

    def _at(self, moved: Moves, let: Let) -> tuple[Section, GridValues]:
        section = self._read(moved, let)
        return section, self._again(section)

    def ends(self, place: str, step: float) -> tuple[Array, Array]:
        """(A,) the answers with one number a step less, and a step more. Where that moves no edge, from what is known
        about the unit fields, without a solve."""
        solved = self.solution.section
        if any(u.place == place and u.from_table for u in self.inputs):  # nothing in the file depends on it
            less = more = solved
            low: Array | None
            high: Array | None
            low, high = (self._of_material(place, d) for d in (-step, step))
        else:
            less, more = (self._read({place: d}) for d in (-step, step))
            low, high = (input_factors(solved, s) for s in (less, more))
        if low is None or high is None:
            found = [self._again(s) for s in (less, more)]
        else:
            pairs = zip((less, more), self.surroundings.moved(np.array([low, high])))
            found = [_corrected(self.solution, self.surroundings.here, s, v) for s, v in pairs]
        below, above = ([row[2] for row in _section_answers(s, v)] for s, v in zip((less, more), found))
        return np.array(below), np.array(above)

    def _of_material(self, place: str, step: float) -> Array:
        """(I,) factors of the inputs where a built-in material's conductivity moves."""
        section = self.solution.section
        out = np.ones(len(inputs_of(section)))
        for k, part in enumerate(section.parts):
            if part.material is not None and conductivity_of(part.material.name) == place:
                out[k] += step / part.material.conductivity[0]
        return out

    def values(self, moved: Moves, let: Let = AS_IT_STANDS) -> Array:
        """(A,) the answers, in their order, with moves and changes."""
        return np.array([row[2] for row in _section_answers(*self._at(moved, let))])

    def measured(self, moved: Moves, let: Let = AS_IT_STANDS) -> dict[str, float]:
        """Everything that can be measured, by name: sensors, terminals (degC), and the answers."""
        section, v = self._at(moved, let)
        found = {name: value for name, _, value in _section_answers(section, v)}
        sensors = {s.name: float(t) for s, t in zip(section.sensors, v.reading)}
        heat = {name: found[f"temperature of {name}"] for name in section.heat_names}
        return found | dict(zip(section.fixed_names, section.fixed_temperatures.tolist())) | heat | sensors

    def centred(self, moved: Moves, let: Let, target: float) -> "MovedSection":
        """The same about another point, which is solved well."""
        return replace(self, solution=_solved(self.path, moved, {**self.let, **let}, target, self.solution))


@dataclass(frozen=True)
class MovedCabinet:
    """A cabinet whose sections are solved, and the way to what it answers with other numbers."""

    path: str
    let: Let
    cabinet: Cabinet
    sections: Sections
    kept: dict[SectionFile, LumpedSection] = field(default_factory=dict, repr=False)

    @property
    def inputs(self) -> tuple[Uncertain, ...]:
        return self.cabinet.uncertain

    @property
    def named(self) -> Mapping[str, float]:
        return self.cabinet.let

    @cached_property
    def answers(self) -> tuple[Answer, ...]:
        c = circuit(self.cabinet, {file: lumped(s) for file, s in self.sections.items()})
        p = operating_point(c, self.cabinet.bank.supply)
        bands = {
            **p.band,
            "reading": p.reading_band,
            "power": p.power_band,
            "heat pumped": p.pumped_band,
            "heat rejected": p.pumped_band + p.power_band,
        }
        return tuple(Answer(*row, bands.get(row[0], 0.0)) for row in _cabinet_answers(c))

    def circuit(self, moved: Moves, let: Let = AS_IT_STANDS) -> Circuit:
        """The lumped cabinet with moves and changes; sections that these do not touch are not solved again."""
        cabinet = read_cabinet(self.path, moved, **{**self.let, **let})
        sections: dict[SectionFile, LumpedSection] = {}
        for old, new in zip(self.cabinet.section_files, cabinet.section_files):
            if old is None or new is None or new in sections:
                continue
            if new in self.kept:
                sections[new] = self.kept[new]
            elif new in self.sections:
                sections[new] = lumped(self.sections[new])
            else:
                sections[new] = _moved_section(self.sections[old], new.section)
        if len(self.kept) > MOST_KEPT:
            self.kept.clear()
        self.kept.update(sections)
        return circuit(cabinet, sections)

    def values(self, moved: Moves, let: Let = AS_IT_STANDS) -> Array:
        """(A,) the answers, in their order, with moves and changes."""
        return np.array([row[2] for row in _cabinet_answers(self.circuit(moved, let))])

    def ends(self, place: str, step: float) -> tuple[Array, Array]:
        """(A,) the answers with one number a step less, and a step more."""
        return self.values({place: -step}), self.values({place: step})

    def measured(self, moved: Moves, let: Let = AS_IT_STANDS) -> dict[str, float]:
        """Everything that can be measured in the steady state with the modules always on, by name."""
        return {name: value for name, _, value in steady_quantities(self.circuit(moved, let))}

    def centred(self, moved: Moves, let: Let, target: float) -> "MovedCabinet":
        """The same about another point, which is solved well."""
        cabinet = read_cabinet(self.path, moved, **{**self.let, **let})
        return replace(self, cabinet=cabinet, sections=solve_sections(cabinet, self.sections, target), kept={})


Moved = MovedSection | MovedCabinet


def moved_section(
    path: str | PathLike[str], let: Let = AS_IT_STANDS, solution: Solution | None = None, target: float = 0.005
) -> MovedSection:
    """A section file, solved unless its solution is given. Raises InputError as `read_section` and `solve` do."""
    name = fspath(path)
    return MovedSection(name, let, solution or _solved(name, {}, let, target))


def moved_cabinet(
    path: str | PathLike[str], let: Let = AS_IT_STANDS, sections: Sections | None = None, target: float = 0.005
) -> MovedCabinet:
    """A cabinet file; those of its sections are solved that `sections` does not hold. Raises InputError as
    `read_cabinet` and `fdm.solve` do."""
    name = fspath(path)
    cabinet = read_cabinet(name, **let)
    try:
        return MovedCabinet(name, let, cabinet, solve_sections(cabinet, sections, target))
    except InputError as error:
        raise InputError(f"{name}: {error}") from None


def _solved(path: str, moved: Moves, let: Let, target: float, like: Solution | None = None) -> Solution:
    section = read_section(path, moved, **let)
    try:
        return solve(section, target, like=like)
    except InputError as error:
        raise InputError(f"{path}: {error}") from None


def moved_file(path: str | PathLike[str], let: Let = AS_IT_STANDS, target: float = 0.005) -> Moved:
    """A section or a cabinet file, whichever it is."""
    return moved_cabinet(path, let, None, target) if is_cabinet(path) else moved_section(path, let, None, target)


def moved_lines(lines: Array, before: Sequence[float], after: Sequence[float]) -> Array | None:
    """Grid lines of a drawing whose edges lie at `before`, moved along as these edges move to `after`, so that a small
    move changes the grid's error little; None where the edges change their number or order.

    >>> moved_lines(np.array([0.0, 1.0, 2.0, 4.0]), [0, 2, 4], [0, 3, 5])
    array([0. , 1.5, 3. , 5. ])
    """
    if len(before) != len(after):
        return None
    old, new = np.asarray(before, float), np.asarray(after, float)
    near = SAME * max(np.ptp(old), np.ptp(new))
    order = np.argsort(old, kind="stable")
    group = np.concatenate([[0], np.cumsum(np.diff(old[order]) > near)])
    count = np.bincount(group)
    at, to = (np.bincount(group, v[order]) / count for v in (old, new))
    if (np.diff(to) <= near).any():
        return None
    out = np.interp(lines, at, to)
    for edge in np.unique(new):  # edges that lay on one line and no longer do
        if abs(out - edge).min() > near:
            out = np.sort(np.append(out, edge))
    return out


def _solved_near(grid: OneGrid, section: Section) -> OneGrid:
    """A section much like the one that is solved on a grid, on the same lines, moved along."""
    raster, solved_section = grid.system.raster, grid.system.section
    grids = []
    for k, lines in enumerate((raster.x, raster.y)):
        low, high = 2 * k, 2 * k + 1
        before, after = (
            np.clip(edge_places(s)[k], s.extent[low], s.extent[high]).tolist() + [s.extent[low], s.extent[high]]
            for s in (solved_section, section)
        )
        grids.append(moved_lines(lines, before, after))
    x, y = grids
    if x is None or y is None:
        x, y = map(halved, first_lines(section))
    return solved(assemble(section, x, y))


def _values(solution: Solution) -> GridValues:
    return _arranged(solution, solution.network.values, "")


def _bands(solution: Solution) -> GridValues:
    return _arranged(solution, solution.network.band, "_band")


def _arranged(solution: Solution, network: NetworkValues, kind: str) -> GridValues:
    """A solution's answers, or their bands, as those of one grid are arranged."""
    section = solution.section
    readings = [solution.sensors[s.name] for s in section.sensors]
    misreadings = [getattr(r, f"misreading{kind}") for r in readings]
    spreading = np.empty((len(section.spreading), len(section.heat_names), 2))
    for k, plate in enumerate(section.spreading):
        for i, h in enumerate(section.heat_names):
            r = solution.spreading[plate.name][h]
            spreading[k, i] = [getattr(r, f"mean{kind}"), getattr(r, f"max{kind}")]
    metres = section.depth if section.view == "section" else 1.0
    bridges = [solution.bridges[b.name] for b in section.bridges]
    return GridValues(
        network,
        np.array([r.band if kind else r.reading for r in readings], float),
        np.array([np.nan if m is None else m for m in misreadings], float),
        spreading,
        np.array([(b.band if kind else b.value) * metres for b in bridges], float),
        Checks(0.0, 0.0, 0.0),
    )


def _corrected(solution: Solution, before: GridValues, section: Section, after: GridValues) -> GridValues:
    """The solved values plus what has changed on the coarse grid."""
    arrays = zip(arrays_of(_values(solution)), arrays_of(before), arrays_of(after))
    with np.errstate(invalid="ignore"):  # infinite couplings
        v = replaced(after, [good + (new - old) for good, old, new in arrays])
    n = v.network
    reading = (n.weight @ section.fixed_temperatures + n.resistance @ section.watts)[len(section.heat_names) :]
    return replace(v, reading=reading, misreading=reading - should_read(section, n))


def _moved_section(solution: Solution, section: Section) -> LumpedSection:
    """What a lumped model takes of a section much like the one that is solved."""
    before = solution.grids[IN_CABINET]
    after = _solved_near(before, section)
    v = _corrected(solution, before.values, section, after.values)
    metres = section.depth if section.view == "section" else 1.0
    bridges = {
        b.name: replace(solution.bridges[b.name], value=float(value / metres))
        for b, value in zip(section.bridges, v.bridge)
    }
    network = replace(solution.network, values=v.network)
    return LumpedSection(network, bridges, *heat_capacities(after, v.network))


def _section_answers(section: Section, v: GridValues) -> list[tuple[str, str, float]]:
    """(name, unit, value) of everything asked of a section."""
    n, fixed, heat = v.network, section.fixed_names, section.heat_names
    sensors = [s.name for s in section.sensors]
    observed = [*heat, *sensors]
    temperature = n.weight @ section.fixed_temperatures + n.resistance @ section.watts
    rows: list[tuple[str, str, float]] = []
    rows += [(f"temperature of {h}", "degC", t) for h, t in zip(heat, temperature)]
    for k, s in enumerate(sensors):
        rows.append((f"reading of {s}", "degC", v.reading[k]))
        if not np.isnan(v.misreading[k]):
            rows.append((f"misreading of {s}", "K", v.misreading[k]))
    for k, plate in enumerate(section.spreading):
        for i, h in enumerate(heat):
            rows.append((f"spreading of {plate.name} for {h}", "K/W", v.spreading[k, i, 0]))
            rows.append((f"highest spreading of {plate.name} for {h}", "K/W", v.spreading[k, i, 1]))
    metres, symbol = (section.depth, "psi") if section.view == "section" else (1.0, "chi")
    for k, bridge in enumerate(section.bridges):
        a, b = bridge_ends(section, k)
        drop = section.fixed_temperatures[a] - section.fixed_temperatures[b]
        rows.append((f"{symbol} of {bridge.name}", "W/(m K)" if symbol == "psi" else "W/K", v.bridge[k] / metres))
        rows.append((f"loss by {bridge.name}", "W", v.bridge[k] * drop))
    for i, p in enumerate(observed):
        rows += [(f"resistance of {p} to {h}", "K/W", n.resistance[i, j]) for j, h in enumerate(heat)]
        if i < len(heat):
            rows += [(f"highest resistance of {p} to {h}", "K/W", n.resistance_max[i, j]) for j, h in enumerate(heat)]
    pairs = [(i, j) for i in range(len(fixed)) for j in range(i + 1, len(fixed))]
    rows += [(f"coupling of {fixed[i]} and {fixed[j]}", "W/K", n.coupling[i, j]) for i, j in pairs]
    rows += [(f"weight of {q} in {p}", "", n.weight[i, j]) for i, p in enumerate(observed) for j, q in enumerate(fixed)]
    return [(name, unit, float(value)) for name, unit, value in rows]


def _section_bands(section: Section, value: GridValues, band: GridValues) -> list[float]:
    """Bands of `_section_answers`: their formula with bands for values, but for what comes of several numbers."""
    n, b = value.network, band.network
    heat, t = len(section.heat_names), section.fixed_temperatures
    mean = n.weight[:heat] @ t + n.resistance[:heat] @ section.watts
    # the errors of a row of weights sum to zero, so only differences of temperature carry them
    own = (b.weight[:heat] * abs(t - mean[:, None])).sum(1) + b.resistance[:heat] @ abs(section.watts)
    rows = [(name, abs(v)) for name, _, v in _section_answers(section, band)]
    return [float(own[k]) if k < heat else v for k, (_, v) in enumerate(rows)]


def steady_quantities(c: Circuit) -> list[tuple[str, str, float]]:
    """(name, unit, value) of the steady state with the modules always on."""
    supply = c.cabinet.bank.supply
    p = operating_point(c, supply)
    nodes = [(node, "degC", t) for node, t in p.temperature.items()]
    return nodes + [
        ("reading", "degC", p.reading),
        ("current", "A", p.current),
        ("supply current", "A", p.current * supply.parallel),
        ("voltage", "V", p.voltage),
        ("power", "W", p.power),
        ("heat pumped", "W", p.pumped),
        ("heat rejected", "W", p.rejected),
        ("COP", "", p.cop),
    ]


def _cabinet_answers(c: Circuit) -> list[tuple[str, str, float]]:
    """(name, unit, value) of a cabinet; a time that never comes is infinite."""
    left_out = {node.name for node in c.nodes if node.kind in (ROOM, LINING)}
    steady = [row for row in steady_quantities(c) if row[0] not in left_out]
    run = pull_down(c)

    def seconds(time: float | None) -> float:
        return np.inf if time is None else time

    return steady + [
        ("time to setpoint", "s", seconds(run.time_to_setpoint)),
        ("time of the load", "s", seconds(run.load_time)),
        ("load settles at", "degC", run.load_settles),
        ("air settles at", "degC", run.air_settles),
        ("share of time on", "", run.duty),
        ("mean power", "W", run.mean_power),
        ("energy a day", "J", run.energy_a_day),
    ]
