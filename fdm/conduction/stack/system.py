"""A plate in layers, with its fins, as a `protocol.ConductionSystem`."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.boundary import BoundaryConductances, HeatInput, front_and_back_films
from fdm.conduction.plane import PlaneSystem
from fdm.conduction.properties import spread_conductivity
from fdm.conduction.stack.conductances import Columns
from fdm.conduction.stack.equations import Equations
from fdm.conduction.stack.faces import Patch, PlateFace, plate_face
from fdm.conduction.stack.layers import Layers
from fdm.conduction.stack.series import Series, X, Y, Z, between_cells, to_terminals
from fdm.conduction.stack.solver import StackSolver, prepared
from fdm.section.model import FACES, Section


@dataclass(frozen=True)
class Stack:
    """A plate in L layers on a plan of n x m cells, ready to solve. Conductances in W/K; nodes are the cells, layer by
    layer, then the fixed terminals."""

    section: Section
    plan: PlaneSystem  # the plate without its faces, on the plane grid, as thick as it is
    layers: Layers
    columns: Columns
    faces: tuple[PlateFace, ...]  # back, front
    series: tuple[Series, ...]  # all that the plan does not conduct
    of_fins: dict[str, tuple[Series, ...]]  # those of each group of fins, without their roots
    equations: Equations
    boundary: BoundaryConductances
    heat_inputs: tuple[HeatInput, ...]

    @property
    def solid(self) -> Bools:
        """(L, n, m) cells that keep a temperature."""
        return self.equations.solid

    @property
    def shape(self) -> tuple[int, int, int]:
        n, m = self.plan.raster.shape
        return len(self.layers.share), n, m

    @property
    def between(self) -> tuple[Array, Array, Array]:
        """W/K between neighbours along each axis of (L, n, m)."""
        return self.equations.gz, self.equations.gx, self.equations.gy

    @property
    def widths(self) -> tuple[Array, Array, Array]:
        """Of the cells along each axis of (L, n, m): share of the thickness or height, m, m."""
        dx, dy = self.equations.widths
        return self.layers.share[:, None, None], dx[:, None], dy

    @cached_property
    def metal(self) -> tuple[Array, Array, Array]:
        """(L, n, m) conductance of each cell along each axis times its width, as if the owner of its centre filled
        it."""
        plan, columns, area = self.plan, self.columns, self.plan.raster.area
        owner, p, (dx, dy) = plan.raster.owner[1:-1, 1:-1], plan.properties, self.equations.widths
        sheet = np.where(p.solid[:, None], spread_conductivity(plan.section, p, (), "x"), 0.0)[owner]  # W/K
        through = np.zeros(len(p.solid))
        through[: len(columns.through)] = columns.through / columns.thickness
        out = np.zeros((3, *self.shape))
        for layer in self.layers.of_plate.tolist():
            out[:, layer] = (
                through[owner] * area,
                *(self.layers.share[layer] * sheet[..., k] * w for k, w in ((0, dy), (1, dx[:, None]))),
            )
        for group in (g for face in self.faces for g in face.groups):
            k, fins, along = group.conductivity * group.share, group.fins, "zxy".index(group.fins.along)
            share, across = group.patch.by_cell(area.shape) / area, dy if along == 1 else dx[:, None]
            for layer in self.layers.of_fins(fins.face).tolist():
                out[0, layer] += k * share * area / fins.height
                out[along, layer] += k * share * fins.height * self.layers.share[layer] * across
        return out[0], out[1], out[2]

    @cached_property
    def rises(self) -> dict[int, Array]:
        """By number of each heat terminal that enters on a face, K by which its watt warms the face, (C,) by piece."""
        return {
            h: face_rise(self.plan, self.columns, patch, self.layers.beside(face.name))
            for face in self.faces
            for h, patch in face.heated.items()
        }

    @cached_property
    def solver(self) -> StackSolver:
        return prepared(self.equations, self.layers)

    def part_cells(self, number: int) -> tuple[Integers, Array]:
        """Flat numbers of the cells that carry part `number`, and its volume (m3) in each."""
        cell, volume = self.plan.part_cells(number)
        layer = self.layers.of_plate[:, None]
        return (layer * self.columns.cells + cell).ravel(), (self.layers.share[layer] * volume).ravel()

    def fin_cells(self, number: int) -> tuple[Integers, Array]:
        """Flat numbers of the cells that carry group `number` of fins, and their volume of metal (m3) in each."""
        fins = self.section.fins[number]
        layer = self.layers.of_fins(fins.face)[:, None]
        of_face = self.faces[FACES.index(fins.face)]
        patch, share = next((g.patch, g.share) for g in of_face.groups if g.fins is fins)
        volume = share * fins.height * self.layers.share[layer] * patch.area
        return self.columns.node(layer, patch.cell).ravel(), volume.ravel()


def stack(section: Section, plan: PlaneSystem, z: Array) -> Stack:
    """The plate whose parts are laid out in `plan`, without their faces, in layers between lines z (L + 1,).

    Raises InputError where what lies on a face lies on nothing, or on each other.
    """
    layers, area = Layers(z), plan.raster.area
    columns = Columns(plan.layout, section, layers)
    faces = tuple(plate_face(plan.layout, section, name, area) for name in FACES)
    groups = [g for face in faces for g in face.groups]
    of_fins = {g.fins.name: (*columns.in_fins(g), *columns.along_fins(g)) for g in groups}
    found = (
        *columns.through_plate(area),
        *(s for face in faces for s in columns.at_face(face)),
        *(s for some in of_fins.values() for s in some),
    )
    boundary = _boundary(section, plan, columns, found)
    equations = _equations(plan, layers, found, boundary, faces)
    heat = tuple(_heat_input(section, plan, columns, faces, h) for h in range(len(section.heat_names)))
    on_faces = {h: patch for face in faces for h, patch in face.heated.items()}
    plan = replace(plan, heat_inputs=tuple(
        replace(own, cell=on_faces[h].cell, share=heat[h].share) if h in on_faces else own
        for h, own in enumerate(plan.heat_inputs)
    ))  # fmt: skip
    return Stack(section, plan, layers, columns, faces, found, of_fins, equations, boundary, heat)


def _boundary(section: Section, plan: PlaneSystem, columns: Columns, found: Sequence[Series]) -> BoundaryConductances:
    """Conductances to the fixed terminals: those of the plan, layer by layer, then the others."""
    own, cells, layers = plan.boundary, plan.solid.size, columns.layers
    share = layers.share[layers.of_plate][:, None]
    a, b, g = to_terminals(found)
    cell = np.concatenate([(layers.of_plate[:, None] * cells + own.cell).ravel(), a])
    terminal = np.concatenate([np.tile(own.terminal, len(share)), b - columns.first_fixed])
    value = np.concatenate([(share * own.value).ravel(), g])
    direct = own.direct.copy()
    for node, k, films in front_and_back_films(replace(plan.layout, section=section)):
        beyond = node >= cells  # parts that lie in cells with a fixed terminal's temperature
        others = node[beyond] - cells
        joins = np.where(others != k, films[beyond], 0.0)
        np.add.at(direct, (others, np.full(len(others), k)), joins)
        np.add.at(direct, (np.full(len(others), k), others), joins)
    return BoundaryConductances(cell, terminal, value, direct)


def _equations(
    plan: PlaneSystem,
    layers: Layers,
    found: Sequence[Series],
    boundary: BoundaryConductances,
    faces: Sequence[PlateFace],
) -> Equations:
    """The plan, layer by layer, and all other conductances between cells."""
    shape, cells, size = (len(layers.share), *plan.raster.shape), plan.solid.size, plan.solid.size * len(layers.share)
    solid, unknown = _unknowns(plan, layers, faces)
    gz, along_x, along_y = (between_cells(found, axis, size).reshape(shape) for axis in (Z, X, Y))
    share = np.where(layers.side == 0, layers.share, 0.0)[:, None, None]
    same_x, same_y = plan.unknown[1:] == plan.unknown[:-1], plan.unknown[:, 1:] == plan.unknown[:, :-1]
    gx = share * np.where(same_x, 0.0, plan.gx) + along_x[:, :-1]
    gy = share * np.where(same_y, 0.0, plan.gy) + along_y[:, :, :-1]
    to_fixed = np.asarray(np.bincount(boundary.cell, boundary.value, size), float).reshape(shape)
    links = np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0)
    if plan.links is not None and len(plan.links[0]):
        layer = layers.of_plate[:, None]
        first, second = ((layer * cells + ends).ravel() for ends in plan.links[:2])
        links = first, second, (layers.share[layer] * plan.links[2]).ravel()
    return Equations(plan.raster.widths, gx, gy, gz[:-1], to_fixed, links, solid, unknown)


def _unknowns(plan: PlaneSystem, layers: Layers, faces: Sequence[PlateFace]) -> tuple[Bools, Integers]:
    """(L, n, m) which cells keep a temperature, and the numbers of their unknowns."""
    count, cells = len(layers.share), plan.solid.size
    solid = np.zeros((count, cells), bool)
    solid[layers.of_plate] = plan.solid.ravel()
    unknown = np.full((count, cells), -1, np.intp)
    own, size = plan.unknown.ravel(), int(plan.unknown.max(initial=-1)) + 1
    for k, layer in enumerate(layers.of_plate.tolist()):
        unknown[layer] = np.where(own >= 0, own + k * size, -1)
    fins = np.zeros_like(solid)
    for group in (g for face in faces for g in face.groups):
        fins[layers.of_fins(group.fins.face)[:, None], group.patch.cell] = True
    unknown[fins] = size * len(layers.of_plate) + np.arange(fins.sum())
    shape = (count, *plan.raster.shape)
    return (solid | fins).reshape(shape), unknown.reshape(shape)


def _heat_input(
    section: Section, plan: PlaneSystem, columns: Columns, faces: Sequence[PlateFace], number: int
) -> HeatInput:
    source, layers = section.heat_sources[number], columns.layers
    if source.face is None:  # all through the thickness
        own, layer = plan.heat_inputs[number], layers.of_plate[:, None]
        cell, share = columns.node(layer, own.cell).ravel(), (layers.share[layer] * own.share).ravel()
        on_faces = None if own.face_share is None else (layers.share[layer] * own.face_share).ravel()
        return HeatInput(cell, share, own.fixed, own.own, face_share=on_faces)
    patch, beside = faces[FACES.index(source.face)].heated[number], layers.beside(source.face)
    share = patch.area / patch.area.sum()
    rise = face_rise(plan, columns, patch, beside)
    return HeatInput(
        columns.node(beside, patch.cell),
        share,
        np.zeros(len(section.fixed_names)),
        float(share @ rise),
        face_share=share,
    )


def face_rise(plan: PlaneSystem, columns: Columns, patch: Patch, layer: int) -> Array:
    """(C,) K by which one watt on a patch warms the face over the layer beside it; where the plate spreads perfectly,
    its face does, too."""
    _, half = columns.half(layer, patch)
    number = plan.unknown.ravel()[patch.cell]
    shared = np.bincount(plan.unknown.ravel()[plan.solid.ravel()])[number] > 1
    rise: Array = patch.area / patch.area.sum() * half
    if shared.any():
        members = np.isin(plan.unknown.ravel(), number[shared])
        whole = 0.0
        for part in np.nonzero(plan.properties.solid[: len(plan.section.parts)])[0].tolist():
            cell, own = plan.layout.part_cells(part, plan.raster.area)
            on = members[cell]
            pieces = Patch(cell[on], np.full(on.sum(), part), own[on])
            whole += float((1 / columns.half(layer, pieces)[1]).sum())
        rise[shared] = 1 / whole
    return rise
