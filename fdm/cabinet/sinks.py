"""What a lumped cabinet takes of a plate with fins on which modules sit.

The modules are alike and driven alike, so every place on a plate gets the same watts. The module of the lumped cabinet
then sees the mean of its places. With P places, weights w_p and resistances R_pq, and Q the watts of all places of one
plate together,

    T_mean = mean(w_p) . T_airs + Q sum(R_pq) / P^2

which is a network of the plate with one heat terminal, as exact as that of the plate itself. It leaves out that places
differ: warmer modules pump a little less than colder ones. `places_apart` says by how many kelvin.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fdm.answers.network import Network
from fdm.cabinet.bank import Bank, PlateSink
from fdm.cabinet.sections import LumpedSection, LumpedSections, section_mesh
from fdm.conduction.network import NetworkValues
from fdm.errors import InputError
from fdm.section.model import Section

Array = NDArray[np.float64]

PLACE = "modules"  # the one heat terminal of a plate
MOST_BESIDE = 0.25  # of what a plate passes to its airs that a section may pass beside it


def place_area(section: Section, source: str) -> float:
    """m2 that a heat source takes of its plate."""
    s = next(s for s in section.sources if s.name == source)
    shapes = [s.rectangle] if s.rectangle is not None else next(p.shapes for p in section.parts if p.name == s.part)
    outlines = [shape.outline().T for shape in shapes]
    return sum(float(abs(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))) / 2 for x, y in outlines)


def block_area(sink: PlateSink) -> float:
    """m2 across the block of one module, or of its place on the plate without one."""
    if sink.block is not None and sink.block.area is not None:
        return sink.block.area
    return float(np.mean([place_area(sink.file.section, name) for name in sink.places]))


def joint_resistance(sink: PlateSink) -> float:
    """K/W of one joint of one module."""
    return sink.joint / block_area(sink) if sink.joint else 0.0


def block_resistance(sink: PlateSink) -> float:
    """K/W of the block of one module, with the joints at both of its ends."""
    assert sink.block is not None
    along = sink.block.length / (sink.block.material.conductivity[0] * block_area(sink))
    return along + 2 * joint_resistance(sink)


def block_capacity(sink: PlateSink) -> float:
    """J/K of the block of one module; 0 where its material does not say."""
    block = sink.block
    if block is None or block.material.density is None or block.material.specific_heat is None:
        return 0.0
    return block.material.density * block.material.specific_heat * block.length * block_area(sink)


def plate_network(sink: PlateSink, network: Network) -> Network:
    """The network of a plate with one heat terminal, PLACE: the mean of the modules' places, which share its watts
    evenly. A joint between plate and module is in it where no block lies between them."""
    rows = [network.heat.index(name) for name in sink.places]

    def mean(n: NetworkValues, more: float = 0.0) -> NetworkValues:
        own = np.ix_(rows, rows)
        resistance, highest = (np.full((1, 1), np.mean(x[own])) for x in (n.resistance, n.resistance_max))
        return NetworkValues(n.coupling, n.weight[rows].mean(0, keepdims=True), resistance + more, highest + more)

    joint = joint_resistance(sink) / len(rows) if sink.block is None else 0.0
    return replace(network, heat=(PLACE,), sensors=(), values=mean(network.values, joint), band=mean(network.band))


def sensor_weights(sink: PlateSink, network: Network, sensor: str) -> tuple[Array, float]:
    """Weights of a plate's fixed terminals (F,), and of its one heat terminal, in what a sensor on it reads."""
    reduced, row = plate_network(sink, network).values, network.observed.index(sensor)
    by_watt = network.values.resistance[row, [network.heat.index(name) for name in sink.places]].mean()
    share = float(by_watt / reduced.resistance[0, 0])
    return network.values.weight[row] - share * reduced.weight[0], share


def plate_stored(sink: PlateSink, lumped: LumpedSection) -> dict[str, float]:
    """J/K by terminal of the plate's network with one heat terminal.

    With all places at the same watts, each is as warm as their mean but for its share: what they store goes to the
    mean, and the rest, a little, to the airs.
    """
    n = lumped.network
    rows = [n.heat.index(name) for name in sink.places]
    weight, resistance = n.values.weight[: len(n.heat)], n.values.resistance[: len(n.heat)]
    own = weight[rows].mean(0)
    share = resistance[:, rows].mean(1) / np.mean(resistance[np.ix_(rows, rows)])  # of the mean's kelvin, by heat
    joules = np.array([lumped.stored[name] for name in n.heat])
    airs = {
        name: lumped.stored[name] + float(joules @ (weight[:, k] - share * own[k])) for k, name in enumerate(n.fixed)
    }
    return {**airs, PLACE: float(joules @ share)}


def places_apart(sink: PlateSink, network: Network, airs: Mapping[str, float], watts: float) -> float:
    """K between the warmest and the coldest place of a plate, at the airs' temperatures (degC, by terminal) and with
    `watts` into each place."""
    rows, heat = [network.heat.index(name) for name in sink.places], np.zeros(len(network.heat))
    heat[rows] = watts
    t = network.values.weight @ np.array([airs[name] for name in network.fixed]) + network.values.resistance @ heat
    return float(np.ptp(t[rows]))


def half_apart(sink: PlateSink, network: Network, watts: float) -> float:
    """K by which places that take `watts` each differ from the mean of all, where half of the modules take none: half
    of the places of each plate, in their order, or where one module sits on each, half of the plates."""
    rows = [network.heat.index(name) for name in sink.places]
    own = network.values.resistance[np.ix_(rows, rows)] * watts
    if len(rows) == 1:
        return float(own[0, 0]) / 2
    on = len(rows) // 2
    return float(own[:on, :on].sum(1).mean() - own[:, :on].sum(1).mean())


def require_separate(bank: Bank, sections: LumpedSections) -> None:
    """Raise InputError where the modules' section passes so much between a plate's face and its air that it must have
    drawn the plate as well."""
    if bank.file is None:
        return
    names, mesh, _ = section_mesh(sections[bank.file].network)
    for key, sink in bank.plates.items():
        face, airs = bank.faces[key], bank.inside if key == "cold_sink" else bank.outside
        beside = sum(mesh[names.index(face), names.index(air)] for air in airs)
        plate = section_mesh(plate_network(sink, sections[sink.file].network))[1][-1].sum() / len(sink.places)
        if beside > MOST_BESIDE * plate:
            raise InputError(
                f"module, section: {bank.file.path} passes {beside:.3g} W/K from {face!r} straight to the air on its "
                f"side, beside {plate:.3g} W/K a module of the plate of {key}: it draws the plate as well, which would "
                "count twice; let it end where the plate begins, without fins and films there"
            )
