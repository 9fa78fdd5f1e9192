"""What frozen conductivities and closed gaps leave out, and where what they follow may not be meant for them."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fdm.section.model import Section
from fdm.solving.closed_gaps import ClosedGap, doubtful_gaps
from fdm.solving.frozen import Frozen
from fdm.solving.part_conductivities import PartConductivity, doubtful_conductivities, spread_within
from fdm.solving.solution import Solution


def doubts(section: Section, frozen: Frozen) -> Iterator[str]:
    """Sentences on parts whose temperatures are beyond what is known of their conductivity."""
    found = [(f.coefficient, np.array(f.temperatures)) for f in frozen.values]
    yield from doubtful_conductivities(section, [(c, at) for c, at in found if isinstance(c, PartConductivity)])
    yield from doubtful_gaps(section, [(c, at) for c, at in found if isinstance(c, ClosedGap)])


@dataclass(frozen=True)
class LeftOut:
    """What one conductivity for all of a part leaves out, which has from `least` to `most` in it (W/(m K)): it leaves
    temperatures in it and beside it up to so many `kelvin` off, and the heat that passes it up to a share `heat`."""

    part: str
    least: float
    most: float
    kelvin: float
    heat: float


def left_out(solution: Solution) -> list[LeftOut]:
    """Of each part whose conductivity follows its temperature."""
    if solution.frozen is None:
        return []
    found = (f.coefficient for f in solution.frozen.values)
    return [LeftOut(c.of, *spread_within(solution.grids[-1], c)) for c in found if isinstance(c, PartConductivity)]
