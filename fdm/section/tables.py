"""Tables of a TOML file, read strictly: what is unknown, missing or of the wrong kind is refused, with its place."""

import re
import tomllib
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from fdm.errors import InputError, nearest, visible
from fdm.section.expressions import as_number, kind
from fdm.section.files import read_text
from fdm.section.pieces import UNITS, Material, Uncertain
from fdm.section.uncertain import (
    is_uncertain,
    nominal,
    note,
    note_usual,
    resolve_let,
    stated_names,
    states_own,
    table_spreads,
)

QUOTED = re.compile(r"\"[^\"]*\"|'[^']*'|#.*")  # texts and comments of a line of TOML
VALUE = re.compile(r"[=\[,]\s*((?:[^\s\"'=\[\]{},()]|\([^()]*\))(?:[^\"'=\[\]{},()]|\([^()]*\))*)(?=[\]},]|$)")
COMMA = re.compile(r"=\s*[+-]?\d+,\d+")  # 7,5 as a value
LETTERS = re.compile(r"(?:^|[{,.\[])\s*(?=\w*[^\x00-\x7f])(\w+)\s*[=.\]]")  # a name that TOML wants in quotes
NUMBER = re.compile(r"(?i:true|false)|[+-]?(inf|nan|[\d_.]+([eE][+-]?\d+)?)")
LONGEST_SHOWN = 60  # letters of what a file has
LONGEST_LENGTH = 1e6  # m; a larger one is surely a slip
COUNTS = {2: "two", 3: "three"}
OF_FILE = (  # keys that stand before any [table], where they are not tables themselves
    *("title", "unit", "view", "depth", "altitude", "down", "let", "border", "joint", "sensor", "spreading", "bridge"),
)

T = TypeVar("T")


def read_document(path: str, what: str = "section file") -> dict[str, object]:
    """The tables of a TOML file. Raises InputError (without the path) where it cannot be read; the messages call the
    file `what`."""
    return document_in(document_text(path, what), what)


def document_text(path: str, what: str = "section file") -> str:
    return read_text(path, what, f"a {what} is a short text").replace("\r\n", "\n")


def document_in(text: str, what: str = "section file") -> dict[str, object]:
    """The tables of the text of a TOML file; errors as those of `read_document`."""
    try:
        return _parsed(text)
    except RecursionError:
        raise InputError(f"not valid TOML: nested too deeply; see the {what}'s format") from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"not valid TOML: {error}{_unquoted(text, str(error))}") from None
    except ValueError:
        raise InputError("holds a whole number of too many digits; give numbers of a sensible size") from None


def _unquoted(text: str, error: str) -> str:
    """What to do about a text or an expression that stands without quotes in the line of an error; empty: none does."""
    at = re.search(r"at line (\d+)", error)
    if at is None:
        return ""
    line = QUOTED.sub(lambda found: " " * len(found[0]), text.split("\n")[int(at[1]) - 1])
    if re.search("[“”„‟«»‘’‚]", line):
        return "; quotes are straight, \" or '"
    if COMMA.search(line):
        return "; decimals take a point, as in 7.5"
    if found := LETTERS.search(line):
        return f'; put names with other letters than a to z in quotes: "{visible(found[1])}" = ..'
    for value in () if line.lstrip().startswith("[") else map(str.strip, VALUE.findall(line)):
        if not NUMBER.fullmatch(value):
            shown = visible(value) if len(value) <= LONGEST_SHOWN else "what stands there"
            return f"; {shown} is no number: put texts and expressions in quotes, and leave units out"
    return ""


@lru_cache(maxsize=8)  # files are read again and again with other numbers; no reader changes the document
def _parsed(text: str) -> dict[str, object]:
    return tomllib.loads(text)


