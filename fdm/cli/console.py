"""Where commands print and write, and how they name the file in a fault."""

import argparse
import re
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fdm.errors import InputError, visible

if TYPE_CHECKING:  # slow to import
    from rich.console import Console


LONGEST = 150  # characters that changed numbers add to a folder's name; file systems take 255 bytes

# names stand as they are: rich would take [these] for its markup and :this: for a picture
PLAIN: dict[str, Any] = {"soft_wrap": False, "markup": False, "emoji": False, "highlight": False}


def consoles(asked: argparse.Namespace) -> "tuple[Console, Console]":
    """One for answers, on standard output, and one for progress, on standard error."""
    from rich.console import Console

    return Console(**PLAIN), Console(stderr=True, quiet=asked.quiet, **PLAIN)


@contextmanager
def saying(progress: "Console") -> Iterator[Callable[[str], None]]:
    """A function to be called with what is being done."""
    from rich.text import Text

    with progress.status("reading") as status:
        yield lambda text: status.update(Text(visible(text)))


def prints_tables(asked: argparse.Namespace) -> bool:
    """Whether tables are printed: not where JSON goes to the output, nor with --quiet where files are written."""
    return asked.json != "-" and (asked.no_files or not asked.quiet)


@contextmanager
def named(file: str) -> Iterator[None]:
    """Puts the file's name before what is wrong with its content."""
    try:
        yield
    except InputError as fault:
        raise InputError(f"{file}: {fault}" if not str(fault).startswith(file) else str(fault)) from None
    except ArithmeticError as fault:
        raise InputError(f"{file}: {fault}") from None


def warn(asked: argparse.Namespace, warnings: Sequence[str]) -> None:
    """Each on a line of its own; on a terminal, on lines that end between words."""
    for warning in warnings:
        line = visible(f"fdm: {asked.file}: warning: {warning}")
        if sys.stderr.isatty():
            from fdm.output.tables.sentences import wrapped

            line = wrapped(line, shutil.get_terminal_size().columns)
        print(line, file=sys.stderr)


def folder_of(asked: argparse.Namespace) -> Path:
    """The folder to write to, made where it is missing: named like the file, and like the numbers that are changed, so
    that the file's own numbers stay. Raises InputError where it is a file."""
    changed = "".join(f"-{key}={value}" for key, value in asked.let)
    return made_folder(asked.out or Path(asked.file).stem + re.sub(r"[^\w.=+-]+", "_", changed)[:LONGEST])


def made_folder(name: str) -> Path:
    """The folder of that name, made where it is missing. Raises InputError where it is a file."""
    folder = Path(name)
    if folder.exists() and not folder.is_dir():
        raise InputError(f"--out: {folder} is a file; name a folder")
    folder.mkdir(parents=True, exist_ok=True)
    return folder
