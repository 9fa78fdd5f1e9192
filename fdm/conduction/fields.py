"""Unit fields to the temperatures and fluxes of one operating point, by superposition."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.arrays import Array
from fdm.conduction.flows import side_flows
from fdm.conduction.readings import at_points, extended, point_weights
from fdm.conduction.system import System
from fdm.grid.raster import NOTHING


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


def superposed(system: System, units: Array, temperatures: Array, watts: Array) -> Field:
    """The field of terminal temperatures (F,) degC and watts (H,), from unit fields (F + H, n, m)."""
    raster, p = system.raster, system.properties
    operating = np.concatenate([temperatures, watts])
    ext = np.tensordot(operating, extended(system, units), 1)
    n, m = raster.shape
    i, j = (a.ravel() for a in np.meshgrid(np.arange(n + 1), np.arange(m + 1), indexing="ij"))
    w = point_weights(system, i, j)
    points = at_points(ext[None], replace(w, fixed=w.fixed @ temperatures[:, None], heat=np.zeros((len(i), 0))), i, j)[
        0
    ]
    points = points + w.heat @ watts
    points = np.where(w.cell.sum(1) + w.fixed.sum(1) > 0.5, points, np.nan)
    inner = raster.owner[1:-1, 1:-1]
    drawn = system.solid | (p.fixed[inner] >= 0)
    conductivity = np.where(system.solid[..., None], p.conductivity[inner], 0.0)
    return Field(
        raster.x, raster.y, np.where(inner == NOTHING, -1, inner).astype(np.int64), system.solid,
        np.where(drawn, ext[1:-1, 1:-1], np.nan), points.reshape(n + 1, m + 1), conductivity,
        _flux(system, units, operating),
    )  # fmt: skip


def _flux(system: System, units: Array, operating: Array) -> Array:
    """(n, m, 2) W/m2, the mean of what passes a cell's two sides."""
    out = np.zeros((*system.solid.shape, 2))
    for axis, (low, high) in enumerate(side_flows(system, units)):
        width = np.diff(system.raster.x)[:, None] if axis == 0 else np.diff(system.raster.y)[None]
        area = np.divide(system.volume, width, out=np.ones_like(system.volume), where=system.volume > 0)
        out[..., axis] = np.where(system.solid, np.tensordot(operating, (low + high) / 2, 1) / area, 0.0)
    return out
