"""The least and the most of each answer while temperatures and watts of some terminals lie anywhere in given ranges.

Nearly all answers have both at corners of the box of ranges: misreadings, heat and losses are linear, and no place gets
colder where a terminal gets warmer or gives more watts. What is compared with a humidity or with another answer, such
as a margin, may have one inside. So all corners are looked at, and points between them; where one of these beats the
corners, what is around it is looked at ever closer.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from fdm.answers.quantity import Answers, Array, Path, Quantity
from fdm.conduction.arrays import Bools
from fdm.errors import InputError, is_number, nearest, what_is
from fdm.section.model import Section
from fdm.solving.frozen import coefficients_of
from fdm.solving.operating_point import at_operating_point
from fdm.solving.plausible import implausible_temperature
from fdm.solving.solution import Solution

Ranges = Mapping[str, tuple[float, float]]  # terminal -> its lowest and highest temperature (degC) or watts

MOST_RANGES = 8  # with 256 corners
MOST_SOLVED = 3  # where each corner is a solve, as films or other numbers follow the temperature
LEVELS = {1: 9, 2: 5, 3: 3, 4: 3}  # points along each range, by the number of ranges; of more, the corners alone
CLOSER = 7  # times that the distance between points is halved around one that lies inside
ALIKE = 1e-9  # of the value: what differs by less is the same


@dataclass(frozen=True)
class Between:
    """The least and the most of each answer over the ranges; answers that do not change are left out. Printed, and in
    notebooks, it shows its table."""

    ranges: Ranges
    least: Answers  # Q answers, each at a point of its own
    most: Answers
    # (Q, R) degC or W there, of the R terminals in the order of `ranges`; NaN: it does not depend on that one
    least_points: Array = field(repr=False)
    most_points: Array = field(repr=False)
    warnings: tuple[str, ...] = ()  # of ranges that are likely slips

    def where(self, asked: str | Path, most: bool = True) -> dict[str, float]:
        """The temperatures (degC) and watts of the terminals at which an answer, found as `Answers.at` does, has its
        most; or its least. Terminals on which it does not depend are left out."""
        point = (self.most_points if most else self.least_points)[self.most.number(asked)].tolist()
        return {name: value for name, value in zip(self.ranges, point) if not math.isnan(value)}


def between(solution: Solution, ranges: Ranges) -> Between:
    """The least and the most of each answer while each of the named terminals has any temperature (degC) or watts in
    its range (low, high), and all others keep their own; without a new solve.

    An extreme that lies inside the ranges is found to a thousandth of them for one or two, to a sixtieth or better for
    three or four; of more, corners alone are looked at. So it is where films or other numbers follow the temperature:
    then each corner is solved anew. Raises InputError for a name that is no terminal, for what is no range, and for
    more than eight of them, or three where corners are solved.

    >>> import fdm
    >>> found = between(fdm.solve("geometries/bolt.toml"), {"greenhouse air": (15, 35)})
    >>> bolt = "bridge.bolt with its bush.watts"  # chi times the difference to the cabinet's 7 degC
    >>> [round(answers.at(bolt)[0], 3) for answers in (found.least, found.most)], found.where(bolt, most=False)
    ([-0.166, -0.048], {'greenhouse air': 35.0})
    """
    if not isinstance(solution, Solution):
        raise InputError(f"between: {what_is(solution)} is no solution; give one that solve returned")
    ranges = checked_ranges(solution.section, ranges)
    if not ranges:
        raise InputError(f'between: no range is given; give such as {{"{solution.section.fixed_names[0]}": (15, 35)}}')
    tried = _Tried(solution, ranges)
    levels = 2 if solution.frozen else LEVELS.get(len(ranges), 2)
    corners, inner = tried.lattice(2), tried.lattice(levels)
    of_corners, of_inner = tried.values(corners), tried.values(inner)
    values = np.concatenate([of_corners, of_inner])
    known = np.isfinite(values).all(0)
    size = abs(np.where(known, values, 0.0)).max(0)
    numbers = np.nonzero(np.ptp(np.where(known, values, 0.0), 0) > ALIKE * size)[0]
    out: list[tuple[Answers, Array]] = []
    for sign in (-1, 1):
        points = np.empty((len(numbers), len(ranges)))
        found = np.empty((2, len(numbers)))
        for k, q in enumerate(numbers.tolist()):
            point = inner[(sign * of_inner[:, q]).argmax()]
            best = int((sign * of_corners[:, q]).argmax())
            if sign * (tried.at(point).value[q] - of_corners[best, q]) > ALIKE * size[q]:
                point = points[k] = tried.closer(point, q, sign)
            else:
                point = corners[best]
                points[k] = np.where(_matters(of_corners[:, q], best, ALIKE * size[q]), point, np.nan)
            found[:, k] = tried.at(point).value[q], tried.at(point).band[q]
        out.append((Answers(tuple(solution.answers.quantities[q] for q in numbers), *found), points))
    (least, least_points), (most, most_points) = out
    return Between(ranges, least, most, least_points, most_points, tuple(_likely_kelvin(solution.section, ranges)))


def checked_ranges(section: Section, ranges: object) -> dict[str, tuple[float, float]]:
    """The ranges as numbers. Raises InputError as `between` does."""
    terminals = (*section.fixed_names, *section.heat_names)
    example = f'{{"{terminals[0]}": (15, 35)}}'
    if not isinstance(ranges, Mapping):
        raise InputError(f"between: {what_is(ranges)} names no terminals; give ranges by name, such as {example}")
    out = {}
    for name, given in ranges.items():
        if name not in terminals:
            raise InputError(f"between: there is no terminal {name!r}; {nearest(str(name), terminals)}")
        ends = tuple(given) if isinstance(given, (tuple, list, np.ndarray)) else ()
        if len(ends) != 2 or not all(is_number(end) and abs(end) < np.inf for end in ends):
            raise InputError(f"between: {name!r}: {given!r} is no range; give two numbers, such as {example}")
        if not ends[0] < ends[1]:
            raise InputError(f"between: {name!r}: {ends[0]:g} to {ends[1]:g} is no range; give the lower end first")
        out[name] = (float(ends[0]), float(ends[1]))
    most, solved = (MOST_SOLVED, ", each to be solved") if coefficients_of(section) else (MOST_RANGES, "")
    if len(out) > most:
        raise InputError(
            f"between: {len(out)} ranges have {2 ** len(out)} corners{solved}; give at most {most} of them"
        )
    return out


def _likely_kelvin(section: Section, ranges: Ranges) -> Iterator[str]:
    """A sentence on each range of temperatures that is likely in kelvin."""
    for name, (_, high) in ranges.items():
        if name in section.fixed_names:
            yield from implausible_temperature(f"between, {name!r}", high)


@dataclass(frozen=True)
class _Tried:
    """A solution at points of the box of ranges, each evaluated once."""

    solution: Solution
    ranges: Ranges
    known: dict[tuple[float, ...], Answers] = field(default_factory=dict)

    def at(self, point: Array) -> Answers:
        """All answers at a point (R,)."""
        key = tuple(point.tolist())
        if key not in self.known:
            own = at_operating_point(self.solution, dict(zip(self.ranges, key))).answers
            self.known[key] = _in_order(own, self.solution.answers.quantities)
        return self.known[key]

    def values(self, points: Array) -> Array:
        """(P, Q) at points (P, R)."""
        return np.stack([self.at(point).value for point in points])

    def lattice(self, levels: int) -> Array:
        """(levels ** R, R) points evenly in the box, its corners among them."""
        return _products([np.linspace(low, high, levels) for low, high in self.ranges.values()])

    def closer(self, point: Array, q: int, sign: int) -> Array:
        """(R,) where answer number `q` has its most (`sign` 1) or least (-1) around a point of the lattice."""
        low, high = np.array(list(self.ranges.values())).T
        step = (high - low) / (LEVELS[len(low)] - 1)
        for _ in range(CLOSER):
            step = step / 2
            around = np.clip(_products([[v - d, v, v + d] for v, d in zip(point, step)]), low, high)
            point = around[(sign * self.values(around)[:, q]).argmax()]
        return point


def _in_order(answers: Answers, quantities: tuple[Quantity, ...]) -> Answers:
    """The answers to these quantities, in their order; NaN where they are not among them."""
    if [q.path for q in answers.quantities] == [q.path for q in quantities]:
        return answers
    at = [answers.place.get(q.path) for q in quantities]
    value, band = ([math.nan if k is None else v[k] for k in at] for v in (answers.value, answers.band))
    return Answers(quantities, np.array(value), np.array(band))


def _products(levels: Sequence[ArrayLike]) -> Array:
    """(P, R) all points that have one of R lists of levels in each coordinate, the last one changing first."""
    return np.stack(np.meshgrid(*levels, indexing="ij"), -1).reshape(-1, len(levels))


def _matters(values: Array, corner: int, alike: float) -> Bools:
    """(R,) whether the value at a corner, of those (2 ** R,) at all, is another at the other end of each range."""
    bits = 1 << np.arange(len(values).bit_length() - 1)[::-1]
    return np.asarray(abs(values[corner ^ bits] - values[corner]) > alike)
