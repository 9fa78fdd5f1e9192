"""Reads a section file (TOML), strictly: what is unknown, missing or of the wrong kind is refused, with its place."""

import math
import tomllib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from os import PathLike, fspath
from pathlib import Path
from typing import TypeVar

from fdm.errors import InputError, nearest
from fdm.section.expressions import as_number, kind, resolve
from fdm.section.materials import builtin_materials, find_material
from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
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
from fdm.section.rules import SIDES, UNITS

LARGEST_FILE = 2_000_000  # bytes
LONGEST_LENGTH = 1e6  # m; beyond it a drawing is a slip
MOST_COPIES = 10_000

T = TypeVar("T")


def read_section(path: str | PathLike[str], /, **let: float | str) -> Section:
    """The section drawn in a TOML file, in SI units.

    `let` overrides named numbers of the file's [let], each by a number or an expression. Raises InputError, which
    begins with the path, for anything the file should not hold, for a path that cannot be read, and for an override
    of a name the file does not have.
    """
    name = fspath(path)
    try:
        return _section(_document(name), let, Path(name).stem)
    except InputError as error:
        raise InputError(f"{name}: {error}") from error


def _document(path: str) -> dict[str, object]:
    try:
        with open(path, "rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:  # ValueError: a path with a null character
        reason = (isinstance(error, OSError) and error.strerror) or error
        raise InputError(f"cannot be read: {reason}; give the path of a section file") from None
    if len(content) > LARGEST_FILE:
        raise InputError(f"is larger than {LARGEST_FILE} bytes; a section file is a short text")
    try:
        return tomllib.loads(content.decode("utf-8-sig").replace("\r\n", "\n"))
    except UnicodeDecodeError as error:
        raise InputError(f"is not UTF-8 text (byte {error.start}); save it as UTF-8") from None
    except RecursionError:
        raise InputError("not valid TOML: nested too deeply; see the section file's format") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"not valid TOML: {error}") from None
    except ValueError:
        raise InputError("holds a whole number of too many digits; give numbers of a sensible size") from None


@dataclass(frozen=True)
class _Table:
    """A table of the file: where it stands, what it holds, the named numbers and the unit of length (m) it is in.

    Every reading method raises InputError, with the place, where the key is missing or its value cannot be read.
    """

    where: str
    values: dict[str, object]
    let: Mapping[str, float]
    unit: float

    def place(self, key: str) -> str:
        return f"{self.where}, {key}" if self.where else key

    def fault(self, key: str, message: str) -> InputError:
        return InputError(f"{self.place(key)}: {message}")

    @contextmanager
    def at(self, key: str) -> Iterator[None]:
        """Puts the place before the message of an InputError raised inside."""
        try:
            yield
        except InputError as error:
            raise self.fault(key, str(error)) from None

    def value(self, key: str, type_: type[T], wanted: str) -> T:
        if key not in self.values:
            raise self.fault(key, f"missing; give {wanted}")
        value = self.values[key]
        if not isinstance(value, type_):
            raise self.fault(key, f"is {kind(value)}; give {wanted}")
        return value

    def optional(self, read: Callable[[str], T], key: str) -> T | None:
        return read(key) if key in self.values else None

    def one_of(self, *keys: str) -> str:
        given = [key for key in keys if key in self.values]
        if len(given) != 1:
            raise InputError(f"{self.where}: give exactly one of {', '.join(keys[:-1])} and {keys[-1]}")
        return given[0]

    def text(self, key: str) -> str:
        return self.value(key, str, "a text in quotes")

    def true(self, key: str) -> bool:
        return self.value(key, bool, "true or false")

    def number(self, key: str) -> float:
        return self._number(key, self.value(key, object, "a number or an expression"))

    def _number(self, key: str, value: object) -> float:
        with self.at(key):
            return as_number(value, self.let)

    def length(self, key: str) -> float:
        return self._length(key, self.value(key, object, "a length"))

    def _length(self, key: str, value: object) -> float:
        metres = self._number(key, value) * self.unit
        if abs(metres) > LONGEST_LENGTH:
            raise self.fault(key, f"{metres:g} m is too far; give a length of at most {LONGEST_LENGTH:g} m")
        return metres

    def pair(self, key: str) -> tuple[float, float]:
        return self._pair(key, self.value(key, list, "two lengths, [.., ..]"))

    def _pair(self, key: str, value: object) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            found = f"{len(value)} values" if isinstance(value, list) else kind(value)
            raise self.fault(key, f"holds {found}; give two lengths, [.., ..]")
        return self._length(key, value[0]), self._length(key, value[1])

    def pairs(self, key: str) -> tuple[tuple[float, float], ...]:
        return tuple(self._pair(key, v) for v in self.value(key, list, "a list of points, [[x, y], ...]"))

    def ends(self, key: str) -> tuple[float, float]:
        """Both ends of a stretch along one axis, or twice the one place on it."""
        if isinstance(self.values.get(key), list):
            return self.pair(key)
        return (length := self.length(key)), length

    def names(self, key: str) -> tuple[str, ...]:
        names = self.value(key, list, "a list of names")
        if not names or not all(isinstance(n, str) for n in names):
            raise self.fault(key, "is not a list of names; give at least one name, each in quotes")
        return tuple(names)

    def two_names(self, key: str) -> tuple[str, str]:
        if len(names := self.names(key)) != 2:
            raise self.fault(key, f"holds {len(names)} names; give two")
        return names[0], names[1]

    def table(self, key: str, known: tuple[str, ...]) -> "_Table":
        wanted = f"{{ {', '.join(f'{k} = ..' for k in known)} }}"
        return self._table(self.place(key), self.value(key, dict, wanted), known)

    def tables(self, key: str, known: tuple[str, ...]) -> list["_Table"]:
        values = self.value(key, list, f"[[{key}]], with double brackets") if key in self.values else []
        found = []
        for i, value in enumerate(values, 1):
            if not isinstance(value, dict):
                raise InputError(f"{key} {i}: is {kind(value)}; write each as a table under [[{key}]]")
            name = value.get("name")
            found.append(self._table(f"{key} {name!r}" if isinstance(name, str) else f"{key} {i}", value, known))
        return found

    def _table(self, where: str, values: dict[str, object], known: tuple[str, ...]) -> "_Table":
        _refuse_unknown(where, values, known)
        return _Table(where, values, self.let, self.unit)


