"""Writing a file whole or not at all."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fdm.errors import InputError


@contextmanager
def written_beside(path: str | Path) -> Iterator[Path]:
    """A temporary path beside `path`, with the same suffix; takes the place of `path` when the block ends well, and is
    removed when it does not. What was at `path` before stays until then.

    Raises InputError where the folder does not exist, `path` is a folder, or the file cannot be written there.
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
