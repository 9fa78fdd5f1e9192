"""The cabinet as nodes and paths between them, from the networks of its sections and the hand sums of its walls.

A path is a conductance between two nodes with its band. The module's section gives the mesh between the cabinet's
air, the room and the module's two faces exactly (`conductance_matrix`), and the heat capacity of its metal, shared
among these nodes in proportion to how far each sets the temperature there.

Left out: temperature differences within the air and within the load, radiation other than in the films, and what the
section drawings leave out. Moisture comes later, as latent heat in the nodes (`moisture`).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.answers.network import Network
from fdm.cabinet.air import START, Flow, facing_conductance, flows, layer_conductances
from fdm.cabinet.bank import Bank, PlateSink, Sink
from fdm.cabinet.losses import LineLoss, PointLoss
from fdm.cabinet.model import Cabinet
from fdm.cabinet.sections import LumpedSections, section_mesh
from fdm.cabinet.settling import Moisture
from fdm.cabinet.sinks import PLACE, block_capacity, block_resistance, plate_network, plate_stored, sensor_weights
from fdm.cabinet.walls import Wall
from fdm.cabinet.zones import AIR

Array = NDArray[np.float64]

# Kinds of nodes. There is one node of each kind, with the kind's name, except that every wall has a lining. There is a
# node for the air at a sink only where a lumped sink lies beside the modules' section, and one for a plate only where a
# block lies between it and the modules.
ROOM, LOAD, COLD, HOT = "room", "load", "cold face", "hot face"  # and AIR
COLD_AIR, HOT_AIR = "air at the cold sink", "air at the hot sink"
COLD_PLATE, HOT_PLATE = "cold plate", "hot plate"
FACE_OF = {"cold_sink": COLD, "hot_sink": HOT}
PLATE_OF = {"cold_sink": COLD_PLATE, "hot_sink": HOT_PLATE}
LINING = "lining"
COLD_SIDE = frozenset({AIR, LOAD, COLD, COLD_AIR, COLD_PLATE, LINING})  # of the modules

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
    """A way for heat between two nodes, W/K; `kind`: wall, line, point, air exchange, section, sink, block, lining,
    load, or exchange between zones. The difference that drives the heat is that between its ends, or between the two
    nodes `driven_by` (`fdm.cabinet.air`)."""

    name: str
    kind: str
    ends: tuple[str, str]
    conductance: float
    band: float = 0.0
    driven_by: tuple[str, str] | None = None

    @property
    def drivers(self) -> tuple[str, str]:
        return self.driven_by or self.ends


@dataclass(frozen=True)
class Circuit:
    """N nodes, the room last, and the paths between them."""

    cabinet: Cabinet
    nodes: tuple[Node, ...]
    paths: tuple[Path, ...]
    sensing: Array  # (N,) weights of the nodes in what the thermostat reads; they sum to 1
    sensing_band: Array  # (N,)
    warnings: tuple[str, ...]
    moisture: Moisture | None = None  # None: the room's humidity is not known
    self_heating: float = 0.0  # K that the thermostat's sensor reads more by its own watts
    flows: tuple[Flow, ...] = ()  # of air between zones
    passing: float = 1.0  # of what the cold sink would take, what the air that passes it can bring

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
            warm, cold = (self.number(node) for node in p.drivers)
            out[[a, b], [warm, cold]] += p.conductance
            out[[a, b], [cold, warm]] -= p.conductance
        return out

    def reading(self, temperatures: Array) -> Array:
        """degC (...) that the thermostat reads at temperatures (..., N) of the nodes."""
        return np.asarray(temperatures @ self.sensing + self.self_heating)

    @property
    def air(self) -> str:
        """The node of the air at the load, or at most of it."""
        return self.cabinet.load_zone

    @property
    def sensed_air(self) -> str:
        """The node of the air that the thermostat's sensor is in."""
        return self.cabinet.thermostat_zone

    @cached_property
    def air_shares(self) -> Array:
        """(N,) 1 for the air at the load."""
        return np.array([float(name == self.air) for name in self.names])

    @cached_property
    def load(self) -> Array:
        """(N,) share of each node in the load; with temperatures, the load's mean."""
        shares = {load_node(self.cabinet, zone): share for zone, share in self.cabinet.load_shares.items()}
        return np.array([shares.get(name, 0.0) for name in self.names])

    def number(self, name: str) -> int:
        return self.names.index(name)

    def kind(self, name: str) -> str:
        return self.nodes[self.number(name)].kind


