"""Reads a section file (TOML), strictly: what is unknown, missing or of the wrong kind is refused, with its place."""

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from functools import cache
from inspect import signature
from os import PathLike
from pathlib import Path

from fdm.errors import InputError, path_of, visible, what_is
from fdm.section.bolts import BOLT, bolt_section, read_bolt, read_layers
from fdm.section.by_temperature import EMISSIVITY, AirGap
from fdm.section.depths import mixed
from fdm.section.films import OF_FINS, relation_film
from fdm.section.materials import find_material
from fdm.section.model import (
    PLAIN,
    SIDES,
    Border,
    Bridge,
    Disc,
    Environment,
    Fins,
    Joint,
    Material,
    Part,
    Polygon,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Shape,
    Source,
    Spreading,
    repeated,
)
from fdm.section.rules import check_solid, fin_array
from fdm.section.sensors import SENSOR, read_probe
from fdm.section.tables import Table, all_uncertain, read_document, read_materials, top_table
from fdm.section.uncertain import is_uncertain, spread_about
from fdm.surroundings.cavities import UNCERTAINTY
from fdm.surroundings.film import require_altitude
from fdm.surroundings.fins import FinArray

MOST_COPIES = 10_000


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
    try:
        document = read_document(name)
    except InputError as error:
        raise InputError(f"{name}: {error}") from error
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
) -> Section:
    """The section in the tables of the file `name`, as `read_section` reads it. `stated` are names of `let` whose
    uncertainty is stated elsewhere."""
    try:
        return _section(document, let, name, moved or {}, stated)
    except InputError as error:
        raise InputError(f"{name}: {error}") from error


FINS = (
    *("name", "part", "face", "along", "count", "pitch", "thickness", "height", "environment"),
    *("rectangle", "material", "joint"),
)
SOURCE = ("name", "segment", "part", "face", "rectangle", "heat", "temperature", "fills_depth")
TOP: tuple[str, ...] = (
    *("title", "view", "unit", "depth", "down", "altitude", "let", "material", "environment", "part", "border"),
    *("joint", "fins", "source", "sensor", "spreading", "bridge"),
)


PART = (
    *("name", "material", "environment", "gap", "void", "rectangle", "disc", "polygon", "repeat"),
    *("thickness", "front", "back", "depth", "round", "count"),
)
GAP = ("emissivity", "along", "thickness")
TOP_OF_BOLT = ("title", "unit", "altitude", "let", "material", "environment", "layer", "bolt")


def _section(
    document: dict[str, object],
    overrides: Mapping[str, float | str],
    name: str,
    moved: Mapping[str, float],
    stated: Collection[str],
) -> Section:
    if "cabinet" in document:
        raise InputError(
            "[cabinet]: this file describes a whole cabinet, and not a section; solve it with the command cabinet, or "
            "with solve_cabinet in Python"
        )
    if "bolt" in document:
        return _bolt_section(top_table(document, overrides, TOP_OF_BOLT, moved, stated), visible(Path(name).stem))
    top = top_table(document, overrides, TOP, moved, stated)
    view = top.optional(top.text, "view") or "section"
    depth = top.optional(top.length, "depth")
    if depth is not None and view in ("axisymmetric", "plate"):
        raise top.fault("depth", f"belongs to the section view, not to view = {view!r}; leave it out")
    materials = read_materials(top)
    environments = _environments(top, lambda: _drawn_fins(top, materials))
    parts = tuple(_part(t, materials) for t in top.tables("part", PART))
    fins = tuple(_fins(t, parts, materials) for t in top.tables("fins", FINS))
    sources = tuple(_source(t) for t in top.tables("source", SOURCE))
    border = _border(top.table("border", SIDES)) if "border" in document else Border()
    sensor_tables = top.tables("sensor", SENSOR)
    names = {e.name for e in environments} | {s.name for s in sources} | {t.text("name") for t in sensor_tables}
    drawn = Section(
        title=title if (title := top.optional(top.text, "title")) is not None else visible(Path(name).stem),
        parts=parts,
        environments=environments,
        view=view,
        unit=top.text("unit"),
        depth=1.0 if depth is None else depth,
        down=top.optional(top.text, "down"),
        border=border,
        joints=tuple(
            Joint(t.two_names("between"), read_resistance(t))
            for t in top.tables("joint", ("between", "resistance", "thickness", "conductivity"))
        ),
        fins=fins,
        sources=sources,
        sensors=(sensors := tuple(read_probe(t, _sensor(t, names), materials, parts, border) for t in sensor_tables)),
        spreading=tuple(
            Spreading(_one_or_more(t, "part"), t.optional(t.text, "along"))
            for t in top.tables("spreading", ("part", "along"))
        ),
        bridges=tuple(
            Bridge(t.names("remove"), t.optional(t.two_names, "between"), t.optional(t.text, "name") or "")
            for t in top.tables("bridge", ("remove", "between", "name"))
        ),
        let=top.let,
        file="" if moved else name,  # other numbers than the file's, where some are moved
        overrides=overrides,
        uncertain=all_uncertain(  # last, when all is read
            top,
            [p.material for p in parts if p.material is not None]
            + [f.material for f in fins]
            + [s.stem.material for s in sensors if s.stem is not None],
        ),
    )
    return mixed(drawn)


