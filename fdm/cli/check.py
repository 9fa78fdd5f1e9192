"""fdm check: read a section file, draw its parts, and say what would be solved."""

import argparse
from typing import TYPE_CHECKING

from fdm.cli.console import folder_of, named, warn
from fdm.cli.words import add_file
from fdm.errors import visible

if TYPE_CHECKING:
    from fdm.cli.words import Commands


def add_to(commands: "Commands") -> None:
    check = commands.add_parser("check", help="read a section file, draw its parts, and say what would be solved")
    add_file(check, "section file (TOML)")
    check.add_argument("--no-files", action="store_true", help="report only; draw nothing")
    check.set_defaults(run=run)


def run(asked: argparse.Namespace) -> None:
    from fdm.section.reader import read_section
    from fdm.solving.check import check_section

    section = read_section(asked.file, **dict(asked.let))
    with named(asked.file):
        report = check_section(section)
    warn(asked, report.warnings)
    if not asked.quiet:
        print(report.text, flush=True)
    if not asked.no_files:
        from fdm.output.drawing.section import draw_parts

        folder = folder_of(asked)
        draw_parts(section, folder / "parts.png")
        if not asked.quiet:
            print(visible(f"Drawn to {folder / 'parts.png'}"))