def circuit(cabinet: Cabinet, sections: LumpedSections, at: Mapping[str, float] | None = None) -> Circuit:
    """The nodes and paths of a cabinet whose sections are solved. What moves the air inside is taken at the
    temperatures `at` of the nodes (degC); without them, at a first guess."""
    bank = cabinet.bank
    module = sections[bank.file] if bank.file is not None else None
    nodes = nodes_of(cabinet, sections)
    if at is None:
        at = {n.name: cabinet.room - (START if n.kind == COLD else 0.0) for n in nodes}
    moved = flows(cabinet, at, COLD)
    paths = [path for wall in cabinet.walls for path in _wall_paths(cabinet, wall)]
    losses: tuple[LineLoss | PointLoss, ...] = (*cabinet.lines, *cabinet.points)
    paths += [path for x in losses for path in _loss_paths(cabinet, x, sections)]
    if cabinet.air_changes:
        paths += _changed_air(cabinet, "air exchange", cabinet.air_changes, None)
    for opening in cabinet.openings:
        paths += _changed_air(cabinet, opening.name, opening.changes, opening.zone)
    paths += _load_paths(cabinet, at)
    cold = [] if module is None else _module_paths(cabinet, module.network)
    cold, passing = _passed(cabinet, [*cold, *_sink_paths(cabinet, "cold_sink", sections, moved)], moved)
    paths += [*cold, *_sink_paths(cabinet, "hot_sink", sections, moved)]
    paths += [Path(f.exchange.name, "exchange", f.exchange.between, f.carries) for f in moved]
    paths += [Path(f"layers, {a} and {b}", "exchange", (a, b), g) for (a, b), g in layer_conductances(cabinet, at)]

    sensing = _sensing(cabinet, sections, [n.name for n in nodes])
    files = dict.fromkeys((bank.file, *(sink.file for sink in bank.plates.values())))
    warnings = dict.fromkeys(w for file in files if file is not None for w in sections[file].warnings)
    heating = _self_heating(cabinet, sections)
    return Circuit(
        *(cabinet, nodes, tuple(paths), *sensing, tuple(warnings)),
        self_heating=heating,
        flows=moved,
        passing=passing,
    )


def nodes_of(cabinet: Cabinet, sections: LumpedSections) -> tuple[Node, ...]:
    """All nodes with their heat capacities and the heat given off in them; of the sections, those of the modules and of
    their plates count."""
    bank, load = cabinet.bank, cabinet.load
    kinds = dict.fromkeys(cabinet.zone_names, AIR)
    capacity = {zone: share * _air_heat(cabinet) for zone, share in cabinet.air_shares.items()}
    heat = {z.name: z.inside_heat for z in cabinet.zones}
    behind = cabinet.sink_zones[1]
    heat[behind] = heat.get(behind, 0.0) + (cabinet.inside_heat + bank.inside_fan_power)
    for zone, share in cabinet.load_shares.items():
        name = load_node(cabinet, zone)
        kinds[name], capacity[name] = LOAD, share * (load.mass * load.specific_heat)
        heat[name] = share * load.heat
    capacity |= {COLD: 0.0, HOT: 0.0}
    capacity |= {air: 0.0 for air in _airs_of_section(cabinet) if air not in kinds and air != ROOM}
    capacity |= {plate_node(bank, key): 0.0 for key in bank.plates if plate_node(bank, key) not in capacity}
    capacity[COLD] += bank.cold_capacity
    capacity[HOT] += bank.hot_capacity
    for node, joules in _stored(cabinet, sections):
        if node != ROOM:  # whose temperature is held
            capacity[node] += joules
    return (
        *(Node(name, kinds.get(name, name), joules, heat.get(name, 0.0)) for name, joules in capacity.items()),
        *(
            Node(_lining(cabinet, wall, zone), LINING, _lining_capacity(cabinet, wall) * share)
            for wall in cabinet.walls
            for zone, share in cabinet.wall_shares(wall).items()
        ),
        Node(ROOM, ROOM),
    )


