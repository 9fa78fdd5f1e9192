"""A section laid on grid lines: what all the other files of this folder work on."""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers, Owners
from fdm.conduction.properties import PartProperties, properties, spread_conductivity
from fdm.grid.cut import Cut, cut_cells, owners_at
from fdm.grid.edges import AROUND, parts_at
from fdm.grid.raster import Raster, raster_of
from fdm.section.model import Section

BESIDE = 1e-6  # of the drawing's size: so near lies what is right beside a point

Laid = tuple[Raster, Cut | None]  # who owns each cell, and which cells an edge cuts: by drawing and grid lines alone


@dataclass(frozen=True)
class Variant:
    """How a section is to be taken otherwise than drawn: without some parts, or with some that spread perfectly."""

    without: Collection[str] = ()
    spread: Collection[str] = ()
    along: str = "x"  # or "y" or "both": the direction in which they spread


AS_DRAWN = Variant()


@dataclass(frozen=True)
class Layout:
    """A section laid on grid lines: who owns each cell, which cells an edge cuts, and the properties of the owners."""

    section: Section
    variant: Variant
    laid: Laid
    raster: Raster  # as laid, but with a solid owner for every cut cell that keeps a temperature
    cut: Cut | None  # None where every edge lies on a grid line
    strong: Bools  # (C,) cut cells through which an edge with a strong film passes: see `strong_pieces`
    properties: PartProperties

    @cached_property
    def conductivity(self) -> Array:
        """(P + 5, 2) W/(m K), or W/K in the plate view (times thickness), with the variant's perfect spreading."""
        return spread_conductivity(self.section, self.properties, self.variant.spread, self.variant.along)

    @cached_property
    def solid(self) -> Bools:
        """(n, m) cells that keep a temperature."""
        return self.properties.solid[self.raster.owner[1:-1, 1:-1]]

    @cached_property
    def cut_number(self) -> Integers:
        """(n + 2, m + 2) number of the cut cell, with a ring of cells around the grid; -1 where the cell is whole."""
        number = np.full(self.raster.owner.shape, -1, np.intp)
        if self.cut is not None:
            number[self.cut.i + 1, self.cut.j + 1] = np.arange(len(self.cut.i))
        return number

    def owners_at(self, i: Integers, j: Integers, x: Array, y: Array) -> Owners:
        """Owners at points x, y (m) in cells i, j; all broadcast together."""
        return owners_at(self.section, self.raster, i, j, x, y, self.variant.without)

    def drawn_beside(self, i: Integers, j: Integers, kind: Bools) -> Bools:
        """(...) whether the drawing has owners of a `kind` (P + 5,) at grid points i, j (...) or right beside them."""
        x = self.raster.x[i][..., None] + BESIDE * self.section.size * np.cos(AROUND)
        y = self.raster.y[j][..., None] + BESIDE * self.section.size * np.sin(AROUND)
        return np.asarray(kind[parts_at(self.section, x, y)].any(-1))

    def part_cells(self, number: int, measure: Array) -> tuple[Integers, Array]:
        """Flat numbers of the cells that carry a part, and how much of `measure` (n, m), volume or area, it has in
        each."""
        owner, joint = self.raster.owner[1:-1, 1:-1], self.properties.joint
        share = (owner == number).astype(float)
        if self.cut is not None:
            share[self.cut.i, self.cut.j] = (self.cut.owner == number).mean((1, 2))
        carried = np.where(self.solid, share * measure, 0.0)
        if self.cut is not None and joint is not None:
            carried = _on_own_side(carried, owner == number, joint[number, owner] > 0)
        return np.nonzero(carried.ravel())[0], carried[carried > 0]


