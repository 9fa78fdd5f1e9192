"""Unit fields to the temperatures and fluxes of one operating point, by superposition."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.arrays import Array, Bools
from fdm.conduction.faces import half_cells
from fdm.conduction.flows import SideFlows, link_flows, side_flows
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
    side_temperature: Array  # (n, m, 2, 2) degC at the middles of a solid cell's sides: low, high along x; then along y
    side_flow: Array  # (n, m, 2, 2) W through these sides along +x, then +y; those of a solid cell balance
    cut: Bools  # (n, m) cells that a round or slanted edge crosses

    @cached_property
    def near_cut(self) -> Bools:
        """(n, m) cells that a round or slanted edge crosses, and those beside them."""
        near = np.pad(self.cut, 1)
        near = near[:-2] | near[1:-1] | near[2:]
        return np.asarray(near[:, :-2] | near[:, 1:-1] | near[:, 2:])


@dataclass(frozen=True)
class LayeredField(Field):
    """The field of a plate in layers: on its front, on its `back`, and in each layer, from the back to the front."""

    back: Field
    lines: Array  # (L + 1,) between layers, see `fdm.grid.layers`
    layer_part: NDArray[np.int64]  # (L, n, m) as `part`; fins after the parts, in their order
    layer_solid: NDArray[np.bool_]  # (L, n, m)
    layer_temperature: Array  # (L, n, m) degC; NaN where not solid
    layer_conductivity: Array  # (L, n, m, 3) W/(m K) along x, y and z, of fins as much as their share of metal; else 0
    layer_flux: Array  # (L, n, m, 3) W/m2 along x, y and z; 0 where not solid
    height: Array  # (L + 1, n, m) m from the back of the plate, of the lines over each cell


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
    sides, cut = side_flows(system, units), np.zeros((n, m), bool)
    if system.cut is not None:
        cut[system.cut.i, system.cut.j] = True
    temperature = np.where(drawn, ext[1:-1, 1:-1], np.nan)
    flow = np.stack([np.stack([np.tensordot(operating, f, 1) for f in ends], -1) for ends in sides], -2)
    side_temperature = _side_temperatures(system, temperature, flow)
    if system.links is not None:
        flow += link_flows(system.links, temperature)
    return Field(
        raster.x, raster.y, np.where(inner == NOTHING, -1, inner).astype(np.int64), system.solid,
        temperature, points.reshape(n + 1, m + 1), conductivity, _flux(system, sides, operating), side_temperature,
        flow, cut,
    )  # fmt: skip


def _side_temperatures(system: System, temperature: Array, flow: Array) -> Array:
    """(n, m, 2, 2) degC at the middles of the sides of solid cells, on the cell's own side of a joint: what the flows
    (n, m, 2, 2) make of the cells' temperatures (n, m)."""
    inner, out = system.raster.owner[1:-1, 1:-1], np.empty(flow.shape)
    for axis, (low, high, _) in enumerate(half_cells(system.section, system.raster)):
        along = system.layout.conductivity[:, axis][inner]
        before, after = (low[:-1], high[1:]) if axis == 0 else (low[:, :-1], high[:, 1:])
        with np.errstate(invalid="ignore"):  # no heat passes the axis, whose distance is without end
            out[..., axis, 0] = temperature + flow[..., axis, 0] * before / along
            out[..., axis, 1] = temperature - flow[..., axis, 1] * after / along
    if system.section.view == "axisymmetric" and system.raster.x[0] == 0:  # level there, and as r^2 beside
        out[0, :, 0, 0] = temperature[0] - (out[0, :, 0, 1] - temperature[0]) / 3
    return out


def _flux(system: System, sides: SideFlows, operating: Array) -> Array:
    """(n, m, 2) W/m2, the mean of what passes a cell's two sides."""
    out, (dx, dy) = np.zeros((*system.solid.shape, 2)), system.raster.widths
    for axis, (low, high) in enumerate(sides):
        width = dx[:, None] if axis == 0 else dy[None]
        area = np.divide(system.volume, width, out=np.ones_like(system.volume), where=system.volume > 0)
        out[..., axis] = np.where(system.solid, np.tensordot(operating, (low + high) / 2, 1) / area, 0.0)
    return out
