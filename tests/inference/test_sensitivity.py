"""Sensitivities against central differences of whole solves on the same grid; lengths against plain solves anew."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from fdm import InputError, solve
from fdm.answers.kinds import asked_of
from fdm.answers.kinds import solved as on_grid
from fdm.conduction.systems import conduction_system
from fdm.inference.adjoint import adjoint_systems
from fdm.inference.lengths import length_sensitivities
from fdm.inference.sensitivity import sensitivities
from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
    Joint,
    Material,
    Part,
    Polygon,
    Section,
    Segment,
    Sensor,
    Source,
    Spreading,
)
from validation.cases import air, box, solid

STEP = 1e-4
METAL = Material("metal", (200.0, 120.0))


def wall(**more):
    """Joints, films, a void, heat on a face, on a joint and in a part, a held face, spreading, a bridge, sensors."""
    return Section(
        **{
            "title": "wall",
            "depth": 0.5,
            "parts": (
                air("cabinet", box(0, 0.1, -0.02, 0)),
                Part("foam", (box(0, 0.1, 0, 0.03),), Material("foam", (0.03, 0.03))),
                Part("board", (box(0, 0.1, 0, 0.004),), Material("board", (0.2, 0.1))),
                Part("plate", (box(0.02, 0.08, 0.03, 0.034),), METAL),
                Part("block", (box(0.045, 0.055, 0, 0.03),), METAL),
                Part("pad", (box(0.07, 0.078, 0.02, 0.03),), Material("pad", (5.0, 5.0))),
                Part("hole", (box(0.01, 0.03, 0.01, 0.02),), void=True),
            ),
            "environments": (Environment("cabinet", 7, 8), Environment("room", 28, 10)),
            "border": Border(top="room"),
            "joints": (Joint(("plate", "block"), 1e-4), Joint(("plate", "pad"), 3e-4)),
            "sources": (
                Source("face", segment=Segment((0.04, 0.06), (0.034, 0.034)), heat=3),
                Source("between", segment=Segment((0.07, 0.078), (0.03, 0.03)), heat=1),
                Source("core", part="block", heat=0.5),
                Source("pipe", segment=Segment((0, 0), (0.01, 0.02)), temperature=20),
            ),
            "sensors": (
                Sensor("corner", at=(0.02, 0.03), should_read="room"),
                Sensor("skin", at=(0.035, 0.0), should_read="core"),
                Sensor("free", at=(0.09, 0.015), should_read=11.0),
                Sensor("pad", part="pad", should_read="skin"),
                Sensor("air", part="side of cabinet"),
            ),
            "spreading": (Spreading(("plate",)),),
            "bridges": (Bridge(("pad",), ("cabinet", "room")),),
            **more,
        }
    )  # fmt: skip


def rod():
    """Discs between solids, against weak and strong films and a joint, and an oblique edge; heat in a disc."""
    return Section(
        "rod",
        (
            air("out", box(-0.035, 0.035, -0.035, 0.035)),
            solid("sleeve", 2.0, Disc((0, 0), 0.03)),
            solid("rod", 50.0, Disc((0.004, 0.002), 0.008)),
            air("water", Disc((-0.018, 0), 0.006)),
            solid("wedge", 0.4, Polygon(((0.012, -0.014), (0.02, -0.012), (0.015, -0.004)))),
            solid("pin", 9.0, Disc((0, 0.02), 0.004)),
        ),
        (Environment("out", 30, 12), Environment("water", 5, 3000)),
        joints=(Joint(("sleeve", "pin"), 1e-3),),
        sources=(Source("hot", part="rod", heat=4),),
        sensors=(Sensor("edge", at=(0.0, -0.03)), Sensor("inside", at=(0.015, -0.004)), Sensor("pin", part="pin")),
    )


def fin():
    """Plate view: films on both faces and on an edge, two thicknesses, a hole, a heated patch, spreading."""
    return Section(
        "fin",
        (
            Part("sheet", (box(0, 0.08, 0, 0.05),), METAL, thickness=0.001, front="room", back="box"),
            Part("rail", (box(0, 0.01, 0, 0.05),), Material("rail", (150.0, 150.0)), thickness=0.003, front="room"),
            Part("hole", (Disc((0.05, 0.03), 0.006),), void=True),
        ),
        (Environment("room", 25, 8), Environment("box", 5, 15)),
        view="plate",
        border=Border(right="room"),
        joints=(Joint(("sheet", "rail"), 2e-4),),
        sources=(Source("wire", segment=Segment((0, 0), (0.01, 0.03)), heat=2),),
        sensors=(Sensor("bead", at=(0.044, 0.03)), Sensor("tip", at=(0.08, 0.05))),
        spreading=(Spreading(("sheet", "rail")),),
    )


def bolt():
    """About the axis: a held face, a joint, an infinite film, heat under the head."""
    return Section(
        "bolt",
        (
            solid("wall", 0.04, box(0, 0.05, 0, 0.03)),
            solid("shank", 15.0, box(0, 0.004, 0, 0.03)),
            solid("head", 15.0, box(0, 0.008, 0.03, 0.035)),
            solid("disc", 160.0, box(0, 0.03, -0.003, 0)),
        ),
        (Environment("out", 30, 10), Environment("in", 0, math.inf)),
        view="axisymmetric",
        border=Border(top="out", bottom="in"),
        joints=(Joint(("shank", "disc"), 5e-5), Joint(("head", "wall"), 1e-3)),
        sources=(
            Source("ring", segment=Segment((0.005, 0.02), (0, 0)), heat=1),
            Source("grip", segment=Segment((0.008, 0.008), (0.03, 0.035)), temperature=40),
        ),
        sensors=(Sensor("nut", at=(0.004, 0.03), should_read="in"),),
        spreading=(Spreading(("disc",), "x"),),
        bridges=(Bridge(("shank",), ("out", "in")),),
    )


@cache
def solved(make):
    return solve(make(), cells=1)


def solved_on(section, x, y):
    return on_grid(conduction_system(section, x, y))


@cache
def on_a_coarse_grid(make):
    """A solution whose finest grid is the coarsest of its three."""
    solution = solved(make)
    x, y = (lines[::4] for lines in (solution.system.raster.x, solution.system.raster.y))
    return replace(solution, grids=(solved_on(solution.section, x, y),))


def grid_answers(section, x, y):
    """(Q,) on one grid."""
    grid = solved_on(section, x, y)
    return asked_of(grid.system).values(grid.answers)


def coupling_of(table):
    """Number of its first coupling."""
    return next(k for k, q in enumerate(table.answers.quantities) if q.family == "coupling")


def scaled(section, given, factor):
    if given.kind in ("part", "material"):

        def material(p):
            named = p.name if given.kind == "part" else p.material and p.material.name
            k = tuple(factor * v for v in p.material.conductivity) if named == given.name else None
            return replace(p, material=replace(p.material, conductivity=k)) if k else p

        return replace(section, parts=tuple(material(p) for p in section.parts))
    if given.kind == "film":
        films = (replace(e, film=factor * e.film) if e.name == given.name else e for e in section.environments)
        return replace(section, environments=tuple(films))
    by = (factor if " | ".join(j.between) == given.name else 1.0 for j in section.joints)
    return replace(section, joints=tuple(replace(j, resistance=f * j.resistance) for f, j in zip(by, section.joints)))


@pytest.mark.parametrize("make", [wall, rod, fin, bolt])
def test_first_order_effects_are_those_of_solving_anew(make):
    solution = on_a_coarse_grid(make)
    section = solution.section
    x, y = solution.system.raster.x, solution.system.raster.y
    table = sensitivities(solution, adjoint_systems(solved_on(section, x, y)))
    kinds = {i.kind for i in table.inputs}
    assert {"part", "film", "joint", "material"} <= kinds
    assert table.matrix.shape == (len(table.answers.quantities), len(table.inputs))
    size = abs(grid_answers(section, x, y))
    for k, given in enumerate(table.inputs):
        more, less = (grid_answers(scaled(section, given, 1 + s * STEP), x, y) for s in (1, -1))
        found = (more - less) / (2 * STEP)
        for i, answer in enumerate(table.answers.quantities):
            if answer.local:  # no slope is stated for an extreme, whose place may jump
                assert np.isnan(table.matrix[i]).all()
                continue
            # of what the answer's own size, or its largest effect, amounts to
            scale = max(abs(table.matrix[i]).max(), 1e-3 * size[i])
            assert table.matrix[i, k] == pytest.approx(found[i], rel=1e-5, abs=1e-6 * scale), (answer.name, given)


@pytest.mark.parametrize("make", [fin, bolt])
def test_fewer_lines_cost_little(make):
    solution = solve(make())
    x, y = solution.system.raster.x, solution.system.raster.y
    table, finest = sensitivities(solution), sensitivities(solution, adjoint_systems(solved_on(solution.section, x, y)))
    off, most = abs(table.matrix - finest.matrix).max(1), abs(finest.matrix).max(1)
    size, family = abs(solution.answers.value), np.array([q.family for q in finest.answers.quantities])
    for k, answer in enumerate(finest.answers.quantities):
        if answer.local:
            continue
        small = size[k] < 0.05 * size[family == answer.family].max()
        assert off[k] <= (0.05 if small else 0.02) * most[k] + 1e-6 * size[k], answer.name


def test_a_material_has_the_effects_of_its_parts():
    table = sensitivities(solved(wall))
    kind = np.array([i.kind for i in table.inputs])
    by_name = {i.name: k for k, i in enumerate(table.inputs)}
    both = table.matrix[:, by_name["plate"]] + table.matrix[:, by_name["block"]]
    np.testing.assert_allclose(table.matrix[:, by_name["metal"]], both, rtol=1e-12)
    parts, materials = (table.matrix[:, kind == k].sum(1) for k in ("part", "material"))
    np.testing.assert_allclose(parts, materials, atol=1e-9)


def test_all_effects_together_are_the_answer_itself():
    """Of first degree: twice all conductances halve every resistance, and leave weights as they are (Euler)."""
    solution = solve(wall(bridges=()), cells=1)
    x, y = solution.system.raster.x, solution.system.raster.y
    table = sensitivities(solution, adjoint_systems(solved_on(solution.section, x, y)))
    sign = [{"material": 0.0, "joint": -1.0}.get(i.kind, 1.0) for i in table.inputs]
    together = table.matrix @ sign
    degree = {"coupling": 1.0, "resistance": -1.0, "resistance_max": -1.0, "spreading": -1.0, "weight": 0.0}
    for total, answer, value in zip(together, table.answers.quantities, grid_answers(solution.section, x, y)):
        if answer.family in degree:
            assert total == pytest.approx(degree[answer.family] * value, rel=1e-4, abs=1e-6), answer.name


def test_void_and_air_are_no_inputs_and_an_infinite_film_is_none():
    table = sensitivities(solved(bolt))
    assert {i.name for i in table.inputs if i.kind == "film"} == {"out"}
    names = {i.name for i in sensitivities(solved(fin)).inputs}
    assert names == {"sheet", "rail", "room", "box", "sheet | rail", "metal"}


# ---- lengths --------------------------------------------------------------------------------------------------------


def slab(thick=40.0, **more):
    return Section(
        "slab",
        (solid("slab", 0.03, box(0, 0.1, 0, thick / 1e3)),),
        (Environment("in", 20, 8), Environment("out", 0, 25)),
        unit="mm",
        border=Border(bottom="in", top="out"),
        let={"thick": thick},
    )


def test_thickness_of_a_slab():
    """1 / (1/h + d/k + 1/h) has the slope - 1 / k / (..)^2."""
    table = length_sensitivities(slab, ["thick"], solve(slab()))
    resistance = (1 / 8 + 0.04 / 0.03 + 1 / 25) / 0.1
    assert table.values == (40.0,) and not table.left_out
    assert table.per_millimetre[coupling_of(table), 0] == pytest.approx(-1e-3 / 0.03 / 0.1 / resistance**2, rel=1e-5)


def pipe(inner=1.0, outer=3.0):
    return Section(
        "pipe",
        (
            air("out", box(-0.04, 0.04, -0.04, 0.04)),
            solid("pipe", 2.0, Disc((0, 0), outer / 100)),
            air("in", Disc((0, 0), inner / 100)),
        ),
        (Environment("in", 1, 50), Environment("out", 0, 20)),
        unit="cm",
        let={"inner": inner, "outer": outer},
    )


def test_radii_of_a_pipe():
    """2 pi / (1/(h a) + ln(b/a)/k + 1/(h b)) (Incropera et al., Fundamentals of Heat and Mass Transfer)."""

    def coupling(a, b):
        return 2 * math.pi / (1 / 50 / a + math.log(b / a) / 2.0 + 1 / 20 / b)

    table = length_sensitivities(pipe, ["inner", "outer"], solve(pipe()))
    step = 1e-6
    inner = (coupling(0.01 + step, 0.03) - coupling(0.01 - step, 0.03)) / (2 * step)
    outer = (coupling(0.01, 0.03 + step) - coupling(0.01, 0.03 - step)) / (2 * step)
    assert table.names == ("inner", "outer")
    np.testing.assert_allclose(table.per_millimetre[coupling_of(table)], [1e-3 * inner, 1e-3 * outer], rtol=0.01)


def sink(plate=6.0, spot=20.0, pad=20.0):
    """A heated plate on pads; `spot` and `pad` end on the same line by chance, on opposite faces of the plate."""
    return Section(
        "sink",
        (
            air("below", box(0, 0.08, -0.01, 0)),
            solid("plate", 150.0, box(0, 0.08, 0, plate / 1e3)),
            solid("pad", 3.0, box(0, pad / 1e3, -0.01, 0)),
        ),
        (Environment("cold", 10, 200), Environment("below", 20, 50)),
        unit="mm",
        border=Border(bottom="cold"),
        sources=(Source("spot", segment=Segment((0, spot / 1e3), (plate / 1e3, plate / 1e3)), heat=5),),
        sensors=(Sensor("tip", at=(0.08, 0.0)),),
        spreading=(Spreading(("plate",)),),
        let={"plate": plate, "spot": spot, "pad": pad},
    )


@pytest.mark.parametrize("name", ["plate", "spot", "pad"])
def test_lengths_have_the_slopes_of_plain_solves(name):
    solution = solve(sink(), 0.001)
    table = length_sensitivities(sink, [name], solution)
    assert table.names == (name,)
    value = solution.section.let[name]
    more, less = (solve(sink(**{name: value * f}), 2e-4).answers.value for f in (1.05, 0.95))
    found = (more - less) / (0.1 * value)
    rise = next(k for k, a in enumerate(table.answers.quantities) if a.family == "resistance")
    for k, answer in enumerate(table.answers.quantities):
        if answer.local:  # no slope is stated for an extreme, whose place may jump
            assert np.isnan(table.per_millimetre[k, 0])
            continue
        scale = max(abs(found[k]), 0.02 * abs(solution.answers.value[k]) / value)
        if answer.family == "spreading":  # the difference of two rises
            scale = max(scale, abs(found[rise]))
        assert abs(table.per_millimetre[k, 0] - found[k]) < 0.03 * scale, answer.name


def test_what_does_not_change_smoothly_is_left_out_and_says_why():
    def read(gap=10.0, count=2.0):
        if count != int(count):
            raise InputError("count: give a whole number")
        return Section(
            "gap",
            (solid("low", 1.0, box(0, 0.1, 0, gap / 1e3)), solid("high", 1.0, box(0, 0.1, 0.01, 0.03))),
            (Environment("in", 20, 8), Environment("out", 0, 25)),
            border=Border(bottom="in", top="out"),
            let={"gap": gap, "count": count},
        )

    table = length_sensitivities(read, ["gap", "count"], solve(read()))
    assert table.names == () and table.per_millimetre.shape == (len(table.answers.quantities), 0)
    assert "abruptly" in table.left_out["gap"] and "whole number" in table.left_out["count"]
    with pytest.raises(InputError, match="no number named 'gep'"):
        length_sensitivities(read, ["gep"], solve(read()))
