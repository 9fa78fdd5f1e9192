"""Reads the fins of a section file, also before all else where films depend on them; and joints, by resistance or
layer."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from fdm.errors import InputError
from fdm.section.materials import find_material
from fdm.section.model import PLAIN, Fins, Material, Part
from fdm.section.part_reader import PART, read_part, read_rectangle
from fdm.section.rules import check_known, check_solid, fin_array
from fdm.section.tables import Table
from fdm.surroundings.fins import FinArray

FINS = (
    *("name", "part", "face", "along", "count", "pitch", "thickness", "height", "environment"),
    *("rectangle", "material", "joint"),
)

RESISTANCE = ("resistance", "thickness", "conductivity")  # of a joint, or of its layer

FinsIn = Mapping[str, Sequence[FinArray]]  # by environment


def read_fins(t: Table, parts: tuple[Part, ...], materials: Mapping[str, Material]) -> Fins:
    on, face, named = t.one_or_more_names("part"), t.text("face"), t.optional(t.text, "material")
    with t.at("material"):
        material = None if named is None else find_material(named, materials)
    if material is None:  # that of the plate
        material = next((p.material for p in parts if p.name in on and p.material is not None), PLAIN)
    joint = t.table("joint", RESISTANCE) if "joint" in t.values else None
    return Fins(
        t.optional(t.text, "name") or f"fins of {on[0]}",
        on,
        face,
        t.text("along"),
        t.length("thickness"),
        t.length("height"),
        t.text("environment"),
        material,
        t.optional(t.number, "count"),
        t.optional(t.length, "pitch"),
        0.0 if joint is None else read_resistance(joint),
        t.optional(lambda _: read_rectangle(t), "rectangle"),
    )


def drawn_fins(top: Table, materials: Mapping[str, Material], airs: Sequence[str]) -> FinsIn:
    """The fins that stand in each of the environments `airs`. What is uncertain in them is noted where they are read in
    their turn."""
    top = replace(top, uncertain={})
    groups = top.tables("fins", FINS)
    parts = tuple(read_part(t, materials) for t in top.tables("part", PART)) if groups else ()
    out: dict[str, list[FinArray]] = {}
    for t in groups:
        fins = read_fins(t, parts, materials)
        for name in fins.parts:
            check_solid(f"{t.where}, part", name, {p.name: p for p in parts}, "fins stand on a part with a material")
        check_known(f"{t.where}, environment", fins.environment, airs, "environment")
        try:
            found = fin_array(fins, {p.name: p for p in parts})
        except InputError as error:
            raise InputError(f"{t.where}, {error}") from None
        out.setdefault(fins.environment, []).append(found)
    return out


def read_resistance(t: Table) -> float:
    """m2 K/W of a joint, given or by its layer."""
    if "thickness" not in t.values and "conductivity" not in t.values:
        return t.number("resistance", "joint")
    if "resistance" in t.values:
        raise InputError(f"{t.where}: give either resistance, or thickness with conductivity")
    # one of the two is enough to say how uncertain the joint is; else it is the thickness that nobody knows
    thickness = t.length("thickness", "" if t.states("conductivity") else "joint")
    conductivity = t.number("conductivity")
    if thickness < 0 or conductivity <= 0:
        raise InputError(f"{t.where}: give a thickness of 0 or more and a conductivity above 0")
    return thickness / conductivity