def _bolt_section(top: Table, stem: str) -> Section:
    """The section of a file that has a [bolt] and layers in place of a drawing."""
    materials, environments = read_materials(top), _environments(top, dict)
    if len(environments) != 2:
        raise top.fault("environment", f"{len(environments)} are given; give two, the one inside first")
    layers = read_layers(top, materials)
    bolt = read_bolt(top.table("bolt", BOLT), materials)
    title = top.optional(top.text, "title")
    section = bolt_section(stem if title is None else title, layers, *environments, bolt, top.text("unit"))
    used = [p.material for p in section.parts if p.material is not None]
    return replace(section, let=top.let, uncertain=all_uncertain(top, used))


FinsIn = Mapping[str, Sequence[FinArray]]  # by environment


def _environments(top: Table, drawn: Callable[[], FinsIn]) -> tuple[Environment, ...]:
    """All environments; `drawn` tells which fins are drawn, where a film depends on them."""
    altitude = top.optional(top.number, "altitude") or 0.0
    require_altitude(altitude)
    keys, seen = ("name", "temperature", "film", "humidity", "dew_point"), cache(drawn)
    return tuple(_environment(t, altitude, seen) for t in top.tables("environment", keys))


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
    film = math.inf if given == math.inf else t.number("film", "film")
    return Environment(name, temperature, film, None, *moisture)


def _drawn_fins(top: Table, materials: Mapping[str, Material]) -> FinsIn:
    """The fins that stand in each environment. What is uncertain in them is noted where they are read in their turn."""
    top = replace(top, uncertain={})
    groups = top.tables("fins", FINS)
    parts = tuple(_part(t, materials) for t in top.tables("part", PART)) if groups else ()
    out: dict[str, list[FinArray]] = {}
    for t in groups:
        fins = _fins(t, parts, materials)
        for name in fins.parts:
            check_solid(f"{t.where}, part", name, {p.name: p for p in parts}, "fins stand on a part with a material")
        try:
            found = fin_array(fins, {p.name: p for p in parts})
        except InputError as error:
            raise InputError(f"{t.where}, {error}") from None
        out.setdefault(fins.environment, []).append(found)
    return out


def _part(t: Table, materials: Mapping[str, Material]) -> Part:
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
        closed = t.optional(t.true, "gap") or False
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
    if len(given) != 2:
        raise gap.fault("emissivity", f"holds {len(given)} values; give one for both faces, or two, [.., ..]")
    first, second = (
        replace(gap, values={f"emissivity {k}": e}).number(f"emissivity {k}") for k, e in enumerate(given, 1)
    )
    return first, second


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
            shape = _rectangle(t)
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
    with t.at("repeat"):
        return repeated(shape, count, step)


def _border(t: Table) -> Border:
    return Border(*(t.optional(t.text, side) for side in SIDES))


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


def _one_or_more(t: Table, key: str) -> tuple[str, ...]:
    """A name, or a list of names."""
    return (t.text(key),) if isinstance(t.values.get(key), str) else t.names(key)


def _rectangle(t: Table) -> Rectangle:
    given = t.table("rectangle", ("x", "y"))
    x, y = given.pair("x"), given.pair("y")
    with t.at("rectangle"):
        return Rectangle(x, y)


def _fins(t: Table, parts: tuple[Part, ...], materials: Mapping[str, Material]) -> Fins:
    on, face, named = _one_or_more(t, "part"), t.text("face"), t.optional(t.text, "material")
    with t.at("material"):
        material = None if named is None else find_material(named, materials)
    if material is None:  # that of the plate
        material = next((p.material for p in parts if p.name in on and p.material is not None), PLAIN)
    joint = t.table("joint", ("resistance", "thickness", "conductivity")) if "joint" in t.values else None
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
        t.optional(lambda _: _rectangle(t), "rectangle"),
    )


def _sensor(t: Table, names: set[str]) -> Sensor:
    return Sensor(
        t.text("name"),
        t.optional(t.pair, "at"),
        t.optional(t.text, "part"),
        _should_read(t, names),
        t.optional(t.text, "face"),
        t.optional(t.length, "depth") or 0.0,
    )


def _source(t: Table) -> Source:
    segment = None
    if "segment" in t.values:
        given = t.table("segment", ("x", "y"))
        x, y = given.ends("x"), given.ends("y")
        with t.at("segment"):
            segment = Segment(x, y)
    heat, temperature = t.optional(t.number, "heat"), t.optional(t.number, "temperature")
    fills_depth = t.optional(t.true, "fills_depth") or False
    face, patch = t.optional(t.text, "face"), t.optional(lambda _: _rectangle(t), "rectangle")
    return Source(t.text("name"), segment, t.optional(t.text, "part"), heat, temperature, fills_depth, face, patch)


def _should_read(t: Table, names: set[str]) -> str | float | None:
    given = t.values.get("should_read")
    if isinstance(given, str) and given not in names:
        try:
            return t.number("should_read")
        except InputError:
            return given  # neither a name nor an expression: the section refuses it with the nearest name
    return given if isinstance(given, str) else t.optional(t.number, "should_read")
