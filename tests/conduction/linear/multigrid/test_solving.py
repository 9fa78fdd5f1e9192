"""The whole multigrid solver, against scipy's direct solvers and closed forms."""

from itertools import pairwise

import numpy as np
import pytest

from fdm.conduction.linear.multigrid import Equations, Multigrid, cycle, memory, solve
from tests.conduction.linear.multigrid.systems import conductances, lines, plain, refined


def assert_solves(s, gx, gy, solid=None, most=30):
    """For a film's unit field and a heated cell: right to a few parts in 1e9, in balance, in few iterations."""
    there = np.ones(s.shape, bool) if solid is None else solid
    film, heat = np.zeros(s.shape), np.zeros(s.shape)
    film[:, 0] = s[:, 0]
    middle = np.argwhere(there)[there.sum() // 2]
    heat[tuple(middle)] = 1
    solution = solve(Equations(s, gx, gy), np.stack([film, heat]), solid)
    for x, rhs, count in zip(solution.x, (film, heat), solution.iterations):
        exact = refined(s, gx, gy, rhs, solid)
        assert np.abs(x - exact).max() < 3e-9 * np.abs(exact).max()
        inflow = rhs - s * x
        assert abs(inflow.sum()) < 3e-9 * np.maximum(inflow, 0).sum()
        assert count <= most
        assert np.all(x[~there] == 0)


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
    solution = solve(Equations(s, gx, gy), np.stack([watt, unit]))
    assert (s * solution.x[0]).sum() == pytest.approx(1, abs=1e-9)
    np.testing.assert_allclose(solution.x[0], 1 / s.sum(), rtol=200 * film + 1e-9)
    np.testing.assert_allclose(solution.x[1], unit.sum() / s.sum(), rtol=200 * film + 1e-9)


def test_wild_conductivities_fall_back_to_the_direct_solver(monkeypatch):
    monkeypatch.setattr(cycle, "COARSEST", 300)  # more levels than are good for it
    k = np.where(np.random.default_rng(3).random((90, 90)) < 0.5, 1.0, 1e-5)
    system = conductances(k, lines(90), lines(90))
    rhs = np.zeros(k.shape)
    rhs[50, 50] = 1
    solution = solve(Equations(*system), rhs)
    assert 90 < solution.iterations[0] <= 95  # 30 and 60 in vain
    np.testing.assert_allclose(solution.x, refined(*system, rhs), rtol=0, atol=3e-9 * solution.x.max())
    monkeypatch.setattr(memory, "free_memory", lambda: 1e6)
    with pytest.raises(MemoryError, match="give fewer cells"):
        solve(Equations(*system), rhs)


def test_isolated_system_is_refused():
    s, gx, gy = plain(30, 30)
    rhs = np.zeros(s.shape)
    rhs[3, 3] = 1
    with pytest.raises(ArithmeticError):
        solve(Equations(s * 0, gx, gy), rhs)


def test_no_load_means_zero():
    s, gx, gy = plain(30, 30)
    solution = solve(Equations(s, gx, gy), np.zeros((2, 30, 30)))
    assert solution.iterations == (0, 0)
    assert not solution.x.any()


def test_preconditioner_of_a_similar_system_serves():
    s, gx, gy = plain(150, 150)
    rhs = np.zeros(s.shape)
    rhs[70, 70] = 1
    own = solve(Equations(s, gx, gy), rhs)
    other = solve(Equations(s, gx, gy), rhs, multigrid=Multigrid(Equations(s, 1.2 * gx, 0.8 * gy)))
    assert other.iterations[0] <= own.iterations[0] + 4
    np.testing.assert_allclose(other.x, own.x, atol=3e-9 * own.x.max())


def test_iterations_do_not_grow_with_the_grid():
    counts = []
    for n in (100, 200, 400):
        s, gx, gy = plain(n, n)
        rhs = np.zeros(s.shape)
        rhs[n // 3, n // 2] = 1
        counts += solve(Equations(s, gx, gy), rhs).iterations
    assert all(b <= a + 2 for a, b in pairwise(counts))
