"""Pictures of a section, to scale: its parts, and its temperatures.

Pixels are coloured one by one from the drawing itself, not from the cells, so that no edge is smeared and a disc is
round whatever the grid. Outlines, lines and labels go on top. The global state of matplotlib is left alone.
"""

from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.fields import Field
from fdm.grid.raster import middles
from fdm.output.corner_temperatures import corner_temperatures
from fdm.output.drawing.colours import INK, SENSOR, TEMPERATURE_COLOURS, colour_map, contour_levels, part_colours
from fdm.output.drawing.figures import DPI, boxes_for_missing_letters
from fdm.output.drawing.flow import cells_of, flow_lines, flux_at
from fdm.output.drawing.legend import draw_legend
from fdm.output.drawing.marks import (
    draw_adiabatic_edges,
    draw_joints,
    draw_outlines,
    draw_sensors,
    draw_sources,
    name_environments,
    name_sources,
    sensor_places,
)
from fdm.output.drawing.sheet import Sheet, deepest_pixel
from fdm.section.model import Section
from fdm.solving.solution import Solution

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FLOW_SPACING = 0.16  # inch between heat-flow lines
FLOW_STEP = 2  # pixels; heat-flow lines are traced on so coarse a grid
SHORTEST_WITH_ARROW = 0.25  # inch of heat-flow line
LABELLED_RUNS = 4  # of an isotherm that is in several pieces, how many are tried for its label


@boxes_for_missing_letters()
def draw_parts(section: Section, path: str | Path) -> None:
    """parts.png: the parts as drawn, coloured by conductivity, with environments, joints, sources and sensors.

    Raises InputError where the picture cannot be written.
    """
    sheet = Sheet(section, legend=True)
    places = sensor_places(sheet)
    sheet.show_pixels(part_colours(section)[sheet.owner])
    draw_outlines(sheet)
    adiabatic = draw_adiabatic_edges(sheet)
    draw_joints(sheet)
    draw_sources(sheet)
    draw_sensors(sheet, places)
    name_sources(sheet, values=True)
    for name, place in places.items():
        sheet.labels.write_beside(name, place, SENSOR)
    name_environments(sheet, temperatures=True)
    _name_parts(sheet)
    draw_legend(sheet, adiabatic)
    sheet.save(path)


@boxes_for_missing_letters()
def draw_temperature(solution: Solution, path: str | Path, temperature_field: Field | None = None) -> None:
    """temperature.png: temperatures, isotherms, heat-flow lines and sensors.

    The picture shows the section's own temperatures and watts, or `temperature_field` if given: that of another
    operating point, from `solution.field_at`. Raises InputError where the picture cannot be written.
    """
    section, own = solution.section, temperature_field is None
    field = solution.field if temperature_field is None else temperature_field
    sheet = Sheet(section, legend=False)
    places = sensor_places(sheet)
    temperature = temperature_pixels(sheet, field)
    levels, ends = contour_levels(temperature, most=int(np.clip(sheet.slimness / 14, 6, 12)))
    colours = colour_map("temperature", TEMPERATURE_COLOURS)
    solid = np.isfinite(temperature)
    rgba = part_colours(section)[sheet.owner]
    rgba[solid] = colours(np.clip((temperature[solid] - ends[0]) / (ends[1] - ends[0]), 0, 1), bytes=True)
    sheet.show_pixels(rgba)
    draw_outlines(sheet)
    _draw_flow_lines(sheet, field)
    draw_sources(sheet)
    draw_sensors(sheet, places)
    name_sources(sheet, values=own)
    readings = {n: r.reading for n, r in solution.sensors.items()} if own else _readings(section, field)
    for name, place in places.items():
        sheet.labels.write_beside(f"{name}\n{readings[name]:.2f} °C", place, SENSOR)
    name_environments(sheet, temperatures=own)
    _draw_isotherms(sheet, temperature, levels)
    sheet.add_colour_bar(colours, ends, levels)
    sheet.save(path)


def _name_parts(sheet: Sheet) -> None:
    """Write the name of each solid and void into it, the smallest first; beside it where it has no room."""
    parts = sheet.section.parts
    seen = np.bincount(sheet.owner[sheet.owner >= 0], minlength=len(parts))[: len(parts)]
    smallest_first = [parts[k].name for k in np.argsort(seen, kind="stable") if parts[k].environment is None]
    # all that fit are written first: they have no other place
    too_small = [name for name in smallest_first if not sheet.labels.write_inside(name, sheet.pixels_of(name))]
    for name in too_small:
        if (pixel := deepest_pixel(sheet.pixels_of(name))) is not None:
            sheet.labels.write_with_leader(name, sheet.middle_of(pixel), INK)


