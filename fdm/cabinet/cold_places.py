"""All places inside a cabinet on which water may settle, with their films; their temperatures are weights of the
circuit's nodes.

Drawn surfaces are read place by place, in the modules' section by the temperatures of its air and faces.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from fdm.answers.network import Network
from fdm.cabinet.bank import PlateSink, Sink
from fdm.cabinet.circuit import Array, Circuit
from fdm.cabinet.nodes import load_node, met_nodes, named, plate_nodes, sink_node, terminal_nodes
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sections import LumpedSections, SectionSurfaces
from fdm.cabinet.settling import COLD_SINK, MODULE_SECTION, ColdPlaces
from fdm.cabinet.sinks import plate_network
from fdm.section.model import Environment


def cold_places(c: Circuit, sections: LumpedSections) -> Iterator[ColdPlaces]:
    """All inside on which water may settle: the inner faces of the walls, the cold sink, drawn or not, and the load,
    unless it is known what evaporates from it."""
    cabinet, bank = c.cabinet, c.cabinet.bank
    for wall in cabinet.walls:
        for zone, share in cabinet.wall_shares(wall).items():
            if conductance := wall.film_inside * (cabinet.wall_area(wall) * share):
                name = named(cabinet, wall.name, zone)
                weights = face_of_wall(c, name, "lining", conductance)
                yield ColdPlaces(
                    name, weights[None], np.array([conductance]), float(weights[c.number(zone)]) / conductance
                )
    for zone, share in cabinet.load_shares.items() if not cabinet.load.moisture else ():
        node, conductance = load_node(cabinet, zone), cabinet.load.film * cabinet.load.surface * share
        yield ColdPlaces(node, _only(c, node)[None], np.array([conductance]))
    if isinstance(bank.cold_sink, PlateSink):
        yield _places_of_plate(c, bank.cold_sink, sections)
    if isinstance(bank.cold_sink, Sink):
        if conductance := next(p.conductance for p in c.paths if p.name == COLD_SINK and p.kind == "sink"):
            node = sink_node(bank)
            yield ColdPlaces(COLD_SINK, _only(c, node)[None], np.array([conductance]))
    elif bank.file is not None:
        surfaces = surfaces_of(sections, bank.file)
        weight = _by_temperatures(sections[bank.file].network, surfaces.finest.rows)
        found = _drawn_places(
            c, surfaces, weight, met_nodes(cabinet, terminal_nodes(cabinet)), bank.inside, bank.supply.modules
        )
        yield found if bank.cold_sink is None else replace(found, name=MODULE_SECTION)


def _only(c: Circuit, node: str) -> Array:
    """(N,) weights of one node."""
    return np.asarray(np.arange(len(c.nodes)) == c.number(node), float)


def face_of_wall(c: Circuit, wall: str, kind: str, film: float) -> Array:
    """(N,) weights of the nodes in the temperature of a wall's face, in the air at the end of a path; `film` (W/K)
    lies between the two."""
    path = next(p for p in c.paths if p.name == wall and p.kind == kind)
    air, lining = path.ends if kind == "lining" else path.ends[::-1]
    share = path.conductance / film
    return (1 - share) * _only(c, air) + share * _only(c, lining)


def _places_of_plate(c: Circuit, sink: PlateSink, sections: LumpedSections) -> ColdPlaces:
    """The surfaces of all plates of the cold sink, whose places of modules get the same watts."""
    bank, surfaces = c.cabinet.bank, surfaces_of(sections, sink.file)
    own = sections[sink.file].network
    rows, fixed = surfaces.finest.rows, len(own.fixed)
    places = rows[:, [fixed + own.heat.index(name) for name in sink.places]].mean(1, keepdims=True)
    network, node = plate_network(sink, own), met_nodes(c.cabinet, plate_nodes(c.cabinet, "cold_sink", sink))
    by_terminal = _by_temperatures(network, np.hstack([rows[:, :fixed], places]))
    return _drawn_places(c, surfaces, by_terminal, node, sink.inside, bank.supply.modules / len(sink.places))


def surfaces_of(sections: LumpedSections, file: SectionFile) -> SectionSurfaces:
    """The surfaces of a solved section."""
    surfaces = sections[file].surfaces
    assert surfaces is not None
    return surfaces


def _by_temperatures(network: Network, rows: Array) -> dict[str, Array]:
    """(K,) weights of each terminal's temperature in places whose `rows` (K, F + H) are by the temperatures of the
    fixed terminals and the watts of the others."""
    fixed, heat = len(network.fixed), len(network.heat)
    by_face = np.linalg.solve(network.values.resistance[:heat].T, rows[:, fixed:].T).T if heat else rows[:, fixed:]
    columns = np.hstack([rows[:, :fixed] - by_face @ network.values.weight[:heat], by_face])
    return dict(zip((*network.fixed, *network.heat), columns.T))


def _drawn_places(
    c: Circuit,
    surfaces: SectionSurfaces,
    weight: Mapping[str, Array],
    node: Mapping[str, str],
    inside: Sequence[str],
    count: float,
) -> ColdPlaces:
    """The surfaces of `count` sections in their environments `inside`. `weight` (K,) has each terminal's share in the
    temperatures of all places, `node` what each terminal belongs to."""
    environments, places = {e.name: e for e in surfaces.section.environments}, surfaces.finest.places
    convective = np.array([_convective(environments[air]) if air in inside else 0.0 for _, air in places.pairs])
    film = convective[places.pair]
    on = film > 0
    weights = np.zeros((int(on.sum()), len(c.nodes)))
    for terminal, of_places in weight.items():
        weights[:, c.number(node[terminal])] += of_places[on]
    conductance = count * film[on] * places.area[on]
    total, airs = float(conductance.sum()), [c.number(n) for n in {node[name] for name in inside}]
    own = float(conductance @ weights[:, airs].sum(1)) / total**2 if total else 0.0
    return ColdPlaces(COLD_SINK, weights, conductance, own)


def _convective(e: Environment) -> float:
    """W/(m2 K) of a film without its radiation, as far as that is known; 0 of one without a limit."""
    if not math.isfinite(e.film):
        return 0.0
    if e.film_from is None:
        return e.film
    return e.film * e.film_from.convective / (e.film_from.convective + e.film_from.radiative)
