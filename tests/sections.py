"""Sections that the tests of several folders share: drawn here, and those of the demos."""

from functools import cache
from pathlib import Path

from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
    Material,
    Part,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Source,
    Spreading,
)
from fdm.section.reader import read_section
from fdm.solving.solution import Solution
from fdm.solving.steady import solve

GEOMETRIES = Path(__file__).parents[1] / "geometries"
FOAM = Material("foam", (0.03, 0.03))
METAL = Material("metal", (200.0, 150.0))


@cache
def demo(name: str) -> Solution:
    """A demo's section, solved as it stands."""
    return solve(read_section(GEOMETRIES / f"{name}.toml"))


def slab_section(**more: object) -> Section:
    """A slab of 0.1 x 0.02 m, k = 2, held at 10 and 30 degC: temperature 10 + 1000 y, flux -2000 along y."""
    return Section(
        **{
            "title": "slab",
            "unit": "mm",
            "parts": (Part("slab", (Rectangle((0, 0.1), (0, 0.02)),), Material("stone", (2.0, 2.0))),),
            "environments": (Environment("cold", 10, float("inf")), Environment("warm", 30, float("inf"))),
            "border": Border(bottom="cold", top="warm"),
            **more,
        }
    )


def wall_section() -> Section:
    """A foam wall with a plate, a block, a round void, two airs, a heated face, sensors, and awkward names."""
    return Section(
        title="wall [red] <b>",
        unit="mm",
        depth=0.5,
        parts=(
            Part("inside", (Rectangle((0, 0.1), (-0.02, 0)),), environment="cabinet [air]"),
            Part("wall", (Rectangle((0, 0.1), (0, 0.03)),), FOAM),
            Part("plate", (Rectangle((0.02, 0.08), (0.03, 0.034)),), METAL),
            Part("block", (Rectangle((0.045, 0.055), (0, 0.03)),), METAL),
            Part("hole", (Disc((0.02, 0.015), 0.005),), void=True),
        ),
        environments=(Environment("cabinet [air]", 7, 8), Environment("<b>room</b>", 28, 10)),
        border=Border(top="<b>room</b>"),
        sources=(Source("face", segment=Segment((0.04, 0.06), (0.034, 0.034)), heat=3),),
        sensors=(Sensor("s1", at=(0.01, 0.0), should_read="cabinet [air]"), Sensor("s2", part="block")),
        spreading=(Spreading(("plate",)),),
        bridges=(Bridge(("block",)),),
        let={"wall": 30.0},
    )
