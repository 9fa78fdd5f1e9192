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
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from fdm.conduction.conductances import Array, Integers
from fdm.conduction.solver import Load, System, assemble, heat_loads, prepared
from fdm.errors import InputError, nearest
from fdm.grid.lines import SAME, edge_places
from fdm.network.points import at_points, extended, face_temperatures, point_weights, sensor_load, sensor_point
from fdm.network.shares import STEP, Input, Tangent, Variant, inputs_of, rows_near_cuts, rows_of, tangent, varied
from fdm.network.solution import Solution
from fdm.network.values import arrays_of, bridge_ends, grid_values, spread_direction, with_skins
from fdm.section.model import Rectangle, Section
from fdm.section.rules import UNITS

LENGTH_STEPS = 1e-3, 1e-4, 1e-5  # of a length, relative; the first that leaves the order of edges as it is
ROUND_STEPS = 3e-2, 1e-2, *LENGTH_STEPS  # where edges cut cells: by more than a sub-cell
# second difference, over the first and relative, from which an answer changes abruptly; thin cells make a tenth of it
BENT, NOTICED = 0.2, 5e-4


@dataclass(frozen=True)
class Answer:
    name: str
    quantity: str  # coupling, weight, impedance, impedance_max, reading, misreading, spreading, bridge
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


def sensitivities(solution: Solution) -> Sensitivities:
    """Of all answers to all conductivities (both axes together; by part, then by material), films and joints, on the
    finest grid. One preparation of the solver with a right-hand side for each sensor and highest temperature; and one
    solve for each spreading resistance and bridge."""
    section, x, y = solution.section, solution.system.raster.x, solution.system.raster.y
    own = _network_changes(solution.system, Variant(), solution.unit_fields)
    heat = len(section.heat_names)
    count = len(inputs_of(section))
    observed = np.tensordot(section.fixed_temperatures, own.weight, (0, 1))
    observed += np.tensordot(section.watts, own.impedance, (0, 1))
    reading = observed[heat:]
    known = dict(zip([*section.heat_names, *(s.name for s in section.sensors)], observed))
    goals = [known.get(s.should_read, 0.0) if isinstance(s.should_read, str) else 0.0 for s in section.sensors]
    misreading = np.array([r - g for r, g in zip(reading, goals)]).reshape(-1, count)

    quiet = replace(section, sensors=(), spreading=(), bridges=())
    loss = replace(quiet, sources=section.held_sources)
    spreading = np.zeros((len(section.spreading), heat, 2, count))
    for k, asked in enumerate(section.spreading):
        variant = Variant(spread=asked.parts, along=spread_direction(section, k))
        perfect = _network_changes(_spread_system(quiet, x, y, variant), variant)
        for h in range(heat):
            spreading[k, h, 0] = own.impedance[h, h] - perfect.impedance[h, h]
            spreading[k, h, 1] = own.impedance_max[h, h] - perfect.impedance_max[h, h]
    bridge = np.zeros((len(section.bridges), count))
    for k, removed in enumerate(section.bridges):
        variant, ends = Variant(without=removed.remove), bridge_ends(section, k)
        bare = _network_changes(assemble(loss, x, y, without=removed.remove), variant)
        bridge[k] = (own.coupling[ends] - bare.coupling[ends]) / _metres(section)
    network = own.coupling, own.weight, own.impedance, own.impedance_max
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
    heads += [("impedance", "K/W", f"impedance of {o} to {h}") for o in observed for h in heat]
    heads += [("impedance_max", "K/W", f"highest impedance of {o} to {h}") for o in heat for h in heat]
    heads += [("reading", "degC", f"reading of {s.name}") for s in section.sensors]
    heads += [("misreading", "K", f"misreading of {s}") for s in goals]
    heads += [
        ("spreading", "K/W", f"{which} of {s.name} for {h}")
        for s in section.spreading for h in heat for which in ("spreading", "highest spreading")
    ]  # fmt: skip
    heads += [("bridge", unit, f"{symbol} of {s.name}") for s in section.bridges]
    spreading = [[[s[h].mean, s[h].max] for h in heat] for s in solution.spreading.values()]
    values = _listed(
        section, n.coupling, n.weight, n.impedance, n.impedance_max,
        np.array([r.reading for r in solution.sensors.values()]),
        np.array([np.nan if r.misreading is None else r.misreading for r in solution.sensors.values()]),
        np.array(spreading), np.array([b.value for b in solution.bridges.values()]),
    )  # fmt: skip
    pairs = zip(heads, values, strict=True)
    return tuple(Answer(name, quantity, unit, float(value)) for (quantity, unit, name), value in pairs)


