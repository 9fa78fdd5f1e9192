"""Places on the surfaces of a plate in layers: its rim, its two faces, and the sides and tips of its fins."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fdm.conduction.stack.system import Stack
from fdm.conduction.surfaces import SurfacePlaces, alone, by_pair, corners_of


def stack_surfaces(stack: Stack) -> SurfacePlaces:
    """All places on surfaces, by part or fins, and environment."""
    return by_pair(stack.section, [*_at_rim(stack), *_on_faces(stack), *_on_fins(stack)], len(stack.heat_inputs))


def _at_rim(stack: Stack) -> Iterator[SurfacePlaces]:
    """Those of the plan, in each layer of the plate."""
    own = stack.plan.surfaces
    for layer in stack.layers.of_plate.tolist() if len(own.cell) else ():
        yield replace(own, cell=stack.columns.node(layer, own.cell), area=stack.layers.share[layer] * own.area)


def _on_faces(stack: Stack) -> Iterator[SurfacePlaces]:
    columns = stack.columns
    for face in stack.faces:
        layer = stack.layers.beside(face.name)
        for terminal, patch in face.film:
            inner = 1 / columns.half(layer, patch)[1]
            numbers = patch.part, np.full(len(patch.cell), terminal)
            film = columns.film[terminal] * patch.area
            shape = patch.area, corners_of(stack.plan.raster, patch.cell)
            yield alone(len(stack.heat_inputs), columns.node(layer, patch.cell), numbers, inner, film, shape, True)


def _on_fins(stack: Stack) -> Iterator[SurfacePlaces]:
    columns = stack.columns
    for group in (g for face in stack.faces for g in face.groups):
        number = len(stack.section.parts) + stack.section.fins.index(group.fins)
        layers = stack.layers.of_fins(group.fins.face)
        film, patch = columns.film[group.terminal], group.patch
        for layer in layers.tolist():
            tip = layer == layers[-1]
            inner = (
                1 / columns.half_fin(group, layer)[1] if tip else _to_sides(group.conductivity, group.fins.thickness)
            )
            outer = film * group.share * patch.area if tip else film
            metal, up = group.share * patch.area, stack.layers.share[layer] * group.fins.height
            area = (2 * up / group.fins.thickness + tip) * metal  # the tip stands for the sides of its layer, too
            count = len(patch.cell)
            numbers = np.full(count, number), np.full(count, group.terminal)
            both = np.broadcast_to(inner, count), np.broadcast_to(outer, count)
            shape = area, corners_of(stack.plan.raster, patch.cell)
            yield alone(len(stack.heat_inputs), columns.node(layer, patch.cell), numbers, *both, shape, True)


def _to_sides(conductivity: float, thickness: float) -> float:
    """W/(m2 K) from the mean over a fin's thickness to its sides."""
    return 6 * conductivity / thickness
