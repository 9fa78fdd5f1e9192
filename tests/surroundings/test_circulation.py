"""Air that a surface moves, against the boundary layer's equations solved here, and against published heat."""

import numpy as np
import pytest
from scipy.integrate import solve_bvp, trapezoid

from fdm.surroundings.air import air_at, rayleigh
from fdm.surroundings.circulation import COOLED, FLOW, channel_flow, grashof, layer_film, plate_flow
from fdm.surroundings.gaps import gap_heated_below
from fdm.surroundings.natural import CHANNEL, vertical_plate_laminar

AIR = air_at(10)


def test_flow_and_cooling_of_the_similarity_solution():
    """f''' + 3 f f'' - 2 f'^2 + theta = 0, theta'' + 3 Pr f theta' = 0 (Ostrach 1953); the stream function at the edge
    gives V' = 4 nu (Gr/4)^(1/4) f(inf), and m is the mean of theta in the flow."""
    pr, far = 0.71, 12.0

    def slopes(_, y):
        f, u, du, theta, dtheta = y
        return np.array([u, du, 2 * u**2 - 3 * f * du - theta, dtheta, -3 * pr * f * dtheta])

    def ends(a, b):
        return np.array([a[0], a[1], a[3] - 1, b[1], b[3]])

    eta = np.linspace(0, far, 200)
    guess = np.array(
        [0.6 * (1 - np.exp(-eta)), 0.3 * eta * np.exp(-eta), 0.6 * np.exp(-eta), np.exp(-eta), -np.exp(-eta)]
    )
    found = solve_bvp(slopes, ends, eta, guess, tol=1e-6, max_nodes=20000)
    assert found.success
    f, u, _, theta, dtheta = found.sol(np.linspace(0, far, 4001))
    assert 4 * 0.25**0.25 * f[-1] == pytest.approx(FLOW, rel=1e-3)
    cooled = trapezoid(u * theta, dx=far / 4000) / f[-1]
    assert cooled == pytest.approx(COOLED, rel=2e-3)
    assert 4 * f[-1] * cooled * pr == pytest.approx(-4 / 3 * dtheta[0], rel=1e-3)  # all the heat is in the air


def test_the_air_carries_what_the_plate_gives_off():
    """Churchill and Chu's laminar film lies within 15 % of the similarity solution's heat."""
    for difference, height in ((10, 0.1), (20, 0.2), (30, 0.3)):
        carried = AIR.density * AIR.specific_heat * plate_flow(AIR, difference, height) * COOLED / height
        film = vertical_plate_laminar(rayleigh(AIR, difference, height), AIR.prandtl) * AIR.conductivity / height
        assert carried == pytest.approx(float(film), rel=0.15)
        assert grashof(AIR, difference, height) == pytest.approx(rayleigh(AIR, difference, height) / AIR.prandtl)


def test_channels_between_their_limits():
    """Narrow: El / 24 of Bar-Cohen and Rohsenow (1984), all air as cold as the fins. Wide: two plates."""
    gaps, height, difference = np.array([1e-4, 0.2]), 0.1, 20.0
    (narrow, wide), cooled = channel_flow(AIR, difference, height, gaps)
    assert cooled == pytest.approx([1, COOLED], rel=1e-4)
    elenbaas = float(rayleigh(AIR, difference, gaps[0])) * gaps[0] / height
    heat = elenbaas / CHANNEL**0.5 * AIR.conductivity / gaps[0] * height  # W/K for each metre of one wall
    assert AIR.density * AIR.specific_heat * narrow == pytest.approx(heat, rel=1e-6)
    assert wide == pytest.approx(float(plate_flow(AIR, difference, height)), rel=1e-4)
    flow, cooled = channel_flow(AIR, difference, height, np.geomspace(1e-3, 0.1, 30))
    assert (np.diff(flow) > 0).all() and (np.diff(cooled) < 0).all()


def test_layers_rest_or_mix():
    assert layer_film(AIR, 3.0, 0.2) == pytest.approx(float(AIR.conductivity) / 0.2)
    ra = rayleigh(AIR, 3.0, 0.02)
    assert layer_film(AIR, -3.0, 0.02) == pytest.approx(float(gap_heated_below(ra) * AIR.conductivity) / 0.02)