def _stored(cabinet: Cabinet, sections: LumpedSections) -> Iterator[tuple[str, float]]:
    """J/K that the modules' section, the plates and the blocks store, each with its node. A block's are half those of
    the module's face, half those of the plate."""
    bank = cabinet.bank
    modules, node = bank.supply.modules, terminal_nodes(cabinet)
    if bank.file is not None:
        for terminal, joules in sections[bank.file].stored.items():
            yield node[terminal], joules * modules
    for key, sink in bank.plates.items():
        node = plate_nodes(cabinet, key, sink)
        for terminal, joules in plate_stored(sink, sections[sink.file]).items():
            yield node[terminal], joules * modules / len(sink.places)
        if sink.block is not None:
            for end in (FACE_OF[key], node[PLACE]):
                yield end, block_capacity(sink) * modules / 2


def _airs_of_section(cabinet: Cabinet) -> tuple[str, str]:
    """The nodes of the air inside and outside that the modules' section meets: the cabinet's air behind the cold sink
    and the room; or, with a lumped sink beside the section, the air at that sink."""
    bank = cabinet.bank
    beside = [bank.file is not None and isinstance(sink, Sink) for sink in (bank.cold_sink, bank.hot_sink)]
    return COLD_AIR if beside[0] else cabinet.sink_zones[1], HOT_AIR if beside[1] else ROOM


def plate_node(bank: Bank, key: str) -> str:
    """The node of the plate of a sink: the modules' own face, unless a block lies between."""
    sink = bank.plates.get(key)
    return FACE_OF[key] if sink is None or sink.block is None else PLATE_OF[key]


def plate_nodes(cabinet: Cabinet, key: str, sink: PlateSink) -> dict[str, str]:
    """The node that each terminal of a plate belongs to."""
    airs = dict.fromkeys(sink.inside, cabinet.sink_zones[1]) | dict.fromkeys(sink.outside, ROOM)
    return airs | {PLACE: plate_node(cabinet.bank, key)}


def terminal_nodes(cabinet: Cabinet) -> dict[str, str]:
    """The node that each terminal of the modules' section belongs to; where a plate begins, the plate's."""
    bank = cabinet.bank
    inside, outside = _airs_of_section(cabinet)
    faces = {bank.cold: plate_node(bank, "cold_sink"), bank.hot: plate_node(bank, "hot_sink")}
    return dict.fromkeys(bank.inside, inside) | dict.fromkeys(bank.outside, outside) | faces


def met_nodes(cabinet: Cabinet, node: Mapping[str, str]) -> dict[str, str]:
    """The nodes of terminals at the cold sink, with the air that comes to it in place of that behind it."""
    first, behind = cabinet.sink_zones
    return {terminal: first if name == behind else name for terminal, name in node.items()}


def _air_heat(cabinet: Cabinet) -> float:
    """J/K of the air inside."""
    width, depth, height = cabinet.inside
    return AIR_DENSITY * AIR_HEAT * width * depth * height


def load_node(cabinet: Cabinet, zone: str) -> str:
    """The node of the load that stands in a zone."""
    return LOAD if len(cabinet.load_shares) == 1 else f"{LOAD} ({zone})"


def named(cabinet: Cabinet, name: str, zone: str) -> str:
    """The name of something, with its zone where there are several."""
    return f"{name} ({zone})" if cabinet.zones else name


def _lining(cabinet: Cabinet, wall: Wall, zone: str) -> str:
    return named(cabinet, f"lining of {wall.name}", zone)


def _sink_conductance(sink: Sink, moved: Sequence[Flow]) -> float:
    """W/K of a cold sink, as given, or as much as the flow that passes it by itself takes."""
    if sink.resistance is not None:
        return 1 / sink.resistance
    flow = next(f for f in moved if f.exchange.along_sink)
    return flow.cooled * flow.carries


