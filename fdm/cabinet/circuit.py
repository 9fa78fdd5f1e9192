"""The cabinet as nodes and paths between them, from the networks of its sections and the hand sums of its walls.

Left out: temperature differences within a zone of air and within a piece of the load, radiation other than in the
films, between layers of air and to a cold plate, and what the section drawings leave out. Moisture comes later, as
latent heat in the nodes (`moisture`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.air import START, Flow, flows
from fdm.cabinet.model import Cabinet
from fdm.cabinet.nodes import (
    COLD,
    ROOM,
    Node,
    airs_of_section,
    load_node,
    met_nodes,
    nodes_of,
    plate_nodes,
    sink_node,
    terminal_nodes,
)
from fdm.cabinet.paths import Path, paths_of
from fdm.cabinet.sections import LumpedSections
from fdm.cabinet.settling import Moisture
from fdm.cabinet.sinks import PLACE, sensor_weights
from fdm.cabinet.zones import AIR

Array = NDArray[np.float64]


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
    passing: float = 1.0  # share of what the cold sink would take that the air which passes it can bring

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
    def air_at_load(self) -> Array:
        """(N,) 1 for the air at the load, or at most of it; 0 for all else."""
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
    nodes = nodes_of(cabinet, sections)
    if at is None:
        at = {n.name: cabinet.room - (START if n.name in (COLD, sink_node(bank)) else 0.0) for n in nodes}
    moved = flows(cabinet, at, sink_node(bank))
    paths, passing = paths_of(cabinet, sections, at, moved)
    sensing = _sensing(cabinet, sections, [n.name for n in nodes])
    files = dict.fromkeys((bank.file, *(sink.file for sink in bank.plates.values())))
    warnings = dict.fromkeys(w for file in files if file is not None for w in sections[file].warnings)
    return Circuit(
        *(cabinet, nodes, paths, *sensing, tuple(warnings)),
        self_heating=_self_heating(cabinet, sections),
        flows=moved,
        passing=passing,
    )


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
    inside, outside = airs_of_section(cabinet) if own else (cabinet.thermostat_zone, ROOM)
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
