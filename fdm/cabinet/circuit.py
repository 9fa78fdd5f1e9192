"""The cabinet as nodes and paths between them, from the solved sections and the hand sums of its walls.

A path is a conductance between two nodes with its band. The module's section gives the mesh between the cabinet's
air, the room and the module's two faces exactly (`conductance_matrix`), and the heat capacity of its metal, shared
among these nodes in proportion to how far each sets the temperature there.

Left out: temperature differences within the air and within the load, radiation other than in the films, moisture,
and what the section drawings leave out.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from fdm.answers.grid import NetworkValues
from fdm.answers.network import conductance_matrix
from fdm.cabinet.model import AIR, Cabinet, LineLoss, PointLoss, SectionFile, Wall
from fdm.solving.solution import Solution
from fdm.solving.steady import solve

Array = NDArray[np.float64]
Sections = Mapping[SectionFile, Solution]

ROOM, LOAD, COLD, HOT = "room", "load", "cold face", "hot face"
COLD_AIR, HOT_AIR = "air at the cold sink", "air at the hot sink"
AIR_DENSITY, AIR_HEAT = 1.23, 1008.0  # kg/m3, J/(kg K): ISO 10456:2007, from memory


@dataclass(frozen=True)
class Path:
    """A way for heat between two nodes, W/K; `kind`: wall, line, point, air exchange, section, sink, lining or load."""

    name: str
    kind: str
    ends: tuple[str, str]
    conductance: float
    band: float = 0.0


@dataclass(frozen=True)
class Circuit:
    """N nodes, the room last. Heat is W given off inside a node, capacity J/K (0: none)."""

    cabinet: Cabinet
    nodes: tuple[str, ...]
    paths: tuple[Path, ...]
    capacity: Array  # (N,)
    heat: Array  # (N,)
    sensing: Array  # (N,) weights of the nodes in what the thermostat reads; they sum to 1
    sensing_band: Array  # (N,)
    warnings: tuple[str, ...]

    def number(self, node: str) -> int:
        return self.nodes.index(node)

    @property
    def laplacian(self) -> Array:
        """(N, N) W/K: flows out of the nodes = laplacian @ temperatures."""
        out = np.zeros((len(self.nodes),) * 2)
        for p in self.paths:
            a, b = (self.number(end) for end in p.ends)
            out[[a, b], [a, b]] += p.conductance
            out[[a, b], [b, a]] -= p.conductance
        return out


def solve_sections(
    cabinet: Cabinet,
    known: Sections | None = None,
    target: float = 0.005,
    progress: Callable[[str], None] | None = None,
) -> dict[SectionFile, Solution]:
    """Every section that the cabinet names, each once; those in `known` are taken from there."""
    out: dict[SectionFile, Solution] = {}
    for file in cabinet.section_files:
        if file is not None and file not in out:
            if known is not None and file in known:
                out[file] = known[file]
            else:
                say = partial(_say, progress, file.path) if progress else None
                out[file] = solve(file.section, target, progress=say)
    return out


def _say(progress: Callable[[str], None], path: str, text: str) -> None:
    progress(f"{path}: {text}")


def circuit(cabinet: Cabinet, sections: Sections) -> Circuit:
    """The nodes and paths of a cabinet whose sections are solved."""
    bank = cabinet.bank
    linings = [_lining(w) for w in cabinet.walls]
    extra = [COLD_AIR] * bool(bank.file and bank.cold_sink) + [HOT_AIR] * bool(bank.file and bank.hot_sink)
    nodes = (AIR, LOAD, COLD, HOT, *extra, *linings, ROOM)
    capacity = dict.fromkeys(nodes, 0.0)
    width, depth, height = cabinet.inside
    capacity[AIR] = AIR_DENSITY * AIR_HEAT * width * depth * height
    capacity[LOAD] = cabinet.load.mass * cabinet.load.specific_heat
    paths: list[Path] = []
    for wall, lining in zip(cabinet.walls, linings):
        paths += _wall_paths(cabinet, wall, lining)
        first = wall.layers[0]
        rho, c = first.material.density or 0.0, first.material.specific_heat or 0.0
        capacity[lining] = rho * c * first.thickness * cabinet.wall_area(wall)
    losses: tuple[LineLoss | PointLoss, ...] = (*cabinet.lines, *cabinet.points)
    paths += [_loss_path(x, sections) for x in losses]
    if cabinet.air_changes:
        flow = cabinet.air_changes / 3600 * capacity[AIR]
        paths.append(Path("air exchange", "air exchange", (AIR, ROOM), flow))
    paths.append(Path("load surface", "load", (AIR, LOAD), cabinet.load.film * cabinet.load.surface))

    air, room = (COLD_AIR if COLD_AIR in nodes else AIR), (HOT_AIR if HOT_AIR in nodes else ROOM)
    capacity[COLD] += bank.cold_capacity
    capacity[HOT] += bank.hot_capacity
    warnings: tuple[str, ...] = ()
    if bank.file is None:
        assert bank.cold_sink is not None and bank.hot_sink is not None
        paths.append(Path("cold sink", "sink", (AIR, COLD), 1 / bank.cold_sink.resistance))
        paths.append(Path("hot sink", "sink", (HOT, ROOM), 1 / bank.hot_sink.resistance))
    else:
        solution = sections[bank.file]
        terminal = _terminals(solution, bank.inside, bank.outside, air, room) | {bank.cold: COLD, bank.hot: HOT}
        paths += _section_paths(solution, terminal, bank.supply.modules)
        stored, warnings = section_capacity(solution)
        for name, joules in stored.items():
            capacity[terminal[name]] += joules * bank.supply.modules
        if bank.cold_sink:
            paths.append(Path("cold sink", "sink", (AIR, COLD_AIR), 1 / bank.cold_sink.resistance))
        if bank.hot_sink:
            paths.append(Path("hot sink", "sink", (HOT_AIR, ROOM), 1 / bank.hot_sink.resistance))
    heat = dict.fromkeys(nodes, 0.0)
    heat[AIR], heat[LOAD] = cabinet.inside_heat, cabinet.load.heat
    capacity[ROOM] = 0.0
    return Circuit(
        cabinet, nodes, tuple(paths), np.array([capacity[n] for n in nodes]), np.array([heat[n] for n in nodes]),
        *_sensing(cabinet, sections, nodes, air, room), warnings,
    )  # fmt: skip


def section_capacity(solution: Solution) -> tuple[dict[str, float], tuple[str, ...]]:
    """J/K of each terminal of a section, for its depth or turn: density x specific heat x volume, shared at every place
    by how far each terminal's temperature sets the one there; and warnings of materials without the figures."""
    section, system, units = solution.section, solution.system, solution.unit_fields
    fixed, heat = len(section.fixed_names), len(section.heat_names)
    per_volume = np.zeros(len(section.parts))
    lacking = set()
    for k, part in enumerate(section.parts):
        if (m := part.material) is not None:
            if m.density is None or m.specific_heat is None:
                lacking.add(m.name)
            else:
                per_volume[k] = m.density * m.specific_heat
    stored = np.zeros(fixed + heat)
    flat = units.reshape(len(units), -1)
    for k in np.nonzero(per_volume)[0].tolist():
        cell, volume = system.part_cells(k)
        stored += flat[:, cell] @ volume * per_volume[k]
    n = solution.network.values
    if heat:  # from watts at the heat terminals to their temperatures
        by_watt = np.linalg.solve(n.resistance[:heat].T, stored[fixed:])
        stored = np.concatenate([stored[:fixed] - n.weight[:heat].T @ by_watt, by_watt])
    names = (*section.fixed_names, *section.heat_names)
    lack = tuple(
        f"material {name!r} has no density and specific heat; its heat capacity is left out" for name in sorted(lacking)
    )
    return dict(zip(names, stored.tolist())), lack


