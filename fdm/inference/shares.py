"""What every part, film and joint has in a resistance or a loss, from the unit fields that a solve has anyway.

Any entry of the network is a sum over all conductances g of g times the difference that one unit field has across it,
times that of another. The fields are where that sum is stationary, so a change of the conductances changes the entry by
the same sum with dg in place of g: no field need be solved anew. And all conductances together are of first degree in
conductivities, films and 1 / joints, so (Euler) the effects of one per cent of each add up to one per cent of the
whole. The effect of a part is thus its share: of a resistance, the part of the dissipation that happens in it; of a
coupling, what the heat loses of its drop there.

Heat that enters on a face enters a node of its own, between the half-cells before and after it.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import scipy.sparse as sp

from fdm.conduction.cut_faces import cut_faces, face_films, faces_anew, settled
from fdm.conduction.faces import Array, Bools, Faces, Integers, PartProperties, face_sets, spread_conductivity
from fdm.conduction.interface_elements import slanted_boxes
from fdm.conduction.system import System
from fdm.errors import InputError, nearest
from fdm.section.model import Section
from fdm.solving.solution import Solution

STEP = 1e-7  # relative, of the differences that stand for a derivative around cut cells
ENDLESS = 1e150  # W/K; two temperatures that touch without a film exchange no heat that matters


@dataclass(frozen=True)
class Input:
    """What a conductance is made of: `kind` is "part" or "material" (conductivity, the geometric mean of both axes),
    "film" (an environment's) or "joint"."""

    name: str
    kind: str
    value: float
    unit: str


@dataclass(frozen=True)
class Share:
    """`value` in K/W of a resistance, in W/K of a coupling; `share` of the whole."""

    name: str
    kind: str  # "part", "film" or "joint"
    value: float
    share: float


@dataclass(frozen=True)
class Variant:
    """How `assemble` was asked for a system."""

    without: Collection[str] = ()
    spread: Collection[str] = ()
    along: str = "x"


@dataclass(frozen=True)
class Tangent:
    """How the L conductances of a system change with its inputs, the rows of `change` in the order of `inputs_of`.

    Nodes are the cells (flat numbers), then the fixed terminals, then the faces on which heat enters.
    """

    system: System
    link: tuple[Integers, Integers]  # (L,) nodes at both ends
    change: sp.csr_matrix  # (I, L) W/K per relative change of each input
    face: tuple[Integers, Integers]  # (N,) nodes before and after each face on which heat enters; -1: none
    face_conductance: tuple[Array, Array]  # (N,) W/K to them
    face_of: Integers  # (N,) number of the heat terminal

    @cached_property
    def sign(self) -> Array:
        """(I,) -1 for joints, which resist; 1 for what conducts."""
        return np.array([-1.0 if i.kind == "joint" else 1.0 for i in inputs_of(self.system.section)])

    @cached_property
    def by_link(self) -> sp.csr_matrix:
        """(L, I) what each input has in the conductances (Euler): the change turned, with joints as conductors."""
        out = self.change.T.tocsr()
        out.data *= self.sign[out.indices]
        return out

    @cached_property
    def _whole(self) -> tuple[Array, Integers]:
        """(L,) the conductances, and numbers of those in which some inputs oppose the others."""
        whole = self.by_link @ np.ones(len(self.sign))
        return whole, np.nonzero(abs(self.by_link) @ np.ones(len(self.sign)) > (1 + 1e-6) * abs(whole))[0]

    def moved(self, factors: Array) -> Array:
        """(L, E) conductances with each input as many times as large as `factors` (E, I) says: as resistances in
        series, which they are between whole cells; around cuts, where some oppose the others, as parallel ones."""
        better, (whole, opposed) = (factors**self.sign).T, self._whole
        resisting = self.by_link @ (1 / better)
        out = np.divide((whole**2)[:, None], resisting, out=np.zeros_like(resisting), where=resisting != 0)
        if len(opposed):
            out[opposed] = self.by_link[opposed] @ better
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
        """(I, K) sum of dg times drops `one` (L,) times drops `other` (K, L), per relative change of each input."""
        return self.change @ (other * one).T


def inputs_of(section: Section) -> tuple[Input, ...]:
    """The rows of a `Tangent`: parts (also those that do not conduct), environments, joints."""
    parts = [(p.name, np.sqrt(np.prod(p.material.conductivity)) if p.material else 0.0) for p in section.parts]
    return (
        *(Input(name, "part", float(k), "W/(m K)") for name, k in parts),
        *(Input(e.name, "film", e.film, "W/(m2 K)") for e in section.environments),
        *(Input(" | ".join(j.between), "joint", j.resistance, "m2 K/W") for j in section.joints),
    )


def input_factors(section: Section, other: Section) -> Array | None:
    """(I,) how many times as large as a section's the inputs of another are; None where the two differ in more than
    these, temperatures, watts and what should be read, or in the conductivity along one axis alone."""
    if section.drawn != other.drawn:
        return None
    here, there = (
        np.array([*(p.material.conductivity for p in s.parts if p.material), *((e.film,) * 2 for e in s.environments),
                  *((j.resistance,) * 2 for j in s.joints)], float).reshape(-1, 2)
        for s in (section, other)
    )  # fmt: skip
    same = here == there  # also where both are 0 or infinite
    factors = np.where(same, 1.0, there) / np.where(same | (here == 0), 1.0, here)
    alike = np.allclose(factors[:, 0], factors[:, 1], rtol=1e-9, atol=0)
    if ((here == 0) & ~same).any() or not np.isfinite(factors).all() or not alike:
        return None
    out, conducts = np.ones(len(inputs_of(section))), [p.material is not None for p in section.parts]
    out[np.append(conducts, np.ones(len(out) - len(conducts), bool))] = factors[:, 0]
    return out


def resistance_budget(solution: Solution, heat: str) -> tuple[Share, ...]:
    """Shares of all parts, films and joints in the mean rise (K/W) of a heat terminal by its own watts with all fixed
    terminals at one temperature, the largest first; on the finest grid.

    Raises InputError where there is no such name.
    """
    fixed = len(solution.section.fixed_names)
    k = fixed + _number(heat, solution.section.heat_names, "heat source")
    t = tangent(solution.system)
    return _budget(t, t.drops(t.units(solution.unit_fields)[k : k + 1])[[0, 0]], 1.0)


def loss_budget(solution: Solution, a: str, b: str) -> tuple[Share, ...]:
    """Shares of all parts, films and joints in the coupling (W/K) of two fixed terminals, the largest first; on the
    finest grid. Where only these two exchange heat, they are shares in its resistance too. With a third, heat that
    passes between it and both counts against them: some may be negative.

    Raises InputError where there are no such names, or they are the same.
    """
    ends = [_number(name, solution.section.fixed_names, "environment or held source") for name in (a, b)]
    if a == b:
        raise InputError(f"loss budget: names {a!r} twice; name two")
    t = tangent(solution.system)
    return _budget(t, t.drops(t.units(solution.unit_fields)[ends]), -1.0)


def budgets(solution: Solution) -> tuple[dict[str, tuple[Share, ...]], dict[tuple[str, str], tuple[Share, ...]]]:
    """All of `resistance_budget` by heat terminal, and all of `loss_budget` by pair of coupled fixed terminals."""
    section, t = solution.section, tangent(solution.system)
    drops, fixed = t.drops(t.units(solution.unit_fields)), len(section.fixed_names)
    resistance = {name: _budget(t, drops[[fixed + h] * 2], 1.0) for h, name in enumerate(section.heat_names)}
    coupling = solution.network.values.coupling
    pairs = [(a, b) for a in range(fixed) for b in range(a + 1, fixed) if coupling[a, b] > 1e-9 * coupling.max()]
    return resistance, {
        (section.fixed_names[a], section.fixed_names[b]): _budget(t, drops[[a, b]], -1.0) for a, b in pairs
    }


def _number(name: str, names: Sequence[str], what: str) -> int:
    if name not in names:
        raise InputError(f"budget: there is no {what} named {name!r}; {nearest(name, names)}")
    return names.index(name)


def _budget(t: Tangent, drops: Array, sign: float) -> tuple[Share, ...]:
    inputs = inputs_of(t.system.section)
    values = sign * t.sign * t.effects(drops[0], drops[1:])[:, 0]
    whole = values.sum()
    shares = [Share(i.name, i.kind, float(v), float(v / whole)) for i, v in zip(inputs, values) if v != 0]
    return tuple(sorted(shares, key=lambda s: -s.value))


def tangent(system: System, variant: Variant = Variant()) -> Tangent:
    """The system's conductances and their derivatives: in closed form between whole cells; by differences of the
    assembly's own code, without a solve, around cut cells."""
    section, cells = system.section, system.solid.size
    groups, entered = _face_groups(system)
    anew = tuple(np.zeros(f.area.shape, bool) for f in system.faces)
    if system.cut is not None and system.boxes is not None:
        for axis, mask in enumerate(anew):
            mask[faces_anew(system.raster, system.cut, system.boxes, axis)] = True
    entries = _whole_cells(system, groups, anew)
    ends = [(g.a, g.b) for g in groups]
    count = sum(len(g.a) for g in groups)
    if system.cut is not None:
        links, near = _around_cuts(system, variant, groups, anew)
        ends += links
        entries += near
        count += sum(len(a) for a, _ in links)
    for node, terminal, value in face_films(section, system.raster, system.cut, system.properties):
        entries.append((np.full(len(node), len(section.parts) + terminal), count + np.arange(len(node)), value))
        ends.append((node, np.full(len(node), cells + terminal)))
        count += len(node)
    rows, at, values = (np.concatenate(v) for v in zip(*entries))
    # by hand, in a fifth of the time of a matrix from coordinates; row -1 comes first, and is left out
    order, inputs = np.argsort(rows.astype(np.int16), kind="stable"), len(inputs_of(section))
    starts = np.cumsum(np.bincount(rows + 1, minlength=inputs + 1))
    kept = order[starts[0] :]
    change = sp.csr_matrix((values[kept], at[kept], starts - starts[0]), (inputs, count))
    a, b = (np.concatenate(v) for v in zip(*ends))
    return Tangent(system, (a, b), change, *entered)


Entries = list[tuple[Integers, Integers, Array]]  # rows, links, values of a matrix
Entered = tuple[tuple[Integers, Integers], tuple[Array, Array], Integers]  # the last three of a Tangent


@dataclass(frozen=True)
class _Group:
    """Links through faces of one axis: from side to side; or from one `side` alone to the face's own node."""

    axis: int
    at: tuple[Integers, Integers]
    a: Integers  # nodes
    b: Integers
    side: int | None = None
    sign: int = 1  # -1: takes the half-cells in series away again

    def conductance(self, faces: tuple[Faces, Faces]) -> Array:
        f = faces[self.axis]
        if self.side is not None:
            return f.conductance(self.side, self.at)
        return f.through[self.at] if self.sign > 0 else -1 / (f.resistance[0][self.at] + f.resistance[1][self.at])


def _face_groups(system: System) -> tuple[list[_Group], Entered]:
    p, cells = system.properties, system.solid.size
    first = cells + len(system.boundary.direct)
    groups: list[_Group] = []
    entered: list[tuple[Integers, Integers, Array, Array, Integers]] = []
    terminal, keeps_heat = np.where(p.fixed >= 0, cells + p.fixed, -1), p.solid | p.held
    for axis, f in enumerate(system.faces):
        before, after = (np.where(p.solid[own], cell, terminal[own]) for own, cell in zip(f.owner, f.cell))
        known = (before >= 0) & (after >= 0)
        # two environments that touch are none of the section's business
        keeps = keeps_heat[f.owner[0]] | keeps_heat[f.owner[1]]
        holder = system.holder[axis]
        i, j = np.nonzero(known & keeps & (holder < 0) & (f.through != 0) & (f.through < ENDLESS))
        groups.append(_Group(axis, (i, j), before[i, j], after[i, j]))
        i, j = np.nonzero(holder >= 0)
        own_nodes = [((i, j), cells + holder[i, j])]
        for h, heat_input in enumerate(system.heat_inputs):
            if heat_input.axis != axis or heat_input.at is None:
                continue
            at = heat_input.at
            own_nodes.append((at, first + np.arange(len(at[0]))))
            first += len(at[0])
            entered.append((before[at], after[at], f.conductance(0, at), f.conductance(1, at), np.full(len(at[0]), h)))
            both = at[0][known[at]], at[1][known[at]]  # through the face's own node instead
            groups.append(_Group(axis, both, before[both], after[both], sign=-1))
        for at, end in own_nodes:
            for side, node in enumerate((before, after)):
                on = (node[at] >= 0) & (f.conductance(side, at) < ENDLESS)
                here = at[0][on], at[1][on]
                groups.append(_Group(axis, here, node[here], end[on], side))
    nothing = np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0), np.empty(0), np.empty(0, np.intp)
    n0, n1, g0, g1, of = (np.concatenate(v) for v in zip(nothing, *entered))
    return groups, ((n0, n1), (g0, g1), of)


