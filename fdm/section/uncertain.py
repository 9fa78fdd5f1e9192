"""Numbers of a file known only within limits: { value = .., uncertainty = .. } or { between = [low, high] }."""

import math
from collections.abc import Iterable, Mapping
from typing import Any, TypeGuard

from fdm.errors import InputError, nearest
from fdm.section.expressions import as_number, resolve
from fdm.section.materials import builtin_materials
from fdm.section.pieces import LEAST, Material, Uncertain

KEYS = ("value", "uncertainty", "between")
WIDEST_NORMAL = 0.25  # relative; a wider spread counts as even, as a normal one would reach below 0


def is_uncertain(value: object) -> TypeGuard[dict[str, object]]:
    """Whether a value is written as { value = .., uncertainty = .. } or { between = [.., ..] }."""
    return isinstance(value, dict) and not value.keys().isdisjoint(KEYS)


def nominal(given: Mapping[str, object]) -> float | str:
    """The number or expression that an uncertain value stands for: `value`, or the middle of `between`."""
    for key in given:
        if key not in KEYS:
            raise InputError(f"{key!r} is an unknown key; {nearest(key, KEYS)}")
    if "between" not in given:
        if len(given) != 2:
            lacking = "uncertainty" if "value" in given else "value"
            raise InputError(
                f"{lacking} is missing; give {{ value = .., uncertainty = .. }} or {{ between = [.., ..] }}"
            )
        return _expression(given["value"])
    if len(given) != 1:
        raise InputError("give either value with uncertainty, or between")
    low, high = _bounds(given)
    return f"(({low}) + ({high})) / 2"


def _bounds(given: Mapping[str, object]) -> tuple[float | str, float | str]:
    bounds = given["between"]
    if not isinstance(bounds, list) or len(bounds) != 2:
        raise InputError("between does not hold two numbers; give the lowest and the highest value, [low, high]")
    return _expression(bounds[0]), _expression(bounds[1])


def _expression(value: object) -> float | str:
    return value if isinstance(value, str) else as_number(value, {})


def note(
    found: dict[str, Uncertain], place: str, number: float, given: Mapping[str, object], let: Mapping[str, float]
) -> None:
    """Put an uncertain number into `found` under its place. One with an uncertainty of 0 is certain and left out."""
    if "between" in given:
        low, high = (as_number(bound, let) for bound in _bounds(given))
        if not low < high:
            raise InputError(f"between [{low:g}, {high:g}] is empty or turned around; give [low, high] with low < high")
        found[place] = Uncertain(place, number, (high - low) / math.sqrt(12), (low, high))
        return
    uncertainty = as_number(given["uncertainty"], let)
    if uncertainty < 0:
        raise InputError(f"uncertainty {uncertainty:g} is below 0; give the standard uncertainty, 0 or more")
    if 0 < uncertainty < LEAST * abs(number):
        raise InputError(f"uncertainty {uncertainty:g} is nothing beside {number:g}; give a larger one, or none")
    if uncertainty > 0:
        found[place] = Uncertain(place, number, uncertainty)


def resolve_let(
    given: Mapping[str, object], moved: Mapping[str, float], found: dict[str, Uncertain]
) -> dict[str, float]:
    """The values of named numbers, some of them uncertain."""
    plain: dict[str, Any] = dict(given)
    for name, value in given.items():
        if is_uncertain(value):
            try:
                plain[name] = nominal(value)
            except InputError as error:
                raise InputError(f"let, {name}: {error}") from None
            if move := moved.get(f"let {name}"):
                plain[name] = f"({plain[name]}) + {move!r}"
    let = resolve(plain)
    for name, value in given.items():
        if is_uncertain(value):
            place = f"let {name}"
            try:
                note(found, place, let[name] - moved.get(place, 0.0), value, let)
            except InputError as error:
                raise InputError(f"let, {name}: {error}") from None
    return let


def conductivity_of(material: str) -> str:
    """The place of a material's conductivity."""
    return f"material {material!r}, conductivity"


def table_spreads(materials: Iterable[Material]) -> dict[str, Uncertain]:
    """The conductivities of the built-in materials whose spread the table states, as uncertain numbers by place."""
    out = {}
    for material in materials:
        if material.spread:
            place, number = conductivity_of(material.name), builtin_materials()[material.name].conductivity[0]
            out[place] = spread_about(place, number, material.spread, from_table=True)
    return out


def spread_about(place: str, number: float, spread: float, from_table: bool = False) -> Uncertain:
    """A number with a relative standard spread."""
    half = math.sqrt(3) * spread * number
    between = (number - half, number + half) if spread > WIDEST_NORMAL else None
    return Uncertain(place, number, spread * number, between, from_table)
