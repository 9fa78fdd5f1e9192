r"""What interface elements conduct: linear finite elements on both sides of the edge.

An element is cut into triangles, each within one solid, with corners at the cell centres and where the edge crosses the
lines between them. At a crossing the temperature follows from the six centres around: that of two resistances in series
along the line, set right by the gradient along the edge (as I-L. Chern & Y.-C. Shu, J. Comput. Phys. 225 (2007) 2138,
couple both sides; cited from memory). Both elements that share a line share its crossing, so the field is continuous
and its energy symmetric and positive; and any field that is linear on either side of a straight edge is met exactly.
The coupling is of second order, whatever the contrast. A joint on the edge sets the temperatures of both sides apart by
flux times resistance: a crossing has two temperatures then, and the joint conducts between them all along its length in
the element.

    3 ------- 2     The triangles where corner 0 is alone, with the crossings 4 and 5 seen from corner 0's side of the
    |         |     edge, and the same two, 6 and 7, seen from across it:
    5,7       |
    | \       |         (0, 4, 5)  |  (2, 1, 6), (2, 6, 7), (2, 7, 3)
    0 -4,6--- 1
"""

from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers, Links
from fdm.conduction.cut_joints import OBLIQUE
from fdm.conduction.edge_crossings import SLIVER
from fdm.conduction.interface_elements import InterfaceElements, cell_centres
from fdm.conduction.layout import Layout
from fdm.section.model import Section

Triangle = tuple[float, int, tuple[int, int, int]]  # weight, the corner whose solid it lies in, its own corners

THIN = 0.005  # least area of a triangle beside a joint, over the sum of its squared sides
STIFF = 1e-3  # damps gradients that only temperatures in the poorer conductor determine: they would stiffen the other
OUTWARD = np.array([(0, -1), (1, 0), (0, 1), (-1, 0)])  # of each side
# Number 4 is the crossing on side 0, and 5 that on side 3, where corner 0 is alone; or on side 2, with two corners on
# either side and the mean of both ways to cut. Across the edge from corner 0 the same are 6 and 7.
ALONE = ((1.0, 0, (0, 4, 5)), (1.0, 2, (2, 1, 6)), (1.0, 2, (2, 6, 7)), (1.0, 2, (2, 7, 3)))
HALVES = (
    (0.5, 0, (0, 4, 5)), (0.5, 0, (0, 5, 3)), (0.5, 0, (0, 4, 3)), (0.5, 0, (4, 5, 3)),
    (0.5, 2, (6, 1, 2)), (0.5, 2, (6, 2, 7)), (0.5, 2, (6, 1, 7)), (0.5, 2, (1, 2, 7)),
)  # fmt: skip


@dataclass(frozen=True)
class ElementConductances:
    """The conductances that V interface elements around inner grid points (i, j) make between cells."""

    i: Integers  # (V,)
    j: Integers
    sides: Array  # (V, 4) W/K along each side by itself, its two resistances in series
    links: Links  # (L,) what the triangles add to that, between any two of eight cells; may be negative


def element_conductances(layout: Layout, elements: InterfaceElements) -> ElementConductances:
    """What elements conduct with the properties of a layout, which may be others than those they were made with."""
    elements = elements.with_properties(layout)
    section, count, m = layout.section, len(elements.i), layout.raster.shape[1]
    reading = np.zeros((count, 8, 8))  # temperatures of centres, and of crossings on either side, from those of cells
    reading[:, np.arange(4), np.arange(4)] = 1.0
    cells = [elements.at @ np.array([m, 1])]
    for which, side, (low, high) in ((0, np.zeros_like(elements.second), (4, 6)), (1, elements.second, (6, 8))):
        line = _line(layout, elements, side, which)
        weights = _at_crossing(elements, line, _gradients(elements, line))
        for near, weight in zip((6, 4) if which else (4, 6), weights):  # corner 0 is the first of its side, or the last
            reading[:, near + which, :4], reading[:, near + which, low:high] = weight[:, :4], weight[:, 4:]
        cells.append(line.beyond)
    alone = elements.second == 3
    energy = np.empty((count, 8, 8))
    for on, triangles in ((alone, ALONE), (~alone, HALVES)):
        energy[on] = _stiffness(section, elements.chosen(on), triangles)
    matrix = reading.transpose(0, 2, 1) @ energy @ reading
    in_series = _sides(layout, elements)
    for k in range(4):
        matrix[:, [k, (k + 1) % 4], [(k + 1) % 4, k]] += in_series[:, k, None]
    sides, cell, (a, b) = np.empty_like(in_series), np.concatenate(cells, 1), np.triu_indices(8, 1)
    np.put_along_axis(sides, elements.order, in_series, 1)
    links = cell[:, a].ravel(), cell[:, b].ravel(), -matrix[:, a, b].ravel()
    return ElementConductances(elements.i, elements.j, sides, links)


