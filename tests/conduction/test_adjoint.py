"""Fields sought among unit fields, adjoints and first changes, against solves with other inputs on the same grid."""

from dataclasses import fields, replace

import numpy as np
import pytest

from fdm.answers.kinds import solved
from fdm.conduction.adjoint.system import adjoint_system
from fdm.conduction.inputs import input_factors
from fdm.conduction.network import NetworkValues
from fdm.conduction.systems import conduction_system
from fdm.section.model import Border, Environment, Polygon, Section, Segment, Sensor, Source
from tests.inference.test_sensitivity import bolt, fin, on_a_coarse_grid, rod, wall
from validation.cases import box, solid


def slope():
    """A slanted edge, with sensors on both sides of it and on it, and heat in the part above it."""
    places = [(0.01 + 0.004 * k, 0.014 + 0.001 * k + 0.0012 * side) for k in range(6) for side in (-2, -1, 0, 1, 2)]
    return Section(
        "slope",
        (
            solid("foam", 0.03, box(0, 0.04, 0, 0.03)),
            solid("board", 0.4, Polygon(((0, 0.012), (0.04, 0.022), (0.04, 0.03), (0, 0.03)))),
            solid("core", 5.0, Polygon(((0.012, 0.005), (0.02, 0.003), (0.02, 0.007)))),
        ),
        (Environment("in", 5, 8), Environment("out", 25, 10)),
        border=Border(bottom="in", top="out"),
        sources=(
            Source("board", part="board", heat=2),
            Source("core", part="core", heat=1),
            Source("face", segment=Segment((0, 0), (0.004, 0.01)), heat=1),
        ),
        sensors=tuple(Sensor(f"at {k}", at=place) for k, place in enumerate(places)),
    )


def unread():
    return replace(slope(), sources=(), sensors=())


def adjoint_on(make):
    """The adjoint system on the coarsest grid, and each heat terminal's highest temperature by a watt at each."""
    grid = on_a_coarse_grid(make).grids[0]
    count = len(grid.system.heat_inputs)
    peaks = [(h, by) for h in range(count) for by in range(count)]
    return grid, adjoint_system(grid.system, peaks)


def rows(network):
    return {f.name: np.asarray(getattr(network, f.name)) for f in fields(NetworkValues)}


def with_inputs(section, size):
    """The section with all conductivities, films and joints moved by up to a share `size`, each its own."""
    rng = np.random.default_rng(5)

    def moved(value):
        return value * (1 + size * rng.uniform(-1, 1))

    parts = tuple(
        replace(p, material=replace(p.material, conductivity=(k := moved(p.material.conductivity[0]), k)))
        if p.material and len(set(p.material.conductivity)) == 1
        else p
        for p in section.parts
    )
    films = tuple(replace(e, film=moved(e.film)) for e in section.environments)
    joints = tuple(replace(j, resistance=moved(j.resistance)) for j in section.joints)
    return replace(section, parts=parts, environments=films, joints=joints)


@pytest.mark.parametrize("make", [wall, rod, fin, bolt, slope])
def test_as_solved_is_what_the_solve_says(make):
    grid, adjoint = adjoint_on(make)
    true, found = rows(grid.answers.network), rows(adjoint.as_solved.network)
    for name, values in true.items():
        read = values != 1.0  # a sensor in an air reads no field
        assert (read.sum(-1) > 0).any() == (values.size > 0)
        assert found[name][read] == pytest.approx(values[read], rel=1e-7, abs=1e-9 * abs(values).max(initial=0)), name


@pytest.mark.parametrize("make", [wall, rod, fin, bolt, slope])
def test_other_inputs_are_those_of_a_solve_with_them(make):
    """Errors are of a high order in the size of the change."""
    grid, adjoint = adjoint_on(make)
    section, (x, y) = grid.system.section, grid.system.lines[:2]
    before, as_solved = rows(grid.answers.network), rows(adjoint.as_solved.network)
    for size, exact in ((1e-3, 1e-8), (1e-1, 1e-4)):
        ends = [with_inputs(section, s) for s in (-size, size)]
        answers = adjoint.with_scaled_inputs(np.array([input_factors(section, end) for end in ends]))
        for end, answer in zip(ends, answers):
            true = rows(solved(conduction_system(end, x, y)).answers.network)
            for name, found in rows(answer.network).items():
                largest = abs(before[name]).max(initial=0)
                assert found - as_solved[name] == pytest.approx(true[name] - before[name], abs=exact * largest), name


def test_a_section_in_which_nothing_is_read_has_its_couplings():
    _, adjoint = adjoint_on(unread)
    found = adjoint.changes()
    assert found.coupling.shape == (2, 2, 5) and found.weight.shape == (0, 2, 5)
    assert found.coupling[0, 1].sum() == pytest.approx(adjoint.as_solved.network.coupling[0, 1], rel=1e-9)  # Euler


def test_what_is_read_beside_a_slanted_edge_changes_as_in_solves():
    """With each conductivity and film by itself."""
    grid, adjoint = adjoint_on(slope)
    section, (x, y) = grid.system.section, grid.system.lines[:2]
    changes = adjoint.changes()
    step, count = 1e-4, len(section.parts) + len(section.environments)
    for row in range(count):
        ends = []
        for factor in (1 - step, 1 + step):
            parts = tuple(
                replace(p, material=replace(p.material, conductivity=(p.material.conductivity[0] * factor,) * 2))
                if k == row
                else p
                for k, p in enumerate(section.parts)
            )
            films = tuple(
                replace(e, film=e.film * factor) if len(parts) + k == row else e
                for k, e in enumerate(section.environments)
            )
            other = replace(section, parts=parts, environments=films)
            ends.append(rows(solved(conduction_system(other, x, y)).answers.network))
        for name in ("weight", "resistance", "resistance_max"):
            found = getattr(changes, name)[..., row]
            true = (ends[1][name] - ends[0][name]) / (2 * step)
            assert found == pytest.approx(true, abs=1e-6 * abs(ends[0][name]).max()), (name, row)
