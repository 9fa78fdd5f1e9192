"""What is drawn, and the file that it is read from. No numerics.

A *section* is a drawing of *parts*. Each part is a set of shapes of one material, or is air of an *environment*, or
void. Parts are laid in order: where two overlap, the later one covers the earlier one, so that a plate with a hole is
a plate with a void disc laid on it.

    parts, in order          what lies where
    1 wall    1111111        1111111
    2 block     222      =>  1122211
    3 hole       3           1123211

Heat comes and goes by *terminals*: environments behind their films, and sources, which give watts or are held at a
temperature. Sensors, spreading and bridges are the questions that are asked of the section.

Files: `shapes` has the outlines; `pieces` has all else that a section is made of; `rules` checks what must hold between
pieces; `model` is the section itself. `sensors` has sensors with their stems and beads. `depths` turns parts that are
less deep than the drawing into pieces, `bolts` makes the section of a bolt through layers. `reader` reads a file, its
parts, fins and materials by `part_reader`, `fin_reader` and `material_reader`: through `tables`, which know the place
of each value, with `expressions` for named numbers, `materials` for the built-in table and `uncertain` for numbers
known within limits.
"""

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
