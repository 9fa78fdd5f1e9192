"""Systems on graded grids that the tests of the multigrid solver share."""

import numpy as np

from fdm.conduction.linear.multigrid import Equations, Stencil


def lines(n, length=1.0):
    """n cell widths that grow from both ends, the largest about a hundred times the smallest."""
    return np.diff(np.tanh(np.linspace(-3, 3, n + 1)) / np.tanh(3)) * length / 2


def conductances(conductivity, dx, dy, solid=None, bottom=8.0, top=25.0, stretch=1.0):
    """(s, gx, gy) with films on both ends of axis 1; `stretch` times the conductivity along axis 0."""
    rx, ry = dx[:, None] / (2 * conductivity * stretch), dy / (2 * conductivity)
    gx, gy = dy / (rx[1:] + rx[:-1]), dx[:, None] / (ry[:, 1:] + ry[:, :-1])
    s = np.zeros(conductivity.shape)
    s[:, 0] += dx / (1 / bottom + ry[:, 0])
    s[:, -1] += dx / (1 / top + ry[:, -1])
    if solid is not None:
        return s * solid, gx * (solid[1:] & solid[:-1]), gy * (solid[:, 1:] & solid[:, :-1])
    return s, gx, gy


def plain(n, m, **how):
    return conductances(np.ones((n, m)), lines(n), lines(m), **how)


def refined(s, gx, gy, rhs, solid=None):
    """SuperLU, with refinement by flux differences."""
    direct = Stencil(s if solid is None else s + ~solid, gx, gy).factorised()
    x = direct(rhs)
    for _ in range(4):
        x += direct(rhs - Equations(s, gx, gy).outflow(x))
    return x
