"""Heat flows: out of the fixed terminals into the section, and through the sides of every cell.

Every flow is a conductance times a difference of temperatures, which loses far less to rounding than a matrix.
"""

from typing import Protocol

import numpy as np

from fdm.conduction.arrays import Array, Bools, Links
from fdm.conduction.boundary import BoundaryConductances, HeatInput
from fdm.conduction.readings import extended
from fdm.conduction.system import System
from fdm.section.model import Section

SideFlows = tuple[tuple[Array, Array], tuple[Array, Array]]  # along x, then y: lower sides, upper sides


class Connected(Protocol):
    """Cells, tied to fixed terminals, which heat enters; of the plane grid, or of all layers of a stack."""

    @property
    def section(self) -> Section:
        """The section that they are of."""

    @property
    def boundary(self) -> BoundaryConductances:
        """Their conductances to the fixed terminals."""

    @property
    def heat_inputs(self) -> tuple[HeatInput, ...]:
        """Where heat enters them."""

    @property
    def solid(self) -> Bools:
        """(...) the cells that keep a temperature."""


def laplacian(system: Connected, flat: Array) -> Array:
    """(F, F) W out of each fixed terminal (row) when one of them (column) is at 1 and the others at 0, from unit fields
    `flat` (F + H, n * m): symmetric to rounding, and its rows sum to 0."""
    boundary = system.boundary
    fixed = len(boundary.direct)
    drop = (np.arange(fixed)[:, None] == boundary.terminal) - flat[:fixed, boundary.cell]
    out = np.array([np.bincount(boundary.terminal, boundary.value * d, fixed) for d in drop], float).T
    out += np.diag(boundary.direct.sum(1)) - boundary.direct
    return np.asarray(out)


def terminal_flows(system: Connected, field: Array, temperatures: Array, watts: Array) -> Array:
    """(F,) W out of each fixed terminal into the section, at temperatures `field` (n * m,) of the cells."""
    boundary = system.boundary
    out: Array = boundary.direct.sum(1) * temperatures - boundary.direct @ temperatures
    out += np.bincount(
        boundary.terminal, boundary.value * (temperatures[boundary.terminal] - field[boundary.cell]), len(temperatures)
    )
    for h in np.flatnonzero(watts):
        out -= system.heat_inputs[h].fixed * watts[h]
    return out


def imbalance(system: Connected, flat: Array) -> float:
    """Sum of the flows over the largest, the worst of all unit fields; NaN where a flow is."""
    fixed, departures = len(system.boundary.direct), [0.0]
    nothing = 1e-9 * system.boundary.value.sum()  # W/K; below, all terminals are at one temperature
    for field, unit in zip(flat, np.eye(len(flat))):
        out = terminal_flows(system, field, unit[:fixed], unit[fixed:])
        largest = max(abs(out).max(), unit[fixed:].max(initial=0.0))
        if not largest <= nothing:
            departures.append(abs(out.sum() + unit[fixed:].sum()) / largest)
    return float(np.max(departures))


def heat_means(system: Connected, flat: Array) -> Array:
    """(H, F + H) mean temperature of each heat terminal in the unit fields (F + H, n * m)."""
    fixed = len(system.boundary.direct)
    out = np.zeros((len(system.heat_inputs), len(flat)))
    for h, heat_input in enumerate(system.heat_inputs):
        out[h] = flat[:, heat_input.cell] @ heat_input.share
        out[h, :fixed] += heat_input.fixed
        out[h, fixed + h] += heat_input.own
    return out


def side_flows(system: System, fields: Array) -> SideFlows:
    """W along +x through the lower and the upper side of every cell, (E, n, m) each; then along +y. They differ from
    the flow between the two cells where a source lies on the face."""
    ext = extended(system, fields)
    fixed = len(system.boundary.direct)
    out = []
    for axis, f in enumerate(system.faces):
        inside = slice(1, -1)
        before, after = (
            (ext[:, :-1, inside], ext[:, 1:, inside]) if axis == 0 else (ext[:, inside, :-1], ext[:, inside, 1:])
        )
        into = (before - after) * np.where(np.isfinite(f.through), f.through, 0.0)
        out_of = into.copy()
        for h, heat_input in enumerate(system.heat_inputs):
            if heat_input.axis == axis and heat_input.at is not None and heat_input.face_share is not None:
                g0, g1 = f.conductance(0, heat_input.at), f.conductance(1, heat_input.at)
                into[fixed + h][heat_input.at] -= heat_input.face_share * g0 / (g0 + g1)
                out_of[fixed + h][heat_input.at] += heat_input.face_share * g1 / (g0 + g1)
        i, j = np.nonzero(system.holder[axis] >= 0)
        if len(i):
            at = i, j
            held = (np.arange(len(fields))[:, None] == system.holder[axis][at]).astype(float)
            into[:, *at] = (before[:, *at] - held) * f.conductance(0, at)
            out_of[:, *at] = (held - after[:, *at]) * f.conductance(1, at)
        out.append((out_of[:, :-1], into[:, 1:]) if axis == 0 else (out_of[:, :, :-1], into[:, :, 1:]))
    return out[0], out[1]


def link_flows(links: Links, temperature: Array) -> Array:
    """(n, m, 2, 2) W through the lower and upper side of every cell along +x, then +y, of links between cells that are
    no neighbours: each half goes along x first, or along y first, so that what enters a cell leaves it."""
    n, m = temperature.shape
    (i, j), (to_i, to_j) = (np.divmod(cell, m) for cell in links[:2])
    half = links[2] * (temperature[i, j] - temperature[to_i, to_j]) / 2
    out = np.zeros((n, m, 2, 2))
    for axis in (0, 1):
        begin, end = (i, to_i) if axis == 0 else (j, to_j)
        low, way = np.minimum(begin, end), np.where(end > begin, half, -half)
        for step in range(int(abs(end - begin).max(initial=0))):
            on = low + step < np.maximum(begin, end)
            for across in (j, to_j) if axis == 0 else (i, to_i):  # first along this axis, or last
                before = np.stack([low + step, across] if axis == 0 else [across, low + step])[:, on]
                after = before + np.array([[1], [0]] if axis == 0 else [[0], [1]])
                np.add.at(out[..., axis, 1], tuple(before), way[on])
                np.add.at(out[..., axis, 0], tuple(after), way[on])
    return out
