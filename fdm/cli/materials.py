"""fdm materials: list the built-in materials."""

import argparse
from typing import TYPE_CHECKING

from fdm.cli.words import add_command
from fdm.errors import InputError

if TYPE_CHECKING:
    from fdm.cli.words import Commands


def add_to(commands: "Commands") -> None:
    examples = {
        "materials": "all of them",
        "materials aluminium --sources": "those with aluminium in their names, and where their numbers come from",
    }
    materials = add_command(commands, "materials", "list the built-in materials", examples)
    materials.add_argument("word", nargs="?", default="", metavar="WORD", help="only those with WORD in name or source")
    materials.add_argument("--sources", action="store_true", help="say where the numbers come from, too")
    materials.set_defaults(run=run)


def run(asked: argparse.Namespace) -> None:
    from rich.console import Console

    from fdm.cli.console import PLAIN
    from fdm.output.tables.section import print_materials
    from fdm.section.materials import search_materials

    found = search_materials(asked.word)
    if not found:
        raise InputError(
            f"materials: none has {asked.word!r} in its name or source; try a shorter word, or none to list all"
        )
    print_materials(found, Console(**PLAIN), asked.sources)