def _listed(
    section: Section, coupling: Array, weight: Array, impedance: Array, peak: Array, reading: Array, misreading: Array,
    spreading: Array, bridge: Array,
) -> Array:  # fmt: skip
    """All answers (A, ...), each coupling once, misreadings only where something should be read."""
    more = coupling.shape[2:]
    asked = np.array([s.should_read is not None for s in section.sensors], bool)
    network = coupling[np.triu_indices(len(coupling), 1)], weight, impedance, peak
    return np.concatenate([a.reshape(-1, *more) for a in (*network, reading, misreading[asked], spreading, bridge)])


def _metres(section: Section) -> float:
    """What a bridge's loss is given per."""
    return section.depth if section.view == "section" else 1.0


def _spread_system(section: Section, x: Array, y: Array, variant: Variant) -> System:
    """On the same lines as the spreading resistance itself."""
    shapes = [s.outline() for name in variant.spread for s in section.part_named[name].shapes]
    if variant.along == "y":
        x = with_skins(x, [s[:, 0] for s in shapes])
    if variant.along == "x":
        y = with_skins(y, [s[:, 1] for s in shapes])
    return assemble(section, x, y, spread=variant.spread, along=variant.along)


# ---- one system -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Changes:
    """Of a network's values, per relative change of each input: one more axis (I) at the end."""

    coupling: Array  # (F, F, I)
    weight: Array  # (H + S, F, I)
    impedance: Array  # (H + S, H, I)
    impedance_max: Array  # (H, H, I)


@dataclass(frozen=True)
class _Reader:
    """What an answer reads of a field: cells and faces where heat enters, or the grid point (i, j)."""

    cell: Integers
    weight: Array
    face: Array  # (N,) weights of the tangent's faces
    point: tuple[int, int] | None = None


def _network_changes(system: System, variant: Variant, units: Array | None = None) -> _Changes:
    fixed, heat, sensors = len(system.ties.direct), len(system.inlets), len(system.section.sensors)
    solver = prepared(system, fixed + heat) if units is None else None
    if units is None:
        assert solver is not None
        units = solver.fields(heat_loads(system), with_fixed=True)
    t = tangent(system, variant)
    drops = t.drops(t.units(units))
    network = np.array([-t.effects(one, drops) for one in drops]).transpose(0, 2, 1)

    ext = extended(system, units)
    readers = [_sensor_reader(system, k, t) for k in range(sensors)]
    readers += [_peak_reader(system, t, ext, h, q) for h in range(heat) for q in range(heat)]
    count = t.change.shape[0]
    read = np.zeros((len(readers), fixed + heat, count))
    if readers:
        solver = solver or prepared(system, len(readers))
        adjoints = solver.fields([_load(t, r) for r in readers]).reshape(len(readers), -1)
        nodes = t.at_nodes(adjoints, np.zeros((len(readers), fixed)), np.array([r.face for r in readers]))
        for k, one in enumerate(t.drops(nodes)):
            read[k] = -t.effects(one, drops).T
        read += _weights_changes(system, variant, ext, readers, count)
    rows = np.concatenate([network[fixed:], read[:sensors]])
    peaks = read[sensors:].reshape(heat, heat, fixed + heat, count)
    peak = np.array([[peaks[h, q, fixed + q] for q in range(heat)] for h in range(heat)]).reshape(heat, heat, count)
    coupling = network[:fixed, :fixed] * (1 - np.eye(fixed))[..., None]
    return _Changes(coupling, rows[:, :fixed], rows[:, fixed:], peak)


def _sensor_reader(system: System, sensor: int, t: Tangent) -> _Reader:
    point = sensor_point(system, sensor) if system.section.sensors[sensor].at is not None else None
    return _Reader(*sensor_load(system, sensor), np.zeros(len(t.face_of)), point)


