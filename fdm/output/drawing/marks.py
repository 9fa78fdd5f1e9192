"""What is drawn upon a sheet: outlines, joints, sources and sensors, and the names of sources and environments."""

import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdm.output.drawing.colours import ADIABATIC, DASHES, HEAT, HELD, INK, JOINT, SENSOR
from fdm.output.drawing.figures import DPI
from fdm.output.drawing.labels import in_two
from fdm.output.drawing.outlines import part_seen_at
from fdm.output.drawing.sheet import Sheet
from fdm.output.drawing.view import Place, View, deepest_pixel
from fdm.section.model import SIDES, Fins, Section, Segment, Sensor, Source
from fdm.section.rules import fin_bounds, fin_pitch

Array = NDArray[np.float64]

ENVIRONMENT_NAME = "#45607a"
ARROW_SPACING = 0.3  # inch
MOST_NAMED = 40  # sources whose names are written, and that have arrows: more would cover the picture
SHORT_NAME = 24  # letters of the name of an environment, where all of it has no room
LONGEST_LINE = 24  # letters of the name of a source or sensor
MOST_FINS = 500  # of a group, that are drawn
LONGEST_ARROW = 0.2  # inch


def draw_outlines(view: View) -> None:
    """The visible outlines of the parts, but for those on the axis of revolution."""
    from matplotlib.collections import LineCollection

    about_axis = view.section.view == "axisymmetric"
    tolerance = 1e-9 * view.section.extent[1]
    lines = [e.line / view.unit for e in view.edges if not (about_axis and np.all(abs(e.line[:, 0]) < tolerance))]
    view.axes.add_collection(LineCollection(lines, colors=INK, linewidths=0.8, capstyle="round", zorder=3))


def draw_adiabatic_edges(sheet: Sheet) -> bool:
    """Dashed lines along the edges of solids through which no heat passes; whether there are any."""
    from matplotlib.collections import LineCollection

    lines = [line / sheet.unit for line in adiabatic_edges(sheet)]
    look: dict[str, Any] = {"colors": ADIABATIC, "linewidths": 2.0, "linestyles": [DASHES], "zorder": 3.5}
    for view in sheet.views:
        view.axes.add_collection(LineCollection(lines, **look))
    return bool(lines)


def adiabatic_edges(view: View) -> list[Array]:
    """Points (K, 2) m along each edge of a solid at a void, or where nothing is drawn and no border lies beyond, each
    place once. The axis of revolution is none."""
    section = view.section
    x0, x1, y0, y1 = section.extent
    slack, names = 1e-9 * section.size, section.part_named
    free = [getattr(section.border, side) is not None for side in SIDES]  # sides that heat passes
    free[0] |= section.view == "axisymmetric" and x0 <= 0
    straight, out = [], []
    for edge in view.edges:
        parts = [names[name] for name in edge.between if name is not None]
        if not any(p.material is not None for p in parts) or not (len(parts) == 1 or any(p.void for p in parts)):
            continue
        pieces = np.stack([edge.line[:-1], edge.line[1:]], 1)  # (K - 1, 2, 2)
        at_side = [np.all(abs(pieces[..., k] - v) < slack, 1) for k, v in ((0, x0), (0, x1), (1, y0), (1, y1))]
        along = (np.ptp(pieces, axis=1) < slack).any(1)
        straight.append(pieces[along & ~np.any([at for at, is_free in zip(at_side, free) if is_free] or [~along], 0)])
        if not along.any():
            out.append(edge.line)
    return out + _merged(np.concatenate(straight), slack) if straight else out


def _merged(pieces: Array, slack: float) -> list[Array]:
    """Lines (2, 2) that cover the pieces (K, 2, 2) along x or y, none of which overlap."""
    out = []
    for axis in (0, 1):
        own = pieces[np.ptp(pieces[..., 1 - axis], axis=1) < slack]
        at, low, high = own[:, 0, 1 - axis], own[..., axis].min(1), own[..., axis].max(1)
        runs: list[list[float]] = []  # place, low, high
        for k in np.lexsort((low, np.round(at / slack))):
            if runs and abs(runs[-1][0] - at[k]) < 2 * slack and low[k] <= runs[-1][2] + slack:
                runs[-1][2] = max(runs[-1][2], high[k])
            else:
                runs.append([at[k], low[k], high[k]])
        out += [np.array([[a, v], [b, v]] if axis == 0 else [[v, a], [v, b]]) for v, a, b in runs]
    return out


def draw_joints(view: View) -> None:
    """Thick lines where parts with a joint between them meet."""
    from matplotlib.collections import LineCollection

    pairs = {frozenset(j.between) for j in view.section.joints}
    lines = [e.line / view.unit for e in view.edges if frozenset(e.between) in pairs]
    view.axes.add_collection(LineCollection(lines, colors=JOINT, linewidths=2.6, capstyle="butt", zorder=4))
    for line in lines:
        view.labels.keep_off_line(line, 4)


