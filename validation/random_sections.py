"""Sections drawn by chance, by class: what builders draw, and what is hard on a grid.

Every class is a function of a random generator. `section_of` gives number n of a class and seed, always the same,
whatever else is drawn. Lengths are rounded to a tenth of a millimetre, so that edges coincide or lie clear of each
other.
"""

import math
from collections.abc import Callable, Mapping
from zlib import crc32

import numpy as np

from fdm.section.model import (
    Border,
    Disc,
    Environment,
    Joint,
    Part,
    Polygon,
    Section,
    Segment,
    Sensor,
    Source,
)
from validation.cases import air, box, solid

MM = 1e-3
Rng = np.random.Generator


def conductivity(rng: Rng, low: float = 0.03, high: float = 200.0) -> float:
    """W/(m K), from foam to aluminium."""
    return float(np.exp(rng.uniform(math.log(low), math.log(high))))


def metal(rng: Rng) -> float:
    return conductivity(rng, 14, 390)


def foam(rng: Rng) -> float:
    return conductivity(rng, 0.02, 0.3)


def films(rng: Rng, count: int = 2) -> tuple[Environment, ...]:
    """Still air to running water."""
    names = ("inside", 7.0), ("outside", 28.0), ("water", 15.0)
    return tuple(Environment(name, t, float(10 ** rng.uniform(0.5, 2.7))) for name, t in names[:count])


def mm(rng: Rng, low: float, high: float) -> float:
    """A length in m, rounded to 0.1 mm."""
    return round(float(rng.uniform(low, high)), 1) * MM


def apart(rng: Rng, count: int, low: float, high: float, gap: float) -> list[float]:
    """Rising places in mm, at least `gap` from each other, in m, rounded to 0.1 mm."""
    room = high - low - gap * (count - 1)
    return [round(float(low + x + k * gap), 1) * MM for k, x in enumerate(np.sort(rng.uniform(0, room, count)))]


# ---- classes --------------------------------------------------------------------------------------------------------


def bolted_wall(rng: Rng) -> Section:
    """A sandwich with a bar or a bolt through it, heads in the air, perhaps in a clearance or with a joint."""
    sheet, core, head = mm(rng, 0.5, 2), mm(rng, 15, 60), mm(rng, 2, 5)
    low, high, width = head, head + 2 * sheet + core, 60 * MM
    left, right = apart(rng, 2, 20, 30, 3)
    around = mm(rng, 1.5, 5)
    skin = metal(rng) if rng.random() < 0.7 else foam(rng)
    parts = [
        air("inside", box(0, width, 0, low)),
        air("outside", box(0, width, high, high + head)),
        solid("core", foam(rng), box(0, width, low, high)),
        solid("sheets", skin, box(0, width, low, low + sheet), box(0, width, high - sheet, high)),
    ]
    joints: tuple[Joint, ...] = ()
    if rng.random() < 0.5:
        parts.append(Part("clearance", (box(left - MM, right + MM, low, high),), void=True))
        if rng.random() < 0.5:
            joints = (Joint(("bolt", "sheets"), float(10 ** rng.uniform(-5, -3.5))),)
    around += MM
    heads = [box(left - around, right + around, 0, low), box(left - around, right + around, high, high + head)]
    parts.append(solid("bolt", metal(rng), box(left, right, low, high), *heads[: int(rng.integers(1, 3))]))
    beside = mm(rng, 35, 58)
    return Section(
        "bolted wall", tuple(parts), films(rng), joints=joints,
        sensors=(
            Sensor("beside the bolt", at=(beside, low), should_read="inside"),
            Sensor("in the core", at=(beside, low + mm(rng, 4, 8))),
        ),
    )  # fmt: skip


