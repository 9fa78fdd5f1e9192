"""Which system a section is: the plane grid, or a stack of such grids where a plate is resolved through its
thickness."""

from collections.abc import Sequence

from fdm.conduction.arrays import Array
from fdm.conduction.layout import AS_DRAWN, Variant
from fdm.conduction.plane import PlaneSystem, plane_system
from fdm.conduction.protocol import ConductionSystem
from fdm.conduction.stack.plate import StackSystem, stack_system
from fdm.section.model import Section


def conduction_system(
    section: Section,
    x: Array,
    y: Array,
    z: Array | None = None,
    *,
    variant: Variant = AS_DRAWN,
    like: Sequence[ConductionSystem] = (),
) -> PlaneSystem | StackSystem:
    """The section on grid lines x, y (m) and, where there are layers, lines z between them, as drawn or as a variant of
    it. `like` are systems of sections that are drawn the same; where one of them has the same lines, the parts need not
    be laid out again.

    Raises InputError where a source touches no solid, or two sources share a face.
    """
    if z is None:
        return plane_system(section, x, y, variant, like)
    return stack_system(section, x, y, z, variant, like)
