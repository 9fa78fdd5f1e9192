"""What must hold between the pieces of a section before it is worth solving: names exist, and each is given once.

Every function raises InputError at the first thing that is wrong. Every message names the table and the key as a
section file would have them. What must hold in one piece by itself, that piece checks when it is made.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from fdm.errors import InputError, nearest, require_visible
from fdm.section.pieces import (
    LEAST,
    SIDES,
    UNITS,
    Border,
    Bridge,
    Environment,
    Fins,
    Joint,
    Part,
    Source,
    Spreading,
    require_positive,
)
from fdm.section.sensors import Sensor
from fdm.section.shapes import SAME, Bounds, Rectangle, Segment
from fdm.surroundings.fins import FinArray, fins_across


def check_once(where: str, names: Iterable[str]) -> None:
    """No name is empty, given twice, or of characters that are not seen."""
    seen: set[str] = set()
    for name in names:
        if not name:
            raise InputError(f"{where}: a name is empty; give each a name of its own")
        if name in seen:
            raise InputError(f"{where}: the name {name!r} is defined twice; give each a name of its own")
        require_visible(f"{where} {name!r}", name)
        seen.add(name)


def check_known(where: str, name: str, known: Iterable[str], what: str) -> None:
    """The name is among those that exist; `what` says of what."""
    known = list(known)
    if name not in known:
        raise InputError(f"{where}: there is no {what} named {name!r}; {nearest(name, known)}")


def check_solid(where: str, name: str, parts: Mapping[str, Part], right: str) -> None:
    """The named part exists and is solid; `right` says what would be right."""
    check_known(where, name, parts, "part")
    if parts[name].material is None or parts[name].gap is not None:
        raise InputError(f"{where}: {name!r} is no solid part; {right}")


def check_sizes(parts: Sequence[Part], sources: Sequence[Source], extent: Bounds, unit: str) -> None:
    """The drawing is not smaller than anything that exists; no shape is so thin, and no segment so short, that its ends
    are one place in it."""
    u, (x0, x1, y0, y1) = UNITS[unit], extent
    size = max(x1 - x0, y1 - y0)
    if size < LEAST:
        raise InputError(f"part: the drawing is {size:.3g} m in size; give lengths of {LEAST:g} m at least")
    for p in parts:
        for a, b, c, d in (s.bounds for s in p.shapes):
            if (thinner := min(b - a, d - c)) <= SAME * size:
                raise InputError(
                    f"part {p.name!r}: it is {thinner / u:.3g} {unit} thin, nothing in a drawing of {size / u:.3g} "
                    f"{unit}; give {2 * SAME * size / u:.2g} {unit} at least, or a [[joint]] in its place"
                )
    for s in sources:
        if s.segment is not None and (length := max(np.ptp(s.segment.x), np.ptp(s.segment.y))) <= SAME * size:
            raise InputError(
                f"source {s.name!r}, segment: it is {length / u:.3g} {unit} long, nothing in a drawing of "
                f"{size / u:.3g} {unit}; make it longer"
            )


def check_border(border: Border, environments: Sequence[Environment], view: str, extent: Bounds) -> None:
    """Its environments exist, and nothing lies beyond the axis of an axisymmetric drawing."""
    names = [e.name for e in environments]
    for side in SIDES:
        if (name := getattr(border, side)) is not None:
            check_known(f"border, {side}", name, names, "environment")
    if view == "axisymmetric" and border.left is not None and extent[0] <= 0:
        raise InputError(
            "border, left: the left edge of this drawing is the axis, where nothing can lie beyond; leave it out"
        )


def check_parts(parts: Sequence[Part], environments: Sequence[Environment], view: str) -> None:
    """Their environments exist; in the plate view solid parts have a thickness and no infinite film on a face."""
    film = {e.name: e.film for e in environments}
    for p in parts:
        where = f"part {p.name!r}"
        faces = (("front", p.front), ("back", p.back))
        for key, name in (("environment", p.environment), *faces):
            if name is not None:
                check_known(f"{where}, {key}", name, film, "environment")
        if view == "plate" and p.material is not None:
            if p.thickness is None:
                raise InputError(f"{where}, thickness: missing; in the plate view every solid part needs a thickness")
            require_positive(f"{where}, thickness", p.thickness)
            for key, name in faces:
                if name is not None and film[name] == math.inf:
                    raise InputError(
                        f"{where}, {key}: the film of {name!r} is infinite, which would hold the whole plate; "
                        "give a finite film"
                    )
        elif p.thickness is not None or p.front is not None or p.back is not None:
            raise InputError(f"{where}: thickness, front and back belong to solid parts in the plate view")


def check_depths(parts: Sequence[Part], view: str, depth: float, unit: str) -> None:
    """Parts that are less deep than the drawing are solids of a section, and not deeper than it."""
    for p in parts:
        where = f"part {p.name!r}"
        if p.depth is None:
            if p.count != 1:
                raise InputError(f"{where}, count: how many lie along the depth; give the depth of one as well")
            continue
        if view != "section":
            raise InputError(f"{where}, depth: belongs to the section view, not to view = {view!r}; leave it out")
        if p.material is None or p.gap is not None:
            raise InputError(f"{where}, depth: only a part with a material may have a depth of its own; leave it out")
        require_positive(f"{where}, depth", p.depth)
        if p.count < 1 or p.count != int(p.count):
            raise InputError(f"{where}, count: {p.count} is not a whole number of 1 or more")
        if (total := p.count * p.depth) > depth * (1 + SAME):
            u = UNITS[unit]
            times = f"{p.count} times {p.depth / u:g} {unit} are" if p.count > 1 else "it is"
            raise InputError(
                f"{where}, depth: {times} {total / u:g} {unit} deep, more than the drawing, {depth / u:g} {unit}; give "
                "the drawing more depth, or the part less"
            )


def check_gaps(parts: Sequence[Part], view: str) -> None:
    """Closed air gaps are not parts of a plate seen face on."""
    for p in parts:
        if p.gap is not None and view == "plate":
            raise InputError(
                f'part {p.name!r}, gap: belongs to the views "section" and "axisymmetric", where both of its faces are '
                "drawn; on a plate, give the face an environment, or void = true"
            )


def check_joints(joints: Sequence[Joint], parts: Mapping[str, Part]) -> None:
    """Their parts exist and are solid; each pair has one joint."""
    pairs: set[frozenset[str]] = set()
    for j in joints:
        for name in j.between:
            check_solid(j.where, name, parts, "a joint lies between two solid parts")
        if frozenset(j.between) in pairs:
            raise InputError(f"{j.where}: given twice; give one [[joint]] a pair")
        pairs.add(frozenset(j.between))


def check_fins(
    fins: Sequence[Fins],
    parts: Mapping[str, Part],
    environments: Sequence[Environment],
    view: str,
    extent: Bounds,
    unit: str,
) -> None:
    """Their plate and environment exist; they are thinner than their pitch, and stand within the drawing."""
    check_once("fins", (f.name for f in fins))
    film = {e.name: e.film for e in environments}
    for f in fins:
        where = f"fins {f.name!r}"
        if view != "plate":
            raise InputError(
                f'{where}: fins stand on a plate seen face on; give view = "plate", or draw each as a part'
            )
        for name in f.parts:
            check_solid(f"{where}, part", name, parts, "fins stand on a part with a material")
        check_known(f"{where}, environment", f.environment, film, "environment")
        if film[f.environment] == math.inf:
            raise InputError(f"{where}, environment: the film of {f.environment!r} is infinite; give a finite film")
        if f.rectangle is not None:
            check_inside(f"{where}, rectangle", f.rectangle, extent, unit)
        u, pitch = UNITS[unit], fin_pitch(f, parts)
        if f.thickness >= pitch:
            raise InputError(
                f"{where}: fins {f.thickness / u:g} {unit} thick leave no gap at a pitch of {pitch / u:.4g} {unit}; "
                "give fewer or thinner ones"
            )


def fin_pitch(fins: Fins, parts: Mapping[str, Part]) -> float:
    """m from fin to fin: as given, or the width over which they stand by their number."""
    if fins.pitch is not None:
        return fins.pitch
    x0, x1, y0, y1 = fin_bounds(fins, parts)
    return (y1 - y0 if fins.along == "x" else x1 - x0) / (fins.count or 1)


def fin_bounds(fins: Fins, parts: Mapping[str, Part]) -> Bounds:
    """Of the rectangle that fins stand in, m."""
    if fins.rectangle is not None:
        return fins.rectangle.bounds
    x0, x1, y0, y1 = zip(*(s.bounds for name in fins.parts for s in parts[name].shapes))
    return min(x0), max(x1), min(y0), max(y1)


def fin_array(fins: Fins, parts: Mapping[str, Part]) -> FinArray:
    """Fins as they are drawn, for relations of films on all of their faces. Raises InputError for less than two."""
    x0, x1, y0, y1 = fin_bounds(fins, parts)
    length, width = (x1 - x0, y1 - y0) if fins.along == "x" else (y1 - y0, x1 - x0)
    count = None if fins.count is None else int(fins.count)
    drawn = fins_across(width, length, fins.height, fins.thickness, pitch=fins.pitch, count=count)
    return replace(drawn, resolved=True)


def check_faces(sources: Sequence[Source], sensors: Sequence[Sensor], view: str, extent: Bounds, unit: str) -> None:
    """What enters or is read on a face belongs to the plate view, and lies in the drawing."""
    on_faces = [f"source {s.name!r}" for s in sources if s.face] + [f"sensor {s.name!r}" for s in sensors if s.face]
    if on_faces and view != "plate":
        raise InputError(f"{on_faces[0]}, face: belongs to the plate view; leave it out")
    for s in sources:
        if s.rectangle is not None:
            check_inside(f"source {s.name!r}, rectangle", s.rectangle, extent, unit)


def check_layers(parts: Sequence[Part], sensors: Sequence[Sensor], unit: str) -> None:
    """In a plate that is resolved through its thickness, every part is known to conduct that way, and no sensor lies
    deeper than it is thick."""
    for p in parts:
        if p.material is not None and p.material.through is None and len(set(p.material.conductivity)) > 1:
            raise InputError(
                f"part {p.name!r}: its plate is resolved through its thickness, but {p.material.name!r} has no "
                "conductivity that way; give conductivity = { x = .., y = .., z = .. }"
            )
    for s in sensors:
        thickness = math.inf if s.at is None else _thickness_at(parts, s.at)
        if s.depth > thickness:
            u = UNITS[unit]
            raise InputError(
                f"sensor {s.name!r}, depth: {s.depth / u:g} {unit} is beyond the plate, which is {thickness / u:g} "
                f"{unit} thick there"
            )


def _thickness_at(parts: Sequence[Part], at: tuple[float, float]) -> float:
    """m of the solid part laid last at a point; infinite where there is none, which another check refuses."""
    thickness = math.inf
    for p in parts:
        if any(bool(s.contains(np.array(at[0]), np.array(at[1]))) for s in p.shapes):
            thickness = math.inf if p.thickness is None else p.thickness
    return thickness


def check_sources(sources: Sequence[Source], parts: Mapping[str, Part], view: str, extent: Bounds, unit: str) -> None:
    """Their parts exist and are solid; each has one source. A segment lies in the drawing, and has an area, which the
    axis has not."""
    for s in sources:
        if view == "axisymmetric" and s.segment is not None and max(s.segment.x) <= 0:
            raise InputError(
                f"source {s.name!r}, segment: it lies on the axis, where a face has no area; heat or hold a part "
                "around the axis instead"
            )
        if s.segment is not None:
            check_inside(f"source {s.name!r}, segment", s.segment, extent, unit)
        if s.part is not None:
            where = f"source {s.name!r}, part"
            check_solid(where, s.part, parts, "name a part with a material")
            others = [t for t in sources if t.part == s.part and t is not s]
            if any(t.rectangle is None or s.rectangle is None for t in others):
                raise InputError(f"{where}: {s.part!r} has two sources; give a part one source")


def check_inside(where: str, shape: Segment | Rectangle, extent: Bounds, unit: str) -> None:
    """The segment or rectangle does not reach beyond the drawing."""
    u, slack = UNITS[unit], SAME * max(extent[1] - extent[0], extent[3] - extent[2])
    for axis, (a, b), (low, high) in (("x", shape.x, extent[:2]), ("y", shape.y, extent[2:])):
        if a < low - slack or b > high + slack:
            raise InputError(
                f"{where}: {axis} = {f'[{a / u:g}, {b / u:g}]' if a < b else f'{a / u:g}'} reaches beyond the drawing, "
                f"which spans {axis} = [{low / u:g}, {high / u:g}] {unit}; end it there, or draw the solid under it"
            )


def check_sensors(
    sensors: Sequence[Sensor],
    parts: Mapping[str, Part],
    environments: Sequence[str],
    terminals: Sequence[str],
    extent: Bounds,
    unit: str,
) -> None:
    """They lie in the drawing, or on a part that exists and has a temperature; what they should read exists, and where
    their stems come from."""
    names = [*terminals, *(s.name for s in sensors)]
    for s in sensors:
        where = f"sensor {s.name!r}"
        if s.part is not None:
            check_known(f"{where}, part", s.part, parts, "part")
            if parts[s.part].void:
                raise InputError(f"{where}, part: {s.part!r} is void and has no temperature; name a solid part")
        if s.at is not None:
            x0, x1, y0, y1 = extent
            if not (x0 <= s.at[0] <= x1 and y0 <= s.at[1] <= y1):
                u = UNITS[unit]
                raise InputError(
                    f"{where}, at: [{s.at[0] / u:g}, {s.at[1] / u:g}] lies outside the drawing, which spans "
                    f"x = [{x0 / u:g}, {x1 / u:g}], y = [{y0 / u:g}, {y1 / u:g}] {unit}"
                )
        if isinstance(s.should_read, str):
            check_known(f"{where}, should_read", s.should_read, names, "environment, source or sensor")
        if s.stem is not None:
            check_known(f"{where}, stem, to", s.stem.to, environments, "environment")


def check_spreading(spreading: Sequence[Spreading], parts: Mapping[str, Part], heated: Sequence[str]) -> None:
    """Each plate is asked for once, its parts exist and are solid, and some source gives heat."""
    check_once("spreading", (s.name for s in spreading))
    for s in spreading:
        where = f"spreading of {s.name!r}"
        for name in s.parts:
            check_solid(f"{where}, part", name, parts, "name a part with a material")
        if not heated:
            raise InputError(f"{where}: no source gives heat; add a [[source]] with heat")


def check_bridges(
    bridges: Sequence[Bridge], parts: Mapping[str, Part], sources: Sequence[Source], fixed: Sequence[str]
) -> None:
    """Each is asked for once, its parts exist, carry no source and leave others, and its two fixed terminals are
    clear."""
    check_once("bridge", (b.name for b in bridges))
    for b in bridges:
        where = f"bridge {b.name!r}"
        for name in b.remove:
            check_known(f"{where}, remove", name, parts, "part")
            for source in sources:
                if source.part == name:
                    raise InputError(
                        f"{where}, remove: {name!r} carries the source {source.name!r}; "
                        "leave it in place or move the source"
                    )
        if set(b.remove) >= set(parts):
            raise InputError(f"{where}, remove: would leave nothing; name fewer parts")
        if b.between is not None:
            for name in b.between:
                check_known(f"{where}, between", name, fixed, "environment or held source")
        elif len(fixed) < 2:
            raise InputError(f"{where}: heat passes between two given temperatures; add another environment")
        elif len(fixed) > 2:
            raise InputError(
                f"{where}: {len(fixed)} terminals have a given temperature; say which two with between = [.., ..]"
            )
