"""Pictures of a section, to scale: what was drawn, and its temperatures.

Both are painted pixel by pixel from the drawing itself, so that no edge is smeared and a disc is round whatever the
grid; outlines, lines and words go on top. No global state of matplotlib is touched.
"""

import math
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdm.answers.results import Field
from fdm.grid.raster import middles
from fdm.output.corner_temperatures import corner_temperatures
from fdm.output.drawing.colours import (
    HEAT,
    HELD,
    INK,
    JOINT,
    SENSOR,
    TEMPERATURE_COLOURS,
    colour_map,
    conductivities,
    environment_colours,
    material_colours,
    part_colours,
)
from fdm.output.drawing.flow import cells_of, flux_at, traced
from fdm.output.drawing.sheet import DPI, Sheet, deepest, name_environments, name_sources
from fdm.section.model import Part, Section
from fdm.solving.solution import Solution

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

FLOW_SPACING = 0.16  # inch between heat-flow lines
LEGEND_LETTERS, LEGEND_LINES = 42, 7  # of an entry


def draw_parts(section: Section, path: str | Path) -> None:
    """parts.png: the parts as drawn, coloured by conductivity, with environments, joints, sources and sensors."""
    sheet = Sheet(section, legend=True)
    sheet.image(part_colours(section)[sheet.owner])
    sheet.outlines()
    sheet.joints()
    sheet.marks()
    name_sources(sheet, watts=True)
    for sensor in section.sensors:
        sheet.words.beside(sensor.name, sheet.sensor_at[sensor.name], SENSOR)
    name_environments(sheet, temperatures=True)
    seen = np.bincount(sheet.owner[sheet.owner >= 0], minlength=len(section.parts))
    small_first = np.argsort(seen[: len(section.parts)], kind="stable")
    solids = [k for k in small_first if section.parts[k].environment is None]
    outside = [k for k in solids if not sheet.words.inside(section.parts[k].name, sheet.owner == k)]
    for k in outside:
        if (at := deepest(sheet.owner == k)) is not None:
            sheet.words.beside(section.parts[k].name, sheet.place(at), INK, part=True)
    _legend(sheet)
    sheet.save(path)


def draw_temperature(solution: Solution, path: str | Path, temperature_field: Field | None = None) -> None:
    """temperature.png: temperatures, isotherms, heat-flow lines and sensors, at the section's own temperatures and
    watts; of `temperature_field` instead, if given (`solution.field_at` another operating point)."""
    section, own = solution.section, temperature_field is None
    field = solution.field if temperature_field is None else temperature_field
    sheet = Sheet(section, legend=False)
    temperature = temperature_pixels(sheet, field)
    levels, ends = levels_of(temperature, most=int(np.clip(sheet.slimness / 14, 6, 12)))
    colours = colour_map("temperature", TEMPERATURE_COLOURS)
    solid = np.isfinite(temperature)
    rgba = part_colours(section)[sheet.owner]
    rgba[solid] = colours(np.clip((temperature[solid] - ends[0]) / (ends[1] - ends[0]), 0, 1), bytes=True)
    sheet.image(rgba)
    sheet.outlines()
    _flow_lines(sheet, field)
    sheet.marks()
    name_sources(sheet, watts=own)
    readings = {n: r.reading for n, r in solution.sensors.items()} if own else _readings(section, field)
    for sensor in section.sensors:
        sheet.words.beside(f"{sensor.name}\n{readings[sensor.name]:.2f} °C", sheet.sensor_at[sensor.name], SENSOR)
    name_environments(sheet, temperatures=own)
    _isotherms(sheet, temperature, levels)
    sheet.colour_bar(colours, ends, levels)
    sheet.save(path)


