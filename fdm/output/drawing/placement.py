"""The picture of where a sensor may stand: what a bare bead would misread at each place, and where that is little."""

import textwrap
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from fdm.conduction.arrays import Array
from fdm.output.drawing.colours import colour_map, contour_levels, paint
from fdm.output.drawing.figures import boxes_for_missing_letters
from fdm.output.drawing.marks import (
    draw_outlines,
    draw_sensors,
    draw_sources,
    name_environments,
    name_marks,
    sensor_places,
)
from fdm.output.drawing.section import draw_isotherms, temperature_pixels
from fdm.output.drawing.sheet import Sheet
from fdm.output.drawing.view import Place, View
from fdm.output.tables.placement import wanted_in_words
from fdm.output.tables.ranges import ranges_in_words
from fdm.section.model import UNITS
from fdm.solving.placement import Placement

COLOURS = ["#20517c", "#6aa3c4", "#c9dfe6", "#fbfaf5", "#f6d2ae", "#de7c4a", "#a32a2a"]
GOOD = "#0a7d34"  # around and over what is within the limit
HATCH = 9  # pixels from line to line of the hatch there
TIMES = 10  # the limit: what is misread by more has the last colour
MARKED, APART = 3, 0.05  # of the best places, and how far apart over the drawing's size
LETTERS = 100  # in a line of the legend
ISOLINE_STEP = 2  # pixels


@boxes_for_missing_letters()
def draw_placement(found: Placement, path: str | Path, face: str = "") -> None:
    """What a bare bead misreads at each place, in colours around 0; hatched, and with a line around it, where that is
    within the limit; the sensor where it is now, and the best places. Of a plate in layers on that `face`.

    Raises InputError where the picture cannot be written.
    """
    section = found.section
    title = f"{section.title}: where {'to put' if found.now else 'to read'} {found.sensor}{f', {face}' if face else ''}"
    sheet = Sheet(replace(section, title=title), legend=False)
    maps = [_pixels(view, found, face) for view in sheet.views]
    largest = float(np.nanmax(abs(maps[0]), initial=0.0))
    end = max(min(largest, TIMES * found.within), found.within)
    levels, ends = contour_levels(np.array([-end, end]), most=10)
    colours = colour_map("misreading", COLOURS)
    now, best = _now(sheet, found, face), _best(found, face)
    for view, misread in zip(sheet.views, maps):
        rgba, known = paint(section, view.owner), np.isfinite(misread)
        rgba[known] = colours(np.clip(misread[known] / (2 * end) + 0.5, 0, 1), bytes=True)
        good = abs(misread) <= found.within
        i, j = np.nonzero(good)
        hatched = (i + j) % HATCH < 1
        rgba[i[hatched], j[hatched], :3] = [int(GOOD[k : k + 2], 16) for k in (1, 3, 5)]
        view.show_pixels(rgba)
        draw_outlines(view)
        draw_sources(view, face or None)
        draw_sensors(view, now)
        _draw_best(view, best)
    words = {name: f"{name}\nnow {kelvins(found.now[0])}" for name in now if found.now is not None}
    name_marks(sheet, now | best, words | {name: name for name in best}, face or None)
    for view, misread in zip(sheet.views, maps):
        name_environments(view, _of_airs(found), outlined=True)
        in_solids = np.where(view.solid, misread, np.nan)
        _draw_limit(view, in_solids, found.within)
        for piece in _pieces(view, found, in_solids):
            draw_isotherms(view, piece, levels)
    sheet.add_colour_bar(colours, ends, levels, _bar_words(found), beyond=largest > end)
    _explain(sheet, found, any((abs(misread) <= found.within).any() for misread in maps))
    sheet.save(path)


