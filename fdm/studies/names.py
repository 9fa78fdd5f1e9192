"""What the named numbers of a file are: lengths in its unit, watts, degC, or counts, by the keys that they are used in.

A name means what a key means where it stands there alone or as a term of a sum, as `wall` does in "wall - 6". In a
product it may mean anything.
"""

import ast
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from fdm.errors import InputError
from fdm.section.expressions import LONGEST
from fdm.section.tables import read_document

COUNT = "number"  # in place of a unit
LENGTH = "length"
KINDS = {
    **dict.fromkeys(("count", "parallel", "series"), COUNT),
    **dict.fromkeys(("x", "y", "centre", "radius", "points", "thickness", "step", "depth", "at", "length"), LENGTH),
    **dict.fromkeys(("diameter", "height", "from", "to", "spacing"), LENGTH),
    **dict.fromkeys(("film", "film_inside", "film_outside"), "W/(m2 K)"),
    **dict.fromkeys(("temperature", "room", "setpoint", "start", "hot_side"), "degC"),
    **dict.fromkeys(("heat", "inside_heat", "greatest_heat"), "W"),
    **dict.fromkeys(("voltage", "greatest_voltage"), "V"),
    **dict.fromkeys(("current", "greatest_current"), "A"),
    **dict.fromkeys(("hysteresis", "greatest_difference"), "K"),
    **dict.fromkeys(("area", "surface", "wall_area"), "m2"),
    "conductivity": "W/(m K)", "psi": "W/(m K)", "chi": "W/K", "mass": "kg", "specific_heat": "J/(kg K)",
    "density": "kg/m3", "lead_resistance": "ohm", "air_changes": "1/h", "insulation": LENGTH, "through": LENGTH,
    "self_heating": "mW", "dissipation": "mW/K",
}  # fmt: skip


def kinds_of_names(path: str | os.PathLike[str]) -> dict[str, str]:
    """The units of a file's named numbers, COUNT for those that are counted; those that are not known are left out."""
    return _kinds(Path(path), within=0)


def counted_names(path: str | os.PathLike[str]) -> tuple[str, ...]:
    """The file's named numbers that are counted, such as modules or fins."""
    return tuple(name for name, kind in kinds_of_names(path).items() if kind == COUNT)


def _kinds(path: Path, within: int) -> dict[str, str]:
    try:
        document = read_document(str(path))
    except InputError:  # solving it will say so
        return {}
    found: dict[str, set[str]] = {}
    for name, kind in _uses(document, "", path, within):
        found.setdefault(name, set()).add(str(document.get("unit", "m")) if kind == LENGTH else kind)
    return {name: kinds.pop() for name, kinds in found.items() if len(kinds) == 1}


def _uses(value: Any, key: str, path: Path, within: int) -> Iterator[tuple[str, str]]:
    """Every name with what it means, in a value that stands at a key."""
    if isinstance(value, str) and key in KINDS:
        yield from ((name, KINDS[key]) for name in _terms(value))
    elif isinstance(value, list):
        for item in value:
            yield from _uses(item, "length" if key == "inside" else key, path, within)
    elif isinstance(value, dict):
        for inner, item in value.items():
            if inner != "let":
                yield from _uses(item, key if key == "conductivity" else inner, path, within)
        passed, section = value.get("let"), value.get("section")
        if isinstance(passed, dict) and isinstance(section, str) and not within:
            kinds = _kinds(path.parent / section, within + 1)
            for inner, text in passed.items():
                if isinstance(text, str) and inner in kinds:
                    yield from ((name, kinds[inner]) for name in _terms(text))


def _terms(text: str) -> set[str]:
    """The names that stand in a sum by themselves, or are the whole expression.

    >>> sorted(_terms("max(wall - 6, 2 * post) + skin"))
    ['skin', 'wall']
    """
    try:
        return _terms_of(ast.parse(text[:LONGEST].strip(), mode="eval").body)
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return set()


def _terms_of(node: ast.expr) -> set[str]:
    if isinstance(node, ast.Name):
        return {node.id}
    if isinstance(node, ast.BinOp) and isinstance(node.op, (ast.Add, ast.Sub)):
        return _terms_of(node.left) | _terms_of(node.right)
    if isinstance(node, ast.UnaryOp):
        return _terms_of(node.operand)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("min", "max"):
        return set().union(*map(_terms_of, node.args))
    return set()