# ---- temperatures at the crossings ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Line:
    """One crossed side of each of V elements, from its first corner to its last, and the six centres around: the four
    corners, and the two cells beyond the side."""

    ends: Integers  # (V, 2) corners
    beyond: Integers  # (V, 2) flat numbers of the cells beyond; a corner's number for a cell that is not used
    length: Array  # (V,) m
    direction: Array  # (V, 2) from first to last
    point: Array  # (V, 2) m, where the edge crosses it
    to_point: Array  # (V,) m from the first end
    normal: Array  # (V, 2) of the edge
    along: Array  # (V, 2) the edge's own direction
    centre: Array  # (V, 6, 2) m
    k: Array  # (V, 6) conductivities; 0 for a cell that is not used
    on_first: Bools  # (V, 6) which of the six belong to the same owner as the first end
    pair: Array  # (V, 2) conductivities of the ends


def _line(layout: Layout, elements: InterfaceElements, side: Integers, which: int) -> _Line:
    """The line of each element's `side` (V,), which has crossing number `which`."""
    (n, m), raster = layout.raster.shape, layout.raster
    rows, ends = np.arange(len(side)), np.stack([side, (side + 1) % 4], 1)
    outer = elements.at[rows[:, None], ends] + OUTWARD[elements.order[rows, side]][:, None]
    owner = raster.owner[np.clip(outer[..., 0], -1, n) + 1, np.clip(outer[..., 1], -1, m) + 1]
    # a cell beyond is used only where one of the same two solids owns it
    known = (outer >= 0).all(2) & (outer < raster.shape).all(2)
    known &= (owner[:, :, None] == elements.owner[rows[:, None], ends][:, None]).any(2)
    k = np.concatenate([elements.k, np.where(known, layout.conductivity[owner, 0], 0.0)], 1)
    first, last = (elements.centre[rows, ends[:, d]] for d in (0, 1))
    point, normal = elements.crossing[which], elements.normal[which]
    length = np.hypot(*(last - first).T)
    return _Line(
        ends=ends,
        beyond=np.where(known, outer @ [m, 1], (elements.at[:, 0] @ [m, 1])[:, None]),
        length=length,
        direction=(last - first) / length[:, None],
        point=point,
        to_point=np.hypot(*(point - first).T),
        normal=normal,
        along=np.stack([-normal[:, 1], normal[:, 0]], 1),
        centre=np.concatenate([elements.centre, cell_centres(raster, outer)], 1),
        k=k,
        on_first=np.concatenate([elements.owner, owner], 1) == elements.owner[rows, ends[:, 0], None],
        pair=elements.k[rows[:, None], ends],
    )


def _gradients(elements: InterfaceElements, line: _Line) -> list[Array]:
    """(V, 6) what the temperatures of the six centres contribute to the gradient along the edge, times the line's
    length and its share along the line, on the first end's side of the edge and on the last one's.

    Least squares of temperature = at the crossing + gradient along the edge * s + flux / conductivity * distance from
    it, weighed by conductivity, since the better conductor tells the gradient. A joint sets both sides apart: the
    temperatures by flux * joint, and the gradients, the poorer conductor's more than the better one's.
    """
    k, pair = line.k, line.pair
    away = (line.centre - line.point[:, None]) / line.length[:, None, None]
    s, distance = (np.einsum("vad,vd->va", away, v) for v in (line.along, line.normal))
    facing = np.einsum("vd,vd->v", line.direction, line.normal)
    mean = pair.prod(1) / pair.sum(1)
    joint = (elements.joint * mean / line.length)[:, None]
    lean = pair[:, ::-1] / pair.sum(1)[:, None] * (-1, 1)  # of either side
    lean_at = np.where(line.on_first, lean[:, :1], lean[:, 1:])
    flux = np.divide(distance * mean[:, None], k, out=np.zeros_like(k), where=k > 0)
    flux += np.sign(facing)[:, None] * joint * lean_at
    apart = joint / (1 + joint)  # how far the gradients may be
    model = np.stack([np.ones_like(k), s, flux / (1 + joint), apart * s * lean_at], 2)
    weighted = model * k[..., None]
    square = model.transpose(0, 2, 1) @ weighted
    square += 1e-13 * np.trace(square, axis1=1, axis2=2)[:, None, None] * np.eye(4)
    square[:, 1, 1] += STIFF * k.max(1)
    square[:, 3, 3] += STIFF * mean
    fit = np.linalg.solve(square, weighted.transpose(0, 2, 1))
    across = np.einsum("vd,vd->v", line.direction, line.along)[:, None]
    return [across * (fit[:, 1] + lean[:, d, None] * apart * fit[:, 3]) for d in (0, 1)]


