"""Faces between whole cells, and what they conduct. One discretisation, three views.

The resistance from a cell's centre to one of its faces is `geometry / (conductivity * thickness)`. The view changes the
geometry alone: a plane of some depth, a full turn with its radial resistance in exact logarithmic form, or a thin plate
whose cells have their own thickness.
"""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Integers, Owners
from fdm.conduction.layout import Layout
from fdm.grid.raster import Raster, middles
from fdm.section.model import Section


@dataclass(frozen=True)
class Faces:
    """All faces normal to one axis, with the cells before and after them along it; F faces as a 2-D array."""

    owner: tuple[Owners, Owners]  # before, after: numbers into the properties
    cell: tuple[Integers, Integers]  # flat numbers on (n, m); -1 beyond the outer edge
    resistance: tuple[Array, Array]  # K/W from cell centre to face, half a joint included; inf: no heat
    area: Array  # m2
    through: Array  # W/K from one side to the other

    def conductance(self, side: int, at: tuple[Integers, Integers] | slice = slice(None)) -> Array:
        """W/K from the cell before (0) or after (1) to the face; finite even where the resistance is 0."""
        return 1 / np.maximum(self.resistance[side][at], 1e-250)


def face_sets(layout: Layout) -> tuple[Faces, Faces]:
    """The faces normal to x, (n + 1, m), and those normal to y, (n, m + 1); all cells counted as whole ones."""
    section, raster, p, conductivity = layout.section, layout.raster, layout.properties, layout.conductivity
    n, m = raster.shape
    cells = np.full((n + 2, m + 2), -1, np.intp)
    cells[1:-1, 1:-1] = np.arange(n * m).reshape(n, m)
    solid, film = p.solid[raster.owner], p.film[raster.owner]
    out = []
    for axis, (low, high, area) in enumerate(half_cells(section, raster)):
        inside = slice(1, -1)
        before, after = (slice(0, -1), inside), (slice(1, None), inside)
        if axis:
            before, after = before[::-1], after[::-1]
        owners = raster.owner[before], raster.owner[after]
        if section.view == "plate":
            thinner = np.minimum(p.thickness[owners[0]], p.thickness[owners[1]])
            area = area * np.where(np.isinf(thinner), 0.0, thinner)
        along = conductivity[:, axis][raster.owner]
        with np.errstate(divide="ignore", invalid="ignore"):  # an infinite film on no area; no film at all
            resistances = [
                np.where(solid[at], geometry / along[at], 1 / np.where(area > 0, film[at] * area, 0.0))
                for at, geometry in ((before, high), (after, low))
            ]
        if p.joint is not None:
            at = np.nonzero(owners[0] != owners[1])
            half = p.joint[owners[0][at], owners[1][at]] / 2
            half = np.divide(half, area[at], out=np.zeros_like(half), where=half > 0)
            for r in resistances:
                r[at] += half
        with np.errstate(divide="ignore"):
            through = 1 / (resistances[0] + resistances[1])
        out.append(Faces(owners, (cells[before], cells[after]), (resistances[0], resistances[1]), area, through))
    return out[0], out[1]


def volumes(layout: Layout) -> Array:
    """(n, m) m3; of what conducts, where the view is plate."""
    section, raster, p = layout.section, layout.raster, layout.properties
    v = np.diff(_area_up_to(section, raster.x))[:, None] * raster.widths[1]
    if section.view == "plate":
        t = p.thickness[raster.owner[1:-1, 1:-1]]
        v = v * np.where(np.isinf(t), 0.0, t)
    return v


def _area_up_to(section: Section, x: Array) -> Array:
    """Area of a face normal to y, from x = 0 to x; per metre of thickness in the plate view."""
    if section.view == "axisymmetric":
        return np.pi * x**2
    return x * (section.depth if section.view == "section" else 1.0)


def half_cells(section: Section, raster: Raster) -> tuple[tuple[Array, Array, Array], tuple[Array, Array, Array]]:
    """Along x, then along y: resistance times conductivity from a face to the cell after it, the same to the cell
    before it (both per face), and the face's area; per metre of thickness in the plate view."""
    x, (_, dy) = raster.x, raster.widths
    xc = middles(x)
    if section.view == "axisymmetric":
        with np.errstate(divide="ignore"):
            u, uc = np.log(x), np.log(xc)
        width, breadth = 2 * np.pi, 2 * np.pi * x
    else:
        width = section.depth if section.view == "section" else 1.0
        u, uc, breadth = x, xc, np.full(len(x), width)
    one = np.ones(1)
    low = np.concatenate([uc - u[:-1], one])[:, None] / (width * dy)
    high = np.concatenate([one, u[1:] - uc])[:, None] / (width * dy)
    across = np.diff(_area_up_to(section, x))[:, None]
    before, after = np.concatenate([dy / 2, one]) / across, np.concatenate([one, dy / 2]) / across
    along_y = before, after, np.repeat(across, len(dy) + 1, 1)
    return (low, high, breadth[:, None] * dy), along_y
