"""Conductivities that follow the temperature, beside Kirchhoff's transform and an independent nonlinear solve."""

import math
from dataclasses import replace

import numpy as np
import pytest
from skfem import Basis, BilinearForm, ElementQuad2, FacetBasis, Functional, LinearForm, MeshQuad, solve
from skfem.helpers import dot, grad

import fdm
from fdm.errors import InputError
from fdm.inference.reanalysis import reanalysis
from fdm.inference.sensitivity import sensitivities
from fdm.section.by_temperature import Line, Pairs
from fdm.section.model import Border, Disc, Environment, Material, Part, Rectangle, Section
from fdm.solving.left_out import left_out
from fdm.solving.part_conductivities import PartConductivity

FOAM = Line(0.034, 10, 0.000153)
JAGGED = Pairs((-10, 10, 20, 50), (0.02, 0.05, 0.03, 0.03))  # 0.03125 in the mean of -20 to 60 degC
BENT = Pairs((0, 25, 70), (0.030, 0.031, 0.045))


def foam(line=FOAM, name="foam"):
    return Material(name, (0.034, 0.034), by_temperature=line)


TWO_LAYERS = """
unit = "mm"
environment = [
  { name = "warm", temperature = 50, film = "1 / 0.13" }, { name = "cold", temperature = -10, film = "1 / 0.13" }
]
part = [{ name = "pu", material = "pu", rectangle = { x = [0, 1000], y = [0, 20] } },
  { name = "xps", material = "xps", rectangle = { x = [0, 1000], y = [20, 50] } }]
border = { bottom = "cold", top = "warm" }
sensor = [{ name = "between", at = [500, 20] }]
[material.xps]
conductivity = { value = 0.034, at = 10, per_kelvin = "0.034 * 0.004" }
[material.pu]
conductivity = { value = 0.024, uncertainty = 0.001, at = 10, per_kelvin = { value = 0.000132, uncertainty = 0.00003 } }
"""


@pytest.fixture(scope="module")
def two_layers(tmp_path_factory):
    path = tmp_path_factory.mktemp("layers") / "wall.toml"
    path.write_text(TWO_LAYERS)
    return reanalysis(path)


def test_plane_layers_with_films_have_the_exact_heat_flow(two_layers):
    """Closed form: q R = 60 K with the resistances of both layers at the mean of their faces."""
    answers = two_layers.solution.answers
    assert answers.at("terminals.warm.heat")[0] == pytest.approx(31.3653, rel=5e-6)
    assert answers.at("between")[0] == pytest.approx(20.6032, abs=2e-4)
    assert answers.at("surface.xps.warm.highest")[0] == pytest.approx(45.9225, abs=2e-4)
    assert answers.at("surface.pu.cold.lowest")[0] == pytest.approx(-5.9225, abs=2e-4)
    assert answers.at("conductivity.pu")[0] == pytest.approx(0.024 + 0.000132 * ((20.6032 - 5.9225) / 2 - 10), rel=1e-5)


def test_sensitivities_and_uncertainties_follow(two_layers, tmp_path):
    """Beside solves of the changed file."""
    found = sensitivities(two_layers.solution)
    column = next(k for k, i in enumerate(found.inputs) if (i.kind, i.name) == ("part", "pu"))
    row = [q.path for q in found.answers.quantities].index(("sensors", "between", "reading"))
    changed = TWO_LAYERS.replace("value = 0.024", "value = 0.02424").replace("0.000132", "0.00013332")
    (tmp_path / "changed.toml").write_text(changed)
    there = fdm.solve(tmp_path / "changed.toml").answers.at("between")[0]
    before = two_layers.answers.at("between")[0]
    assert found.matrix[row, column] / 100 == pytest.approx(there - before, rel=0.02)
    place = "material 'pu', conductivity, per_kelvin"
    (tmp_path / "steeper.toml").write_text(TWO_LAYERS.replace("0.000132", "0.000162"))
    less, more = two_layers.ends(place, 0.00003)
    steeper = fdm.solve(tmp_path / "steeper.toml").answers.at("between")[0]
    assert more[row] - before == pytest.approx(steeper - before, rel=0.02) and less[row] < before


