"""Columns of a plate that conduct far less than a uniform plate would: inlays, thin places, cells cut by a hole.

In the layers of a plate the thickness has modes of its own, whatever lies in the plan. The one that is alike all
through is solved for in the plan, in all weak columns together. Of the others, which fade within a thickness, each
column is solved alone. All around is taken to be at 0.
"""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools
from fdm.conduction.linear.direct import Direct, factorised
from fdm.conduction.stack.equations import Equations

WEAK = 0.6  # of the conductances of a uniform plate's column
TIED = 1e-9  # of all its conductances, those of a column to others at least


@dataclass(frozen=True)
class WeakColumns:
    """Temperatures of W columns of a plate of P layers, about, by the watts into them."""

    at: Bools  # (n, m)
    weight: Array  # (W,) what they lack of a uniform plate's conductances, its root
    share: Array  # (P, 1) of the plate's thickness
    plan: Direct  # of all columns, each alike all through
    upward: Array  # (P - 1, W) W/K
    pivot: Array  # (P, W) W/K of the elimination from the last layer to the first

    def add_to(self, t: Array, right: Array) -> None:
        """Add to temperatures t (E, P, n, m) those by watts `right` (E, P, n, m)."""
        watts = self.weight * right[..., self.at]
        whole = watts.sum(1)
        alike = self.plan.solve(whole.T, refine=False).T
        one = watts - self.share * whole[:, None]
        last = len(self.pivot) - 1
        for k in range(last - 1, -1, -1):
            one[:, k] += self.upward[k] / self.pivot[k + 1] * one[:, k + 1]
        one /= self.pivot
        for k in range(1, last + 1):
            one[:, k] += self.upward[k - 1] / self.pivot[k] * one[:, k - 1]
        one += alike[:, None] - (self.share * one).sum(1, keepdims=True)
        t[..., self.at] += self.weight * one


def weak_columns(plate: Equations, uniform: Array, share: Array) -> WeakColumns | None:
    """The columns of a plate whose conductances are small beside `uniform` (P, n, m) W/K, see `UniformStack.diagonal`;
    its layers have a `share` (P,) of its thickness. None where there is no such column."""
    own = plate.diagonal
    column, inside = own.sum(0), 2 * plate.gz.sum(0)
    ratio = column / uniform.sum(0)
    at = plate.solid.all(0) & ~plate.shares.any(0) & (ratio < WEAK) & (column - inside > TIED * column)
    if not at.any():
        return None
    unknown = np.full(at.shape, -1)
    unknown[at] = np.arange(at.sum())
    gx = np.where(at[1:] & at[:-1], plate.gx.sum(0), 0.0)
    gy = np.where(at[:, 1:] & at[:, :-1], plate.gy.sum(0), 0.0)
    a, b, g = plate.links
    flat, cells = unknown.ravel(), unknown.size
    within = (flat[a % cells] >= 0) & (flat[b % cells] >= 0)
    links = a[within] % cells, b[within] % cells, g[within]
    beyond = column - inside
    for conductances, low, high in ((gx, np.s_[:-1], np.s_[1:]), (gy, np.s_[:, :-1], np.s_[:, 1:])):
        beyond[low] -= conductances
        beyond[high] -= conductances
    if len(g):
        beyond -= np.bincount(np.append(*links[:2]), np.append(links[2], links[2]), cells).reshape(at.shape)
    plan = factorised(unknown, gx, gy, links if len(g) else None, beyond[at])
    upward, pivot = plate.gz[:, at], own[:, at]
    for k in range(len(pivot) - 2, -1, -1):
        pivot[k] -= upward[k] ** 2 / pivot[k + 1]
    return WeakColumns(at, np.sqrt(1 - ratio[at]), share[:, None], plan, upward, pivot)