def draw_sources(view: View, face: str | None = None, flow: Mapping[str, float] | None = None) -> None:
    """Heated faces as thick lines with arrows the way heat goes, heated parts and patches by a line around them; with
    `face` none that enter on the other face of a plate. `flow` are the W into the section from each terminal: without
    it, faces at a given temperature have no arrows."""
    for source in _seen_on(view.section, face):
        colour, segment = source_colour(source), source.segment
        if segment is not None:
            width, cap, lines = 3.2, "butt", [_ends(segment) / view.unit]
        else:
            width, cap = 1.8, "projecting"
            lines = [e.line / view.unit for e in view.edges if source.part in e.between]
            if source.rectangle is not None:
                corners = source.rectangle.outline() / view.unit
                lines = [corners[[k, (k + 1) % 4]] for k in range(4)]
        for line in lines:
            view.axes.plot(*line.T, color=colour, lw=width, solid_capstyle=cap, zorder=5)
            view.labels.keep_off_line(line, 4)
        watts = source.heat if source.heat is not None else (flow or {}).get(source.name)
        if segment is not None and watts is not None and len(view.section.sources) <= MOST_NAMED:
            _draw_arrows(view, segment, inward=watts >= 0, colour=colour)


def _seen_on(section: Section, face: str | None) -> list[Source]:
    """The sources, but for those on the other face."""
    return [s for s in section.sources if face is None or s.face in (None, face)]


def draw_fins(view: View) -> None:
    """Each fin to scale, by dashes where it stands on the back."""
    from matplotlib.collections import PatchCollection
    from matplotlib.patches import Rectangle

    section, u = view.section, view.unit
    for fins in section.fins:
        x0, x1, y0, y1 = (v / u for v in fin_bounds(fins, section.part_named))
        thick, starts = fins.thickness / u, fin_places(fins, section) / u
        if fins.along == "x":
            each = [Rectangle((x0, v), x1 - x0, thick) for v in starts]
        else:
            each = [Rectangle((v, y0), thick, y1 - y0) for v in starts]
        dashes = "-" if fins.face == "front" else (0, (4, 2))
        view.axes.add_collection(
            PatchCollection(each, facecolor="none", edgecolor=INK, linewidth=0.5, linestyle=dashes, alpha=0.6, zorder=3)
        )


def fin_places(fins: Fins, section: Section) -> Array:
    """(N,) m, where each fin begins across them all, in rising order; no more than MOST_FINS of them."""
    x0, x1, y0, y1 = fin_bounds(fins, section.part_named)
    pitch, (low, high) = fin_pitch(fins, section.part_named), (y0, y1) if fins.along == "x" else (x0, x1)
    return np.arange(low + (pitch - fins.thickness) / 2, high - fins.thickness / 2, pitch)[:MOST_FINS]


def source_colour(source: Source) -> str:
    return HEAT if source.heat is not None else HELD


def draw_sensors(view: View, places: dict[str, Place]) -> None:
    """A ring with a dot for every sensor that the view shows."""
    for x, y in filter(view.window.holds, places.values()):
        view.axes.plot(x, y, "o", ms=7, mfc="white", mec=SENSOR, mew=1.6, zorder=8)
        view.axes.plot(x, y, ".", ms=3, color=SENSOR, zorder=9)
        view.labels.keep_off_box((x, y), 20, 20)


def sensor_places(sheet: Sheet) -> dict[str, Place]:
    """Where each sensor is drawn, in the file's unit: one that reads a whole part, deep within that part."""
    return {s.name: _sensor_place(sheet, s) for s in sheet.section.sensors}


def _sensor_place(sheet: Sheet, sensor: Sensor) -> Place:
    if sensor.at is not None:
        return sensor.at[0] / sheet.unit, sensor.at[1] / sheet.unit
    part = str(sensor.part)
    pixel = deepest_pixel(sheet.pixels_of(part))
    if pixel is not None:
        return sheet.middle_of(pixel)
    x, y = sheet.section.part_named[part].shapes[0].outline().mean(0) / sheet.unit
    return float(x), float(y)


def name_marks(sheet: Sheet, sensors: dict[str, Place], words: dict[str, str], face: str | None = None) -> None:
    """Write the names of the sources beside them, with their heat or temperature, and beside each of the sensors its
    words: in the detail what that shows, and no name nearer to another mark than to its own. With `face` no source that
    enters on the other face of a plate has one."""
    marks = [
        *_source_marks(sheet, face),
        *((words[name], np.array([at]), SENSOR) for name, at in sensors.items()),
    ]
    marks = [(_in_lines(text), at, colour) for text, at, colour in marks]
    views = [sheet.view_of(tuple(at.mean(0))) for _, at, _ in marks]
    for view, (_, at, _) in zip(views, marks):
        view.labels.expect(at)
    for view, (text, at, colour) in zip(views, marks):
        view.labels.write_beside(text, at, colour)


