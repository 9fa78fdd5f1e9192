"""How a system's conductances change with its inputs: conductivities, films and joints.

All conductances together are of first degree in conductivities, films and 1 / joints. By Euler's theorem each
conductance is then the sum of its derivatives by the relative changes of these:

    g = sum over inputs of dg / d(ln input), with joints counted negative

Between whole cells the derivatives have a closed form (`face_links.py`); around cut cells they are differences of
conductances that the code of the assembly gives (`cut_derivatives.py`). Neither takes a solve.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sp

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.boundary import front_and_back_films
from fdm.conduction.cut_derivatives import cut_derivatives
from fdm.conduction.cut_faces import faces_near_cuts
from fdm.conduction.face_links import Entries, face_links, whole_cell_derivatives
from fdm.conduction.flows import Connected
from fdm.conduction.inputs import inputs_of
from fdm.conduction.system import System


@dataclass(frozen=True)
class Tangent:
    """How the L conductances of a system change with its I inputs, which are in the order of `inputs_of`.

    Nodes are the cells (flat numbers), then the fixed terminals, then the faces on which heat enters.
    """

    system: Connected
    link: tuple[Integers, Integers]  # (L,) nodes at both ends
    change: sp.csr_matrix  # (I, L) W/K per relative change of each input
    face: tuple[Integers, Integers]  # (N,) nodes before and after each face on which heat enters; -1: none
    face_conductance: tuple[Array, Array]  # (N,) W/K to them
    face_of: Integers  # (N,) number of the heat terminal

    @property
    def first_face(self) -> int:
        """The number of the first node that is a face."""
        return self.system.solid.size + len(self.system.boundary.direct)

    @cached_property
    def sign(self) -> Array:
        """(I,) -1 for joints, which resist; 1 for what conducts."""
        return np.array([-1.0 if i.kind == "joint" else 1.0 for i in inputs_of(self.system.section)])

    @cached_property
    def by_link(self) -> sp.csr_matrix:
        """(L, I) what each input contributes to each conductance (Euler): `change` transposed, with the sign of joints
        turned around."""
        out = self.change.T.tocsr()
        out.data *= self.sign[out.indices]
        return out

    @cached_property
    def _whole(self) -> tuple[Array, Integers]:
        """(L,) the conductances, and the numbers of those to which inputs contribute with different signs."""
        whole = self.by_link @ np.ones(len(self.sign))
        return whole, np.nonzero(abs(self.by_link) @ np.ones(len(self.sign)) > (1 + 1e-6) * abs(whole))[0]

    def scaled_conductances(self, factors: Array) -> Array:
        """(L, E) conductances with each input `factors` (E, I) times as large. The inputs of a conductance are taken as
        resistances in series, which they are between whole cells; around cuts, where some inputs oppose the others, as
        conductances in parallel."""
        conducts, (whole, opposed) = (factors**self.sign).T, self._whole
        resisting = self.by_link @ (1 / conducts)
        out: Array = np.divide((whole**2)[:, None], resisting, out=np.zeros_like(resisting), where=resisting != 0)
        if len(opposed):
            out[opposed] = self.by_link[opposed] @ conducts
        return out

    def at_nodes(self, cells: Array, fixed: Array, watts: Array) -> Array:
        """(K, nodes) from temperatures of cells (K, n * m) and fixed terminals (K, F), and watts into faces (K, N)."""
        known = np.concatenate([cells, fixed], 1)
        g0, g1 = self.face_conductance
        faces = (g0 * known[:, self.face[0]] + g1 * known[:, self.face[1]] + watts) / (g0 + g1)
        return np.concatenate([known, faces], 1)

    def units(self, fields: Array) -> Array:
        """(F + H, nodes) from unit fields (F + H, n, m)."""
        count, fixed = len(fields), len(self.system.boundary.direct)
        watts = np.zeros((count, len(self.face_of)))
        for h, heat_input in enumerate(self.system.heat_inputs):
            if heat_input.face_share is not None:
                watts[fixed + h, self.face_of == h] = heat_input.face_share
        return self.at_nodes(fields.reshape(count, -1), np.eye(count, fixed), watts)

    def drops(self, nodes: Array) -> Array:
        """(K, L) differences across all conductances."""
        return np.take(nodes, self.link[0], 1) - np.take(nodes, self.link[1], 1)

    def effects(self, one: Array, other: Array) -> Array:
        """(I, K) sum over all conductances of dg times the drops `one` (L,) times the drops `other` (K, L), per
        relative change of each input."""
        out: Array = self.change @ (other * one).T
        return out


def tangent(system: System) -> Tangent:
    """The system's conductances and their derivatives."""
    section, cells = system.section, system.solid.size
    groups, heated = face_links(system)
    near_cuts = tuple(np.zeros(f.area.shape, bool) for f in system.faces)
    if system.elements is not None:
        for axis, mask in enumerate(near_cuts):
            mask[faces_near_cuts(system.layout, system.elements, axis)] = True
    entries = whole_cell_derivatives(system, groups, near_cuts)
    ends = [(g.a, g.b) for g in groups]
    count = sum(len(g.a) for g in groups)
    if system.cut is not None:
        links, near = cut_derivatives(system, groups, near_cuts)
        ends += links
        entries += near
        count += sum(len(a) for a, _ in links)
    for node, terminal, value in front_and_back_films(system.layout):
        entries.append((np.full(len(node), len(section.parts) + terminal), count + np.arange(len(node)), value))
        ends.append((node, np.full(len(node), cells + terminal)))
        count += len(node)
    a, b = (np.concatenate(v) for v in zip(*ends))
    return Tangent(system, (a, b), _by_row(entries, len(inputs_of(section)), count), *heated)


def _by_row(entries: Entries, rows: int, columns: int) -> sp.csr_matrix:
    """The sparse matrix of the entries, without those in row -1. Built by hand, as scipy takes five times as long from
    coordinates."""
    row, column, value = (np.concatenate(v) for v in zip(*entries))
    order = np.argsort(row.astype(np.int16), kind="stable")
    starts = np.cumsum(np.bincount(row + 1, minlength=rows + 1))
    kept = order[starts[0] :]  # row -1 comes first
    return sp.csr_matrix((value[kept], column[kept], starts - starts[0]), (rows, columns))
