"""The network of a system: how its terminals are coupled, and what is read of them, from the unit fields."""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array
from fdm.conduction.flows import Connected, heat_means, imbalance, laplacian
from fdm.conduction.readings import extended, highest_and_sensors, sensor_rows
from fdm.conduction.system import System

# of all conductances to fixed terminals: in smaller couplings, rounding breaks the symmetry that is asked for
NOTHING = 1e-7


@dataclass(frozen=True)
class NetworkValues:
    """The numbers of a network, or their bands, or how they change with each of some inputs (one more axis)."""

    coupling: Array  # (F, F, ...) W/K, symmetric, zero diagonal
    weight: Array  # (H + S, F, ...), rows sum to 1
    resistance: Array  # (H + S, H, ...) K/W
    resistance_max: Array  # (H, H, ...) K/W, highest temperature of a heat terminal (row) per watt at another (column)


@dataclass(frozen=True)
class Checks:
    """Departures from what conduction guarantees; all near rounding, and NaN where they cannot be computed."""

    weight_error: float  # largest departure of a sum of weights from 1
    asymmetry: float  # largest departure from symmetry, over the largest coupling, or NOTHING
    imbalance: float  # sum of flows over the largest
    outside: float  # how far unit fields lie outside 0 to 1, or below 0 over their highest, by the maximum principle


def network_values(system: System, fields: Array) -> NetworkValues:
    """The network from unit fields (F + H, n, m)."""
    peaks, at = highest_and_sensors(system, extended(system, fields))
    means = heat_means(system, fields.reshape(len(fields), -1))
    return network_of(system, fields, np.concatenate([means, sensor_rows(system, fields, at)]), peaks)


def network_of(system: Connected, fields: Array, observed: Array, peaks: Array) -> NetworkValues:
    """The network from unit fields (F + H, ...), and what is read of them: the means of heat terminals and the sensors
    (H + S, F + H), and the highest temperatures (H, H)."""
    fixed = len(system.boundary.direct)
    out_of = laplacian(system, fields.reshape(len(fields), -1))
    coupling = -(out_of + out_of.T) / 2
    np.fill_diagonal(coupling, 0.0)
    return NetworkValues(coupling, observed[:, :fixed], observed[:, fixed:], peaks)


def checks(system: Connected, units: Array, network: NetworkValues) -> Checks:
    """How far a solve with these unit fields (F + H, n, m) departs from conservation, symmetry, sums of weights, and
    the maximum principle."""
    fixed, heat, flat = len(system.boundary.direct), len(system.heat_inputs), units.reshape(len(units), -1)
    out_of, resistance = laplacian(system, flat), network.resistance[:heat]
    inside = flat if system.solid.all() else units[:, system.solid]
    lowest, highest = inside.min(1, initial=0.0), inside.max(1, initial=0.0)
    size = np.maximum(np.maximum(highest, -lowest), 1e-300)
    return Checks(
        weight_error=_largest(inside[:fixed].sum(0) - 1, network.weight.sum(1) - 1),
        asymmetry=_largest(
            (out_of - out_of.T) / abs(out_of).max(initial=max(NOTHING * system.boundary.value.sum(), 1e-300)),
            (resistance - resistance.T) / abs(resistance).max(initial=1e-300),
        ),
        imbalance=imbalance(system, flat),
        outside=_largest(np.maximum(highest[:fixed] - 1, 0.0), lowest / size),
    )


def _largest(*departures: Array) -> float:
    """The largest size; NaN where one of them is."""
    return float(max((abs(d).max(initial=0.0) for d in departures), key=lambda v: (np.isnan(v), v)))
