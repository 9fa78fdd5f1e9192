"""Cells to conductances between neighbours. One discretisation, three views.

The resistance from a cell's centre to one of its faces is `geometry / (conductivity * thickness)`. What the view
changes is the geometry alone: a plane of some depth, a full turn with its radial resistance in exact logarithmic
form, or a thin plate whose cells carry their own thickness.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.grid.raster import Raster, middles
from fdm.section.model import SIDES, Section

Array = NDArray[np.float64]
Integers = NDArray[np.intp]
Bools = NDArray[np.bool_]

PERFECT = 1e9  # in-plane conductivity of a perfectly spreading part, relative to its own


@dataclass(frozen=True)
class PartProperties:
    """Properties by owner number (see Raster.owner): P parts, four borders, nothing."""

    solid: Bools  # (P + 5,) conducts, and its temperature is sought
    fixed: Integers  # (P + 5,) number of the fixed terminal that it is, or -1
    held: Bools  # (P + 5,) a part held at a temperature
    conductivity: Array  # (P + 5, 2) along x and y, W/(m K)
    film: Array  # (P + 5,) W/(m2 K) of a fixed terminal's surface
    thickness: Array  # (P + 5,) m; 1 unless the view is plate; infinite where not solid
    joint: Array | None  # (P + 5, P + 5) m2 K/W


@dataclass(frozen=True)
class Faces:
    """All faces normal to one axis, with the cells before and after them along it; F faces as a 2-D array."""

    owner: tuple[NDArray[np.int32], NDArray[np.int32]]  # before, after: numbers into the properties
    cell: tuple[Integers, Integers]  # flat numbers on (n, m); -1 beyond the outer edge
    resistance: tuple[Array, Array]  # K/W from cell centre to face, half a joint included; inf: no heat
    area: Array  # m2
    through: Array  # W/K from one side to the other

    def conductance(self, side: int, at: tuple[Integers, Integers] | slice = slice(None)) -> Array:
        """W/K from the cell before (0) or after (1) to the face; finite even where the resistance is 0."""
        return 1 / np.maximum(self.resistance[side][at], 1e-250)


def properties(section: Section) -> PartProperties:
    count = len(section.parts)
    size = count + len(SIDES) + 1
    solid, held = np.zeros(size, bool), np.zeros(size, bool)
    fixed = np.full(size, -1, np.intp)
    plate = section.view == "plate"
    conductivity, film, thickness = np.ones((size, 2)), np.zeros(size), np.full(size, np.inf if plate else 1.0)
    number = {name: k for k, name in enumerate(section.fixed_names)}
    film_of = {e.name: e.film for e in section.environments}
    held_by = {s.part: s.name for s in section.held_sources if s.part}
    for k, part in enumerate(section.parts):
        if part.material is not None:
            conductivity[k] = part.material.conductivity
            if part.thickness is not None:
                thickness[k] = part.thickness
            if part.name in held_by:
                fixed[k], film[k], held[k] = number[held_by[part.name]], np.inf, True
            else:
                solid[k] = True
        elif part.environment is not None:
            fixed[k], film[k] = number[part.environment], film_of[part.environment]
    for k, side in enumerate(SIDES):
        if (name := getattr(section.border, side)) is not None:
            fixed[count + k], film[count + k] = number[name], film_of[name]
    joint = None
    if section.joints:
        joint = np.zeros((size, size))
        place = {p.name: k for k, p in enumerate(section.parts)}
        for j in section.joints:
            a, b = (place[name] for name in j.between)
            joint[a, b] = joint[b, a] = j.resistance
    return PartProperties(solid, fixed, held, conductivity, film, thickness, joint)


def spread_conductivity(section: Section, p: PartProperties, spread: Collection[str], along: str) -> Array:
    """(P + 5, 2) W/(m K), or W/K in the plate view (times thickness). Parts named in `spread` conduct perfectly
    `along` "x", "y" or "both", and as they are in the other direction."""
    conductivity = p.conductivity * p.thickness[:, None] if section.view == "plate" else p.conductivity.copy()
    rows = [i for i, part in enumerate(section.parts) if part.name in spread]
    conductivity[np.ix_(rows, {"x": [0], "y": [1], "both": [0, 1]}[along])] *= PERFECT
    return conductivity


def face_sets(section: Section, raster: Raster, p: PartProperties, conductivity: Array) -> tuple[Faces, Faces]:
    """The faces normal to x, (n + 1, m), and those normal to y, (n, m + 1)."""
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


def volumes(section: Section, raster: Raster, p: PartProperties) -> Array:
    """(n, m) m3; of what conducts, where the view is plate."""
    v = np.diff(_area_up_to(section, raster.x))[:, None] * np.diff(raster.y)
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
    x, dy = raster.x, np.diff(raster.y)
    xc = middles(x)
    if section.view == "axisymmetric":
        with np.errstate(divide="ignore"):
            u, uc = np.log(x), np.log(xc)
        width, breadth = 2 * np.pi, 2 * np.pi * x
    else:
        width = section.depth if section.view == "section" else 1.0
        u, uc, breadth = x, xc, np.full(len(x), width)
    low = np.append(uc - u[:-1], 1.0)[:, None] / (width * dy)
    high = np.append(1.0, u[1:] - uc)[:, None] / (width * dy)
    across = np.diff(_area_up_to(section, x))[:, None]
    half = dy / 2
    along_y = np.append(half, 1.0) / across, np.append(1.0, half) / across, np.repeat(across, len(dy) + 1, 1)
    return (low, high, breadth[:, None] * dy), along_y
