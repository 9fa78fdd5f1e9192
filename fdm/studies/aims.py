"""What the best design is to reach: a goal, and limits on other answers.

Designs are ordered by what they miss of the limits, then by the goal: one that meets every limit comes before any that
does not. What is missed is counted in shares of each limit's bound, so that kelvins and watts can be added:

    misses = sum over limits of max(value - bound, 0) / |bound|        for limits from above
"""

import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdm.answers.units import shown_unit
from fdm.errors import InputError
from fdm.studies.design import Design
from fdm.studies.paths import Array, found, merit, of_size, unit
from fdm.studies.result import values_of

NOWHERE = 1e3  # violation of a design that failed, relative to the limits


@dataclass(frozen=True)
class Limit:
    """A condition, such as `bridge.bolt.chi < 0.02`."""

    path: str
    below: bool
    bound: float

    def __str__(self) -> str:
        symbol, size = shown_unit(unit(self.path), self.bound)
        tail = f" {symbol}" if size != 1 else ""  # not the unit that it was given in
        return f"{self.path} {'<' if self.below else '>'} {self.bound / size:g}{tail}"

    @classmethod
    def read(cls, text: str) -> "Limit":
        """The limit in a text. Raises InputError where there is none.

        >>> Limit.read("bridge.bolt.chi <= 0.02")
        Limit(path='bridge.bolt.chi', below=True, bound=0.02)
        """
        match = re.fullmatch(r"(.+?)\s*(<=?|>=?)\s*([^<>=]+)", text.strip())
        try:
            bound = float(match[3]) if match else math.nan
        except ValueError:
            bound = math.nan
        if match is None or not math.isfinite(bound):
            raise InputError(f"limit {text!r}: give an answer, < or >, and a number, such as 'bridge.bolt.chi < 0.02'")
        if bound < 0 and of_size(match[1]):
            raise InputError(f"limit {text!r}: of a misreading the size counts; give a number of 0 or more")
        return cls(match[1], match[2][0] == "<", bound)


@dataclass(frozen=True)
class Aim:
    """The answer at the path `goal` is to be low, or high, and every limit is to be met."""

    goal: str
    maximise: bool
    limits: tuple[Limit, ...]

    def found_in(self, known: Collection[str]) -> "Aim":
        """The same with the whole paths of the answers; InputError where one is unknown."""
        limits = (replace(x, path=found(x.path, known, f"limit '{x}'")) for x in self.limits)
        return Aim(found(self.goal, known, "goal"), self.maximise, tuple(limits))

    def order(self, designs: Sequence[Design]) -> list[int]:
        """(S,) numbers of the designs: those that meet every limit from the best on, then those that miss least."""
        order: list[int] = np.lexsort((self.goals(designs), self.misses(designs))).tolist()
        return order

    def goals(self, designs: Sequence[Design]) -> Array:
        """(S,) to be low; inf where a design has no value."""
        value = merit(self.goal, values_of(self.goal, designs))
        return np.where(np.isfinite(value), -value if self.maximise else value, np.inf)

    def excess(self, designs: Sequence[Design]) -> Array:
        """(limits, S) by how much of its bound each limit is missed; below 0 where it is met. Without a goal, too."""
        lost = ~np.isfinite(self.goals(designs))
        out = np.zeros((len(self.limits), len(designs)))
        for k, x in enumerate(self.limits):
            over = merit(x.path, values_of(x.path, designs)) - x.bound
            out[k] = np.where(lost | np.isnan(over), NOWHERE, (over if x.below else -over) / (abs(x.bound) or 1.0))
        return out

    def misses(self, designs: Sequence[Design]) -> Array:
        """(S,) the sum of what is missed."""
        lost = np.where(np.isfinite(self.goals(designs)), 0.0, NOWHERE)
        total: Array = lost + np.maximum(self.excess(designs), 0.0).sum(0)
        return total
