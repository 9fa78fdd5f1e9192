"""Factors of a matrix: heat is neither lost nor made, however different the conductances."""

import numpy as np

from fdm.conduction.linear.direct import factorised

SIZE, CONTRAST = 50, 1e6


def test_what_enters_leaves_to_rounding_even_where_conductances_span_many_powers_of_ten():
    """A mix of good and bad conductors by chance, one watt into a corner, films on the far side."""
    conductivity = np.where(np.random.default_rng(0).random((SIZE, SIZE)) < 0.5, 1.0, CONTRAST)
    gx, gy = (2 / (1 / np.delete(conductivity, 0, k) + 1 / np.delete(conductivity, -1, k)) for k in (0, 1))
    film = np.zeros((SIZE, SIZE))
    film[0] = 1e-3
    direct = factorised(np.arange(SIZE**2).reshape(SIZE, SIZE), gx, gy, None, film.ravel())
    watts = np.zeros((SIZE**2, 1))
    watts[-1] = 1
    once, refined = (abs(film.ravel() @ direct.solve(watts, refine) - 1).max() for refine in (False, True))
    assert refined < 1e-10
    assert once > 1e-8  # what factors alone lose