def bolted_wall_about_axis(rng: Rng) -> Section:
    """A bolt through a sandwich, about its axis, with head, washer and nut."""
    sheet, core, head = mm(rng, 0.5, 2), mm(rng, 15, 60), mm(rng, 2, 5)
    low, high, radius = head, head + 2 * sheet + core, 60 * MM
    bolt, washer = mm(rng, 1.5, 4), mm(rng, 0.5, 2)
    parts = [
        air("inside", box(0, radius, 0, low)),
        air("outside", box(0, radius, high, high + head + washer)),
        solid("core", foam(rng), box(0, radius, low, high)),
        solid("sheets", metal(rng), box(0, radius, low, low + sheet), box(0, radius, high - sheet, high)),
    ]
    joints: tuple[Joint, ...] = ()
    if rng.random() < 0.6:
        parts.append(Part("clearance", (box(bolt, bolt + 0.5 * MM, low, high),), void=True))
        joints = (Joint(("bolt", "sheets"), float(10 ** rng.uniform(-5, -3.5))),) if rng.random() < 0.5 else ()
    seat = bolt + mm(rng, 2, 5)
    shank = box(0, bolt, low, high + washer + head)
    parts.append(solid("washer", conductivity(rng), box(bolt, seat + mm(rng, 0.5, 3), high, high + washer)))
    parts.append(solid("bolt", metal(rng), shank, box(0, seat, 0, low)))
    parts.append(solid("nut", metal(rng), box(bolt, seat, high + washer, high + washer + head)))
    return Section(
        "bolted wall about an axis", tuple(parts), films(rng), view="axisymmetric", joints=joints,
        sensors=(Sensor("on the sheet", at=(mm(rng, 20, 50), low), should_read="inside"),),
    )  # fmt: skip


def finned_plate(rng: Rng) -> Section:
    """A plate with fins, warmed by one or two modules, with sensors on it."""
    base, count, tall = mm(rng, 1.5, 10), int(rng.integers(2, 8)), mm(rng, 8, 40)
    width, thick = 100 * MM, mm(rng, 1, 3)
    at = np.round(np.linspace(0, width - thick, count) / MM, 1) * MM
    k = metal(rng) if rng.random() < 0.8 else conductivity(rng, 0.2, 14)
    ends = apart(rng, 4, 3, 97, 4)
    sources = [Source("module", segment=Segment((ends[0], ends[1]), (0, 0)), heat=20.0)]
    if rng.random() < 0.5:
        sources.append(Source("lamp", segment=Segment((ends[2], ends[3]), (0, 0)), heat=5.0))
    room, *_ = films(rng, 1)
    return Section(
        "finned plate",
        (
            air(room.name, box(0, width, base, base + tall)),
            solid("plate", k, box(0, width, 0, base)),
            solid("fins", k, *(box(float(x), float(x) + thick, base, base + tall) for x in at)),
        ),
        (room,), border=Border(left=room.name, right=room.name, top=room.name), sources=tuple(sources),
        sensors=(
            Sensor("under the plate", at=(round((ends[1] + ends[2]) / 2, 4), 0.0), should_read="module"),
            Sensor("at a fin", at=(float(at[1]), base)),
            Sensor("fins", part="fins"),
        ),
    )  # fmt: skip


def patchwork(rng: Rng) -> Section:
    """Materials that meet at many corners, warmed on a part of the top."""
    parts = [solid("ground", conductivity(rng), box(0, 0.1, 0, 0.1))]
    for k in range(4):
        x, y = rng.integers(0, 8, 2).tolist()
        w, h = rng.integers(1, 4, 2).tolist()
        parts.append(
            solid(f"patch {k}", conductivity(rng), box(x / 100, min(x + w, 10) / 100, y / 100, min(y + h, 10) / 100))
        )
    beads = rng.integers(1, 10, (2, 2)) / 100
    return Section(
        "patchwork", tuple(parts), films(rng), border=Border(bottom="inside", right="outside"),
        sources=(Source("foil", segment=Segment((0.02, 0.06), (0.1, 0.1)), heat=2.0),),
        sensors=tuple(Sensor(f"bead {k}", at=(float(x), float(y))) for k, (x, y) in enumerate(beads)),
    )  # fmt: skip