def section_mesh(solution: Solution) -> tuple[tuple[str, ...], Array, Array]:
    """Terminals (fixed, then heat), the conductances (W/K) between each two of them, and their bands."""
    names = (*solution.section.fixed_names, *solution.section.heat_names)
    mesh, band = _mesh(solution.network.values), solution.network.band
    spread = np.zeros_like(mesh)
    for key, symmetric in (("coupling", True), ("weight", False), ("resistance", True)):
        values, bands = getattr(solution.network.values, key), getattr(band, key)
        rows = range(len(solution.section.heat_names)) if key != "coupling" else range(len(values))
        for i in rows:
            for j in range(values.shape[1]):
                if (symmetric and j > i) or not np.isfinite(bands[i, j]):
                    continue
                moved = values.copy()
                moved[i, j] += bands[i, j]
                if symmetric and i != j:
                    moved[j, i] += bands[i, j]
                spread += abs(_mesh(replace(solution.network.values, **{key: moved})) - mesh)
    return names, mesh, spread


def _mesh(values: NetworkValues) -> Array:
    out = -conductance_matrix(values)
    np.fill_diagonal(out, 0.0)
    return out


def _lining(wall: Wall) -> str:
    return f"lining of {wall.name}"


def _wall_paths(cabinet: Cabinet, wall: Wall, lining: str) -> list[Path]:
    """ISO 6946 (from memory): resistances of surfaces and layers in series; the lining node lies in the middle of the
    first layer."""
    area = cabinet.wall_area(wall)
    r = [layer.thickness / layer.material.conductivity[0] for layer in wall.layers]
    inner = 1 / wall.film_inside + r[0] / 2
    outer = r[0] / 2 + sum(r[1:]) + 1 / wall.film_outside
    return [
        Path(wall.name, "lining", (AIR, lining), area / inner),
        Path(wall.name, "wall", (lining, ROOM), area / outer),
    ]


