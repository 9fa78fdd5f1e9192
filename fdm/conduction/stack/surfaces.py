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
    if not len(stack.plan.boundary.cell):
        return
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
    """On the sides of fins, in each layer; in the last one on their tips, which stand for the sides there, too."""
    columns = stack.columns
    for group in (g for face in stack.faces for g in face.groups):
        number = len(stack.section.parts) + stack.section.fins.index(group.fins)
        layers, patch = stack.layers.of_fins(group.fins.face), group.patch
        shape = len(layers), len(patch.cell)
        metal, film = group.share * patch.area, columns.film[group.terminal]
        inner, outer = np.full(shape, _to_sides(group.conductivity, group.fins.thickness)), np.full(shape, film)
        inner[-1], outer[-1] = 1 / columns.half_fin(group, int(layers[-1]))[1], film * metal
        sides = 2 * stack.layers.share[layers] * group.fins.height / group.fins.thickness
        sides[-1] += 1.0
        numbers = np.full(inner.size, number), np.full(inner.size, group.terminal)
        at = (sides[:, None] * metal).ravel(), np.tile(corners_of(stack.plan.raster, patch.cell), (len(layers), 1, 1))
        cell = columns.node(layers[:, None], patch.cell).ravel()
        yield alone(len(stack.heat_inputs), cell, numbers, inner.ravel(), outer.ravel(), at, True)


def _to_sides(conductivity: float, thickness: float) -> float:
    """W/(m2 K) from the mean over a fin's thickness to its sides."""
    return 6 * conductivity / thickness
