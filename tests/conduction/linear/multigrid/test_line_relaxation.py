import numpy as np
import pytest
from scipy.linalg import solveh_banded

from fdm.conduction.linear.multigrid import Lines


@pytest.mark.parametrize("n", [1, 2, 3, 8, 37])
def test_cyclic_reduction_is_the_banded_solution(n):
    rng = np.random.default_rng(n)
    link = 10 ** rng.uniform(-3, 3, (n - 1, 4))
    diagonal = rng.random((n, 4)) + 0.01
    diagonal[1:] += link
    diagonal[:-1] += link
    b = rng.random((n, 4))
    x = b.copy()
    Lines(diagonal, link, np.empty(4 * n)).solve(x)
    for k in range(4):
        band = np.array([np.append(0, -link[:, k]), diagonal[:, k]])
        np.testing.assert_allclose(x[:, k], solveh_banded(band[-n:], b[:, k]), rtol=1e-9)
