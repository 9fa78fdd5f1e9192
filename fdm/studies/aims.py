"""What the best design is to reach: a goal, and limits on other answers.

Designs are ordered by what they miss of the limits, then by the goal: one that meets every limit comes before any that
does not. What is missed is counted in shares of each limit's bound, so that kelvins and watts can be added:

    misses = sum over limits of max(value - bound, 0) / |bound|        for limits from above
"""

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from fdm.answers.quantity import Array, Quantity, find, find_all
from fdm.answers.units import shown_unit
from fdm.errors import InputError
from fdm.studies.design import Design
from fdm.studies.directions import of_size
from fdm.studies.result import ABOVE_SETPOINT, merit_of

NOWHERE = 1e3  # violation of a design that failed, relative to the limits


@dataclass(frozen=True)
class Wish:
    """A condition as it is written, such as `bridge.bolt.chi < 0.02`."""

    asked: str
    below: bool
    bound: float

    @classmethod
    def read(cls, text: str) -> "Wish":
        """The condition in a text. Raises InputError where there is none.

        >>> Wish.read("bridge.bolt.chi <= 0.02")
        Wish(asked='bridge.bolt.chi', below=True, bound=0.02)
        """
        match = re.fullmatch(r"(.+?)\s*(<=?|>=?)\s*([^<>=]+)", text.strip())
        try:
            bound = float(match[3]) if match else math.nan
        except ValueError:
            bound = math.nan
        if match is None or not math.isfinite(bound):
            raise InputError(f"limit {text!r}: give an answer, < or >, and a number, such as 'bridge.bolt.chi < 0.02'")
        return cls(match[1], match[2][0] == "<", bound)

    def among(self, known: Iterable[Quantity]) -> "Limit":
        """The limit, on one of the `known` quantities. Raises InputError where none is meant, or the bound is
        impossible."""
        text = f"{self.asked} {'<' if self.below else '>'} {self.bound:g}"
        quantity = find(self.asked, known, f"limit '{text}'")
        if self.bound < 0 and of_size(quantity):
            raise InputError(f"limit {text!r}: of a {quantity.family} the size counts; give a number of 0 or more")
        return Limit(quantity, self.below, self.bound)


@dataclass(frozen=True)
class Wishes:
    """A goal that is to be low, or high, limits, and `also`, answers to be shown beside them, as they are written:
    before any design has been solved, the quantities that they mean are unknown."""

    goal: str
    maximise: bool
    limits: tuple[Wish, ...]
    also: tuple[str, ...] = ()

    def refuse_unknown(self, known: Sequence[Quantity]) -> None:
        """Raise InputError where one is not among the `known` quantities, which are all that a design may have."""
        find(self.goal, known, "goal")
        for limit in self.limits:
            limit.among(known)
        for asked in self.also:
            find_all(asked, known)

    def among(self, known: Iterable[Quantity]) -> "Aim":
        """The aim, in the `known` quantities that designs answer. Raises InputError where one is unknown."""
        known = list(known)
        setpoint = tuple(Limit(q, True, 0.0) for q in known if q.path == ABOVE_SETPOINT)
        also = tuple(q for asked in self.also for q in find_all(asked, known))
        goal, limits = find(self.goal, known, "goal"), tuple(x.among(known) for x in self.limits)
        return Aim(goal, self.maximise, limits, setpoint, also)


@dataclass(frozen=True)
class Limit:
    """A condition on a quantity."""

    quantity: Quantity
    below: bool
    bound: float

    def __str__(self) -> str:
        symbol, size = shown_unit(self.quantity.unit, self.bound)
        tail = f" {symbol}" if size != 1 else ""  # not the unit that it was given in
        return f"{self.quantity.name} {'<' if self.below else '>'} {self.bound / size:g}{tail}"


@dataclass(frozen=True)
class Aim:
    """The quantity `goal` is to be low, or high, and every limit is to be met, among them that a cabinet's modules
    reach its setpoint: `setpoint` is that limit, and empty for sections. `also` is shown beside them."""

    goal: Quantity
    maximise: bool
    limits: tuple[Limit, ...]
    setpoint: tuple[Limit, ...] = ()
    also: tuple[Quantity, ...] = ()

    def order(self, designs: Sequence[Design]) -> list[int]:
        """(S,) numbers of the designs: those that meet every limit from the best on, then those that miss least."""
        order: list[int] = np.lexsort((self.goals(designs), self.misses(designs))).tolist()
        return order

    def goals(self, designs: Sequence[Design]) -> Array:
        """(S,) values of the goal, with their sign turned where it is to be high; inf where a design has no value."""
        value = merit_of(self.goal, designs)
        return np.where(np.isfinite(value), -value if self.maximise else value, np.inf)

    def excess(self, designs: Sequence[Design]) -> Array:
        """(limits, S) by which share of its bound each limit is missed, the setpoint's as the last one; below 0 where
        it is met. A design without a value of the goal misses all."""
        lost = ~np.isfinite(self.goals(designs))
        limits = (*self.limits, *self.setpoint)
        out = np.zeros((len(limits), len(designs)))
        for k, x in enumerate(limits):
            over = merit_of(x.quantity, designs) - x.bound
            out[k] = np.where(lost | np.isnan(over), NOWHERE, (over if x.below else -over) / (abs(x.bound) or 1.0))
        return out

    def misses(self, designs: Sequence[Design]) -> Array:
        """(S,) the sum of the shares by which limits are missed."""
        lost = np.where(np.isfinite(self.goals(designs)), 0.0, NOWHERE)
        total: Array = lost + np.maximum(self.excess(designs), 0.0).sum(0)
        return total
