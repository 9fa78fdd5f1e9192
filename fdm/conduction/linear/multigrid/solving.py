"""Temperatures by conjugate gradients, with better preconditioners where the first one is not good enough."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools
from fdm.conduction.linear.multigrid.conjugate_gradients import improved
from fdm.conduction.linear.multigrid.cycle import Multigrid
from fdm.conduction.linear.multigrid.memory import check_memory
from fdm.conduction.linear.multigrid.stencil import Equations

# Of each preconditioner: precision, whether it is SuperLU on the finest grid, and the most iterations
STAGES = ((np.float32, False, 30), (np.float64, False, 60), (np.float64, True, 20))


@dataclass(frozen=True, eq=False)
class Solution:
    """`x` has the shape of the right-hand side(s) and is zero where not solid; the rest has one entry for each.

    `error` estimates the largest error of x, mostly from above: one more iteration followed it.
    """

    x: Array
    iterations: tuple[int, ...]
    error: tuple[float, ...]


def solve(
    equations: Equations,
    rhs: Array,
    solid: Bools | None = None,
    *,
    accuracy: float = 1e-9,
    multigrid: Multigrid | None = None,
) -> Solution:
    """Temperatures x of the equations, for one rhs (n, m) or several (k, n, m).

    Conductances s, gx and gy must not be below zero; their `links` may be, which the preconditioner leaves out. solid
    (n, m) bool: the cells that exist, where None is all; conductances and rhs of the others must be zero. Every
    connected solid region needs an s above zero somewhere. The iteration ends when the largest error of x is below
    `accuracy` times the largest |x|, and the heat balance closes.

    Where multigrid in single precision takes too many iterations, double precision is tried, and then SuperLU (each
    inside conjugate gradients). A `multigrid` of the same conductances, or of some within 20 %, saves the set-up.

    Raises MemoryError where SuperLU is needed and does not fit, ArithmeticError where nothing converges.

    >>> nothing = np.empty((0, 3))
    >>> s, gy = np.array([[2.0, 0.0, 2.0]]), np.array([[1.0, 1.0]])
    >>> solve(Equations(s, nothing, gy), np.array([[20.0, 0.0, 0.0]])).x.round(6)
    array([[8.333333, 5.      , 1.666667]])
    """
    several = rhs.reshape(-1, *equations.s.shape)
    x, iterations, errors = np.zeros(several.shape), [], []
    stages, stage = _stages(equations, solid, multigrid), None
    for k, b in enumerate(several):
        count, error, accurate = 0, np.inf, False
        while not accurate:
            stage = stage or next(stages, None)
            if stage is None:
                raise ArithmeticError(
                    f"the temperatures of {equations.s.size} cells do not converge (error {error:.1e} after {count} "
                    "iterations); is a part without any way for its heat to leave, or are conductances out of all "
                    "proportion?"
                )
            accurate, used, error = improved(equations, b, stage[0], x[k], accuracy, stage[1])
            count += used
            if not accurate:
                stage = None
        iterations.append(count)
        errors.append(error)
    return Solution(x.reshape(rhs.shape), tuple(iterations), tuple(errors))


def _stages(equations: Equations, solid: Bools | None, given: Multigrid | None) -> Iterator[tuple[Multigrid, int]]:
    """Ever better preconditioners, each set up when it is asked for, and how many iterations it may take. One that is
    given stands for the first."""
    size = equations.s.size
    for dtype, exact, limit in STAGES:
        if given is not None:
            yield given, limit
            given = None
            continue
        if exact:
            check_memory(size)
        try:
            multigrid = Multigrid(equations, solid, dtype, size if exact else None)
        except RuntimeError as singular:  # SuperLU's error for a singular matrix
            raise ArithmeticError(f"the temperatures are not determined: {singular}") from singular
        yield multigrid, limit
