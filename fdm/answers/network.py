"""The network: how the section ties its terminals together, exact and independent of their temperatures and watts.

The observed places are the heat terminals, then the sensors. With the fixed terminals' temperatures T and all watts Q

    T_observed = weight T + resistance Q      (and a sensor's own heating, where it has any)
    heat out of fixed terminal a = sum_b coupling_ab (T_a - T_b) - sum_h weight_ha Q_h
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate

import numpy as np

from fdm.answers.grid import KELVIN, FieldName, FurtherSystem, Goal, UnitAnswers
from fdm.answers.quantity import Array, Quantity
from fdm.answers.stems import pulls
from fdm.conduction.arrays import Integers
from fdm.conduction.network import NetworkValues
from fdm.conduction.protocol import ConductionSystem
from fdm.section.model import Section

SMALL = 0.02  # of the largest coupling: a smaller one gets the target of this share
LEAST = 1e-9  # W/K, the same where all are smaller: solids that a gap parts wholly have rounding alone
CROSS = 0.1  # of a place's rise by its own watts: a smaller rise by other watts gets the target of this share


@dataclass(frozen=True)
class Network:
    """The exact network of N terminals."""

    fixed: tuple[str, ...]
    heat: tuple[str, ...]
    sensors: tuple[str, ...]
    values: NetworkValues
    band: NetworkValues
    self_heating: tuple[float, ...] = ()  # K, what each sensor reads more by its own watts; empty: none does

    @property
    def observed(self) -> tuple[str, ...]:
        return self.heat + self.sensors


def quantities(system: ConductionSystem) -> list[Quantity]:
    section = system.section
    fixed, heat = section.fixed_names, section.heat_names
    points = {s.name for s in section.sensors if s.at is not None}
    held = {s.name for s in section.held_sources}
    observed = (*heat, *(s.name for s in section.sensors))
    out = [
        Quantity(
            ("network", "coupling", a, b),
            f"coupling of {a} and {b}",
            "W/K",
            "coupling",
            also=(("network", "coupling", b, a),),
            counted=2,
            role="held" if {a, b} & held else "",
        )
        for i, a in enumerate(fixed)
        for b in fixed[i + 1 :]
    ]
    out += [
        Quantity(("network", "weight", p, a), f"weight of {a} in {p}", "", "weight", counted=1, point=p in points)
        for p in observed
        for a in fixed
    ]
    out += [
        Quantity(
            ("network", "resistance", p, h),
            f"resistance of {p} {_heated(p, h)}",
            "K/W",
            "resistance",
            counted=1,
            point=p in points,
            role="" if p in heat else "sensor",
        )
        for p in observed
        for h in heat
    ]
    return out + [
        Quantity(
            ("network", "resistance_max", p, h),
            f"highest resistance of {p} {_heated(p, h)}",
            "K/W",
            "resistance_max",
            counted=1,
            peak=True,
        )
        for p in heat
        for h in heat
    ]


def _heated(place: str, heat: str) -> str:
    return "to the surroundings" if place == heat else f"to watts at {heat}"


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity] = ()) -> Array:
    n = grid.network
    arrays = (n.coupling[_upper(len(n.coupling))], n.weight, n.resistance, n.resistance_max)
    input_axes = n.coupling.shape[2:]
    return np.concatenate([a.reshape(-1, *input_axes) for a in arrays])


def network_in(section: Section, vector: Array) -> NetworkValues:
    """The matrices from the values of `quantities`, (q,), in their order."""
    fixed, heat, sensors = len(section.fixed_names), len(section.heat_names), len(section.sensors)
    a, b = _upper(fixed)
    shapes = ((heat + sensors, fixed), (heat + sensors, heat), (heat, heat))
    ends = list(accumulate((len(a), *(n * m for n, m in shapes))))
    upper, *rest = (vector[start:end] for start, end in zip((0, *ends), ends))
    coupling = np.zeros((fixed, fixed))
    coupling[a, b] = coupling[b, a] = upper
    weight, resistance, resistance_max = (v.reshape(shape) for v, shape in zip(rest, shapes))
    return NetworkValues(coupling, weight, resistance, resistance_max)


@lru_cache(maxsize=16)
def _upper(count: int) -> tuple[Integers, Integers]:
    """Rows and columns above the diagonal of a matrix (count, count)."""
    return np.triu_indices(count, 1)


def sizes(section: Section, network: NetworkValues, vector: Array) -> Array:
    heat, coupling = len(section.heat_names), network.coupling
    own = abs(np.diag(network.resistance[:heat]))
    resistance = np.maximum(abs(network.resistance), CROSS * own)
    resistance[heat:] = np.maximum(resistance[heat:], KELVIN / np.maximum(abs(section.watts), 1e-9))
    wanted = NetworkValues(
        _counted(coupling),
        np.ones_like(network.weight),
        resistance,
        np.maximum(abs(network.resistance_max), CROSS * own),
    )
    return values(section, UnitAnswers(wanted))


def _counted(coupling: Array) -> Array:
    """(F, F) the sizes of couplings, W/K, as far as their targets follow them down."""
    return np.maximum(abs(coupling), max(SMALL * coupling.max(initial=0.0), LEAST))


def goals(section: Section, network: NetworkValues, vector: Array, lacking: Array) -> list[Goal]:
    """Goals of couplings, and of the resistances and weights of heat terminals. For sensors, the sizes come from
    `fdm.answers.sensors`, in kelvin; here they only add how much their entries lack."""
    lack, fixed, heat = network_in(section, lacking), len(section.fixed_names), len(section.heat_names)
    coupling = _counted(network.coupling)
    out = [Goal(_unit(a), _unit(b), coupling[a, b], lack.coupling[a, b]) for a in range(fixed) for b in range(a)]
    for h in range(heat):
        own, here = network.resistance[h, h], _unit(fixed + h)
        out.append(Goal(here, here, own, lack.resistance[h].max()))
        out.append(Goal(here, ("highest", h), own, lack.resistance_max[h].max()))
        out += [Goal(here, _unit(f), 1.0, lack.weight[h, f]) for f in range(fixed)]
    for s in range(len(section.sensors)):
        rows = np.concatenate([lack.weight[heat + s], lack.resistance[heat + s]])
        out += [Goal(("sensor", s), _unit(k), np.inf, v) for k, v in enumerate(rows)]
    return out


def _unit(number: int) -> FieldName:
    return "unit", number


def conductance_matrix(values: NetworkValues) -> Array:
    """(F + H, F + H) W/K, fixed terminals first: flows into the section = matrix @ temperatures of all terminals.

    With L the coupling Laplacian, G the heat terminals' weights and R their resistances it is
    [[L + G' R^-1 G, -G' R^-1], [-R^-1 G, R^-1]].
    """
    heat = values.resistance.shape[1]
    laplacian = np.diag(values.coupling.sum(1)) - values.coupling
    g = values.weight[:heat]
    inverse = np.linalg.inv(values.resistance[:heat]) if heat else np.zeros((0, 0))
    inverse = (inverse + inverse.T) / 2
    return np.block([[laplacian + g.T @ inverse @ g, -g.T @ inverse], [-inverse @ g, inverse]])


def observed_temperatures(section: Section, network: NetworkValues) -> Array:
    """(H + S, ...) degC at the section's own temperatures and watts, and with the sensors' own heating."""
    out: Array = np.einsum("of...,f->o...", network.weight, section.fixed_temperatures)
    out += np.einsum("oh...,h->o...", network.resistance, section.watts)
    if (found := pulls(section)) is not None:
        out[len(section.heat_names) :] += found.rise.reshape(-1, *(1,) * (out.ndim - 1))
    return out


def further(section: Section) -> list[FurtherSystem]:
    return []