def _legend(sheet: Sheet) -> None:
    """What the colours and lines mean: materials with their parts, environments, voids, joints, sources, sensors."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    section = sheet.section
    materials, environments = material_colours(section), environment_colours(section.environments)
    entries: list[tuple[Any, str]] = []

    def patch(colour: Any, **more: Any) -> Patch:
        return Patch(facecolor=colour, edgecolor=INK, linewidth=0.8, **more)

    def named(head: str, *rest: str) -> str:
        """What it is, then what belongs to it; a long list is cut short."""
        body = [line for text in rest for line in textwrap.wrap(text, LEGEND_LETTERS)]
        return "\n".join(
            [*textwrap.wrap(head, LEGEND_LETTERS), *body[:LEGEND_LINES], *(["..."] if len(body) > LEGEND_LINES else [])]
        )

    for name in reversed(conductivities(section)):
        parts = [p for p in section.parts if p.material is not None and p.material.name == name]
        assert parts[0].material is not None
        kx, ky = parts[0].material.conductivity
        k = f"{kx:.4g}" if kx == ky else f"x {kx:.4g}, y {ky:.4g}"
        unit = "W/(m\xa0K)"
        names = ", ".join(
            p.name if p.thickness is None else f"{p.name} ({p.thickness / sheet.unit:g}\xa0{section.unit})"
            for p in parts
        )
        entries.append((patch(materials[name]), named(f"{name}: {k}\xa0{unit}", names, *_faces(parts))))
    for e in section.environments:
        film = "held" if math.isinf(e.film) else f"film {e.film:g}\xa0W/(m²\xa0K)"
        entries.append((patch(environments[e.name]), named(f"{e.name}: {e.temperature:g}\xa0°C, {film}")))
    if voids := [p.name for p in section.parts if p.void]:
        entries.append((patch("white", hatch="//////"), named("void, not modelled", ", ".join(voids))))
    if section.joints:
        joints = [f"{j.resistance:.3g}\xa0m²\xa0K/W: {' | '.join(j.between)}" for j in section.joints]
        entries.append((Line2D([], [], color=JOINT, lw=2.6), named("joint", *joints)))
    if section.heat_sources:
        entries.append((Line2D([], [], color=HEAT, lw=3.2), "heat"))
    if section.held_sources:
        entries.append((Line2D([], [], color=HELD, lw=3.2), "held temperature"))
    if section.sensors:
        entries.append((Line2D([], [], ls="", marker="o", ms=7, mfc="white", mec=SENSOR, mew=1.6), "sensor"))
    if section.view == "axisymmetric" and sheet.axes.get_xlim()[0] < 0:
        entries.append((Line2D([], [], color=INK, lw=1.0, dashes=(6, 2, 1.5, 2)), "axis"))
    place: dict[str, Any] = (
        {"loc": "upper left", "bbox_to_anchor": (1.02, 1.0)}
        if sheet.beside
        else {
            "loc": "upper left",
            "bbox_to_anchor": (0.0, -0.5 / (sheet.pixels[1] / DPI)),
            "ncols": min(3, len(entries)),
        }
    )
    shown = sheet.axes.legend(
        *zip(*entries),
        frameon=False,
        fontsize=8.5,
        labelcolor=INK,
        borderaxespad=0.0,
        labelspacing=0.8,
        handleheight=1.3,
        alignment="left",
        **place,
    )
    for text in shown.get_texts():
        text.set_linespacing(1.15)


def _faces(parts: Sequence[Part]) -> list[str]:
    """What the fronts and the backs of plates look upon."""
    by_pair: dict[tuple[str | None, str | None], list[str]] = {}
    for p in parts:
        by_pair.setdefault((p.front, p.back), []).append(p.name)
    out = []
    for pair, names in by_pair.items():
        sides = ", ".join(f"{side} {name}" for side, name in zip(("front", "back"), pair) if name is not None)
        if sides:
            out.append(sides if len(by_pair) == 1 else f"{', '.join(names)}: {sides}")
    return out


def levels_of(temperature: Array, most: int) -> tuple[Array, tuple[float, float]]:
    """At most so many round temperatures for the isotherms, and the ends of the colours."""
    from matplotlib.ticker import MaxNLocator

    t = temperature[np.isfinite(temperature)]
    low, high = (float(t.min()), float(t.max())) if t.size else (0.0, 1.0)
    if high - low < 1e-6 * max(1.0, abs(high)):  # all at one temperature
        low, high = low - 0.5, high + 0.5
    levels = np.asarray(MaxNLocator(nbins=most, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high), float)
    return levels[(levels >= low) & (levels <= high)], (low, high)


def temperature_pixels(sheet: Sheet, field: Field) -> Array:
    """(pixels along x, along y) degC in solids, NaN elsewhere: bilinear between a cell's own four corners."""
    x, y = middles(sheet.x) * sheet.unit, middles(sheet.y) * sheet.unit
    (i, u), (j, v) = cells_of(field.x, x), cells_of(field.y, y)
    points = corner_temperatures(sheet.section, field)
    rows = points[i] * (1 - u)[:, None] + points[i + 1] * u[:, None]
    out = rows[:, j] * (1 - v) + rows[:, j + 1] * v
    cell = field.solid[np.ix_(i, j)]
    solids = np.isin(sheet.owner, [k for k, p in enumerate(sheet.section.parts) if p.material is not None])
    out[~(cell & solids)] = np.nan
    return _filled(out, solids)


