"""From values on three grids, each of half the last one's cell sizes, to a value and its band.

The scheme is of second order, so Richardson extrapolation from the finer two gives the value,
v = v2 + (v2 - v1)/3. Being linear in the values, it leaves sums of weights and symmetry intact. The band comes from
what the coarser pair would have said: their extrapolated values differ by what the order assumed has missed.

L.F. Richardson 1911; P.J. Roache, J. Fluids Eng. 116 (1994) 405; I. Celik et al., J. Fluids Eng. 130 (2008) 078001
(the safety that a grid convergence index asks for is in `LEAST` and `SAFETY`).
"""

import numpy as np

from fdm.conduction.conductances import Array

SAFETY = 1.0  # of the change of the extrapolated value
LEAST = 0.05  # of the last change
ROUNDING = 1e-9  # relative to the value


def extrapolated(coarse: Array, middle: Array, fine: Array, rough: bool = False) -> tuple[Array, Array]:
    """Value and band (half-width) of each entry; all arrays of one shape. `rough` where round or slanted edges cut
    cells: the error then falls less regularly, and the last change is added to the band.

    >>> h = np.array([4.0, 2.0, 1.0])
    >>> value, band = extrapolated(*(10 + 0.01 * h**2)[:, None])
    >>> float(value[0]), bool(band[0] < 2e-3)
    (10.0, True)
    """
    value = fine + (fine - middle) / 3
    before = middle + (middle - coarse) / 3
    band = np.maximum(SAFETY * abs(value - before), LEAST * abs(fine - middle))
    if rough:
        band = band + abs(fine - middle)
    return value, band + ROUNDING * abs(value)