def _whole_cells(system: System, groups: list[_Group], anew: tuple[Bools, ...]) -> Entries:
    """Derivatives of conductances between whole cells: g squared times what an input has in the resistance."""
    section, p = system.section, system.properties
    rows, joint_rows = _owner_rows(section, p), _joint_rows(section, p)
    out: Entries = []
    start = 0
    for group in groups:
        f, on = system.faces[group.axis], ~anew[group.axis][group.at]
        at, links = (group.at[0][on], group.at[1][on]), start + np.nonzero(on)[0]
        start += len(on)
        square = group.sign * group.conductance(system.faces)[on] ** 2
        own = f.owner[0][at], f.owner[1][at]
        sides = (0, 1) if group.side is None else (group.side,)
        half = np.zeros(len(links))
        if p.joint is not None:
            resistance = p.joint[own] / 2
            np.divide(resistance, f.area[at], out=half, where=resistance > 0)
            out.append((joint_rows[own], links, -len(sides) * square * half))
        out += [(rows[own[side]], links, square * (f.resistance[side][at] - half)) for side in sides]
    return out


def _owner_rows(section: Section, p: PartProperties) -> Integers:
    """(P + 5,) row of the conductivity of a solid, of the film of an environment; -1 where there is none."""
    film = (p.fixed >= 0) & ~p.held & np.isfinite(p.film)
    return np.where(p.solid, np.arange(len(p.solid)), np.where(film, len(section.parts) + p.fixed, -1))