def temperature_pixels(sheet: Sheet, field: Field) -> Array:
    """(pixels along x, along y) degC in solids, NaN elsewhere: bilinear between a cell's own four corners."""
    x, y = middles(sheet.x) * sheet.unit, middles(sheet.y) * sheet.unit
    (i, u), (j, v) = cells_of(field.x, x), cells_of(field.y, y)
    points = corner_temperatures(sheet.section, field)
    rows = points[i] * (1 - u)[:, None] + points[i + 1] * u[:, None]
    out = rows[:, j] * (1 - v) + rows[:, j + 1] * v
    cell = field.solid[np.ix_(i, j)]
    out[~(cell & sheet.solid)] = np.nan
    return _with_nearest(out, sheet.solid)


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


def _draw_isotherms(sheet: Sheet, temperature: Array, levels: Array) -> None:
    """Lines at the levels, each labelled with its temperature on a long piece where there is room."""
    x, y = middles(sheet.x), middles(sheet.y)
    look: dict[str, Any] = {"colors": INK, "linewidths": 0.7, "negative_linestyles": "solid", "zorder": 2}
    lines = sheet.axes.contour(x, y, np.ma.masked_invalid(temperature.T), levels, **look)
    step = float(np.min(np.diff(levels))) if len(levels) > 1 else 1.0
    digits = next(d for d in range(9) if abs(step - round(step, d)) < 1e-3 * step)
    origin, scale = np.array([sheet.x[0], sheet.y[0]]), np.array([sheet.x[1] - sheet.x[0], sheet.y[1] - sheet.y[0]])
    for level, path in zip(lines.levels, lines.get_paths()):
        runs = [(np.asarray(run, float) - origin) / scale for run in path.to_polygons(closed_only=False)]
        runs.sort(key=lambda run: -float(np.hypot(*np.diff(run, axis=0).T).sum()))
        for run in runs[:LABELLED_RUNS]:
            if sheet.labels.write_along(f"{level:.{digits}f}", run, INK):
                break


def _draw_flow_lines(sheet: Sheet, field: Field) -> None:
    """The way heat goes in solids: lines about evenly spaced, thicker where more flows, with arrows."""
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.patheffects import Normal, withStroke
    from scipy.ndimage import distance_transform_edt

    x, y = middles(sheet.x)[::FLOW_STEP], middles(sheet.y)[::FLOW_STEP]
    in_cells = np.ix_(cells_of(field.x, x * sheet.unit)[0], cells_of(field.y, y * sheet.unit)[0])
    flux = flux_at(field, x * sheet.unit, y * sheet.unit)
    size = np.hypot(flux[..., 0], flux[..., 1])
    solid = sheet.solid[::FLOW_STEP, ::FLOW_STEP] & field.solid[in_cells]
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
    sheet.axes.add_collection(
        LineCollection(
            [origin + per_pixel * line for line in lines],
            colors="white",
            linewidths=widths,
            path_effects=[withStroke(linewidth=2.0, foreground="#1f33445a"), Normal()],
            zorder=2.4,
        )
    )
    sheet.axes.add_collection(
        PolyCollection(arrows, facecolors="white", edgecolors="#1f334490", linewidths=0.5, zorder=2.5)
    )


def _readings(section: Section, field: Field) -> dict[str, float]:
    """What each sensor reads in a field, degC: at a grid point, or the mean over a part."""
    part_number = {p.name: k for k, p in enumerate(section.parts)}
    weight = np.diff(field.x)[:, None] * np.diff(field.y)[None]
    if section.view == "axisymmetric":
        weight = weight * middles(field.x)[:, None]
    out = {}
    for s in section.sensors:
        if s.at is not None:
            i, j = abs(field.x - s.at[0]).argmin(), abs(field.y - s.at[1]).argmin()
            out[s.name] = float(field.point_temperature[i, j])
        else:
            cells = (field.part == part_number[str(s.part)]) & np.isfinite(field.temperature)
            out[s.name] = float(np.average(field.temperature[cells], weights=weight[cells]))
    return out