def _peak_reader(system: System, t: Tangent, ext: Array, heat: int, by: int) -> _Reader:
    """The highest temperature of one heat terminal by a watt at another, as `points.highest` finds it."""
    fixed, inlet = len(system.ties.direct), system.inlets[heat]
    m = system.raster.shape[1]
    faces = np.zeros(len(t.face_of))
    if inlet.axis is None or inlet.at is None:
        i, j = np.divmod(inlet.cell, m)
        ends = [i * (m + 1) + j + step for step in (0, 1, m + 1, m + 2)]
    else:
        i, j = inlet.at
        ends = [i * (m + 1) + j, i * (m + 1) + j + (1 if inlet.axis == 0 else m + 1)]
    i, j = np.divmod(np.unique(np.concatenate(ends)), m + 1)
    weights = point_weights(system, i, j)
    points = at_points(ext, weights, i, j)[fixed + by]
    k = int(np.argmax(points))
    if inlet.axis is not None and inlet.at is not None:
        lines, along = system.raster.y if inlet.axis == 0 else system.raster.x, inlet.at[1 - inlet.axis]
        on_faces = face_temperatures(system, ext, heat)[fixed + by]
        peak = _peak_weights((lines[along] + lines[along + 1]) / 2, on_faces)
        if peak @ on_faces >= points[k]:
            faces[t.face_of == heat] = peak
            return _Reader(np.empty(0, np.intp), np.empty(0), faces)
    a, b = i[k] - 1 + np.array([0, 1, 0, 1]), j[k] - 1 + np.array([0, 0, 1, 1])
    on = np.pad(system.solid, 1)[a + 1, b + 1]
    return _Reader((a * m + b)[on], weights.cell[k][on], faces, (int(i[k]), int(j[k])))


def _peak_weights(s: Array, t: Array) -> Array:
    """(K,) derivative of the top of the parabola through the warmest of t (K,) at places s and the two beside it. Being
    of first degree, its product with t is the top itself."""
    k, out = int(np.argmax(t)), np.zeros(len(t))
    out[k] = 1.0
    if not 0 < k < len(t) - 1:
        return out
    a, b = s[k - 1] - s[k], s[k + 1] - s[k]
    du, dv = np.array([1 / a, -1 / a, 0.0]), np.array([0.0, -1 / b, 1 / b])
    d_curvature = (dv - du) / (b - a)
    d_slope = du - d_curvature * a
    near = t[k - 1 : k + 2] - t[k]
    curvature, slope = d_curvature @ near, d_slope @ near
    if curvature < 0:
        out[k - 1 : k + 2] += slope**2 / (4 * curvature**2) * d_curvature - slope / (2 * curvature) * d_slope
    return out


def _load(t: Tangent, reader: _Reader) -> Load:
    """The reader's weights on cells alone: those of a face go to the cells beside it as watts that enter there do."""
    cells, (g0, g1) = t.system.solid.size, t.face_conductance
    cell, weight = [reader.cell], [reader.weight]
    for node, g in zip(t.face, (g0, g1)):
        on = (reader.face != 0) & (node >= 0) & (node < cells)
        cell.append(node[on])
        weight.append((reader.face * g / (g0 + g1))[on])
    return np.concatenate(cell), np.concatenate(weight)


def _weights_changes(system: System, variant: Variant, ext: Array, readers: Sequence[_Reader], count: int) -> Array:
    """(readers, F + H, I) what the change of the weights with which grid points are read makes of unit fields."""
    out = np.zeros((len(readers), len(ext), count))
    which = [k for k, r in enumerate(readers) if r.point is not None]
    if not which:
        return out
    i, j = np.array([r.point for r in readers if r.point is not None]).T
    owners = np.unique([system.raster.owner[i + a, j + b] for a in (0, 1) for b in (0, 1)])
    rows = rows_of(system, owners)
    if system.cut is not None:
        rows = np.union1d(rows, rows_near_cuts(system))
    for row in rows:
        weights = (point_weights(varied(system, variant, row, f), i, j) for f in (1 + STEP, 1 - STEP))
        more, less = (at_points(ext, w, i, j) for w in weights)
        out[which, :, row] = ((more - less) / (2 * STEP)).T
    return out


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
    coupling, weight, impedance, peak, reading, misreading, spreading, bridge = arrays_of(values)
    bridge = bridge / _metres(section)
    return _listed(section, coupling, weight, impedance, peak, reading, misreading, spreading, bridge)
