"""What every answer gains or loses by every conductivity, film and joint, and by every length.

To first order, and exact for the discretisation: an answer that reads a field with fixed weights changes by the sum
over all conductances of - dg times the field's drop times that of the answer's adjoint, the field of one watt spread by
those weights. For network entries the adjoint is a unit field; a sensor and a highest temperature need one of their
own, one more right-hand side. What is read on an edge is read with weights that depend on conductances too; their own
change is a central difference of the code that reads, without a solve.

A length moves the grid lines: answers are solved anew on grids of one topology, stretched with the drawing, so that
their grid errors cancel.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fdm.answers.values import arrays_of, bridge_ends, grid_values
from fdm.conduction.faces import Array
from fdm.errors import InputError, nearest
from fdm.grid.moving import Stretch, stretches
from fdm.inference.adjoint import Surroundings, surroundings
from fdm.inference.shares import Input, inputs_of
from fdm.section.model import UNITS, Rectangle, Section
from fdm.solving.solution import Solution

LENGTH_STEPS = 1e-3, 1e-4, 1e-5  # of a length, relative; the first that leaves the order of edges as it is
ROUND_STEPS = 3e-2, 1e-2, *LENGTH_STEPS  # where edges cut cells: by more than a sub-cell
# second difference, over the first and relative, from which an answer changes abruptly; thin cells make a tenth of it
BENT, NOTICED = 0.2, 5e-4


@dataclass(frozen=True)
class Answer:
    name: str
    quantity: str  # coupling, weight, resistance, resistance_max, reading, misreading, spreading, bridge
    unit: str
    value: float


@dataclass(frozen=True)
class Sensitivities:
    """A answers, I inputs. A material's column is the sum of its parts'."""

    inputs: tuple[Input, ...]
    answers: tuple[Answer, ...]
    matrix: Array  # (A, I) d answer / d ln input, in the answer's unit: a hundredth of it is the effect of 1 %


@dataclass(frozen=True)
class LengthSensitivities:
    """A answers, L named numbers of the file that are lengths."""

    names: tuple[str, ...]
    values: tuple[float, ...]  # in the file's unit
    answers: tuple[Answer, ...]
    per_millimetre: Array  # (A, L)
    left_out: Mapping[str, str]  # name -> why it has no column


Progress = Callable[[str], None]


def sensitivities(solution: Solution, around: Surroundings | None = None) -> Sensitivities:
    """Of all answers to all conductivities (both axes together; by part, then by material), films and joints, on the
    grid of `fdm.inference.adjoint` (`around`, where that is known already): within 1 or 2 % of the largest effect on
    the same answer from those of the finest grid, and within 5 % for answers that are small beside others of their
    kind."""
    around = around or surroundings(solution.grids[-2])
    section = solution.section
    own = around.own.changes()
    heat = len(section.heat_names)
    count = len(inputs_of(section))
    observed = np.tensordot(section.fixed_temperatures, own.weight, (0, 1))
    observed += np.tensordot(section.watts, own.resistance, (0, 1))
    reading = observed[heat:]
    known = dict(zip([*section.heat_names, *(s.name for s in section.sensors)], observed))
    goals = [known.get(s.should_read, 0.0) if isinstance(s.should_read, str) else 0.0 for s in section.sensors]
    misreading = np.array([r - g for r, g in zip(reading, goals)]).reshape(-1, count)

    spreading = np.zeros((len(section.spreading), heat, 2, count))
    for k, perfect in enumerate(one.changes() for one in around.spreading):
        for h in range(heat):
            spreading[k, h, 0] = own.resistance[h, h] - perfect.resistance[h, h]
            spreading[k, h, 1] = own.resistance_max[h, h] - perfect.resistance_max[h, h]
    bridge = np.zeros((len(section.bridges), count))
    for k, bare in enumerate(one.changes() for one in around.bridges):
        ends = bridge_ends(section, k)
        bridge[k] = (own.coupling[ends] - bare.coupling[ends]) / _metres(section)
    network = own.coupling, own.weight, own.resistance, own.resistance_max
    changes = _listed(section, *network, reading, misreading, spreading, bridge)

    inputs = inputs_of(section)
    names = {p.name: p.material.name for p in section.parts if p.material}
    asked_for = [k for k, i in enumerate(inputs) if (i.name in names if i.kind == "part" else 0 < i.value < np.inf)]
    materials = {p.material.name: p.material for p in section.parts if p.material}
    of = [[k for k, i in enumerate(inputs) if i.kind == "part" and names.get(i.name) == m] for m in materials]
    matrix = np.concatenate([changes[:, asked_for], np.stack([changes[:, rows].sum(1) for rows in of], 1)], 1)
    by_material = [Input(m, "material", inputs[rows[0]].value, "W/(m K)") for m, rows in zip(materials, of)]
    return Sensitivities((*(inputs[k] for k in asked_for), *by_material), answers_of(solution), matrix)


def length_sensitivities(
    read: Callable[..., Section], let: Sequence[str], solution: Solution, progress: Progress | None = None
) -> LengthSensitivities:
    """Of all answers to named numbers that are lengths in the file's unit, by central differences: `read(NAME=value)`
    gives the section with one of them changed. Two solves a name on grids with half, and two with a quarter, of the
    finest grid's lines, extrapolated. A number by which answers do not change smoothly is left out.

    Raises InputError where there is no such name.
    """
    columns, left_out = {}, {}
    for name in let:
        if name not in solution.section.let:
            raise InputError(f"let: there is no number named {name!r}; {nearest(name, list(solution.section.let))}")
        if progress:
            progress(f"moving {name}")
        try:
            columns[name] = _steepness(read, name, solution)
        except _NoDerivative as why:
            left_out[name] = str(why)
    answers = answers_of(solution)
    values = tuple(float(solution.section.let[name]) for name in columns)
    per_millimetre = np.array(list(columns.values())).reshape(-1, len(answers)).T
    return LengthSensitivities(tuple(columns), values, answers, per_millimetre, left_out)


def answers_of(solution: Solution) -> tuple[Answer, ...]:
    """All answers in the order of the tables' rows."""
    section, n = solution.section, solution.network.values
    fixed, heat, observed = solution.network.fixed, solution.network.heat, solution.network.observed
    a, b = np.triu_indices(len(fixed), 1)
    goals = [s.name for s in section.sensors if s.should_read is not None]
    symbol, unit = ("psi", "W/(m K)") if section.view == "section" else ("chi", "W/K")
    heads = [("coupling", "W/K", f"coupling of {fixed[i]} and {fixed[j]}") for i, j in zip(a, b)]
    heads += [("weight", "1", f"weight of {f} in {o}") for o in observed for f in fixed]
    heads += [("resistance", "K/W", f"resistance of {o} to {h}") for o in observed for h in heat]
    heads += [("resistance_max", "K/W", f"highest resistance of {o} to {h}") for o in heat for h in heat]
    heads += [("reading", "degC", f"reading of {s.name}") for s in section.sensors]
    heads += [("misreading", "K", f"misreading of {s}") for s in goals]
    heads += [
        ("spreading", "K/W", f"{which} of {s.name} for {h}")
        for s in section.spreading for h in heat for which in ("spreading", "highest spreading")
    ]  # fmt: skip
    heads += [("bridge", unit, f"{symbol} of {s.name}") for s in section.bridges]
    spreading = [[[s[h].mean, s[h].max] for h in heat] for s in solution.spreading.values()]
    values = _listed(
        section, n.coupling, n.weight, n.resistance, n.resistance_max,
        np.array([r.reading for r in solution.sensors.values()]),
        np.array([np.nan if r.misreading is None else r.misreading for r in solution.sensors.values()]),
        np.array(spreading), np.array([b.value for b in solution.bridges.values()]),
    )  # fmt: skip
    pairs = zip(heads, values, strict=True)
    return tuple(Answer(name, quantity, unit, float(value)) for (quantity, unit, name), value in pairs)


