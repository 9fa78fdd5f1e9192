"""What must hold in a section before it is worth drawing: names that exist, values that can be.

Every message names the table and the key as a section file would have them.
"""

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from fdm.errors import InputError, nearest

if TYPE_CHECKING:
    from fdm.section.model import Section

VIEWS = ("section", "axisymmetric", "plate")
UNITS = {"mm": 1e-3, "cm": 1e-2, "m": 1.0}
SIDES = ("left", "right", "bottom", "top")


def check_section(section: "Section") -> None:
    """Raise InputError at the first thing that is wrong."""
    if section.view not in VIEWS:
        raise InputError(f"view: {section.view!r} is not a view; {nearest(section.view, VIEWS)}")
    if section.unit not in UNITS:
        raise InputError(f"unit: {section.unit!r} is not a unit of length; {nearest(section.unit, UNITS)}")
    _positive("depth", section.depth)
    if not section.parts:
        raise InputError("part: nothing is drawn; give at least one [[part]]")
    _once("part", (p.name for p in section.parts))
    terminals = [("environment", e.name) for e in section.environments] + [("source", s.name) for s in section.sources]
    _once("environment, source and sensor", (n for _, n in terminals + [("sensor", s.name) for s in section.sensors]))
    _environments(section)
    _parts(section)
    _joints(section)
    _sources(section)
    _sensors(section)
    _questions(section)
    if not section.fixed_names:
        raise InputError("nothing has a given temperature; give an [[environment]] or a [[source]] with a temperature")
    if section.view == "axisymmetric" and section.extent[0] < 0:
        raise InputError("view: axisymmetric, but the drawing reaches x < 0; x is the radius, so draw at x >= 0")


def _positive(where: str, value: float | None, zero: bool = False) -> None:
    if value is None or math.isnan(value) or math.isinf(value) or value < 0 or (value == 0 and not zero):
        raise InputError(f"{where}: {value!r} is not a number {'of 0 or more' if zero else 'above 0'}")


def _temperature(where: str, value: float) -> None:
    if not (math.isfinite(value) and value >= -273.15):
        raise InputError(f"{where}: {value!r} is not a temperature in degC (-273.15 or more)")


