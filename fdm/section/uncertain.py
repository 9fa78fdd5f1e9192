"""Numbers of a file known only within limits: { value = .., uncertainty = .. } or { between = [low, high] }.

Films, joints and figures of modules that have no uncertainty of their own get the usual one (`usual.csv`, each with its
reason), built-in materials the spread that their table states.
"""

import csv
import math
from collections.abc import Iterable, Mapping
from functools import cache
from importlib.resources import files
from typing import Any, TypeGuard

from fdm.errors import InputError, nearest
from fdm.section.expressions import as_number, names_used, resolve
from fdm.section.materials import builtin_materials
from fdm.section.pieces import LEAST, Material, Uncertain

KEYS = ("value", "uncertainty", "between")
WIDEST_NORMAL = 0.25  # relative; a wider spread in a table counts as even, as a normal one would reach below 0
MATERIALS, USUAL = "materials", "usual"  # the built-in tables of spreads


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


def states_own(value: object, stated: Iterable[str]) -> bool:
    """Whether the file says how uncertain a value is, 0 included: by the value itself, or by a name in its expression
    that is one of `stated`."""
    return is_uncertain(value) or (isinstance(value, str) and not names_used(value).isdisjoint(stated))


def stated_names(let: Mapping[str, object], known: Iterable[str]) -> frozenset[str]:
    """The names of [let] of which the file says how uncertain they are, those that are `known` to be stated elsewhere,
    and those that are made of them."""
    stated = {name for name, value in let.items() if is_uncertain(value)}.union(known)
    uses = {name: names_used(value) for name, value in let.items() if isinstance(value, str)}
    while more := {name for name, used in uses.items() if name not in stated and not used.isdisjoint(stated)}:
        stated |= more
    return frozenset(stated)


def conductivity_of(material: str) -> str:
    """The place of a material's conductivity."""
    return f"material {material!r}, conductivity"


def table_spreads(materials: Iterable[Material]) -> dict[str, Uncertain]:
    """The conductivities of the built-in materials whose spread the table states, as uncertain numbers by place."""
    out = {}
    for material in materials:
        if material.spread:
            place, number = conductivity_of(material.name), builtin_materials()[material.name].conductivity[0]
            out[place] = spread_about(place, number, material.spread, MATERIALS)
    return out


def note_usual(found: dict[str, Uncertain], place: str, number: float, of: str) -> None:
    """Put a number without an uncertainty of its own into `found` with the usual one of its kind, a row of `usual.csv`;
    0 is certain and left out."""
    if number:
        found[place] = spread_about(place, number, usual_spreads()[of], USUAL)


@cache
def usual_spreads() -> dict[str, float]:
    """Relative standard spread of each kind of number.

    >>> usual_spreads()["film"]
    0.25
    """
    with files("fdm.section").joinpath("usual.csv").open(encoding="utf-8") as table:
        return {row["of"]: float(row["spread"]) for row in csv.DictReader(table)}


def spread_about(place: str, number: float, spread: float, table: str = "") -> Uncertain:
    """A number with a relative standard spread, stated by a built-in table or, without one, by the file."""
    half = math.sqrt(3) * spread * abs(number)
    between = (number - half, number + half) if spread > WIDEST_NORMAL else None
    return Uncertain(place, number, spread * abs(number), between, table)
