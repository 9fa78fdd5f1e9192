"""The section that is made of a [bolt], as a section file: a drawing to go on from."""

import json
import math
from pathlib import Path

from fdm.errors import InputError
from fdm.section.by_temperature import Line
from fdm.section.files import written_beside
from fdm.section.materials import builtin_materials
from fdm.section.model import SIDES, UNITS, Material, Part, Rectangle, Section


def write_section(section: Section, path: str | Path) -> None:
    """Write a section of rectangles, with its environments and bridges, as a file that reads as the same section.

    Raises InputError where it cannot be written, and where the section has more than that.
    """
    text = section_text(section)
    with written_beside(path) as temporary:
        temporary.write_text(text, "utf-8")


def section_text(section: Section) -> str:
    """The section file. Raises InputError as `write_section` does."""
    shapes = [s for p in section.parts for s in p.shapes]
    more = section.sources or section.sensors or section.joints or section.spreading
    if (
        more
        or any(p.piece or p.gap or len(p.shapes) > 1 for p in section.parts)
        or not all(isinstance(s, Rectangle) for s in shapes)
    ):
        raise InputError("only a section of rectangles, environments and bridges can be written as a file")
    for e in section.environments:
        if e.follows is not None:
            raise InputError(
                f"environment {e.name!r}, film: follows the temperature of its surface, and is a number in such a "
                "file; give surface (degC) or warmer (K) in it"
            )
    lines = [f"title = {_text(section.title)}", f'view = "{section.view}"', f'unit = "{section.unit}"']
    for m in {p.material.name: p.material for p in section.parts if p.material is not None}.values():
        if builtin_materials().get(m.name) != m:
            lines += ["", f"[material.{_text(m.name)}]", f"conductivity = {_conductivity(m)}"]
            for key in ("density", "specific_heat"):
                if (value := getattr(m, key)) is not None:
                    lines.append(f"{key} = {value:.12g}")
    for e in section.environments:
        film = "inf" if math.isinf(e.film) else f"{e.film:.12g}"
        lines += ["", "[[environment]]", f"name = {_text(e.name)}", f"temperature = {e.temperature:.12g}"]
        lines.append(f"film = {film}")
    for p in section.parts:
        lines += ["", "[[part]]", f"name = {_text(p.name)}", *_filled(p), _rectangle(p, UNITS[section.unit])]
    sides = [(side, getattr(section.border, side)) for side in SIDES]
    lines += ["", "[border]", *(f"{side} = {_text(name)}" for side, name in sides if name is not None)]
    for b in section.bridges:
        lines += ["", "[[bridge]]", f"name = {_text(b.name)}", f"remove = [{', '.join(map(_text, b.remove))}]"]
    return "\n".join(lines) + "\n"


def _conductivity(material: Material) -> str:
    curve = material.by_temperature
    if isinstance(curve, Line):
        return f"{{ value = {curve.value:.12g}, at = {curve.at:.12g}, per_kelvin = {curve.per_kelvin:.12g} }}"
    if curve is not None:
        return "[" + ", ".join(f"[{t:.12g}, {k:.12g}]" for t, k in zip(curve.temperature, curve.conductivity)) + "]"
    x, y = material.conductivity
    return f"{{ x = {x:.12g}, y = {y:.12g} }}"


def _filled(part: Part) -> list[str]:
    if part.material is not None:
        return [f"material = {_text(part.material.name)}"]
    return ["void = true"] if part.void else [f"environment = {_text(part.environment or '')}"]


def _rectangle(part: Part, unit: float) -> str:
    x0, x1, y0, y1 = (v / unit for v in part.shapes[0].bounds)
    return f"rectangle = {{ x = [{x0:.12g}, {x1:.12g}], y = [{y0:.12g}, {y1:.12g}] }}"


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