def _on_own_side(carried: Array, own: Bools, beyond: Bools) -> Array:
    """What a part has in each cell (n, m), without what it has in cells that lie `beyond` a joint: that goes to the
    part's `own` cells beside, as heat in it has the joint still to pass."""
    i, j = np.nonzero(beyond & (carried > 0))
    out, near = carried.copy(), np.pad(own, 1)
    left = carried[i, j]
    for steps in (((-1, 0), (1, 0), (0, -1), (0, 1)), ((-1, -1), (-1, 1), (1, -1), (1, 1))):
        di, dj = np.array(steps).T[:, :, None]
        takes = near[i + di + 1, j + dj + 1]
        some = takes.any(0)
        moved = np.where(some, left, 0.0) / np.maximum(takes.sum(0), 1)
        for (a, b), take in zip(steps, takes):
            np.add.at(out, (i[take] + a, j[take] + b), moved[take])
        out[i, j] -= np.where(some, left, 0.0)
        left = np.where(some, 0.0, left)
    return np.maximum(out, 0.0)


def lay(section: Section, x: Array, y: Array, variant: Variant = AS_DRAWN, laid: Laid | None = None) -> Layout:
    """Lay a section on grid lines x, y (m). `laid` is that of a layout of the same drawing, lines and variant, where
    there is one: it is used again."""
    if laid is None:
        raster = raster_of(section, x, y, variant.without)
        laid = raster, cut_cells(section, raster, variant.without)
    raster, cut = laid
    p = properties(section)
    strong = np.zeros(0, bool)
    if cut is not None:
        strong = np.zeros(len(cut.i), bool)
        strong[cut.piece[strong_pieces(raster, cut, p)]] = True
        raster = _with_solid_owners(raster, cut, p, strong)
    return Layout(section, variant, laid, raster, cut, strong, p)


def strong_pieces(raster: Raster, cut: Cut, p: PartProperties) -> Integers:
    """Numbers of the pieces of edge that have a strong film, each once for every side of it that is solid.

    A film is *strong* where it lets heat through more easily than a cell does: conductivity / film is shorter than the
    cell's diagonal (a held part's film is infinite, or that of the joint before it). The solid's surface is then nearly
    at the terminal's temperature, and there is hardly a gradient along it. A film is *weak* otherwise: the temperature
    varies along the edge, and all of the edge's true length counts. `cut_films.py` treats the two differently; one way
    is chosen for all of the edge between two owners.
    """
    pairs = np.concatenate([cut.sides, cut.sides[:, ::-1]])
    piece, of = np.tile(np.arange(len(cut.piece)), 2), p.solid[pairs[:, 0]] & (p.fixed[pairs[:, 1]] >= 0)
    pairs, piece = pairs[of], piece[of]
    dx, dy = raster.widths
    diagonal = np.hypot(dx[cut.i], dy[cut.j])[cut.piece[piece]]
    with np.errstate(divide="ignore"):
        strong = p.conductivity[pairs[:, 0]].min(1) < diagonal * p.film_between(*pairs.T)
    kind = pairs[:, 0] * len(p.solid) + pairs[:, 1]
    out: Integers = piece[np.isin(kind, kind[strong])]  # alike all along an edge
    return out


def _with_solid_owners(raster: Raster, cut: Cut, p: PartProperties, strong: Bools) -> Raster:
    """The raster with a solid owner, the one with most sub-cells, for every cut cell that keeps a temperature although
    its centre is not solid: where a film is strong, such a cell has the terminal's temperature and keeps none."""
    owner = raster.owner.copy()
    centre = owner[cut.i + 1, cut.j + 1]
    adopted = ~p.solid[centre] & p.solid[cut.owner].any((1, 2)) & ~(strong & (p.fixed[centre] >= 0))
    solids = np.nonzero(p.solid)[0]
    if not len(solids):  # each part is held, void, or air
        return raster
    counts = np.stack([(cut.owner[adopted] == k).sum((1, 2)) for k in solids], 1)
    owner[cut.i[adopted] + 1, cut.j[adopted] + 1] = solids[counts.argmax(1)]
    return Raster(raster.x, raster.y, owner)