def _passed(cabinet: Cabinet, paths: Sequence[Path], moved: Sequence[Flow]) -> tuple[list[Path], float]:
    """The paths at the cold sink, where an exchange passes it: driven by the air that comes to it. They are less where
    they would take more from this air than down to the sink's own temperature; and the share that is left of them."""
    flow = next((f for f in moved if f.exchange.along_sink), None)
    if flow is None:
        return list(paths), 1.0
    first, second = flow.exchange.between
    met = sum(p.conductance for p in paths if second in p.ends)
    share = min(1.0, flow.carries / met) if met else 1.0

    def passed(p: Path) -> Path:
        if second not in p.ends:
            return p
        a, b = (first if end == second else end for end in p.ends)
        return replace(p, conductance=p.conductance * share, band=p.band * share, driven_by=(a, b))

    return [passed(p) for p in paths], share


def _lining_capacity(cabinet: Cabinet, wall: Wall) -> float:
    """J/K of a wall's first layer."""
    first = wall.layers[0]
    density, specific_heat = first.material.density or 0.0, first.material.specific_heat or 0.0
    return density * specific_heat * first.thickness * cabinet.wall_area(wall)


def _wall_paths(cabinet: Cabinet, wall: Wall) -> list[Path]:
    """ISO 6946 (from memory): resistances of surfaces and layers in series; the lining node lies in the middle of the
    first layer."""
    r = [layer.thickness / layer.material.conductivity[0] for layer in wall.layers]
    inner = 1 / wall.film_inside + r[0] / 2
    outer = r[0] / 2 + sum(r[1:]) + 1 / wall.film_outside
    out = []
    for zone, share in cabinet.wall_shares(wall).items():
        area, lining, name = (
            cabinet.wall_area(wall) * share,
            _lining(cabinet, wall, zone),
            named(cabinet, wall.name, zone),
        )
        out += [
            Path(name, "lining", (zone, lining), area / inner),
            Path(name, "wall", (lining, ROOM), area / outer),
        ]
    return out


def _loss_paths(cabinet: Cabinet, loss: LineLoss | PointLoss, sections: LumpedSections) -> list[Path]:
    kind, amount, value = (
        ("line", loss.length, loss.psi) if isinstance(loss, LineLoss) else ("point", loss.count, loss.chi)
    )
    band = 0.0
    if loss.file is not None and loss.bridge is not None:
        answer = sections[loss.file].bridges[loss.bridge]
        value, band = answer.value, answer.band
    assert value is not None
    return [
        Path(named(cabinet, loss.name, zone), kind, (zone, ROOM), amount * value * share, amount * band * share)
        for zone, share in cabinet.loss_shares(loss.zone).items()
    ]


def _changed_air(cabinet: Cabinet, name: str, an_hour: float, zone: str | None) -> list[Path]:
    """Air that the room's replaces so many times an hour: of one zone, or of all of them alike."""
    shares = cabinet.air_shares if zone is None else {zone: 1.0}
    return [
        Path(named(cabinet, name, x), "air exchange", (x, ROOM), an_hour / 3600 * _air_heat(cabinet) * share)
        for x, share in shares.items()
    ]


def _load_paths(cabinet: Cabinet, at: Mapping[str, float]) -> list[Path]:
    """From the load to the air around it, and to the cold plate: from that piece of it that stands at the sink, or from
    the largest one."""
    load = cabinet.load
    out = [
        Path(
            named(cabinet, "load surface", zone),
            "load",
            (zone, load_node(cabinet, zone)),
            load.film * load.surface * share,
        )
        for zone, share in cabinet.load_shares.items()
    ]
    at_sink = [zone for zone in cabinet.load_shares if zone in cabinet.sink_zones]
    node = load_node(cabinet, at_sink[-1] if at_sink else cabinet.load_zone)
    if load.contact:
        out.append(Path("load on the cold plate", "load", (node, COLD), load.contact))
    if load.facing is not None:
        facing = facing_conductance(load.facing, at[node], at[COLD])
        out.append(Path("load facing the cold plate", "load", (node, COLD), facing))
    return out


def _module_paths(cabinet: Cabinet, network: Network) -> list[Path]:
    count = cabinet.bank.supply.modules
    return _mesh_paths("module section", "section", network, terminal_nodes(cabinet), count)


