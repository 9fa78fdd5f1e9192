"""The built-in table of materials (`materials.csv`), each value with where it comes from.

The table also says how far a conductivity typically strays (`spread`, relative standard spread) and where that
figure comes from. Conductivities are isotropic: wood is across the grain, board and sheet through the thickness;
a file that needs more gives its own [material."NAME"] with conductivity = { x = .., y = .. }. They do not depend on the
temperature, but for those whose name ends in `by temperature`: these rise by `per_kelvin` (W/(m K2)) from `at` (degC).
"""

import csv
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from fdm.errors import InputError, listed, nearest
from fdm.section.by_temperature import Line
from fdm.section.pieces import Material

MOST_TOLD = 12  # materials that a message names


@cache
def builtin_materials() -> dict[str, Material]:
    """Every built-in material by its name, SI units.

    >>> builtin_materials()["aluminium 6063-T5"].conductivity
    (209.0, 209.0)
    """
    with files("fdm.section").joinpath("materials.csv").open(encoding="utf-8") as table:
        return {
            row["name"]: Material(
                row["name"],
                (float(row["conductivity"]), float(row["conductivity"])),
                _optional(row["density"]),
                _optional(row["specific_heat"]),
                row["source"],
                _optional(row["spread"]),
                by_temperature=_line(row),
            )
            for row in csv.DictReader(table)
        }


def _line(row: Mapping[str, str]) -> Line | None:
    """A row's conductivity by temperature, where it has one."""
    return Line(*(float(row[key]) for key in ("conductivity", "at", "per_kelvin"))) if row["per_kelvin"] else None


def _optional(text: str) -> float | None:
    return float(text) if text else None


def find_material(name: str, known: Mapping[str, Material]) -> Material:
    """The known material of that name; InputError with the nearest name, or those that contain the word.

    >>> find_material("XPS foam", builtin_materials()).specific_heat
    1450.0
    >>> find_material("6063", builtin_materials())
    Traceback (most recent call last):
    fdm.errors.InputError: there is no material named '6063'; known are 'aluminium 6063-T5', 'aluminium 6063-T6'
    >>> find_material("EPDM rubber", builtin_materials())
    Traceback (most recent call last):
    fdm.errors.InputError: there is no material named 'EPDM rubber'; did you mean 'EPDM'?
    """
    if name in known:
        return known[name]
    containing = [k for k in known if name.lower() in k.lower()]
    contained = [k for k in known if f" {k.lower()} " in f" {name.lower()} "]
    family = [k for k in containing if re.match(re.escape(name) + "[^a-z0-9]", k, re.IGNORECASE)]  # of several kinds
    exact = name.lower() in map(str.lower, containing)
    meant = listed(family) if len(family) > 1 and not exact else nearest(name, containing or known)
    if contained and not containing:
        meant = f"did you mean {max(contained, key=len)!r}?"
    elif not containing and meant.startswith("known"):  # a list of them all would not help
        told = [repr(m.name) for m in search_materials(name)]
        meant = (
            f"fdm materials finds it at {', '.join(told)}"
            if 0 < len(told) <= MOST_TOLD
            else f'fdm materials lists those of the built-in table; describe others in [material."{name}"]'
        )
    raise InputError(f"there is no material named {name!r}; {meant}")


def search_materials(word: str) -> list[Material]:
    """Built-in materials whose name contains the word, or whose source has it as a whole word, whatever its case, in
    the order of the table.

    >>> [m.name for m in search_materials("plasterb")]
    ['plasterboard', 'plasterboard, 700 kg/m3']
    """
    whole = re.compile(rf"(?<!\w){re.escape(word)}(?!\w)", re.IGNORECASE)
    return [m for m in builtin_materials().values() if word.lower() in m.name.lower() or whole.search(m.source)]
