"""Reads the parts of a section file: their shapes, closed air gaps, and those that are less deep than the drawing."""

import math
from collections.abc import Mapping

from fdm.errors import InputError
from fdm.section.by_temperature import EMISSIVITY, AirGap
from fdm.section.materials import find_material
from fdm.section.model import Disc, Material, Part, Polygon, Rectangle, Shape, repeated
from fdm.section.tables import Table
from fdm.section.uncertain import spread_about
from fdm.surroundings.cavities import UNCERTAINTY

PART = (
    *("name", "material", "environment", "gap", "void", "rectangle", "disc", "polygon", "repeat"),
    *("thickness", "front", "back", "depth", "round", "count"),
)
GAP = ("emissivity", "along", "thickness")
MOST_COPIES = 10_000


def read_part(t: Table, materials: Mapping[str, Material]) -> Part:
    name = t.text("name")
    named = t.optional(t.text, "material")
    with t.at("material"):
        material = None if named is None else find_material(named, materials)
    gap = _gap(t)
    if gap is not None and named is not None:
        raise t.fault("gap", "is air, and the part has a material as well; leave out one of the two")
    shapes = _shapes(t)
    return Part(
        name,
        shapes,
        material,
        t.optional(t.text, "environment"),
        t.optional(t.true, "void") or False,
        t.optional(t.length, "thickness"),
        t.optional(t.text, "front"),
        t.optional(t.text, "back"),
        _depth(t, shapes[0]),
        _whole(t, "count", MOST_COPIES) if "count" in t.values else 1,
        gap=gap,
    )


def _gap(t: Table) -> AirGap | None:
    """The closed air gap that a part is: `gap = true`, or a table of what is known of it."""
    given = t.values.get("gap")
    if not isinstance(given, dict):
        wanted = "true, or a table of what is known of it, { emissivity = .., along = .., thickness = .. }"
        closed = t.optional(lambda key: t.value(key, bool, wanted), "gap") or False
        known: Table | None = t.inner(t.place("gap"), {}, GAP) if closed else None
    else:
        if "heat" in given:
            raise t.fault(
                "gap, heat", 'follows from the temperatures; say at the top which way is down, such as down = "bottom"'
            )
        known = t.table("gap", GAP)
    if known is None:
        return None
    place = known.where
    factor = f"{place}, relation"
    t.uncertain[factor] = spread_about(factor, 1.0, UNCERTAINTY)
    try:
        return AirGap(
            _emissivities(known),
            known.optional(known.text, "along"),
            known.optional(known.length, "thickness"),
            1.0 + t.moved.get(factor, 0.0),
        )
    except InputError as error:
        message = str(error)
        raise error if message.startswith(place) else InputError(f"{place}, {message}") from None


def _emissivities(gap: Table) -> tuple[float, float]:
    """Of the two faces of a gap: one number for both, or a list of two."""
    given = gap.values.get("emissivity")
    if given is None:
        return EMISSIVITY, EMISSIVITY
    if not isinstance(given, list):
        return (gap.number("emissivity"),) * 2
    return gap.two_numbers("emissivity", "one for both faces, or two, [.., ..]")


def _depth(t: Table, shape: Shape) -> float | None:
    """m, of a part that is less deep than the drawing: given, or that of a round bar which is drawn lengthwise."""
    if not (t.optional(t.true, "round") or False):
        return t.optional(t.length, "depth")
    if "depth" in t.values:
        raise t.fault("depth", "is known of a round part, from the width that is drawn; leave out one of the two")
    if not isinstance(shape, Rectangle):
        raise t.fault("round", "a round bar is drawn lengthwise, as a rectangle; give a rectangle, or a depth")
    low_x, high_x, low_y, high_y = shape.bounds
    return math.pi / 4 * min(high_x - low_x, high_y - low_y)


def _whole(t: Table, key: str, most: int) -> int:
    number = t.number(key)
    if not (1 <= number <= most and number == int(number)):
        raise t.fault(key, f"{number:g} is not a whole number of copies; give one from 1 to {most}")
    return int(number)


def _shapes(t: Table) -> tuple[Shape, ...]:
    shape: Shape
    match key := t.one_of("rectangle", "disc", "polygon"):
        case "rectangle":
            shape = read_rectangle(t)
        case "disc":
            given = t.table(key, ("centre", "radius"))
            centre, radius = given.pair("centre"), given.length("radius")
            with t.at(key):
                shape = Disc(centre, radius)
        case _:
            points = t.table(key, ("points",)).pairs("points")
            with t.at(key):
                shape = Polygon(points)
    if "repeat" not in t.values:
        return (shape,)
    repeat = t.table("repeat", ("count", "step"))
    count, step = _whole(repeat, "count", MOST_COPIES), repeat.pair("step")
    if count > 1 and step == (0, 0):
        raise repeat.fault("step", "[0, 0] lays all copies on each other; give how far each is from the one before")
    with t.at("repeat"):
        return repeated(shape, count, step)


def read_rectangle(t: Table) -> Rectangle:
    given = t.table("rectangle", ("x", "y"))
    x, y = given.pair("x"), given.pair("y")
    with t.at("rectangle"):
        return Rectangle(x, y)