def _in_lines(text: str) -> str:
    """A name that is long, on its first line, on two."""
    name, *rest = text.split("\n")
    return "\n".join([in_two(name) if len(name) > LONGEST_LINE else name, *rest])


def _source_marks(sheet: Sheet, face: str | None) -> Iterator[tuple[str, Array, str]]:
    """Of each source its name with heat or temperature, the ends of its face (2, 2) or a place deep within its part
    (1, 2), and its colour."""
    for s in _seen_on(sheet.section, face)[:MOST_NAMED]:
        if s.segment is not None:
            at = _ends(s.segment) / sheet.unit
        elif s.rectangle is not None:
            at = s.rectangle.outline().mean(0)[None] / sheet.unit
        else:
            pixel = deepest_pixel(sheet.pixels_of(str(s.part)))
            if pixel is None:
                continue
            at = np.array([sheet.middle_of(pixel)])
        given = f"{s.heat:.4g} W" if s.heat is not None else f"{s.temperature:.4g} °C"
        yield f"{s.name}, {given}", at, source_colour(s)


def air_temperatures(section: Section) -> dict[str, str]:
    """Each environment's temperature in words, by name."""
    return {e.name: f"{e.temperature:.4g} °C" for e in section.environments}


def name_environments(view: View, words: Mapping[str, str], outlined: bool = False) -> None:
    """Write the name of its environment into every part of air and every strip beyond the border, where it fits, with
    its own of the `words`, by name, where there is room for both; it is shortened where it has to be. `outlined`
    letters are read on any colour."""
    colour = INK if outlined else ENVIRONMENT_NAME
    for number in np.flatnonzero(np.bincount(view.owner[view.owner >= 0])).tolist():
        if (name := view.environment_of(number)) is not None:
            short = textwrap.shorten(name, SHORT_NAME, placeholder=" …")
            known = [f"{one}, {words[name]}" for one in (name, short)] if name in words else []
            for text in dict.fromkeys([*known, name, short]):
                if view.labels.write_inside(text, view.owner == number, colour, "italic", outlined):
                    break


def _draw_arrows(view: View, face: Segment, inward: bool, colour: str) -> None:
    """Arrows along a face that has solid on one side: into the solid if `inward`, else out of it."""
    normal = _normal_into_solid(view.section, face)
    if normal is None:
        return  # heat goes both ways, or nowhere
    inch = (view.x[-1] - view.x[0]) / (view.pixels[0] / DPI)  # in the file's unit
    ends = _ends(face)
    length = np.ptp(ends, 0).max() / view.unit / inch
    arrow_length = min(LONGEST_ARROW, 0.4 * _gap_before(view, ends.mean(0), normal, inch))
    count = max(1, min(7, int(length / ARROW_SPACING)))
    for f in (np.arange(count) + 0.5) / count:
        on_face = (ends[0] + f * (ends[1] - ends[0])) / view.unit
        before_face = on_face - normal * arrow_length * inch
        tail, head = (before_face, on_face) if inward else (on_face, before_face)
        arrow = {"arrowstyle": "-|>,head_width=0.22,head_length=0.4", "color": colour, "lw": 1.1}
        view.axes.annotate("", head, tail, zorder=5, arrowprops=arrow | {"shrinkA": 0, "shrinkB": 0})
        view.labels.keep_off_line(np.array([on_face, before_face]), 4)


def _ends(face: Segment) -> Array:
    """(2, 2) m: the ends of a face."""
    return np.column_stack([face.x, face.y])


def _normal_into_solid(section: Section, face: Segment) -> Array | None:
    """The unit normal of a face towards the side that is solid; None where both sides are, or none."""
    x0, x1, y0, y1 = section.extent
    normal = np.array([1.0, 0.0]) if face.vertical else np.array([0.0, 1.0])
    sides = _ends(face).mean(0) + 1e-6 * max(x1 - x0, y1 - y0) * np.array([-normal, normal])
    before, behind = _is_solid(section, sides)
    return None if before == behind else normal * (1 if behind else -1)


def _gap_before(view: View, at: Array, normal: Array, inch: float) -> float:
    """Inches from a place (2,) m on a face, against its normal, to the next solid; 1 where there is none near."""
    steps = np.linspace(0.02, 0.5, 25)
    solid = _is_solid(view.section, at - np.outer(steps * inch * view.unit, normal))
    return float(0.02 * (1 + np.argmax(solid))) if solid.any() else 1.0


def _is_solid(section: Section, places: Array) -> NDArray[np.bool_]:
    """(K,) whether a solid is seen at places (K, 2) m."""
    return np.isin(part_seen_at(section, *places.T), [k for k, p in enumerate(section.parts) if p.material is not None])
