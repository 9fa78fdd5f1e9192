"""fdm check: read a section or cabinet file, draw its parts, and say what would be solved and what is doubtful."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from fdm.cli.console import consoles, folder_of, named, warn
from fdm.cli.words import add_command, add_file
from fdm.errors import InputError, visible

if TYPE_CHECKING:
    from fdm.cli.words import Commands
    from fdm.section.model import Section


def add_to(commands: "Commands") -> None:
    examples = {
        "check wall_module.toml": "draws its parts to wall_module/parts.png; solves nothing",
        "check bulb_cabinet.toml --no-files": "says only, of the cabinet and all of its sections",
    }
    check = add_command(
        commands,
        "check",
        "draw the parts of a section or cabinet file, and say what would be solved and what is doubtful",
        examples,
    )
    add_file(check, "section or cabinet file (TOML)")
    check.add_argument("--no-files", action="store_true", help="say it only, and draw nothing")
    check.add_argument(
        "--section",
        metavar="FILE.toml",
        help="write the section that is made of a [bolt] as a file, to draw more into it",
    )
    check.set_defaults(run=run)


def run(asked: argparse.Namespace) -> None:
    from fdm.cabinet.reader import is_cabinet
    from fdm.output.tables.sentences import print_sentences

    cabinet = is_cabinet(asked.file)
    if cabinet and asked.section:
        raise InputError("--section: this file is a cabinet; it is for files with a [bolt]")
    text, warnings, pictures = _cabinet(asked) if cabinet else _section(asked)
    warn(asked, warnings)
    if not asked.quiet:
        print_sentences(map(visible, text.split("\n")), consoles(asked)[0])
    if pictures and not asked.no_files:
        from fdm.output.drawing.section import draw_parts

        folder = folder_of(asked)
        for name, section in pictures.items():
            draw_parts(section, folder / name)
        if not asked.quiet:
            print(visible(f"Drawn to {folder}: {' '.join(pictures)}"))


def _section(asked: argparse.Namespace) -> "tuple[str, tuple[str, ...], dict[str, Section]]":
    """What to print, the warnings, and what to draw by the name of the file."""
    from fdm.section.reader import read_section
    from fdm.solving.check import check_section

    section = read_section(asked.file, **dict(asked.let))
    with named(asked.file):
        check = check_section(section)
        if asked.section:
            _write_section(asked, section)
    return check.text, check.warnings, {"parts.png": section}


def _write_section(asked: argparse.Namespace, section: "Section") -> None:
    from fdm.output.export.section_file import write_section
    from fdm.section.tables import read_document

    if "bolt" not in read_document(asked.file):
        raise InputError("--section: this file is a drawing already; it is for files with a [bolt]")
    if Path(asked.section).is_file():  # it may have been drawn on
        raise InputError(f"--section: {asked.section} exists already; name another file")
    write_section(section, asked.section)
    if not asked.quiet:
        print(visible(f"Written to {asked.section}: a drawing of the same, without named numbers"))


def _cabinet(asked: argparse.Namespace) -> "tuple[str, tuple[str, ...], dict[str, Section]]":
    """The same of a cabinet and all of its sections."""
    from fdm.cabinet.quantities import section_names
    from fdm.cabinet.reader import read_cabinet
    from fdm.cabinet.unsolved import check_cabinet

    cabinet = read_cabinet(asked.file, **dict(asked.let))
    with named(asked.file):
        check = check_cabinet(cabinet)
    names = (name.replace("/", "-") for name in section_names(check.sections))
    return check.text, check.warnings, {f"{name}.png": file.section for name, file in zip(names, check.sections)}
