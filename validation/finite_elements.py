"""An independent solver: quadratic finite elements (scikit-fem) on a graded mesh.

Sections drawn with axis-aligned rectangles have a tensor mesh of quadrilaterals, all others curved triangles
(`validation.triangles`). It shares the drawing (`fdm.section`) and the container of the answers with the
finite-difference solver, and nothing of its numerics: mesh, material lookup, films, joints and sources are its own.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu
from skfem import (
    Basis,
    BilinearForm,
    ElementDG,
    ElementLineP1,
    ElementLineP2,
    ElementQuad1,
    ElementQuad2,
    ElementTriP2,
    FacetBasis,
    LinearForm,
    MeshQuad,
)
from skfem.mapping import MappingIsoparametric

from fdm.conduction.network import NetworkValues
from fdm.errors import InputError
from fdm.section.model import Rectangle, Section, Segment, Source
from validation.triangles import owner_of, triangles

Array = NDArray[np.float64]
Integers = NDArray[np.intp]

LOOKED_AT = (7, 97)  # places along an element at which the highest temperature is looked for: in all, in the best
BEST = 6  # elements: as many meet at a point, or more where they are smaller
GRADING = 4.0  # cells shrink towards every edge as the 4th power of their number: enough for the corners' r^(2/3)


@BilinearForm
def conduction(u, v, w):  # type: ignore[no-untyped-def]
    """Heat that conduction carries, per kelvin."""
    return w.size * (w.kx * u.grad[0] * v.grad[0] + w.ky * u.grad[1] * v.grad[1])


@BilinearForm
def exchange(u, v, w):  # type: ignore[no-untyped-def]
    """Heat through films and joints, per kelvin."""
    return w.size * w.h * u * v


@LinearForm
def load(v, w):  # type: ignore[no-untyped-def]
    """Heat that films and sources put in."""
    return w.size * w.h * v


def network(section: Section, cells: int = 4) -> NetworkValues:
    """The section's network; `cells` per half of the gap between two edges, or as `validation.triangles` has it (the
    error falls as about its 4th power).

    Raises InputError for what it cannot do: sources on a joint, edges too close to each other for triangles.

    >>> from fdm.section.model import Border, Environment, Material, Part
    >>> slab = Part("slab", (Rectangle((0, 0.2), (0, 0.05)),), material=Material("wood", (0.13, 0.13)))
    >>> rooms = (Environment("in", 20, 10), Environment("out", 0, 25))
    >>> wall = Section("wall", (slab,), rooms, border=Border(left="in", right="out"))
    >>> round(float(network(wall).coupling[0, 1]) / 0.05 * (1 / 10 + 0.2 / 0.13 + 1 / 25), 9)
    1.0
    """
    return Model(section, cells).answers()


def _graded(edges: Sequence[float], cells: int) -> Array:
    at = np.unique(edges)
    at = at[np.concatenate([[True], np.diff(at) > 1e-9 * np.ptp(at)])]
    half = 0.5 * (np.arange(cells + 1) / cells) ** GRADING
    unit = np.concatenate([half, 1 - half[-2:0:-1]])
    return np.append((at[:-1, None] + np.diff(at)[:, None] * unit).ravel(), at[-1])


def _lines(section: Section, cells: int) -> tuple[Array, Array]:
    x: list[float] = []
    y: list[float] = []
    for x0, x1, y0, y1 in (shape.bounds for part in section.parts for shape in part.shapes):
        x += (x0, x1)
        y += (y0, y1)
    for segment in (s.segment for s in section.sources if s.segment):
        x += segment.x
        y += segment.y
    for point in (s.at for s in section.sensors if s.at):
        x.append(point[0])
        y.append(point[1])
    return _graded(x, cells), _graded(y, cells)


class _Mapping(MappingIsoparametric):
    """Cells of 1e-6 of the drawing leave only ten digits in a point's place within its cell; that is plenty."""

    def invF(self, x, tind=None, newton_max_iters=50, newton_tol=1e-6):  # type: ignore[no-untyped-def]
        return super().invF(x, tind, newton_max_iters, newton_tol)


