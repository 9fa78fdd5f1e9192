"""Reads a cabinet file (TOML), as strictly as a section file."""

from collections.abc import Mapping
from dataclasses import replace
from os import PathLike
from pathlib import Path
from typing import TypedDict

from fdm.cabinet.bank import Bank, PlateSink
from fdm.cabinet.bank_reader import read_bank
from fdm.cabinet.films import LOAD_FILM, WALL_INSIDE, WALL_OUTSIDE, FilmReader
from fdm.cabinet.load import Load
from fdm.cabinet.losses import LineLoss, Opening, PointLoss
from fdm.cabinet.model import Cabinet
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.section_reader import SECTION, SectionFolder, read_section_file
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.walls import Layer, Wall
from fdm.cabinet.zone_reader import read_cold_plate, read_exchanges, read_load_zones, read_zones
from fdm.cabinet.zones import AIR
from fdm.errors import InputError, in_file, nearest, path_of
from fdm.section.bolts import BOLT, WallLayer, bolt_section, isotropic, read_bolt
from fdm.section.material_reader import read_materials
from fdm.section.materials import find_material
from fdm.section.model import Material
from fdm.section.tables import (
    Table,
    all_uncertain,
    read_document,
    title_of,
    top_table,
    unused_names,
)
from fdm.surroundings.film import require_altitude

GRAMS_A_DAY = 1e-3 / 86400  # kg/s
TOP = (
    *("title", "unit", "altitude", "let", "material", "cabinet", "wall", "line", "point", "opening", "zone"),
    *("exchange", "module", "supply", "load", "thermostat"),
)
CABINET = (
    *("inside", "room", "setpoint", "start", "air_changes", "inside_heat", "emissivity"),
    *("humidity", "dew_point", "inside_humidity"),
)
WALL = ("name", "faces", "area", "layers", "film_inside", "film_outside")
OPENING = ("name", "a_day", "at", "share", "zone")
OPENED = {"top": 0.2, "side": 0.9}  # share of the air that is lost; common practice, no source: see usual.csv
LINE = ("name", "length", "psi", *SECTION, "bridge", "inside", "outside", "zone")
POINT = ("name", "count", "chi", *SECTION, "bridge", "inside", "outside", "bolt", "wall", "zone")
LOAD = (
    *("mass", "material", "specific_heat", "surface", "film", "start", "heat", "moisture"),
    *("zone", "zones", "cold_plate"),
)
THERMOSTAT = ("hysteresis", "sensor", *SECTION, "inside", "outside", "switches", "zone")


def is_cabinet(path: str | PathLike[str]) -> bool:
    """Whether a file describes a whole cabinet, and not a section. Raises InputError where it cannot be read."""
    name = path_of(path, "file", "section or cabinet file")
    with in_file(name):
        return "cabinet" in read_document(name, "section or cabinet file")


def read_cabinet(path: str | PathLike[str], moved: Mapping[str, float] | None = None, /, **let: float | str) -> Cabinet:
    """The cabinet described in a TOML file, with the sections it names, in SI units and degC.

    `let` overrides named numbers of the file's [let], each by a number or an expression. The paths of sections are
    relative to the file's folder. Numbers may have uncertainties, and `moved` says by how much they differ from their
    nominal values, as in `read_section`. The place of a number in a section's file begins with that file; the spread of
    a built-in material's conductivity is one number for the whole cabinet.

    Raises InputError, which begins with the path, for anything the file or one of its sections should not hold, for a
    path that cannot be read, and for an override of a name the file does not have.

    >>> cabinet = read_cabinet("geometries/bulb_cabinet.toml")
    >>> cabinet.setpoint, [wall.name for wall in cabinet.walls][:1], cabinet.bank.supply.quantity
    (7.0, ['walls'], 'voltage')
    """
    name = path_of(path, "read_cabinet", "cabinet file")
    with in_file(name):
        return _cabinet(read_document(name, "cabinet file"), let, Path(name), moved or {})


