"""Conductances to temperatures: the matrix, one factorisation, all unit fields at once."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
import scipy.sparse as sp
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import SuperLU, splu

from fdm.conduction.boundary import BoundaryConductances, HeatInput, connect
from fdm.conduction.cut_faces import Tie, cut_faces, face_films, part_cells, settled
from fdm.conduction.faces import (
    Array,
    Bools,
    Faces,
    Integers,
    PartProperties,
    face_sets,
    properties,
    spread_conductivity,
    volumes,
)
from fdm.conduction.interface_elements import Links, TurnedBoxes, slanted_boxes, turned_boxes
from fdm.errors import InputError
from fdm.grid.cut import Cut, cut_cells
from fdm.grid.raster import Raster, raster_of
from fdm.section.model import Section

Painted = tuple[Raster, Cut | None]  # what depends on the drawing and the grid lines alone


@dataclass(frozen=True)
class System:
    """A section on a grid, ready to solve. Conductances in W/K."""

    section: Section
    painted: Painted
    raster: Raster
    properties: PartProperties
    cut: Cut | None  # None where every edge lies on a grid line
    solid: Bools  # (n, m)
    faces: tuple[Faces, Faces]
    holder: tuple[Integers, Integers]  # for each axis and face the fixed terminal that holds it, or -1
    gx: Array  # (n - 1, m) between neighbours along x
    gy: Array  # (n, m - 1)
    boxes: TurnedBoxes | None  # at slanted edges; None: no cut cells
    links: Links | None  # what boxes at slanted edges add to gx and gy, between any two cells; None: no cut cells
    boundary: BoundaryConductances
    heat_inputs: tuple[HeatInput, ...]
    volume: Array  # (n, m) m3
    unknown: Integers  # (n, m) number of the cell's unknown, -1 where none

    @property
    def between_solids(self) -> bool:
        """Whether a round or slanted edge lies between two solids."""
        return self.links is not None and len(self.links[0]) > 0

    def part_cells(self, number: int) -> tuple[Integers, Array]:
        """Flat numbers of the cells that carry part `number`, and its volume (m3) in each."""
        return part_cells(self.raster, self.cut, self.properties, number, self.volume)

    @cached_property
    def to_fixed(self) -> Array:
        """(n, m) conductance of each cell to all fixed terminals."""
        return np.bincount(self.boundary.cell, self.boundary.value, self.solid.size).reshape(self.solid.shape)  # type: ignore[return-value]  # weighed, so not of integers


def _painted(section: Section, x: Array, y: Array, without: Collection[str]) -> Painted:
    raster = raster_of(section, x, y, without)
    return raster, cut_cells(section, raster, without)


def assemble(
    section: Section,
    x: Array,
    y: Array,
    without: Collection[str] = (),
    spread: Collection[str] = (),
    along: str = "x",
    painted: Painted | None = None,
) -> System:
    """The section on grid lines x, y, without some parts, or with some spreading perfectly `along` x, y or both.
    `painted` is what `raster_of` and `cut_cells` give, where that is known already."""
    painted = painted or _painted(section, x, y, without)
    raster, cut = painted
    p = properties(section)
    conductivity = spread_conductivity(section, p, spread, along)
    cut_ties: list[Tie] = []
    strong, turned, links = None, None, None
    if cut is not None:
        raster, strong = settled(raster, cut, p)
    faces = face_sets(section, raster, p, conductivity)
    if cut is not None and strong is not None:
        turned = turned_boxes(section, raster, p, conductivity, cut, without)
        boxes = slanted_boxes(section, raster, p, conductivity, turned)
        faces, cut_ties = cut_faces(section, raster, p, conductivity, faces, cut, strong, boxes, without)
        links = boxes.links
    volume = volumes(section, raster, p)
    boundary, heat_inputs, holder = connect(
        section, raster, p, faces, volume, partial(part_cells, raster, cut, p), cut_ties,
        face_films(section, raster, cut, p),
    )  # fmt: skip
    inner = raster.owner[1:-1, 1:-1]
    solid = p.solid[inner]
    gx = np.where(solid[1:] & solid[:-1] & (holder[0][1:-1] < 0), faces[0].through[1:-1], 0.0)
    gy = np.where(solid[:, 1:] & solid[:, :-1] & (holder[1][:, 1:-1] < 0), faces[1].through[:, 1:-1], 0.0)
    unknown = np.full(solid.shape, -1, np.intp)
    if spread:
        spreads = p.solid.copy()
        spreads[[k for k, part in enumerate(section.parts) if part.name not in spread]] = False
        members = spreads[inner]
        i, j = np.nonzero(members)
        line = {"x": j, "y": i, "both": np.zeros_like(i)}[along]
        lines, number = np.unique(line, return_inverse=True)
        rest = solid & ~members
        unknown[members] = number
        unknown[rest] = len(lines) + np.arange(rest.sum())
    else:
        unknown[solid] = np.arange(solid.sum())
    return System(
        section,
        painted,
        raster,
        p,
        cut,
        solid,
        faces,
        holder,
        gx,
        gy,
        turned,
        links,
        boundary,
        heat_inputs,
        volume,
        unknown,
    )


ACCURACY = 1e-10  # of multigrid, relative to the highest temperature
LARGE = 30_000  # unknowns below which factorising is always faster
LINKED = 300_000  # the same where slanted edges lie between solids, which multigrid's preconditioner does not see
FEW, PER_SIDE = 4, 60_000  # multigrid for fewer right-hand sides than FEW + unknowns / PER_SIDE
GUARDED = 500_000  # unknowns from which memory is looked at before factorising

Load = tuple[Integers, Array]  # flat numbers of cells on (n, m), and the watts that enter each


@dataclass(frozen=True)
class Solver:
    """A system prepared once for any number of right-hand sides: factorised, or for multigrid where that is slower."""

    system: System
    links: Links  # between unknowns
    to_fixed: Array  # (unknowns,) W/K to all fixed terminals
    lu: SuperLU | None

    def fields(self, loads: Sequence[Load], with_fixed: bool = False, refine: bool = True) -> Array:
        """(loads, n, m) temperatures that each load causes with all fixed terminals at 0, and 0 where there is no
        solid; `with_fixed` before them, (F, n, m), those of each fixed terminal at 1 and the others at 0. Without
        `refine` they hold some 1e-9 of the rounding that factors leave: enough for what only corrects other fields.

        Raises InputError where the grid does not fit into memory or the temperatures do not converge.
        """
        boundary, flat = self.system.boundary, self.system.unknown.ravel()
        fixed = len(boundary.direct) if with_fixed else 0
        count = fixed + len(loads)
        if self.lu is None:
            return self._iterated(loads, fixed)
        right = np.zeros((len(self.to_fixed), count))
        if with_fixed:
            np.add.at(right, (flat[boundary.cell], boundary.terminal), boundary.value)
        for k, (cell, watts) in enumerate(loads):
            np.add.at(right[:, fixed + k], flat[cell], watts)
        x = self.lu.solve(right)
        if refine:
            x += self.lu.solve(right - _outflow(self, x))  # flux differences round off far less than the matrix
        out = np.zeros((count, flat.size))
        out[:, flat >= 0] = x.T[:, flat[flat >= 0]]
        return out.reshape(-1, *self.system.unknown.shape)

    def _iterated(self, loads: Sequence[Load], fixed: int) -> Array:
        from fdm.conduction.linear.multigrid import solve

        system, boundary = self.system, self.system.boundary
        right = np.zeros((fixed + len(loads), system.solid.size))
        if fixed:
            np.add.at(right, (boundary.terminal, boundary.cell), boundary.value)
        for k, (cell, watts) in enumerate(loads):
            np.add.at(right[fixed + k], cell, watts)
        try:
            return solve(
                system.to_fixed, system.gx, system.gy, right.reshape(-1, *system.solid.shape), system.solid,
                accuracy=ACCURACY, links=system.links,
            ).x  # fmt: skip
        except (ArithmeticError, MemoryError) as fault:
            raise InputError(str(fault)) from fault


def prepared(system: System, right_hand_sides: int = 1) -> Solver:
    """SuperLU of the symmetric positive definite matrix, by minimum degree on its symmetric pattern; or multigrid for
    large grids and few right-hand sides, whose crossing points are those of validation/benchmark.py.

    Raises InputError where the factors would not fit into memory.
    """
    number = system.unknown
    size = int(number.max()) + 1
    tied = np.zeros(size)
    np.add.at(tied, number.ravel()[system.boundary.cell], system.boundary.value)
    merged = size < system.solid.sum()  # cells that share a temperature are no array of conductances
    large = LINKED if system.between_solids else LARGE
    if not merged and size > large and right_hand_sides < FEW + size / PER_SIDE:
        nothing = np.empty(0, np.intp)
        return Solver(system, (nothing, nothing, np.empty(0)), tied, None)
    if size > GUARDED:
        from fdm.conduction.linear.multigrid import check_memory

        try:
            check_memory(size)
        except MemoryError as fault:
            raise InputError(str(fault)) from fault
    a = np.concatenate([number[1:].ravel(), number[:, 1:].ravel()])
    b = np.concatenate([number[:-1].ravel(), number[:, :-1].ravel()])
    g = np.concatenate([system.gx.ravel(), system.gy.ravel()])
    if system.links is not None:
        a, b = (np.concatenate([v, number.ravel()[d]]) for v, d in zip((a, b), system.links))
        g = np.concatenate([g, system.links[2]])
    on = (g != 0) & (a != b)
    a, b, g = a[on], b[on], g[on]
    if merged or system.links is not None:
        d, diagonal = np.arange(size), tied + np.bincount(a, g, size) + np.bincount(b, g, size)
        at = np.concatenate([a, b, d], dtype=np.int32), np.concatenate([b, a, d], dtype=np.int32)
        matrix = sp.csc_matrix((np.concatenate([-g, -g, diagonal]), at), (size, size))
    else:
        matrix = _five_point_matrix(system, tied)
    # panels of several columns, SuperLU's default, cost a quarter more here: too few columns are alike
    lu = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, panel_size=1, options={"SymmetricMode": True})
    return Solver(system, (a, b, g), tied, lu)


def _five_point_matrix(system: System, tied: Array) -> sp.csc_matrix:
    """The matrix of cells that neighbours alone exchange heat with, column by column: a third of the time that it takes
    from coordinates."""
    number, gx, gy = system.unknown, system.gx, system.gy
    n, m = number.shape
    value, row = np.zeros((n, m, 5)), np.zeros((n, m, 5), np.int32)  # neighbours' numbers rise in this order
    value[1:, :, 0], value[:, 1:, 1], value[:, :-1, 3], value[:-1, :, 4] = -gx, -gy, -gy, -gx
    row[1:, :, 0], row[:, 1:, 1] = number[:-1], number[:, :-1]
    row[:, :-1, 3], row[:-1, :, 4] = number[:, 1:], number[1:]
    value[..., 2], row[..., 2] = -value.sum(2), number
    solid = number >= 0
    value[..., 2][solid] += tied
    on = value != 0
    on[..., 2] = solid
    starts = np.concatenate([[0], np.cumsum(on.sum(2)[solid])])
    return sp.csc_matrix((value[on], row[on], starts), (len(tied), len(tied)))


def _outflow(solver: Solver, x: Array) -> Array:
    """W out of each unknown at temperatures x (unknowns, K)."""
    a, b, g = solver.links
    out = solver.to_fixed[:, None] * x
    if len(g):
        for k in range(x.shape[1]):
            flow = g * (x[a, k] - x[b, k])
            out[:, k] += np.bincount(a, flow, len(x)) - np.bincount(b, flow, len(x))
    return out


def unit_fields(system: System) -> Array:
    """(F + H, n, m) temperature of every cell: for each fixed terminal at 1 and the others at 0, then for each heat
    terminal receiving 1 W with all fixed terminals at 0. 0 where there is no solid."""
    loads = heat_loads(system)
    return prepared(system, len(system.boundary.direct) + len(loads)).fields(loads, with_fixed=True)


def heat_loads(system: System) -> list[Load]:
    return [(heat_input.cell, heat_input.share) for heat_input in system.heat_inputs]


def refuse_loose_parts(system: System) -> None:
    """Raise InputError where a connected solid region has no path to any given temperature."""
    cells = np.arange(system.solid.size).reshape(system.solid.shape)
    a = np.concatenate([cells[1:][system.gx != 0], cells[:, 1:][system.gy != 0]])
    b = np.concatenate([cells[:-1][system.gx != 0], cells[:, :-1][system.gy != 0]])
    _, region = connected_components(sp.coo_matrix((np.ones(len(a)), (a, b)), (cells.size, cells.size)), directed=False)
    held = np.isin(region, region[system.boundary.cell[system.boundary.value > 0]]) | ~system.solid.ravel()
    if not held.all():
        loose = np.unique(system.raster.owner[1:-1, 1:-1].ravel()[~held])
        names = ", ".join(repr(system.section.parts[k].name) for k in loose)
        raise InputError(
            f"part {names}: nothing ties it to any temperature; "
            "let it touch a solid part, an environment, or a held source"
        )
