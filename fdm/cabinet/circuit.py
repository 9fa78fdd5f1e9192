"""The cabinet as nodes and paths between them, from the networks of its sections and the hand sums of its walls.

A path is a conductance between two nodes with its band. The module's section gives the mesh between the cabinet's
air, the room and the module's two faces exactly (`conductance_matrix`), and the heat capacity of its metal, shared
among these nodes in proportion to how far each sets the temperature there.

Left out: temperature differences within the air and within the load, radiation other than in the films, moisture,
and what the section drawings leave out.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.answers.network import Network
from fdm.cabinet.model import AIR, Bank, Cabinet, LineLoss, PointLoss, Wall
from fdm.cabinet.sections import LumpedSections, section_mesh

Array = NDArray[np.float64]

# Kinds of nodes. There is one node of each kind, with the kind's name, except that every wall has a lining. There is a
# node for the air at a sink only where the sink lies beside the modules' section.
ROOM, LOAD, COLD, HOT = "room", "load", "cold face", "hot face"  # and AIR
COLD_AIR, HOT_AIR = "air at the cold sink", "air at the hot sink"
LINING = "lining"
COLD_SIDE = frozenset({AIR, LOAD, COLD, COLD_AIR, LINING})  # of the modules

AIR_DENSITY, AIR_HEAT = 1.23, 1008.0  # kg/m3, J/(kg K): ISO 10456:2007, from memory


@dataclass(frozen=True)
class Node:
    """A lump that has one temperature. `capacity` J/K (0: none), `heat` W given off inside it."""

    name: str
    kind: str
    capacity: float = 0.0
    heat: float = 0.0


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
    """N nodes, the room last, and the paths between them."""

    cabinet: Cabinet
    nodes: tuple[Node, ...]
    paths: tuple[Path, ...]
    sensing: Array  # (N,) weights of the nodes in what the thermostat reads; they sum to 1
    sensing_band: Array  # (N,)
    warnings: tuple[str, ...]

    @cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(n.name for n in self.nodes)

    @cached_property
    def capacity(self) -> Array:
        """(N,) J/K."""
        return np.array([n.capacity for n in self.nodes])

    @cached_property
    def heat(self) -> Array:
        """(N,) W given off inside the nodes."""
        return np.array([n.heat for n in self.nodes])

    @cached_property
    def laplacian(self) -> Array:
        """(N, N) W/K: flows out of the nodes = laplacian @ temperatures."""
        out = np.zeros((len(self.nodes),) * 2)
        for p in self.paths:
            a, b = (self.number(end) for end in p.ends)
            out[[a, b], [a, b]] += p.conductance
            out[[a, b], [b, a]] -= p.conductance
        return out

    def number(self, name: str) -> int:
        return self.names.index(name)

    def kind(self, name: str) -> str:
        return self.nodes[self.number(name)].kind


def circuit(cabinet: Cabinet, sections: LumpedSections) -> Circuit:
    """The nodes and paths of a cabinet whose sections are solved."""
    bank = cabinet.bank
    module = sections[bank.file] if bank.file is not None else None
    paths = [path for wall in cabinet.walls for path in _wall_paths(cabinet, wall)]
    losses: tuple[LineLoss | PointLoss, ...] = (*cabinet.lines, *cabinet.points)
    paths += [_loss_path(x, sections) for x in losses]
    if cabinet.air_changes:
        paths.append(Path("air exchange", "air exchange", (AIR, ROOM), cabinet.air_changes / 3600 * _air_heat(cabinet)))
    paths.append(Path("load surface", "load", (AIR, LOAD), cabinet.load.film * cabinet.load.surface))
    if module is not None:
        paths += _section_paths(module.network, _terminal_nodes(bank), bank.supply.modules)
    if bank.cold_sink is not None:
        paths.append(
            Path("cold sink", "sink", (AIR, COLD if module is None else COLD_AIR), 1 / bank.cold_sink.resistance)
        )
    if bank.hot_sink is not None:
        paths.append(Path("hot sink", "sink", (HOT if module is None else HOT_AIR, ROOM), 1 / bank.hot_sink.resistance))

    nodes = nodes_of(cabinet, module.stored if module is not None else {})
    sensing = _sensing(cabinet, sections, [n.name for n in nodes])
    return Circuit(cabinet, nodes, tuple(paths), *sensing, module.warnings if module is not None else ())


def nodes_of(cabinet: Cabinet, stored: Mapping[str, float]) -> tuple[Node, ...]:
    """All nodes with their heat capacities and the heat given off in them. `stored` (J/K) is what each terminal of the
    modules' section stores; none without a section."""
    bank, load = cabinet.bank, cabinet.load
    capacity = {AIR: _air_heat(cabinet), LOAD: load.mass * load.specific_heat, COLD: 0.0, HOT: 0.0}
    capacity |= {air: 0.0 for air in _airs_of_section(bank) if air not in (AIR, ROOM)}
    capacity[COLD] += bank.cold_capacity
    capacity[HOT] += bank.hot_capacity
    node = _terminal_nodes(bank)
    for terminal, joules in stored.items():
        if node[terminal] != ROOM:  # whose temperature is held
            capacity[node[terminal]] += joules * bank.supply.modules
    heat = {AIR: cabinet.inside_heat, LOAD: load.heat}
    return (
        *(Node(kind, kind, joules, heat.get(kind, 0.0)) for kind, joules in capacity.items()),
        *(Node(_lining(w), LINING, _lining_capacity(cabinet, w)) for w in cabinet.walls),
        Node(ROOM, ROOM),
    )