def _loss_path(loss: LineLoss | PointLoss, sections: Sections) -> Path:
    kind, amount, value = (
        ("line", loss.length, loss.psi) if isinstance(loss, LineLoss) else ("point", loss.count, loss.chi)
    )
    band = 0.0
    if loss.file is not None and loss.bridge is not None:
        answer = sections[loss.file].bridges[loss.bridge]
        value, band = answer.value, answer.band
    assert value is not None
    return Path(loss.name, kind, (AIR, ROOM), amount * value, amount * band)


def _terminals(
    solution: Solution, inside: tuple[str, ...], outside: tuple[str, ...], air: str, room: str
) -> dict[str, str]:
    return {name: air for name in inside} | {name: room for name in outside}


def _section_paths(solution: Solution, node: Mapping[str, str], count: int) -> list[Path]:
    names, mesh, band = section_mesh(solution)
    total: dict[tuple[str, str], tuple[float, float]] = {}
    for i in range(len(names)):
        for j in range(i):
            ends = (node[names[j]], node[names[i]])
            if ends[0] != ends[1]:
                key = ends if ends not in total and ends[::-1] not in total else ends if ends in total else ends[::-1]
                g, b = total.get(key, (0.0, 0.0))
                total[key] = (g + mesh[i, j], b + band[i, j])
    return [Path("module section", "section", ends, count * g, count * b) for ends, (g, b) in total.items()]


def _sensing(cabinet: Cabinet, sections: Sections, nodes: tuple[str, ...], air: str, room: str) -> tuple[Array, Array]:
    """Weights of the nodes in the thermostat's reading, and their bands. In the modules' own section the resistance to
    its faces' watts is turned into weights of the faces' temperatures, so that it does not jump with the watts."""
    t, weights, bands = cabinet.thermostat, np.zeros(len(nodes)), np.zeros(len(nodes))
    if t.file is None or t.sensor == AIR:
        weights[nodes.index(AIR)] = 1.0
        return weights, bands
    solution, bank = sections[t.file], cabinet.bank
    own = t.file == bank.file
    n = solution.network
    row, heat = n.observed.index(t.sensor), len(n.heat)
    node = _terminals(solution, t.inside, t.outside, air if own else AIR, room if own else ROOM)
    by_face = (
        np.linalg.solve(n.values.resistance[:heat].T, n.values.resistance[row]) if own and heat else np.zeros(heat)
    )
    by_fixed = n.values.weight[row] - by_face @ n.values.weight[:heat]
    for name, weight, band in zip(n.fixed, by_fixed, n.band.weight[row]):
        weights[nodes.index(node[name])] += weight
        bands[nodes.index(node[name])] += band
    if own:
        for name, weight in zip(n.heat, by_face):
            weights[nodes.index(COLD if name == bank.cold else HOT)] += weight
    return weights, bands
