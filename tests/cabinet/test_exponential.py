"""The integrator, against closed forms and another integrator: stiff, nearly linear, oscillating, running away."""

import math
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.linalg import expm

from fdm.cabinet.exponential import Event, integrate, phis

TOLERANCE = 1e-3


@dataclass(frozen=True)
class Nearly:
    """dy/dt = matrix y + bent y^2, each of y for itself."""

    matrix: np.ndarray
    bent: float = 0.0

    def rate(self, y):
        return self.matrix @ y + self.bent * y**2

    def slopes(self, y):
        return self.matrix + np.diag(2 * self.bent * y)


STIFF = np.array([[-1000.0, 1000.0, 0.0], [0.5, -1.0, 0.5], [0.0, 0.01, -0.02]])


def test_what_is_linear_is_exact_in_few_steps_however_stiff():
    start, times = np.array([1.0, 10.0, 100.0]), np.array([0.0, 1e-3, 0.1, 7.0, 300.0])
    found = integrate(Nearly(STIFF), start, (0.0, 300.0), TOLERANCE)
    truth = np.array([expm(STIFF * t) @ start for t in times])
    assert found.at(times) == pytest.approx(truth, abs=1e-7)
    assert found.last == pytest.approx(truth[-1], abs=1e-7) and found.event is None and found.end == 300
    assert len(found.steps) < 10


@pytest.mark.parametrize("unlike", [0.0, 1e-15, 1e-9, 1e-5, 0.1])
@pytest.mark.parametrize("count", [2, 3, 7])
def test_nodes_alike_one_after_another_in_a_flow_are_exact(unlike, count):
    """Their slopes have one eigenvector; those of nodes nearly alike have some that hardly differ. In closed form, as
    scipy's exponentials of triangular matrices such as these lose digits."""
    k, t = np.arange(count), np.array([0.1, 1.0, 3.0, 10.0])
    slopes, start = np.diag(-1 - unlike * k) + np.eye(count, k=-1), 100.0 * (k == 0)
    stretched = -np.expm1(-unlike * t) / unlike if unlike else t
    truth = 100 * np.exp(-t[:, None]) * stretched[:, None] ** k / [math.factorial(n) for n in k]
    found = integrate(Nearly(slopes), start, (0.0, 10.0), TOLERANCE)
    assert found.at(t) == pytest.approx(truth, abs=1e-6) and len(found.steps) < 10
    rates = found.steps[0].at(np.zeros(1))[1]
    assert rates[0] == pytest.approx(slopes @ start)


@pytest.mark.parametrize(
    "matrix",
    [STIFF, np.array([[-1.0, 5.0, 0.0], [-5.0, -1.0, 0.0], [1.0, 0.0, -0.1]]), np.eye(3, k=-1) - np.eye(3)],
    ids=("stiff", "oscillating", "one after another"),
)
def test_what_bends_is_as_close_as_is_asked_for_and_closer(matrix):
    balance, start = Nearly(matrix, -0.02), np.array([10.0, 20.0, 30.0])
    times = np.linspace(0, 20, 41)
    truth = solve_ivp(
        lambda _, y: balance.rate(y), (0, 20), start, "LSODA", times, rtol=1e-10, atol=1e-10
    ).y.T  # fmt: skip
    off = [abs(integrate(balance, start, (0.0, 20.0), tolerance).at(times) - truth).max() for tolerance in (1e-2, 1e-5)]
    assert off[0] < 1e-2 and off[1] < 1e-5
    rates = integrate(balance, start, (0.0, 20.0), TOLERANCE).steps[0].at(np.zeros(1))[1]
    assert rates[0] == pytest.approx(balance.rate(start))


def test_an_event_ends_it_where_it_passes_zero_in_its_direction():
    """A decaying oscillation e^-t cos 5t first falls through 0 at pi/10, and first rises through it at 3 pi/10."""
    balance, start = Nearly(np.array([[-1.0, 5.0], [-5.0, -1.0]])), np.array([1.0, 0.0])
    falling, rising = (Event(lambda y, _: y[:, 0], direction) for direction in (-1, 1))
    never = Event(lambda y, _: y[:, 0] - 2, 1)
    found = integrate(balance, start, (0.0, 10.0), TOLERANCE, [never, rising])
    assert found.end == pytest.approx(0.3 * math.pi, abs=1e-5) and found.event == 1
    assert found.last[0] == pytest.approx(0, abs=1e-5)
    assert found.at(np.array([found.end]))[0] == pytest.approx(found.last)
    sooner = found.until(falling)
    assert sooner.end == pytest.approx(0.1 * math.pi, abs=1e-5) and sooner.last[0] == pytest.approx(0, abs=1e-5)
    assert found.until(never) is found
    at_rest = Event(lambda _, rates: abs(rates).max(1) - 0.1, -1)
    end = integrate(balance, start, (0.0, 10.0), TOLERANCE, [at_rest]).end
    assert np.exp(-end) * math.sqrt(26) >= 0.1 and end > 3


def test_what_runs_away_is_refused():
    """dy/dt = y^2 has no value beyond t = 1/y0."""
    with pytest.raises(ArithmeticError, match="its temperatures run away"):
        integrate(Nearly(np.array([[0.0]]), 1.0), np.array([1.0]), (0.0, 2.0), TOLERANCE)


def test_phis_are_their_own_recursion_on_both_sides_of_the_series():
    z = np.array([0.0, 1e-9, 0.0199, 0.0201, -0.5, -30.0, -1e9, 0.01j, 2j - 3])
    sums = np.array(
        [[sum(x**k / math.factorial(k + n) for k in range(60)) for x in z[[0, 1, 2, 3, 4, 7]]] for n in range(1, 5)]
    )
    assert phis(z)[:, [0, 1, 2, 3, 4, 7]] == pytest.approx(sums, rel=1e-9)
    phi = phis(z)
    for k in (1, 2, 3):
        assert z * phi[k] + 1 / math.factorial(k) == pytest.approx(phi[k - 1], rel=1e-9, abs=1e-12)