@dataclass(frozen=True)
class Table:
    """A table of a file: its place in the file, its values, the file's named numbers, and its unit of length (m).

    `moved` says, by place, by how much numbers with an uncertainty differ from their nominal values. Reading such a
    number puts it into `uncertain`, which all tables of a file share. `stated` are the names of [let] of which the file
    says how uncertain they are, or of which they are made.

    Every reading method raises InputError, with the place, where the key is missing or its value cannot be read.
    """

    where: str
    values: dict[str, object]
    let: Mapping[str, float]
    unit: float
    moved: Mapping[str, float] = field(default_factory=dict)
    uncertain: dict[str, Uncertain] = field(default_factory=dict)
    stated: frozenset[str] = frozenset()

    def place(self, key: str) -> str:
        return f"{self.where}, {key}" if self.where else key

    def fault(self, key: str, message: str) -> InputError:
        return InputError(f"{self.place(key)}: {message}")

    @contextmanager
    def at(self, key: str) -> Iterator[None]:
        """Puts the place before the message of an InputError raised inside."""
        try:
            yield
        except InputError as error:
            raise self.fault(key, str(error)) from None

    def value(self, key: str, type_: type[T], wanted: str) -> T:
        if key not in self.values:
            raise self.fault(key, f"missing; give {wanted}")
        value = self.values[key]
        if not isinstance(value, type_):
            raise self.fault(key, f"is {kind(value)}; give {wanted}")
        return value

    def optional(self, read: Callable[[str], T], key: str) -> T | None:
        return read(key) if key in self.values else None

    def one_of(self, *keys: str) -> str:
        given = [key for key in keys if key in self.values]
        if len(given) != 1:
            raise InputError(f"{self.where}: give exactly one of {', '.join(keys[:-1])} and {keys[-1]}")
        return given[0]

    def refuse_given(self, keys: Iterable[str], why: str) -> None:
        """Raises InputError where one of these keys is given, with `why` it is out of place."""
        for key in keys:
            if key in self.values:
                raise self.fault(key, f"{why}; leave it out")

    def text(self, key: str) -> str:
        return self.value(key, str, "a text in quotes")

    def true(self, key: str) -> bool:
        return self.value(key, bool, "true or false")

    def states(self, key: str) -> bool:
        """Whether the file says how uncertain the number at `key` is."""
        with self.at(key):
            return states_own(self.values.get(key), self.stated)

    def number(self, key: str, usual: str = "") -> float:
        """The number at `key`. Where the file does not say how uncertain it is, it gets the `usual` uncertainty, that
        of a row of `usual.csv`; without one it counts as certain."""
        return self._number(key, self.value(key, object, "a number or an expression"), usual)

    def number_or(self, key: str, otherwise: float) -> float:
        """The number at `key`, or another one where it is not given."""
        return self.number(key) if key in self.values else otherwise

    def two_numbers(self, key: str, wanted: str) -> tuple[float, float]:
        """The two numbers of a list, each with a place of its own; `wanted` says what they are."""
        given = self.value(key, list, wanted)
        if len(given) != 2:
            raise self.fault(key, f"holds {len(given)} values; give {wanted}")
        each = replace(self, values={f"{key} {k}": v for k, v in enumerate(given, 1)})
        return each.number(f"{key} 1"), each.number(f"{key} 2")

    def count(self, key: str) -> int:
        """A whole number of 1 or more."""
        count = self.number(key)
        if count < 1 or count != int(count):
            raise self.fault(key, f"{count:g} is not a whole number of 1 or more")
        return int(count)

    def _number(self, key: str, value: object, usual: str = "") -> float:
        place = self.place(key)
        if is_uncertain(value):
            with self.at(key):
                number = as_number(nominal(value), self.let)
                note(self.uncertain, place, number, value, self.let)
            return number + self.moved.get(place, 0.0)
        with self.at(key):
            number = as_number(value, self.let)
            if not usual or states_own(value, self.stated):
                return number
        note_usual(self.uncertain, place, number, usual)
        return number + self.moved.get(place, 0.0)

    def length(self, key: str, usual: str = "") -> float:
        """m, of a size or a distance, which is never below 0."""
        metres = self._length(key, self.value(key, object, "a length"), usual)
        if metres < 0:
            raise self.fault(key, f"{metres / self.unit:.6g} is not a length above 0")
        return metres

    def _length(self, key: str, value: object, usual: str = "") -> float:
        metres = self._number(key, value, usual) * self.unit
        if abs(metres) > LONGEST_LENGTH:
            raise self.fault(key, f"{metres:g} m is too far; give a length of at most {LONGEST_LENGTH:g} m")
        return metres

    def pair(self, key: str) -> tuple[float, float]:
        return self._pair(key, self.value(key, list, "two lengths, [.., ..]"))

    def triple(self, key: str) -> tuple[float, float, float]:
        x, y, z = self._lengths(key, self.value(key, list, "three lengths, [.., .., ..]"), 3)
        return x, y, z

    def pairs(self, key: str) -> tuple[tuple[float, float], ...]:
        points = self.value(key, list, "a list of points, [[x, y], ...]")
        for i, v in enumerate(points, 1):
            if not isinstance(v, list) or len(v) != 2:
                found = f"holds {len(v)} values" if isinstance(v, list) else f"is {kind(v)}"
                raise self.fault(key, f"point {i} {found}; give two numbers for each, [[.., ..], [.., ..], ...]")
        return tuple(self._pair(key, v, f"{key} {i}") for i, v in enumerate(points, 1))

    def _pair(self, key: str, value: object, shown: str = "") -> tuple[float, float]:
        x, y = self._lengths(key, value, 2, shown)
        return x, y

    def _lengths(self, key: str, value: object, count: int, shown: str = "") -> tuple[float, ...]:
        if not isinstance(value, list) or len(value) != count:
            found = f"{len(value)} values" if isinstance(value, list) else kind(value)
            raise self.fault(key, f"holds {found}; give {COUNTS[count]} lengths, [{', '.join(['..'] * count)}]")
        # each number with an uncertainty gets its own place: "x 1", "x 2"
        own = (f"{shown or key} {i}" if is_uncertain(v) else key for i, v in enumerate(value, 1))
        return tuple(self._length(k, v) for k, v in zip(own, value))

    def ends(self, key: str) -> tuple[float, float]:
        """Both ends of a stretch along one axis, or twice the one place on it."""
        if isinstance(self.values.get(key), list):
            return self.pair(key)
        place = self._length(key, self.value(key, object, "a length"))
        return place, place

    def names(self, key: str) -> tuple[str, ...]:
        names = self.value(key, list, "a list of names")
        if not names or not all(isinstance(n, str) for n in names):
            raise self.fault(key, "is not a list of names; give at least one name, each in quotes")
        return tuple(names)

    def one_or_more_names(self, key: str) -> tuple[str, ...]:
        """A name, or a list of names."""
        return (self.text(key),) if isinstance(self.values.get(key), str) else self.names(key)

    def two_names(self, key: str) -> tuple[str, str]:
        if len(names := self.names(key)) != 2:
            raise self.fault(key, f"holds {len(names)} names; give two")
        return names[0], names[1]

    def table(self, key: str, known: tuple[str, ...]) -> "Table":
        wanted = f"{{ {', '.join(f'{k} = ..' for k in known)} }}"
        return self.inner(self.place(key), self.value(key, dict, wanted), known)

    def tables(self, key: str, known: tuple[str, ...]) -> list["Table"]:
        """Each table under [[key]]; inside a table, each of a list of inline ones. None where the key is missing."""
        if key not in self.values:
            return []
        inline = f"{{ {', '.join(f'{k} = ..' for k in known)} }}"
        wanted, each = (
            (f"a list, [{inline}, ...]", inline)
            if self.where
            else (f"[[{key}]], with double brackets", f"a table under [[{key}]]")
        )
        found = []
        for i, value in enumerate(self.value(key, list, wanted), 1):
            if not isinstance(value, dict):
                raise InputError(f"{self.place(key)} {i}: is {kind(value)}; write each as {each}")
            name = value.get("name")
            found.append(self.inner(f"{self.place(key)} {repr(name) if isinstance(name, str) else i}", value, known))
        return found

    def inner(self, where: str, values: dict[str, object], known: tuple[str, ...]) -> "Table":
        """A table inside this one. Raises InputError for a key that is not `known`."""
        refuse_unknown(where, values, known)
        return replace(self, where=where, values=values)


