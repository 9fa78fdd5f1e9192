"""A drawing on the cells of a first grid: what owns them, and which of them lie beside a source."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.properties import PartProperties, properties
from fdm.grid.raster import NOTHING, Raster, middles, raster_of
from fdm.section.model import SIDES, UNITS, Rectangle, Section, Segment, Source

METAL = 12.0  # W/(m K), a little less than stainless steel: what spreads heat, and what bolts are made of


@dataclass(frozen=True)
class Drawing:
    """A section on cells. Owners are numbers of parts, then of the four borders, and NOTHING last, as -1."""

    section: Section
    raster: Raster

    @cached_property
    def owner(self) -> Integers:
        """(n + 2, m + 2) with the ring around the cells."""
        return self.raster.owner.astype(np.intp)

    @property
    def cells(self) -> Integers:
        """(n, m) owners."""
        return self.owner[1:-1, 1:-1]

    @cached_property
    def properties(self) -> PartProperties:
        return properties(self.section)

    @cached_property
    def conductivity(self) -> Array:
        """(P + 5, 2) W/(m K) along x and y, by owner; 0 of what is no solid."""
        return np.where(self.solid[:, None], self.properties.conductivity, 0.0)

    @cached_property
    def solid(self) -> Bools:
        """(P + 5,) by owner; those that are held, too."""
        return self.properties.solid | self.properties.held

    @cached_property
    def airs(self) -> list[str | None]:
        """(P + 5) the environment of each owner."""
        border = [getattr(self.section.border, side) for side in SIDES]
        return [*(p.environment for p in self.section.parts), *border, None]

    def turned(self, upright: bool) -> tuple[Integers, Array, Array]:
        """Owners with their ring, and the lines along both axes; the axes swapped unless `upright`."""
        r = self.raster
        return (self.owner, r.x, r.y) if upright else (self.owner.T, r.y, r.x)

    def length(self, metres: float) -> str:
        return f"{metres / UNITS[self.section.unit]:.4g} {self.section.unit}"

    def names(self, owners: Iterable[int]) -> str:
        return ", ".join(repr(self.section.parts[k].name) for k in owners)

    def beside(self, segment: Segment) -> tuple[tuple[slice, Integers], Array]:
        """The cells on both sides of a segment, as indices into the owners `turned` its way; and (K,) its area in
        each, over the depth or the turn."""
        _, across, along = self.turned(segment.vertical)
        place, (low, high) = (segment.x[0], segment.y) if segment.vertical else (segment.y[0], segment.x)
        on, mids = int(abs(across - place).argmin()), middles(along)
        cells = np.flatnonzero((mids > low) & (mids < high))
        radius = mids[cells] if self.section.view == "axisymmetric" and not segment.vertical else 1.0
        return (slice(on, on + 2), cells + 1), np.diff(along)[cells] * radius

    def warmed(self, source: Source) -> Bools:
        """(n, m) the solid cells that a source heats, or beside which it lies."""
        if source.segment is None:
            return np.asarray((self.cells == self.number(str(source.part))) & self.within(source.rectangle))
        out = np.zeros(self.owner.shape, bool)
        at, _ = self.beside(source.segment)
        (out if source.segment.vertical else out.T)[at] = True
        return out[1:-1, 1:-1] & self.solid[self.cells]

    def within(self, rectangle: Rectangle | None) -> Bools:
        """(n, m) the cells in a rectangle; all where there is none."""
        if rectangle is None:
            return np.ones(self.cells.shape, bool)
        x, y = middles(self.raster.x)[:, None], middles(self.raster.y)
        return np.asarray(rectangle.contains(x, y))

    def number(self, part: str) -> int:
        return [p.name for p in self.section.parts].index(part)

    def uncovered(self, *parts: str) -> Bools:
        """(n, m) the cells that some parts would have if no other covered them."""
        others = [p.name for p in self.section.parts if p.name not in parts]
        r = raster_of(self.section, self.raster.x, self.raster.y, others)
        return np.asarray(r.owner[1:-1, 1:-1] != NOTHING)

    def edges_beside(self, gaps: Integers) -> Iterator[tuple[str, int, float, int]]:
        """Side, part, length (m), and a gap, of all edges of solids at gaps, numbered from 1 in (n + 2, m + 2)."""
        for upright, sides, at in ((True, ("left", "right"), gaps), (False, ("bottom", "top"), gaps.T)):
            owner, _, along = self.turned(upright)
            for side, solid, gap in ((sides[0], owner[1:], at[:-1]), (sides[1], owner[:-1], at[1:])):
                i, j = np.nonzero((gap[:, 1:-1] > 0) & self.solid[solid[:, 1:-1]])
                parts, first, which = np.unique(solid[i, j + 1], return_index=True, return_inverse=True)
                lengths = np.bincount(which.ravel(), np.diff(along)[j], len(parts))
                yield from zip([side] * len(parts), parts.tolist(), lengths.tolist(), gap[i, j + 1][first].tolist())
