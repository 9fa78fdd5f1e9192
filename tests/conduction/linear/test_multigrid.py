"""The multigrid solver, piece by piece, against scipy's direct solvers."""

from itertools import pairwise

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.linalg import solveh_banded

from fdm.conduction.linear.multigrid import (
    Equations,
    Lines,
    Multigrid,
    Stencil,
    coarsen,
    cycle,
    interpolation,
    memory,
    solve,
)


def lines(n, length=1.0):
    """n cell widths that grow from both ends, the largest about a hundred times the smallest."""
    return np.diff(np.tanh(np.linspace(-3, 3, n + 1)) / np.tanh(3)) * length / 2


def conductances(conductivity, dx, dy, solid=None, bottom=8.0, top=25.0, stretch=1.0):
    """(s, gx, gy) with films on both ends of axis 1; `stretch` times the conductivity along axis 0."""
    rx, ry = dx[:, None] / (2 * conductivity * stretch), dy / (2 * conductivity)
    gx, gy = dy / (rx[1:] + rx[:-1]), dx[:, None] / (ry[:, 1:] + ry[:, :-1])
    s = np.zeros(conductivity.shape)
    s[:, 0] += dx / (1 / bottom + ry[:, 0])
    s[:, -1] += dx / (1 / top + ry[:, -1])
    if solid is not None:
        return s * solid, gx * (solid[1:] & solid[:-1]), gy * (solid[:, 1:] & solid[:, :-1])
    return s, gx, gy


def plain(n, m, **how):
    return conductances(np.ones((n, m)), lines(n), lines(m), **how)


def random_stencil(n, m, seed=0):
    rng = np.random.default_rng(seed)
    s = np.where(rng.random((n, m)) < 0.3, rng.random((n, m)), 0)
    return Stencil(s, 10 ** rng.uniform(-3, 3, (n - 1, m)), 10 ** rng.uniform(-3, 3, (n, m - 1)))


def refined(s, gx, gy, rhs, solid=None):
    """SuperLU, with refinement by flux differences."""
    direct = Stencil(s if solid is None else s + ~solid, gx, gy).factorised()
    x = direct(rhs)
    for _ in range(4):
        x += direct(rhs - Equations(s, gx, gy).outflow(x))
    return x


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