def _airs_of_section(bank: Bank) -> tuple[str, str]:
    """The nodes of the air inside and outside that the modules' section meets: the cabinet's air and the room; or, with
    a sink beside the section, the air at that sink."""
    in_section = bank.file is not None
    return COLD_AIR if in_section and bank.cold_sink else AIR, HOT_AIR if in_section and bank.hot_sink else ROOM


def _terminal_nodes(bank: Bank) -> dict[str, str]:
    """The node that each terminal of the modules' section belongs to."""
    inside, outside = _airs_of_section(bank)
    return dict.fromkeys(bank.inside, inside) | dict.fromkeys(bank.outside, outside) | {bank.cold: COLD, bank.hot: HOT}


def _air_heat(cabinet: Cabinet) -> float:
    """J/K of the air inside."""
    width, depth, height = cabinet.inside
    return AIR_DENSITY * AIR_HEAT * width * depth * height


def _lining(wall: Wall) -> str:
    return f"lining of {wall.name}"


def _lining_capacity(cabinet: Cabinet, wall: Wall) -> float:
    """J/K of a wall's first layer."""
    first = wall.layers[0]
    density, specific_heat = first.material.density or 0.0, first.material.specific_heat or 0.0
    return density * specific_heat * first.thickness * cabinet.wall_area(wall)


def _wall_paths(cabinet: Cabinet, wall: Wall) -> tuple[Path, Path]:
    """ISO 6946 (from memory): resistances of surfaces and layers in series; the lining node lies in the middle of the
    first layer."""
    area, lining = cabinet.wall_area(wall), _lining(wall)
    r = [layer.thickness / layer.material.conductivity[0] for layer in wall.layers]
    inner = 1 / wall.film_inside + r[0] / 2
    outer = r[0] / 2 + sum(r[1:]) + 1 / wall.film_outside
    return (
        Path(wall.name, "lining", (AIR, lining), area / inner),
        Path(wall.name, "wall", (lining, ROOM), area / outer),
    )


def _loss_path(loss: LineLoss | PointLoss, sections: LumpedSections) -> Path:
    kind, amount, value = (
        ("line", loss.length, loss.psi) if isinstance(loss, LineLoss) else ("point", loss.count, loss.chi)
    )
    band = 0.0
    if loss.file is not None and loss.bridge is not None:
        answer = sections[loss.file].bridges[loss.bridge]
        value, band = answer.value, answer.band
    assert value is not None
    return Path(loss.name, kind, (AIR, ROOM), amount * value, amount * band)


def _section_paths(network: Network, node: Mapping[str, str], count: int) -> list[Path]:
    """The mesh between the nodes that the section's terminals belong to, of `count` sections side by side."""
    names, mesh, band = section_mesh(network)
    total: dict[tuple[str, str], tuple[float, float]] = {}
    for i in range(len(names)):
        for j in range(i):
            ends = (node[names[j]], node[names[i]])
            if ends[0] != ends[1]:
                key = ends[::-1] if ends[::-1] in total else ends
                g, b = total.get(key, (0.0, 0.0))
                total[key] = (g + mesh[i, j], b + band[i, j])
    return [Path("module section", "section", ends, count * g, count * b) for ends, (g, b) in total.items()]


def _sensing(cabinet: Cabinet, sections: LumpedSections, nodes: Sequence[str]) -> tuple[Array, Array]:
    """Weights of the nodes in the thermostat's reading, and their bands. In the modules' own section the resistance to
    its faces' watts is turned into weights of the faces' temperatures, so that it does not jump with the watts."""
    t, bank, weights, bands = cabinet.thermostat, cabinet.bank, np.zeros(len(nodes)), np.zeros(len(nodes))
    if t.file is None or t.sensor == AIR:
        weights[nodes.index(AIR)] = 1.0
        return weights, bands
    n, own = sections[t.file].network, t.file == bank.file
    row, heat = n.observed.index(t.sensor), len(n.heat)
    inside, outside = _airs_of_section(bank) if own else (AIR, ROOM)
    node = dict.fromkeys(t.inside, inside) | dict.fromkeys(t.outside, outside)
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
