"""Quantities: everything that a section or a cabinet answers, each by its path.

The path of a quantity is its place in `result.json`; written with dots it is what studies, fits, limits and Python ask
for. The beginning of a path stands for all quantities below it, and some quantities have short names besides.

>>> rise = Quantity(("network", "resistance", "LEDs", "LEDs"), "resistance of LEDs", "K/W", "resistance")
>>> warm = Quantity(("terminals", "LEDs", "temperature"), "temperature of LEDs", "degC", "warm", also=(("LEDs",),))
>>> rise.name
'network.resistance.LEDs.LEDs'
>>> [q.name for q in find_all("LEDs", [rise, warm])], [q.name for q in find_all("network", [rise, warm])]
(['terminals.LEDs.temperature'], ['network.resistance.LEDs.LEDs'])
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError, nearest, what_is

NAMED = 3  # paths named in place of one that there is not

Array = NDArray[np.float64]
Path = tuple[str, ...]


@dataclass(frozen=True)
class Quantity:
    """One number that a section or a cabinet answers."""

    path: Path  # its place in result.json
    words: str  # what it is, for people
    unit: str  # SI or degC; "" for a share
    family: str  # quantities of one family are compared with each other
    also: tuple[Path, ...] = ()  # other paths that mean the same: short names, and a coupling the other way round
    main: int = 0  # 1 for what a builder looks at first, then 2, ..; 0 for the rest
    counted: int = 0  # its weight in the one rule of extrapolation for all answers of a solve; 0: it has no target
    local: bool = False  # read at one place, which may be a corner, where the error falls slowly
    peak: bool = False  # the highest of a face: where it lies moves from grid to grid
    point: bool = False  # of a sensor: what is read at a point errs less evenly than what is read of a whole face
    finest: bool = False  # its value is that of the finest grid, where heat flows balance, and not extrapolated
    role: str = ""  # of what it is, where quantities of one family mean different things to a builder

    @property
    def name(self) -> str:
        """The path with dots."""
        return dotted(self.path)

    def below(self, *above: str) -> "Quantity":
        """The same quantity as a part of something larger, without short names."""
        return replace(
            self, path=(*above, *self.path), also=tuple((*above, *p) for p in self.also if len(p) > 1), main=0
        )


@dataclass(frozen=True, eq=False)
class Answers:
    """Q quantities with their values and bands. A band is the half-width of the grid's error, NaN where none is stated.

    >>> rise = Quantity(("network", "resistance", "LEDs", "LEDs"), "resistance of LEDs", "K/W", "resistance")
    >>> answers = Answers((rise,), np.array([0.21]), np.array([0.01]))
    >>> answers.at("network.resistance.LEDs.LEDs")
    (0.21, 0.01)
    >>> [(quantity.words, value) for quantity, value, _ in answers]
    [('resistance of LEDs', 0.21)]
    """

    quantities: tuple[Quantity, ...]
    value: Array  # (Q,)
    band: Array  # (Q,)

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, Answers)
            and self.quantities == other.quantities
            and np.array_equal(self.value, other.value, equal_nan=True)
            and np.array_equal(self.band, other.band, equal_nan=True)
        )

    @cached_property
    def place(self) -> dict[Path, int]:
        """Number of the quantity at a path."""
        return {p: k for k, q in enumerate(self.quantities) for p in (*q.also, q.path)}

    def number(self, asked: str | Path) -> int:
        """Number of one quantity among all, by its path, written with dots or as names, or a beginning of that path.

        Raises InputError, with the nearest path, where there is none or several.
        """
        if isinstance(asked, tuple) and asked in self.place:
            return self.place[asked]
        names = asked if isinstance(asked, tuple) else (asked,)
        if not all(isinstance(name, str) for name in names):
            raise InputError(f"answer: {what_is(asked)} is no path; give text, such as {self.quantities[0].name!r}")
        words = asked if isinstance(asked, str) else dotted(asked)
        return self.place[find(words, self.quantities).path]

    def at(self, asked: str | Path) -> tuple[float, float]:
        """Value and band of one quantity, found as `number` does."""
        k = self.number(asked)
        return float(self.value[k]), float(self.band[k])

    def __iter__(self) -> Iterator[tuple[Quantity, float, float]]:
        return zip(self.quantities, self.value.tolist(), self.band.tolist())

    def chosen(self, on: NDArray[np.bool_]) -> "Answers":
        """The answers at which `on` (Q,) is true."""
        return Answers(tuple(q for q, keep in zip(self.quantities, on) if keep), self.value[on], self.band[on])


def joined(several: Sequence[Answers]) -> Answers:
    """Several sets of answers as one."""
    value = np.concatenate([np.empty(0), *(a.value for a in several)])
    band = np.concatenate([np.empty(0), *(a.band for a in several)])
    return Answers(tuple(q for a in several for q in a.quantities), value, band)


def named_numbers(let: Mapping[str, float]) -> Answers:
    """The named numbers of a file as quantities, `let.NAME`: exact, and without a unit."""
    quantities = tuple(Quantity(("let", name), name, "", "let") for name in let)
    return Answers(quantities, np.array(list(let.values()), float), np.zeros(len(let)))


def dotted(path: Iterable[str]) -> str:
    """A path as one text. A name that has dots itself stands in double quotes.

    >>> dotted(("bridge", "bolt M5 x 1.5", "chi"))
    'bridge."bolt M5 x 1.5".chi'
    """
    return ".".join('"' + n.replace('"', "'") + '"' if "." in n or '"' in n else n for n in path)


def names_in(path: str) -> list[str]:
    """The names between the dots of a path, in quotes where they have dots themselves."""
    return re.findall(r'"[^"]*"|[^."]+', path)


def find(asked: str, known: Iterable[Quantity], what: str = "answer") -> Quantity:
    """The one quantity that is asked for: by its path, a short name, or the beginning of its path alone.

    Raises InputError, with the nearest path, where there is none or several.
    """
    found = find_all(asked, known, what)
    if len(found) > 1:
        raise InputError(f"{what}: {asked!r} holds {len(found)} numbers; give one, such as {found[0].name!r}")
    return found[0]


def find_all(asked: str, known: Iterable[Quantity], what: str = "answer") -> list[Quantity]:
    """The quantity that is asked for, or all those whose paths begin with it. Quotes around names may be left out.

    Raises InputError, with the nearest path, where there is none.
    """
    known, bare = list(known), _bare(asked)
    found = [q for q in known if _bare(q.name) == bare]
    found = found or [q for q in known if any(_bare(dotted(p)) == bare for p in q.also)]
    found = found or [q for q in known if bare and _bare(q.name).startswith(bare + ".")]
    if not found:
        names = [dotted(p) for q in known for p in (q.path, *q.also)]
        raise InputError(f"{what}: the result has no {asked!r}; {_nearest_paths(bare, names)}")
    return found


def _nearest_paths(asked: str, names: Sequence[str]) -> str:
    """A clause with the paths that begin as `asked` does, or those that are spelt most like it."""
    names = [name for name in names if name]
    begun = [name for name in dict.fromkeys(names) if asked and _bare(name).lower().startswith(asked.lower())]
    if not begun:  # a part of the way may be right, or meant
        depth = len(names_in(asked))
        by_lower = {n.lower(): n for n in (*names, *(".".join(names_in(name)[:depth]) for name in names))}
        close = get_close_matches(asked.lower(), by_lower, 1, 0.9) or get_close_matches(asked.lower(), by_lower, NAMED)
        begun = [by_lower[name] for name in close]
    if not begun:
        return nearest(asked, names)
    shown, more = list(map(repr, dict.fromkeys(begun[:NAMED]))), len(begun) - NAMED
    if more > 0:
        return f"did you mean {', '.join(shown)} or one of {more} more?"
    return f"did you mean {' or '.join([', '.join(shown[:-1]), shown[-1]] if shown[1:] else shown)}?"


def _bare(path: str) -> str:
    return re.sub("[\"']", "", path.strip())  # of both kinds, as `dotted` writes one for the other


def main_quantities(known: Iterable[Quantity]) -> list[Quantity]:
    """What a builder looks at first, in that order."""
    return sorted((q for q in known if q.main), key=lambda q: q.main)


def nested(answers: Iterable[tuple[Path, float]]) -> dict[str, Any]:
    """Numbers by path as dictionaries within dictionaries.

    >>> nested([(("sensors", "bead", "reading"), 7.5), (("sensors", "lid", "reading"), 9.0)])
    {'sensors': {'bead': {'reading': 7.5}, 'lid': {'reading': 9.0}}}
    """
    out: dict[str, Any] = {}
    for path, value in answers:
        inner = out
        for name in path[:-1]:
            inner = inner.setdefault(name, {})
        inner[path[-1]] = value
    return out
