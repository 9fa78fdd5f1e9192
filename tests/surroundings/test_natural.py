"""Relations for still air beside an open library, and their limits."""

import numpy as np
import pytest
from ht.conv_free_enclosed import Nu_Nusselt_Rayleigh_Hollands
from ht.conv_free_immersed import Nu_horizontal_plate_Rohsenow, Nu_vertical_plate_Churchill

from fdm.surroundings.air import air_at, rayleigh
from fdm.surroundings.gaps import gap_heated_below, vertical_gap
from fdm.surroundings.natural import (
    CHANNEL_ONE_SIDE,
    channel,
    horizontal_plate_stable,
    horizontal_plate_unstable,
    optimum_gap,
    vertical_plate,
    vertical_plate_laminar,
)

RANDOM = np.random.default_rng(1)
RA, PR = 10 ** RANDOM.uniform(3, 10, 200), RANDOM.uniform(0.6, 1.0, 200)


def test_plates_agree_with_a_library_at_200_random_points():
    library = [Nu_vertical_plate_Churchill(p, r / p) for r, p in zip(RA, PR)]
    assert vertical_plate(RA, PR) == pytest.approx(library, rel=1e-9)
    library = [Nu_horizontal_plate_Rohsenow(p, r / p, buoyancy=False) for r, p in zip(RA, PR)]
    assert horizontal_plate_stable(RA, PR) == pytest.approx(library, rel=1e-3)


def test_gaps_heated_below_are_near_a_form_for_any_fluid():
    """That of Hollands (1984), as the library has it, with another term that matters little in air."""
    ra = RA[(RA > 2000) & (RA < 1e7)]
    library = [Nu_Nusselt_Rayleigh_Hollands(0.71, r / 0.71, buoyancy=True) for r in ra]
    assert gap_heated_below(ra) == pytest.approx(library, rel=0.08)
    assert gap_heated_below([0, 10, 1700]).tolist() == [1, 1, 1]


def test_handbook_numbers():
    """Nu at Pr 0.71, worked out independently from the published formulas."""
    ra = [1e4, 1e5, 1e6, 1e7, 1e8, 1e9]
    assert vertical_plate(ra, 0.71) == pytest.approx([5.43275, 9.21274, 16.5584, 31.2127, 61.0652, 122.857], rel=1e-5)
    assert vertical_plate_laminar(ra[:4], 0.71) == pytest.approx([5.82245, 9.82471, 16.9419, 29.5981], rel=1e-5)
    assert horizontal_plate_unstable([1e3, 1e5, 1e7], 0.71) == pytest.approx([3.07, 8.40, 30.59], rel=2e-3)
    assert horizontal_plate_stable([1e3, 1e5, 1e7], 0.71) == pytest.approx([2.65, 5.16, 11.27], rel=2e-3)
    gaps = vertical_gap([1e3, 1e4, 1e5, 1e5, 1e6], [20, 20, 20, 5, 5])
    assert gaps == pytest.approx([1, 1.312, 3.002, 3.579, 6.694], rel=5e-4)
    assert vertical_gap(0, 20) == 1
    both = [0.041563, 0.387244, 1.307174, 1.702760, 3.307195, 5.899139]
    assert channel([1, 10, 54.3, 100, 1e3, 1e4]) == pytest.approx(both, rel=1e-5)
    one = [0.0825, 0.6525, 1.5097, 1.8206, 3.3150, 5.900]
    assert channel([1, 10, 54.3, 100, 1e3, 1e4], CHANNEL_ONE_SIDE) == pytest.approx(one, rel=1e-3)


@pytest.mark.parametrize("temperature, difference, length", [(25, 5, 0.05), (35, 20, 0.1), (60, 50, 0.3)])
def test_optimum_gap_of_thin_fins_is_that_of_bar_cohen_and_rohsenow(temperature, difference, length):
    air = air_at(temperature)
    best = optimum_gap(air, difference, length)
    scale = (float(rayleigh(air, difference, 1)) / length) ** -0.25
    assert best == pytest.approx(2.714 * scale, rel=1e-3)
    assert channel(rayleigh(air, difference, best) * best / length) == pytest.approx(1.307, rel=1e-3)


def test_optimum_gap_of_thick_fins_is_the_best_of_many():
    air, thickness = air_at(40), 0.003
    gaps = np.linspace(0.002, 0.03, 20_000)
    heat = channel(rayleigh(air, 20, gaps) * gaps / 0.1) / gaps / (gaps + thickness)
    assert optimum_gap(air, 20, 0.1, thickness) == pytest.approx(gaps[heat.argmax()], abs=3e-6)
