"""Plates with things on their faces, which the tests of stacks share."""

from fdm.section.model import Border, Environment, Fins, Material, Part, Rectangle, Section, Sensor, Source, Spreading

METAL, STEEL = Material("metal", (200.0, 200.0)), Material("steel", (15.0, 15.0))
WIDE = Rectangle((0.0, 0.1), (0.0, 0.15))
PLATE = Part("plate", (WIDE,), METAL, thickness=0.006)
PATCH = Rectangle((0.03, 0.07), (0.055, 0.095))
SOURCE = Source("module", part="plate", heat=10, face="back", rectangle=PATCH)
AIR, STILL = Environment("air", 20, 35.0), Environment("still", 25, 5.0)


def fins(**more: object) -> Fins:
    """Sixteen fins on the front of the plate."""
    usual = {
        "name": "fins",
        "parts": ("plate",),
        "face": "front",
        "along": "y",
        "thickness": 0.0015,
        "height": 0.04,
        "environment": "air",
        "material": METAL,
        "count": 16,
    }
    return Fins(**{**usual, **more})  # type: ignore[arg-type]


def sink(**more: object) -> Section:
    """A finned plate with a module on its back and still air at one edge."""
    usual = {
        "title": "sink",
        "parts": (PLATE,),
        "environments": (AIR, STILL),
        "view": "plate",
        "border": Border(left="still"),
        "fins": (fins(),),
        "sources": (SOURCE,),
    }
    return Section(**{**usual, **more})  # type: ignore[arg-type]


def uneven() -> Section:
    """A plate with a hole, an inlay of steel, fins on part of its front and across it on its back, films on both
    faces, and sensors."""
    return sink(
        parts=(
            Part("plate", (WIDE,), METAL, thickness=0.006, front="still", back="still"),
            Part("inlay", (Rectangle((0.0, 0.02), (0.11, 0.13)),), STEEL, thickness=0.004, back="still"),
            Part("hole", (Rectangle((0.01, 0.03), (0.01, 0.03)),), void=True),
        ),
        fins=(
            fins(parts=("plate", "inlay"), rectangle=Rectangle((0.0, 0.1), (0.03, 0.15)), joint=1e-5),
            fins(name="ribs", face="back", along="x", height=0.01, rectangle=Rectangle((0.0, 0.1), (0.1, 0.15))),
        ),
        sensors=(
            Sensor("below", at=(0.05, 0.075), face="back", depth=0.002, should_read="module"),
            Sensor("beside", at=(0.09, 0.01), face="front"),
            Sensor("within", at=(0.05, 0.02)),
            Sensor("inlay", part="inlay"),
        ),
        spreading=(Spreading(("plate", "inlay")),),
    )