def _filled(values: Array, wanted: Mask) -> Array:
    """The nearest value where one is wanted but NaN: beside round and oblique edges, where cells and drawing differ."""
    from scipy.ndimage import distance_transform_edt

    missing = wanted & np.isnan(values)
    if missing.any() and not np.isnan(values).all():
        i, j = distance_transform_edt(np.isnan(values), return_distances=False, return_indices=True)
        values = np.where(missing, values[i, j], values)
    return values


def _isotherms(sheet: Sheet, temperature: Array, levels: Array) -> None:
    x, y = middles(sheet.x), middles(sheet.y)
    look: dict[str, Any] = {"colors": INK, "linewidths": 0.7, "negative_linestyles": "solid", "zorder": 2}
    lines = sheet.axes.contour(x, y, np.ma.masked_invalid(temperature.T), levels, **look)
    step = float(np.min(np.diff(levels))) if len(levels) > 1 else 1.0
    digits = next(d for d in range(9) if abs(step - round(step, d)) < 1e-3 * step)
    origin, scale = np.array([sheet.x[0], sheet.y[0]]), np.array([sheet.x[1] - sheet.x[0], sheet.y[1] - sheet.y[0]])
    for level, path in zip(lines.levels, lines.get_paths()):
        runs = [(np.asarray(run, float) - origin) / scale for run in path.to_polygons(closed_only=False)]
        runs.sort(key=lambda run: -float(np.hypot(*np.diff(run, axis=0).T).sum()))
        for run in runs[:4]:
            if sheet.words.along(f"{level:.{digits}f}", run, INK):
                break


def _flow_lines(sheet: Sheet, field: Field) -> None:
    """The way heat goes, in solids only: lines about evenly spaced, thicker where more flows."""
    from matplotlib.collections import LineCollection, PolyCollection
    from matplotlib.patheffects import Normal, withStroke
    from scipy.ndimage import distance_transform_edt

    step = 2
    x, y = middles(sheet.x)[::step], middles(sheet.y)[::step]
    at = np.ix_(cells_of(field.x, x * sheet.unit)[0], cells_of(field.y, y * sheet.unit)[0])
    q = flux_at(field, x * sheet.unit, y * sheet.unit)
    size = np.hypot(q[..., 0], q[..., 1])
    solids = np.isin(
        sheet.owner[::step, ::step], [k for k, p in enumerate(sheet.section.parts) if p.material is not None]
    )
    flows = solids & field.solid[at] & (size > 1e-6 * size.max(initial=0.0))
    if not flows.any():
        return
    direction = q / np.where(flows, size, 1.0)[..., None]
    lines = traced(
        direction, flows, distance_transform_edt(np.pad(flows, 1))[1:-1, 1:-1], size, FLOW_SPACING * DPI / step
    )
    origin, per_pixel = np.array([x[0], y[0]]), np.array([x[1] - x[0], y[1] - y[0]])
    widths, arrows = [], []
    for line in lines:
        i, j = np.floor(line + 0.5).astype(int).T
        widths.append(float(np.clip(1.3 + 0.25 * np.log10(np.median(size[i, j]) / size.max()), 0.6, 1.3)))
        if len(line) < 0.25 * DPI / step:
            continue
        tip = line[min(len(line) - 1, len(line) // 2 + 5)]
        ahead = direction[tuple(np.floor(line[len(line) // 2] + 0.5).astype(int))]
        across = np.array([-ahead[1], ahead[0]])
        arrows.append(
            origin + per_pixel * np.array([tip, tip - 6 * ahead + 2.6 * across, tip - 6 * ahead - 2.6 * across])
        )
    cased = [withStroke(linewidth=2.0, foreground="#1f33445a"), Normal()]
    sheet.axes.add_collection(
        LineCollection(
            [origin + per_pixel * line for line in lines],
            colors="white",
            linewidths=widths,
            path_effects=cased,
            zorder=2.4,
        )
    )
    sheet.axes.add_collection(
        PolyCollection(arrows, facecolors="white", edgecolors="#1f334490", linewidths=0.5, zorder=2.5)
    )


def _readings(section: Section, field: Field) -> dict[str, float]:
    """What the sensors read in a field."""
    out = {}
    names = [p.name for p in section.parts]
    area = np.diff(field.x)[:, None] * np.diff(field.y)[None]
    for s in section.sensors:
        if s.at is not None:
            out[s.name] = float(
                field.point_temperature[abs(field.x - s.at[0]).argmin(), abs(field.y - s.at[1]).argmin()]
            )
        else:
            cells = (field.part == names.index(str(s.part))) & np.isfinite(field.temperature)
            weight = area * (middles(field.x)[:, None] if section.view == "axisymmetric" else 1.0)
            out[s.name] = float(
                np.average(field.temperature[cells], weights=np.broadcast_to(weight, cells.shape)[cells])
            )
    return out
