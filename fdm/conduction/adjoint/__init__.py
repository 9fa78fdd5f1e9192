"""Adjoints: how the answers of one system change with its conductivities, films and joints, without a new solve.

A *reader* reads a field with fixed weights, w . T: a sensor, or the highest temperature of a heat terminal. Its
*adjoint* is the field of one watt that is spread by the same weights. Where conductances change by dg, the reading of a
field changes, to first order, by

    d(w . T) = - sum over all conductances of dg * (drop of T) * (drop of the adjoint)

For the entries of the network the adjoints are unit fields, which the solve has anyway. These changes need neither
another grid's fields nor the finest grid: the grid before it will do, with a quarter of the cells.

Where the inputs change further, the new fields are sought among sums of known fields (Ritz).

Files: `readers` (what is read, and with which weights), `ritz` (the search among sums of known fields), `system` (the
adjoint system itself).
"""

from fdm.conduction.adjoint.system import AdjointSystem, adjoint_system

__all__ = ["AdjointSystem", "adjoint_system"]
