"""How answers depend on the numbers behind them, and what measurements tell about these numbers.

An answer y depends on inputs x: conductivities, films, joints, lengths, temperatures and watts. The fields of one solve
give dy/dx (`adjoint.py`, `sensitivity.py`; for lengths, `lengths.py` solves again), the parts of a resistance
(`budget.py`), and y at other x (`reanalysis.py`), without a new solve. With these,

    uncertainty of y:  u(y)^2 = sum over x of (dy/dx u(x))^2          (`uncertainty.py`)
    a fit:             x that make sum of ((measured - y(x)) / u)^2 least   (`measured.py`, `fit.py`)
"""
