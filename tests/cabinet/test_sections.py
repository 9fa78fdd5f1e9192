"""What the lumped cabinet takes of its sections, against the sections' own fields and sums by hand."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid

from fdm.cabinet import sections
from fdm.cabinet.losses import LineLoss
from fdm.cabinet.sections import lumped, section_mesh, solve_sections
from fdm.cabinet.thermostat import Thermostat
from fdm.section.model import Environment, Material, Part, Rectangle, Section
from fdm.solving.operating_point import at_operating_point
from fdm.solving.steady import solve
from tests.cabinet import plain_box
from tests.cabinet.plain_box import FILE, FOAM, IN_A_WALL, METAL, PIECE, SEAL_FILE, box, piece, solved


def test_mesh_flows_are_those_of_the_superposed_fields():
    """At any temperatures of all terminals, the flows of the mesh drive fields that have these temperatures."""
    solution = piece()
    names, mesh, band = section_mesh(solution.network)
    assert names == ("inside", "outside", "inside fan", "outside fan", "cold face", "hot face")
    between = ~np.eye(len(names), dtype=bool)
    assert np.allclose(mesh, mesh.T) and (np.diag(mesh) == 0).all() and (mesh[between] != 0).all()
    assert (band[between] > 0).all() and (band[between] < 0.05 * abs(mesh[between]).max()).all()
    rng = np.random.default_rng(3)
    x, y = solution.field.x, solution.field.y
    for _ in range(4):
        t = rng.uniform(-20, 60, len(names))
        drop = t[:, None] - t
        into, leeway = (mesh * drop).sum(1), (band * abs(drop)).sum(1) + 1e-6
        at_work = at_operating_point(solution, dict(zip(names, [*t[:4], *into[4:]])))
        flow = [at_work.balance.flow[name] for name in names]
        assert flow == pytest.approx(into, abs=5 * leeway.max())  # the field is of the finest grid, not extrapolated
        assert abs(into.sum()) < 1e-9
        field = at_work.field.point_temperature
        for face, height in ((4, 0.026), (5, 0.03)):
            on = (x > 0.02 - 1e-9) & (x < 0.04 + 1e-9)
            row = field[on, np.argmin(abs(y - height))]
            mean = trapezoid(row, x[on]) / 0.02
            assert mean == pytest.approx(t[face], abs=0.01 * abs(t[face] - t[face - 2]) + 0.05)


def test_mesh_of_a_plain_wall_is_its_conductance():
    section = Section(
        "plain",
        (Part("wall", (Rectangle((0, 0.1), (0, 0.03)),), FOAM),),
        (Environment("in", 5, 8), Environment("out", 25, 10)),
        border=plain_box.Border(bottom="in", top="out"),
        depth=0.5,
    )
    network = solve(section).network
    names, mesh, band = section_mesh(network)
    assert names == ("in", "out")
    assert mesh[0, 1] == pytest.approx(0.1 * 0.5 / (1 / 8 + 0.03 / 0.03 + 1 / 10), rel=1e-9)
    assert band[0, 1] < 1e-6
    none = np.full((2, 2), np.nan)
    bands = replace(network.band, coupling=np.where(np.eye(2) == 1, none, 0.001))
    _, _, band = section_mesh(replace(network, band=bands))
    assert band == pytest.approx(np.array([[0, 0.001], [0.001, 0]]), rel=1e-9)  # each pair counts once


def test_capacity_of_a_section_is_shared_whole():
    """The shares sum to density x specific heat x volume; each place goes to the terminals that set it."""
    shared = lumped(piece())
    stored, warnings = shared.stored, shared.warnings
    plates, block, foam = 2 * 0.06 * 0.004, 0.02 * 0.026, 0.12 * 0.03 - 0.02 * 0.03
    total = 0.06 * (2700 * 900 * (plates + block) + 30 * 1400 * foam)
    assert sum(stored.values()) == pytest.approx(total, rel=1e-9)
    assert min(stored.values()) > 0 and warnings == ()
    # the block follows the cold face, which is all that it touches but the foam and the plate
    assert stored["cold face"] > stored["hot face"] > 0.2 * 0.06 * 0.06 * 0.004 * 2700 * 900


def test_capacity_about_an_axis_and_of_round_parts():
    disc = Part("wire", (plain_box.Rectangle((0, 0.01), (0, 0.1)),), METAL)
    section = Section(
        "rod", (disc,), (Environment("a", 0, 10),), view="axisymmetric", border=plain_box.Border(bottom="a")
    )
    stored = lumped(solve(section)).stored
    assert stored == {"a": pytest.approx(np.pi * 0.01**2 * 0.1 * 2700 * 900, rel=1e-9)}


def test_a_material_without_density_is_left_out_with_a_warning():
    vague = Material("vague", (0.03, 0.03))
    parts = tuple(replace(p, material=vague) if p.name == "wall" else p for p in PIECE.parts)
    section = replace(PIECE, parts=parts)
    shared = lumped(solve(section, cells=500))
    stored, warnings = shared.stored, shared.warnings
    assert warnings == ("material 'vague' has no density and specific heat; its heat capacity is left out",)
    assert sum(stored.values()) == pytest.approx(0.06 * 2700 * 900 * (2 * 0.06 * 0.004 + 0.02 * 0.026), rel=1e-6)


def test_every_section_is_solved_once(monkeypatch):
    calls = []
    monkeypatch.setattr(sections, "solve", lambda section, *a, **k: calls.append(section.title) or object())
    cabinet = box(
        IN_A_WALL,
        lines=(LineLoss("a", 1, file=SEAL_FILE, bridge="seal"), LineLoss("b", 2, file=SEAL_FILE, bridge="seal")),
        thermostat=Thermostat(1, FILE, "on the skin", IN_A_WALL["inside"], IN_A_WALL["outside"]),
    )
    assert set(solve_sections(cabinet)) == {SEAL_FILE, FILE} and sorted(calls) == sorted(
        [plain_box.SEAL.title, PIECE.title]
    )
    calls.clear()
    known = solved()
    assert solve_sections(cabinet, known)[FILE] is known[FILE] and not calls
    solve_sections(cabinet, {FILE: known[FILE]})
    assert calls == [plain_box.SEAL.title]