def _refuse_unknown(where: str, values: Mapping[str, object], known: tuple[str, ...]) -> None:
    for key in values:
        if key not in known:
            shown = key if key.isidentifier() else repr(key)
            raise InputError(f"{where}{', ' if where else ''}{shown}: unknown key; {nearest(key, known)}")


TOP = (
    *("title", "view", "unit", "depth", "let", "material", "environment", "part", "border"),
    *("joint", "source", "sensor", "spreading", "bridge"),
)


def _section(document: dict[str, object], overrides: Mapping[str, float | str], stem: str) -> Section:
    _refuse_unknown("", document, TOP)
    top = _Table("", document, {}, 1.0)
    given = top.optional(lambda key: top.value(key, dict, "a table of named numbers"), "let") or {}
    for name in overrides:
        if name not in given:
            raise InputError(f"let: there is no named number {name!r} to change; {nearest(name, given)}")
    let = resolve({**given, **overrides})
    unit = top.value("unit", str, 'the unit of every length in the file, "mm", "cm" or "m"')
    if unit not in UNITS:
        raise top.fault("unit", f"{unit!r} is not a unit of length; {nearest(unit, UNITS)}")
    top = _Table("", document, let, UNITS[unit])

    view = top.optional(top.text, "view") or "section"
    depth = top.optional(top.length, "depth")
    if depth is not None and view in ("axisymmetric", "plate"):
        raise top.fault("depth", f"belongs to the section view, not to view = {view!r}; leave it out")
    materials = {**builtin_materials(), **_materials(top)}
    environments = tuple(
        Environment(t.text("name"), t.number("temperature"), _film(t))
        for t in top.tables("environment", ("name", "temperature", "film"))
    )
    part_keys = ("name", "material", "environment", "void", "rectangle", "disc", "polygon", "repeat")
    parts = tuple(_part(t, materials) for t in top.tables("part", (*part_keys, "thickness", "front", "back")))
    sources = tuple(_source(t) for t in top.tables("source", ("name", "segment", "part", "heat", "temperature")))
    sensors = top.tables("sensor", ("name", "at", "part", "should_read"))
    names = {e.name for e in environments} | {s.name for s in sources} | {t.text("name") for t in sensors}
    return Section(
        title=title if (title := top.optional(top.text, "title")) is not None else stem,
        parts=parts,
        environments=environments,
        view=view,
        unit=unit,
        depth=1.0 if depth is None else depth,
        border=_border(top.table("border", SIDES)) if "border" in document else Border(),
        joints=tuple(
            Joint(t.two_names("between"), _resistance(t))
            for t in top.tables("joint", ("between", "resistance", "thickness", "conductivity"))
        ),
        sources=sources,
        sensors=tuple(
            Sensor(t.text("name"), t.optional(t.pair, "at"), t.optional(t.text, "part"), _should_read(t, names))
            for t in sensors
        ),
        spreading=tuple(
            Spreading(
                (t.text("part"),) if isinstance(t.values.get("part"), str) else t.names("part"),
                t.optional(t.text, "along"),
            )
            for t in top.tables("spreading", ("part", "along"))
        ),
        bridges=tuple(
            Bridge(t.names("remove"), t.optional(t.two_names, "between"), t.optional(t.text, "name") or "")
            for t in top.tables("bridge", ("remove", "between", "name"))
        ),
        let=let,
    )