def _listed(
    section: Section, coupling: Array, weight: Array, resistance: Array, peak: Array, reading: Array, misreading: Array,
    spreading: Array, bridge: Array,
) -> Array:  # fmt: skip
    """All answers (A, ...), each coupling once, misreadings only where something should be read."""
    more = coupling.shape[2:]
    asked = np.array([s.should_read is not None for s in section.sensors], bool)
    network = coupling[np.triu_indices(len(coupling), 1)], weight, resistance, peak
    return np.concatenate([a.reshape(-1, *more) for a in (*network, reading, misreading[asked], spreading, bridge)])


def _metres(section: Section) -> float:
    """What a bridge's loss is given per."""
    return section.depth if section.view == "section" else 1.0


# ---- lengths --------------------------------------------------------------------------------------------------------


Stretches = list[tuple[Stretch, Stretch]]  # along x and along y, for each section


class _NoDerivative(Exception):
    """Says why."""


def _steepness(read: Callable[..., Section], name: str, solution: Solution) -> Array:
    """(A,) change of all answers per millimetre of a named length. Raises _NoDerivative."""
    section, raster = solution.section, solution.system.raster
    (less, more), moves, step = _moved(read, name, section)
    parted = any(along.parts_edges for along in moves[0])
    slopes = []
    for stride in (4, 2):
        lines = raster.x[::stride], raster.y[::stride]
        low, high = (_on_moved_grid(s, lines, move) for s, move in ((less, moves[0]), (more, moves[2])))
        slopes.append((high - low) / (2 * step) * 1e-3 / UNITS[section.unit])
        if parted and stride == 4:  # edges leave a line that they shared: only if nothing jumps is there a slope
            here = _on_moved_grid(section, lines, moves[1])
            bend = abs(high + low - 2 * here)
            if ((bend > BENT * abs(high - low)) & (bend > NOTICED * _sizes(solution, here))).any():
                raise _NoDerivative("it takes edges apart that lie on one line, and answers change abruptly")
    return slopes[1] + (slopes[1] - slopes[0]) / 3