def _pixels(view: View, found: Placement, face: str) -> Array:
    """(pixels along x, along y) K of misreading furthest from 0; NaN in voids and where nothing is drawn."""
    temperatures = np.stack([temperature_pixels(view, field) for field in found.fields(face)])
    for number in np.unique(view.owner).tolist():
        if (name := view.environment_of(number)) is not None:
            k = found.section.fixed_names.index(name)
            own = np.array([point.section.fixed_temperatures[k] for point in found.points])
            temperatures[:, view.owner == number] = own[:, None]
    return found.worst(temperatures, np.where(view.owner < len(found.section.parts), view.owner, -1), face)


def _pieces(view: View, found: Placement, misread: Array) -> list[Array]:
    """What is misread, in pieces that have no jumps: with a stem it jumps from part to part; over ranges from one side
    of 0 to the other."""
    numbers = np.unique(view.owner[view.solid]).tolist() if found.probe else []
    pieces = [np.where(view.owner == k, misread, np.nan) for k in numbers] or [misread]
    signs = (1, -1) if found.ranges else ()
    return [np.where(sign * p >= 0, p, np.nan) for sign in signs for p in pieces] or pieces


def _now(sheet: Sheet, found: Placement, face: str) -> dict[str, Place]:
    """Where the sensor is, in the file's unit, if it is on this face."""
    sensor = next((s for s in found.section.sensors if s.name == found.sensor), None)
    on_other = sensor is not None and sensor.face not in (None, face)
    return {} if sensor is None or on_other else {sensor.name: sensor_places(sheet)[sensor.name]}


def _best(found: Placement, face: str) -> dict[str, Place]:
    """The best place in solids on this face, and the next ones within the limit, none near another, by their numbers
    in the table."""
    near, out = APART * found.section.size / UNITS[found.unit], dict[str, Place]()
    for number, p in enumerate(found.solid, 1):
        apart = all(np.hypot(p.x - x, p.y - y) > near for x, y in out.values())
        good = abs(p.misreading) <= found.within or not out
        if good and apart and len(out) < MARKED and (p.where == face or not face):
            out[f"best {number}"] = p.x, p.y
    return out


def _of_airs(found: Placement) -> Mapping[str, str]:
    """What a bead misreads in each air, in words."""
    return {p.air: kelvins(p.misreading) for p in found.best if p.where == "air"}


def kelvins(misreading: float) -> str:
    """With its sign, to three digits.

    >>> kelvins(1.9376), kelvins(-0.0)
    ('+1.94 K', '0 K')
    """
    return f"{misreading:+.3g} K" if misreading else "0 K"


def _draw_limit(view: View, misread: Array, within: float) -> None:
    """The line around what is within the limit, in solids."""
    x, y = ((lines[1:] + lines[:-1])[::ISOLINE_STEP] / 2 for lines in (view.x, view.y))
    known = np.ma.masked_invalid(abs(misread).T[::ISOLINE_STEP, ::ISOLINE_STEP])
    if known.count() and known.min() < within < known.max():
        view.axes.contour(x, y, known, [within], colors=GOOD, linewidths=2.0, zorder=3.3)


def _draw_best(view: View, best: Mapping[str, Place]) -> None:
    """A diamond at each of the best places that the view shows."""
    for x, y in filter(view.window.holds, best.values()):
        view.axes.plot(x, y, "D", ms=5.5, mfc="white", mec=GOOD, mew=1.6, zorder=8)
        view.labels.keep_off_box((x, y), 16, 16)


def _bar_words(found: Placement) -> str:
    return "misreading (K)" if not found.ranges else "misreading furthest from 0 over the ranges (K)"


def _explain(sheet: Sheet, found: Placement, some: bool) -> None:
    """What hatch and line mean, below the drawing."""
    from matplotlib.patches import Patch

    limit = f"{'' if some else 'nowhere '}within {found.within:g} K of {wanted_in_words(found)}"
    if found.ranges:
        limit += f", with {ranges_in_words(found.ranges)}"
    patch = Patch(facecolor="#fbfaf5", edgecolor=GOOD, linewidth=1.6, hatch="////" if some else "")
    sheet.explain_below([patch], ["\n".join(textwrap.wrap(limit, LETTERS))])
