"""Derivatives of the conductances around cut cells: differences of the conductances that the assembly's code gives."""

from dataclasses import replace

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.cut_faces import cut_faces
from fdm.conduction.cut_films import FilmConductances
from fdm.conduction.element_conductances import element_conductances
from fdm.conduction.face_links import Entries, FaceLinks
from fdm.conduction.faces import Faces, face_sets
from fdm.conduction.inputs import inputs_of, owner_rows, rows_near_cuts, varied_properties
from fdm.conduction.layout import Layout
from fdm.conduction.system import System

STEP = 1e-7  # relative


def cut_derivatives(
    system: System, groups: list[FaceLinks], near_cuts: tuple[Bools, ...]
) -> tuple[list[tuple[Integers, Integers]], Entries]:
    """Ends of the links that are in no group, and derivatives of all links that depend on sub-cells.

    There is a difference for every input but one; the derivative by that one follows from the others, as conductances
    are of first degree in all inputs together (Euler)."""
    inputs = inputs_of(system.section)
    special = [np.nonzero(near_cuts[g.axis][g.at])[0] for g in groups]
    starts = np.cumsum([0, *(len(g.a) for g in groups)])

    def values(faces: tuple[Faces, Faces], at_films: Array, in_elements: Array) -> Array:
        """Conductances of the special links, the boundary conductances of cut cells, and the elements' links."""
        return np.concatenate([*(g.conductance(faces)[on] for g, on in zip(groups, special)), at_films, in_elements])

    of_elements = system.links
    assert of_elements is not None
    faces, (node, terminal, film), in_elements = _around_cuts(system, system.layout, system.faces)
    unchanged = values(faces, film, in_elements)
    of_group = np.concatenate([start + on for start, on in zip(starts, special)])
    links = np.concatenate([of_group, starts[-1] + np.arange(len(unchanged) - len(of_group))])
    first, *others = rows_near_cuts(system.layout)
    out: Entries = []
    rest = unchanged.copy()
    for row in others:
        factors = np.ones(len(inputs))
        factors[row] += STEP
        layout = replace(system.layout, properties=varied_properties(system.section, system.properties, factors))
        faces, (_, _, film), in_elements = _around_cuts(system, layout, system.faces)
        change = (values(faces, film, in_elements) - unchanged) / STEP
        rest -= -change if inputs[row].kind == "joint" else change
        out.append((np.full(len(links), row), links, change))
    out.append((np.full(len(links), first), links, rest))
    return [(node, system.solid.size + terminal), of_elements[:2]], out


def varied(system: System, factors: Array, i: Integers, j: Integers) -> System:
    """The system with each input `factors` (I,) times as large, for reading grid points (i, j) alone: only its
    properties and the faces beside these points are changed."""
    p = varied_properties(system.section, system.properties, factors)
    layout = replace(system.layout, properties=p)
    if system.cut is not None:
        return replace(system, layout=layout, faces=_around_cuts(system, layout, face_sets(layout))[0])
    by_owner = np.append(factors, 1.0)[owner_rows(system.section, system.properties)]
    beside = slice(max(i.min() - 1, 0), i.max() + 1), slice(max(j.min() - 1, 0), j.max() + 1)
    x, y = (_scaled(f, beside, by_owner, system.properties.joint, p.joint) for f in system.faces)
    return replace(system, layout=layout, faces=(x, y))


def _scaled(
    f: Faces, at: tuple[slice, slice], by_owner: Array, joint: Array | None, varied_joint: Array | None
) -> Faces:
    """The faces, of which those `at` some places are changed: each side conducts `by_owner` (P + 5,) times as well, and
    joints (P + 5, P + 5) m2 K/W have other values."""
    owners, halves = (f.owner[0][at], f.owner[1][at]), [np.zeros(1)] * 2
    if joint is not None and varied_joint is not None:
        area = f.area[at]
        both = joint[owners], varied_joint[owners]
        halves = [np.divide(v / 2, area, out=np.zeros(area.shape), where=area > 0) for v in both]
    low, high, through = f.resistance[0].copy(), f.resistance[1].copy(), f.through.copy()
    for r, owner in zip((low, high), owners):
        r[at] = (r[at] - halves[0]) / by_owner[owner] + halves[1]
    with np.errstate(divide="ignore"):
        through[at] = 1 / (low[at] + high[at])
    return replace(f, resistance=(low, high), through=through)


def _around_cuts(
    system: System, layout: Layout, faces: tuple[Faces, Faces]
) -> tuple[tuple[Faces, Faces], FilmConductances, Array]:
    """Faces, boundary conductances and the interface elements' conductances around cut cells, made as in `assemble`,
    with the properties of a layout on the same grid; `faces` are those of whole cells."""
    assert system.elements is not None
    conducting = element_conductances(layout, system.elements)
    faces, films = cut_faces(layout, faces, conducting)
    node, terminal, value = (np.concatenate(v) for v in zip(*films))
    return faces, (node, terminal, value), conducting.links[2]
