"""What a drawing takes for granted, and what of it is likely not so: each check yields sentences, without a solve.

The limits in the files here are common practice, no source. Each is a guess at what a drawing means, so a check stays
silent where the drawing may well be right. All checks look at the cells of a first grid (`fdm.solving.cells`), whose
lines pass through every straight edge.
"""

from fdm.conduction.arrays import Array
from fdm.grid.raster import raster_of
from fdm.section.model import Section
from fdm.solving.assumptions.bolts import bolts_as_slabs
from fdm.solving.assumptions.depth import heated_depth
from fdm.solving.assumptions.edges import edges_in_gaps, joints_apart, open_gaps, slits, tips_without_border
from fdm.solving.assumptions.films import bare_faces_beside_fins, films_of_fins
from fdm.solving.assumptions.sources import covered_patches, sources_cut_short
from fdm.solving.cells import Drawing


def doubtful_assumptions(section: Section, x: Array, y: Array) -> tuple[str, ...]:
    """A sentence for each assumption of the drawing that is likely not meant, with what to do instead. `x`, `y` (m) are
    grid lines through every straight edge."""
    drawing = Drawing(section, raster_of(section, x, y))
    checks = (heated_depth, bolts_as_slabs, sources_cut_short, edges_in_gaps, joints_apart, open_gaps)
    more = (slits, tips_without_border, films_of_fins, bare_faces_beside_fins, covered_patches)
    return tuple(sentence for check in (*checks, *more) for sentence in check(drawing))