@pytest.mark.parametrize("curve, midway", [(FOAM, FOAM(20)), (JAGGED, 0.03125)])
@pytest.mark.parametrize("ratio", [1.2, 4.0])
def test_a_tube_has_the_exact_heat_flow(ratio, curve, midway):
    """Kirchhoff: the mean of the conductivity between the faces. The mean by volume would be 1 and 7 % off."""
    tube = Section(
        "tube",
        (
            Part("inside", (Rectangle((0, 0.01), (0, 0.1)),), environment="in"),
            Part("foam", (Rectangle((0.01, 0.01 * ratio), (0, 0.1)),), foam(curve)),
        ),
        (Environment("in", 60, math.inf), Environment("out", -20, math.inf)),
        view="axisymmetric",
        border=Border(right="out"),
    )
    exact = 2 * math.pi * 0.1 * midway * 80 / math.log(ratio)
    solution = fdm.solve(tube)
    assert solution.answers.at("terminals.in.heat")[0] == pytest.approx(exact, rel=1e-8)
    assert left_out(solution)[0].heat == 0


def test_a_round_layer_cut_across_has_its_mean_midway():
    """Edges cut its cells, and the heat that leaves these by the surface counts as well."""
    layer = Section(
        "layer",
        (
            Part("around", (Rectangle((-0.05, 0.05), (-0.05, 0.05)),), environment="out"),
            Part("foam", (Disc((0, 0), 0.04),), foam()),
            Part("core", (Disc((0, 0), 0.01),), environment="in"),
        ),
        (Environment("in", 60, math.inf), Environment("out", -20, math.inf)),
        depth=0.1,
    )
    solution = fdm.solve(layer, target=0.02)
    assert solution.frozen.values[0].temperatures == pytest.approx((20, -20, 60), abs=1e-6)
    heat, band = solution.answers.at("terminals.in.heat")
    assert heat == pytest.approx(2 * math.pi * 0.1 * FOAM(20) * 80 / math.log(4), abs=band)


@pytest.mark.parametrize("curve", [FOAM, BENT])
def test_what_one_value_leaves_out_of_a_corner_is_estimated(curve):
    """A corner of foam with a block of metal in it, beside finite elements with a conductivity from point to point."""
    x = y = (0.0, 0.2)
    corner = Section(
        "corner",
        (
            Part("foam", (Rectangle(x, y),), foam(curve)),
            Part("block", (Rectangle((0.03, 0.05), (0.10, 0.14)),), Material("metal", (237, 237))),
            Part("inside", (Rectangle((0.05, 0.2), (0.05, 0.2)),), environment="in"),
        ),
        (Environment("in", -20, 8), Environment("out", 60, 15)),
        border=Border(left="out", bottom="out"),
    )
    solution = fdm.solve(corner)
    places = np.array([[0.025, 0.02, 0.03, 0.15], [0.06, 0.15, 0.03, 0.025]])
    heat, temperatures = _corner_of_foam(curve, places)
    into, band = solution.answers.at("terminals.in.heat")
    (told,) = left_out(solution)
    assert -into == pytest.approx(heat, abs=band + 1e-3 * heat)  # with the mean by volume it is 1.6 % off
    assert told.heat > 1e-3
    off = abs(solution.field.at(*places) - temperatures)
    assert 0.6 * told.kelvin < off.max() < told.kelvin
    assert told.least == pytest.approx(curve(-15), rel=0.01) and told.most == pytest.approx(curve(60), rel=0.01)


