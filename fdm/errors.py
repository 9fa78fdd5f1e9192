"""What the user is told when the input is at fault."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from difflib import get_close_matches


class InputError(ValueError):
    """The input is at fault; the message is one sentence that says what, where, and what would be right."""


class FailedChecks(InputError):
    """The input could be read, but the answers failed their own checks; the message says which, by how much, and where
    to look."""


@contextmanager
def in_file(path: str) -> Iterator[None]:
    """Puts the file's path before the message of an InputError raised inside."""
    try:
        yield
    except InputError as error:
        raise InputError(f"{path}: {error}") from error


def nearest(name: str, known: Iterable[str]) -> str:
    """A clause that names the nearest known name, or lists the known ones.

    >>> nearest("aluminum", ["aluminium", "copper"])
    "did you mean 'aluminium'?"
    >>> nearest("x", ["left", "right"])
    "known are 'left', 'right'"
    """
    known = sorted(known)
    close = get_close_matches(name.lower(), [k.lower() for k in known], 1, 0.6)
    if close:
        return f"did you mean {next(k for k in known if k.lower() == close[0])!r}?"
    if not known:
        return "there are none"
    return "known are " + ", ".join(map(repr, known[:12])) + (", ..." if len(known) > 12 else "")
