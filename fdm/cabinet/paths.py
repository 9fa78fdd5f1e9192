"""The paths of a cabinet's circuit: conductances between its nodes, with bands.

Walls are hand sums of resistances in series; losses take psi, chi or a section's bridge; the modules' section and
plates give a mesh between their nodes exactly (`conductance_matrix`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fdm.answers.network import Network
from fdm.cabinet.air import Flow, facing_conductance, layer_conductances
from fdm.cabinet.bank import PlateSink, Sink
from fdm.cabinet.losses import LineLoss, PointLoss
from fdm.cabinet.model import Cabinet
from fdm.cabinet.nodes import (
    COLD,
    FACE_OF,
    HOT,
    ROOM,
    air_heat,
    airs_of_section,
    lining_node,
    load_node,
    named,
    plate_nodes,
    sink_node,
    terminal_nodes,
)
from fdm.cabinet.sections import LumpedSections, section_mesh
from fdm.cabinet.sinks import PLACE, block_resistance, plate_network
from fdm.cabinet.walls import Wall


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


def paths_of(
    cabinet: Cabinet, sections: LumpedSections, at: Mapping[str, float], moved: Sequence[Flow]
) -> tuple[tuple[Path, ...], float]:
    """All paths, where the nodes have the temperatures `at` (degC) and the air that is `moved` flows between zones; and
    the share that is left of the paths at the cold sink (`_passed`)."""
    paths = [path for wall in cabinet.walls for path in _wall_paths(cabinet, wall)]
    paths += [path for x in cabinet.losses for path in _loss_paths(cabinet, x, sections)]
    if cabinet.air_changes:
        paths += _changed_air(cabinet, "air exchange", cabinet.air_changes, None)
    for opening in cabinet.openings:
        paths += _changed_air(cabinet, opening.name, opening.changes, opening.zone)
    paths += _load_paths(cabinet, at)
    cold = [*_module_paths(cabinet, sections), *_sink_paths(cabinet, "cold_sink", sections, moved)]
    cold, passing = _passed(cold, moved)
    paths += [*cold, *_sink_paths(cabinet, "hot_sink", sections, moved)]
    paths += [Path(f.exchange.name, "exchange", f.exchange.between, f.carries) for f in moved]
    paths += [Path(f"layers, {a} and {b}", "exchange", (a, b), g) for (a, b), g in layer_conductances(cabinet, at)]
    return tuple(paths), passing


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
            lining_node(cabinet, wall, zone),
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
        Path(named(cabinet, name, x), "air exchange", (x, ROOM), an_hour / 3600 * air_heat(cabinet) * share)
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
    plate = sink_node(cabinet.bank)
    if load.contact:
        out.append(Path("load on the cold plate", "load", (node, plate), load.contact))
    if load.facing is not None:
        facing = facing_conductance(load.facing, at[node], at[plate], cabinet.altitude)
        out.append(Path("load facing the cold plate", "load", (node, plate), facing))
    return out


def _module_paths(cabinet: Cabinet, sections: LumpedSections) -> list[Path]:
    bank = cabinet.bank
    if bank.file is None:
        return []
    network, node = sections[bank.file].network, terminal_nodes(cabinet)
    return _mesh_paths("module section", "section", network, node, bank.supply.modules)


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
    air = airs_of_section(cabinet)[face == HOT] if bank.file is not None else face
    ends = (cabinet.sink_zones[1], air) if face == COLD else (air, ROOM)
    return [Path(name, "sink", ends, _sink_conductance(sink, moved))]


def _sink_conductance(sink: Sink, moved: Sequence[Flow]) -> float:
    """W/K of a cold sink, as given, or as much as the flow that passes it by itself takes."""
    if sink.resistance is not None:
        return 1 / sink.resistance
    flow = next(f for f in moved if f.exchange.along_sink)
    return flow.cooled * flow.carries


def _passed(paths: Sequence[Path], moved: Sequence[Flow]) -> tuple[list[Path], float]:
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
