"""Files: read within limits, and written whole or not at all."""

import csv
import os
import secrets
import shutil
import stat
import sys
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import BinaryIO

from fdm.errors import InputError, nearest

LARGEST_FILE = 2_000_000  # bytes
FORMULA = ("=", "+", "-", "@")  # a spreadsheet computes what begins with these


def read_text(path: str, what: str, shorten: str, save_as: str = "UTF-8") -> str:
    """The text of a file in UTF-8, with or without a byte order mark.

    Raises InputError (without the path) where it cannot be read, is no regular file, is larger than `LARGEST_FILE` or
    is not UTF-8. The messages call the file `what`, and say how to `shorten` it and in which format to save it
    (`save_as`).
    """
    try:
        with open(path, "rb", opener=_without_waiting) as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise InputError(f"is a pipe or a device, which cannot be read twice; save it as a {what}")
            content = file.read(LARGEST_FILE + 1)
    except InputError:
        raise
    except (OSError, ValueError) as error:  # ValueError: a path with a null character
        reason = (isinstance(error, OSError) and error.strerror) or error
        raise InputError(f"cannot be read: {reason}; give the path of a {what}{_nearby(path)}") from None
    if len(content) > LARGEST_FILE:
        raise InputError(f"is larger than {LARGEST_FILE} bytes; {shorten}")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"is not UTF-8 text (byte {error.start}); save it as {save_as}") from None


def _nearby(path: str) -> str:
    """A clause that names the file with the nearest name in the same folder; empty where none is near."""
    folder, name = os.path.split(path)
    with suppress(OSError, ValueError):
        files = [other for other in os.listdir(folder or ".") if other.endswith((".toml", ".csv")) and other != name]
        meant = nearest(name, files)
        return f"; {meant}" if meant.startswith("did you mean") else ""
    return ""


def _without_waiting(path: str, flags: int) -> int:
    """Opens a pipe even where nobody writes to it."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


@contextmanager
def written_beside(path: str | Path) -> Iterator[Path]:
    """A temporary path, with the same suffix, for the block to write to.

    When the block ends without an error, the temporary file, which lies beside `path`, replaces it. Otherwise it is
    removed, and `path` stays as it was. A link stays a link: the file that it points to is replaced. A device or a pipe
    is not replaced, but is given the content when the block has ended.

    Raises InputError where the folder does not exist, `path` is a folder, or the file cannot be written.
    """
    path = Path(path)
    try:
        kind = path.stat()
    except (FileNotFoundError, NotADirectoryError):
        kind = None
    except (OSError, ValueError) as error:
        raise _unwritable(path, error) from None
    if kind is not None and stat.S_ISDIR(kind.st_mode):
        raise InputError(f"cannot write {str(path)!r}: it is a folder; give the name of a file")
    if not path.parent.is_dir():
        raise InputError(f"cannot write {str(path)!r}: there is no folder {str(path.parent)!r}; make it first")
    try:
        if kind is None or (stat.S_ISREG(kind.st_mode) and _output_like(kind) is None):
            with _replacing(Path(os.path.realpath(path))) as temporary:
                yield temporary
        else:
            with TemporaryDirectory(ignore_cleanup_errors=True) as folder:
                temporary = Path(folder) / f"output{path.suffix}"
                yield temporary
                with open(temporary, "rb") as content, _opened(path, kind) as out:
                    shutil.copyfileobj(content, out)
    except OSError as error:
        raise _unwritable(path, error) from error


def _unwritable(path: Path, error: OSError | ValueError) -> InputError:
    reason = (isinstance(error, OSError) and error.strerror) or error
    return InputError(f"cannot write {str(path)!r}: {reason}")


@contextmanager
def _replacing(target: Path) -> Iterator[Path]:
    # by a name that nobody can guess, and that must not exist: it leads through no link
    temporary = target.with_name(f".{secrets.token_hex(8)}{target.suffix}")
    os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
    try:
        yield temporary
        with suppress(FileNotFoundError):
            shutil.copymode(target, temporary)
        os.replace(temporary, target)
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


def _output_like(kind: os.stat_result) -> int | None:
    """Standard output or standard error, where it is this very file."""
    for number in (1, 2):
        with suppress(OSError):
            if os.path.samestat(os.fstat(number), kind):
                return number
    return None


def _opened(path: Path, kind: os.stat_result) -> BinaryIO:
    """A device or a pipe, to write to; standard output goes on from where it is."""
    if (number := _output_like(kind)) is None:
        return open(path, "wb")
    if sys.stdout is not None:
        sys.stdout.flush()
    return open(os.dup(number), "wb")


def write_csv(path: str | Path, rows: Iterable[Sequence[object]]) -> None:
    """Write rows of numbers and texts as CSV. A text that a spreadsheet would take for a formula gets an apostrophe
    before it. Raises InputError where it cannot be written."""
    with (
        written_beside(path) as temporary,
        open(temporary, "w", newline="", encoding="utf-8", errors="backslashreplace") as file,
    ):
        csv.writer(file, lineterminator="\n").writerows([_cell(value) for value in row] for row in rows)


def _cell(value: object) -> object:
    if not isinstance(value, str) or not unicodedata.normalize("NFKC", value[:1]).startswith(FORMULA):
        return value
    try:
        float(value)
    except ValueError:
        return f"'{value}"
    return value