def assert_solves(s, gx, gy, solid=None, most=30):
    """For a film's unit field and a heated cell: right to a few parts in 1e9, in balance, in few iterations."""
    there = np.ones(s.shape, bool) if solid is None else solid
    film, heat = np.zeros(s.shape), np.zeros(s.shape)
    film[:, 0] = s[:, 0]
    middle = np.argwhere(there)[there.sum() // 2]
    heat[tuple(middle)] = 1
    solution = solve(s, gx, gy, np.stack([film, heat]), solid)
    for x, rhs, count in zip(solution.x, (film, heat), solution.iterations):
        exact = refined(s, gx, gy, rhs, solid)
        assert np.abs(x - exact).max() < 3e-9 * np.abs(exact).max()
        inflow = rhs - s * x
        assert abs(inflow.sum()) < 3e-9 * np.maximum(inflow, 0).sum()
        assert count <= most
        assert np.all(x[~there] == 0)


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


@pytest.mark.parametrize("voids", [False, True])
def test_cycle_is_symmetric_positive_definite(voids):
    rng = np.random.default_rng(1)
    solid = np.ones((41, 50), bool)
    solid[10:20, 5:30] = solid[25:26, 10:] = False
    s, gx, gy = conductances(10 ** rng.uniform(-3, 0, solid.shape), lines(41), lines(50), solid if voids else None)
    v_cycle = Multigrid(s, gx, gy, solid if voids else None, np.float64, coarsest=100)
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
    v_cycle = Multigrid(s, gx, gy, None, np.float64, coarsest=100)
    root = np.linalg.cholesky(Stencil(s, gx, gy).matrix().toarray())
    m = np.array([v_cycle(unit.reshape(s.shape)).ravel() for unit in np.eye(s.size)])
    eigenvalues = np.linalg.eigvalsh(root.T @ m @ root)
    assert 0.5 < eigenvalues.min() and eigenvalues.max() < 1 + 1e-9


@pytest.mark.parametrize("stretch", [0.01, 1, 100])
def test_graded_grid_of_any_anisotropy(stretch):
    assert_solves(*plain(120, 110, stretch=stretch), most=12)


def test_holes():
    solid = np.ones((130, 120), bool)
    solid[20:60, 30:50] = solid[70:71, 10:100] = solid[90:128, 60:61] = solid[:10, 70:] = False
    assert_solves(*plain(130, 120, solid=solid), solid, most=20)


def test_thin_walls_and_inclusions():
    k = np.ones((140, 130))
    k[30:32] = 1e-5  # a poor wall of two cells, with a good bolt of one cell through it
    k[25:40, 64] = 1.0
    k[60:100, 20:40] = 1e-5
    k[70:90, 60:100] = 1e5
    assert_solves(*conductances(k, lines(140), lines(130)), most=30)


@pytest.mark.parametrize("shape", [(3, 500), (1, 200), (500, 2), (12, 900)])
def test_strips(shape):
    k = 10 ** np.random.default_rng(2).uniform(-2, 0, shape)
    assert_solves(*conductances(k, lines(shape[0]), lines(shape[1])), most=20)


@pytest.mark.parametrize("film", [1e-4, 1e-8, 1e-12])
def test_very_poor_films(film):
    """Only the films oppose the heat, so the field is flat: watts over their sum, in closed form."""
    s, gx, gy = plain(120, 100)
    s *= film
    watt, unit = np.zeros(s.shape), np.zeros(s.shape)
    watt[40, 50] = 1
    unit[:, 0] = s[:, 0]
    solution = solve(s, gx, gy, np.stack([watt, unit]))
    assert (s * solution.x[0]).sum() == pytest.approx(1, abs=1e-9)
    np.testing.assert_allclose(solution.x[0], 1 / s.sum(), rtol=200 * film + 1e-9)
    np.testing.assert_allclose(solution.x[1], unit.sum() / s.sum(), rtol=200 * film + 1e-9)


def test_wild_conductivities_fall_back_to_the_direct_solver(monkeypatch):
    monkeypatch.setattr(cycle, "COARSEST", 300)  # more levels than are good for it
    k = np.where(np.random.default_rng(3).random((90, 90)) < 0.5, 1.0, 1e-5)
    system = conductances(k, lines(90), lines(90))
    rhs = np.zeros(k.shape)
    rhs[50, 50] = 1
    solution = solve(*system, rhs)
    assert 90 < solution.iterations[0] <= 95  # 30 and 60 in vain
    np.testing.assert_allclose(solution.x, refined(*system, rhs), rtol=0, atol=3e-9 * solution.x.max())
    monkeypatch.setattr(memory, "free_memory", lambda: 1e6)
    with pytest.raises(MemoryError, match="use a coarser grid"):
        solve(*system, rhs)


def test_isolated_system_is_refused():
    s, gx, gy = plain(30, 30)
    rhs = np.zeros(s.shape)
    rhs[3, 3] = 1
    with pytest.raises(ArithmeticError):
        solve(s * 0, gx, gy, rhs)


def test_no_load_means_zero():
    s, gx, gy = plain(30, 30)
    solution = solve(s, gx, gy, np.zeros((2, 30, 30)))
    assert solution.iterations == (0, 0)
    assert not solution.x.any()


def test_preconditioner_of_a_similar_system_serves():
    s, gx, gy = plain(150, 150)
    rhs = np.zeros(s.shape)
    rhs[70, 70] = 1
    own = solve(s, gx, gy, rhs)
    other = solve(s, gx, gy, rhs, multigrid=Multigrid(s, 1.2 * gx, 0.8 * gy))
    assert other.iterations[0] <= own.iterations[0] + 4
    np.testing.assert_allclose(other.x, own.x, atol=3e-9 * own.x.max())


def test_iterations_do_not_grow_with_the_grid():
    counts = []
    for n in (100, 200, 400):
        s, gx, gy = plain(n, n)
        rhs = np.zeros(s.shape)
        rhs[n // 3, n // 2] = 1
        counts += solve(s, gx, gy, rhs).iterations
    assert all(b <= a + 2 for a, b in pairwise(counts))