def _cabinet(
    document: dict[str, object], overrides: Mapping[str, float | str], path: Path, moved: Mapping[str, float]
) -> Cabinet:
    if "part" in document and "cabinet" not in document:
        raise InputError(
            "[[part]]: this file describes a section, and not a whole cabinet; solve it with the command solve, or "
            "with solve in Python"
        )
    top = top_table(document, overrides, TOP, moved)
    materials = read_materials(top)
    t = top.table("cabinet", CABINET)
    room = t.number("room")
    altitude, zones = top.optional(top.number, "altitude") or 0.0, read_zones(top)
    require_altitude(altitude)
    folder = SectionFolder(path.parent, altitude)
    if not zones:
        t.refuse_given(("emissivity",), "is that from zone to zone, and there are none")
    films = FilmReader(t.number("setpoint"), room, altitude)
    bank = read_bank(top, materials, folder, films)
    walls = tuple(_wall(w, materials, films) for w in top.tables("wall", WALL))
    walls = tuple(w.between(films.inside, films.room) for w in walls)
    points = tuple(_point(x, walls, materials, films, folder) for x in top.tables("point", POINT))
    in_walls = [x.material for w in walls for x in w.layers]
    in_blocks = [sink.block.material for sink in bank.plates.values() if sink.block is not None]
    in_bolts = [p.material for x in points if x.file for p in x.file.section.parts if p.material and x.file.made]
    return Cabinet(
        title=title_of(top, path),
        inside=t.triple("inside"),
        walls=walls,
        bank=bank,
        load=_load(top.table("load", LOAD), materials, films),
        thermostat=_thermostat(top.table("thermostat", THERMOSTAT), bank, folder),
        room=room,
        setpoint=films.inside,
        lines=tuple(_line(x, folder) for x in top.tables("line", LINE)),
        points=points,
        openings=tuple(_opening(x) for x in top.tables("opening", OPENING)),
        zones=zones,
        emissivity=t.number_or("emissivity", Cabinet.emissivity),
        exchanges=read_exchanges(top),
        air_changes=t.number_or("air_changes", 0.0),
        inside_heat=t.number_or("inside_heat", 0.0),
        humidity=t.optional(t.number, "humidity"),
        dew_point=t.optional(t.number, "dew_point"),
        inside_humidity=t.optional(t.number, "inside_humidity"),
        altitude=altitude,
        start=t.optional(t.number, "start"),
        unit=top.text("unit"),
        let=top.let,
        films=tuple(films.following),
        film_notes=tuple(films.notes),
        unused=unused_names(top, overrides, TOP),
        uncertain=all_uncertain(top, [*in_walls, *in_bolts, *in_blocks]),  # last, when all is read
    )


class SectionBridge(TypedDict, total=False):
    """Fields of a loss that is taken from a section; none, where it is given as a number."""

    file: SectionFile
    bridge: str | None
    inside: tuple[str, ...]
    outside: tuple[str, ...]


def _line(t: Table, folder: SectionFolder) -> LineLoss:
    name, length = t.text("name"), t.length("length")
    psi, bridge = _loss(t, "psi", folder)
    return LineLoss(name, length, psi, **bridge, zone=t.optional(t.text, "zone"))


def _point(
    t: Table, walls: tuple[Wall, ...], materials: Mapping[str, Material], films: FilmReader, folder: SectionFolder
) -> PointLoss:
    name, count = t.text("name"), t.count("count")
    if t.values.keys().isdisjoint(("chi", "section", "bolt")):
        raise InputError(f"{t.where}: give exactly one of chi, section and bolt")
    chi, bridge = (None, _bolt(t, walls, materials, films)) if "bolt" in t.values else _loss(t, "chi", folder)
    return PointLoss(name, count, chi, **bridge, zone=t.optional(t.text, "zone"))


def _loss(t: Table, symbol: str, folder: SectionFolder) -> tuple[float | None, SectionBridge]:
    if t.one_of(symbol, "section") == symbol:
        t.refuse_given(("let", "bridge", "inside", "outside"), f"belongs to a section, but {symbol} is given")
        return t.number(symbol), {}
    inside, outside = (t.optional(t.names, key) or () for key in ("inside", "outside"))
    return None, {
        "file": read_section_file(t, folder),
        "bridge": t.optional(t.text, "bridge"),
        "inside": inside,
        "outside": outside,
    }


