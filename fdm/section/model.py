"""What is drawn: a section as frozen dataclasses. Lengths in metres, temperatures in degC.

A section can be read from a file (`fdm.section.reader`) or built here, piece by piece:

>>> aluminium = Material("aluminium", (200.0, 200.0))
>>> plate = Part("plate", (Rectangle((0, 0.1), (0, 0.005)),), material=aluminium)
>>> section = Section(
...     title="a plate on air",
...     parts=(plate,),
...     environments=(Environment("air", 20, 10),),
...     border=Border(bottom="air"),
...     sources=(Source("module", segment=Segment((0.03, 0.07), (0.005, 0.005)), heat=5),),
... )
>>> section.fixed_names, section.heat_names
(('air',), ('module',))
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError
from fdm.section.rules import check_section


@dataclass(frozen=True)
class Material:
    """`conductivity` is (along x, along y), W/(m K); density kg/m3; specific heat J/(kg K)."""

    name: str
    conductivity: tuple[float, float]
    density: float | None = None
    specific_heat: float | None = None
    source: str = ""
    spread: float | None = None  # relative standard spread of the conductivity


@dataclass(frozen=True)
class Environment:
    """Air or water at one temperature (degC) behind a film (W/(m2 K), may be infinite)."""

    name: str
    temperature: float
    film: float


@dataclass(frozen=True)
class Rectangle:
    x: tuple[float, float]
    y: tuple[float, float]

    def __post_init__(self) -> None:
        if not (self.x[0] < self.x[1] and self.y[0] < self.y[1]):
            raise InputError(
                "rectangle has no size or is turned around; give x = [low, high] and y = [low, high] with low < high"
            )

    def outline(self) -> NDArray[np.float64]:
        """Corners (4, 2), counter-clockwise."""
        (a, b), (c, d) = self.x, self.y
        return np.array([[a, c], [b, c], [b, d], [a, d]], float)

    @property
    def bounds(self) -> "Bounds":
        return *self.x, *self.y

    def contains(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
        return (x > self.x[0]) & (x < self.x[1]) & (y > self.y[0]) & (y < self.y[1])

    def moved(self, dx: float, dy: float) -> "Rectangle":
        return Rectangle((self.x[0] + dx, self.x[1] + dx), (self.y[0] + dy, self.y[1] + dy))


@dataclass(frozen=True)
class Disc:
    centre: tuple[float, float]
    radius: float

    def __post_init__(self) -> None:
        if not self.radius > 0:
            raise InputError("disc has no size; give a radius above 0")

    def outline(self, corners: int = 256) -> NDArray[np.float64]:
        """A regular polygon (corners, 2) of the disc's own area, counter-clockwise."""
        a = 2 * np.pi * np.arange(corners) / corners
        r = self.radius * math.sqrt(2 * np.pi / corners / math.sin(2 * np.pi / corners))
        return np.column_stack([self.centre[0] + r * np.cos(a), self.centre[1] + r * np.sin(a)])

    @property
    def bounds(self) -> "Bounds":
        (x, y), r = self.centre, self.radius
        return x - r, x + r, y - r, y + r

    def contains(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
        return (x - self.centre[0]) ** 2 + (y - self.centre[1]) ** 2 < self.radius**2

    def moved(self, dx: float, dy: float) -> "Disc":
        return Disc((self.centre[0] + dx, self.centre[1] + dy), self.radius)


@dataclass(frozen=True)
class Polygon:
    points: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        if len(self.points) < 3:
            raise InputError(f"polygon has {len(self.points)} points; give at least 3")
        p = self.outline()
        x, y = (p - p.mean(0)).T
        area = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2
        if abs(area) < 1e-12 * max(np.ptp(x), np.ptp(y)) ** 2 or area == 0:
            raise InputError("polygon has no area; give corners that enclose one")

    def outline(self) -> NDArray[np.float64]:
        """Corners (n, 2), as given."""
        return np.array(self.points, float)

    @property
    def bounds(self) -> "Bounds":
        x, y = zip(*self.points)
        return min(x), max(x), min(y), max(y)

    def contains(self, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.bool_]:
        inside = np.zeros(np.broadcast_shapes(np.shape(x), np.shape(y)), bool)
        p = self.outline()
        for (x0, y0), (x1, y1) in zip(p, np.roll(p, -1, 0)):  # even-odd rule, one edge at a time
            if y0 != y1:
                inside ^= ((y0 > y) != (y1 > y)) & (x < x0 + (y - y0) * (x1 - x0) / (y1 - y0))
        return inside

    def moved(self, dx: float, dy: float) -> "Polygon":
        return Polygon(tuple((x + dx, y + dy) for x, y in self.points))


Shape = Rectangle | Disc | Polygon
Bounds = tuple[float, float, float, float]  # x low, x high, y low, y high


def repeated(shape: Shape, count: int, step: tuple[float, float]) -> tuple[Shape, ...]:
    """`count` copies of the shape, each moved on by `step` (metres)."""
    return tuple(shape.moved(i * step[0], i * step[1]) for i in range(count))


@dataclass(frozen=True)
class Part:
    """One painted piece; exactly one of `material`, `environment` (a name) and `void` says what it is.

    `thickness` (m), `front` and `back` (names of environments) belong to the plate view.
    """

    name: str
    shapes: tuple[Shape, ...]
    material: Material | None = None
    environment: str | None = None
    void: bool = False
    thickness: float | None = None
    front: str | None = None
    back: str | None = None


@dataclass(frozen=True)
class Border:
    """Names of the environments beyond the drawing's outer edge; None is adiabatic."""

    left: str | None = None
    right: str | None = None
    bottom: str | None = None
    top: str | None = None


@dataclass(frozen=True)
class Joint:
    """Contact resistance (m2 K/W) where the two named parts meet."""

    between: tuple[str, str]
    resistance: float


@dataclass(frozen=True)
class Segment:
    """An axis-aligned face: x or y has equal ends."""

    x: tuple[float, float]
    y: tuple[float, float]

    def __post_init__(self) -> None:
        if not (
            (self.x[0] == self.x[1] and self.y[0] < self.y[1]) or (self.y[0] == self.y[1] and self.x[0] < self.x[1])
        ):
            raise InputError(
                "segment has no length or is slanted; give x = [low, high] with one y, or one x with y = [low, high]"
            )

    @property
    def vertical(self) -> bool:
        return self.x[0] == self.x[1]


@dataclass(frozen=True)
class Source:
    """A segment, or a part by name, that receives `heat` (W, positive into the section) or is held at `temperature`."""

    name: str
    segment: Segment | None = None
    part: str | None = None
    heat: float | None = None
    temperature: float | None = None


@dataclass(frozen=True)
class Sensor:
    """A point (m), or a part by name, and what it should read: an environment, source or sensor by name, or degC."""

    name: str
    at: tuple[float, float] | None = None
    part: str | None = None
    should_read: str | float | None = None


@dataclass(frozen=True)
class Spreading:
    """Ask for the spreading resistance of the part(s), a plate that lies `along` x or y (None: its longer side)."""

    parts: tuple[str, ...]
    along: str | None = None

    @property
    def name(self) -> str:
        return " + ".join(self.parts)


@dataclass(frozen=True)
class Bridge:
    """Ask for the loss that the `remove`d parts cause between two fixed terminals (None: the section's only two)."""

    remove: tuple[str, ...]
    between: tuple[str, str] | None = None
    name: str = ""

    def __post_init__(self) -> None:
        if not self.name:
            object.__setattr__(self, "name", " + ".join(self.remove))


@dataclass(frozen=True)
class Uncertain:
    """A number of a file that is only known within limits, in the file's own unit.

    Normal about `nominal`, or evenly likely `between` two bounds. `place` says where it stands, as error messages do.
    """

    place: str
    nominal: float
    uncertainty: float  # standard uncertainty
    between: tuple[float, float] | None = None
    from_table: bool = False  # the spread that the built-in material table states, not the file


@dataclass(frozen=True)
class Section:
    """The whole drawing; `unit` is only for display, `let` and `uncertain` only for the record. `depth` (m) is of the
    section view.

    Raises InputError where names do not exist or a value cannot be.
    """

    title: str
    parts: tuple[Part, ...]
    environments: tuple[Environment, ...] = ()
    view: str = "section"
    unit: str = "m"
    depth: float = 1.0
    border: Border = Border()
    joints: tuple[Joint, ...] = ()
    sources: tuple[Source, ...] = ()
    sensors: tuple[Sensor, ...] = ()
    spreading: tuple[Spreading, ...] = ()
    bridges: tuple[Bridge, ...] = ()
    let: Mapping[str, float] = field(default_factory=dict)
    uncertain: tuple[Uncertain, ...] = ()

    def __post_init__(self) -> None:
        check_section(self)

    @cached_property
    def part_named(self) -> dict[str, Part]:
        return {p.name: p for p in self.parts}

    @cached_property
    def held_sources(self) -> tuple[Source, ...]:
        return tuple(s for s in self.sources if s.temperature is not None)

    @cached_property
    def heat_sources(self) -> tuple[Source, ...]:
        return tuple(s for s in self.sources if s.heat is not None)

    @cached_property
    def fixed_names(self) -> tuple[str, ...]:
        """The fixed terminals: environments, then held sources."""
        return (*(e.name for e in self.environments), *(s.name for s in self.held_sources))

    @cached_property
    def fixed_temperatures(self) -> NDArray[np.float64]:
        """degC, in the order of `fixed_names`."""
        return np.array([x.temperature for x in self.environments] + [s.temperature for s in self.held_sources], float)

    @cached_property
    def heat_names(self) -> tuple[str, ...]:
        return tuple(s.name for s in self.heat_sources)

    @cached_property
    def watts(self) -> NDArray[np.float64]:
        """W, in the order of `heat_names`."""
        return np.array([s.heat for s in self.heat_sources], float)

    @cached_property
    def unasked(self) -> "Section":
        """The same without sensors and questions."""
        return replace(self, sensors=(), spreading=(), bridges=())

    @cached_property
    def unheated(self) -> "Section":
        """The same with its fixed terminals alone."""
        return replace(self, sources=self.held_sources, sensors=(), spreading=(), bridges=())

    @cached_property
    def drawn(self) -> tuple[object, ...]:
        """All but titles and the numbers of materials, films, joints, temperatures and watts: what grids depend on."""
        parts = [
            (p.name, p.shapes, p.material is None, p.environment, p.void, p.thickness, p.front, p.back)
            for p in self.parts
        ]
        environments, joints = [e.name for e in self.environments], [j.between for j in self.joints]
        sources = [(s.name, s.segment, s.part, s.heat is None) for s in self.sources]
        sensors = [(s.name, s.at, s.part) for s in self.sensors]
        asked = self.spreading, self.bridges
        return self.view, self.depth, self.border, *asked, parts, environments, joints, sources, sensors

    @cached_property
    def extent(self) -> Bounds:
        """Of the drawing, m."""
        x0, x1, y0, y1 = zip(*(s.bounds for p in self.parts for s in p.shapes))
        return float(min(x0)), float(max(x1)), float(min(y0)), float(max(y1))
