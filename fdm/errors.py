"""What the user is told when the input is at fault."""

import unicodedata
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from difflib import get_close_matches

HIDDEN = ("Cc", "Cf", "Cs", "Zl", "Zp")  # Unicode's categories: control, format, surrogate, line and paragraph ends
JOINERS = "\u200c\u200d"  # of category Cf, but some scripts need them to spell words


class InputError(ValueError):
    """The input is at fault; the message is one sentence that says what, where, and what would be right."""


class FailedChecks(InputError):
    """The input could be read, but the answers failed their own checks, or no design of a study could be solved; the
    message says why, and where to look."""


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


def hidden_in(text: str) -> list[str]:
    """The characters of a text that show nothing themselves and may change how the rest is shown: control characters,
    line breaks, changes of the direction of writing, and bytes of a file name that are no text.

    >>> hidden_in("Luft 7 °C"), hidden_in("air\\x1b[2J")
    ([], ['\\x1b'])
    """
    return [c for c in text if unicodedata.category(c) in HIDDEN and c not in JOINERS]


def visible(text: str) -> str:
    """The text with an escape in place of each hidden character.

    >>> visible("air\\x1b[2J")
    'air\\\\x1b[2J'
    """
    hidden = set(hidden_in(text))
    return "".join(c.encode("unicode_escape").decode() if c in hidden else c for c in text)


def require_visible(where: str, text: str) -> None:
    """Raise InputError, which begins with `where`, for a text with hidden characters."""
    if found := hidden_in(text):
        raise InputError(f"{where}: holds the hidden character U+{ord(found[0]):04X}; leave it out")