def _at_crossing(elements: InterfaceElements, line: _Line, gradient: list[Array]) -> tuple[Array, Array]:
    """(V, 6) weights of the six centres in the crossing's temperature, on the first end's side and on the last one's:
    that of resistances in series along the line, set right by the gradients along the edge."""
    rows, (first, last) = np.arange(len(line.ends)), line.ends.T
    facing = np.einsum("vd,vd->v", line.direction, line.normal)
    share = np.clip(line.to_point / line.length, SLIVER, 1 - SLIVER)
    joint = elements.joint / line.length / np.maximum(abs(facing), OBLIQUE)
    parts = np.stack([share / line.pair[:, 0], joint, (1 - share) / line.pair[:, 1]])
    to, _, back = (parts / parts.sum(0))[..., None]
    share = share[:, None]
    drop = -share * gradient[0] - (1 - share) * gradient[1]  # from end to end, less what goes along the edge
    drop[rows, first] -= 1
    drop[rows, last] += 1
    before, after = share * gradient[0] + to * drop, -(1 - share) * gradient[1] - back * drop
    before[rows, first] += 1
    after[rows, last] += 1
    return before, after


# ---- conductances ---------------------------------------------------------------------------------------------------


def _stiffness(section: Section, elements: InterfaceElements, triangles: tuple[Triangle, ...]) -> Array:
    """(V, 8, 8) W/K of linear triangles between the centres and the two crossings, and of a joint between these."""
    corners = np.concatenate([elements.centre, *(np.stack(elements.crossing, 1),) * 2], 1)
    out = np.zeros((len(corners), 8, 8))
    for weight, solid, triangle in triangles:
        at = corners[:, triangle]
        opposite = np.roll(at, -1, 1) - np.roll(at, 1, 1)  # the side opposite each corner
        double = abs(opposite[:, 0, 0] * opposite[:, 1, 1] - opposite[:, 0, 1] * opposite[:, 1, 0])
        # a sliver couples two crossings stiffly, which beside a joint differ a little
        double = np.maximum(double, np.where(elements.joint > 0, THIN, 1e-14) * (opposite**2).sum((1, 2)))
        scale = weight * elements.k[:, solid] * _breadth(section, at[..., 0].mean(1)) / 2
        scale = np.divide(scale, double, out=np.zeros_like(double), where=double > 0)
        rows, columns = np.ix_(triangle, triangle)
        out[:, rows, columns] += scale[:, None, None] * (opposite @ opposite.transpose(0, 2, 1))
    start, end = elements.crossing
    area = np.hypot(*(end - start).T) * _breadth(section, (start + end)[:, 0] / 2)
    through = np.divide(area, elements.joint, out=np.zeros_like(area), where=elements.joint > 0)
    jump = np.zeros((2, 8))
    jump[[0, 1], [4, 5]], jump[[0, 1], [6, 7]] = 1.0, -1.0
    out += through[:, None, None] * (jump.T @ np.array([(2, 1), (1, 2)]) @ jump / 6)
    return out


def _sides(layout: Layout, elements: InterfaceElements) -> Array:
    """(V, 4) W/K along each side, the half of it that lies in the element: resistances in series."""
    raster, k, out = layout.raster, elements.k, np.empty(elements.k.shape)
    middle = np.stack([raster.x[elements.i], raster.y[elements.j]], 1)
    for side in range(4):
        first, last = elements.centre[:, side], elements.centre[:, (side + 1) % 4]
        along_y = elements.order[:, side] % 2 == 1
        width = np.where(along_y, abs(middle - first)[:, 0], abs(middle - first)[:, 1])
        resistivity = np.hypot(*(last - first).T) / k[:, side]
        crossed_sides = np.full(len(out), side == 0), elements.second == side
        for crossed, point, normal in zip(crossed_sides, elements.crossing, elements.normal):
            to, from_ = np.hypot(*(point - first).T), np.hypot(*(last - point).T)
            facing = abs(np.where(along_y, normal[:, 1], normal[:, 0]))
            joint = elements.joint / np.maximum(facing, OBLIQUE)
            in_series = to / k[:, side] + joint + from_ / k[:, (side + 1) % 4]
            resistivity = np.where(crossed, in_series, resistivity)
        out[:, side] = width * _breadth(layout.section, (first + last)[:, 0] / 2) / resistivity
    return out


def _breadth(section: Section, x: Array) -> Array | float:
    """m, across the drawing; 1 in the plate view, whose thickness is in the conductivity."""
    if section.view == "axisymmetric":
        return 2 * np.pi * x
    return section.depth if section.view == "section" else 1.0
