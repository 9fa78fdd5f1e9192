"""Sensitivities against central differences of whole solves on the same grid; lengths against plain solves anew."""

import math
from dataclasses import replace

import pytest

from fdm import solve
from fdm.network.sensitivity import _grid_answers, sensitivities
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
    joints = (replace(j, resistance=factor * j.resistance) if " | ".join(j.between) == given.name else j for j in section.joints)
    return replace(section, joints=tuple(joints))


@pytest.mark.parametrize("make", [wall, rod, fin, bolt])
def test_first_order_effects_are_those_of_solving_anew(make):
    section = make()
    solution = solve(section, cells=1)
    table = sensitivities(solution)
    x, y = solution.system.raster.x, solution.system.raster.y
    kinds = {i.kind for i in table.inputs}
    assert {"part", "film", "joint", "material"} <= kinds
    assert table.matrix.shape == (len(table.answers), len(table.inputs))
    size = abs(_grid_answers(section, x, y))
    for k, given in enumerate(table.inputs):
        more, less = (_grid_answers(scaled(section, given, 1 + s * STEP), x, y) for s in (1, -1))
        found = (more - less) / (2 * STEP)
        for i, answer in enumerate(table.answers):
            # of what the answer's own size, or its largest effect, amounts to
            scale = max(abs(table.matrix[i]).max(), 1e-3 * size[i])
            assert table.matrix[i, k] == pytest.approx(found[i], rel=1e-5, abs=1e-6 * scale), (answer.name, given)
