"""Temperatures of large grids: conjugate gradients with a structured multigrid preconditioner.

The system is kept as conductances, never as a matrix. On an (n, m) array of cells, for every cell,

    sum over its neighbours of g (x - x_neighbour) + s x = rhs

with `gx` (n - 1, m) and `gy` (n, m - 1) between neighbours along axis 0 and 1, and `s` (n, m) to known temperatures
(films, held faces); W/K, or any unit some 15 powers of ten around it.

From the inside out:

- `stencil`: operators as conductances, on the finest grid and on coarser ones
- `line_relaxation`: whole grid lines relaxed at once, by cyclic reduction
- `coarsening`: interpolation that follows the conductances, and the coarse operator
- `cycle`: the V-cycle made of these, a preconditioner
- `conjugate_gradients`: the iteration, and when it ends
- `solving`: `solve`, which takes a better preconditioner where one does not do
- `memory`: whether a factorisation fits
"""

from fdm.conduction.linear.multigrid.coarsening import coarsen, interpolation
from fdm.conduction.linear.multigrid.cycle import Multigrid
from fdm.conduction.linear.multigrid.line_relaxation import Lines
from fdm.conduction.linear.multigrid.memory import check_memory
from fdm.conduction.linear.multigrid.solving import Solution, solve
from fdm.conduction.linear.multigrid.stencil import Equations, Stencil

__all__ = [
    "Equations",
    "Lines",
    "Multigrid",
    "Solution",
    "Stencil",
    "check_memory",
    "coarsen",
    "interpolation",
    "solve",
]
