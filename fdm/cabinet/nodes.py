"""The nodes of a cabinet's circuit: lumps that have one temperature each, their names, their heat capacities, and which
node each terminal of a section belongs to.

The heat capacity of the metal in a section is shared among its nodes in proportion to how far each sets the temperature
there.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fdm.cabinet.bank import Bank, PlateSink, Sink
from fdm.cabinet.model import Cabinet
from fdm.cabinet.sections import LumpedSections
from fdm.cabinet.sinks import PLACE, block_capacity, plate_stored
from fdm.cabinet.walls import Wall
from fdm.cabinet.zones import AIR
from fdm.surroundings.air import SEA_LEVEL, pressure_at

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


def nodes_of(cabinet: Cabinet, sections: LumpedSections) -> tuple[Node, ...]:
    """All nodes with their heat capacities and the heat given off in them; of the sections, those of the modules and of
    their plates count."""
    bank, load = cabinet.bank, cabinet.load
    kinds = dict.fromkeys(cabinet.zone_names, AIR)
    capacity = {zone: share * air_heat(cabinet) for zone, share in cabinet.air_shares.items()}
    heat = {z.name: z.inside_heat for z in cabinet.zones}
    behind = cabinet.sink_zones[1]
    heat[behind] = heat.get(behind, 0.0) + (cabinet.inside_heat + bank.inside_fan_power)
    for zone, share in cabinet.load_shares.items():
        name = load_node(cabinet, zone)
        kinds[name], capacity[name] = LOAD, share * (load.mass * load.specific_heat)
        heat[name] = share * load.heat
    capacity |= {COLD: 0.0, HOT: 0.0}
    capacity |= {air: 0.0 for air in airs_of_section(cabinet) if air not in kinds and air != ROOM}
    capacity |= {plate_node(bank, key): 0.0 for key in bank.plates if plate_node(bank, key) not in capacity}
    capacity[COLD] += bank.cold_capacity
    capacity[HOT] += bank.hot_capacity
    for node, joules in _stored(cabinet, sections):
        if node != ROOM:  # whose temperature is held
            capacity[node] += joules
    return (
        *(Node(name, kinds.get(name, name), joules, heat.get(name, 0.0)) for name, joules in capacity.items()),
        *(
            Node(lining_node(cabinet, wall, zone), LINING, _lining_capacity(cabinet, wall) * share)
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


def airs_of_section(cabinet: Cabinet) -> tuple[str, str]:
    """The nodes of the air inside and outside that the modules' section meets: the cabinet's air behind the cold sink
    and the room; or, with a lumped sink beside the section, the air at that sink."""
    bank = cabinet.bank
    beside = [bank.file is not None and isinstance(sink, Sink) for sink in (bank.cold_sink, bank.hot_sink)]
    return COLD_AIR if beside[0] else cabinet.sink_zones[1], HOT_AIR if beside[1] else ROOM


def plate_node(bank: Bank, key: str) -> str:
    """The node of the plate of a sink: the modules' own face, unless a block lies between."""
    sink = bank.plates.get(key)
    return FACE_OF[key] if sink is None or sink.block is None else PLATE_OF[key]


def sink_node(bank: Bank) -> str:
    """The node that has the temperature of the cold sink: where air and load touch it."""
    return COLD_AIR if bank.file is not None and isinstance(bank.cold_sink, Sink) else plate_node(bank, "cold_sink")


def plate_nodes(cabinet: Cabinet, key: str, sink: PlateSink) -> dict[str, str]:
    """The node that each terminal of a plate belongs to."""
    airs = dict.fromkeys(sink.inside, cabinet.sink_zones[1]) | dict.fromkeys(sink.outside, ROOM)
    return airs | {PLACE: plate_node(cabinet.bank, key)}


def terminal_nodes(cabinet: Cabinet) -> dict[str, str]:
    """The node that each terminal of the modules' section belongs to; where a plate begins, the plate's."""
    bank = cabinet.bank
    inside, outside = airs_of_section(cabinet)
    faces = {bank.cold: plate_node(bank, "cold_sink"), bank.hot: plate_node(bank, "hot_sink")}
    return dict.fromkeys(bank.inside, inside) | dict.fromkeys(bank.outside, outside) | faces


def met_nodes(cabinet: Cabinet, node: Mapping[str, str]) -> dict[str, str]:
    """The nodes of terminals at the cold sink, with the air that comes to it in place of that behind it."""
    first, behind = cabinet.sink_zones
    return {terminal: first if name == behind else name for terminal, name in node.items()}


def load_node(cabinet: Cabinet, zone: str) -> str:
    """The node of the load that stands in a zone."""
    return LOAD if len(cabinet.load_shares) == 1 else f"{LOAD} ({zone})"


def named(cabinet: Cabinet, name: str, zone: str) -> str:
    """The name of something, with its zone where there are several."""
    return f"{name} ({zone})" if cabinet.zones else name


def lining_node(cabinet: Cabinet, wall: Wall, zone: str) -> str:
    return named(cabinet, f"lining of {wall.name}", zone)


def air_density(cabinet: Cabinet) -> float:
    """kg/m3 of the air inside."""
    return AIR_DENSITY * float(pressure_at(cabinet.altitude)) / SEA_LEVEL


def air_heat(cabinet: Cabinet) -> float:
    """J/K of the air inside."""
    width, depth, height = cabinet.inside
    return air_density(cabinet) * AIR_HEAT * width * depth * height


def _lining_capacity(cabinet: Cabinet, wall: Wall) -> float:
    """J/K of a wall's first layer."""
    first = wall.layers[0]
    density, specific_heat = first.material.density or 0.0, first.material.specific_heat or 0.0
    return density * specific_heat * first.thickness * cabinet.wall_area(wall)
