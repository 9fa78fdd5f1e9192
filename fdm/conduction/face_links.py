"""Conductances through faces, one by one, with the nodes at their ends; and their derivatives between whole cells.

Nodes are the cells (flat numbers), then the fixed terminals, then the faces on which heat enters. Each such face is a
node between the half-cells before and after it.
"""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.faces import Faces
from fdm.conduction.inputs import joint_rows, owner_rows
from fdm.conduction.system import System

ENDLESS = 1e150  # W/K; two temperatures that touch without a film exchange no heat that matters

# Of a matrix: rows (numbers of inputs), columns (numbers of conductances), values
Entries = list[tuple[Integers, Integers, Array]]
HeatedFaces = tuple[tuple[Integers, Integers], tuple[Array, Array], Integers]  # the last three fields of a Tangent


@dataclass(frozen=True)
class FaceLinks:
    """Conductances through faces of one axis: from side to side, or from one `side` to the face's node."""

    axis: int
    at: tuple[Integers, Integers]
    a: Integers  # nodes
    b: Integers
    side: int | None = None
    sign: int = 1  # -1: subtracts the two half-cells in series, which two links to the face's node replace

    def conductance(self, faces: tuple[Faces, Faces]) -> Array:
        """W/K of each link, in faces that may be others than those of the system."""
        f = faces[self.axis]
        if self.side is not None:
            return f.conductance(self.side, self.at)
        return f.through[self.at] if self.sign > 0 else -1 / (f.resistance[0][self.at] + f.resistance[1][self.at])


def face_links(system: System) -> tuple[list[FaceLinks], HeatedFaces]:
    """All conductances through faces, and the faces on which heat enters."""
    p, cells = system.properties, system.solid.size
    first = cells + len(system.boundary.direct)
    found: list[FaceLinks] = []
    entered: list[tuple[Integers, Integers, Array, Array, Integers]] = []
    terminal, keeps_heat = np.where(p.fixed >= 0, cells + p.fixed, -1), p.solid | p.held
    for axis, f in enumerate(system.faces):
        before, after = (np.where(p.solid[own], cell, terminal[own]) for own, cell in zip(f.owner, f.cell))
        known = (before >= 0) & (after >= 0)
        # heat between two environments that touch does not pass the section
        keeps = keeps_heat[f.owner[0]] | keeps_heat[f.owner[1]]
        holder = system.holder[axis]
        i, j = np.nonzero(known & keeps & (holder < 0) & (f.through != 0) & (f.through < ENDLESS))
        found.append(FaceLinks(axis, (i, j), before[i, j], after[i, j]))
        i, j = np.nonzero(holder >= 0)
        own_nodes = [((i, j), cells + holder[i, j])]
        for h, heat_input in enumerate(system.heat_inputs):
            if heat_input.axis != axis or heat_input.at is None:
                continue
            at = heat_input.at
            own_nodes.append((at, first + np.arange(len(at[0]))))
            first += len(at[0])
            entered.append((before[at], after[at], f.conductance(0, at), f.conductance(1, at), np.full(len(at[0]), h)))
            both = at[0][known[at]], at[1][known[at]]  # the face's node takes their place
            found.append(FaceLinks(axis, both, before[both], after[both], sign=-1))
        for at, end in own_nodes:
            for side, node in enumerate((before, after)):
                on = (node[at] >= 0) & (f.conductance(side, at) < ENDLESS)
                here = at[0][on], at[1][on]
                found.append(FaceLinks(axis, here, node[here], end[on], side))
    nothing = np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0), np.empty(0), np.empty(0, np.intp)
    n0, n1, g0, g1, of = (np.concatenate(v) for v in zip(nothing, *entered))
    return found, ((n0, n1), (g0, g1), of)


def whole_cell_derivatives(system: System, groups: list[FaceLinks], near_cuts: tuple[Bools, ...]) -> Entries:
    """Derivatives of the conductances through faces beside whole cells, which are all but those `near_cuts` by axis:
    g^2 times the input's share of the resistance, K/W."""
    section, p = system.section, system.properties
    rows, of_joints = owner_rows(section, p), joint_rows(section, p)
    out: Entries = []
    start = 0
    for group in groups:
        f, on = system.faces[group.axis], ~near_cuts[group.axis][group.at]
        at, links = (group.at[0][on], group.at[1][on]), start + np.nonzero(on)[0]
        start += len(on)
        square = group.sign * group.conductance(system.faces)[on] ** 2
        own = f.owner[0][at], f.owner[1][at]
        sides = (0, 1) if group.side is None else (group.side,)
        half = np.zeros(len(links))
        if p.joint is not None:
            resistance = p.joint[own] / 2
            np.divide(resistance, f.area[at], out=half, where=resistance > 0)
            out.append((of_joints[own], links, -len(sides) * square * half))
        out += [(rows[own[side]], links, square * (f.resistance[side][at] - half)) for side in sides]
    return out