def refuse_unknown(where: str, values: Mapping[str, object], known: tuple[str, ...]) -> None:
    for key in values:
        if key not in known:
            shown = key if key.isidentifier() else repr(key)
            raise InputError(f"{where}{', ' if where else ''}{shown}: unknown key; {_meant(where, key, known)}")


def _meant(where: str, key: str, known: tuple[str, ...]) -> str:
    """What may be meant by an unknown key."""
    if where and key in OF_FILE:
        return f"that of the file stands at its top, above all [tables]; here {nearest('', known)}"
    return nearest(key, known)


def all_uncertain(top: Table, materials: Iterable[Material]) -> tuple[Uncertain, ...]:
    """The numbers read so far that have an uncertainty, their own or the usual one, and the conductivities of the used
    materials whose spread the built-in table states. Raises InputError where `top.moved` names any other."""
    found = {**top.uncertain, **table_spreads(materials)}
    for place in top.moved:
        if place not in found:
            raise InputError(f"{place}: there is no number with an uncertainty; {nearest(place, found)}")
    return tuple(found.values())


def top_table(
    document: dict[str, object],
    overrides: Mapping[str, float | str],
    known: tuple[str, ...],
    moved: Mapping[str, float],
    stated: Iterable[str] = (),
) -> Table:
    """The whole file as a table, with its [let] after the overrides, and its unit. `stated` are overrides whose
    uncertainty is stated elsewhere. Raises InputError for a key that is not `known`, and for an override of a name that
    [let] does not have."""
    refuse_unknown("", document, known)
    top = Table("", document, {}, 1.0, moved)
    given = top.optional(lambda key: top.value(key, dict, "a table of named numbers"), "let") or {}
    for name in overrides:
        if name not in given:
            own = "; those of a section's file stand in let = { .. } beside it" if "cabinet" in document else ""
            raise InputError(f"let: there is no named number {name!r} to change; {nearest(name, given)}{own}")
    now: dict[str, object] = {**given, **overrides}
    let = resolve_let(now, moved, top.uncertain)
    unit = top.value("unit", str, 'the unit of every length in the file, "mm", "cm" or "m", above all [tables]')
    if unit not in UNITS:
        raise top.fault("unit", f"{unit!r} is not a unit of length; {nearest(unit, UNITS)}")
    return replace(top, let=let, unit=UNITS[unit], stated=stated_names(now, stated))


