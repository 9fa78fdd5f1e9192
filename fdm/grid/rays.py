"""Points of a drawing where straight edges and circles end or cross, and the rays in which edges leave them."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.grid.edges import cross
from fdm.grid.outlines import Outlines, outlines, points_in_boxes, points_of
from fdm.section.model import Section

Array = NDArray[np.float64]
Integers = NDArray[np.intp]
Bools = NDArray[np.bool_]

NEAR = 1e-7  # of the drawing's size: how far from a point its wedges are looked up
PARALLEL = 1e-6  # rad, between edges that are one at a point


@dataclass(frozen=True)
class Edges(Outlines):
    """The outlines of all parts, and with them the edges of the drawing and segments of sources."""

    held: Bools  # (E,) segments that are held at a temperature
    heated: Bools  # (E,) segments that give watts


@dataclass(frozen=True)
class Rays:
    """R directions from points in which edges leave them, by point, then by angle."""

    point: Integers  # (R,)
    angle: Array  # (R,) rad, from 0 to 2 pi
    held: Bools  # (R,) a held segment lies along it
    heated: Bools  # (R,) a heated segment begins at the point, along it


@dataclass(frozen=True)
class Directions:
    """The directions in which edges leave points, and those of the wedges between them."""

    edges: Edges
    points: Array  # (P, 2) m
    rays: Rays
    first: Integers  # (P,) ray of each point
    count: Integers  # (P,) rays of each point
    before: Integers  # (R,) the ray before each, round its point
    end: Array  # (R,) rad, the angle of the ray after it
    inside: Array  # (R, 2) m, a place in the wedge after it


def directions(section: Section) -> Directions:
    edges = _edges(section)
    points = points_of(edges)
    if section.view == "axisymmetric":
        points = points[points[:, 0] > edges.tolerance]
    rays = _rays(edges, points)
    first = np.nonzero(np.diff(rays.point, prepend=-1))[0]
    count = np.diff(np.append(first, len(rays.point)))
    before, end = np.arange(-1, len(rays.point) - 1), np.append(rays.angle[1:], 0.0)
    before[first], end[first + count - 1] = first + count - 1, rays.angle[first] + 2 * math.pi
    middle = (rays.angle + end) / 2
    inside = points[rays.point] + NEAR * section.size * np.column_stack([np.cos(middle), np.sin(middle)])
    return Directions(edges, points, rays, first, count, before, end, inside)


def _edges(section: Section) -> Edges:
    # the drawing's own edges reach beyond it, as the environments of two borders end at its corners
    x0, x1, y0, y1 = section.extent
    low_x, high_x, low_y, high_y = np.array(section.extent) + 0.1 * section.size * np.array([-1, 1, -1, 1])
    frame_start = np.array([[x0, low_y], [x1, low_y], [low_x, y0], [low_x, y1]])
    frame_step = np.array([[0, high_y - low_y]] * 2 + [[high_x - low_x, 0]] * 2)
    sources = [(s, s.segment) for s in section.sources if s.segment is not None]
    ends = np.array([list(zip(s.x, s.y)) for _, s in sources]).reshape(-1, 2, 2)
    parts = outlines(section)
    drawn = np.zeros(len(frame_start) + len(parts.start), bool)
    return Edges(
        np.concatenate([frame_start, parts.start, ends[:, 0]]),
        np.concatenate([frame_step, parts.step, np.ptp(ends, 1)]),
        parts.centre,
        parts.radius,
        parts.tolerance,
        np.concatenate([drawn, np.array([s.temperature is not None for s, _ in sources], bool)]),
        np.concatenate([drawn, np.array([s.heat is not None for s, _ in sources], bool)]),
    )


def _rays(edges: Edges, points: Array) -> Rays:
    """The directions in which edges leave each point."""
    near = 10 * edges.tolerance
    end = edges.start + edges.step
    edge, point = points_in_boxes(np.minimum(edges.start, end) - near, np.maximum(edges.start, end) + near, points)
    start, step = edges.start[edge], edges.step[edge]
    length, away = np.hypot(*step.T), points[point] - start
    place = (away * step).sum(1) / length
    on = (abs(cross(away, step)) <= near * length) & (place >= -near) & (place <= length + near)
    edge, point, place, length, step = (v[on] for v in (edge, point, place, length, step))
    found = []
    for way, leaves, begins in ((1, place < length - near, place <= near), (-1, place > near, place >= length - near)):
        angle = np.arctan2(way * step[:, 1], way * step[:, 0])
        heated = edges.heated[edge] & begins
        found.append((point[leaves], angle[leaves], edges.held[edge][leaves], heated[leaves]))
    for centre, radius in zip(edges.centre, edges.radius):
        apart = points - centre
        on_it = np.nonzero(abs(np.hypot(*apart.T) - radius) <= near)[0]
        outward, no = np.arctan2(apart[on_it, 1], apart[on_it, 0]), np.zeros(len(on_it), bool)
        found += [(on_it, outward + turn, no, no) for turn in (-math.pi / 2, math.pi / 2)]
    angle = np.mod(np.concatenate([v[1] for v in found]), 2 * math.pi)
    angle[angle > 2 * math.pi - PARALLEL] = 0.0
    point, held, heated = (np.concatenate([v[k] for v in found]) for k in (0, 2, 3))
    order = np.lexsort((angle, point))
    point, angle, held, heated = point[order], angle[order], held[order], heated[order]
    new = np.nonzero((np.diff(point, prepend=-1) != 0) | (np.diff(angle, prepend=-1.0) > PARALLEL))[0]
    return Rays(point[new], angle[new], np.logical_or.reduceat(held, new), np.logical_or.reduceat(heated, new))


def reach(edges: Edges, point: Array) -> float:
    """m, from a point (2,) to the nearest edge or circle that does not pass through it."""
    away, square = point - edges.start, (edges.step**2).sum(1)
    t = np.clip((away * edges.step).sum(1) / square, 0.0, 1.0)
    straight = np.hypot(*(away - t[:, None] * edges.step).T)
    round_ = abs(np.hypot(*(edges.centre - point).T) - edges.radius)
    distance = np.concatenate([straight, round_])
    return float(distance[distance > 10 * edges.tolerance].min())
