"""Types of arrays that the files of this folder share."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Integers = NDArray[np.intp]
Bools = NDArray[np.bool_]
Owners = NDArray[np.int32]  # see properties.py

# Conductances between pairs of cells, or of unknowns: the numbers of the two, and the W/K between them, (L,) each.
# Where two cells are not neighbours, or the link is one of many that make up an element, the W/K may be negative.
Links = tuple[Integers, Integers, Array]