def title_of(top: Table, path: Path) -> str:
    """The title that the file gives, or the file's own name."""
    title = top.optional(top.text, "title")
    return visible(path.stem) if title is None else title


def unused_names(top: Table, overrides: Mapping[str, float | str], known: Collection[str]) -> tuple[str, ...]:
    """A sentence on each named number and material of the file that no text in it and none of the overrides names. One
    that follows others by an expression needs no use: a study may have it as its goal or limit. `known` are the keys at
    the top of the file, which TOML reads as names where they stand below [let]."""
    given = top.values.get("let")
    plain = [name for name, value in given.items() if not isinstance(value, str)] if isinstance(given, dict) else []
    texts = set(_texts([top.values, *overrides.values()]))
    words = set(re.findall(r"\w+", " ".join(texts)))
    materials = top.values.get("material")
    spare = [name for name in materials if name not in texts] if isinstance(materials, dict) else []
    return tuple(
        f"material {name!r}: nothing in this file is made of it; look for another spelling of it" for name in spare
    ) + tuple(
        f"let, {name}: nothing in this file uses it; "
        + (
            "write it above [let], where the file's own keys are"
            if name in known
            else "look for another spelling of it"
        )
        for name in plain
        if name not in words
    )


def _texts(value: object) -> Iterator[str]:
    """All texts in a value, but for keys of tables, titles and names."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner)
    elif isinstance(value, dict):
        yield from _texts([inner for key, inner in value.items() if key not in ("title", "name")])
