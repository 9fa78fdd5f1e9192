"""The pieces of the benchmark run, and its rivals agree. Nothing about times: those are for the benchmark itself."""

import math
from dataclasses import replace

import numpy as np
import pytest

from validation import benchmark as b
from validation.finite_elements import network

TINY = replace(
    b.QUICK, targets=(0.02,), runs=1, quads=0.0, triangles=0.0, cells=(2e3, 4e3, 1.6e4), alone=1.6e4, limit=60,
    reference=0.5,
)  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = str(tmp_path_factory.mktemp("problem"))
    b.write_problem(path, 3e3)
    b.write_matrix(path)
    b.write_reference(path)
    return path


def test_all_three_solvers_give_the_same_network():
    section = b.sections()["corner_lid"]
    ours = b.compared(b.solve(section, 0.005).network.values)
    quads, triangles = b.compared(network(section, 3)), b.compared(b.triangles(section, 3))
    np.testing.assert_allclose(quads, ours, rtol=1e-3)
    np.testing.assert_allclose(triangles, ours, rtol=2e-3)


def test_triangles_know_joints():
    section = b.sections()["light_bar"]
    np.testing.assert_allclose(b.triangles(section, 2).resistance, network(section, 2).resistance, rtol=2e-3)


def test_polygon_in_boxes_covers_the_same_area():
    drawn = b.read_section(b.GEOMETRIES / "corner_lid.toml")
    skin = drawn.part_named["outer skin of the lid"]
    boxes = b.boxed(skin).shapes
    outline = skin.shapes[0].outline()
    x, y = outline.T
    area = abs(x @ np.roll(y, 1) - y @ np.roll(x, 1)) / 2
    assert sum(np.ptp(s.x) * np.ptp(s.y) for s in boxes) == pytest.approx(area)


def meshes_of(errors, times):
    return [b.Mesh(k, b.Seconds(t, t), np.array([1 + e])) for k, (e, t) in enumerate(zip(errors, times))]


def test_cheapest_pair_must_state_the_error_and_have_it():
    one = np.ones(1)
    found = meshes_of((0.5, 0.011, 0.004, 0.001), (1, 2, 4, 8))
    coarse, fine = b.cheapest(found, one, one, 0.01)
    assert (coarse.number, fine.number) == (1, 2)
    assert b.cheapest(found, one, one, 1e-4) is None


def test_time_foretold_follows_both_slopes():
    """Error halves and time is fourfold with each mesh: an eighth of the error takes three more meshes."""
    one = np.ones(1)
    found = meshes_of(0.8 / 2.0 ** np.arange(4), 4.0 ** np.arange(4))
    assert b.foretold(found, one, one, 0.1 / 8).processor == pytest.approx((16 + 64) * 4**3)


def test_solvers_of_large_grids_agree(folder):
    runs = [b.run_multigrid(folder), b.run_superlu(folder, False), b.run_superlu(folder, True)]
    assert all(run.error < b.ACCURACY for run in runs)
    assert all(0 <= run.memory < 0.1 for run in runs)  # GB: a few thousand cells take some MB


@pytest.mark.parametrize("kind", b.AMG)
def test_algebraic_multigrid_stops_at_the_same_error(folder, kind):
    pytest.importorskip("pyamg")
    run = b.run_pyamg(folder, kind, math.inf)
    assert run.error <= b.ACCURACY and not run.stalled and run.iterations > 1


def test_extrapolated_run_follows_the_slope():
    def run(total):
        return b.Run(total, 0.0, total, 0, 0.0)

    onwards = b.extrapolated_run(4000, [(1000, run(1.0)), (2000, run(3.0))])
    assert onwards.extrapolated and onwards.total == pytest.approx(9) and onwards.memory == pytest.approx(9)
    assert b.extrapolated_run(4000, [(1000, run(1.0)), (2000, None)]) is None


def test_hard_grids_converge():
    for name, (count, error) in b.robustness(48, check=True).items():
        assert 1 <= count <= 30, name
        assert error < b.ACCURACY, name


def test_cycle_touches_more_than_its_coefficients(folder):
    s, gx, gy, _, solid = b.problem(folder)
    cycle = b.multigrid.Multigrid(b.multigrid.Equations(s, gx, gy), solid, coarsest=200)
    stored = sum(
        a.nbytes for z in (cycle.levels[0].rows, cycle.levels[0].columns) for x in z.lines for u in x.steps for a in u
    )
    assert b.touched(cycle) > 2 * stored > 0


def test_process_of_its_own_ends_at_its_limit():
    assert b.alone(math.hypot, 3.0, 4.0) == 5.0
    assert b.alone(sum, range(10**12), limit=0.2) is None


def test_report_has_every_table():
    contests = b.contest("bolt", TINY)
    run = b.Run(1.0, 2.0, 0.5, 7, 1e-9)
    direct = replace(run, setup=40.0, memory=3.0)
    grids = {10**6: {b.OURS: run, b.COLUMNS: direct, b.SYMMETRIC: None}, 4 * 10**6: {b.OURS: replace(run, setup=8.0)}}
    assert contests[0].ours.true < contests[0].target
    assert "| bolt | 2.00% |" in b.answers_table(contests)
    assert "14" in b.grids_table(grids, 1.0)
    rate = b.Pace(16, 30.0, {1: 30.0, 2: 61.0}, 0.0)
    goals = b.goals_table([replace(c, target=0.001) for c in contests], grids, rate)
    assert goals.count("| yes |") + goals.count("| no |") == 7