def _corner_of_foam(curve, places):
    """W into the inside, and degC at places (2, K)."""
    grid = [np.unique(np.concatenate([np.linspace(a, b, n) for a, b, n in cuts])) for cuts in (
        ((0, 0.03, 9), (0.03, 0.05, 7), (0.05, 0.08, 7), (0.08, 0.2, 9)),
        ((0, 0.03, 9), (0.03, 0.05, 7), (0.05, 0.1, 9), (0.1, 0.14, 7), (0.14, 0.2, 7)),
    )]  # fmt: skip
    mesh = MeshQuad.init_tensor(*grid)
    middle = mesh.p[:, mesh.t].mean(1)
    mesh = mesh.restrict(np.nonzero((middle < 0.05).any(0))[0])
    near = 1e-9
    out = mesh.facets_satisfying(lambda p: p.min(0) < near, boundaries_only=True)
    inner = mesh.facets_satisfying(lambda p: abs(p.min(0) - 0.05) < near, boundaries_only=True)
    basis, film_out, film_in = (
        Basis(mesh, ElementQuad2()),
        *(FacetBasis(mesh, ElementQuad2(), facets=f) for f in (out, inner)),
    )
    product, unit = BilinearForm(lambda u, v, w: u * v), LinearForm(lambda v, w: v)
    films = 15 * product.assemble(film_out) + 8 * product.assemble(film_in)
    load = 15 * 60 * unit.assemble(film_out) - 8 * 20 * unit.assemble(film_in)

    def conduct(u, v, w):
        metal = (w.x[0] > 0.03) & (w.x[1] > 0.1) & (w.x[1] < 0.14)
        return np.where(metal, 237.0, np.interp(w.t, *points)) * dot(grad(u), grad(v))

    points = (np.array([-30, 0, 25, 70]), [curve(at) for at in (-30, 0, 25, 70)])  # with those of its bends
    t = np.full(basis.N, 20.0)
    for _ in range(8):
        t = solve(films + BilinearForm(conduct).assemble(basis, t=basis.interpolate(t)), load)
    heat = Functional(lambda w: 8 * (w.t + 20)).assemble(film_in, t=film_in.interpolate(t))
    return heat, basis.probes(places) @ t


def test_bolts_in_such_foam_follow(tmp_path):
    (tmp_path / "bolt.toml").write_text("""
unit = "mm"
depth = 100
environment = [{ name = "in", temperature = 5, film = 8 }, { name = "out", temperature = 35, film = 8 }]
part = [{ name = "foam", material = "EPS foam by temperature", rectangle = { x = [0, 60], y = [0, 50] } },
  { name = "bolt", material = "nylon", round = true, rectangle = { x = [26, 34], y = [0, 50] } }]
border = { bottom = "in", top = "out" }
""")
    solution = fdm.solve(tmp_path / "bolt.toml")
    foam, bolt = (solution.section.part_named[name].material for name in ("foam", "bolt"))
    mean = solution.frozen.values[0].temperatures[0]
    assert foam.conductivity[0] == pytest.approx(0.036 + 0.00017 * (mean - 10), rel=1e-4)
    share = math.pi / 4 * 0.008 / 0.1
    nylon = next(m for s, m in solution.section.part_named["bolt"].piece.filling if s == pytest.approx(share))
    assert bolt.conductivity[0] == pytest.approx(
        share * nylon.conductivity[0] + (1 - share) * foam.conductivity[0], rel=2e-3
    )


def test_fins_and_plates_in_layers_follow(tmp_path):
    (tmp_path / "sink.toml").write_text("""
unit = "mm"
view = "plate"
environment = [{ name = "air", temperature = 25, film = 40 }]
part = [{ name = "base", material = "metal", thickness = 5, rectangle = { x = [0, 60], y = [0, 60] } },
        { name = "module", material = "metal", thickness = 5, rectangle = { x = [20, 40], y = [20, 40] } }]
source = [{ name = "heater", part = "module", face = "back", heat = 40 }]
[material.metal]
conductivity = [[0, 100], [100, 200]]
[[fins]]
part = ["base", "module"]
face = "front"
along = "y"
count = 8
thickness = 1
height = 20
environment = "air"
""")
    solution = fdm.solve(tmp_path / "sink.toml", target=0.02)
    values = {f.coefficient.name: f for f in solution.frozen.values}
    for part in ("base", "module", "fins of base"):
        found = values[f"conductivity of {part}"]
        assert found.value == pytest.approx(100 + found.temperatures[0], rel=1e-3)
        assert 25 < found.temperatures[1] < found.temperatures[0] < found.temperatures[2] < 100
    assert values["conductivity of module"].value > values["conductivity of fins of base"].value


