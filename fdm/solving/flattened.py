"""Plates in layers that have one temperature through their thickness, where that is not felt."""

from fdm.accuracy.refinement import bands_over_allowed, furthest
from fdm.answers.grid import SolvedGrid
from fdm.answers.kinds import Asked, solved
from fdm.conduction.systems import conduction_system
from fdm.grid.layers import in_one_layer
from fdm.section.model import Section, Source

FLAT = 0.1  # of the target: a plate whose thickness makes less of a difference has one temperature through it


def flattened_plate(grid: SolvedGrid, asked: Asked, target: float) -> SolvedGrid | None:
    """The same grid of a plate in layers with one temperature through its thickness, where that makes a difference of
    less than FLAT of each answer's target; None where it makes more, and where there is nothing to flatten."""
    system, section = grid.system, asked.section
    if not section.layered:
        return None
    x, y, z = system.lines
    own, allowed = grid.answers.network.resistance.diagonal(), FLAT * target
    if any(_across(section, source) > allowed * r for source, r in zip(section.heat_sources, own)):
        return None  # most plates, without another solve
    flat = solved(conduction_system(section, x, y, in_one_layer(z), like=[system]))
    values, others = asked.values(grid.answers), asked.values(flat.answers)
    return flat if furthest(asked, bands_over_allowed(asked, values, abs(others - values), allowed))[0] <= 1 else None


def _across(section: Section, source: Source) -> float:
    """K/W about between the face on which a source enters and the mean through the thickness, at least; 0 where it
    enters all through the thickness."""
    part = section.part_named[str(source.part)] if source.face else None
    if part is None or part.material is None or part.thickness is None:
        return 0.0
    x0, x1, y0, y1 = source.rectangle.bounds if source.rectangle else section.extent
    k = part.material.conductivity[0] if part.material.through is None else part.material.through
    return part.thickness / (4 * k * (x1 - x0) * (y1 - y0))