def _sink_paths(cabinet: Cabinet, key: str, sections: LumpedSections, moved: Sequence[Flow]) -> list[Path]:
    """From the modules' face to its air, through the sink that is given at a key."""
    bank = cabinet.bank
    sink, face, name = getattr(bank, key), FACE_OF[key], key.replace("_", " ")
    if isinstance(sink, PlateSink):
        node, modules = plate_nodes(cabinet, key, sink), bank.supply.modules
        network = plate_network(sink, sections[sink.file].network)
        paths = _mesh_paths(name, "sink", network, node, modules / len(sink.places))
        if sink.block is not None:
            block = f"block of the {name}"
            paths.append(Path(block, "block", (node[PLACE], face), modules / block_resistance(sink)))
        return paths
    if sink is None:
        return []
    air = _airs_of_section(cabinet)[face == HOT] if bank.file is not None else face
    ends = (cabinet.sink_zones[1], air) if face == COLD else (air, ROOM)
    return [Path(name, "sink", ends, _sink_conductance(sink, moved))]


def _mesh_paths(name: str, kind: str, network: Network, node: Mapping[str, str], count: float) -> list[Path]:
    """The mesh between the nodes that the network's terminals belong to, of `count` networks side by side."""
    names, mesh, band = section_mesh(network)
    total: dict[tuple[str, str], tuple[float, float]] = {}
    for i in range(len(names)):
        for j in range(i):
            ends = (node[names[j]], node[names[i]])
            if ends[0] != ends[1]:
                key = ends[::-1] if ends[::-1] in total else ends
                g, b = total.get(key, (0.0, 0.0))
                total[key] = (g + mesh[i, j], b + band[i, j])
    return [Path(name, kind, ends, count * g, count * b) for ends, (g, b) in total.items()]


def _sensing(cabinet: Cabinet, sections: LumpedSections, nodes: Sequence[str]) -> tuple[Array, Array]:
    """Weights of the nodes in the thermostat's reading, and their bands. In the modules' own section the resistance to
    its faces' watts is turned into weights of the faces' temperatures, so that it does not jump with the watts."""
    t, bank, weights, bands = cabinet.thermostat, cabinet.bank, np.zeros(len(nodes)), np.zeros(len(nodes))
    if t.file is None or t.sensor == AIR:
        weights[nodes.index(cabinet.thermostat_zone)] = 1.0
        return weights, bands
    for key, sink in bank.plates.items():
        if sink.file == t.file:
            node, network = met_nodes(cabinet, plate_nodes(cabinet, key, sink)), sections[sink.file].network
            by_air, by_plate = sensor_weights(sink, network, t.sensor)
            for name, weight in zip((*network.fixed, PLACE), (*by_air, by_plate)):
                weights[nodes.index(node[name])] += weight
            for name, band in zip(network.fixed, network.band.weight[network.observed.index(t.sensor)]):
                bands[nodes.index(node[name])] += band
            return weights, bands
    n, own = sections[t.file].network, t.file == bank.file
    row, heat = n.observed.index(t.sensor), len(n.heat)
    inside, outside = _airs_of_section(cabinet) if own else (cabinet.thermostat_zone, ROOM)
    node = dict.fromkeys(t.inside, inside) | dict.fromkeys(t.outside, outside)
    node = met_nodes(cabinet, node) if own else node
    if own:
        node |= {face: terminal_nodes(cabinet)[face] for face in (bank.cold, bank.hot)}
    by_face = (
        np.linalg.solve(n.values.resistance[:heat].T, n.values.resistance[row]) if own and heat else np.zeros(heat)
    )
    by_fixed = n.values.weight[row] - by_face @ n.values.weight[:heat]
    for name, weight, band in zip(n.fixed, by_fixed, n.band.weight[row]):
        weights[nodes.index(node[name])] += weight
        bands[nodes.index(node[name])] += band
    if own:
        for name, weight in zip(n.heat, by_face):
            weights[nodes.index(node[name])] += weight
    return weights, bands


def _self_heating(cabinet: Cabinet, sections: LumpedSections) -> float:
    """K that the thermostat's sensor reads more by its own watts."""
    t = cabinet.thermostat
    if t.file is None or t.sensor == AIR or not (rises := sections[t.file].network.self_heating):
        return 0.0
    return rises[sections[t.file].network.sensors.index(t.sensor)]
