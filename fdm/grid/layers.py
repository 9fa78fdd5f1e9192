"""Layers through the thickness of a plate and up its fins.

A layer of the plate has the same share of the thickness of every part, and a layer of fins the same share of the height
of every group, so that parts and groups of different sizes need no alignment:

    -1      0                 1            2
     |   |  |  |    |     |   |   |    |   |       lines z
     |      |                 |            |
     tips   back              front        tips
"""

import numpy as np
from numpy.typing import NDArray

from fdm.section.model import Section

Array = NDArray[np.float64]

BASE, FINS = 2, 2  # layers of the plate, and of fins, on the first grid


def first_layers(section: Section) -> tuple[Array, ...]:
    """Lines z (L + 1,) between the layers of the coarsest grid, see above; none where a section is not resolved through
    its thickness."""
    if not section.layered:
        return ()
    faces = {f.face for f in section.fins}
    lines = np.linspace(0, 1, BASE + 1)
    if "back" in faces:
        lines = np.append(np.linspace(-1, 0, FINS + 1)[:-1], lines)
    if "front" in faces:
        lines = np.append(lines, np.linspace(1, 2, FINS + 1)[1:])
    return (lines,)
