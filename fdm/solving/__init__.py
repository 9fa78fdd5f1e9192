"""Solving a section: from the drawing to answers with bands.

    first lines ── refined where the asked numbers feel it ── three grids ── values and bands
                              ^                                                  │
                              └──────── bands that miss their target ────────────┘

`steady.py` has the loop, `check.py` what it would refuse or warn of, `solution.py` what comes out, and `result.py` the
same as plain data.
"""
