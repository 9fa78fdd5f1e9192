"""Reads a cabinet file (TOML), as strictly as a section file, and the section files that it names."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from os import PathLike
from pathlib import Path
from typing import TypedDict

from fdm.cabinet.bank import Bank, PlateSink
from fdm.cabinet.datasheet import DataSheet, module_from_datasheet
from fdm.cabinet.films import LOAD_FILM, WALL_INSIDE, WALL_OUTSIDE, FilmsRead
from fdm.cabinet.load import Load
from fdm.cabinet.losses import LineLoss, Opening, PointLoss
from fdm.cabinet.model import Cabinet
from fdm.cabinet.module import ThermoelectricModule
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sink_reader import read_sink
from fdm.cabinet.supply import Supply
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.walls import Layer, Wall
from fdm.cabinet.zone_reader import read_cold_plate, read_exchanges, read_load_zones, read_zones
from fdm.cabinet.zones import AIR
from fdm.errors import InputError, in_file, nearest, path_of, require_visible
from fdm.section.bolts import BOLT, WallLayer, bolt_section, isotropic, read_bolt
from fdm.section.material_reader import read_materials
from fdm.section.materials import find_material
from fdm.section.model import Material, Section
from fdm.section.reader import section_in
from fdm.section.tables import (
    Table,
    all_uncertain,
    document_in,
    document_text,
    read_document,
    title_of,
    top_table,
    unused_names,
)
from fdm.section.uncertain import MATERIALS
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
SECTION = ("section", "let")
DATASHEET = ("greatest_heat", "greatest_difference", "greatest_current", "greatest_voltage", "hot_side")
DIRECT = ("seebeck", "resistance", "conductance")
SLOPES = ("seebeck_slope", "resistance_slope", "conductance_slope")
BANK = (
    *(*SECTION, "cold", "hot", "inside", "outside", "wall", "wall_area", "wall_along"),
    *(*DATASHEET, *DIRECT, "reference_mean", *SLOPES, "cold_sink", "hot_sink", "cold_capacity", "hot_capacity", "zone"),
)
OPENING = ("name", "a_day", "at", "share", "zone")
OPENED = {"top": 0.2, "side": 0.9}  # share of the air that is lost; common practice, no source: see usual.csv
LINE = ("name", "length", "psi", *SECTION, "bridge", "inside", "outside", "zone")
POINT = ("name", "count", "chi", *SECTION, "bridge", "inside", "outside", "bolt", "wall", "zone")
SUPPLY = ("voltage", "current", "lead_resistance", "series", "parallel")
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
    beside = Beside(path.parent, altitude)
    if not zones:
        _without(t, ("emissivity",), "is that from zone to zone, and there are none")
    films = FilmsRead(t.number("setpoint"), room, altitude)
    bank = _bank(top, materials, beside, films)
    walls = tuple(_wall(w, materials, films) for w in top.tables("wall", WALL))
    walls = tuple(w.between(films.inside, films.room) for w in walls)
    points = tuple(_point(x, walls, materials, films, beside) for x in top.tables("point", POINT))
    in_walls = [x.material for w in walls for x in w.layers]
    in_blocks = [sink.block.material for sink in bank.plates.values() if sink.block is not None]
    in_bolts = [p.material for x in points if x.file for p in x.file.section.parts if p.material and x.file.made]
    return Cabinet(
        title=title_of(top, path),
        inside=t.triple("inside"),
        walls=walls,
        bank=bank,
        load=_load(top.table("load", LOAD), materials, films),
        thermostat=_thermostat(top.table("thermostat", THERMOSTAT), bank, beside),
        room=room,
        setpoint=films.inside,
        lines=tuple(_line(x, beside) for x in top.tables("line", LINE)),
        points=points,
        openings=tuple(_opening(x) for x in top.tables("opening", OPENING)),
        zones=zones,
        emissivity=_number(t, "emissivity", Cabinet.emissivity),
        exchanges=read_exchanges(top),
        air_changes=_number(t, "air_changes", 0.0),
        inside_heat=_number(t, "inside_heat", 0.0),
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


def _number(t: Table, key: str, otherwise: float) -> float:
    return t.number(key) if key in t.values else otherwise


def _count(t: Table, key: str) -> int:
    count = t.number(key)
    if count < 1 or count != int(count):
        raise t.fault(key, f"{count:g} is not a whole number of 1 or more")
    return int(count)


def _without(t: Table, keys: tuple[str, ...], why: str) -> None:
    for key in keys:
        if key in t.values:
            raise t.fault(key, f"{why}; leave it out")


@dataclass(frozen=True)
class Beside:
    """Where the section files of a cabinet lie, and the altitude (m) of those that give none."""

    folder: Path
    altitude: float


def _section(t: Table, beside: Beside) -> SectionFile:
    given = t.optional(lambda key: t.value(key, dict, "a table of named numbers of the section"), "let") or {}
    named = replace(t, where=t.place("let"), values=given)
    let = {key: named.number(key) for key in given}
    path = beside.folder / t.text("section")
    with t.at("section"):
        require_visible(repr(str(path)), str(path))
        with in_file(str(path)):
            text = document_text(str(path))
        stated = tuple(key for key in let if named.states(key))
        read = partial(_drawn, text, str(path), tuple(let.items()), stated, beside.altitude)
        section = read()
        shown, moved = Path(os.path.relpath(path.resolve(), beside.folder.resolve())).as_posix(), {}
        for u in section.uncertain:
            place = u.place if u.table == MATERIALS else f"{shown}: {u.place}"
            t.uncertain.setdefault(place, replace(u, place=place))
            if place in t.moved:
                moved[u.place] = t.moved[place]
        if moved:
            section = read(tuple(moved.items()))
    texts = tuple(sorted((key, f"{value:.15g}") for key, value in let.items()))
    return SectionFile(shown, texts, section, tuple(sorted(moved.items())), altitude=beside.altitude)


@lru_cache(maxsize=64)  # a cabinet is read again and again with other numbers, which few of its sections have
def _drawn(
    text: str,
    path: str,
    let: tuple[tuple[str, float], ...],
    stated: tuple[str, ...],
    altitude: float,
    moved: tuple[tuple[str, float], ...] = (),
) -> Section:
    """The section in the text of a file."""
    with in_file(path):
        document = document_in(text)
    return section_in(document, path, dict(let), dict(moved), stated, altitude)


class SectionBridge(TypedDict, total=False):
    """Fields of a loss that is taken from a section; none, where it is given as a number."""

    file: SectionFile
    bridge: str | None
    inside: tuple[str, ...]
    outside: tuple[str, ...]


def _line(t: Table, beside: Beside) -> LineLoss:
    name, length = t.text("name"), t.length("length")
    psi, bridge = _loss(t, "psi", beside)
    return LineLoss(name, length, psi, **bridge, zone=t.optional(t.text, "zone"))


def _point(
    t: Table, walls: tuple[Wall, ...], materials: Mapping[str, Material], films: FilmsRead, beside: Beside
) -> PointLoss:
    name, count = t.text("name"), _count(t, "count")
    chi, bridge = (None, _bolt(t, walls, materials, films)) if "bolt" in t.values else _loss(t, "chi", beside)
    return PointLoss(name, count, chi, **bridge, zone=t.optional(t.text, "zone"))


def _loss(t: Table, symbol: str, beside: Beside) -> tuple[float | None, SectionBridge]:
    if t.one_of(symbol, "section") == symbol:
        _without(t, ("let", "bridge", "inside", "outside"), f"belongs to a section, but {symbol} is given")
        return t.number(symbol), {}
    inside, outside = (t.optional(t.names, key) or () for key in ("inside", "outside"))
    return None, {
        "file": _section(t, beside),
        "bridge": t.optional(t.text, "bridge"),
        "inside": inside,
        "outside": outside,
    }


def _bolt(t: Table, walls: tuple[Wall, ...], materials: Mapping[str, Material], films: FilmsRead) -> SectionBridge:
    """The section of a bolt through a wall of the cabinet, and the bridge that it is. Films of the wall that follow do
    so in the section, too."""
    _without(t, ("chi", *SECTION, "bridge", "inside", "outside"), "is given where there is no bolt")
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


def _wall(t: Table, materials: Mapping[str, Material], films: FilmsRead) -> Wall:
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


def _bank(top: Table, materials: Mapping[str, Material], beside: Beside, films: FilmsRead) -> Bank:
    t = top.table("module", BANK)
    file = _section(t, beside) if "section" in t.values else None
    if file is None:
        _without(t, ("let", "cold", "hot", "inside", "outside", "wall"), "belongs to a section, and none is given")
    wall = t.optional(t.text, "wall")
    if wall is None:
        _without(t, ("wall_area", "wall_along"), "belongs to a wall, and none is given")
    module, data_sheet = _module(t)
    return Bank(
        module,
        _supply(top.table("supply", SUPPLY)),
        file,
        t.optional(t.text, "cold") or Bank.cold,
        t.optional(t.text, "hot") or Bank.hot,
        t.optional(t.names, "inside") or (),
        t.optional(t.names, "outside") or (),
        wall,
        _wall_area(t, file) if wall is not None and file is not None else 0.0,
        read_sink(t, "cold_sink", materials, films, partial(_section, beside=beside)),
        read_sink(t, "hot_sink", materials, films, partial(_section, beside=beside)),
        _number(t, "cold_capacity", 0.0),
        _number(t, "hot_capacity", 0.0),
        data_sheet,
        t.optional(t.text, "zone"),
    )


def _wall_area(t: Table, file: SectionFile) -> float:
    """m2 of wall that the section of one module replaces."""
    if t.one_of("wall_area", "wall_along") == "wall_area":
        return t.number("wall_area")
    along = t.text("wall_along")
    if along not in ("x", "y"):
        raise t.fault("wall_along", f'{along!r} is no direction; give "x" or "y" of the section')
    if file.section.view != "section":
        raise t.fault("wall_along", f"{file.path} has the view {file.section.view!r} and no depth; give wall_area")
    x0, x1, y0, y1 = file.section.extent
    return (x1 - x0 if along == "x" else y1 - y0) * file.section.depth


def _module(t: Table) -> tuple[ThermoelectricModule, DataSheet | None]:
    """The module, and the data sheet that it comes from, if any."""
    slopes = {key: t.number(key) for key in SLOPES if key in t.values}
    if not any(key in t.values for key in DIRECT):
        if not any(key in t.values for key in DATASHEET):
            raise InputError(
                f"{t.where}: no figures of the module; give {', '.join(DATASHEET)} of its data sheet, "
                "or its seebeck, resistance and conductance"
            )
        _without(t, ("reference_mean",), "belongs to seebeck, resistance and conductance; a data sheet has its own")
        sheet = _data_sheet(t)
        return module_from_datasheet(sheet, **slopes), sheet
    _without(t, DATASHEET, "is a data sheet's figure, but seebeck, resistance and conductance are given")
    mean = t.number("reference_mean") if slopes or "reference_mean" in t.values else 0.0  # only slopes refer to it
    seebeck, resistance, conductance = (t.number(key, key) for key in DIRECT)
    return ThermoelectricModule(seebeck, resistance, conductance, mean, **slopes), None


def _data_sheet(t: Table) -> DataSheet:
    unused = "greatest_heat" if "greatest_voltage" in t.values else ""  # only checked against the others
    heat, difference, current, voltage = (
        t.number(key, key if key != unused else "") if key in t.values else None for key in DATASHEET[:4]
    )
    hot_side = t.number("hot_side")
    if difference is None or current is None:
        raise t.fault(
            "greatest_difference" if difference is None else "greatest_current",
            "missing; give greatest_difference, greatest_current and one of greatest_voltage and greatest_heat",
        )
    return DataSheet(difference, current, hot_side, voltage, heat)


def _supply(t: Table) -> Supply:
    given = t.one_of("voltage", "current")
    if t.number(given) == 0:
        raise t.fault(given, "0 leaves the modules off, with nothing to compare; give the supply's figure")
    return Supply(
        voltage=t.optional(t.number, "voltage"),
        current=t.optional(t.number, "current"),
        lead_resistance=_number(t, "lead_resistance", 0.0),
        series=t.optional(lambda key: _count(t, key), "series") or 1,
        parallel=t.optional(lambda key: _count(t, key), "parallel") or 1,
    )


def _load(t: Table, materials: Mapping[str, Material], films: FilmsRead) -> Load:
    if t.one_of("material", "specific_heat") == "specific_heat":
        heat = t.number("specific_heat")
    else:
        with t.at("material"):
            material = find_material(t.text("material"), materials)
            if material.specific_heat is None:
                raise InputError(f"{material.name!r} has no specific heat; give the load's specific_heat instead")
            heat = material.specific_heat
    start, film = _number(t, "start", films.room), films.read(t, "film", LOAD_FILM, "load", indoors=True)
    own, evaporates = _number(t, "heat", 0.0), _number(t, "moisture", 0.0)
    if evaporates < 0:
        raise t.fault("moisture", f"{evaporates:g} is below 0; give the water that evaporates from the load, g a day")
    contact, facing = read_cold_plate(t)
    return Load(
        *(t.number("mass"), heat, t.number("surface"), film, start, own, evaporates * GRAMS_A_DAY),
        zones=read_load_zones(t),
        contact=contact,
        facing=facing,
    )


def _thermostat(t: Table, bank: Bank, beside: Beside) -> Thermostat:
    hysteresis, switches = t.number("hysteresis"), t.optional(t.text, "switches") or "all"
    sensor, zone = t.optional(t.text, "sensor") or AIR, t.optional(t.text, "zone")
    if sensor == AIR:
        _without(t, (*SECTION, "inside", "outside"), f'belongs to a sensor in a section, but sensor is "{AIR}"')
        return Thermostat(hysteresis, switches=switches, zone=zone)
    if "section" not in t.values:
        _without(t, ("let",), "belongs to a section, and none is given")
    file = _section(t, beside) if "section" in t.values else bank.file
    inside, outside = t.optional(t.names, "inside"), t.optional(t.names, "outside")
    if inside is None and outside is None:
        drawn: list[Bank | PlateSink] = [bank, *bank.plates.values()]
        inside, outside = next(((x.inside, x.outside) for x in drawn if x.file == file), (None, None))
    return Thermostat(hysteresis, file, sensor, inside or (), outside or (), switches, zone)
