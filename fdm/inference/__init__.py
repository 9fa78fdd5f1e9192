"""What the numbers behind an answer do to it, and what measurements say of them.

An answer y depends on inputs x: conductivities, films, joints, lengths, temperatures and watts. From the fields of one
solve follow dy/dx (`adjoint.py`, `sensitivity.py`, `lengths.py`), what a resistance is made of (`budget.py`), and what y
becomes where x moves further (`reanalysis.py`), without solving anew. With these,

    uncertainty of y:  u(y)^2 = sum over x of (dy/dx u(x))^2          (`uncertainty.py`)
    a fit:             x that make sum of ((measured - y(x)) / u)^2 least   (`measured.py`, `fit.py`)
"""
