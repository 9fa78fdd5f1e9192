"""A section solved on one grid, and what its unit fields answer: all that does not depend on temperatures and watts.

A section with F fixed terminals and H heat terminals has F + H unit fields: one for each fixed terminal at 1 with the
others at 0, one for each heat terminal with 1 W. Any field at any temperatures and watts is a weighted sum of these, so
they are solved once, and every answer follows from them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from fdm.answers.quantity import Array
from fdm.conduction.flows import imbalance, laplacian
from fdm.conduction.readings import extended, heat_means, highest_and_sensors, sensor_rows
from fdm.conduction.system import System, assemble, heat_loads, prepared, unit_fields
from fdm.section.model import Section

KELVIN = 4.0  # K that targets of temperatures are relative to: 0.5 % are 0.02 K

FieldName = tuple[str, int]  # "unit", "sensor" (its adjoint) or "highest" (its adjoint), and a number
Key = tuple[str, str]  # of a further system: the kind of answer that asks for it, and the name of the question


@dataclass(frozen=True)
class NetworkValues:
    """The numbers of a network, or their bands, or how they change with each of some inputs (one more axis)."""

    coupling: Array  # (F, F, ...) W/K, symmetric, zero diagonal
    weight: Array  # (H + S, F, ...), rows sum to 1
    resistance: Array  # (H + S, H, ...) K/W
    resistance_max: Array  # (H, H, ...) K/W, highest temperature of a heat terminal (row) per watt at another (column)


@dataclass(frozen=True)
class FurtherSystem:
    """A system that a question needs solved beside the section's own: without some parts, or with some of them
    spreading heat perfectly `along` x, y or both."""

    key: Key
    section: Section
    lines: Callable[[Array, Array], tuple[Array, Array]]  # its grid lines, from those of the section
    without: tuple[str, ...] = ()
    spread: tuple[str, ...] = ()
    along: str = "x"

    def system(self, x: Array, y: Array) -> System:
        """On the section's grid lines x, y."""
        return assemble(self.section, *self.lines(x, y), without=self.without, spread=self.spread, along=self.along)


@dataclass(frozen=True)
class UnitAnswers:
    """What the unit fields of one grid answer; or, with one more axis in all arrays, how that changes with inputs."""

    network: NetworkValues
    further: Mapping[Key, NetworkValues] = field(default_factory=dict)


@dataclass(frozen=True)
class Goal:
    """A product of two fields that answers are made of. Its error is wanted to be below the target times `size`; the
    answers behind it have bands `lack` times as wide as allowed."""

    field: FieldName
    adjoint: FieldName
    size: float
    lack: float


@dataclass(frozen=True)
class SolvedGrid:
    """A section solved on one grid."""

    system: System
    units: Array  # (F + H, n, m) unit fields
    answers: UnitAnswers


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


def further_values(further: FurtherSystem, x: Array, y: Array) -> NetworkValues:
    """The network of a further system on the section's grid lines. Where it spreads perfectly, its resistances alone:
    the rest is 0."""
    system = further.system(x, y)
    if not further.spread:
        return network_values(system, unit_fields(system))
    fixed, loads = len(system.boundary.direct), heat_loads(system)
    fields = np.zeros((fixed + len(loads), *system.solid.shape))
    fields[fixed:] = prepared(system, len(loads)).fields(loads)
    peaks, _ = highest_and_sensors(system, extended(system, fields))
    means = heat_means(system, fields.reshape(len(fields), -1))
    return NetworkValues(np.zeros((fixed, fixed)), means[:, :fixed], means[:, fixed:], peaks)


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
