"""A system's temperatures for any loads: with factors that are made once, or by multigrid where that is faster."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.linear.direct import Direct, factorised
from fdm.conduction.linear.multigrid import Equations, check_memory, solve
from fdm.conduction.system import System
from fdm.errors import InputError

ACCURACY = 1e-10  # of multigrid, relative to the highest temperature
LARGE = 30_000  # unknowns below which factorising is always faster
LINKED = 300_000  # the same with slanted edges between solids, which multigrid's preconditioner does not know
FEW, PER_SIDE = 4, 60_000  # multigrid for fewer right-hand sides than FEW + unknowns / PER_SIDE
GUARDED = 500_000  # unknowns from which memory is looked at before factorising
BLOCK = 4  # right-hand sides that are solved at a time: as quick as any number, and quicker than forty

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
        system, boundary = self.system, self.system.boundary
        if with_fixed:
            own = (boundary.terminal == k for k in range(len(boundary.direct)))
            loads = [*((boundary.cell[on], boundary.value[on]) for on in own), *loads]
        if self.direct is None:
            return self._iterated(loads)
        flat, solid = system.unknown.ravel(), system.unknown.ravel() >= 0
        out = np.zeros((len(loads), flat.size))
        for start in range(0, len(loads), BLOCK):
            some = loads[start : start + BLOCK]
            right = np.zeros((len(self.direct.to_fixed), len(some)))
            for k, (cell, watts) in enumerate(some):
                np.add.at(right[:, k], flat[cell], watts)
            out[start : start + BLOCK, solid] = self.direct.solve(right, refine).T[:, flat[solid]]
        return out.reshape(-1, *system.unknown.shape)

    def _iterated(self, loads: Sequence[Load]) -> Array:
        system = self.system
        right = np.zeros((len(loads), system.solid.size))
        for row, (cell, watts) in zip(right, loads):
            np.add.at(row, cell, watts)
        try:
            equations = Equations(system.to_fixed, system.gx, system.gy, system.links)
            return solve(equations, right.reshape(-1, *system.solid.shape), system.solid, accuracy=ACCURACY).x
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
