"""The V-cycle as a matrix: a preconditioner of conjugate gradients has to be symmetric and positive definite."""

import numpy as np
import pytest

from fdm.conduction.linear.multigrid import Equations, Multigrid, Stencil
from tests.conduction.linear.multigrid.systems import conductances, lines, plain


@pytest.mark.parametrize("voids", [False, True])
def test_cycle_is_symmetric_positive_definite(voids):
    rng = np.random.default_rng(1)
    solid = np.ones((41, 50), bool)
    solid[10:20, 5:30] = solid[25:26, 10:] = False
    s, gx, gy = conductances(10 ** rng.uniform(-3, 0, solid.shape), lines(41), lines(50), solid if voids else None)
    v_cycle = Multigrid(Equations(s, gx, gy), solid if voids else None, np.float64, coarsest=100)
    assert len(v_cycle.levels) >= 2
    inside = np.argwhere(solid)[::150] if voids else np.argwhere(np.ones_like(solid))[::150]
    m = np.empty((len(inside), len(inside)))
    for k, at in enumerate(inside):
        unit = np.zeros(solid.shape)
        unit[tuple(at)] = 1
        m[:, k] = v_cycle(unit)[tuple(inside.T)]
    np.testing.assert_allclose(m, m.T, atol=1e-12 * np.abs(m).max())
    assert np.linalg.eigvalsh((m + m.T) / 2).min() > 0


def test_cycle_never_overshoots():
    """Eigenvalues of M A lie in (0, 1]: a Galerkin coarse operator with an exact coarsest solution."""
    s, gx, gy = plain(19, 18)
    v_cycle = Multigrid(Equations(s, gx, gy), None, np.float64, coarsest=100)
    root = np.linalg.cholesky(Stencil(s, gx, gy).matrix().toarray())
    m = np.array([v_cycle(unit.reshape(s.shape)).ravel() for unit in np.eye(s.size)])
    eigenvalues = np.linalg.eigvalsh(root.T @ m @ root)
    assert 0.5 < eigenvalues.min() and eigenvalues.max() < 1 + 1e-9
