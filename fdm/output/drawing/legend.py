"""The legend of a drawn section: what its colours and lines mean."""

import math
import textwrap
from collections.abc import Sequence
from typing import Any

from fdm.output.drawing.colours import (
    ADIABATIC,
    DASHES,
    HEAT,
    HELD,
    INK,
    JOINT,
    SENSOR,
    VOID,
    Look,
    conductivities,
    environment_looks,
    material_looks,
)
from fdm.output.drawing.sheet import Sheet
from fdm.section.model import CLOSED_AIR, UNITS, Material, Part, Section

LETTERS = 42  # in a line
MOST_LINES = 7  # of an entry, below its first

Entry = tuple[Any, str]  # what is shown, as an artist of matplotlib, and its text


def draw_legend(sheet: Sheet, adiabatic: bool) -> None:
    """Materials with their parts, environments, voids, joints, sources and sensors, and edges without heat where there
    are any (`adiabatic`); beside the drawing or below it."""
    section = sheet.section
    entries = [*_material_entries(section), *_environment_entries(section), *_line_entries(section)]
    if adiabatic:
        entries.append((_line(color=ADIABATIC, lw=2.0, ls=DASHES), "no heat passes (adiabatic)"))
    if sheet.shows_axis:
        entries.append((_line(color=INK, lw=1.0, dashes=(6, 2, 1.5, 2)), "axis"))
    place: dict[str, Any] = {"bbox_to_anchor": (1.02, 1.0)}
    if not sheet.layout.beside:
        lowest = sheet.views[-1]
        down = -0.5 / lowest.window.size[1]
        place = {"bbox_to_anchor": (0.0, down), "ncols": min(3, len(entries)), "bbox_transform": lowest.axes.transAxes}
    artists, labels = zip(*entries)
    legend = sheet.axes.legend(
        artists,
        ["-"] * len(labels),  # one that begins with _ would be left out
        loc="upper left",
        frameon=False,
        fontsize=8.5,
        labelcolor=INK,
        borderaxespad=0.0,
        labelspacing=0.8,
        handleheight=1.3,
        alignment="left",
        **place,
    )
    for text, label in zip(legend.get_texts(), labels):
        text.set_text(label)
        text.set_linespacing(1.15)


def _material_entries(section: Section) -> list[Entry]:
    """The best conductors first."""
    looks = material_looks(section)
    entries = []
    for name in reversed(conductivities(section)):
        parts = [p for p in section.parts if p.material is not None and p.material.name == name]
        assert parts[0].material is not None
        names = ", ".join(_with_thickness(p, section) for p in parts)
        text = _entry_text(f"{name}: {_conductivity([p.material for p in parts if p.material])}", names, *_faces(parts))
        entries.append((_patch(looks[name]), text))
    return entries


def _environment_entries(section: Section) -> list[Entry]:
    looks = environment_looks(section.environments)
    entries = []
    for e in section.environments:
        film = "held" if math.isinf(e.film) else f"film {e.film_digits}\xa0W/(m²\xa0K)"
        film += ", follows its surface" if e.follows is not None else ""
        entries.append((_patch(looks[e.name]), _entry_text(f"{e.name}: {e.temperature:g}\xa0°C, {film}")))
    return entries


def _line_entries(section: Section) -> list[Entry]:
    """Voids, joints, sources and sensors."""
    entries = []
    if voids := [p.name for p in section.parts if p.void]:
        entries.append((_patch(VOID), _entry_text("void, not modelled", ", ".join(voids))))
    if section.joints:
        joints = [f"{j.resistance:.3g}\xa0m²\xa0K/W: {' | '.join(j.between)}" for j in section.joints]
        entries.append((_line(color=JOINT, lw=2.6), _entry_text("joint", *joints)))
    u = UNITS[section.unit]
    for f in section.fins:
        number = f"{f.count:g}" if f.count else f"one each {f.pitch / u:g}\xa0{section.unit}" if f.pitch else ""
        size = f"{f.thickness / u:g}\xa0{section.unit} thick, {f.height / u:g}\xa0{section.unit} high"
        text = _entry_text(f"{f.name}: {number}, {size}", f"on the {f.face}, in {f.environment}")
        entries.append((_line(color=INK, lw=0.8, ls="-" if f.face == "front" else (0, (4, 2)), alpha=0.6), text))
    if section.heat_sources:
        entries.append((_line(color=HEAT, lw=3.2), "heat"))
    if section.held_sources:
        entries.append((_line(color=HELD, lw=3.2), "held temperature"))
    if section.sensors:
        entries.append((_line(ls="", marker="o", ms=7, mfc="white", mec=SENSOR, mew=1.6), "sensor"))
    return entries


def _patch(look: Look) -> Any:
    from matplotlib.patches import Patch

    return Patch(**look.patch())


def _line(**style: Any) -> Any:
    from matplotlib.lines import Line2D

    return Line2D([], [], **style)


def _entry_text(head: str, *rest: str) -> str:
    """What an entry is, then what belongs to it; a long list is cut short."""
    body = [line for text in rest for line in textwrap.wrap(text, LETTERS)]
    cut = ["..."] if len(body) > MOST_LINES else []
    return "\n".join([*textwrap.wrap(head, LETTERS), *body[:MOST_LINES], *cut])


def _conductivity(materials: Sequence[Material]) -> str:
    """That of one material, which may differ from part to part with the temperature."""
    if materials[0] == CLOSED_AIR:
        return "by its temperatures"  # not solved
    (kx, ky), all_of_them = materials[0].conductivity, [m.conductivity[0] for m in materials]
    low, high = (f"{v:.4g}" for v in (min(all_of_them), max(all_of_them)))
    one = f"x {kx:.4g}, y {ky:.4g}" if kx != ky else low if low == high else f"{low} to {high}"
    return f"{one}\xa0W/(m\xa0K)"


def _with_thickness(part: Part, section: Section) -> str:
    if part.thickness is None:
        return part.name
    return f"{part.name} ({part.thickness / UNITS[section.unit]:g}\xa0{section.unit})"


def _faces(parts: Sequence[Part]) -> list[str]:
    """Which environments the fronts and the backs of plates have."""
    by_pair: dict[tuple[str | None, str | None], list[str]] = {}
    for p in parts:
        by_pair.setdefault((p.front, p.back), []).append(p.name)
    out = []
    for pair, names in by_pair.items():
        sides = ", ".join(f"{side} {name}" for side, name in zip(("front", "back"), pair) if name is not None)
        if sides:
            out.append(sides if len(by_pair) == 1 else f"{', '.join(names)}: {sides}")
    return out
