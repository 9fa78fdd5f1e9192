"""Parts that are less deep than the drawing, solved: both bounds about the truth of three dimensions, and where they
are told."""

import json

import numpy as np
import pytest
from skfem import Basis, BilinearForm, ElementHex1, FacetBasis, Functional, LinearForm, MeshHex, condense, solve
from skfem.helpers import dot, grad

import fdm
from fdm.cli.main import main
from fdm.solving.check import check_section

FILM = 8.0
WALL = """
title = "wall"
unit = "mm"
depth = 40
let = {{ n = 1, steel = 50 }}
environment = [{{ name = "in", temperature = 7, film = 8 }}, {{ name = "out", temperature = 30, film = 8 }}]
material = {{ "own steel" = {{ conductivity = "steel", density = 7800, specific_heat = 500 }} }}
part = [
    {{ name = "foam", material = "XPS foam", rectangle = {{ x = [0, 80], y = [0, 30] }} }},
    {{ name = "in skin", material = "{skin}", rectangle = {{ x = [0, 80], y = [-2, 0] }} }},
    {{ name = "skin", material = "{skin}", rectangle = {{ x = [0, 80], y = [30, 32] }} }},
    {{ name = "bolt", material = "own steel", rectangle = {{ x = [38, 42], y = [-2, 32] }}, depth = 4, count = "n" }},
]
border = {{ bottom = "in", top = "out" }}
bridge = [{{ remove = ["bolt"] }}]
"""


def truth(skin: float) -> float:
    """chi, W/K, of a square steel bolt of 4 mm in its piece of wall, by finite elements in three dimensions: a quarter
    of it, between both airs."""

    def lines(*ends):
        return np.unique(np.concatenate([np.geomspace(1, 1 + b - a, n) - 1 + a for a, b, n in ends])) * 1e-3

    side = lines((0, 2, 3), (2, 40, 10)), lines((0, 2, 3), (2, 20, 8))
    y = np.array([-2, -1, 0, 1, 4, 9, 15, 21, 26, 29, 30, 31, 32]) * 1e-3
    mesh = MeshHex.init_tensor(*side, y)
    basis = Basis(mesh, ElementHex1())

    def flow(bolt: bool) -> float:
        def conductivity(p):
            out = np.where((p[2] < 0) | (p[2] > 0.03), skin, 0.033)
            return np.where((p[0] < 0.002) & (p[1] < 0.002), 50.0, out) if bolt else out

        conduction = BilinearForm(lambda u, v, w: conductivity(w.x) * dot(grad(u), grad(v)))
        sides = [
            FacetBasis(mesh, ElementHex1(), facets=mesh.facets_satisfying(lambda p, at=at: abs(p[2] - at) < 1e-9))
            for at in (y[0], y[-1])
        ]
        films = [BilinearForm(lambda u, v, w: FILM * u * v).assemble(b) for b in sides]
        load = LinearForm(lambda v, w: FILM * v).assemble(sides[1])
        t = solve(*condense(conduction.assemble(basis) + films[0] + films[1], load, D=np.empty(0, int)))
        return 4 * float(Functional(lambda w: FILM * w["t"]).assemble(sides[0], t=t))

    return flow(True) - flow(False)


@pytest.fixture(scope="module")
def in_wall(tmp_path_factory):
    """The file of a wall with one bolt, and its solution, by the material of the skins."""
    out = {}
    for skin in ("aluminium 6063-T5", "PVC"):
        file = tmp_path_factory.mktemp("walls") / "wall.toml"
        file.write_text(WALL.format(skin=skin), encoding="utf-8")
        out[skin] = file, fdm.solve(fdm.read_section(file), 0.01)
    return out


@pytest.mark.parametrize("skin, k, nearest", [("aluminium 6063-T5", 209.0, 0.03), ("PVC", 0.17, 2.0)])
def test_the_truth_lies_between_the_bounds(in_wall, skin, k, nearest):
    """Between metal sheets, it is nearly what is mixed; between plastic ones, far from both."""
    solution, chi = in_wall[skin][1], truth(k)
    mixed, _ = solution.answers.at("bridge.bolt.psi")
    slices, _ = solution.in_slices.at("bridge.bolt.psi")
    assert slices * 0.04 < 0.7 * chi and 0.99 * chi < mixed * 0.04 < (1 + nearest) * chi


def test_slices_are_their_depths_share(in_wall):
    """What is linear adds up; the slice without the bolt leaks by its wall alone."""
    solution = in_wall["PVC"][1]
    (share, with_bolt), (rest, without) = solution.slices
    flows = [s.answers.at("terminals.out.heat")[0] for s in (with_bolt, without)]
    assert (share, rest) == pytest.approx((0.1, 0.9))
    assert solution.in_slices.at("terminals.out.heat")[0] == pytest.approx(0.1 * flows[0] + 0.9 * flows[1])
    hotter = fdm.at_operating_point(solution, {"in": 7, "out": 53})
    assert hotter.in_slices.at("bridge.bolt.watts")[0] == pytest.approx(
        2 * solution.in_slices.at("bridge.bolt.watts")[0]
    )


def test_both_bounds_are_told_everywhere(in_wall, tmp_path, capsys):
    file, solution = in_wall["PVC"]
    (said,) = solution.warnings
    assert said.startswith(
        "'bolt' is less deep than the drawing, and heat is taken to pass freely along the depth: the psi"
    )
    assert "If no heat passed along the depth" in str(solution)
    assert main(["solve", str(file), "--target", "5%", "--no-files", "--json", str(tmp_path / "r.json")]) == 0
    text = " ".join(capsys.readouterr().out.split())
    assert "W if no heat passed along the depth" in text
    result = json.loads((tmp_path / "r.json").read_text(encoding="utf-8"))
    assert 0 < result["in_slices"]["bridge"]["bolt"]["psi"] < result["bridge"]["bolt"]["psi"]


def test_a_check_is_silent_of_slabs_and_says_the_depth(in_wall):
    check = check_section(fdm.read_section(in_wall["PVC"][0], n=2))
    assert check.warnings == () and "part bolt: 2 x 4 mm deep, 20 % of the depth" in check.text


def test_where_slices_cannot_be_solved_it_is_said(tmp_path):
    """Without its posts the upper sheet is tied to nothing."""
    text = WALL.format(skin="PVC").replace('material = "XPS foam"', "void = true").replace('top = "out"', "")
    text = text.replace('bottom = "in", ', 'bottom = "in"').replace("bridge =", "#")
    (tmp_path / "shelf.toml").write_text(text, encoding="utf-8")
    solution = fdm.solve(fdm.read_section(tmp_path / "shelf.toml"), 0.05)
    assert solution.slices == () and len(solution.in_slices.value) == 0
    said = "what comes of it if none did cannot be told, as, in some slice of the depth, part 'skin': nothing ties it"
    assert said in solution.warnings[-1]