def _joint_rows(section: Section, p: PartProperties) -> Integers:
    """(P + 5, P + 5) row of the joint between two owners, -1 where there is none."""
    out = np.full((len(p.solid), len(p.solid)), -1)
    number = {part.name: k for k, part in enumerate(section.parts)}
    for k, joint in enumerate(section.joints):
        a, b = (number[name] for name in joint.between)
        out[a, b] = out[b, a] = len(section.parts) + len(section.environments) + k
    return out


# ---- around cut cells -----------------------------------------------------------------------------------------------


def varied(system: System, variant: Variant, factors: Array, i: Integers, j: Integers) -> System:
    """The same with each input as many times as large as `factors` (I,) says, as far as the properties, and the faces
    that are read at grid points (i, j), go."""
    p = _varied_properties(system, factors)
    if system.cut is not None:
        conductivity = spread_conductivity(system.section, p, variant.spread, variant.along)
        faces = face_sets(system.section, system.raster, p, conductivity)
        return replace(system, properties=p, faces=_cut(system, variant, p, faces)[0])
    own = np.append(factors, 1.0)[_owner_rows(system.section, p)]
    beside = slice(max(i.min() - 1, 0), i.max() + 1), slice(max(j.min() - 1, 0), j.max() + 1)
    x, y = (_scaled(f, beside, own, system.properties.joint, p.joint) for f in system.faces)
    return replace(system, properties=p, faces=(x, y))


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