class Model:
    """The mesh of a section, its basis, and the answers on it."""

    def __init__(self, section: Section, cells: int) -> None:
        self.section = section
        if all(isinstance(shape, Rectangle) for part in section.parts for shape in part.shapes):
            mesh = MeshQuad.init_tensor(*_lines(section, cells))
            solid = np.array([p.material is not None for p in section.parts] + [False])
            self.mesh = mesh.restrict(np.nonzero(solid[owner_of(section, mesh.p[:, mesh.t].mean(1))])[0])
            self.mapping = _Mapping(self.mesh, ElementQuad1(), ElementLineP1())
            self.middle = self.mesh.p[:, self.mesh.facets].mean(1)
            element, self.triangular = ElementQuad2(), False
        else:
            self.mesh = triangles(section, cells)
            self.mapping = _Mapping(self.mesh, ElementTriP2(), ElementLineP2())
            self.middle = self.mesh.doflocs[:, self.mesh.dofs.facet_dofs[0]]  # on the curve
            element, self.triangular = ElementTriP2(), True
        self.centre = self.mesh.p[:, self.mesh.t].mean(1)
        self.owner = owner_of(section, self.centre)
        self.thickness = np.array([p.thickness or 0.0 for p in section.parts])[self.owner]
        self.joints = self._joint_facets()
        self.element = ElementDG(element) if self.joints else element
        self.basis = Basis(self.mesh, self.element, self.mapping)
        self.fixed = np.full(self.basis.N, -1)  # number of the fixed terminal that holds a node
        self.film = np.zeros((self.basis.N, len(section.fixed_names)))

    # -- geometry

    def _size(self, basis: Basis | FacetBasis) -> Array:
        """What a square metre of the plane stands for, (elements, points): its depth, the turn about the axis, or the
        plate's thickness."""
        x = np.asarray(basis.global_coordinates())[0]
        if self.section.view == "plate":
            return self.thickness[slice(None) if basis.tind is None else basis.tind][:, None] * np.ones_like(x)
        return 2 * np.pi * x if self.section.view == "axisymmetric" else np.full_like(x, self.section.depth)

    def _joint_facets(self) -> dict[float, Integers]:
        """Interior facets by joint resistance."""
        inner = np.nonzero(self.mesh.f2t[1] >= 0)[0]
        pairs = np.sort(self.owner[self.mesh.f2t[:, inner]], axis=0)
        place = {p.name: k for k, p in enumerate(self.section.parts)}
        found: dict[float, list[Integers]] = {}
        for joint in self.section.joints:
            a, b = sorted(place[name] for name in joint.between)
            facets = inner[(pairs[0] == a) & (pairs[1] == b)]
            if joint.resistance > 0 and len(facets):
                found.setdefault(joint.resistance, []).append(facets)
        return {r: np.concatenate(f) for r, f in found.items()}

    def _on(self, segment: Segment) -> Integers:
        (x0, x1), (y0, y1) = segment.x, segment.y
        tiny = 1e-9 * max(np.ptp(self.mesh.p[0]), np.ptp(self.mesh.p[1]))
        near = (np.abs(self.middle[0] - np.clip(self.middle[0], x0, x1)) < tiny) & (
            np.abs(self.middle[1] - np.clip(self.middle[1], y0, y1)) < tiny
        )
        lies = np.abs(np.diff(self.mesh.p[0 if segment.vertical else 1][self.mesh.facets], axis=0)[0]) < tiny
        return np.nonzero(near & lies)[0]

    def _nodes(self, facets: Integers) -> Integers:
        """Degrees of freedom on the facets, of the elements on both their sides."""
        found = []
        for side in (0, 1):
            element = self.mesh.f2t[side, facets]
            facet, element = facets[element >= 0], element[element >= 0]
            nodes = self.basis.element_dofs[:, element]
            ends = self.mesh.p[:, self.mesh.facets[:, facet]]
            places = np.stack([ends[:, 0], ends[:, 1], self.middle[:, facet]], 1)
            away = np.hypot(*(self.basis.doflocs[:, nodes][:, :, None] - places[:, None])).min(1)
            found.append(nodes[away < 1e-6 * np.hypot(*(ends[:, 0] - ends[:, 1]))])
        return np.unique(np.concatenate(found))

    # -- assembly

    def _faces(self, facets: Integers, side: int = 0) -> FacetBasis:
        return FacetBasis(
            self.mesh, self.element, self.mapping, facets=facets, dofs=self.basis.dofs, side=side, disable_doflocs=True
        )

    def _add_film(self, facets: Integers, terminal: int) -> csr_matrix:
        environment = self.section.environments[terminal]
        if math.isinf(environment.film):
            self.fixed[self._nodes(facets)] = terminal
            return csr_matrix((self.basis.N,) * 2)
        basis = self._faces(facets)
        size = self._size(basis)
        self.film[:, terminal] += load.assemble(basis, size=size, h=environment.film)
        return exchange.assemble(basis, size=size, h=environment.film)

    def _add_front_and_back(self, terminal: int) -> csr_matrix:
        """Of plates."""
        environment = self.section.environments[terminal]
        faces = np.array([(p.front == environment.name) + (p.back == environment.name) for p in self.section.parts])
        h = environment.film * faces[self.owner][:, None] * np.ones_like(self.basis.dx)
        self.film[:, terminal] += load.assemble(self.basis, size=1.0, h=h)
        return exchange.assemble(self.basis, size=1.0, h=h)

    def _beyond(self, facets: Integers) -> Integers:
        """Number of the environment on the other side of boundary facets, -1 where none."""
        section = self.section
        middle, centre = self.middle[:, facets], self.centre[:, self.mesh.f2t[0, facets]]
        outside = middle + 1e-6 * (middle - centre)
        number = {name: k for k, name in enumerate(section.fixed_names)}
        of_part = np.array([number.get(p.environment or "", -1) for p in section.parts] + [-1])
        beyond = of_part[owner_of(section, outside)]
        x0, x1, y0, y1 = section.extent
        for name, off in (
            (section.border.left, outside[0] < x0),
            (section.border.right, outside[0] > x1),
            (section.border.bottom, outside[1] < y0),
            (section.border.top, outside[1] > y1),
        ):
            beyond[off] = number[name] if name is not None else -1
        return beyond

    def _matrix(self) -> csr_matrix:
        section, mesh = self.section, self.mesh
        k = np.array([p.material.conductivity if p.material else (0.0, 0.0) for p in section.parts])[self.owner]
        one = np.ones_like(self.basis.dx)
        a = conduction.assemble(self.basis, size=self._size(self.basis), kx=k[:, :1] * one, ky=k[:, 1:] * one)
        facets = mesh.boundary_facets()
        beyond = self._beyond(facets)
        for terminal in range(len(section.environments)):
            if (beyond == terminal).any():
                a = a + self._add_film(facets[beyond == terminal], terminal)
            if any(section.environments[terminal].name in (p.front, p.back) for p in section.parts):
                a = a + self._add_front_and_back(terminal)
        for resistance, joint in self.joints.items():
            sides = [self._faces(joint, side) for side in (0, 1)]
            size = self._size(sides[0])
            for i, u in enumerate(sides):
                for j, v in enumerate(sides):
                    a = a + (1 if i == j else -1) * exchange.assemble(u, v, size=size, h=1 / resistance)
        for terminal, source in enumerate(section.held_sources, len(section.environments)):
            self.fixed[self._held_nodes(source)] = terminal
        return a

    def _held_nodes(self, source: Source) -> Integers:
        if source.segment is None:
            inside = np.nonzero(self.owner == [p.name for p in self.section.parts].index(source.part or ""))[0]
            return np.unique(self.basis.element_dofs[:, inside])
        return self._nodes(self._on(source.segment))

    def _mean(self, segment: Segment | None, part: str | None) -> Array:
        """Load vector (N,) of one watt spread evenly; also what takes the mean of a field."""
        if segment is None:
            basis = self.basis
            inside = self.owner == [p.name for p in self.section.parts].index(part or "")
            h = inside[:, None] * np.ones_like(basis.dx)
        else:
            facets = self._on(segment)
            if any(np.isin(facets, joint).any() for joint in self.joints.values()):
                raise InputError("source, segment: it lies on a joint, which finite elements cannot do; move it")
            basis = self._faces(facets)
            h = np.ones_like(basis.dx)
        size = self._size(basis)
        return np.asarray(load.assemble(basis, size=size, h=h / np.sum(size * h * basis.dx)))

    def _at(self, point: tuple[float, float]) -> Array:
        """Vector (N,) that reads a field at a point, where the mesh has a corner."""
        distance = np.hypot(*(self.basis.doflocs - np.reshape(point, (2, 1))))
        here = distance < 1e-9 * max(np.ptp(self.mesh.p[0]), np.ptp(self.mesh.p[1]))
        here &= np.isin(np.arange(self.basis.N), self.basis.element_dofs)
        with np.errstate(invalid="ignore"):
            return here / here.sum()

    def _highest(self, source: Source, fields: Array) -> Array:
        """(K,) highest temperature of a source's segment or part in fields (N, K)."""
        if source.segment is None:
            among = np.nonzero(self.owner == [p.name for p in self.section.parts].index(source.part or ""))[0]
        else:
            among = self._on(source.segment)
        many, fine = LOOKED_AT
        found = []
        for field in fields.T:
            tops = self._looked_at(field, among, many, source.segment is not None).max(1)
            best = np.argsort(tops)[-BEST:]  # not one alone: neighbours have the same values where they meet
            found.append(self._looked_at(field, among[best], fine, source.segment is not None).max())
        return np.array(found)

    def _looked_at(self, field: Array, among: Integers, count: int, facets: bool) -> Array:
        """(elements or facets, places) of a field (N,)."""
        at = np.linspace(0, 1, count)[None]
        if not facets:
            at = np.array(np.meshgrid(at[0], at[0])).reshape(2, -1)
            at = at[:, at.sum(0) <= 1 + 1e-9] if self.triangular else at
        common = {"mapping": self.mapping, "quadrature": (at, np.ones(at.shape[1])), "dofs": self.basis.dofs}
        if facets:
            basis = FacetBasis(self.mesh, self.element, facets=among, disable_doflocs=True, **common)
        else:
            basis = Basis(self.mesh, self.element, elements=among, disable_doflocs=True, **common)
        return np.asarray(basis.interpolate(field))

    def _merge(self) -> csr_matrix:
        """(N, M) from the nodes kept after joining all facets but the joints' to those of separate elements.

        Where a joint ends at a third part, its two sides stay apart at the end point itself. Foam beside two pressed
        metals must not tie their corners: that one point would short the joint, with an error of 1/log(mesh size).
        """
        n = self.basis.N
        if not self.joints:
            return csr_matrix((np.ones(n), (np.arange(n), np.arange(n))))
        shared = np.nonzero(self.mesh.f2t[1] >= 0)[0]
        seams = np.concatenate(list(self.joints.values()))
        shared = shared[~np.isin(shared, seams)]
        first, second = (self.basis.element_dofs[:, self.mesh.f2t[s, shared]] for s in (0, 1))
        p, q = (self.basis.doflocs[:, d] for d in (first, second))
        tiny = 1e-6 * np.min(np.ptp(self.mesh.p[:, self.mesh.t], axis=1), axis=0)
        tiny = np.minimum(*tiny[self.mesh.f2t[:, shared]])
        same = np.all(np.abs(p[:, :, None, :] - q[:, None, :, :]) < tiny, axis=0)
        ends = self.mesh.facets[:, shared]
        apart = np.isin(ends, self.mesh.facets[:, seams]) & (np.diff(self.owner[self.mesh.f2t[:, shared]], axis=0) != 0)
        at_end = np.all(np.abs(p[:, :, None, :] - self.mesh.p[:, ends][:, None]) < tiny, axis=0)
        same &= ~np.any(at_end & apart, axis=1)[:, None, :]
        i, j, facet = np.nonzero(same)
        links = coo_matrix((np.ones(len(i)), (first[i, facet], second[j, facet])), shape=(n, n))
        count, label = connected_components(links, directed=False)
        return csr_matrix((np.ones(n), (np.arange(n), label)), shape=(n, count))

    # -- answers

    def answers(self) -> NetworkValues:
        section = self.section
        matrix = self._matrix()
        heat = [self._mean(s.segment, s.part) for s in section.heat_sources]
        seen = [self._mean(None, s.part) if s.part else self._at(s.at or (0, 0)) for s in section.sensors]
        observe = np.array(heat + seen).reshape(-1, self.basis.N).T
        merge = self._merge()
        a = (merge.T @ matrix @ merge).tocsc()
        film, observe = merge.T @ self.film, merge.T @ observe
        q = observe[:, : len(heat)]
        fixed = np.full(a.shape[0], -1)
        held = np.nonzero(self.fixed >= 0)[0]
        fixed[merge[held].indices] = self.fixed[held]
        unit = (fixed[:, None] == np.arange(len(section.fixed_names))).astype(float)
        free = np.nonzero(fixed < 0)[0]
        solver = splu(
            a[free][:, free].tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        )
        rise = np.zeros_like(q)
        solved = solver.solve(np.hstack([(film - a @ unit)[free], q[free]]))
        unit[free] = solved[:, : unit.shape[1]]
        rise[free] = solved[:, unit.shape[1] :]
        energy = unit.T @ (a @ unit) - film.T @ unit - unit.T @ film
        coupling = -(energy + energy.T) / 2
        np.fill_diagonal(coupling, 0.0)
        top = np.empty((len(heat),) * 2)
        for row, source in enumerate(section.heat_sources):
            top[row] = self._highest(source, merge @ rise)
        return NetworkValues(coupling, observe.T @ unit, observe.T @ rise, top)
