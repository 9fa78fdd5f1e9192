"""Interpolation and coarse operators, against sparse matrices."""

import numpy as np
import pytest
import scipy.sparse as sp

from fdm.conduction.linear.multigrid import Stencil, coarsen, interpolation


def random_stencil(n, m, seed=0):
    rng = np.random.default_rng(seed)
    s = np.where(rng.random((n, m)) < 0.3, rng.random((n, m)), 0)
    return Stencil(s, 10 ** rng.uniform(-3, 3, (n - 1, m)), 10 ** rng.uniform(-3, 3, (n, m - 1)))


def prolongation(weights, n, m):
    """P as a sparse matrix, from the weights by place and corner."""
    rows, columns, values = [], [], []
    across = (m + 1) // 2
    for (a, b), corners in weights.items():
        for (p, q), w in corners.items():
            for i, j in np.ndindex(w.shape):
                if 2 * i + a < n and 2 * j + b < m and w[i, j] != 0:
                    rows.append((2 * i + a) * m + 2 * j + b)
                    columns.append((i + p) * across + j + q)
                    values.append(w[i, j])
    return sp.csr_matrix((values, (rows, columns)), shape=(n * m, (n + 1) // 2 * across))


@pytest.mark.parametrize("shape", [(5, 5), (6, 6), (12, 9), (13, 14)])
def test_coarse_operator_is_the_triple_product(shape):
    stencil = random_stencil(*shape)
    for _ in range(2):  # from five-point to nine-point, and on from there
        coarse, weights = coarsen(stencil)
        p = prolongation(weights, *stencil.s.shape)
        expected = (p.T @ stencil.matrix() @ p).toarray()
        np.testing.assert_allclose(coarse.matrix().toarray(), expected, atol=1e-14 * np.abs(expected).max())
        stencil = coarse


def test_interpolation_reproduces_constants():
    stencil = random_stencil(13, 12)
    for _ in range(2):
        coarse, weights = coarsen(stencil)
        p = prolongation(weights, *stencil.s.shape)
        np.testing.assert_allclose(p @ np.ones(p.shape[1]), 1, rtol=1e-14)
        assert p.min() >= 0
        assert coarse.s.sum() == pytest.approx(stencil.s.sum(), rel=1e-13)
        stencil = coarse


def test_interpolation_follows_the_better_conductor():
    """Between a good neighbour and a poor one, 1 to 999: the flux is the same on both sides."""
    gx = np.ones((8, 9))
    gx[3] = 999
    weights = interpolation(Stencil(np.zeros((9, 9)), gx, np.ones((9, 8))))
    assert weights[1, 0][0, 0][1, 2] == pytest.approx(1e-3)
    assert weights[1, 0][1, 0][1, 2] == pytest.approx(0.999)
