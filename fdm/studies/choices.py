"""Which designs a study tries: every combination of the values given, or a sample of them."""

import itertools
import math
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError, is_number, what_is

MOST_DESIGNS = 100_000
HOW = "give low:high:step such as 3:12:1, or values with commas such as 20,30,40"

Array = NDArray[np.float64]
Values = str | float | Iterable[float]


@dataclass(frozen=True)
class Span:
    """Any number from low to high."""

    low: float
    high: float


Choice = Span | tuple[float, ...]


def designs(
    asked: Mapping[str, Values] | Iterable[tuple[str, Values]],
    *,
    random: int | None = None,
    lhs: int | None = None,
    seed: int = 0,
    counted: Collection[str] = (),
) -> list[dict[str, float]]:
    """Every combination of the values of each name, the last name's changing fastest; or a sample, always the same for
    the same `seed`: `random` of them, each by itself, or `lhs` of them spread evenly over every name's range (a Latin
    hypercube). Equal designs of a sample are left out.

    Values are text as on the command line, `3:12:1` (both ends included), `20,30,40`, a mixture of the two, or in a
    sample also `low:high`; or numbers. For names that are `counted`, as `counted_names` tells of a file, `low:high` is
    every whole number of it, in a sample or not. Raises InputError for anything else, and for too many designs.

    >>> designs({"plate": "3:4:0.5", "wall": [20, 30]})[:3]
    [{'plate': 3.0, 'wall': 20.0}, {'plate': 3.0, 'wall': 30.0}, {'plate': 3.5, 'wall': 20.0}]
    >>> len(designs({"plate": "3:12"}, lhs=5))
    5
    >>> sorted(d["modules"] for d in designs({"modules": "1:3"}, lhs=3, counted=["modules"]))
    [1.0, 2.0, 3.0]
    """
    choice = whole_numbers(choices(asked), counted)
    if random is not None and lhs is not None:
        raise InputError("random and lhs: give one of them; both are samples")
    count = lhs if random is None else random
    if count is None:
        return grid(choice)
    if not 1 <= count <= MOST_DESIGNS:
        raise InputError(f"a sample of {count} designs: give a number from 1 to {MOST_DESIGNS}")
    at = latin(count, len(choice), seed) if random is None else np.random.default_rng(seed).random((count, len(choice)))
    rows = [tuple(picked(c, float(u)) for c, u in zip(choice.values(), row)) for row in at]
    return [dict(zip(choice, row)) for row in dict.fromkeys(rows)]


def choices(asked: Mapping[str, Values] | Iterable[tuple[str, Values]]) -> dict[str, Choice]:
    """What each name may be. Raises InputError as `designs` does."""
    out: dict[str, Choice] = {}
    listed = asked.items() if isinstance(asked, Mapping) else asked
    pairs = list(listed) if isinstance(listed, Iterable) else [listed]
    if not all(isinstance(pair, tuple) and len(pair) == 2 and isinstance(pair[0], str) for pair in pairs):
        raise InputError('names that vary: give each with its values, such as {"base": [4, 6, 8]} or {"base": "4:8:2"}')
    for name, given in pairs:
        if name in out:
            raise InputError(f"{name}: given twice; give all its values at once, with commas")
        out[name] = _choice(name, given)
    if not out:
        raise InputError(f"no name to vary; {HOW.replace('give ', 'give plate=', 1)}")
    return out


def whole_numbers(choice: Mapping[str, Choice], counted: Collection[str]) -> dict[str, Choice]:
    """The choice with the whole numbers in place of each span of a name that is counted. Raises InputError where there
    is none.

    >>> whole_numbers({"modules": Span(1, 3.5)}, ["modules"])
    {'modules': (1.0, 2.0, 3.0)}
    """
    out = dict(choice)
    for name, c in choice.items():
        if name in counted and isinstance(c, Span):
            whole = range(math.ceil(c.low), min(math.floor(c.high), math.ceil(c.low) + MOST_DESIGNS) + 1)
            if not whole:
                raise InputError(f"{name}: there is no whole number from {c.low:g} to {c.high:g}; it is a count")
            out[name] = tuple(map(float, whole))
    return out


def _choice(name: str, given: Values) -> Choice:
    if not isinstance(given, str):
        several: Iterable[object] = given if isinstance(given, Iterable) else [given]
        found = list[float]()
        for value in several:
            if not is_number(value):
                raise InputError(f"{name}: {what_is(value)} is no number; {HOW}")
            found.append(float(value))
        values = tuple(found)
        if not values or not all(map(math.isfinite, values)):
            raise InputError(f"{name}: {values} are no finite numbers; give at least one")
        return tuple(dict.fromkeys(values))
    pieces = [piece.split(":") for piece in given.split(",")]
    if len(pieces) == 1 and len(pieces[0]) == 2:
        low, high = (_number(name, given, v) for v in pieces[0])
        if not low < high:
            raise InputError(f"{name}: {given!r} has no room between its ends; give the lower end first")
        return Span(low, high)
    return tuple(dict.fromkeys(v for piece in pieces for v in _steps(name, given, piece)))


def _steps(name: str, given: str, piece: list[str]) -> list[float]:
    if len(piece) not in (1, 3):
        raise InputError(f"{name}: {given!r} is not understood; {HOW}")
    numbers = [_number(name, given, v) for v in piece]
    if len(numbers) == 1:
        return numbers
    low, high, step = numbers
    if not (step > 0 and low <= high):
        raise InputError(f"{name}: {given!r} leads nowhere; give the lower end first and a step above 0, low:high:step")
    count = (high - low) / step + 1e-9
    if low < high and count < 1:
        raise InputError(
            f"{name}: the step of {given!r} leads beyond {high:g} at once; the third number is the step from value to "
            "value, and not how many there are"
        )
    if count >= MOST_DESIGNS:
        raise InputError(f"{name}: {given!r} has more than {MOST_DESIGNS} values; give a larger step")
    return [float(f"{low + k * step:.12g}") for k in range(int(count) + 1)]


def _number(name: str, given: str, text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        shown = f"{text.strip()!r} in {given!r}" if text.strip() != given.strip() else repr(given)
        raise InputError(f"{name}: {shown} is no number; {HOW}")
    return value


def grid(choice: Mapping[str, Choice]) -> list[dict[str, float]]:
    """Every combination; InputError where a name has no steps, and for too many."""
    values: list[tuple[float, ...]] = []
    for name, c in choice.items():
        if isinstance(c, Span):
            raise InputError(
                f"{name}: {c.low:g}:{c.high:g} has no step; give {c.low:g}:{c.high:g}:{(c.high - c.low) / 8:.1g}, "
                "or ask for a sample"
            )
        values.append(c)
    count = math.prod(map(len, values))
    if count > MOST_DESIGNS:
        raise InputError(f"{count} designs are more than {MOST_DESIGNS}; give fewer values, or ask for a sample")
    return [dict(zip(choice, row)) for row in itertools.product(*values)]


def latin(count: int, names: int, seed: int) -> Array:
    """(count, names) from 0 to 1: a Latin hypercube, always the same for the same seed."""
    from scipy.stats import qmc

    points: Array = qmc.LatinHypercube(names, seed=np.random.default_rng(seed)).random(count)
    return points


def picked(choice: Choice, share: float) -> float:
    """The value at a share (0 to 1) of a choice; from a span, rounded to six digits."""
    if isinstance(choice, Span):
        return min(max(float(f"{choice.low + share * (choice.high - choice.low):.6g}"), choice.low), choice.high)
    return choice[min(int(share * len(choice)), len(choice) - 1)]
