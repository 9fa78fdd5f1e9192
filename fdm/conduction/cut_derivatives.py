"""Derivatives of the conductances around cut cells, by differences of the assembly's own code."""

from dataclasses import replace

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.cut_faces import cut_faces
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
    """Ends of the links that lie in no group, and derivatives of all links that come from sub-cells: by differences of
    all inputs but one, to which the first degree of conductances leaves the rest."""
    inputs = inputs_of(system.section)
    special = [np.nonzero(near_cuts[g.axis][g.at])[0] for g in groups]
    starts = np.cumsum([0, *(len(g.a) for g in groups)])

    def values(faces: tuple[Faces, Faces], at_films: Array, in_elements: Array) -> Array:
        """Conductances of the special links, the boundary conductances of cut cells, and the elements' links."""
        return np.concatenate([*(g.conductance(faces)[on] for g, on in zip(groups, special)), at_films, in_elements])

    boundary, of_elements = system.boundary, system.links
    assert of_elements is not None
    here = values(system.faces, boundary.value[: boundary.around_cuts], of_elements[2])
    of_group = np.concatenate([start + on for start, on in zip(starts, special)])
    links = np.concatenate([of_group, starts[-1] + np.arange(len(here) - len(of_group))])
    first, *others = rows_near_cuts(system.layout)
    out: Entries = []
    rest = here.copy()
    for row in others:
        factors = np.ones(len(inputs))
        factors[row] += STEP
        layout = replace(system.layout, properties=varied_properties(system.section, system.properties, factors))
        change = (values(*_around_cuts(system, layout, system.faces)) - here) / STEP
        rest -= -change if inputs[row].kind == "joint" else change
        out.append((np.full(len(links), row), links, change))
    out.append((np.full(len(links), first), links, rest))
    at_films = boundary.cell[: boundary.around_cuts], system.solid.size + boundary.terminal[: boundary.around_cuts]
    return [at_films, of_elements[:2]], out


def varied(system: System, factors: Array, i: Integers, j: Integers) -> System:
    """The same with each input as many times as large as `factors` (I,) says, as far as the properties, and the faces
    that are read at grid points (i, j), go."""
    p = varied_properties(system.section, system.properties, factors)
    layout = replace(system.layout, properties=p)
    if system.cut is not None:
        return replace(system, layout=layout, faces=_around_cuts(system, layout, face_sets(layout))[0])
    own = np.append(factors, 1.0)[owner_rows(system.section, system.properties)]
    beside = slice(max(i.min() - 1, 0), i.max() + 1), slice(max(j.min() - 1, 0), j.max() + 1)
    x, y = (_scaled(f, beside, own, system.properties.joint, p.joint) for f in system.faces)
    return replace(system, layout=layout, faces=(x, y))


def _scaled(f: Faces, at: tuple[slice, slice], own: Array, joint: Array | None, varied_joint: Array | None) -> Faces:
    """Faces of which those `at` some place have sides that conduct `own` (P + 5,) times as well by owner, and other
    joints (P + 5, P + 5)."""
    owners, halves = (f.owner[0][at], f.owner[1][at]), [np.zeros(1)] * 2
    if joint is not None and varied_joint is not None:
        area = f.area[at]
        both = joint[owners], varied_joint[owners]
        halves = [np.divide(v / 2, area, out=np.zeros(area.shape), where=area > 0) for v in both]
    low, high, through = f.resistance[0].copy(), f.resistance[1].copy(), f.through.copy()
    for r, owner in zip((low, high), owners):
        r[at] = (r[at] - halves[0]) / own[owner] + halves[1]
    with np.errstate(divide="ignore"):
        through[at] = 1 / (low[at] + high[at])
    return replace(f, resistance=(low, high), through=through)


def _around_cuts(
    system: System, layout: Layout, faces: tuple[Faces, Faces]
) -> tuple[tuple[Faces, Faces], Array, Array]:
    """Faces, boundary conductances and the interface elements' conductances around cut cells, as `assemble` has them,
    with the properties of another layout on the same grid; `faces` are those of whole cells."""
    assert system.elements is not None
    conducting = element_conductances(layout, system.elements)
    faces, films = cut_faces(layout, faces, conducting)
    return faces, np.concatenate([value for _, _, value in films]), conducting.links[2]
