"""The conductances one by one, and how they change with conductivities, films and joints."""

from dataclasses import replace

import numpy as np
import pytest

from fdm.conduction.cut_derivatives import varied
from fdm.conduction.derivatives import tangent
from fdm.conduction.inputs import input_factors, inputs_of
from fdm.conduction.system import assemble
from tests.inference.test_sensitivity import bolt, fin, on_a_coarse_grid, rod, wall


@pytest.mark.parametrize("make", [wall, rod, fin, bolt])
def test_unit_fields_are_at_rest_between_the_conductances(make):
    """What reaches each cell through all conductances leaves it: none is missing, none is counted twice."""
    solution = on_a_coarse_grid(make)
    t = tangent(solution.system)
    sign = np.array([-1.0 if i.kind == "joint" else 1.0 for i in inputs_of(solution.section)])
    conductance = t.change.T @ sign  # of first degree in its inputs, so the sum of its derivatives
    nodes = t.units(solution.unit_fields)
    fixed = len(solution.section.fixed_names)
    for field, drops in zip(nodes[:fixed], t.drops(nodes[:fixed])):
        flow = conductance * drops
        left = np.bincount(t.link[0], flow, len(field)) - np.bincount(t.link[1], flow, len(field))
        inner = np.r_[: solution.system.solid.size, solution.system.solid.size + fixed : len(field)]
        assert abs(left[inner]).max() < 1e-8 * abs(flow).max()


def other_inputs(section):
    """The section with other conductivities, films and joints."""
    parts = tuple(
        replace(p, material=replace(p.material, conductivity=tuple(1.3 * k for k in p.material.conductivity)))
        if p.material
        else p
        for p in section.parts
    )
    return replace(
        section,
        parts=parts,
        environments=tuple(replace(e, film=0.8 * e.film) for e in section.environments),
        joints=tuple(replace(j, resistance=1.1 * j.resistance) for j in section.joints),
    )


@pytest.mark.parametrize("make", [wall, rod, fin, bolt])
def test_varied_faces_are_those_of_a_section_with_these_inputs(make):
    system = on_a_coarse_grid(make).system
    section = system.section
    other = other_inputs(section)
    factors = input_factors(section, other)
    true = assemble(other, system.raster.x, system.raster.y)
    i, j = np.array([3]), np.array([4])
    beside = (slice(2, 4), slice(3, 5))
    for f, g in zip(varied(system, factors, i, j).faces, true.faces):
        assert f.through[beside] == pytest.approx(g.through[beside], rel=1e-12)
        for side in (0, 1):
            assert f.conductance(side, beside) == pytest.approx(g.conductance(side, beside), rel=1e-12)


def test_conductances_of_whole_cells_are_scaled_exactly():
    """As resistances in series, joints among them, which resist; several factors at once."""
    system = on_a_coarse_grid(wall).system
    section = system.section
    assert system.cut is None and section.joints
    other = other_inputs(section)
    factors = np.stack([input_factors(section, s) for s in (section, other)])
    found = tangent(system).scaled_conductances(factors)
    for k, s in enumerate((section, other)):
        t = tangent(assemble(s, system.raster.x, system.raster.y))
        assert found[:, k] == pytest.approx(t.by_link @ np.ones(len(t.sign)), rel=1e-11)
