"""Radiation of fins beside rays followed by chance, and a numerical integral of a view factor."""

import numpy as np
import pytest

from fdm.surroundings.radiation import (
    adjoining_rectangles,
    between_plates,
    channel_factor,
    facing_rectangles,
    radiative_film,
)


def escaping_share(gap, height, length, emissivity, rays=60_000, seed=3):
    """Share of what the walls of a channel would emit as black bodies that leaves through its front and ends: rays
    start on the walls, and are absorbed or diffusely reflected where they meet one."""
    random = np.random.default_rng(seed)
    size = np.array([gap, length, height])
    sides, base = 2 * height * length, gap * length
    on_side = random.random(rays) < sides / (sides + base)
    place = random.random((rays, 3)) * size
    place[on_side, 0], place[~on_side, 2] = 0.0, 0.0  # both sides are alike
    axis, sign = np.where(on_side, 0, 2), np.ones(rays)
    out = 0.0
    while len(place):
        n, k = len(place), np.arange(len(place))
        up, turn = np.sqrt(random.random(n)), 2 * np.pi * random.random(n)
        way, across = np.empty((n, 3)), np.sqrt(1 - up**2)
        way[k, axis], way[k, (axis + 1) % 3], way[k, (axis + 2) % 3] = (
            up * sign,
            across * np.cos(turn),
            across * np.sin(turn),
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            reach = np.where(way > 0, (size - place) / way, np.where(way < 0, -place / way, np.inf))
        reach[k, axis] = np.where(sign > 0, (size[axis] - place[k, axis]) / up, place[k, axis] / up)
        hit = reach.argmin(1)
        place = np.clip(place + way * reach[k, hit][:, None], 0, size)
        sign = np.where(way[k, hit] > 0, -1.0, 1.0)
        left = (hit == 1) | ((hit == 2) & (sign < 0))
        out += left.sum()
        goes_on = ~left & (random.random(n) >= emissivity)
        place, axis, sign = place[goes_on], hit[goes_on], sign[goes_on]
    return emissivity * out / rays


@pytest.mark.parametrize("gap, height, length", [(20, 20, 100), (8.889, 30, 100), (3.125, 30, 100)])
@pytest.mark.parametrize("emissivity, high", [(1.0, 0.0), (0.9, 0.02), (0.85, 0.04)])
def test_fin_channels_within_what_is_said_of_rays(gap, height, length, emissivity, high):
    found = float(channel_factor(gap, height, length, emissivity))
    rays = escaping_share(gap, height, length, emissivity)
    assert -0.015 < found / rays - 1 < high + 0.015


def test_bare_fins_radiate_up_to_30_percent_less():
    rays = escaping_share(3.125, 30, 100, 0.1)
    assert 1.2 < float(channel_factor(3.125, 30, 100, 0.1)) / rays < 1.35


def test_view_factors_beside_integrals():
    """The double integral over both rectangles, by the midpoint rule."""
    w, h, d = 0.7, 1.3, 0.9
    x, y = ((np.arange(24) + 0.5) / 24 * s for s in (w, h))
    squared = (x[:, None] - x) ** 2
    across = squared[:, :, None, None] + ((y[:, None] - y) ** 2)[None, None]
    assert facing_rectangles(w, h, d) == pytest.approx(
        float((d**2 / (np.pi * (across + d**2) ** 2)).mean() * w * h), rel=2e-3
    )
    edge, length, height = 0.5, 1.2, 0.8
    n = 40
    along, u, v = ((np.arange(n) + 0.5) / n * s for s in (edge, length, height))
    apart = (along[:, None] - along) ** 2
    r2 = apart[:, :, None, None] + (u**2)[None, None, :, None] + (v**2)[None, None, None, :]
    kernel = (u[:, None] * v[None, :])[None, None] / (np.pi * r2**2)
    assert adjoining_rectangles(edge, length, height) == pytest.approx(float(kernel.mean() * edge * height), rel=0.02)


def test_view_factors_of_a_box_sum_to_one():
    b, le, h = 0.004, 0.1, 0.03
    total = facing_rectangles(b, le, h) + 2 * adjoining_rectangles(b, le, h) + 2 * adjoining_rectangles(le, b, h)
    assert total == pytest.approx(1, abs=1e-9)


def test_handbook_numbers():
    assert radiative_film(1, [60, 5], [20, 25]) == pytest.approx([6.994, 5.433], rel=1e-4)
    black = radiative_film(1, [-10, 0, 20, 40, 60, 80], [-10, 0, 20, 40, 60, 80])
    assert black == pytest.approx([4.133, 4.622, 5.714, 6.965, 8.387, 9.990], rel=2e-4)
    assert between_plates([0.9, 0.1, 0.05], 0.9) == pytest.approx([0.8182, 0.0989, 0.0497], abs=5e-5)
    assert channel_factor([20, 8.889, 3.125], [20, 30, 30], 100, 1) == pytest.approx([0.3992, 0.1862, 0.0755], abs=6e-5)
    assert channel_factor(8.889, 30, 100, [0.9, 0.85, 0.1]) == pytest.approx([0.1825, 0.1803, 0.0696], abs=6e-5)
