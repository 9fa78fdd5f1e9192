"""A round bolt, pin or dowel through a wall of layers: the section about its axis, made without a drawing.

y  +--- outside air ---+      discs on the wall outside: washers, bushes, the head
   |   +-----+         |
   +---+     +---------+      layers, from inside to outside, crossed by a sleeve and by the bolt in it
   |   |     |         |
   +---+     +---------+      y = 0
   |   +-----+         |      discs on the wall inside
   +--- inside air ----+
   axis          x = reach
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fdm.errors import InputError
from fdm.section.materials import find_material
from fdm.section.model import Border, Bridge, Environment, Material, Part, Rectangle, Section
from fdm.section.pieces import require_positive
from fdm.section.tables import Table

LAYER = ("name", "material", "thickness")
BOLT = ("name", "material", "diameter", "from", "to", "sleeve", "inside", "outside", "spacing")
SLEEVE = ("material", "diameter", "from", "to")
DISC = ("name", "material", "diameter", "height")

FADES = 4.0  # lengths over which a bolt's effect fades along the wall: what is beyond changes chi by e^-8, 0.03 %


@dataclass(frozen=True)
class WallLayer:
    """One layer of a wall."""

    name: str
    material: Material
    thickness: float  # m


@dataclass(frozen=True)
class Bar:
    """A round bar across the wall, from one distance from the inner surface to another; None: to the surface."""

    name: str
    material: Material
    diameter: float  # m
    start: float | None = None
    end: float | None = None


@dataclass(frozen=True)
class OnWall:
    """A washer, a bush, a nut or a head: a round piece on the surface, or on another one."""

    name: str
    material: Material
    diameter: float  # m
    height: float


@dataclass(frozen=True)
class Bolt:
    """What crosses the wall and lies on it, from the wall outwards. `spacing` (m) is that of many such bolts in rows;
    None: one far from all others."""

    bar: Bar
    sleeve: Bar | None = None
    inside: tuple[OnWall, ...] = ()
    outside: tuple[OnWall, ...] = ()
    spacing: float | None = None

    def __post_init__(self) -> None:
        d = self.bar.diameter
        require_positive("diameter", d)
        sleeves = () if self.sleeve is None else (self.sleeve,)
        for where, pieces in (("sleeve", sleeves), ("inside", self.inside), ("outside", self.outside)):
            for piece in pieces:
                if not piece.diameter > d:
                    raise InputError(
                        f"{where}, diameter: {piece.name!r} is {_mm(piece.diameter)} wide, no more than the bolt, "
                        f"{_mm(d)}; give a larger one"
                    )
        for piece in (*self.inside, *self.outside):
            require_positive(f"height of {piece.name!r}", piece.height)
        for side, pieces, end in (("inside", self.inside, self.bar.start), ("outside", self.outside, self.bar.end)):
            if pieces and end is not None:
                raise InputError(f"{side}: the bolt ends within the wall on this side; leave out what lies on it")
        if self.spacing is not None and not self.spacing > self.widest:
            raise InputError("spacing: the bolts would touch; give more than their diameter")

    @property
    def widest(self) -> float:
        """m, the largest diameter."""
        sleeve = [self.sleeve.diameter] if self.sleeve is not None else []
        return max([self.bar.diameter, *sleeve, *(p.diameter for p in (*self.inside, *self.outside))])


def bolt_section(
    title: str, layers: Sequence[WallLayer], inside: Environment, outside: Environment, bolt: Bolt, unit: str = "mm"
) -> Section:
    """The section about the axis of a bolt through layers, given from inside to outside, with the bridge that the bolt
    is. Raises InputError where the bolt does not fit into the wall.

    >>> from fdm.section.materials import builtin_materials as known
    >>> foam = WallLayer("foam", known()["XPS foam"], 0.05)
    >>> airs = Environment("in", 7, 8), Environment("out", 30, 8)
    >>> section = bolt_section("bolt", [foam], *airs, Bolt(Bar("bolt", known()["steel"], 0.004)))
    >>> section.view, [p.name for p in section.parts], section.bridges[0].remove
    ('axisymmetric', ['foam', 'bolt'], ('bolt',))
    """
    reach = _reach(layers, inside.film, outside.film, bolt)
    surfaces = [0.0]
    for layer in layers:
        require_positive(f"layer {layer.name!r}, thickness", layer.thickness)
        surfaces.append(surfaces[-1] + layer.thickness)
    wall = surfaces[-1]
    parts = [Part(x.name, (Rectangle((0, reach), ends),), x.material) for x, ends in zip(layers, pairwise(surfaces))]
    low = [0.0]
    for piece in bolt.inside:
        low.append(low[-1] - piece.height)
    high = [wall]
    for piece in bolt.outside:
        high.append(high[-1] + piece.height)
    for air, ends in ((inside, (low[-1], 0.0)), (outside, (wall, high[-1]))):
        if ends[0] < ends[1]:
            parts.append(Part(f"{air.name} beside", (Rectangle((0, reach), ends),), environment=air.name))
    own = [] if bolt.sleeve is None else [_bar(bolt.sleeve, 0.0, wall, wall)]
    for pieces, places in ((bolt.inside, low), (bolt.outside, high)):
        for piece, (a, b) in zip(pieces, pairwise(places)):
            own.append(_round(piece.name, piece.material, piece.diameter, min(a, b), max(a, b)))
    own.append(_bar(bolt.bar, low[-1], high[-1], wall))
    return Section(
        title,
        (*parts, *own),
        (inside, outside),
        view="axisymmetric",
        unit=unit,
        border=Border(bottom=inside.name, top=outside.name),
        bridges=(Bridge(tuple(p.name for p in own), name=bolt.bar.name),),
    )


def _bar(bar: Bar, low: float, high: float, wall: float) -> Part:
    """The part of a bar that reaches to `low` and `high`, m, where it does not end within the wall."""
    start, end = (given if given is not None else to for given, to in ((bar.start, low), (bar.end, high)))
    for key, given in (("from", bar.start), ("to", bar.end)):
        if given is not None and not 0 <= given <= wall * (1 + 1e-9):
            raise InputError(
                f"{bar.name!r}, {key}: {_mm(given)} from the inner surface is outside of the wall, which is "
                f"{_mm(wall)} thick"
            )
    if not start < end:
        raise InputError(f"{bar.name!r}: from {_mm(start)} to {_mm(end)} it has no length; give from below to")
    return _round(bar.name, bar.material, bar.diameter, start, end)


def _round(name: str, material: Material, diameter: float, low: float, high: float) -> Part:
    return Part(name, (Rectangle((0, diameter / 2), (low, high)),), material)


def _mm(metres: float) -> str:
    return f"{1000 * metres:.6g} mm"


def _reach(layers: Sequence[WallLayer], film_inside: float, film_outside: float, bolt: Bolt) -> float:
    """m, the radius of wall that belongs to one bolt: that of its share, or far enough that it is felt no more.

    Along a layer of conductivity k and thickness t, with G W/(m2 K) to both airs, a disturbance fades over
    sqrt(k t / G), as in a fin. The radius is rounded up, so that it does not follow every small change of a number.
    """
    if bolt.spacing is not None:
        return bolt.spacing / math.sqrt(math.pi)
    before, longest = 1 / film_inside, bolt.widest
    whole = before + sum(x.thickness / x.material.conductivity[0] for x in layers) + 1 / film_outside
    for x in layers:
        own = x.thickness / x.material.conductivity[0]
        to_inside = before + own / 2
        conductance = 1 / to_inside + 1 / (whole - to_inside)
        longest = max(longest, math.sqrt(x.material.conductivity[0] * x.thickness / conductance))
        before += own
    wanted = bolt.widest / 2 + FADES * longest
    step = 10.0 ** math.floor(math.log10(wanted))
    return next(m * step for m in (1.5, 2, 3, 4, 5, 7, 10) if m * step >= wanted)


# ---- from a file ----------------------------------------------------------------------------------------------------


def read_layers(t: Table, materials: Mapping[str, Material]) -> list[WallLayer]:
    """The [[layer]]s of a file, from inside to outside."""
    layers: list[WallLayer] = []
    for x in t.tables("layer", LAYER):
        material = isotropic(x, materials)
        name = x.optional(x.text, "name") or material.name
        same = sum(y.name == name or y.name.startswith(f"{name} (") for y in layers)
        layers.append(WallLayer(f"{name} ({same + 1})" if same else name, material, x.length("thickness")))
    if not layers:
        raise t.fault("layer", "missing; give the layers from inside to outside, each with material and thickness")
    return layers


def isotropic(t: Table, materials: Mapping[str, Material]) -> Material:
    """The material of a table, which must conduct alike in all directions."""
    with t.at("material"):
        material = find_material(t.text("material"), materials)
        if material.conductivity[0] != material.conductivity[1]:
            raise InputError(f"{material.name!r} conducts by direction; give a layer a material with one conductivity")
    return material


def read_bolt(t: Table, materials: Mapping[str, Material]) -> Bolt:
    """The table of a bolt, with the keys BOLT."""
    material, name = isotropic(t, materials), t.optional(t.text, "name") or "bolt"
    sleeve = None
    if "sleeve" in t.values:
        s = t.table("sleeve", SLEEVE)
        sleeve = Bar(f"sleeve of {name}", isotropic(s, materials), s.length("diameter"), *_ends(s))
    bar = Bar(name, material, t.length("diameter"), *_ends(t))
    inside, outside = (
        tuple(
            OnWall(
                x.optional(x.text, "name") or f"{name} {side} {k}",
                isotropic(x, materials) if "material" in x.values else material,
                x.length("diameter"),
                x.length("height"),
            )
            for k, x in enumerate(t.tables(side, DISC), 1)
        )
        for side in ("inside", "outside")
    )
    spacing = t.optional(t.length, "spacing")
    try:
        return Bolt(bar, sleeve, inside, outside, spacing)
    except InputError as error:
        raise InputError(f"{t.where}, {error}") from None


def _ends(t: Table) -> tuple[float | None, float | None]:
    try:
        return t.optional(t.length, "from"), t.optional(t.length, "to")
    except InputError as error:
        raise InputError(f"{error}; from and to are distances from the inner surface") from None
