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
from itertools import pairwise

import numpy as np

from fdm.answers.values import arrays_of, bridge_ends, grid_values
from fdm.conduction.arrays import Array
from fdm.conduction.inputs import Input, inputs_of
from fdm.errors import InputError, nearest
from fdm.grid.lines import SAME, edge_places
from fdm.inference.adjoint import Surroundings, surroundings
from fdm.section.model import Rectangle, Section
from fdm.section.rules import UNITS
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


Edges = tuple[Array, list[Array]]  # places of edges in rising order; for each, the lines that take its place


class _NoDerivative(Exception):
    """Says why."""


def _steepness(read: Callable[..., Section], name: str, solution: Solution) -> Array:
    """(A,) change of all answers per millimetre of a named length. Raises _NoDerivative."""
    section, raster = solution.section, solution.system.raster
    (less, more), step = _moved(read, name, section)
    edges, parted = _stretches(section, less, more)
    slopes = []
    for stride in (4, 2):
        lines = raster.x[::stride], raster.y[::stride]
        low, high = (_grid_answers(s, *map(_stretched, lines, by)) for s, by in ((less, edges[0]), (more, edges[2])))
        slopes.append((high - low) / (2 * step) * 1e-3 / UNITS[section.unit])
        if parted and stride == 4:  # edges leave a line that they shared: only if nothing jumps is there a slope
            here = _grid_answers(section, *map(_stretched, lines, edges[1]))
            bend = abs(high + low - 2 * here)
            if ((bend > BENT * abs(high - low)) & (bend > NOTICED * _sizes(solution, here))).any():
                raise _NoDerivative("it takes edges apart that lie on one line, and answers change abruptly")
    return slopes[1] + (slopes[1] - slopes[0]) / 3


def _sizes(solution: Solution, values: Array) -> Array:
    """(A,) the largest of each answer's quantity."""
    kind = np.array([a.quantity for a in answers_of(solution)])
    return np.array([abs(values[kind == k]).max() for k in kind])


def _moved(read: Callable[..., Section], name: str, section: Section) -> tuple[tuple[Section, Section], float]:
    """The section with a length a step less and a step more, and the step in the file's unit."""
    value = float(section.let[name])
    scale = abs(value) or max(np.ptp(section.extent[:2]), np.ptp(section.extent[2:])) / UNITS[section.unit]
    straight = all(isinstance(s, Rectangle) for p in section.parts for s in p.shapes)
    why = ""
    for step in (s * scale for s in (LENGTH_STEPS if straight else ROUND_STEPS)):
        try:
            less, more = (read(**{name: value + d}) for d in (-step, step))
        except InputError as fault:
            why = why or str(fault)
            continue
        if all(_matched(section, s) is not None for s in (less, more)):
            return (less, more), step
    raise _NoDerivative(why or "the least change of it adds edges, or removes some, or moves one past another")


def _stretches(section: Section, less: Section, more: Section) -> tuple[list[list[Edges]], bool]:
    """Edges along x and y for the grids of the lesser section, the section itself and the greater one; and whether any
    part. Where they do, all three have a line wherever one of them has an edge: grids that differ in nothing else."""
    parted, out = False, [[], [], []]  # type: ignore[var-annotated]
    for axis in (0, 1):
        went = [_matched(section, s)[axis] for s in (less, section, more)]  # type: ignore[index]
        first = went[1][0]
        together = [np.unique(np.concatenate(places)) for places in zip(*(w[1] for w in went))]
        splits = [max(map(len, places)) > 1 for places in zip(*(w[1] for w in went))]
        parted = parted or any(splits)
        for k, (_, places) in enumerate(went):
            out[k].append((first, [t if split else p for t, split, p in zip(together, splits, places)]))
    return out, parted


def _matched(section: Section, other: Section) -> list[Edges] | None:
    """Along x and along y, where the section's edges are in the other; None where their number or order differs."""
    tolerance = SAME * max(np.ptp(section.extent[:2]), np.ptp(section.extent[2:]))
    out = []
    for axis, places in enumerate(zip(edge_places(section), edge_places(other))):
        if len(places[0]) != len(places[1]):
            return None
        low, high = ([s.extent[2 * axis + d] for s in (section, other)] for d in (0, 1))
        here, there = (np.clip(np.array(p), a, b) for p, a, b in zip(places, low, high))
        order = np.argsort(here, kind="stable")
        starts = np.nonzero(np.concatenate([[True], np.diff(here[order]) > tolerance]))[0]
        first = here[order][starts]
        went = [np.sort(group) for group in np.split(there[order], starts[1:])]
        went = [g[np.concatenate([[True], np.diff(g) > tolerance])] for g in went]
        gaps = np.array([b[0] - a[-1] for a, b in pairwise(went)])
        if (gaps < np.diff(first) / 2).any():
            return None
        out.append((first, went))
    return out


def _stretched(lines: Array, edges: Edges) -> Array:
    """Grid lines that keep their place between the edges, and all places of edges."""
    here, there = edges
    k = np.clip(np.searchsorted(here, lines, side="right") - 1, 0, len(here) - 2)
    u = (lines - here[k]) / (here[k + 1] - here[k])
    inside = (u > 1e-6) & (u < 1 - 1e-6)
    start, end = np.array([p[-1] for p in there])[k], np.array([p[0] for p in there])[k + 1]
    return np.sort(np.concatenate([(start + u * (end - start))[inside], *there]))


def _grid_answers(section: Section, x: Array, y: Array) -> Array:
    """(A,) on one grid."""
    values = grid_values(section, x, y)[0]
    coupling, weight, resistance, peak, reading, misreading, spreading, bridge = arrays_of(values)
    bridge = bridge / _metres(section)
    return _listed(section, coupling, weight, resistance, peak, reading, misreading, spreading, bridge)
