"""What the user is told when the input is at fault, of whatever type it is."""

import os
import unicodedata
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from difflib import get_close_matches
from functools import cache, wraps
from inspect import signature
from numbers import Real
from types import NoneType, UnionType
from typing import Any, ParamSpec, TypeGuard, TypeVar, Union, get_args, get_origin, get_type_hints

HIDDEN = ("Cc", "Cf", "Cs", "Zl", "Zp")  # Unicode's categories: control, format, surrogate, line and paragraph ends
SHORT = 3  # letters, at least, from which one known name alone is guessed
LONGEST_ROW = 40  # characters of a tuple or list that messages give as it is
JOINERS = "\u200c\u200d"  # of category Cf, but some scripts need them to spell words

P = ParamSpec("P")
R = TypeVar("R")


class InputError(ValueError):
    """The input is at fault, in its value or its type; the message is one sentence that says what, where, and what
    would be right."""


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
    >>> nearest("temp", ["film", "temperature"])
    "did you mean 'temperature'?"
    >>> nearest("x", ["left", "right"])
    "known are 'left', 'right'"
    """
    known = sorted(known)
    close = get_close_matches(name.lower(), [k.lower() for k in known], 1, 0.65)
    begun = [k.lower() for k in known if len(name) >= SHORT and k.lower().startswith(name.lower())]
    close = close or (begun if len(begun) == 1 else [])
    if close:
        return f"did you mean {next(k for k in known if k.lower() == close[0])!r}?"
    return listed(known)


def listed(known: Iterable[str]) -> str:
    """A clause that lists the known names.

    >>> listed(["right", "left"])
    "known are 'left', 'right'"
    """
    known = sorted(known)
    if not known:
        return "there are none"
    return "known are " + ", ".join(map(repr, known[:12])) + (", ..." if len(known) > 12 else "")


def what_is(value: object) -> str:
    """What a message calls a value of the wrong type.

    >>> what_is("bolt"), what_is(3), what_is([3])
    ("'bolt'", '3', 'a list')
    """
    if value is None or isinstance(value, (str, bool, int, float)):
        return repr(value)
    return _a(type(value).__name__)


def _a(name: str) -> str:
    return f"{'an' if name[0] in 'AEIOaeio' else 'a'} {name}"


def path_of(given: object, where: str, what: str) -> str:
    """The path as text. Raises InputError, which begins with `where`, where it is none; `what` says of which file.

    >>> path_of("wall.toml", "read_section", "section file")
    'wall.toml'
    """
    if not isinstance(given, (str, os.PathLike)) or not os.fsdecode(given):
        raise InputError(f"{where}: {what_is(given)} is no path; give that of a {what}")
    return os.fsdecode(given)


def require_by_name(where: str, given: object, example: str) -> None:
    """Raise InputError, which begins with `where`, for what is no mapping by name."""
    if not isinstance(given, Mapping):
        raise InputError(f"{where}: {what_is(given)} is no mapping; give such as {example}")
    for name in given:
        if not isinstance(name, str):
            raise InputError(f"{where}: {what_is(name)} is no name; give such as {example}")


def texts_of(given: object, where: str, example: str) -> tuple[str, ...]:
    """The texts in a list; one text stands for itself. Raises InputError for what is none.

    >>> texts_of("network", "answers", "'network'"), texts_of(["network", "sensors"], "answers", "'network'")
    (('network',), ('network', 'sensors'))
    """
    texts = (given,) if isinstance(given, str) else tuple(given) if isinstance(given, Iterable) else (given,)
    for text in texts:
        if not isinstance(text, str):
            raise InputError(f"{where}: {what_is(text)} is no text; give such as {example}, or a list of these")
    return texts


def is_number(value: object) -> TypeGuard[float]:
    """Whether it is a real number, of Python or numpy; True and False are none."""
    return isinstance(value, Real) and not isinstance(value, bool)


def require_types(made: Any) -> None:
    """Raise InputError for the first field of a dataclass whose value is not of the type that its annotation says.
    Lists and arrays pass for tuples, whole numbers for others, and numpy's numbers for Python's."""
    kind, name = type(made).__name__.lower(), vars(made).get("name")
    where = f"{kind} {name!r}, " if name and isinstance(name, str) else f"{kind}, "
    _require_fitting("" if kind == "section" else where, vars(made), made.__class__)


def checked(function: Callable[P, R]) -> Callable[P, R]:
    """The function, which raises InputError for an argument that is not of the type that its annotation says."""
    arguments = signature(function)

    @wraps(function)
    def call(*args: P.args, **named: P.kwargs) -> R:
        _require_fitting(f"{function.__name__}, ", arguments.bind(*args, **named).arguments, function)
        return function(*args, **named)

    return call


def _require_fitting(where: str, values: Mapping[str, Any], annotated: Hashable) -> None:
    for name, (fits, wanted) in _annotations(annotated).items():
        if name in values and not fits(value := values[name]):
            row = isinstance(value, (tuple, list)) and len(repr(value)) <= LONGEST_ROW
            raise InputError(f"{where}{name}: {repr(value) if row else what_is(value)} is not {wanted}")


@cache
def _annotations(of: Any) -> dict[str, tuple[Callable[[Any], bool], str]]:
    """By the name of each field or argument, what tells whether a value fits, and in words what would."""
    return {name: _what_fits(hint) for name, hint in get_type_hints(of).items()}


def _what_fits(hint: Any) -> tuple[Callable[[Any], bool], str]:
    origin, inside = get_origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        some, words = zip(*map(_what_fits, inside))
        return lambda v: any(fits(v) for fits in some), f"{', '.join(words[:-1])} or {words[-1]}"
    if origin is tuple and inside[-1] is ...:
        one, word = _what_fits(inside[0])
        return lambda v: _is_row(v) and all(map(one, v)), f"({word}, ..)"
    if origin is tuple:
        each, words = zip(*map(_what_fits, inside))
        return (
            lambda v: _is_row(v) and len(v) == len(each) and all(f(x) for f, x in zip(each, v)),
            f"({', '.join(words)})",
        )
    known: dict[Any, tuple[Callable[[Any], bool], str]] = {
        float: (is_number, "a number"),
        int: (lambda v: is_number(v) and v == v // 1, "a whole number"),
        bool: (lambda v: type(v).__name__ in ("bool", "bool_"), "True or False"),
        str: (lambda v: isinstance(v, str), "a text"),
        NoneType: (lambda v: v is None, "None"),
    }
    kind = origin or hint
    return known.get(kind) or (lambda v: isinstance(v, kind), _a(kind.__name__))


def _is_row(value: object) -> bool:
    return hasattr(value, "dtype") or (isinstance(value, Sequence) and not isinstance(value, (str, bytes)))


def require_share(name: str, value: object) -> None:
    """Raise InputError for what is no number between 0 and 1."""
    if not is_number(value) or not 0 < value < 1:
        raise InputError(f"{name}: {what_is(value)} is not a share between 0 and 1, such as 0.005 for 0.5 %")


def require_count(name: str, value: object, of: str) -> None:
    """Raise InputError for what is no whole number of 1 or more."""
    if not is_number(value) or not (value >= 1 and value == value // 1):
        raise InputError(f"{name}: {what_is(value)} is no number of {of}; give 1 or more")


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