def _materials(top: _Table) -> dict[str, Material]:
    found = {}
    values = top.values.get("material", {})
    if not isinstance(values, dict):
        raise top.fault("material", f'is {kind(values)}; write each as [material."NAME"]')
    for name in values:
        if not isinstance(values[name], dict):
            raise InputError(f'material: {name!r} is {kind(values[name])}; write each as [material."NAME"]')
        known = ("conductivity", "density", "specific_heat", "source")
        t = top._table(f"material {name!r}", values[name], known)
        if isinstance(t.values.get("conductivity"), dict):
            both = t.table("conductivity", ("x", "y"))
            conductivity = both.number("x"), both.number("y")
        else:
            conductivity = (t.number("conductivity"),) * 2
        density, heat = t.optional(t.number, "density"), t.optional(t.number, "specific_heat")
        for key, value in zip(("conductivity", "conductivity", *known[1:3]), (*conductivity, density, heat)):
            if value is not None and value <= 0:  # the model only looks at materials that are painted
                raise t.fault(key, f"{value!r} is not a number above 0")
        found[name] = Material(name, conductivity, density, heat, t.optional(t.text, "source") or "")
    return found


def _film(t: _Table) -> float:
    return math.inf if t.values.get("film") == math.inf else t.number("film")


def _part(t: _Table, materials: Mapping[str, Material]) -> Part:
    name = t.text("name")
    material = t.optional(t.text, "material")
    with t.at("material"):
        painted = None if material is None else find_material(material, materials)
    return Part(
        name,
        _shapes(t),
        painted,
        t.optional(t.text, "environment"),
        t.optional(t.true, "void") or False,
        t.optional(t.length, "thickness"),
        t.optional(t.text, "front"),
        t.optional(t.text, "back"),
    )


def _shapes(t: _Table) -> tuple[Shape, ...]:
    shape: Shape
    match key := t.one_of("rectangle", "disc", "polygon"):
        case "rectangle":
            given = t.table(key, ("x", "y"))
            x, y = given.pair("x"), given.pair("y")
            with t.at(key):
                shape = Rectangle(x, y)
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
    count, step = repeat.number("count"), repeat.pair("step")
    if not (1 <= count <= MOST_COPIES and count == int(count)):
        raise repeat.fault("count", f"{count:g} is not a whole number of copies; give one from 1 to {MOST_COPIES}")
    with t.at("repeat"):
        return repeated(shape, int(count), step)


def _border(t: _Table) -> Border:
    return Border(*(t.optional(t.text, side) for side in SIDES))


def _resistance(t: _Table) -> float:
    if "thickness" not in t.values and "conductivity" not in t.values:
        return t.number("resistance")
    if "resistance" in t.values:
        raise InputError(f"{t.where}: give either resistance, or thickness with conductivity")
    thickness, conductivity = t.length("thickness"), t.number("conductivity")
    if thickness < 0 or conductivity <= 0:
        raise InputError(f"{t.where}: give a thickness of 0 or more and a conductivity above 0")
    return thickness / conductivity


def _source(t: _Table) -> Source:
    segment = None
    if "segment" in t.values:
        given = t.table("segment", ("x", "y"))
        x, y = given.ends("x"), given.ends("y")
        with t.at("segment"):
            segment = Segment(x, y)
    heat, temperature = t.optional(t.number, "heat"), t.optional(t.number, "temperature")
    return Source(t.text("name"), segment, t.optional(t.text, "part"), heat, temperature)


def _should_read(t: _Table, names: set[str]) -> str | float | None:
    given = t.values.get("should_read")
    if isinstance(given, str) and given not in names:
        try:
            return t.number("should_read")
        except InputError:
            return given  # neither a name nor an expression: the section refuses it with the nearest name
    return given if isinstance(given, str) else t.optional(t.number, "should_read")
