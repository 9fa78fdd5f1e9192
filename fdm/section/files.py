"""Files: read within limits, and written whole or not at all."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fdm.errors import InputError

LARGEST_FILE = 2_000_000  # bytes


def read_text(path: str, what: str, shorten: str, save_as: str = "UTF-8") -> str:
    """The text of a file in UTF-8, with or without a byte order mark.

    Raises InputError (without the path) where it cannot be read, is larger than `LARGEST_FILE` or is not UTF-8. The
    messages call the file `what`, and say how to `shorten` it and in which format to save it (`save_as`).
    """
    try:
        with open(path, "rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:  # ValueError: a path with a null character
        reason = (isinstance(error, OSError) and error.strerror) or error
        raise InputError(f"cannot be read: {reason}; give the path of a {what}") from None
    if len(content) > LARGEST_FILE:
        raise InputError(f"is larger than {LARGEST_FILE} bytes; {shorten}")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"is not UTF-8 text (byte {error.start}); save it as {save_as}") from None


@contextmanager
def written_beside(path: str | Path) -> Iterator[Path]:
    """A temporary path beside `path`, with the same suffix, for the block to write to.

    When the block ends without an error, the temporary file replaces `path`; otherwise it is removed, and `path` stays
    as it was. Raises InputError where the folder does not exist, `path` is a folder, or the file cannot be written.
    """
    path = Path(path)
    if path.is_dir():
        raise InputError(f"cannot write {str(path)!r}: it is a folder; give the name of a file")
    if not path.parent.is_dir():
        raise InputError(f"cannot write {str(path)!r}: there is no folder {str(path.parent)!r}; make it first")
    temporary = path.with_name(f".{path.stem}.{os.getpid()}{path.suffix}")
    try:
        yield temporary
        os.replace(temporary, path)
    except OSError as error:
        raise InputError(f"cannot write {str(path)!r}: {error.strerror or error}") from error
    finally:
        temporary.unlink(missing_ok=True)