def _bolt(t: Table, walls: tuple[Wall, ...], materials: Mapping[str, Material], films: FilmReader) -> SectionBridge:
    """The section of a bolt through a wall of the cabinet, and the bridge that it is. Films of the wall that follow do
    so in the section, too."""
    t.refuse_given(("chi", *SECTION, "bridge", "inside", "outside"), "is given where there is no bolt")
    name = t.text("wall")
    wall = next((w for w in walls if w.name == name), None)
    if wall is None:
        raise t.fault("wall", f"there is no wall named {name!r}; {nearest(name, [w.name for w in walls])}")
    bolt = read_bolt(t.table("bolt", BOLT), materials)
    airs = (
        films.environment("cabinet air", films.inside, wall.film_inside, WALL_INSIDE, name),
        films.environment("room air", films.room, wall.film_outside, WALL_OUTSIDE, name),
    )
    with t.at("bolt"):
        layers = [WallLayer(f"layer {k}", x.material, x.thickness) for k, x in enumerate(wall.layers, 1)]
        section = bolt_section(f"{t.text('name')} through {name}", layers, *airs, bolt, "mm")
    places = [v for p in section.parts for s in p.shapes for v in s.bounds]
    conducting = [p.material.conductivity[0] for p in section.parts if p.material is not None]
    numbers = [*places, *conducting, *(v for e in airs for v in (e.temperature, e.film))]
    file = SectionFile(t.text("name"), (), section, tuple(("", v) for v in numbers), made=True)
    return {"file": file, "bridge": bolt.bar.name, "inside": (airs[0].name,), "outside": (airs[1].name,)}


def _opening(t: Table) -> Opening:
    """A lid keeps most of the cold air below it, a door at the side lets nearly all of it out."""
    name, a_day, zone = t.text("name"), t.number("a_day"), t.optional(t.text, "zone")
    if t.one_of("at", "share") == "share":
        return Opening(name, a_day, t.number("share"), zone)
    at = t.text("at")
    if at not in OPENED:
        raise t.fault("at", f'{at!r} is neither "top", a lid, nor "side", a door; {nearest(at, OPENED)}')
    share = replace(t, values={"share": OPENED[at]}).number("share", f"share lost at the {at}")
    return Opening(name, a_day, share, zone)


def _wall(t: Table, materials: Mapping[str, Material], films: FilmReader) -> Wall:
    given, name = t.one_of("faces", "area"), t.text("name")
    return Wall(
        name,
        tuple(_layer(x, materials) for x in t.tables("layers", ("material", "thickness"))),
        films.read(t, "film_inside", WALL_INSIDE, name, indoors=True),
        films.read(t, "film_outside", WALL_OUTSIDE, name, indoors=False),
        t.names("faces") if given == "faces" else (),
        t.number("area") if given == "area" else None,
    )


def _layer(t: Table, materials: Mapping[str, Material]) -> Layer:
    return Layer(isotropic(t, materials), t.length("thickness"))


def _load(t: Table, materials: Mapping[str, Material], films: FilmReader) -> Load:
    if t.one_of("material", "specific_heat") == "specific_heat":
        specific_heat = t.number("specific_heat")
    else:
        with t.at("material"):
            material = find_material(t.text("material"), materials)
            if material.specific_heat is None:
                raise InputError(f"{material.name!r} has no specific heat; give the load's specific_heat instead")
            specific_heat = material.specific_heat
    start, film = t.number_or("start", films.room), films.read(t, "film", LOAD_FILM, "load", indoors=True)
    heat, moisture = t.number_or("heat", 0.0), t.number_or("moisture", 0.0)
    if moisture < 0:
        raise t.fault("moisture", f"{moisture:g} is below 0; give the water that evaporates from the load, g a day")
    contact, facing = read_cold_plate(t)
    return Load(
        mass=t.number("mass"),
        specific_heat=specific_heat,
        surface=t.number("surface"),
        film=film,
        start=start,
        heat=heat,
        moisture=moisture * GRAMS_A_DAY,
        zones=read_load_zones(t),
        contact=contact,
        facing=facing,
    )


def _thermostat(t: Table, bank: Bank, folder: SectionFolder) -> Thermostat:
    hysteresis, switches = t.number("hysteresis"), t.optional(t.text, "switches") or "all"
    sensor, zone = t.optional(t.text, "sensor") or AIR, t.optional(t.text, "zone")
    if sensor == AIR:
        t.refuse_given((*SECTION, "inside", "outside"), f'belongs to a sensor in a section, but sensor is "{AIR}"')
        return Thermostat(hysteresis, switches=switches, zone=zone)
    if "section" not in t.values:
        t.refuse_given(("let",), "belongs to a section, and none is given")
    file = read_section_file(t, folder) if "section" in t.values else bank.file
    inside, outside = t.optional(t.names, "inside"), t.optional(t.names, "outside")
    if inside is None and outside is None:
        drawn: list[Bank | PlateSink] = [bank, *bank.plates.values()]
        inside, outside = next(((x.inside, x.outside) for x in drawn if x.file == file), (None, None))
    return Thermostat(hysteresis, file, sensor, inside or (), outside or (), switches, zone)
