"""Pictures of a section, to scale: its parts, and its temperatures.

Pixels are coloured one by one from the drawing itself, not from the cells, so that no edge is smeared and a disc is
round whatever the grid. Outlines, lines and labels go on top. The global state of matplotlib is left alone.
"""

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdm.answers.rounding import brief
from fdm.conduction.fields import Field, LayeredField
from fdm.grid.raster import middles
from fdm.output.drawing.colours import INK, TEMPERATURE_COLOURS, colour_map, contour_levels, paint
from fdm.output.drawing.figures import DPI, boxes_for_missing_letters, told
from fdm.output.drawing.flow import cells_of, flow_lines, flux_at
from fdm.output.drawing.legend import draw_legend
from fdm.output.drawing.marks import (
    air_temperatures,
    draw_adiabatic_edges,
    draw_fins,
    draw_joints,
    draw_outlines,
    draw_sensors,
    draw_sources,
    name_environments,
    name_marks,
    sensor_places,
)
from fdm.output.drawing.moisture import draw_wetted, explain_wetted, wetted_on
from fdm.output.drawing.sheet import Sheet
from fdm.output.drawing.smooth import smooth_temperatures
from fdm.output.drawing.view import View, deepest_pixel
from fdm.section.model import Section
from fdm.solving.solution import Solution

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FLOW_SPACING = 0.16  # inch between heat-flow lines
FLOW_STEP = 2  # pixels; heat-flow lines are traced on so coarse a grid
ISOTHERM_STEP = 2  # pixels, likewise
SHORTEST_WITH_ARROW = 0.25  # inch of heat-flow line
PALE = 0.55  # strength of the colours of air beside those of temperatures, which mean something else
SMOOTH = 6  # pixels between places where the temperature is known, at most
ROUNDING = 1e-9  # K; a reading that is not exact keeps a zero at its end
LABELLED_RUNS = 4  # of an isotherm that is in several pieces, how many are tried for its label


@boxes_for_missing_letters()
def draw_parts(section: Section, path: str | Path) -> None:
    """parts.png: the parts as drawn, coloured by conductivity, with environments, joints, sources and sensors.

    Raises InputError where the picture cannot be written.
    """
    sheet = Sheet(section, legend=True)
    places = sensor_places(sheet)
    for view in sheet.views:
        view.show_pixels(paint(section, view.owner))
        draw_outlines(view)
        draw_fins(view)
        draw_joints(view)
        draw_sources(view)
        draw_sensors(view, places)
    adiabatic = draw_adiabatic_edges(sheet)
    name_marks(sheet, places, {name: name for name in places})
    for view in sheet.views:
        name_environments(view, air_temperatures(section))
    _name_parts(sheet)
    draw_legend(sheet, adiabatic)
    sheet.save(path)


@boxes_for_missing_letters()
def draw_temperature(solution: Solution, path: str | Path, face: str | None = None) -> None:
    """temperature.png: temperatures, isotherms, heat-flow lines and sensors.

    Of a plate in layers it shows the front, or that `face` ("back"). Raises InputError where the picture cannot be
    written.
    """
    section = replace(solution.section, title=told(solution.section.title, solution.failed))
    field: Field = solution.field
    if isinstance(field, LayeredField):
        face = face or "front"
        section = replace(section, title=f"{section.title}: {face}")
        field = field.back if face == "back" else field
    sheet = Sheet(section, legend=False)
    places = sensor_places(sheet)
    temperatures = [temperature_pixels(view, field) for view in sheet.views]
    levels, ends = contour_levels(temperatures[0], most=int(np.clip(sheet.slimness / 14, 6, 12)))
    colours = colour_map("temperature", TEMPERATURE_COLOURS)
    wetted = wetted_on(solution, face)
    for view, temperature in zip(sheet.views, temperatures):
        rgba, solid = paint(section, view.owner, PALE), np.isfinite(temperature)
        rgba[solid] = colours(np.clip((temperature[solid] - ends[0]) / (ends[1] - ends[0]), 0, 1), bytes=True)
        view.show_pixels(rgba)
        draw_outlines(view)
        draw_wetted(view.axes, wetted, view.unit)
        _draw_flow_lines(view, field)
        draw_sources(view, face, solution.balance.flow)
        draw_sensors(view, places)
    words = {name: f"{name}\n{brief(solution.sensors[name].reading, ROUNDING, '°C')}" for name in places}
    name_marks(sheet, places, words, face)
    for view, temperature in zip(sheet.views, temperatures):
        name_environments(view, air_temperatures(section))
        draw_isotherms(view, temperature, levels)
    sheet.add_colour_bar(colours, ends, levels)
    explain_wetted(sheet, wetted)
    sheet.save(path)


def _name_parts(sheet: Sheet) -> None:
    """Write the name of each solid and void into it, the smallest first; beside it where it has no room, in the detail
    if that shows it. The detail names others, too, where they have room."""
    beside = set(sheet.small_parts)  # in the detail
    for view in sheet.views:
        parts = view.section.parts
        seen = np.bincount(view.owner[view.owner >= 0], minlength=len(parts))[: len(parts)]
        order = [k for k in np.argsort(seen, kind="stable").tolist() if seen[k] and parts[k].environment is None]
        # all that fit are written first: they have no other place
        into = [k for k in order if view is not sheet or k not in beside]
        for k in [k for k in into if not view.labels.write_inside(parts[k].name, view.owner == k)]:
            if view is not sheet and k not in beside:
                continue
            if (pixel := deepest_pixel((view.owner == k) & ~view.labels.occupied_pixels)) is None:
                continue
            place = view.middle_of(pixel)
            if sheet.view_of(place) is view:
                view.labels.write_with_leader(parts[k].name, place)
            else:
                beside.add(k)


