"""Solve a section: refine where it matters, solve on three grids, extrapolate, and state the band."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.conductances import Array
from fdm.conduction.solver import System, assemble, heat_loads, prepared, refuse_loose_parts
from fdm.errors import InputError
from fdm.grid.lines import first_lines, halved, split
from fdm.grid.raster import NOTHING
from fdm.network.answers import (
    Balance,
    BridgeLoss,
    Field,
    GridReport,
    Network,
    NetworkValues,
    Reading,
    SpreadingResistance,
)
from fdm.network.band import extrapolated
from fdm.network.points import at_points, extended, highest_load, part_number, point_weights, sensor_load, sensor_point
from fdm.network.refinement import interval_errors, side_flows
from fdm.network.values import (
    Checks,
    GridValues,
    arrays_of,
    bridge_ends,
    flows,
    grid_values,
    replaced,
    should_read,
    spread_direction,
)
from fdm.section.model import Section
from fdm.section.rules import UNITS

TARGET = 0.005
TARGET_KELVIN = 0.02  # at the default target
MOST_CELLS = 300_000
UNEVEN = 1.5e-3  # relative, by which answers of slanted edges between solids scatter from grid to grid
AGREED = 1.0  # of the difference of two extrapolations, in the band where slanted edges lie between solids
SPREADING = 0.04  # the same for a spreading resistance, as part of the rise at the watts' own place
SMALL = 0.02  # an entry below this part of the largest of its kind is held to this part's target
CROSS = 0.1  # the same for the rise by watts at another place
NARROWEST = 1e-7  # cell on the coarsest of three grids, as part of the drawing's size
SMALLEST_AIM = 1e-12  # of the estimated error, at which nothing is left to split
COARSE_ERROR = 60.0  # estimated error of the coarsest of three grids, over the target

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Solution:
    """A solved section. `repr` gives its tables; `field` the temperatures on the finest grid."""

    section: Section
    network: Network
    sensors: Mapping[str, Reading]
    spreading: Mapping[str, Mapping[str, SpreadingResistance]]  # plate -> heat terminal ->
    bridges: Mapping[str, BridgeLoss]
    balance: Balance
    grid: GridReport
    warnings: tuple[str, ...]
    system: System = field(repr=False)
    unit_fields: Array = field(repr=False)  # (F + H, n, m) on the finest grid

    @cached_property
    def field(self) -> Field:
        """At the section's own temperatures and watts."""
        return self.field_at(self.section.fixed_temperatures, self.section.watts)

    def field_at(self, temperatures: Array, watts: Array) -> Field:
        """At any operating point, by superposition: degC of the fixed terminals (F,), W of the heat terminals (H,)."""
        return superposed(self.system, self.unit_fields, np.asarray(temperatures, float), np.asarray(watts, float))

    def __repr__(self) -> str:
        from fdm.output.tables import solution_text

        return solution_text(self)

    def _repr_html_(self) -> str:
        from fdm.output.tables import solution_html

        return solution_html(self)