def thin_layers(rng: Rng) -> Section:
    """Sheets, foils and adhesives of 0.1 to 1 mm between thick layers, some only in part of the width; a heater."""
    parts, at, width = [], 0.0, 0.1
    for k in range(int(rng.integers(2, 4))):
        thick, thin = mm(rng, 4, 30), mm(rng, 0.1, 1)
        parts.append(solid(f"layer {k}", conductivity(rng, 0.03, 20), box(0, width, at, at + thick)))
        at = round(at + thick, 4)
        left, right = (0.0, width) if rng.random() < 0.5 else apart(rng, 2, 0, 100, 20)
        if left > 0 or right < width:  # what the sheet leaves out is filled with what lies below
            parts.append(solid(f"filling {k}", parts[-1].material.conductivity[0], box(0, width, at, at + thin)))  # type: ignore[union-attr]
        parts.append(solid(f"sheet {k}", conductivity(rng, 0.1, 390), box(left, right, at, at + thin)))
        at = round(at + thin, 4)
    heater = parts[-1].name
    parts.append(solid("cover", conductivity(rng, 0.03, 20), box(0, width, at, at + mm(rng, 2, 10))))
    sensors = [Sensor("heater", part=heater)]
    sensors.append(Sensor("above the heater", at=(mm(rng, 10, 90), at), should_read="inside"))
    return Section(
        "thin layers", tuple(parts), films(rng), border=Border(bottom="inside", top="outside"),
        sources=(Source("foil", part=heater, heat=8.0),), sensors=tuple(sensors),
    )  # fmt: skip


def plate_view(rng: Rng) -> Section:
    """A plate seen face on: thicker and thinner pieces, films on its faces and rims, heaters."""
    one, other = films(rng)
    x = apart(rng, 4, 5, 95, 5)
    y = apart(rng, 4, 5, 75, 5)
    k, t = metal(rng), mm(rng, 1, 6)
    parts = [
        solid("plate", k, box(0, 0.1, 0, 0.08), thickness=t, front=one.name, back=other.name),
        solid("pad", conductivity(rng, 1, 390), box(x[0], x[1], y[0], y[1]), thickness=mm(rng, 1, 10), front=one.name),
    ]
    if rng.random() < 0.5:
        parts.append(air(other.name, box(x[2], x[3], y[1], y[2])))
    else:
        parts.append(solid("rib", k, box(x[2], x[3], y[1], y[2]), thickness=3 * t, front=other.name, back=other.name))
    return Section(
        "plate view", tuple(parts), (one, other), view="plate", border=Border(left=one.name),
        sources=(
            Source("pad", part="pad", heat=6.0),
            Source("edge", segment=Segment((0.1, 0.1), (y[0], y[2])), heat=3.0),
        ),
        sensors=(
            Sensor("bead", at=(x[1], y[1])),
            Sensor("corner", at=(0.1, 0.08), should_read=other.name),
        ),
    )  # fmt: skip


def about_axis(rng: Rng) -> Section:
    """Tubes, rods and flanges: rings of several materials about an axis, heated inside or on a face."""
    r, z = apart(rng, 3, 3, 40, 3), apart(rng, 3, 3, 50, 4)
    hollow = rng.random() < 0.5
    inner = mm(rng, 1, 2.5) if hollow else 0.0
    one, other = films(rng)
    parts = [
        air(other.name, box(inner, r[2], 0, z[2])),
        solid("rod", conductivity(rng), box(inner, r[0], 0, z[2])),
        solid("sleeve", conductivity(rng), box(r[0], r[1], 0, z[1])),
        solid("flange", conductivity(rng), box(r[0], r[2], z[0], z[1])),
    ]
    joints = (Joint(("rod", "sleeve"), float(10 ** rng.uniform(-5, -3))),) if rng.random() < 0.3 else ()
    if joints:  # that end in the air or at a part with the same joint, not within a third material
        joints += (Joint(("rod", "flange"), joints[0].resistance),)
    edge = Border(left=one.name if hollow else None, bottom=one.name, right=other.name)
    return Section(
        "about an axis", tuple(parts), (one, other), view="axisymmetric", border=edge, joints=joints,
        sources=(Source("heater", segment=Segment((inner, r[0]), (z[2], z[2])), heat=2.0),),
        sensors=(
            Sensor("on the flange", at=(r[2], z[1]), should_read=other.name),
            Sensor("rod", part="rod"),
        ),
    )  # fmt: skip


