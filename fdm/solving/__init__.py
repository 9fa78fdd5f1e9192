"""Solving a section: from the drawing to answers with bands.

    first lines ── refined where the asked numbers feel it ── three grids ── values and bands
                              ^                                                  │
                              └──────── bands that miss their target ────────────┘

`steady.py` has the loop, `grids.py` the three grids, `check.py` finds what it would refuse or warn of
(`assumptions`: what a drawing takes for granted), `solution.py` holds the result, and `result.py` turns it into
plain data. Where numbers of a section follow its temperatures, `frozen.py` finds them before this loop, on a coarse
grid, and compares them with its answers. Without a new solve, `operating_point.py` answers for other temperatures and
watts, `ranges.py` for all of a range, and `placement.py` for a sensor at any place.
"""
