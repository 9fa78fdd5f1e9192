"""All conductances of a stack that the plane grid does not have: through the plate, at its faces, and in its fins.

Nodes are the cells, layer by layer, then the fixed terminals.
"""

from collections.abc import Iterator

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.layout import Layout
from fdm.conduction.stack.faces import FinGroup, Patch, PlateFace
from fdm.conduction.stack.layers import Layers
from fdm.conduction.stack.series import Series, X, Y, Z, series
from fdm.section.model import Section

# cells (n, m) before and after each face between two, along x and along y
AXIS = (((slice(None, -1),), (slice(1, None),)), ((slice(None), slice(None, -1)), (slice(None), slice(1, None))))

NOTHING = 1e-9  # of its resistance, what a plate with one temperature has through its thickness


class Columns:
    """The nodes above each cell of a plan, and how plate and fins conduct along them."""

    def __init__(self, layout: Layout, section: Section, layers: Layers) -> None:
        self.layout, self.section, self.layers = layout, section, layers
        self.shape = layout.raster.shape
        self.cells = int(np.prod(self.shape))
        self.first_fixed = self.cells * len(layers.share)
        parts = [p.material for p in section.parts]
        through = [m and (m.conductivity[0] if m.through is None else m.through) for m in parts]
        self.through = np.array([k or 1.0 for k in through])  # (P,) W/(m K) through the thickness
        self.thickness = layout.properties.thickness[: len(parts)]  # (P,) m
        self.first_film = len(parts)  # the row of the first environment's film
        self.film = np.array([e.film for e in section.environments])

    def node(self, layer: int | Integers, cell: Integers) -> Integers:
        return np.asarray(layer) * self.cells + cell

    def half(self, layer: int, patch: Patch) -> tuple[Integers, Array]:
        """Row and K/W of half a layer of the plate, over a patch."""
        length = self.thickness[patch.part] * self.layers.share[layer] / 2
        if self.layers.single:
            length = NOTHING * length
        return patch.part, length / (self.through[patch.part] * patch.area)

    def through_plate(self, area: Array) -> Iterator[Series]:
        """From layer to layer of the plate."""
        layer, share = self.layers.of_plate, self.layers.share
        step = (share[layer][1:] + share[layer][:-1])[:, None] / 2
        for number in np.nonzero(self.layout.properties.solid[: len(self.thickness)])[0].tolist():
            cell, own = self.layout.part_cells(number, area)
            resistance = step * self.thickness[number] / (self.through[number] * own)
            node = self.node(layer[:, None], cell)
            yield series(Z, node[:-1], node[1:], (number, resistance))

    def at_face(self, face: PlateFace) -> Iterator[Series]:
        """Films on a face, and the roots of fins."""
        layer = self.layers.beside(face.name)
        for terminal, patch in face.film:
            film = self.first_film + terminal, 1 / (self.film[terminal] * patch.area)
            node = self.node(layer, patch.cell)
            yield series(None, node, self.first_fixed + terminal, self.half(layer, patch), film)
        for group in face.groups:
            yield self.root(group, layer, int(self.layers.of_fins(face.name)[0]))

    def root(self, group: FinGroup, layer: int, first: int) -> Series:
        """From a layer of the plate into the first layer of fins: the last resistance is that of the fins."""
        patch = group.patch
        return series(
            Z,
            self.node(layer, patch.cell),
            self.node(first, patch.cell),
            self.half(layer, patch),
            (patch.part, group.constriction / (self.through[patch.part] * patch.area)),
            (group.joint_row, group.fins.joint / (group.share * patch.area)),
            self.half_fin(group, first),
        )

    def wetted_area(self, group: FinGroup) -> float:
        """m2 of the fins: sides, tips and ends."""
        area, width, (_, ends) = group.patch.by_cell(self.shape), self._widths(group), self._along(group)
        at_ends = group.share * group.fins.height * float((ends * area / width).sum())
        return float(area.sum()) * (2 / group.pitch * group.fins.height + group.share) + at_ends

    def half_fin(self, group: FinGroup, layer: int | Integers) -> tuple[int, Array]:
        """Row and K/W of half a layer of fins, or of several (K, 1), upwards."""
        length = group.fins.height * self.layers.share[layer] / 2
        return group.row, length / (group.conductivity * group.share * group.patch.area)

    def in_fins(self, group: FinGroup) -> Iterator[Series]:
        """Up the fins, and from their sides and tips into the environment."""
        layer, patch, fins = self.layers.of_fins(group.fins.face)[:, None], group.patch, group.fins
        film, sink = self.film[group.terminal], self.first_fixed + group.terminal
        row, node = self.first_film + group.terminal, self.node(layer, patch.cell)
        (_, half), tip = self.half_fin(group, layer), int(layer[-1, 0])
        yield series(Z, node[:-1], node[1:], (group.row, half[:-1] + half[1:]))
        sides = 2 / group.pitch * fins.height * self.layers.share[layer] * patch.area
        # from the mean over a fin's thickness, across which the temperature is a parabola, to its sides
        inner = fins.thickness / 6 / (group.conductivity * sides)
        yield series(None, node, sink, (group.row, inner), (row, 1 / (film * sides)))
        yield series(None, node[-1], sink, self.half_fin(group, tip), (row, 1 / (film * group.share * patch.area)))

    def along_fins(self, group: FinGroup) -> Iterator[Series]:
        """From cell to cell along the fins, and from their ends into the environment."""
        (n, m), axis, fins = self.shape, "xy".index(group.fins.along), group.fins
        area, width = group.patch.by_cell(self.shape), self._widths(group)
        film, sink = self.film[group.terminal], self.first_fixed + group.terminal
        number, (both, ends) = np.arange(self.cells).reshape(n, m), self._along(group)
        before, after = AXIS[axis]
        layer = self.layers.of_fins(fins.face)[:, None]
        share = self.layers.share[layer]
        metal = group.share * fins.height * area / width  # m2 across the fins, over all of their height
        half = width / 2 / (group.conductivity * np.where(area > 0, metal, 1.0))
        yield series(
            (X, Y)[axis],
            self.node(layer, number[before][both]),
            self.node(layer, number[after][both]),
            (group.row, (half[before] + half[after])[both] / share),
        )
        for end in ends:
            at_film = self.first_film + group.terminal, 1 / (film * metal[end] * share)
            yield series(None, self.node(layer, number[end]), sink, (group.row, half[end] / share), at_film)

    def _widths(self, group: FinGroup) -> Array:
        """(n, 1) or (m,) m, of the cells along fins."""
        dx, dy = self.layout.raster.widths
        return dx[:, None] if group.fins.along == "x" else dy

    def _along(self, group: FinGroup) -> tuple[Bools, Bools]:
        """Pairs of cells that follow each other along the fins; and (2, n, m) the first and the last cells along
        them."""
        stands = group.patch.by_cell(self.shape) > 0
        before, after = AXIS["xy".index(group.fins.along)]
        both = stands[before] & stands[after]
        ends = np.stack([stands, stands])
        ends[0][after] &= ~both
        ends[1][before] &= ~both
        return both, ends