def temperature_pixels(view: View, field: Field) -> Array:
    """(pixels along x, along y) degC in solids, NaN elsewhere."""
    x, y = middles(view.x) * view.unit, middles(view.y) * view.unit
    lines_x, lines_y, points = smooth_temperatures(view.section, field, x, y, SMOOTH * (x[1] - x[0]))
    (i, u), (j, v) = cells_of(lines_x, x), cells_of(lines_y, y)
    rows = points[i] * (1 - u)[:, None] + points[i + 1] * u[:, None]
    out = rows[:, j] * (1 - v) + rows[:, j + 1] * v
    cell = field.solid[cells_of(field.x, x)[0]][:, cells_of(field.y, y)[0]]
    out[~(cell & view.solid)] = np.nan
    out = _with_nearest(out, view.solid)
    held = {source.part: source.temperature for source in view.section.held_sources}
    for number, part in enumerate(view.section.parts):
        if part.name in held:
            out[view.owner == number] = held[part.name]
    return out


def _with_nearest(values: Array, wanted: Mask) -> Array:
    """The values, with the nearest one in place of NaN where one is `wanted`.

    That is so beside round and slanted edges, where the cells differ from the drawing.
    """
    from scipy.ndimage import distance_transform_edt

    missing = wanted & np.isnan(values)
    if missing.any() and not np.isnan(values).all():
        i, j = distance_transform_edt(np.isnan(values), return_distances=False, return_indices=True)
        values = np.where(missing, values[i, j], values)
    return values


def draw_isotherms(view: View, temperature: Array, levels: Array) -> None:
    """Lines at the levels, each labelled with its temperature on a long piece where there is room."""
    x, y = middles(view.x)[::ISOTHERM_STEP], middles(view.y)[::ISOTHERM_STEP]
    look: dict[str, Any] = {"colors": INK, "linewidths": 0.7, "negative_linestyles": "solid", "zorder": 2}
    known = np.ma.masked_invalid(temperature.T[::ISOTHERM_STEP, ::ISOTHERM_STEP])
    lines = view.axes.contour(x, y, known, levels, **look)
    step = float(np.min(np.diff(levels))) if len(levels) > 1 else 1.0
    digits = next(d for d in range(9) if abs(step - round(step, d)) < 1e-3 * step)
    origin, scale = np.array([view.x[0], view.y[0]]), np.array([view.x[1] - view.x[0], view.y[1] - view.y[0]])
    for level, path in zip(lines.levels, lines.get_paths()):
        runs = [(np.asarray(run, float) - origin) / scale for run in path.to_polygons(closed_only=False)]
        runs.sort(key=lambda run: -float(np.hypot(*np.diff(run, axis=0).T).sum()))
        for run in runs[:LABELLED_RUNS]:
            if view.labels.write_along(f"{level:.{digits}f}", run, boxed=bool(levels.min() < 0)):
                break


def _draw_flow_lines(view: View, field: Field) -> None:
    """The way heat goes in solids: lines about evenly spaced, thicker where more flows, with arrows."""
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.patheffects import Normal, withStroke
    from scipy.ndimage import distance_transform_edt

    x, y = middles(view.x)[::FLOW_STEP], middles(view.y)[::FLOW_STEP]
    in_cells = np.ix_(cells_of(field.x, x * view.unit)[0], cells_of(field.y, y * view.unit)[0])
    flux = flux_at(field, x * view.unit, y * view.unit)
    size = np.hypot(flux[..., 0], flux[..., 1])
    solid = view.solid[::FLOW_STEP, ::FLOW_STEP] & field.solid[in_cells]
    flows = solid & (size > 1e-6 * size.max(initial=0.0))
    if not flows.any():
        return
    direction = flux / np.where(flows, size, 1.0)[..., None]
    depth = distance_transform_edt(np.pad(flows, 1))[1:-1, 1:-1]
    lines = flow_lines(direction, flows, depth, size, FLOW_SPACING * DPI / FLOW_STEP)
    origin, per_pixel = np.array([x[0], y[0]]), np.array([x[1] - x[0], y[1] - y[0]])
    widths, arrows = [], []
    for line in lines:
        i, j = np.floor(line + 0.5).astype(int).T
        widths.append(float(np.clip(1.3 + 0.25 * np.log10(np.median(size[i, j]) / size.max()), 0.6, 1.3)))
        if len(line) >= SHORTEST_WITH_ARROW * DPI / FLOW_STEP:
            half = len(line) // 2
            ahead = direction[i[half], j[half]]
            across = np.array([-ahead[1], ahead[0]])
            tip = line[min(len(line) - 1, half + 5)]
            corners = np.array([tip, tip - 6 * ahead + 2.6 * across, tip - 6 * ahead - 2.6 * across])
            arrows.append(origin + per_pixel * corners)
    view.axes.add_collection(
        LineCollection(
            [origin + per_pixel * line for line in lines],
            colors="white",
            linewidths=widths,
            path_effects=[withStroke(linewidth=2.0, foreground="#1f33445a"), Normal()],
            zorder=2.4,
        )
    )
    view.axes.add_collection(
        PolyCollection(arrows, facecolors="white", edgecolors="#1f334490", linewidths=0.5, zorder=2.5)
    )
