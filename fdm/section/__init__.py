"""What is drawn: materials, shapes, parts, terminals, and the file they are read from. No numerics."""

from fdm.section.materials import builtin_materials
from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
    Joint,
    Material,
    Part,
    Polygon,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Shape,
    Source,
    Spreading,
    repeated,
)
from fdm.section.reader import read_section

__all__ = [
    "Border",
    "Bridge",
    "Disc",
    "Environment",
    "Joint",
    "Material",
    "Part",
    "Polygon",
    "Rectangle",
    "Section",
    "Segment",
    "Sensor",
    "Shape",
    "Source",
    "Spreading",
    "builtin_materials",
    "read_section",
    "repeated",
]
