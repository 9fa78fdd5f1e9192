"""How the conductances of a stack change with its inputs: those of the plan, layer by layer, and its own series."""

from dataclasses import replace

import numpy as np
import scipy.sparse as sp

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.boundary import front_and_back_films
from fdm.conduction.derivatives import Tangent, tangent
from fdm.conduction.inputs import inputs_of
from fdm.conduction.stack.system import Stack


def stack_tangent(stack: Stack) -> Tangent:
    """The conductances and their derivatives. Nodes are the cells, layer by layer, the fixed terminals, and the faces
    on which heat enters: those of the plan, layer by layer, then those on the plate's two faces."""
    inputs, plan = inputs_of(stack.section), tangent(stack.plan)
    signs = np.array([-1.0 if i.kind == "joint" else 1.0 for i in inputs])
    layers, share = stack.layers.of_plate, stack.layers.share[stack.layers.of_plate]
    (faces, conductances, of), first = _faces(stack, plan), stack.solid.size + len(stack.boundary.direct)
    nodes = [_nodes_in_layer(stack, plan, k) for k in range(len(layers))]
    a, b = ([node[end] for node in nodes] for end in plan.link)
    in_layer = sp.csr_matrix((plan.change.data, plan.change.indices, _padded(plan.change.indptr, len(inputs))))
    in_layer.resize(len(inputs), len(plan.link[0]))
    change = [w * in_layer for w in share]
    for s in stack.series:
        a.append(s.a)
        b.append(s.b)
        change.append(_derivatives(s.row, s.conductance**2 * s.resistance, signs))
    for node, terminal, films in front_and_back_films(replace(stack.plan.layout, section=stack.section)):
        on = node >= stack.columns.cells
        a.append(stack.solid.size + node[on] - stack.columns.cells)
        b.append(np.full(on.sum(), stack.solid.size + terminal))
        change.append(_derivatives(np.full((1, on.sum()), len(stack.section.parts) + terminal), films[on][None], signs))
    for h, patch in (both for face in stack.faces for both in face.heated.items()):
        entered = np.nonzero(of == h)[0]
        a.append(faces[0][entered])
        b.append(first + entered)
        change.append(_derivatives(patch.part[None], conductances[0][entered][None], signs))
    ends = np.concatenate(a).astype(np.intp), np.concatenate(b).astype(np.intp)
    return Tangent(stack, ends, sp.hstack(change, format="csr"), faces, conductances, of)


def _padded(starts: Integers, rows: int) -> Integers:
    return np.append(starts, np.full(rows + 1 - len(starts), starts[-1]))


def _derivatives(row: Integers, value: Array, signs: Array) -> sp.csr_matrix:
    """(I, C) derivatives (K, C) of C conductances by the inputs in rows (K, C)."""
    on = row >= 0
    column = np.broadcast_to(np.arange(row.shape[1]), row.shape)
    return sp.csr_matrix(((value * signs[row])[on], (row[on], column[on])), (len(signs), row.shape[1]))


def _nodes_in_layer(stack: Stack, plan: Tangent, number: int) -> Integers:
    """The node of the stack for each node of the plan, in layer `number` of the plate."""
    cells, fixed, faces = stack.columns.cells, len(stack.boundary.direct), len(plan.face_of)
    own = stack.columns.node(int(stack.layers.of_plate[number]), np.arange(cells))
    terminals = stack.solid.size + np.arange(fixed)
    return np.concatenate([own, terminals, stack.solid.size + fixed + number * faces + np.arange(faces)])


def _faces(stack: Stack, plan: Tangent) -> tuple[tuple[Integers, Integers], tuple[Array, Array], Integers]:
    """The last three fields of the tangent."""
    share, found = stack.layers.share[stack.layers.of_plate], [_NO_FACES]
    for k in range(len(share)) if len(plan.face_of) else ():
        node = np.append(_nodes_in_layer(stack, plan, k), -1)  # the last one stands for none
        g0, g1 = plan.face_conductance
        found.append((node[plan.face[0]], node[plan.face[1]], share[k] * g0, share[k] * g1, plan.face_of))
    for h, heat in enumerate(stack.heat_inputs):
        if h in stack.rises:
            count = len(heat.cell)
            none = np.full(count, -1), np.zeros(count)
            found.append((heat.cell, none[0], heat.share / stack.rises[h], none[1], np.full(count, h)))
    before, after, g0, g1, of = (np.concatenate(v) for v in zip(*found))
    return (before, after), (g0, g1), of


_NO_FACES = np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0), np.empty(0), np.empty(0, np.intp)
