"""Layers through the thickness of a plate and up its fins.

A layer of the plate has the same share of the thickness of every part, and a layer of fins the same share of the height
of every group, so that parts and groups of different sizes need no alignment:

    -1      0                 1            2
     |   |  |  |    |     |   |   |    |   |       lines z
     |      |                 |            |
     tips   back              front        tips

A plate in a single layer has one temperature through its thickness, and its layer is never split.
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


def in_one_layer(z: Array) -> Array:
    """The same lines z, but with the plate in a single layer, which has one temperature."""
    return z[(z <= 0) | (z >= 1)]


def halved_layers(z: Array) -> Array:
    """Lines z with every layer split in its middle, but for a plate in a single layer.

    >>> halved_layers(np.array([0.0, 1.0, 2.0]))
    array([0. , 1. , 1.5, 2. ])
    """
    middles = (z[1:] + z[:-1]) / 2
    single = not ((z > 0) & (z < 1)).any()
    return np.sort(np.concatenate([z, middles[middles != 0.5] if single else middles]))
