"""Temperatures and fluxes of a stack at one operating point."""

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.arrays import Array
from fdm.conduction.fields import Field, LayeredField, superposed
from fdm.conduction.stack.interval_errors import side_flows
from fdm.conduction.stack.readings import face_fields
from fdm.conduction.stack.system import Stack
from fdm.grid.raster import NOTHING


def layered_field(stack: Stack, units: Array, temperatures: Array, watts: Array) -> LayeredField:
    """The field of terminal temperatures (F,) degC and watts (H,), from unit fields (F + H, L, n, m)."""
    back, front = (_on_face(stack, units, face, temperatures, watts) for face in ("back", "front"))
    layers = np.tensordot(np.concatenate([temperatures, watts]), units, 1)
    height = _heights(stack)
    conductivity, flux = _through_cells(stack, layers, np.diff(height, axis=0))
    return LayeredField(
        **{f.name: getattr(front, f.name) for f in fields(Field)},
        back=back,
        lines=stack.layers.lines,
        layer_part=_owners(stack),
        layer_solid=stack.solid,
        layer_temperature=np.where(stack.solid, layers, np.nan),
        layer_conductivity=conductivity,
        layer_flux=flux,
        height=height,
    )


def _owners(stack: Stack) -> NDArray[np.int64]:
    """(L, n, m) numbers of the parts, and after them of the fins."""
    owner = np.where(stack.plan.raster.owner == NOTHING, -1, stack.plan.raster.owner)[1:-1, 1:-1]
    out = np.full(stack.shape, -1, np.int64)
    out[stack.layers.of_plate] = owner
    for group in (g for face in stack.faces for g in face.groups):
        number = len(stack.section.parts) + stack.section.fins.index(group.fins)
        for layer in stack.layers.of_fins(group.fins.face).tolist():
            out[layer].ravel()[group.patch.cell] = number
    return out


def _through_cells(stack: Stack, layers: Array, height: Array) -> tuple[Array, Array]:
    """(L, n, m, 3) conductivities and fluxes along x, y and z of cells with temperatures and heights (L, n, m)."""
    dx, dy = stack.equations.widths
    conductivity, flux = np.zeros((2, *stack.shape, 3))
    tall = np.where(height > 0, height, 1.0)
    for k, (axis, area) in enumerate(((1, dy * tall), (2, dx[:, None] * tall), (0, stack.plan.raster.area))):
        low, high = side_flows(stack, layers[None], axis)
        flux[..., k] = np.where(stack.solid, (low + high)[0] / 2 / area, 0.0)
        length = tall / stack.layers.share[:, None, None] if axis == 0 else 1.0  # of metal, which is by share of height
        conductivity[..., k] = np.where(stack.solid, stack.metal[axis] * length / area, 0.0)
    return conductivity, flux


def _on_face(stack: Stack, units: Array, face: str, temperatures: Array, watts: Array) -> Field:
    """A face as a field of the plan."""
    return superposed(stack.plan, face_fields(stack, units, face), temperatures, watts)


def _heights(stack: Stack) -> Array:
    """(L + 1, n, m) m from the back, of the lines between layers over each cell."""
    z, p = stack.layers.lines[:, None, None], stack.plan.properties
    owner = stack.plan.raster.owner[1:-1, 1:-1]
    thickness = np.where(p.solid[owner], p.thickness[owner], 0.0)
    tall = {face.name: np.zeros(stack.columns.cells) for face in stack.faces}
    for group in (g for face in stack.faces for g in face.groups):
        tall[group.fins.face][group.patch.cell] = group.fins.height
    back, front = (tall[name].reshape(thickness.shape) for name in ("back", "front"))
    return np.asarray(np.clip(z, 0, 1) * thickness + np.clip(z, -1, 0) * back + np.clip(z - 1, 0, 1) * front)
