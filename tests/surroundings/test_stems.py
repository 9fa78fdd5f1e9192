"""Stems of sensors: worked numbers, another program's films, and the fin's equation solved step by step."""

import ht
import numpy as np
import pytest
from scipy.integrate import solve_bvp

from fdm.surroundings.air import air_at, rayleigh
from fdm.surroundings.natural import horizontal_cylinder, sphere
from fdm.surroundings.stems import (
    along_in_air,
    along_in_solid,
    bead_in_air,
    bead_in_solid,
    pull,
    stem_conductances,
    still_lead_film,
)

TUBE = np.pi / 4 * (6e-3**2 - 4e-3**2)  # m2 of metal, of a stainless tube 6/4 mm
COPPER = 390 * np.pi / 4 * 0.2e-3**2  # W m/K of one lead of 0.2 mm


@pytest.mark.parametrize(("film", "length", "expected"), [(50, 0.06, 1.014), (8, 0.06, 8.74), (2000, 0.01, 0.831)])
def test_error_of_immersion_of_a_tube_with_an_adiabatic_tip(film, length, expected):
    stem = stem_conductances(16 * TUBE, along_in_air(film, 6e-3), length)
    assert 20 * pull(0.0, *stem).share == pytest.approx(expected, rel=1e-3)


def test_a_tip_with_a_film_takes_a_part_of_it():
    stem = stem_conductances(16 * TUBE, along_in_air(50, 6e-3), 0.06)
    assert 20 * pull(50 * TUBE, *stem).share == pytest.approx(0.965, rel=1e-3)


@pytest.mark.parametrize(("length", "expected"), [(0.03, 3.501), (0.05, 0.765), (0.1, 0.017)])
def test_a_bead_on_two_insulated_copper_leads(length, expected):
    along = along_in_air(still_lead_film(1e-3, dull=True), 0.2e-3, 0.4e-3)
    assert np.sqrt(along / COPPER) == pytest.approx(76.43, rel=1e-3)
    stem = stem_conductances(2 * COPPER, 2 * along, length)
    assert 20 * pull(bead_in_air(15, 2.4e-3), *stem).share == pytest.approx(expected, abs=6e-4)


@pytest.mark.parametrize(("milliwatts", "expected"), [(0.272, 0.27), (0.625, 0.63)])
def test_self_heating_of_a_bead_whose_dissipation_is_known(milliwatts, expected):
    assert 1e-3 * milliwatts * pull(1e-3, 0.0, 0.0).resistance == pytest.approx(expected, abs=6e-3)


@pytest.mark.parametrize(
    ("diameter", "bare", "insulated"), [(0.1, 47, 36), (0.2, 89, 69), (0.3, 129, 101), (0.5, 202, 160)]
)
def test_length_of_copper_lead_that_leaves_a_hundredth(diameter, bare, insulated):
    d = 1e-3 * diameter
    conduction = 390 * np.pi / 4 * d**2
    for expected, film, thickness in (
        (bare, still_lead_film(d, dull=False), 0.0),
        (insulated, still_lead_film(d + 0.8e-3, dull=True), 0.4e-3),
    ):
        along = along_in_air(film, d, thickness)
        assert pull(0.0, *stem_conductances(conduction, along, 1e-3 * expected)).share == pytest.approx(0.01, rel=0.05)


def test_films_of_leads_and_beads_beside_another_program():
    ra = np.array([1e-4, 1e-2, 1.0, 1e2, 1e5])
    for ours, theirs in (
        (horizontal_cylinder, ht.Nu_horizontal_cylinder_Churchill_Chu), (sphere, ht.Nu_sphere_Churchill)
    ):  # fmt: skip
        assert ours(ra, 0.71) == pytest.approx([theirs(0.71, r / 0.71) for r in ra], rel=1e-3)
    air = air_at(20)
    grashof = float(rayleigh(air, 5, 2e-4) / air.prandtl)
    theirs = ht.Nu_horizontal_cylinder_Churchill_Chu(float(air.prandtl), grashof) * float(air.conductivity) / 2e-4
    assert still_lead_film(2e-4, dull=False) == pytest.approx(theirs)


def test_stem_and_watts_beside_the_fin_equation():
    conduction, along, length, bead, watts, ends = 2.4e-5, 0.12, 0.04, 3e-4, 2.7e-4, (7.0, 30.0)

    def slopes(x, y):
        return np.stack([y[1], along / conduction * (y[0] - ends[0])])

    def gap(inside, outside):  # at the bead, x = 0, and where the stem comes from
        return np.array([conduction * inside[1] + watts - bead * (inside[0] - ends[0]), outside[0] - ends[1]])

    x = np.linspace(0, length, 50)
    found = solve_bvp(slopes, gap, x, np.stack([np.linspace(*ends, 50), np.full(50, 500.0)]), tol=1e-8)
    ours = pull(bead, *stem_conductances(conduction, along, length))
    expected = ends[0] + ours.share * (ends[1] - ends[0]) + ours.resistance * watts
    assert expected == pytest.approx(found.y[0, 0], abs=1e-5)


def test_limits_of_a_stem():
    assert stem_conductances(2e-5, 0.0, 0.05) == pytest.approx((4e-4, 0.0))  # nothing along it: a plain bar
    assert stem_conductances(2e-5, 1e-14, 0.05) == pytest.approx((4e-4, 2.5e-16))
    assert stem_conductances(2e-5, 0.1, 100.0) == pytest.approx((0.0, np.sqrt(2e-6)))  # a long one feels no end


def test_bodies_within_a_solid_beside_closed_forms():
    # two concentric spheres, and two coaxial cylinders: both tend to these as the outer one grows
    assert bead_in_solid(0.034, 2e-3) == pytest.approx(4 * np.pi * 0.034 / (1 / 1e-3 - 1 / 1e3), rel=1e-5)
    assert bead_in_solid(0.034, 2e-3, 0.5) == pytest.approx(2 * np.pi * 0.034 * 1e-3)
    a, b = 0.025, 0.5e-3  # half axes of the slender spheroid: 4 pi k sqrt(a2 - b2) / artanh(sqrt(a2 - b2) / a)
    focus = np.sqrt(a**2 - b**2)
    exact = 4 * np.pi * 0.034 * focus / np.arctanh(focus / a)
    assert along_in_solid(0.034, 0.05, 1e-3) * 0.05 == pytest.approx(exact, rel=1e-3)