def _varied_properties(system: System, factors: Array) -> PartProperties:
    section, p = system.section, system.properties
    or_none = np.append(factors, 1.0)  # of row -1
    own = or_none[_owner_rows(section, p)]
    joint = p.joint if p.joint is None else or_none[_joint_rows(section, p)] * p.joint
    conductivity = np.where(p.solid, own, 1.0)[:, None] * p.conductivity
    return replace(p, conductivity=conductivity, film=np.where(p.solid, 1.0, own) * p.film, joint=joint)


Around = tuple[
    tuple[Faces, Faces], Array, Array
]  # faces, and conductances of boundary conductances of cut cells and of boxes' links


def _cut(system: System, variant: Variant, p: PartProperties, faces: tuple[Faces, Faces]) -> Around:
    """Faces, boundary conductances and boxes' conductances around cut cells, as `assemble` has them."""
    section, raster, cut = system.section, system.raster, system.cut
    assert cut is not None and system.boxes is not None
    conductivity = spread_conductivity(section, p, variant.spread, variant.along)
    strong = settled(raster, cut, system.properties)[1]
    boxes = slanted_boxes(section, raster, p, conductivity, system.boxes)
    faces, boundary = cut_faces(section, raster, p, conductivity, faces, cut, strong, boxes, variant.without)
    return faces, np.concatenate([value for _, _, value in boundary]), boxes.links[2]


