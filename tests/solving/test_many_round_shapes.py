"""Many discs, and polygons of many corners, on grids without lines of their own; spheres on the axis."""

import math
from functools import cache

import numpy as np
import pytest

from fdm import solve
from fdm.errors import InputError
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Section
from validation.cases import air, box, held, solid
from validation.orders import disc_in_block

CELLS = 150_000  # of the finest grid


def block(shapes, conductivity):
    part = solid("shapes", conductivity, *shapes) if conductivity else Part("shapes", tuple(shapes), void=True)
    return Section(
        "block", (solid("block", 1, box(0, 1, 0, 1)), part), held("left", "right"), border=Border("left", "right")
    )


def scattered(count):
    rng, discs = np.random.default_rng(1), []
    while len(discs) < count:
        radius = math.sqrt(0.25 / math.pi / count) * 2 ** rng.uniform(-1, 0.3)
        centre = rng.uniform(1.05 * radius, 1 - 1.05 * radius, 2)
        if all(math.hypot(*(centre - d.centre)) > 1.08 * (radius + d.radius) for d in discs):
            discs.append(Disc(tuple(centre.tolist()), radius))
    return discs


def coupling(solution):
    return solution.network.values.coupling[0, 1], solution.network.band.coupling[0, 1]


@pytest.mark.parametrize("conductivity, finer", [(1000, 1.43696), (0, 0.706266)])
def test_a_hundred_scattered_discs(conductivity, finer):
    solution = solve(block(scattered(100), conductivity))
    value, band = coupling(solution)
    assert solution.grid.target_met and solution.grid.cells[-1] < CELLS
    assert abs(value - finer) < band < 0.005 * value


@pytest.mark.parametrize("conductivity", [0.1, 10])
def test_a_lattice_of_discs(conductivity):
    lattice = [Disc(((a + 0.5) / 9, (b + 0.5) / 9), 0.3 / 9) for a in range(9) for b in range(9)]
    solution = solve(block(lattice, conductivity))
    value, band = coupling(solution)
    assert solution.grid.cells[-1] < CELLS
    assert abs(value - disc_in_block(conductivity).true) < band < 0.005 * value


DISC = Disc((0.5, 0.5), 0.3)


@cache
def coupling_of_the_disc(conductivity):
    return coupling(solve(block([DISC], conductivity)))


@pytest.mark.parametrize("corners", [181, 721])
@pytest.mark.parametrize("conductivity", [10, 0])
def test_a_polygon_of_many_corners_conducts_as_the_disc_of_its_area(corners, conductivity):
    polygon = Polygon(tuple(map(tuple, DISC.outline(corners).tolist())))
    (value, band), (expected, more) = (
        coupling(solve(block([polygon], conductivity))),
        coupling_of_the_disc(conductivity),
    )
    assert abs(value - expected) < band + more < 0.01 * value


def shell(inner, outer, conductivity, *films):
    parts = (
        air("outside", box(0, 1.1 * outer, -1.1 * outer, 1.1 * outer)),
        solid("shell", conductivity, Disc((0, 0), outer)),
        air("inside", Disc((0, 0), inner)),
    )
    environments = tuple(Environment(name, 0, film) for name, film in zip(("inside", "outside"), films))
    return Section("shell", parts, environments, view="axisymmetric")


@pytest.mark.parametrize("inner, films", [(0.5, (math.inf, math.inf)), (0.05, (math.inf, math.inf)), (0.5, (3, 2))])
def test_a_spherical_shell(inner, films):
    value, band = coupling(solve(shell(inner, 1, 1.5, *films)))
    spheres = 4 * math.pi * inner**2, 4 * math.pi
    resistance = (1 / inner - 1) / (4 * math.pi * 1.5) + sum(1 / (h * a) for h, a in zip(films, spheres))
    assert abs(value - 1 / resistance) < band < 0.005 * value


def test_a_sphere_in_a_section_that_ends_at_the_axis():
    held_ball = shell(0.5, 1, 1, 5, 5)
    assert held_ball.extent == (0, 1.1, -1.1, 1.1)
    with pytest.raises(InputError, match="reaches x < 0"):
        Section("off", (solid("ball", 1, Disc((0.1, 0), 0.5)),), held("air"), view="axisymmetric")
