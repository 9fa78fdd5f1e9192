"""Frozen coefficients: numbers of a section that follow the temperature, such as films of still air.

Each such coefficient keeps one value for the whole of its place, taken at the mean temperatures that it depends on, at
the section's own temperatures and watts. So the section stays linear, and all that is answered of it stays as it is.
Values and temperatures are iterated on a coarse grid until they agree:

    values ──> section with these numbers ──> solved ──> mean temperatures ──> what the values should be
      ^                                                                                 │
      └──────────────────────── a step, by what the last ones have shown ───────────────┘

Then the section is solved well, and its values are compared with those of its own temperatures; if they differ by more
than `CLOSE`, it is solved once more, on the same grids. More than `ALLOWED` is a check that failed.

The loop knows nothing of films. To add a kind of coefficient, write a frozen dataclass with what `Coefficient` asks
for, and put a function that finds all of its kind in a section into `KINDS`. It may depend on several temperatures, as
the air in a closed gap does. `following_films.py` is an example; all else (the loop, what is told of it, other
temperatures and watts, sensitivities) then includes the new kind.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from fdm.answers.grid import SolvedGrid
from fdm.answers.kinds import solved
from fdm.answers.quantity import Array
from fdm.conduction.systems import conduction_system
from fdm.section.model import Section
from fdm.solving.closed_gaps import closed_gaps
from fdm.solving.following_films import following_films
from fdm.solving.part_conductivities import part_conductivities

MOST_ROUNDS = 30
AGREED, CLOSE, ALLOWED = 1e-6, 2e-4, 1e-3  # relative: on the coarse grid; on the finest, aimed at and at most
KEPT = 2  # earlier rounds that a step learns from
LEAST, MOST = 1e-6, 1e9  # of a value to begin with


class Coefficient(Protocol):
    """A number of a section, at one place, that depends on K mean temperatures."""

    @property
    def name(self) -> str:
        """What it is, for people, such as "film of greenhouse air"."""

    @property
    def unit(self) -> str:
        """Its unit, SI."""

    @property
    def input(self) -> tuple[str, str]:
        """Kind and name of the input of conductances that it is, as `fdm.conduction.inputs` has them."""

    @property
    def path(self) -> tuple[str, ...]:
        """The path of the quantity that tells it."""

    @property
    def places(self) -> tuple[str, ...]:
        """K words for where its temperatures are, such as "surface"."""

    def where(self, temperatures: Sequence[float]) -> str:
        """Its temperatures in words, such as "a surface of 41 degC"."""

    def value(self, section: Section) -> float:
        """The number that the section has now, above 0."""

    def wanted(self, grid: SolvedGrid) -> tuple[Array, float]:
        """(K,) the temperatures that it depends on, degC, at the temperatures and watts of the grid's section, and what
        it should be at these; NaN where it stands nowhere."""

    def put(self, section: Section, value: float, temperatures: Array) -> Section:
        """The section with this value, which was found at these temperatures."""


KINDS: tuple[Callable[[Section], Sequence[Coefficient]], ...] = (following_films, part_conductivities, closed_gaps)


def coefficients_of(section: Section) -> tuple[Coefficient, ...]:
    """All coefficients of a section that follow temperatures, kind by kind."""
    return tuple(c for kind in KINDS for c in kind(section))


@dataclass(frozen=True)
class FrozenValue:
    """One coefficient as it was found: its `value`, and the temperatures (degC) that it belongs to."""

    coefficient: Coefficient
    value: float
    temperatures: tuple[float, ...]

    @property
    def where(self) -> str:
        """Its temperatures in words."""
        return self.coefficient.where(self.temperatures)

    @property
    def words(self) -> str:
        """What it is, in words."""
        return f"{self.coefficient.name} {self.value:.3g} {self.coefficient.unit} at {self.where}"


@dataclass(frozen=True)
class Frozen:
    """The coefficients of a section as they were found, after so many `rounds` on the coarse grid. `off` is by how much
    the furthest of them still differs from what it should be, relative to that. `coarse` is the section with the
    values that agree on that grid, whose `lines` are in metres."""

    values: tuple[FrozenValue, ...]
    rounds: int
    off: float
    coarse: Section = field(repr=False)
    lines: tuple[Array, ...] = field(repr=False)

    @property
    def in_rounds(self) -> str:
        return "1 round" if self.rounds == 1 else f"{self.rounds} rounds"

    @property
    def agreed(self) -> bool:
        return self.off <= ALLOWED


def settled(section: Section, coefficients: Sequence[Coefficient], lines: tuple[Array, ...]) -> Frozen:
    """The coefficients of a section such that they agree with its temperatures on a grid with these lines (m), as far
    as that is reached in `MOST_ROUNDS`. It begins with the values that the section has. Coefficients that stand nowhere
    are left out.

    Raises InputError where the section cannot be solved.
    """
    tried: list[tuple[Array, Array]] = []  # values, and how far they were from what they should be; as logarithms
    system = conduction_system(section.unasked, *lines)
    grid = solved(system)
    there = [c for c in coefficients if not np.isnan(c.wanted(grid)[1])]
    while True:
        section, values, apart = compared(section, there, grid)
        off, rounds = off_by(apart), len(tried) + 1
        if off <= AGREED or rounds == MOST_ROUNDS:
            return Frozen(values, rounds, off, section, lines)
        at = np.log([v.value for v in values])
        tried.append((at, apart))
        section = with_values(section, values, np.exp(at + step(tried)))
        system = conduction_system(section.unasked, *lines, like=[system])
        grid = solved(system)


def compared(
    section: Section, coefficients: Sequence[Coefficient], grid: SolvedGrid
) -> tuple[Section, tuple[FrozenValue, ...], Array]:
    """The section, which tells at which temperatures its N coefficients are on its solved grid; the coefficients; and
    (N,) by how much the logarithm of each would have to change to be what it should be at these temperatures."""
    on_grid = [c.wanted(grid) for c in coefficients]
    values = tuple(FrozenValue(c, c.value(section), tuple(t.tolist())) for c, (t, _) in zip(coefficients, on_grid))
    numbers, wanted = np.array([v.value for v in values]), np.array([number for _, number in on_grid])
    return with_values(section, values, numbers), values, np.log(wanted) - np.log(numbers)


def off_by(apart: Array) -> float:
    """The largest relative difference, from those of logarithms (N,)."""
    return float(abs(np.expm1(apart)).max(initial=0.0))


def unsettled(frozen: Frozen) -> str:
    """A sentence on coefficients that do not agree with their temperatures."""
    names = ", ".join(f.coefficient.name for f in frozen.values)
    return (
        f"the answers failed their own checks: after {frozen.in_rounds} {names} still changed by "
        f"{100 * frozen.off:.2g} %; give a number in place of what follows the temperature"
    )


def with_values(section: Section, found: Sequence[FrozenValue], values: Array) -> Section:
    """The section with other values (N,) of its coefficients, which were found at their temperatures."""
    for f, value in zip(found, values.tolist()):
        section = f.coefficient.put(section, value, np.array(f.temperatures))
    return section


def step(tried: Sequence[tuple[Array, Array]]) -> Array:
    """(N,) by how much to go on, of logarithms of values, from those that were tried and how far each was from what it
    should be: the way to there, corrected by how that has changed with the values (Anderson 1965; of one coefficient,
    the secant). It goes the way of the plain step, and at most twice as far."""
    x, apart = (np.array(v) for v in zip(*tried[-1 - KEPT :]))
    plain: Array = apart[-1]
    if len(x) < 2:
        return plain
    dx, change = (x[-1] - x[:-1]).T, (apart[-1] - apart[:-1]).T  # (N, rounds)
    mix = np.linalg.lstsq(change, plain, rcond=1e-6)[0]
    corrected = plain - (dx + change) @ mix
    bound = abs(plain).max()  # a coefficient that agrees already moves with the others
    return np.asarray(np.clip(corrected, np.minimum(plain, 0) * 2 - bound, np.maximum(plain, 0) * 2 + bound))
