"""How good the answers are, and what makes them better.

A solve uses three grids, each with cells half as wide as those of the last. Values that change by 4 e, then e, from
grid to grid are of second order, and e / 3 away from what an infinitely fine grid would give:

    coarse ──4 e──> middle ──e──> fine ──e / 3──> value ± band

`extrapolation.py` makes values and bands of three vectors, by one rule for all quantities. `refinement.py` splits the
grid intervals whose errors affect the answers most; `fdm.conduction.interval_errors` estimates these errors.
"""
