"""Shapes of parts, and straight faces through which heat enters. Lengths in metres.

Every shape has an `outline` (n, 2) of corners, its `bounds`, a copy `moved` by (dx, dy), and `contains`, which says
whether points lie inside it, for arrays x and y that are broadcast together. A shape without a size raises InputError.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.errors import InputError, is_number, what_is

Bounds = tuple[float, float, float, float]  # x low, x high, y low, y high

SAME = 1e-9  # of a size: points that are closer are one point


def require_pairs(what: str, *pairs: ArrayLike) -> None:
    """Raise InputError, which begins with `what`, unless each is two finite numbers."""
    for pair in pairs:
        try:
            good = np.shape(pair) == (2,) and bool(np.isfinite(np.asarray(pair, float)).all())
        except (TypeError, ValueError):
            good = False
        if not good:
            raise InputError(f"{what}: {pair!r} is not two finite numbers")


@dataclass(frozen=True)
class Rectangle:
    """From x[0] to x[1] and from y[0] to y[1]."""

    x: tuple[float, float]
    y: tuple[float, float]

    def __post_init__(self) -> None:
        require_pairs("rectangle", self.x, self.y)
        if not (self.x[0] < self.x[1] and self.y[0] < self.y[1]):
            raise InputError(
                "rectangle has no size or is turned around; give x = [low, high] and y = [low, high] with low < high"
            )

    def outline(self) -> NDArray[np.float64]:
        """Corners (4, 2), counter-clockwise."""
        (a, b), (c, d) = self.x, self.y
        return np.array([[a, c], [b, c], [b, d], [a, d]], float)

    @property
    def bounds(self) -> Bounds:
        return *self.x, *self.y

    def contains(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
        return (x > self.x[0]) & (x < self.x[1]) & (y > self.y[0]) & (y < self.y[1])

    def moved(self, dx: float, dy: float) -> "Rectangle":
        return Rectangle((self.x[0] + dx, self.x[1] + dx), (self.y[0] + dy, self.y[1] + dy))


@dataclass(frozen=True)
class Disc:
    """A circle and what is inside it."""

    centre: tuple[float, float]
    radius: float

    def __post_init__(self) -> None:
        require_pairs("disc", self.centre)
        if not (is_number(self.radius) and 0 < self.radius < math.inf):
            raise InputError("disc has no size; give a radius above 0")

    def outline(self, corners: int = 256) -> NDArray[np.float64]:
        """A regular polygon (corners, 2) of the disc's own area, counter-clockwise."""
        a = 2 * np.pi * np.arange(corners) / corners
        r = self.radius * math.sqrt(2 * np.pi / corners / math.sin(2 * np.pi / corners))
        return np.column_stack([self.centre[0] + r * np.cos(a), self.centre[1] + r * np.sin(a)])

    @property
    def bounds(self) -> Bounds:
        (x, y), r = self.centre, self.radius
        return x - r, x + r, y - r, y + r

    def contains(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
        return (x - self.centre[0]) ** 2 + (y - self.centre[1]) ** 2 < self.radius**2

    def moved(self, dx: float, dy: float) -> "Disc":
        return Disc((self.centre[0] + dx, self.centre[1] + dy), self.radius)


@dataclass(frozen=True)
class Polygon:
    """Corners in order, either way round; the last is joined to the first. Points given twice in a row count once."""

    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if not isinstance(self.points, Sequence | np.ndarray):
            raise InputError(f"polygon: {what_is(self.points)} is no list of points; give ((x, y), ..)")
        require_pairs("polygon", *self.points)
        if len(self.points) < 3:
            raise InputError(f"polygon has {len(self.points)} points; give at least 3")
        p = self.outline()
        apart = abs(p - np.roll(p, 1, 0)).max(1) > SAME * np.ptp(p, 0).max()
        object.__setattr__(self, "points", tuple(point for point, new in zip(self.points, apart) if new))
        if len(self.points) < 3:
            raise InputError(f"polygon has {len(self.points)} different points; give at least 3")
        p = self.outline()
        x, y = (p - p.mean(0)).T
        area = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2
        if abs(area) < 1e-12 * max(np.ptp(x), np.ptp(y)) ** 2 or area == 0:
            raise InputError("polygon has no area; give corners that enclose one")

    def outline(self) -> NDArray[np.float64]:
        """Corners (n, 2)."""
        return np.array(self.points, float)

    @property
    def bounds(self) -> Bounds:
        x, y = zip(*self.points)
        return min(x), max(x), min(y), max(y)

    def contains(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
        shape = np.broadcast_shapes(np.shape(x), np.shape(y))
        px, py = (np.broadcast_to(v, shape).ravel() for v in (x, y))
        order = np.argsort(py, kind="stable")
        px, py = px[order], py[order]
        crossed = np.zeros(len(py), bool)
        p = self.outline()
        q = np.roll(p, -1, 0)
        # each edge has to do only with the points between the heights of its ends
        first, last = (
            np.searchsorted(py, np.minimum(p[:, 1], q[:, 1])),
            np.searchsorted(py, np.maximum(p[:, 1], q[:, 1])),
        )
        for (x0, y0), (x1, y1), a, b in zip(p, q, first, last):  # even-odd rule, one edge at a time
            if a < b:
                crossed[a:b] ^= px[a:b] < x0 + (py[a:b] - y0) * (x1 - x0) / (y1 - y0)
        inside = np.empty(len(py), bool)
        inside[order] = crossed
        return inside.reshape(shape)

    def moved(self, dx: float, dy: float) -> "Polygon":
        return Polygon(tuple((x + dx, y + dy) for x, y in self.points))


Shape = Rectangle | Disc | Polygon


def repeated(shape: Shape, count: int, step: tuple[float, float]) -> tuple[Shape, ...]:
    """`count` copies of the shape, each moved by `step` (m) from the one before."""
    return tuple(shape.moved(i * step[0], i * step[1]) for i in range(count))


@dataclass(frozen=True)
class Segment:
    """A straight face along x or y: the other coordinate has equal ends."""

    x: tuple[float, float]
    y: tuple[float, float]

    def __post_init__(self) -> None:
        require_pairs("segment", self.x, self.y)
        if not (
            (self.x[0] == self.x[1] and self.y[0] < self.y[1]) or (self.y[0] == self.y[1] and self.x[0] < self.x[1])
        ):
            raise InputError(
                "segment has no length or is slanted; give x = [low, high] with one y, or one x with y = [low, high]"
            )

    @property
    def vertical(self) -> bool:
        return self.x[0] == self.x[1]
