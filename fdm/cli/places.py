"""--place and --between: sensors at other places, terminals at other temperatures and watts; without a new solve."""

import argparse
import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fdm.cli.words import kelvins, terminal_range

if TYPE_CHECKING:  # slow to import
    from rich.console import Console

    from fdm.section.model import Section
    from fdm.solving.placement import Placement
    from fdm.solving.ranges import Between
    from fdm.solving.solution import Solution

LONGEST = 150  # bytes of a name in that of a picture; file systems take 255

Say = Callable[[str], None]


def add_places(solve: argparse.ArgumentParser) -> None:
    solve.add_argument(
        "--place",
        action="append",
        default=[],
        metavar="SENSOR",
        help="say and draw (place_SENSOR.png) what this sensor, or one that should read the air or source of this "
        "name, would misread anywhere. May be given several times",
    )
    solve.add_argument(
        "--within", type=kelvins, metavar="K", help="how much a sensor of --place may misread (left out: 0.5 K)"
    )
    solve.add_argument(
        "--between",
        action="append",
        default=[],
        type=terminal_range,
        metavar="NAME=LOW:HIGH",
        help="say the least and the most of each answer while this temperature (degC) or heat (W) lies anywhere there; "
        "--place shows the worst. May be given several times",
    )


def ill_matched(asked: argparse.Namespace) -> str:
    """What in the words does not go together; empty where all does."""
    if asked.within is not None and not asked.place:
        return "--within belongs to --place SENSOR"
    names = [name for name, _ in asked.between]
    twice = next((name for name in names if names.count(name) > 1), None)
    return "" if twice is None else f"--between: {twice!r} is given twice"


def refuse_places(asked: argparse.Namespace, section: "Section") -> None:
    """Raise InputError for names that the section does not have, before it is solved."""
    if asked.place or asked.between:
        from fdm.solving.placement import wanted_by
        from fdm.solving.ranges import checked_ranges

        checked_ranges(section, dict(asked.between))
        for name in asked.place:
            wanted_by(section, name)


@dataclass(frozen=True)
class Places:
    """What was asked for by --place and --between."""

    placements: "tuple[Placement, ...]"
    between: "Between | None"

    @property
    def warnings(self) -> tuple[str, ...]:
        return self.between.warnings if self.between is not None else ()

    def as_dict(self) -> dict[str, Any]:
        from fdm.output.export.placement import between_dict, placement_dict

        out: dict[str, Any] = {}
        if self.between is not None:
            out["between"] = between_dict(self.between)
        if self.placements:
            out["places"] = {found.sensor: placement_dict(found) for found in self.placements}
        return out

    def draw(self, folder: Path, say: Say) -> list[str]:
        """Write a picture of each; of a plate in layers two. Returns their names."""
        from fdm.output.drawing.placement import draw_placement

        names: list[str] = []
        for found in self.placements:
            for face in found.faces:
                say(f"drawing places for {found.sensor}")
                names.append(_file_name(f"{found.sensor}_{face}" if face == "back" else found.sensor, names))
                draw_placement(found, folder / names[-1], face)
        return names

    def show(self, console: "Console", tables: bool) -> None:
        """Print it: in sentences with the best places, or all in tables."""
        from fdm.output.tables.placement import MOST_ROWS, print_placement
        from fdm.output.tables.ranges import print_between, print_between_in_words

        if self.between is not None:
            console.print()
            (print_between if tables else print_between_in_words)(self.between, console)
        for found in self.placements:
            console.print()
            print_placement(found, console, None if tables else MOST_ROWS)


def places_of(asked: argparse.Namespace, solution: "Solution", say: Say) -> Places:
    """What is asked for. Raises InputError for more ranges than can be looked at."""
    if not asked.place and not asked.between:
        return Places((), None)
    from fdm.solving.placement import WITHIN, placement
    from fdm.solving.ranges import between

    say("other places and temperatures")
    ranges, within = dict(asked.between), asked.within or WITHIN
    placements = tuple(placement(solution, name, within, ranges) for name in dict.fromkeys(asked.place))
    return Places(placements, between(solution, ranges) if ranges else None)


def _file_name(name: str, taken: list[str]) -> str:
    """place_NAME.png, with marks as _, and a number where another picture is called so."""
    stem = re.sub(r"[^\w.-]+", "_", f"place_{name}").encode()[:LONGEST].decode("utf-8", "ignore")
    number = 1
    while (file := f"{stem}{f'_{number}' if number > 1 else ''}.png") in taken:
        number += 1
    return file
