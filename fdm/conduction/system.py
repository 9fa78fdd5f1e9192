"""A section on a grid as a system of conductances, ready to be solved."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers, Links
from fdm.conduction.boundary import BoundaryConductances, HeatInput, connect
from fdm.conduction.cut_faces import cut_faces
from fdm.conduction.cut_films import FilmConductances
from fdm.conduction.element_conductances import element_conductances
from fdm.conduction.faces import Faces, face_sets, volumes
from fdm.conduction.interface_elements import InterfaceElements, interface_elements
from fdm.conduction.layout import AS_DRAWN, Laid, Layout, Variant, lay
from fdm.conduction.properties import PartProperties
from fdm.grid.cut import Cut
from fdm.grid.raster import Raster
from fdm.section.model import Section


@dataclass(frozen=True)
class System:
    """A section on a grid, ready to solve. Conductances in W/K."""

    layout: Layout
    faces: tuple[Faces, Faces]
    holder: tuple[Integers, Integers]  # for each axis and face the fixed terminal that holds it, or -1
    gx: Array  # (n - 1, m) between neighbours along x
    gy: Array  # (n, m - 1)
    elements: InterfaceElements | None  # at slanted edges between solids; None: no cut cells
    links: Links | None  # what these elements add to gx and gy, between any two cells; None: no cut cells
    boundary: BoundaryConductances
    heat_inputs: tuple[HeatInput, ...]
    volume: Array  # (n, m) m3
    unknown: Integers  # (n, m) number of the cell's unknown, -1 where none

    @property
    def section(self) -> Section:
        return self.layout.section

    @property
    def raster(self) -> Raster:
        return self.layout.raster

    @property
    def properties(self) -> PartProperties:
        return self.layout.properties

    @property
    def cut(self) -> Cut | None:
        """None where every edge lies on a grid line."""
        return self.layout.cut

    @property
    def solid(self) -> Bools:
        """(n, m) cells that keep a temperature."""
        return self.layout.solid

    @property
    def between_solids(self) -> bool:
        """Whether a round or slanted edge lies between two solids."""
        return self.links is not None and len(self.links[0]) > 0

    def part_number(self, name: str | None) -> int:
        return next(k for k, part in enumerate(self.section.parts) if part.name == name)

    def part_cells(self, number: int) -> tuple[Integers, Array]:
        """Flat numbers of the cells that carry part `number`, and its volume (m3) in each."""
        return self.layout.part_cells(number, self.volume)

    @cached_property
    def to_fixed(self) -> Array:
        """(n, m) conductance of each cell to all fixed terminals."""
        of_cells = np.bincount(self.boundary.cell, self.boundary.value, self.solid.size)
        return np.asarray(of_cells, float).reshape(self.solid.shape)


def assemble(section: Section, x: Array, y: Array, variant: Variant = AS_DRAWN, laid: Laid | None = None) -> System:
    """The section on grid lines x, y (m), as drawn or as a variant of it. `laid` is that of a system's layout of the
    same drawing, lines and variant, where there is one: it is used again.

    Raises InputError where a source touches no solid, or two sources share a face.
    """
    layout = lay(section, x, y, variant, laid)
    faces = face_sets(layout)
    at_cuts: list[FilmConductances] = []
    elements, links = None, None
    if layout.cut is not None:
        elements = interface_elements(layout)
        conducting = element_conductances(layout, elements)
        faces, at_cuts = cut_faces(layout, faces, conducting)
        links = conducting.links
    volume = volumes(layout)
    boundary, heat_inputs, holder = connect(layout, faces, volume, at_cuts)
    gx, gy = _between_neighbours(layout.solid, faces, holder)
    return System(layout, faces, holder, gx, gy, elements, links, boundary, heat_inputs, volume, _unknowns(layout))


def _between_neighbours(
    solid: Bools, faces: tuple[Faces, Faces], holder: tuple[Integers, Integers]
) -> tuple[Array, Array]:
    """Conductances between solid neighbours along x and y, 0 through faces that are held."""
    gx = np.where(solid[1:] & solid[:-1] & (holder[0][1:-1] < 0), faces[0].through[1:-1], 0.0)
    gy = np.where(solid[:, 1:] & solid[:, :-1] & (holder[1][:, 1:-1] < 0), faces[1].through[:, 1:-1], 0.0)
    return gx, gy


def _unknowns(layout: Layout) -> Integers:
    """(n, m) numbers of the cells' unknowns: one for each solid cell; where parts spread perfectly, one for all their
    cells on one line along which they do."""
    solid, spread, along = layout.solid, layout.variant.spread, layout.variant.along
    unknown = np.full(solid.shape, -1, np.intp)
    if not spread:
        unknown[solid] = np.arange(solid.sum())
        return unknown
    spreads = layout.properties.solid.copy()
    spreads[[k for k, part in enumerate(layout.section.parts) if part.name not in spread]] = False
    members = spreads[layout.raster.owner[1:-1, 1:-1]]
    i, j = np.nonzero(members)
    line = {"x": j, "y": i, "both": np.zeros_like(i)}[along]
    lines, number = np.unique(line, return_inverse=True)
    rest = solid & ~members
    unknown[members] = number
    unknown[rest] = len(lines) + np.arange(rest.sum())
    return unknown
