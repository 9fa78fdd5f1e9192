"""The network of a system: how its terminals are coupled, and what is read of them, from the unit fields."""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array
from fdm.conduction.flows import imbalance, laplacian
from fdm.conduction.readings import extended, heat_means, highest_and_sensors, sensor_rows
from fdm.conduction.system import System


@dataclass(frozen=True)
class NetworkValues:
    """The numbers of a network, or their bands, or how they change with each of some inputs (one more axis)."""

    coupling: Array  # (F, F, ...) W/K, symmetric, zero diagonal
    weight: Array  # (H + S, F, ...), rows sum to 1
    resistance: Array  # (H + S, H, ...) K/W
    resistance_max: Array  # (H, H, ...) K/W, highest temperature of a heat terminal (row) per watt at another (column)


@dataclass(frozen=True)
class Checks:
    """Departures from what conduction guarantees; all near rounding."""

    weight_error: float  # largest departure of a sum of weights from 1
    asymmetry: float  # largest departure from symmetry, over the largest coupling
    imbalance: float  # sum of flows over the largest


def network_values(system: System, fields: Array) -> NetworkValues:
    """The network from unit fields (F + H, n, m)."""
    fixed = len(system.boundary.direct)
    out_of = laplacian(system, fields.reshape(len(fields), -1))
    coupling = -(out_of + out_of.T) / 2
    np.fill_diagonal(coupling, 0.0)
    peaks, at = highest_and_sensors(system, extended(system, fields))
    means = heat_means(system, fields.reshape(len(fields), -1))
    observed = np.concatenate([means, sensor_rows(system, fields, at)])
    return NetworkValues(coupling, observed[:, :fixed], observed[:, fixed:], peaks)


def checks(system: System, units: Array, network: NetworkValues) -> Checks:
    """How far a solve with these unit fields (F + H, n, m) departs from conservation, symmetry and sums of weights."""
    fixed, heat, flat = len(system.boundary.direct), len(system.heat_inputs), units.reshape(len(units), -1)
    out_of, resistance = laplacian(system, flat), network.resistance[:heat]
    sums = units[:fixed].sum(0)[system.solid]
    return Checks(
        weight_error=float(max(abs(sums - 1).max(initial=0.0), abs(network.weight.sum(1) - 1).max(initial=0.0))),
        asymmetry=float(
            max(
                abs(out_of - out_of.T).max(initial=0.0) / abs(out_of).max(initial=1e-300),
                abs(resistance - resistance.T).max(initial=0.0) / abs(resistance).max(initial=1e-300),
            )
        ),
        imbalance=imbalance(system, flat),
    )
