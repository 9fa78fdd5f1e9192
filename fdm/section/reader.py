"""Reads a section file (TOML), strictly: what is unknown, missing or of the wrong kind is refused, with its place."""

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from functools import cache
from inspect import signature
from os import PathLike
from pathlib import Path

from fdm.errors import InputError, in_file, path_of, require_by_name, what_is
from fdm.section.bolts import BOLT, bolt_section, read_bolt, read_layers
from fdm.section.depths import mixed
from fdm.section.films import OF_FINS, number_film, relation_film
from fdm.section.fin_reader import FINS, RESISTANCE, FinsIn, drawn_fins, read_fins, read_resistance
from fdm.section.material_reader import read_materials
from fdm.section.model import (
    SIDES,
    Border,
    Bridge,
    Environment,
    Joint,
    Section,
    Segment,
    Source,
    Spreading,
)
from fdm.section.part_reader import PART, read_part, read_rectangle
from fdm.section.sensors import SENSOR, read_sensor
from fdm.section.tables import Table, all_uncertain, read_document, title_of, top_table, unused_names
from fdm.section.uncertain import is_uncertain
from fdm.surroundings.film import require_altitude


def read_section(path: str | PathLike[str], moved: Mapping[str, float] | None = None, /, **let: float | str) -> Section:
    """The section drawn in a TOML file, in SI units.

    `let` overrides named numbers of the file's [let], each by a number or an expression; the new value has no
    uncertainty of its own. Any number of the file may be given as { value = .., uncertainty = .. } (standard
    uncertainty, normal; 0 for an exact one) or { between = [low, high] } (evenly likely): its nominal value is used,
    and `section.uncertain` lists it. Films and joints given without one have their usual uncertainty. `moved` says
    by how much such numbers differ from their nominal values, by place, in the file's unit; expressions that use them
    change with them.

    Raises InputError, which begins with the path, for anything the file should not hold, for a path that cannot be
    read, for an override of a name the file does not have, and where `moved` names a number without an uncertainty.

    >>> section = read_section("geometries/bolt.toml")
    >>> section.view, section.fixed_names, [b.name for b in section.bridges]
    ('axisymmetric', ('cabinet air', 'greenhouse air'), ['bolt with its bush'])
    """
    name = path_of(path, "read_section", "section file")
    if not isinstance(moved, Mapping | None):
        raise InputError(f"read_section: {what_is(moved)} is no mapping; change named numbers by name, as in base=4")
    require_by_name("read_section", moved or {}, '{"let base": 0.5}')
    with in_file(name):
        document = read_document(name)
    return section_in(document, name, let, moved)


Given = Section | str | PathLike[str] | Callable[[], Section]


def section_of(given: Given, where: str) -> Section:
    """The section that is given: itself, or in the file at a path, or returned by a function without arguments. Raises
    InputError, which begins with `where`, for anything else."""
    if isinstance(given, (str, PathLike)):
        return read_section(given)
    if isinstance(given, Section):
        return given
    if not callable(given):
        raise InputError(
            f"{where}: got {what_is(given)}; give a Section, the path of a section file, or a function that returns a "
            "Section"
        )
    try:
        signature(given).bind()
    except TypeError as fault:
        raise InputError(
            f"{where}: {fault} of the function; give one that can be called without, such as lambda: make(4)"
        ) from None
    if not isinstance(found := given(), Section):
        raise InputError(f"{where}: the function returned {what_is(found)}; let it return a Section")
    return found


def section_in(
    document: dict[str, object],
    name: str,
    let: Mapping[str, float | str],
    moved: Mapping[str, float] | None = None,
    stated: Collection[str] = (),
    altitude: float = 0.0,
) -> Section:
    """The section in the tables of the file `name`, as `read_section` reads it. `stated` are names of `let` whose
    uncertainty is stated elsewhere; `altitude` (m) counts where the file gives none."""
    with in_file(name):
        if "cabinet" in document:
            raise InputError(
                "[cabinet]: this file describes a whole cabinet, and not a section; solve it with the command cabinet, "
                "or with solve_cabinet in Python"
            )
        read, known = (_bolt_section, TOP_OF_BOLT) if "bolt" in document else (_drawn_section, TOP)
        _refuse_mixed(document)
        top = top_table(document, let, known, moved or {}, stated)
        section = read(top, title_of(top, Path(name)), altitude)
    file = "" if moved else name  # other numbers than the file's, where some are moved
    return replace(section, file=file, overrides=let, unused=unused_names(top, let, known))


SOURCE = ("name", "segment", "part", "face", "rectangle", "heat", "temperature", "fills_depth")
JOINT = ("between", *RESISTANCE)
TOP: tuple[str, ...] = (
    *("title", "view", "unit", "depth", "down", "altitude", "let", "material", "environment", "part", "border"),
    *("joint", "fins", "source", "sensor", "spreading", "bridge"),
)
TOP_OF_BOLT = ("title", "unit", "altitude", "let", "material", "environment", "layer", "bolt")


def _refuse_mixed(document: Mapping[str, object]) -> None:
    """Raise InputError where a drawing has layers, or a [bolt] has a drawing."""
    if "bolt" not in document and "layer" in document:
        raise InputError("layer: belongs to a [bolt], which is missing; give it, or draw the layers as [[part]]s")
    drawn = next((key for key in document if key in TOP and key not in TOP_OF_BOLT), None)
    if "bolt" in document and drawn is not None:
        raise InputError(f"{drawn}: belongs to a drawing, and this file has a [bolt] in place of one; leave out either")


