"""The sinks of a cabinet's modules, from their tables: a resistance, a film on an area, or a plate with fins in a file
of its own."""

import math
from collections.abc import Mapping

from fdm.cabinet.bank import Block, PlateSink, Sink
from fdm.cabinet.films import SINK_FILM, FilmReader
from fdm.cabinet.section_reader import SECTION, SectionFolder, read_section_file
from fdm.errors import InputError
from fdm.section.bolts import isotropic
from fdm.section.fin_reader import RESISTANCE, read_resistance
from fdm.section.model import Material
from fdm.section.tables import Table

BLOCK = ("material", "length", "area")
LUMPED = ("resistance", "film", "area", "efficiency", "fan_power")
PLATE = (*SECTION, "sources", "inside", "outside", "joint", "block", "fan_power")


def read_sink(
    t: Table, key: str, materials: Mapping[str, Material], films: FilmReader, folder: SectionFolder
) -> Sink | PlateSink | None:
    """The sink at a key of the modules' table; None where it is not given."""
    if key not in t.values:
        return None
    given = t.values[key]
    if isinstance(given, dict) and "section" in given:
        return _plate(t.table(key, PLATE), key, materials, folder)
    s = t.table(key, (*LUMPED, "section", *(("natural",) if key == "cold_sink" else ())))
    fan = s.optional(s.number, "fan_power") or 0.0
    if "natural" in s.values and s.true("natural"):
        for name in LUMPED[:-1]:
            if name in s.values:
                raise s.fault(
                    name, "is given, but natural says that the sink's own flow sets it; leave one of them out"
                )
        return Sink(None, fan)
    if s.one_of("resistance", "film", "section") == "resistance":
        s.refuse_given(("area", "efficiency"), "belongs to a film, but resistance is given")
        return Sink(s.number("resistance", "sink resistance"), fan)
    film, area = films.read(s, "film", SINK_FILM, key, key == "cold_sink"), s.number("area")
    efficiency = s.optional(s.number, "efficiency")
    for name, value in (("film", film), ("area", area)):
        if value <= 0:
            raise s.fault(name, f"{value!r} is not a number above 0")
    if efficiency is not None and not 0 < efficiency <= 1:
        raise s.fault("efficiency", f"{efficiency!r} is not a number above 0 and at most 1")
    area *= 1.0 if efficiency is None else efficiency
    films.on_area(s.place("film"), area)
    return Sink(1 / (film * area) if film * area else math.inf, fan)


def _plate(s: Table, key: str, materials: Mapping[str, Material], folder: SectionFolder) -> PlateSink:
    """All heat sources are places of modules unless `sources` names some, and all airs are those of the sink's own side
    unless they are named."""
    file = read_section_file(s, folder)
    inside, outside = s.optional(s.names, "inside") or (), s.optional(s.names, "outside") or ()
    rest = tuple(x for x in file.section.fixed_names if x not in inside and x not in outside)
    if key == "cold_sink":
        inside += rest
    else:
        outside += rest
    return PlateSink(
        file,
        s.optional(s.names, "sources") or file.section.heat_names,
        inside,
        outside,
        read_resistance(s.table("joint", RESISTANCE)) if "joint" in s.values else 0.0,
        _block(s.table("block", BLOCK), materials) if "block" in s.values else None,
        s.optional(s.number, "fan_power") or 0.0,
    )


def _block(b: Table, materials: Mapping[str, Material]) -> Block:
    material = isotropic(b, materials)
    length = b.length("length")
    if length <= 0:
        raise InputError(f"{b.place('length')}: {length / b.unit:g} is not a length above 0")
    return Block(material, length, b.optional(b.number, "area"))
