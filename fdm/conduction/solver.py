"""A system's temperatures for any loads: with factors that are made once, or by multigrid where that is faster."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.linear.direct import Direct, factorised
from fdm.conduction.linear.multigrid import check_memory, solve
from fdm.conduction.system import System
from fdm.errors import InputError

ACCURACY = 1e-10  # of multigrid, relative to the highest temperature
LARGE = 30_000  # unknowns below which factorising is always faster
LINKED = 300_000  # the same with slanted edges between solids, which multigrid's preconditioner does not know
FEW, PER_SIDE = 4, 60_000  # multigrid for fewer right-hand sides than FEW + unknowns / PER_SIDE
GUARDED = 500_000  # unknowns from which memory is looked at before factorising

Load = tuple[Integers, Array]  # flat numbers of cells on (n, m), and the watts that enter each


@dataclass(frozen=True)
class Solver:
    """A system prepared once for any number of right-hand sides."""

    system: System
    direct: Direct | None  # None: by multigrid

    def fields(self, loads: Sequence[Load], with_fixed: bool = False, refine: bool = True) -> Array:
        """(loads, n, m) temperatures that each load causes with all fixed terminals at 0; 0 where there is no solid.

        `with_fixed` puts (F, n, m) before them: the temperatures with each fixed terminal at 1 and the others at 0.
        Without `refine`, rounding in the factors leaves a relative error of some 1e-9, which is small enough for fields
        that only correct others.

        Raises InputError where the grid does not fit into memory or the temperatures do not converge.
        """
        boundary, flat = self.system.boundary, self.system.unknown.ravel()
        fixed = len(boundary.direct) if with_fixed else 0
        count = fixed + len(loads)
        if self.direct is None:
            return self._iterated(loads, fixed)
        right = np.zeros((len(self.direct.to_fixed), count))
        if with_fixed:
            np.add.at(right, (flat[boundary.cell], boundary.terminal), boundary.value)
        for k, (cell, watts) in enumerate(loads):
            np.add.at(right[:, fixed + k], flat[cell], watts)
        x = self.direct.solve(right, refine)
        out = np.zeros((count, flat.size))
        out[:, flat >= 0] = x.T[:, flat[flat >= 0]]
        return out.reshape(-1, *self.system.unknown.shape)

    def _iterated(self, loads: Sequence[Load], fixed: int) -> Array:
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
    """The system with its factors; on large grids with few right-hand sides without factors, for multigrid. The limits
    come from validation/benchmark.py.

    Raises InputError where the factors would not fit into memory.
    """
    size = int(system.unknown.max()) + 1
    merged = size < system.solid.sum()  # multigrid cannot have cells that share a temperature
    large = LINKED if system.between_solids else LARGE
    if not merged and size > large and right_hand_sides < FEW + size / PER_SIDE:
        return Solver(system, None)
    if size > GUARDED:
        try:
            check_memory(size)
        except MemoryError as fault:
            raise InputError(str(fault)) from fault
    to_fixed = np.zeros(size)
    np.add.at(to_fixed, system.unknown.ravel()[system.boundary.cell], system.boundary.value)
    return Solver(system, factorised(system.unknown, system.gx, system.gy, system.links, to_fixed))


def unit_fields(system: System) -> Array:
    """(F + H, n, m) temperature of every cell: for each fixed terminal at 1 and the others at 0, then for each heat
    terminal receiving 1 W with all fixed terminals at 0. 0 where there is no solid."""
    loads = heat_loads(system)
    return prepared(system, len(system.boundary.direct) + len(loads)).fields(loads, with_fixed=True)


def heat_loads(system: System) -> list[Load]:
    """One watt at each heat terminal."""
    return [(heat_input.cell, heat_input.share) for heat_input in system.heat_inputs]
