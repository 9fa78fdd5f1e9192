"""fdm film: a film coefficient from what a builder has: dimensions, a speed or a fan, temperatures."""

import argparse
import textwrap
import tomllib
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from fdm.cli.words import add_json, override
from fdm.errors import InputError, nearest, visible

if TYPE_CHECKING:
    from fdm.cli.words import Commands
    from fdm.section.tables import Table

AROUND = ("temperature", "altitude", "unit")  # words that in a file belong to the environment and to the top
AROUND_WORDS = {
    "temperature": "of the air, degC (25); between fins, of the air that enters",
    "altitude": "m above the sea (0)",
    "unit": "of every length: mm (if left out), cm or m",
}
EXAMPLES = """examples:
  fdm film still face=vertical height=300 warmer=20 emissivity=0.9
  fdm film still gap=8 thickness=2 height=30 length=100 width=100 surface=60 emissivity=0.85
  fdm film channels pitch=4 thickness=1 height=30 length=100 width=100 speed=3
  fdm film channels count=25 thickness=1 height=30 length=100 width=100 conductivity=200 \\
      fan.free_flow=75 fan.shut_off=55 --out sink
  fdm film channels count=25 thickness=1 height=30 length=100 width=100 fan.curve='[[0, 55], [35, 30], [75, 0]]'
  fdm film plate length=100 speed=3
  fdm film indoor heat=up
In a section file the same is film = { flow = "channels", pitch = 4, .. }, in an [[environment]]."""


def add_to(commands: "Commands") -> None:
    film = commands.add_parser(
        "film",
        help="a film coefficient from dimensions, a speed or a fan, and temperatures; list what it knows without words",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    film.add_argument("flow", nargs="?", metavar="FLOW", help="still, gap, channels, impinging, plate, indoor, outdoor")
    film.add_argument("let", nargs="*", type=override, metavar="NAME=VALUE", help="as in a file; lengths in mm")
    add_json(film)
    film.add_argument("--out", metavar="FOLDER", help="draw film.png, and write result.json, into this folder")
    film.set_defaults(run=run)


def run(asked: argparse.Namespace) -> None:
    from rich.console import Console

    from fdm.cli.console import PLAIN, made_folder
    from fdm.output.export.json_file import write_json
    from fdm.output.tables.film import print_film
    from fdm.section.films import FLOW_WORDS, effects, film_in, read_film
    from fdm.solving.plausible import implausible_temperature
    from fdm.surroundings.film import film_dict
    from fdm.surroundings.questions import curve_of

    if asked.flow is None:
        print(_all_keys())
        return
    if asked.flow not in FLOW_WORDS:
        raise InputError(f"film: {asked.flow!r} is no kind of flow; {nearest(asked.flow, FLOW_WORDS)}")
    words = _table(asked.flow, asked.let)
    table, temperature, altitude = _around(words)
    found = film_in(table, temperature, altitude)
    kelvins = (
        *implausible_temperature("temperature", temperature),
        *implausible_temperature("surface", found.surface or 0.0),
    )
    found = replace(found, notes=(*kelvins, *found.notes))
    by_inputs = effects(lambda moved: film_in(*_around(_table(asked.flow, asked.let, moved))), table.uncertain)
    result = film_dict(found) | ({"by_inputs": by_inputs} if by_inputs else {})
    if asked.json:
        write_json(result, asked.json)
    title = visible(f"{asked.flow}: {', '.join(f'{key} = {value}' for key, value in asked.let)}".rstrip(": "))
    if asked.json != "-":
        print_film(found, title, by_inputs, Console(**PLAIN))
    if asked.out:
        folder = made_folder(asked.out)
        curve = curve_of(*read_film(table, temperature, altitude))
        if curve is not None:
            from fdm.output.drawing.film import draw_film

            draw_film(found, curve, title, folder / "film.png")
        write_json(result, folder / "result.json")
        if asked.json != "-":
            written = "result.json" if curve is None else "film.png result.json"
            print(visible(f"Written to {folder}: {written}"))


def _table(flow: str, words: "list[tuple[str, str]]", moved: Mapping[str, float] | None = None) -> "Table":
    """The words as the table of a film, with those around it."""
    from fdm.section.films import FLOWS, SURFACE
    from fdm.section.pieces import UNITS
    from fdm.section.tables import Table, refuse_unknown

    values: dict[str, object] = {}
    for key, text in words:
        inside = values
        *outer, last = key.split(".")
        for name in outer:
            next_inside = inside.setdefault(name, {})
            if not isinstance(next_inside, dict):
                raise InputError(f"film, {key}: {name} is given as a number, too; give one of them")
            inside = next_inside
        if last in inside:
            raise InputError(f"film, {key}: given twice; give it once")
        inside[last] = _value(text)
    refuse_unknown("film", values, (*FLOWS[flow], *SURFACE, *AROUND))
    unit = str(values.pop("unit", "mm"))
    if unit not in UNITS:
        raise InputError(f"film, unit: {unit!r} is not a unit of length; {nearest(unit, UNITS)}")
    return Table("film", {"flow": flow, **values}, {}, UNITS[unit], moved or {})


def _around(words: "Table") -> "tuple[Table, float, float]":
    """The film's own table, the temperature of the air and the altitude."""
    temperature, altitude = (
        25.0 if (given := words.optional(words.number, "temperature")) is None else given,
        words.optional(words.number, "altitude") or 0.0,
    )
    own = {key: value for key, value in words.values.items() if key not in AROUND}
    return replace(words, values=own), temperature, altitude


def _value(text: str) -> object:
    """What a word stands for: as TOML has it, else a text, such as an expression."""
    try:
        return tomllib.loads(f"value = {text}")["value"] if "\n" not in text else text
    except (tomllib.TOMLDecodeError, RecursionError, ValueError):
        return text


def _all_keys() -> str:
    """Every flow with its keys, and what each key means."""
    from fdm.section.films import FLOW_WORDS, FLOWS, KEY_WORDS, SURFACE

    lines = ["fdm film FLOW NAME=VALUE ..., with one of these flows:", ""]
    for flow, keys in FLOWS.items():
        lines += [f"  {flow:10} {FLOW_WORDS[flow]}", *_wrapped(", ".join(keys), 13)]
    lines += ["", f"Each takes besides: {', '.join((*SURFACE, *AROUND))}.", ""]
    for key, meaning in {**KEY_WORDS, **AROUND_WORDS}.items():
        lines += _wrapped(f"{key:16} {meaning}", 2, 19)
    return "\n".join(lines)


def _wrapped(text: str, indent: int, rest: int | None = None) -> list[str]:
    return textwrap.wrap(
        text, 80, initial_indent=" " * indent, subsequent_indent=" " * (indent if rest is None else rest)
    )
