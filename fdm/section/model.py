"""What is drawn: a section of frozen dataclasses. Lengths in metres, temperatures in degC.

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

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError, nearest, require_types, require_visible
from fdm.section import rules
from fdm.section.pieces import (
    CLOSED_AIR,
    DOWN,
    FACES,
    SIDES,
    UNITS,
    VIEWS,
    Border,
    Bridge,
    Environment,
    Fins,
    Joint,
    Material,
    Part,
    Piece,
    Source,
    Spreading,
    Uncertain,
    require_positive,
)
from fdm.section.sensors import Bead, Sensor, Stem
from fdm.section.shapes import Bounds, Disc, Polygon, Rectangle, Segment, Shape, repeated

__all__ = [
    "CLOSED_AIR",
    "DOWN",
    "FACES",
    "SIDES",
    "UNITS",
    "VIEWS",
    "Bead",
    "Border",
    "Bounds",
    "Bridge",
    "Disc",
    "Environment",
    "Fins",
    "Joint",
    "Material",
    "Part",
    "Piece",
    "Polygon",
    "Rectangle",
    "Section",
    "Segment",
    "Sensor",
    "Shape",
    "Source",
    "Spreading",
    "Stem",
    "Uncertain",
    "repeated",
]


PLAIN = Material("", (1.0, 1.0))  # stands for any, where only the drawing counts


@dataclass(frozen=True)
class Section:
    """The whole drawing, its terminals, and what is asked of it.

    `depth` (m) is used in the section view only. `altitude` (m) is that of the films. `down` is a side of the drawing,
    or "depth" where all of it is level; None: nobody said. `unit` is for display; `let` and `uncertain` say what the
    file gave. `file` and `overrides` say what `read_section` was given, where it has read the section; `unused` has a
    sentence on each named number that the file does not use.
    Raises InputError where a name does not exist or is given twice, or where a value is impossible.
    """

    title: str
    parts: tuple[Part, ...]
    environments: tuple[Environment, ...] = ()
    view: str = "section"
    unit: str = "m"
    depth: float = 1.0
    border: Border = field(default_factory=Border)
    joints: tuple[Joint, ...] = ()
    fins: tuple[Fins, ...] = ()
    sources: tuple[Source, ...] = ()
    sensors: tuple[Sensor, ...] = ()
    spreading: tuple[Spreading, ...] = ()
    bridges: tuple[Bridge, ...] = ()
    let: Mapping[str, float] = field(default_factory=dict)
    uncertain: tuple[Uncertain, ...] = ()
    file: str = field(default="", compare=False, repr=False)
    overrides: Mapping[str, float | str] = field(default_factory=dict, compare=False, repr=False)
    down: str | None = None
    altitude: float = 0.0
    unused: tuple[str, ...] = field(default=(), compare=False, repr=False)

    def __post_init__(self) -> None:
        require_types(self)
        if self.view not in VIEWS:
            raise InputError(f"view: {self.view!r} is not a view; {nearest(self.view, VIEWS)}")
        if self.unit not in UNITS:
            raise InputError(f"unit: {self.unit!r} is not a unit of length; {nearest(self.unit, UNITS)}")
        if self.down not in (None, *DOWN):
            raise InputError(f"down: {self.down!r} is no way down; {nearest(self.down or '', DOWN)}")
        require_visible("title", self.title)
        require_positive("depth", self.depth)
        if not self.parts:
            raise InputError("part: nothing is drawn; give at least one [[part]]")
        rules.check_once("part", (p.name for p in self.parts))
        names = [e.name for e in self.environments] + [s.name for s in self.sources] + [s.name for s in self.sensors]
        rules.check_once("environment, source and sensor", names)
        rules.check_sizes(self.parts, self.sources, self.extent, self.unit)
        rules.check_border(self.border, self.environments, self.view, self.extent)
        rules.check_parts(self.parts, self.environments, self.view)
        rules.check_depths(self.parts, self.view, self.depth, self.unit)
        rules.check_gaps(self.parts, self.view)
        rules.check_joints(self.joints, self.part_named)
        if self.fins:
            rules.check_once("part and fins", [*(p.name for p in self.parts), *(f.name for f in self.fins)])
        rules.check_fins(self.fins, self.part_named, self.environments, self.view, self.extent, self.unit)
        rules.check_sources(self.sources, self.part_named, self.view, self.extent, self.unit)
        rules.check_faces(self.sources, self.sensors, self.view, self.extent, self.unit)
        if self.layered:
            rules.check_layers(self.parts, self.sensors, self.unit)
        terminals = (*self.fixed_names, *self.heat_names)
        airs = [e.name for e in self.environments]
        rules.check_sensors(self.sensors, self.part_named, airs, terminals, self.extent, self.unit)
        rules.check_spreading(self.spreading, self.part_named, self.heat_names)
        rules.check_bridges(self.bridges, self.part_named, self.sources, self.fixed_names)
        if not self.fixed_names:
            raise InputError(
                "nothing has a given temperature; give an [[environment]] or a [[source]] with a temperature"
            )
        if self.view == "axisymmetric" and self.extent[0] < 0:
            raise InputError("view: axisymmetric, but the drawing reaches x < 0; x is the radius, so draw at x >= 0")

    @cached_property
    def part_named(self) -> dict[str, Part]:
        return {p.name: p for p in self.parts}

    @cached_property
    def beneath(self) -> tuple[int | None, ...]:
        """Of each part that is a piece, the number of the only part that it covers; None: it covers all."""
        number = {p.name: k for k, p in enumerate(self.parts)}
        return tuple(None if p.piece is None else number[p.piece.beneath] for p in self.parts)

    def covered_by(self, number: int, inside: NDArray[np.bool_], owner: NDArray[np.integer]) -> NDArray[np.bool_]:
        """Where part `number` is laid: of what is `inside` its shape, all, or, of a piece, where the `owner` so far is
        the part that it covers."""
        below = self.beneath[number]
        return inside if below is None else inside & (owner == below)

    @cached_property
    def layered(self) -> bool:
        """Whether a plate is resolved through its thickness: something stands, enters or is read on its faces."""
        faces = [*(s.face for s in self.sources), *(s.face for s in self.sensors)]
        return bool(self.fins) or any(face is not None for face in faces)

    @cached_property
    def held_sources(self) -> tuple[Source, ...]:
        """The sources that are held at a temperature."""
        return tuple(s for s in self.sources if s.temperature is not None)

    @cached_property
    def heat_sources(self) -> tuple[Source, ...]:
        """The sources that give heat."""
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
        """The heat terminals: sources that give heat."""
        return tuple(s.name for s in self.heat_sources)

    @cached_property
    def watts(self) -> NDArray[np.float64]:
        """W, in the order of `heat_names`."""
        return np.array([s.heat for s in self.heat_sources], float)

    @cached_property
    def unasked(self) -> "Section":
        """The same section without sensors and questions."""
        return replace(self, sensors=(), spreading=(), bridges=())

    @cached_property
    def unheated(self) -> "Section":
        """The same section with its fixed terminals alone: no sources of heat, sensors or questions."""
        return replace(self, sources=self.held_sources, sensors=(), spreading=(), bridges=())

    @cached_property
    def faceless(self) -> "Section":
        """The same plate seen face on, without what lies or stands at its faces."""
        return replace(self, parts=tuple(replace(p, front=None, back=None) for p in self.parts), fins=())

    @cached_property
    def drawn(self) -> tuple[object, ...]:
        """What grids depend on: all of the section except its title and the values of conductivities, films, joints,
        temperatures, humidities and watts."""
        through = (
            [p.thickness for p in self.parts],
            [(f.thickness, f.height, f.count, f.pitch) for f in self.fins],
            [s.depth for s in self.sensors],
        )
        return self._seen, *through

    @cached_property
    def plan(self) -> tuple[object, ...]:
        """What grid lines depend on: `drawn`; of a plate in layers what is seen face on, as layers are shares of its
        thicknesses and of the heights of fins, whatever these are."""
        return self._seen if self.layered else self.drawn

    @cached_property
    def _seen(self) -> tuple[object, ...]:
        parts = [
            (p.name, p.shapes, p.material is None, p.environment, p.void, p.front, p.back, below)
            for p, below in zip(self.parts, self.beneath)
        ]
        environments, joints = [e.name for e in self.environments], [j.between for j in self.joints]
        sources = [(s.name, s.segment, s.part, s.heat is None, s.face, s.rectangle) for s in self.sources]
        sensors = [(s.name, s.at, s.part, s.face) for s in self.sensors]
        fins = [(f.name, f.parts, f.face, f.along, f.environment, f.joint > 0, f.rectangle) for f in self.fins]
        asked = self.spreading, self.bridges
        return self.view, self.depth, self.border, *asked, parts, environments, joints, fins, sources, sensors

    @cached_property
    def extent(self) -> Bounds:
        """The bounds of the drawing, m. Of a disc centred on the axis, a sphere, only the half at x >= 0 counts."""
        shapes = [s for p in self.parts for s in p.shapes]
        _, x1, y0, y1 = zip(*(s.bounds for s in shapes))
        x0 = [0.0 if self._is_sphere(s) else s.bounds[0] for s in shapes]
        return float(min(x0)), float(max(x1)), float(min(y0)), float(max(y1))

    def _is_sphere(self, shape: Shape) -> bool:
        return self.view == "axisymmetric" and isinstance(shape, Disc) and shape.centre[0] == 0

    @cached_property
    def size(self) -> float:
        """The longer side of the drawing, m."""
        x0, x1, y0, y1 = self.extent
        return max(x1 - x0, y1 - y0)