def test_an_isotropic_material_stays_isotropic_to_the_last_bit():
    """Else a plate in layers would be told that nothing is known of its conductivity through the thickness."""
    metal = foam(Line(200, 20, -0.5), "metal")
    plate = Part("plate", (Rectangle((0, 1), (0, 1)),), metal)
    section = Section("a plate", (plate,), (Environment("air", 20, 10),), border=Border(left="air"))
    for value in np.linspace(150, 250, 50).tolist():
        for guess in (187.3, 193.7):
            guessed = replace(plate, material=replace(metal, conductivity=(guess, guess)))
            put = PartConductivity(0, "plate").put(replace(section, parts=(guessed,)), value, np.array([30.0] * 3))
            assert len(set(put.parts[0].material.conductivity)) == 1


def test_beyond_pairs_and_beyond_a_line():
    def wall(curve):
        part = Part("wall", (Rectangle((0, 0.1), (0, 0.05)),), foam(curve, "own"))
        airs = Environment("in", 60, 10), Environment("out", 20, 10)
        return Section("wall", (part,), airs, border=Border(bottom="in", top="out"))

    held = fdm.solve(wall(Pairs((0, 20), (0.03, 0.032))))
    assert held.answers.at("conductivity.wall")[0] == pytest.approx(0.032)
    told = "its pairs reach from 0 to 20 degC, and 'wall' is at 22.3 to 57.7 degC, 40 in the mean; beyond them that of"
    assert any(told in w for w in held.warnings)
    assert any("its pairs reach from 0 to 48 degC" in w for w in fdm.solve(wall(Pairs((0, 48), (0.03, 0.04)))).warnings)
    assert not fdm.solve(wall(Pairs((0, 50), (0.03, 0.04)))).warnings
    steep = fdm.solve(wall(Line(0.033, 10, 0.0045)))
    assert any("if a share a kelvin is meant, give 0.000149" in w for w in steep.warnings)
    for kelvin in (Pairs((263, 313), (0.03, 0.036)), Line(0.033, 283, 1e-5)):
        assert any("degC is hotter than" in w and "if these are kelvin" in w for w in fdm.solve(wall(kelvin)).warnings)
    with pytest.raises(InputError, match="material 'own', conductivity: at 40 degC nothing is left of 0.033"):
        fdm.solve(wall(Line(0.033, 10, -0.0045)))


def test_a_bend_in_the_pairs():
    """Kirchhoff: 0.03125 W/(m K) pass from 0 to 40 degC, where 0.03 belong to the mean temperature."""
    mine = foam(Pairs((0, 10, 40), (0.02, 0.02, 0.05)), "mine")
    layer = Part("layer", (Rectangle((0, 0.1), (0, 0.05)),), mine)
    ends = (Environment("cold", 0, math.inf), Environment("warm", 40, math.inf))
    solution = fdm.solve(Section("bend", (layer,), ends, border=Border(bottom="cold", top="warm")), cells=1)
    assert solution.network.values.coupling[0, 1] == pytest.approx(0.03125 * 0.1 / 0.05, rel=1e-6)
    (found,) = solution.frozen.values
    assert found.words == "conductivity of layer 0.0312 W/(m K) at 0 to 40 degC, 20 in the mean"
    (told,) = left_out(solution)
    assert (told.least, told.most, told.heat) == (0.02, pytest.approx(0.05), 0)
    assert told.kelvin == pytest.approx(5.625, rel=1e-3)  # at 21.25 degC, where it conducts as in the mean