def discs(rng: Rng) -> Section:
    """Tubes, wires and holes in a block: discs of solids or air, one perhaps on the block's edge or within another."""
    block = conductivity(rng)
    x, y, r = mm(rng, 25, 40), mm(rng, 30, 70), mm(rng, 6, 16)
    parts = [solid("block", block, box(0, 0.1, 0, 0.1)), solid("first", conductivity(rng), Disc((x, y), r))]
    if rng.random() < 0.4:
        parts.append(solid("core", conductivity(rng), Disc((x, y), round(r * 0.6, 4))))
    x2, y2, r2 = mm(rng, 70, 80), mm(rng, 25, 75), mm(rng, 4, 14)
    environments = films(rng, 3)
    kind = rng.integers(3)
    if kind == 0:
        parts.append(air("water", Disc((x2, y2), r2)))
    elif kind == 1:
        parts.append(solid("second", conductivity(rng), Disc((0.1, y2), r2)))
        environments = environments[:2]
    else:
        parts.append(Part("bore", (Disc((x2, y2), r2),), void=True))
        environments = environments[:2]
    view = "axisymmetric" if rng.random() < 0.25 else "section"
    return Section(
        "discs", tuple(parts), environments, view=view, border=Border(bottom="inside", top="outside"),
        sources=(Source("first", part="first", heat=3.0),) if rng.random() < 0.5 else (),
        sensors=(
            Sensor("beside", at=(mm(rng, 57, 60), y), should_read="inside"),
            Sensor("on the rim", at=(x + r, y)),
        ),
    )  # fmt: skip


def slanted(rng: Rng) -> Section:
    """A slanted bar through a block, a chamfered corner, and perhaps a wedge."""
    low, high, thick = mm(rng, 45, 60), mm(rng, 30, 85), mm(rng, 1, 8)
    bar = Polygon(((low, 0.0), (low + thick, 0.0), (high + thick, 0.1), (high, 0.1)))
    cut, up = mm(rng, 8, 25), mm(rng, 8, 25)
    parts = [
        solid("block", conductivity(rng), box(0, 0.1, 0, 0.1)),
        solid("bar", conductivity(rng), bar),
        air("outside", Polygon(((0.0, 0.1 - up), (cut, 0.1), (0.0, 0.1)))),
    ]
    if rng.random() < 0.5:
        a, b, c = mm(rng, 5, 12), mm(rng, 15, 30), mm(rng, 20, 60)
        wedge = Polygon(((a, 0.02), (a + b, 0.025), (a + b / 2, 0.02 + c)))
        parts.insert(1, solid("wedge", conductivity(rng), wedge))
    share = rng.uniform(0.3, 0.7)
    on_bar = (low + share * (high - low), 0.1 * share)
    return Section(
        "slanted parts", tuple(parts), films(rng), border=Border(bottom="inside", top="outside", left="outside"),
        sources=(Source("foil", segment=Segment((0.1, 0.1), (0.02, mm(rng, 40, 90))), heat=2.0),),
        sensors=(
            Sensor("in the block", at=(mm(rng, 2, 4), 0.01), should_read="inside"),
            Sensor("on the bar", at=(float(on_bar[0]), float(on_bar[1]))),
        ),
    )  # fmt: skip


# ---- corners --------------------------------------------------------------------------------------------------------


def corners(rng: Rng) -> Section:
    """One of the cases below, with a sensor where it is hardest."""
    cases = (re_entrant, ending_sheet, four_materials, corner_of_two_films, on_a_rim, held_face)
    return cases[int(rng.integers(len(cases)))](rng)


def re_entrant(rng: Rng) -> Section:
    """An L, the sensor in its inner corner."""
    x, y = mm(rng, 10, 70), mm(rng, 10, 70)
    k = conductivity(rng)
    return Section(
        "re-entrant corner", (solid("L", k, box(0, 0.1, 0, 0.1)), air("outside", box(x, 0.1, y, 0.1))), films(rng),
        border=Border(left="inside", bottom="inside"),
        sources=(Source("foil", segment=Segment((0.0, x), (0.1, 0.1)), heat=1.0),),
        sensors=(Sensor("in the corner", at=(x, y), should_read="outside"),),
    )  # fmt: skip