def _sizes(solution: Solution, values: Array) -> Array:
    """(A,) the largest of each answer's quantity."""
    kind = np.array([a.quantity for a in answers_of(solution)])
    return np.array([abs(values[kind == k]).max() for k in kind])


def _moved(
    read: Callable[..., Section], name: str, section: Section
) -> tuple[tuple[Section, Section], Stretches, float]:
    """The section with a length a step less and a step more; how lines move to the lesser section, the section itself
    and the greater one; and the step in the file's unit."""
    value = float(section.let[name])
    scale = abs(value) or section.size / UNITS[section.unit]
    straight = all(isinstance(s, Rectangle) for p in section.parts for s in p.shapes)
    why = ""
    for step in (s * scale for s in (LENGTH_STEPS if straight else ROUND_STEPS)):
        try:
            less, more = (read(**{name: value + d}) for d in (-step, step))
        except InputError as fault:
            why = why or str(fault)
            continue
        if moves := stretches(section, (less, section, more)):
            return (less, more), moves, step
    raise _NoDerivative(why or "the least change of it adds edges, or removes some, or moves one past another")


def _on_moved_grid(section: Section, lines: tuple[Array, Array], move: tuple[Stretch, Stretch]) -> Array:
    """(A,) on one grid, of lines along x and along y that are moved first."""
    x, y = (along.applied(old) for along, old in zip(move, lines))
    return _grid_answers(section, x, y)


def _grid_answers(section: Section, x: Array, y: Array) -> Array:
    """(A,) on one grid."""
    values = grid_values(section, x, y)[0]
    coupling, weight, resistance, peak, reading, misreading, spreading, bridge = arrays_of(values)
    bridge = bridge / _metres(section)
    return _listed(section, coupling, weight, resistance, peak, reading, misreading, spreading, bridge)