def _once(where: str, names: Iterable[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if not name:
            raise InputError(f"{where}: a name is empty; give each a name of its own")
        if name in seen:
            raise InputError(f"{where}: the name {name!r} is defined twice; give each a name of its own")
        seen.add(name)


def _known(where: str, name: str, known: Iterable[str], what: str) -> None:
    known = list(known)
    if name not in known:
        raise InputError(f"{where}: there is no {what} named {name!r}; {nearest(name, known)}")


def _environments(section: "Section") -> None:
    for e in section.environments:
        where = f"environment {e.name!r}"
        _temperature(f"{where}, temperature", e.temperature)
        if e.film != math.inf:
            _positive(f"{where}, film", e.film)
    names = [e.name for e in section.environments]
    for side in SIDES:
        if (name := getattr(section.border, side)) is not None:
            _known(f"border, {side}", name, names, "environment")
            if section.view == "axisymmetric" and side == "left" and section.extent[0] <= 0:
                raise InputError(
                    "border, left: the left edge of this drawing is the axis, where nothing can lie beyond; "
                    "leave it out"
                )


def _parts(section: "Section") -> None:
    names = [e.name for e in section.environments]
    for p in section.parts:
        where = f"part {p.name!r}"
        if (p.material is not None) + (p.environment is not None) + p.void != 1:
            raise InputError(f"{where}: give exactly one of material, environment and void = true")
        if not p.shapes:
            raise InputError(f"{where}: it has no shape; give a rectangle, disc or polygon")
        for name, key in ((p.environment, "environment"), (p.front, "front"), (p.back, "back")):
            if name is not None:
                _known(f"{where}, {key}", name, names, "environment")
        if p.material is not None:
            for k in p.material.conductivity:
                _positive(f"material {p.material.name!r}, conductivity", k)
            for key in ("density", "specific_heat"):
                if (value := getattr(p.material, key)) is not None:
                    _positive(f"material {p.material.name!r}, {key}", value)
        if section.view == "plate" and p.material is not None:
            if p.thickness is None:
                raise InputError(f"{where}, thickness: missing; in the plate view every solid part needs a thickness")
            _positive(f"{where}, thickness", p.thickness)
            for name, key in ((p.front, "front"), (p.back, "back")):
                if name is not None and next(e.film for e in section.environments if e.name == name) == math.inf:
                    raise InputError(
                        f"{where}, {key}: the film of {name!r} is infinite, which would hold the whole plate; "
                        "give a finite film"
                    )
        elif p.thickness is not None or p.front is not None or p.back is not None:
            raise InputError(f"{where}: thickness, front and back belong to solid parts in the plate view")


def _joints(section: "Section") -> None:
    pairs: set[frozenset[str]] = set()
    for j in section.joints:
        where = "joint between " + " and ".join(map(repr, j.between))
        for name in j.between:
            _known(where, name, section.part_named, "part")
            part = section.part_named[name]
            if part.material is None:
                raise InputError(f"{where}: {name!r} is no solid part; a joint lies between two solid parts")
        if j.between[0] == j.between[1]:
            raise InputError(f"{where}: a part has no joint with itself; name two parts")
        if frozenset(j.between) in pairs:
            raise InputError(f"{where}: given twice; give one [[joint]] a pair")
        pairs.add(frozenset(j.between))
        _positive(f"{where}, resistance", j.resistance, zero=True)


def _sources(section: "Section") -> None:
    for s in section.sources:
        where = f"source {s.name!r}"
        if (s.segment is None) == (s.part is None):
            raise InputError(f"{where}: give exactly one of segment and part")
        if (s.heat is None) == (s.temperature is None):
            raise InputError(f"{where}: give exactly one of heat and temperature")
        if s.heat is not None and not math.isfinite(s.heat):
            raise InputError(f"{where}, heat: {s.heat!r} is not a number of watts")
        if s.temperature is not None:
            _temperature(f"{where}, temperature", s.temperature)
        if s.part is not None:
            _known(f"{where}, part", s.part, section.part_named, "part")
            if section.part_named[s.part].material is None:
                raise InputError(f"{where}, part: {s.part!r} is no solid part; name a part with a material")
            if [t.part for t in section.sources].count(s.part) > 1:
                raise InputError(f"{where}, part: {s.part!r} has two sources; give a part one source")


def _sensors(section: "Section") -> None:
    names = [*section.fixed_names, *section.heat_names, *(s.name for s in section.sensors)]
    for s in section.sensors:
        where = f"sensor {s.name!r}"
        if (s.at is None) == (s.part is None):
            raise InputError(f"{where}: give exactly one of at and part")
        if s.part is not None:
            _known(f"{where}, part", s.part, section.part_named, "part")
            if section.part_named[s.part].void:
                raise InputError(f"{where}, part: {s.part!r} is void and has no temperature; name a solid part")
        if s.at is not None:
            x0, x1, y0, y1 = section.extent
            if not (x0 <= s.at[0] <= x1 and y0 <= s.at[1] <= y1):
                u = UNITS[section.unit]
                raise InputError(
                    f"{where}, at: [{s.at[0] / u:g}, {s.at[1] / u:g}] lies outside the drawing, which spans "
                    f"x = [{x0 / u:g}, {x1 / u:g}], y = [{y0 / u:g}, {y1 / u:g}] {section.unit}"
                )
        if isinstance(s.should_read, str):
            _known(f"{where}, should_read", s.should_read, names, "environment, source or sensor")
            if s.should_read == s.name:
                raise InputError(f"{where}, should_read: a sensor cannot be its own measure; name another or give degC")
        elif s.should_read is not None:
            _temperature(f"{where}, should_read", s.should_read)


def _questions(section: "Section") -> None:
    _once("spreading", (s.name for s in section.spreading))
    _once("bridge", (b.name for b in section.bridges))
    for s in section.spreading:
        where = f"spreading of {s.name!r}"
        for name in s.parts:
            _known(f"{where}, part", name, section.part_named, "part")
            if section.part_named[name].material is None:
                raise InputError(f"{where}, part: {name!r} is no solid part; name a part with a material")
        if s.along not in (None, "x", "y"):
            raise InputError(f'{where}, along: {s.along!r} is no direction; give "x" or "y"')
        if not section.heat_names:
            raise InputError(f"{where}: no source gives heat; add a [[source]] with heat")
    for b in section.bridges:
        where = f"bridge {b.name!r}"
        if not b.remove:
            raise InputError(f"{where}, remove: names no part; name at least one")
        for name in b.remove:
            _known(f"{where}, remove", name, section.part_named, "part")
            for source in section.sources:
                if source.part == name:
                    raise InputError(
                        f"{where}, remove: {name!r} carries the source {source.name!r}; "
                        "leave it in place or move the source"
                    )
        if set(b.remove) >= set(section.part_named):
            raise InputError(f"{where}, remove: would leave nothing; name fewer parts")
        if b.between is not None:
            for name in b.between:
                _known(f"{where}, between", name, section.fixed_names, "environment or held source")
            if b.between[0] == b.between[1]:
                raise InputError(f"{where}, between: names {b.between[0]!r} twice; name two")
        elif len(section.fixed_names) < 2:
            raise InputError(f"{where}: heat passes between two given temperatures; add another environment")
        elif len(section.fixed_names) > 2:
            raise InputError(
                f"{where}: {len(section.fixed_names)} terminals have a given temperature; "
                "say which two with between = [.., ..]"
            )