def ending_sheet(rng: Rng) -> Section:
    """A sheet that ends in foam, the sensor at a corner of its end."""
    at, end, thick = mm(rng, 10, 30), mm(rng, 30, 70), mm(rng, 0.3, 2)
    return Section(
        "ending sheet", (solid("foam", foam(rng), box(0, 0.1, 0, 0.04)),
                         solid("sheet", metal(rng), box(0, end, at, at + thick))), films(rng),
        border=Border(left="inside", bottom="inside", top="outside", right="outside"),
        sensors=(Sensor("at the end", at=(end, at), should_read="inside"),),
    )  # fmt: skip


def four_materials(rng: Rng) -> Section:
    """The sensor where four materials meet, one of which warms."""
    x, y = mm(rng, 20, 80), mm(rng, 20, 80)
    corners = box(0, x, 0, y), box(x, 0.1, 0, y), box(0, x, y, 0.1), box(x, 0.1, y, 0.1)
    return Section(
        "four materials", tuple(solid(f"quarter {k}", conductivity(rng), c) for k, c in enumerate(corners)),
        films(rng), border=Border(left="inside", top="outside"),
        sources=(Source("warm", part="quarter 1", heat=2.0),),
        sensors=(Sensor("where they meet", at=(x, y), should_read="outside"),),
    )  # fmt: skip


def corner_of_two_films(rng: Rng) -> Section:
    """The sensor on the corner of a block between two films, with a layer that ends there."""
    layer = mm(rng, 1, 10)
    return Section(
        "corner of two films", (solid("block", conductivity(rng), box(0, 0.1, 0, 0.05)),
                                solid("layer", conductivity(rng), box(0, 0.1, 0.05 - layer, 0.05))),
        films(rng), border=Border(right="outside", top="inside"),
        sources=(Source("foil", segment=Segment((0.0, 0.0), (0.0, 0.03)), heat=1.0),),
        sensors=(
            Sensor("on the corner", at=(0.1, 0.05), should_read="inside"),
            Sensor("where the layer ends", at=(0.1, 0.05 - layer)),
        ),
    )  # fmt: skip


def on_a_rim(rng: Rng) -> Section:
    """The sensor on a round edge in air, a fin where it ends at that edge."""
    r, fin = mm(rng, 10, 30), mm(rng, 1, 4)
    turn = float(rng.uniform(0.3, 1.2))
    centre = (0.06, 0.05)
    edge = math.sqrt(r**2 - fin**2)
    return Section(
        "rim", (air("outside", box(0, 0.12, 0, 0.1)),
                solid("fin", conductivity(rng), box(0, 0.06, 0.05 - fin, 0.05 + fin)),
                solid("disc", conductivity(rng), Disc(centre, r))),
        films(rng), border=Border(left="inside"),
        sources=(Source("disc", part="disc", heat=1.0),),
        sensors=(
            Sensor("on the rim", at=(0.06 + r * math.cos(turn), 0.05 + r * math.sin(turn)), should_read="outside"),
            Sensor("where the fin ends", at=(0.06 - edge, 0.05 + fin)),
        ),
    )  # fmt: skip


def held_face(rng: Rng) -> Section:
    """A cold face on part of a wall, a sensor beside it."""
    a, b = apart(rng, 2, 20, 80, 10)
    return Section(
        "held face", (solid("wall", conductivity(rng), box(0, 0.1, 0, 0.03)),
                      solid("lining", conductivity(rng), box(0, 0.1, 0.03, 0.03 + mm(rng, 1, 5)))),
        films(rng), border=Border(top="outside", left="inside"),
        sources=(Source("cold face", segment=Segment((a, b), (0, 0)), temperature=-5.0),),
        sensors=(Sensor("beside the face", at=(b + mm(rng, 0.5, 5), 0), should_read="cold face"),),
    )  # fmt: skip


CLASSES: Mapping[str, Callable[[Rng], Section]] = {
    make.__name__: make
    for make in (
        bolted_wall,
        bolted_wall_about_axis,
        finned_plate,
        patchwork,
        thin_layers,
        plate_view,
        about_axis,
        discs,
        slanted,
        corners,
    )
}


def section_of(kind: str, seed: int, number: int) -> Section:
    """Raises KeyError where there is no such class, InputError where chance draws what makes no sense."""
    return CLASSES[kind](np.random.default_rng([seed, crc32(kind.encode()), number]))