def _drawn_section(top: Table, title: str, altitude: float) -> Section:
    view = top.optional(top.text, "view") or "section"
    depth = top.optional(top.length, "depth")
    if depth is not None and view in ("axisymmetric", "plate"):
        raise top.fault("depth", f"belongs to the section view, not to view = {view!r}; leave it out")
    materials = read_materials(top)
    altitude = _altitude(top, altitude)
    environments = _environments(top, altitude, lambda airs: drawn_fins(top, materials, airs))
    parts = tuple(read_part(t, materials) for t in top.tables("part", PART))
    fins = tuple(read_fins(t, parts, materials) for t in top.tables("fins", FINS))
    sources = tuple(_source(t) for t in top.tables("source", SOURCE))
    border = _border(top.table("border", SIDES)) if "border" in top.values else Border()
    joints = tuple(Joint(t.two_names("between"), read_resistance(t)) for t in top.tables("joint", JOINT))
    sensor_tables = top.tables("sensor", SENSOR)
    names = {e.name for e in environments} | {s.name for s in sources} | {t.text("name") for t in sensor_tables}
    sensors = tuple(read_sensor(t, names, materials, parts, border) for t in sensor_tables)
    used = [*(p.material for p in parts if p.material is not None), *(f.material for f in fins)]
    used += [s.stem.material for s in sensors if s.stem is not None]
    drawn = Section(
        title=title,
        parts=parts,
        environments=environments,
        view=view,
        unit=top.text("unit"),
        depth=1.0 if depth is None else depth,
        down=top.optional(top.text, "down"),
        altitude=altitude,
        border=border,
        joints=joints,
        fins=fins,
        sources=sources,
        sensors=sensors,
        spreading=tuple(_spreading(t) for t in top.tables("spreading", ("part", "along"))),
        bridges=tuple(_bridge(t) for t in top.tables("bridge", ("remove", "between", "name"))),
        let=top.let,
        uncertain=all_uncertain(top, used),  # last, when all is read
    )
    return mixed(drawn)


def _altitude(top: Table, otherwise: float) -> float:
    altitude = top.number_or("altitude", otherwise)
    require_altitude(altitude)
    return altitude


def _bolt_section(top: Table, title: str, altitude: float) -> Section:
    """The section of a file that has a [bolt] and layers in place of a drawing."""
    altitude = _altitude(top, altitude)
    materials, environments = read_materials(top), _environments(top, altitude, lambda _: {})
    if len(environments) != 2:
        raise top.fault("environment", f"{len(environments)} are given; give two, the one inside first")
    layers = read_layers(top, materials)
    bolt = read_bolt(top.table("bolt", BOLT), materials)
    section = bolt_section(title, layers, *environments, bolt, top.text("unit"))
    used = [p.material for p in section.parts if p.material is not None]
    return replace(section, let=top.let, altitude=altitude, uncertain=all_uncertain(top, used))


def _environments(top: Table, altitude: float, drawn: Callable[[Sequence[str]], FinsIn]) -> tuple[Environment, ...]:
    """All environments; `drawn` tells which fins are drawn in those of these names, where a film depends on them."""
    tables = top.tables("environment", ("name", "temperature", "film", "humidity", "dew_point"))
    seen = cache(lambda: drawn([t.text("name") for t in tables]))
    return tuple(_environment(t, altitude, seen) for t in tables)


def _environment(t: Table, altitude: float, drawn: Callable[[], FinsIn]) -> Environment:
    name, temperature, given = t.text("name"), t.number("temperature"), t.values.get("film")
    moisture = t.optional(t.number, "humidity"), t.optional(t.number, "dew_point")
    if isinstance(given, dict) and not is_uncertain(given):
        fins = drawn().get(name, ()) if str(given.get("flow")) in OF_FINS else ()
        if len(fins) > 1:
            each = "each with a film of its own; give each of them an environment of its own, of the same temperature"
            raise t.fault("film", f"{len(fins)} [[fins]] stand in it, {each}")
        found, follows = relation_film(t, "film", temperature, altitude, *fins)
        return Environment(name, temperature, found.film, found, *moisture, follows)
    film = math.inf if given == math.inf else number_film(t, "film")
    return Environment(name, temperature, film, None, *moisture)


def _border(t: Table) -> Border:
    return Border(*(t.optional(t.text, side) for side in SIDES))


def _spreading(t: Table) -> Spreading:
    return Spreading(t.one_or_more_names("part"), t.optional(t.text, "along"))


def _bridge(t: Table) -> Bridge:
    return Bridge(t.names("remove"), t.optional(t.two_names, "between"), t.optional(t.text, "name") or "")


def _source(t: Table) -> Source:
    segment = None
    if "segment" in t.values:
        given = t.table("segment", ("x", "y"))
        x, y = given.ends("x"), given.ends("y")
        with t.at("segment"):
            segment = Segment(x, y)
    heat, temperature = t.optional(t.number, "heat"), t.optional(t.number, "temperature")
    fills_depth = t.optional(t.true, "fills_depth") or False
    face, patch = t.optional(t.text, "face"), t.optional(lambda _: read_rectangle(t), "rectangle")
    return Source(t.text("name"), segment, t.optional(t.text, "part"), heat, temperature, fills_depth, face, patch)