def solve(
    section: Section,
    target: float = TARGET,
    max_cells: int = MOST_CELLS,
    cells: int | None = None,
    progress: Progress | None = None,
) -> Solution:
    """Solve a section until every asked number is within `target` of its truth (relative; temperatures to 0.02 K at
    the default 0.005 and in proportion), or the next grid would pass `max_cells`. `cells` forces a grid of at least
    that many cells instead. `progress` is called with a line of text before each longer step.

    Raises InputError where a source touches no solid, a sensor lies in a void, or solid parts are tied to no
    temperature.
    """
    if not (0 < target < 1):
        raise InputError(f"target: {target!r} is not a share between 0 and 1, such as 0.005 or 0.5%")
    if max_cells < 1 or (cells is not None and cells < 1):
        raise InputError("max_cells and cells: give a number of cells above 0")
    say = progress or (lambda text: None)
    x, y = first_lines(section)
    check_section(section)
    values, system, units = grid_values(section, x, y)
    warnings = warnings_of(system)
    aim = COARSE_ERROR * target
    x, y = refined(section, x, y, values, aim, max_cells // 16)
    previous: GridValues | None = None
    results: list[GridValues] = []
    counts: list[int] = []
    before = np.zeros_like(values.network.coupling, bool)  # couplings that grew without end on the grids before
    while True:
        coarse = x, y
        for x, y in _grids(x, y, cells)[len(results) :]:
            counts.append((len(x) - 1) * (len(y) - 1))
            say(f"solving {len(x) - 1} x {len(y) - 1} cells")
            values, system, units = grid_values(section, x, y)
            results.append(values)
        edges = _edges(system)
        final, band = _extrapolated(results, edges)
        if edges == "mixed":  # uneven: two extrapolations, a halving apart, must agree within the band
            settled, previous = previous, final
            if settled is not None:
                pairs = zip(arrays_of(band), arrays_of(final), arrays_of(settled))
                band = replaced(band, [np.fmax(b, AGREED * abs(new - old)) for b, new, old in pairs])
            band = _with_unevenness(section, final, band)
        suspect = _endless(results)
        endless, before = suspect & before, suspect
        np.putmask(band.network.coupling, endless, np.inf)
        excess, worst = _excess(section, final, band, target)
        met = excess <= 1 and (edges != "mixed" or settled is not None)
        if met or cells is not None or counts[-1] * (4 if edges == "mixed" else 2) > max_cells:
            break
        x, y = coarse
        if edges == "mixed":  # the error at slanted edges between solids falls most evenly where all cells are halved
            x, y = halved(x), halved(y)
            del results[0], counts[0]
            continue
        results, counts = [], []
        while len(x) + len(y) == len(coarse[0]) + len(coarse[1]) and aim > SMALLEST_AIM:
            aim /= min(max(2.0 * math.sqrt(excess), 2.0), 8.0)
            x, y = refined(section, *coarse, values, aim, max_cells // 16, endless)
        if aim <= SMALLEST_AIM:
            break
    note = (
        "target met"
        if met
        else "the given number of cells is used"
        if cells is not None
        else "the limit of cells is reached"
    )
    report = GridReport(system.raster.shape, tuple(counts), target, met, worst, note)
    warnings += tuple(
        f"the coupling of {section.fixed_names[a]!r} and {section.fixed_names[b]!r} has no limit: they meet at a point"
        for a, b in zip(*np.nonzero(np.tril(endless)))
    )
    return _answers(section, final, band, system, units, report, warnings)


def _grids(x: Array, y: Array, cells: int | None) -> list[tuple[Array, Array]]:
    """Three grids, each of half the last one's cell sizes, from the given one, or up to at least `cells` cells."""
    grids = [(x, y)]
    while len(grids) < 3 or (cells is not None and (len(grids[-1][0]) - 1) * (len(grids[-1][1]) - 1) < cells):
        grids.append((halved(grids[-1][0]), halved(grids[-1][1])))
    return grids[-3:]


def _endless(results: list[GridValues]) -> NDArray[np.bool_]:
    """(F, F) couplings that grow with every refinement: two temperatures meet at a point, between which any heat flows."""
    coarse, middle, fine = (r.network.coupling for r in results)
    return (fine - middle > 0.8 * (middle - coarse)) & (middle - coarse > 0.01 * fine)


def refined(
    section: Section,
    x: Array,
    y: Array,
    values: GridValues,
    aim: float,
    most: int,
    endless: NDArray[np.bool_] | None = None,
) -> tuple[Array, Array]:
    """Lines split where the estimated errors are largest, until each of them is below `aim`, relative to its answer."""
    pairs, scales = _goals(section, values)
    if endless is not None:
        fixed = len(endless)
        apart = (pairs < fixed).all(1)
        apart[apart] = endless[pairs[apart, 0], pairs[apart, 1]]
        pairs, scales = pairs[~apart], scales[~apart]
    while len(pairs):
        system = assemble(section, x, y)
        errors, (ex, ey) = interval_errors(system, _with_adjoints(system), pairs, scales, aim)
        if errors.max() <= aim:
            return x, y
        both = np.sort(np.concatenate([ex, ey]))[::-1]
        total = np.cumsum(both)
        limit = both[np.searchsorted(total, total[-1] / 2)]  # the intervals that hold half of the error
        wide_x, wide_y = (np.diff(lines) > NARROWEST * np.ptp(lines) for lines in (x, y))
        split_x, split_y = (ex >= limit) & wide_x, (ey >= limit) & wide_y
        if not (split_x.any() or split_y.any()) or (len(x) - 1 + split_x.sum()) * (len(y) - 1 + split_y.sum()) > most:
            return x, y
        x, y = split(x, split_x), split(y, split_y)
    return x, y


def _with_adjoints(system: System) -> Array:
    """(F + H + S + H, n, m) unit fields, then the adjoints of the sensors and of the highest temperatures."""
    solver = prepared(system, len(system.ties.direct) + len(system.inlets))
    sensors = [sensor_load(system, k) for k in range(len(system.section.sensors))]
    units = solver.fields([*heat_loads(system), *sensors], with_fixed=True)
    if not system.inlets:
        return units
    ext = extended(system, units[: len(units) - len(sensors)])
    peaks = [highest_load(system, ext, h) for h in range(len(system.inlets))]
    return np.concatenate([units, solver.fields(peaks)])


def _goals(section: Section, values: GridValues) -> tuple[Array, Array]:
    """Pairs of fields (K, 2) whose product is an asked number, and its scale (K,): an error of `target` on that scale is
    what is wanted of it. Fields in the order of `_with_adjoints`."""
    n, heat, fixed, sensors = values.network, len(section.heat_names), len(section.fixed_names), len(section.sensors)
    pairs, scales = [], []
    coupling = np.maximum(n.coupling, SMALL * n.coupling.max(initial=0.0))
    for k in range(len(section.bridges)):
        a, b = bridge_ends(section, k)
        coupling[a, b] = coupling[b, a] = min(coupling[a, b], max(abs(values.bridge[k]), SMALL * n.coupling[a, b]))
    for a in range(fixed):
        for b in range(a):
            pairs.append((a, b))
            scales.append(coupling[a, b])
    for h in range(heat):
        own = n.impedance[h, h]
        least = min([own, *(max(abs(plate[h, 0]), SPREADING * own) for plate in values.spreading)])
        peak = min([own, *(max(abs(plate[h, 1]), SPREADING * own) for plate in values.spreading)])
        pairs += [(fixed + h, fixed + h), (fixed + h, fixed + heat + sensors + h)]
        scales += [least, peak]
        pairs += [(fixed + h, f) for f in range(fixed)]
        scales += [1.0] * fixed
    kelvin = TARGET_KELVIN / TARGET
    mean = section.fixed_temperatures.mean()
    for s in range(sensors):
        adjoint = fixed + heat + s
        pairs += [(adjoint, f) for f in range(fixed)] + [(adjoint, fixed + h) for h in range(heat)]
        scales += [kelvin / max(abs(t - mean), 1e-9) for t in section.fixed_temperatures]
        scales += [kelvin / max(abs(q), 1e-9) for q in section.watts]
    return np.array(pairs, np.intp).reshape(-1, 2), np.maximum(scales, 1e-300)


def _edges(system: System) -> str:
    """The kind of edges that `extrapolated` asks for."""
    if system.cut is None:
        return "straight"
    return "mixed" if system.between_solids else "cut"


def _extrapolated(results: list[GridValues], edges: str) -> tuple[GridValues, GridValues]:
    """Values and bands from three grids; NaN (nothing to be read) stays NaN."""
    flat = [np.concatenate([a.ravel() for a in arrays_of(r)]) for r in results]
    ends = np.cumsum([a.size for a in arrays_of(results[-1])])[:-1]
    value, band = (np.split(v, ends) for v in extrapolated(*flat, edges))
    return replaced(results[-1], value), replaced(results[-1], band)


def _with_unevenness(section: Section, value: GridValues, band: GridValues) -> GridValues:
    """Bands with UNEVEN added: of couplings and resistances relative, of a weight w of w (1 - w), of readings by weight."""
    n, b = value.network, band.network
    weight = UNEVEN * n.weight * (1 - n.weight)
    at = len(section.heat_names)
    reading = weight[at:] @ abs(section.fixed_temperatures - section.fixed_temperatures.mean())
    return GridValues(
        NetworkValues(
            b.coupling + UNEVEN * n.coupling, b.weight + weight,
            b.impedance + UNEVEN * abs(n.impedance), b.impedance_max + UNEVEN * abs(n.impedance_max),
        ),
        band.reading + reading, band.misreading + reading,
        band.spreading + UNEVEN * abs(value.spreading), band.bridge + UNEVEN * abs(value.bridge), band.checks,
    )  # fmt: skip


def _excess(section: Section, value: GridValues, band: GridValues, target: float) -> tuple[float, str]:
    """Largest band over its target, and the name of that answer."""
    kelvin = TARGET_KELVIN * target / TARGET
    heat, fixed = section.heat_names, section.fixed_names
    observed = (*heat, *(s.name for s in section.sensors))
    worst = (0.0, "")

    def look(v: Array, b: Array, scale: Array | float, names: list[str]) -> None:
        nonlocal worst
        if v.size:
            ratio = (b / np.maximum(scale, 1e-300)).ravel()
            ratio[~np.isfinite(ratio)] = -1.0  # nothing to be read; or endless, which is said in the warnings
            k = int(np.argmax(ratio))
            worst = max(worst, (float(ratio[k]), names[k]))

    def relative(v: Array, floor: Array | float, small: float = SMALL) -> Array:
        return target * np.maximum(abs(v), small * floor)

    n, b = value.network, band.network
    look(
        n.coupling,
        b.coupling,
        relative(n.coupling, n.coupling.max(initial=0.0)),
        [f"coupling of {p} and {q}" for p in fixed for q in fixed],
    )
    look(n.weight, b.weight, target, [f"weight of {q} in {p}" for p in observed for q in fixed])
    own = abs(np.diag(n.impedance[: len(heat)])) if heat else np.zeros(0)
    allowed = relative(n.impedance, own, CROSS)
    allowed[len(heat) :] = np.maximum(allowed[len(heat) :], kelvin / np.maximum(abs(section.watts), 1e-9))
    look(n.impedance, b.impedance, allowed, [f"impedance of {p} to {q}" for p in observed for q in heat])
    look(
        n.impedance_max,
        b.impedance_max,
        relative(n.impedance_max, own, CROSS),
        [f"highest impedance of {p} to {q}" for p in heat for q in heat],
    )
    look(value.reading, band.reading, kelvin, [f"reading of {s.name}" for s in section.sensors])
    for k, plate in enumerate(section.spreading):
        names = [f"spreading of {plate.name} for {h}" for h in heat for _ in "mx"]
        look(
            value.spreading[k],
            band.spreading[k],
            relative(value.spreading[k], np.reshape(own, (-1, 1)), SPREADING),
            names,
        )
    for k, bridge in enumerate(section.bridges):
        whole = n.coupling[bridge_ends(section, k)]
        look(
            value.bridge[k : k + 1], band.bridge[k : k + 1], relative(value.bridge[k], whole), [f"bridge {bridge.name}"]
        )
    return worst


def _answers(
    section: Section,
    value: GridValues,
    band: GridValues,
    system: System,
    units: Array,
    report: GridReport,
    warnings: tuple[str, ...],
) -> Solution:
    n = value.network
    names = tuple(s.name for s in section.sensors)
    temperatures, watts = section.fixed_temperatures, section.watts
    network = Network(section.fixed_names, section.heat_names, names, n, band.network)

    goals = should_read(section, n)
    sensors = {}
    for k, sensor in enumerate(section.sensors):
        row = len(section.heat_names) + k
        sensors[sensor.name] = Reading(
            float(value.reading[k]),
            None if np.isnan(goals[k]) else float(goals[k]),
            None if np.isnan(goals[k]) else float(value.misreading[k]),
            float(band.reading[k]),
            None if np.isnan(goals[k]) else float(band.misreading[k]),
            _split(section, n, row, goals[k]),
        )
    spreading = {
        plate.name: {
            h: SpreadingResistance(*(float(v) for v in (*value.spreading[k, i], *band.spreading[k, i])))
            for i, h in enumerate(section.heat_names)
        }
        for k, plate in enumerate(section.spreading)
    }
    bridges = {}
    for k, bridge in enumerate(section.bridges):
        a, b = bridge_ends(section, k)
        metres = section.depth if section.view == "section" else 1.0
        drop = float(temperatures[a] - temperatures[b])
        bridges[bridge.name] = BridgeLoss(
            (section.fixed_names[a], section.fixed_names[b]),
            "psi" if section.view == "section" else "chi",
            float(value.bridge[k] / metres), float(band.bridge[k] / metres),
            float(value.bridge[k] * drop), float(band.bridge[k] * abs(drop)),
        )  # fmt: skip
    flow = flows(system, units.reshape(len(units), -1), temperatures, watts)
    checks = value.checks
    balance = Balance(
        {**dict(zip(section.fixed_names, flow.tolist())), **dict(zip(section.heat_names, watts.tolist()))},
        checks.imbalance, checks.weight_error, checks.asymmetry,
    )  # fmt: skip
    return Solution(section, network, sensors, spreading, bridges, balance, report, warnings, system, units)


def at_operating_point(solution: Solution, terminals: Mapping[str, float]) -> Solution:
    """The same section at other temperatures (degC) and watts of its terminals, by name, without a new solve."""
    section = solution.section
    changed = replace(
        section,
        environments=tuple(replace(e, temperature=terminals[e.name]) for e in section.environments),
        sources=tuple(
            replace(s, heat=terminals[s.name]) if s.heat is not None else replace(s, temperature=terminals[s.name])
            for s in section.sources
        ),
    )
    n, band = solution.network.values, solution.network.band
    temperatures, watts = abs(changed.fixed_temperatures - changed.fixed_temperatures.mean()), abs(changed.watts)
    at = len(section.heat_names)
    goals = should_read(changed, n)
    reading = (n.weight @ changed.fixed_temperatures + n.impedance @ changed.watts)[at:]
    reading_band = (band.weight @ temperatures + band.impedance @ watts)[at:]
    spreading = np.array([[[r.mean, r.max] for r in by_heat.values()] for by_heat in solution.spreading.values()])
    spreading_band = np.array(
        [[[r.mean_band, r.max_band] for r in by_heat.values()] for by_heat in solution.spreading.values()]
    )
    metres = section.depth if section.view == "section" else 1.0
    bridge = np.array([b.value * metres for b in solution.bridges.values()])
    bridge_band = np.array([b.band * metres for b in solution.bridges.values()])
    checks = Checks(solution.balance.weight_error, solution.balance.asymmetry, solution.balance.imbalance)
    value = GridValues(n, reading, reading - goals, spreading, bridge, checks)
    bands = GridValues(band, reading_band, reading_band + 0 * goals, spreading_band, bridge_band, checks)
    return _answers(changed, value, bands, solution.system, solution.unit_fields, solution.grid, solution.warnings)


def _split(section: Section, n: NetworkValues, row: int, goal: float) -> dict[str, float]:
    """K of the misreading that each terminal is to blame for: weight x (its temperature - what should be read), and
    impedance x watts. Of the reading itself, weight x temperature in degC, where nothing should be read."""
    base = 0.0 if np.isnan(goal) else goal
    out = {
        name: float(w * (t - base))
        for name, w, t in zip(section.fixed_names, n.weight[row], section.fixed_temperatures)
    }
    return out | {name: float(z * q) for name, z, q in zip(section.heat_names, n.impedance[row], section.watts)}


def superposed(system: System, units: Array, temperatures: Array, watts: Array) -> Field:
    """The field of terminal temperatures (F,) degC and watts (H,), from unit fields (F + H, n, m)."""
    raster, p = system.raster, system.palette
    operating = np.concatenate([temperatures, watts])
    ext = np.tensordot(operating, extended(system, units), 1)
    n, m = raster.shape
    i, j = (a.ravel() for a in np.meshgrid(np.arange(n + 1), np.arange(m + 1), indexing="ij"))
    w = point_weights(system, i, j)
    points = at_points(ext[None], replace(w, fixed=w.fixed @ temperatures[:, None], heat=np.zeros((len(i), 0))), i, j)[
        0
    ]
    points = points + w.heat @ watts
    points = np.where(w.cell.sum(1) + w.fixed.sum(1) > 0.5, points, np.nan)
    inner = raster.owner[1:-1, 1:-1]
    drawn = system.solid | (p.fixed[inner] >= 0)
    conductivity = np.where(system.solid[..., None], p.conductivity[inner], 0.0)
    return Field(
        raster.x, raster.y, np.where(inner == NOTHING, -1, inner).astype(np.int64), system.solid,
        np.where(drawn, ext[1:-1, 1:-1], np.nan), points.reshape(n + 1, m + 1), conductivity,
        _flux(system, units, operating),
    )  # fmt: skip


def _flux(system: System, units: Array, operating: Array) -> Array:
    """(n, m, 2) W/m2, the mean of what passes a cell's two sides."""
    out = np.zeros((*system.solid.shape, 2))
    for axis, (low, high) in enumerate(side_flows(system, units)):
        width = np.diff(system.raster.x)[:, None] if axis == 0 else np.diff(system.raster.y)[None]
        area = np.divide(system.volume, width, out=np.ones_like(system.volume), where=system.volume > 0)
        out[..., axis] = np.where(system.solid, np.tensordot(operating, (low + high) / 2, 1) / area, 0.0)
    return out


def warnings_of(system: System) -> tuple[str, ...]:
    """What is likely not meant: parts that are wholly covered, environments that nothing touches."""
    section = system.section
    seen = np.unique(system.raster.owner)
    out = [f"part {p.name!r} is wholly covered by later parts" for k, p in enumerate(section.parts) if k not in seen]
    touched = set(system.ties.terminal[system.ties.value > 0].tolist())
    out += [
        f"environment {name!r} touches no solid part"
        for k, name in enumerate(section.fixed_names[: len(section.environments)])
        if k not in touched
    ]
    return tuple(out)


@dataclass(frozen=True)
class SectionCheck:
    """What would be solved, without solving it."""

    text: str
    warnings: tuple[str, ...]


def check_section(section: Section) -> SectionCheck:
    """Everything that a solve would refuse or warn of, and in words what it would answer. Raises InputError like `solve`."""
    x, y = first_lines(section)
    system = assemble(section, x, y)
    refuse_loose_parts(system)
    sensors_in_voids(system)
    u = UNITS[section.unit]
    low_x, high_x, low_y, high_y = (v / u for v in section.extent)
    view = {
        "section": f"section, {section.depth / u:g} {section.unit} deep",
        "axisymmetric": "about the y axis",
        "plate": "plate seen face on",
    }
    lines = [
        section.title,
        f"  {view[section.view]}; x = {low_x:g} to {high_x:g} {section.unit}, y = {low_y:g} to {high_y:g} {section.unit}",
        f"  {len(section.parts)} parts; coarsest grid {len(x) - 1} x {len(y) - 1} cells",
    ]
    lines += [
        f"  environment {e.name}: {e.temperature:g} degC behind {e.film:g} W/(m2 K)" for e in section.environments
    ]
    lines += [
        f"  source {s.name}: {f'{s.heat:g} W' if s.heat is not None else f'held at {s.temperature:g} degC'}"
        for s in section.sources
    ]
    lines += [
        f"  sensor {s.name}" + (f", should read {s.should_read}" if s.should_read is not None else "")
        for s in section.sensors
    ]
    lines += [
        f"  spreading resistance of {s.name} along {spread_direction(section, k)}"
        for k, s in enumerate(section.spreading)
    ]
    lines += [f"  bridge: loss that {b.name} causes" for b in section.bridges]
    solves = 1 + len(section.spreading) + len(section.bridges)
    lines.append(
        f"  {len(section.fixed_names) + len(section.heat_names)} unit fields, {solves} factorisation{'s' if solves > 1 else ''} a grid"
    )
    return SectionCheck("\n".join(lines), warnings_of(system))


def sensors_in_voids(system: System) -> None:
    """Raise InputError where a sensor's point touches nothing that has a temperature, or its part is wholly covered."""
    for k, sensor in enumerate(system.section.sensors):
        if sensor.at is not None:
            i, j = sensor_point(system, k)
            around = system.raster.owner[i : i + 2, j : j + 2]
            if not (system.palette.solid[around] | (system.palette.fixed[around] >= 0)).any():
                raise InputError(
                    f"sensor {sensor.name!r}, at: it lies in a void; move it into a solid part or an environment"
                )
        else:
            number = part_number(system, sensor.part)
            if system.palette.fixed[number] < 0 and not len(system.part_cells(number)[0]):
                raise InputError(
                    f"sensor {sensor.name!r}, part: {sensor.part!r} is wholly covered by later parts; draw it later"
                )
