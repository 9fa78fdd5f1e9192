"""What a solve answers, as frozen dataclasses. Every number has its band: the half-width of its grid error.

F fixed terminals, H heat terminals, S sensors; what is observed are the heat terminals, then the sensors.
Temperatures in degC, heat in W, all else SI. A section view is for its whole depth, an axisymmetric one for
the full turn.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class NetworkValues:
    """The numbers of a network, or their bands."""

    coupling: Array  # (F, F) W/K, symmetric, zero diagonal
    weight: Array  # (H + S, F), rows sum to 1
    resistance: Array  # (H + S, H) K/W
    resistance_max: Array  # (H, H) K/W, highest temperature of a heat terminal (row) per watt at another (column)


@dataclass(frozen=True)
class Network:
    """The exact N-terminal network: T_observed = weight @ T_fixed + resistance @ watts."""

    fixed: tuple[str, ...]
    heat: tuple[str, ...]
    sensors: tuple[str, ...]
    values: NetworkValues
    band: NetworkValues

    @property
    def observed(self) -> tuple[str, ...]:
        return self.heat + self.sensors


@dataclass(frozen=True)
class Reading:
    """A sensor at the section's own temperatures and watts."""

    reading: float  # degC
    should_read: float | None  # degC
    misreading: float | None  # K
    band: float  # K, of the reading
    misreading_band: float | None  # K
    split: Mapping[str, float]  # terminal -> K: its share in the misreading (in the reading, where should_read is None)


@dataclass(frozen=True)
class SpreadingResistance:
    """K/W, for one heat terminal: of its mean and of its highest temperature."""

    mean: float
    max: float
    mean_band: float
    max_band: float


@dataclass(frozen=True)
class BridgeLoss:
    """Loss that some parts cause between two fixed terminals."""

    between: tuple[str, str]
    symbol: str  # "psi", W/(m K), in the section view; "chi", W/K, otherwise
    value: float
    band: float
    watts: float  # at the section's own temperatures, for the whole depth or turn, from the first to the second
    watts_band: float


@dataclass(frozen=True)
class Balance:
    """What must close, checked in every solve."""

    flow: Mapping[str, float]  # terminal -> W into the section
    imbalance: float  # sum of flows over the largest
    weight_error: float  # largest departure of a sum of weights from 1
    asymmetry: float  # largest departure from symmetry, over the largest coupling


@dataclass(frozen=True)
class GridReport:
    """The grids an answer comes from."""

    shape: tuple[int, int]  # cells along x and y of the finest grid
    cells: tuple[int, ...]  # of each grid, coarse to fine
    target: float  # relative
    target_met: bool
    worst: str  # the answer furthest from its target
    note: str  # in words: why refinement ended


@dataclass(frozen=True)
class Field:
    """Temperatures on the finest grid, for drawing and export."""

    x: Array  # (n + 1,) grid lines, m
    y: Array  # (m + 1,)
    part: NDArray[np.int64]  # (n, m) index into section.parts; -1 where nothing is drawn
    solid: NDArray[np.bool_]  # (n, m) cells that conduct
    temperature: Array  # (n, m) degC; an environment's own in its cells, NaN in voids
    point_temperature: Array  # (n + 1, m + 1) degC at the grid points; NaN where only voids meet
    conductivity: Array  # (n, m, 2) W/(m K) along x and y; 0 where not solid
    flux: Array  # (n, m, 2) W/m2 along x and y; 0 where not solid


def conductance_matrix(values: NetworkValues) -> Array:
    """(F + H, F + H) W/K, fixed terminals first: flows into the section = matrix @ temperatures of all terminals.

    With L the coupling Laplacian, G the heat terminals' weights and Z their resistance it is
    [[L + G' Z^-1 G, -G' Z^-1], [-Z^-1 G, Z^-1]].
    """
    heat = values.resistance.shape[1]
    laplacian = np.diag(values.coupling.sum(1)) - values.coupling
    g = values.weight[:heat]
    z = np.linalg.inv(values.resistance[:heat]) if heat else np.zeros((0, 0))
    z = (z + z.T) / 2
    return np.block([[laplacian + g.T @ z @ g, -g.T @ z], [-z @ g, z]])