def _around_cuts(
    system: System, variant: Variant, groups: list[_Group], anew: tuple[Bools, ...]
) -> tuple[list[tuple[Integers, Integers]], Entries]:
    """Ends of the links that lie in no group, and derivatives of all links that come from sub-cells: by differences of
    all inputs but one, to which the first degree of conductances leaves the rest."""
    inputs = inputs_of(system.section)
    special = [np.nonzero(anew[g.axis][g.at])[0] for g in groups]
    starts = np.cumsum([0, *(len(g.a) for g in groups)])

    def values(faces: tuple[Faces, Faces], tied: Array, linked: Array) -> Array:
        """Conductances of the special links, the boundary conductances of cut cells, and the boxes' links."""
        return np.concatenate([*(g.conductance(faces)[on] for g, on in zip(groups, special)), tied, linked])

    boundary, links_of_boxes = system.boundary, system.links
    assert links_of_boxes is not None
    here = values(system.faces, boundary.value[: boundary.around_cuts], links_of_boxes[2])
    of_group = np.concatenate([start + on for start, on in zip(starts, special)])
    links = np.concatenate([of_group, starts[-1] + np.arange(len(here) - len(of_group))])
    first, *others = rows_near_cuts(system)
    out: Entries = []
    rest = here.copy()
    for row in others:
        factors = np.ones(len(inputs))
        factors[row] += STEP
        change = (values(*_cut(system, variant, _varied_properties(system, factors), system.faces)) - here) / STEP
        rest -= -change if inputs[row].kind == "joint" else change
        out.append((np.full(len(links), row), links, change))
    out.append((np.full(len(links), first), links, rest))
    tied = boundary.cell[: boundary.around_cuts], system.solid.size + boundary.terminal[: boundary.around_cuts]
    return [tied, links_of_boxes[:2]], out


def rows_near_cuts(system: System) -> Integers:
    """Rows of all inputs that conductances in and beside cut cells could come from, a part's first."""
    cut, owner = system.cut, system.raster.owner
    assert cut is not None
    around = [owner[cut.i + a, cut.j + b] for a in (0, 1, 2) for b in (0, 1, 2)]
    return rows_of(system, np.unique(np.concatenate([cut.owner.ravel(), *around])))


def rows_of(system: System, owners: Integers) -> Integers:
    """Rows of the inputs that belong to some owners: conductivities, films, and joints among them."""
    rows = _owner_rows(system.section, system.properties)[owners]
    joints = _joint_rows(system.section, system.properties)[np.ix_(owners, owners)]
    both = np.unique(np.concatenate([rows, joints.ravel()]))
    return both[both >= 0]
