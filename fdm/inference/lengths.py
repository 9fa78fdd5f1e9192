"""How every answer changes with every named length.

A length moves grid lines. Answers are solved again on grids that are stretched with the drawing and have the same
number of lines, so that their grid errors cancel in the difference.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fdm.answers.kinds import solved
from fdm.answers.quantity import Answers, Array
from fdm.conduction.systems import conduction_system
from fdm.errors import InputError, nearest
from fdm.grid.moving import Stretch, stretches
from fdm.inference.following import followed
from fdm.section.model import UNITS, Rectangle, Section
from fdm.solving.solution import Solution

LENGTH_STEPS = 1e-3, 1e-4, 1e-5  # of a length, relative; the first is taken that keeps the order of edges
ROUND_STEPS = 3e-2, 1e-2, *LENGTH_STEPS  # the same where edges cut cells: larger than a sub-cell
# second difference, over the first and relative, from which an answer changes abruptly; thin cells make a tenth of it
BENT, NOTICED = 0.2, 5e-4

Progress = Callable[[str], None]


@dataclass(frozen=True)
class LengthSensitivities:
    """Q quantities, L named numbers of the file that are lengths."""

    names: tuple[str, ...]
    values: tuple[float, ...]  # in the file's unit
    answers: Answers  # Q, as solved
    per_millimetre: Array  # (Q, L)
    left_out: Mapping[str, str]  # name -> why it has no column


def length_sensitivities(
    read: Callable[..., Section], let: Sequence[str], solution: Solution, progress: Progress | None = None
) -> LengthSensitivities:
    """Changes of all answers with the named numbers `let`, which are lengths in the file's unit, by central
    differences.

    `read(NAME=value)` gives the section with one number changed. For each name there are two solves on grids with half,
    and two with a quarter, of the finest grid's lines; they are extrapolated. A number with which answers do not change
    smoothly is left out. An answer that is read at one place, such as the highest temperature of a surface, has no
    slope (NaN), as the place may jump.

    Raises InputError where there is no such name.
    """
    columns, left_out = {}, {}
    for name in let:
        if name not in solution.section.let:
            raise InputError(f"let: there is no number named {name!r}; {nearest(name, list(solution.section.let))}")
        if progress:
            progress(f"moving {name}")
        try:
            columns[name] = _steepness(read, name, solution)
        except _NoDerivative as why:
            left_out[name] = str(why)
    values = tuple(float(solution.section.let[name]) for name in columns)
    per_millimetre = np.array(list(columns.values())).reshape(-1, len(solution.answers.quantities)).T
    return LengthSensitivities(tuple(columns), values, solution.answers, per_millimetre, left_out)


Stretches = list[tuple[Stretch, Stretch]]  # along x and along y, for each section


class _NoDerivative(Exception):
    """Answers have no slope by a number, for the reason that the message gives."""


def _steepness(read: Callable[..., Section], name: str, solution: Solution) -> Array:
    """(Q,) change of all answers per millimetre of a named length. Raises _NoDerivative."""
    section, lines = solution.section, solution.system.lines
    (less, more), moves, step = _moved(read, name, solution)
    parted = any(along.parts_edges for along in moves[0])
    local = np.array([q.local for q in solution.asked.quantities], bool)
    slopes = []
    for stride in (4, 2):
        coarser = tuple(at[::stride] for at in lines)
        low, high = (_on_moved_grid(solution, s, coarser, move) for s, move in ((less, moves[0]), (more, moves[2])))
        slopes.append((high - low) / (2 * step) * 1e-3 / UNITS[section.unit])
        if parted and stride == 4:  # edges leave a line that they shared: there is a slope only if nothing jumps
            middle = _on_moved_grid(solution, section, coarser, moves[1])
            bend = abs(high + low - 2 * middle)
            if ((bend > BENT * abs(high - low)) & (bend > NOTICED * _sizes(solution, middle)) & ~local).any():
                raise _NoDerivative("it parts edges that lie on one line, and answers change abruptly")
    return np.where(local, np.nan, slopes[1] + (slopes[1] - slopes[0]) / 3)


def _sizes(solution: Solution, values: Array) -> Array:
    """(Q,) the largest of each quantity's family."""
    family = np.array([q.family for q in solution.asked.quantities])
    return np.array([np.nanmax(abs(values[family == f])) for f in family])


def _moved(
    read: Callable[..., Section], name: str, solution: Solution
) -> tuple[tuple[Section, Section], Stretches, float]:
    """The section with a length a step less and a step more; how lines move to the lesser section, the section itself
    and the greater one; and the step in the file's unit."""
    section = solution.section
    value = float(section.let[name])
    scale = abs(value) or section.size / UNITS[section.unit]
    straight = all(isinstance(s, Rectangle) for p in section.parts for s in p.shapes)
    why = ""
    for step in (s * scale for s in (LENGTH_STEPS if straight else ROUND_STEPS)):
        try:
            less, more = (read(**{name: value + d}) for d in (-step, step))
        except InputError as fault:
            why = why or str(fault)
            continue
        if moves := stretches(section, (less, section, more)):
            return (followed(solution, less), followed(solution, more)), moves, step
    raise _NoDerivative(why or "the least change of it adds edges, or removes some, or moves one past another")


def _on_moved_grid(
    solution: Solution, section: Section, lines: tuple[Array, ...], move: tuple[Stretch, Stretch]
) -> Array:
    """(Q,) on one grid, whose lines along x and along y are moved first."""
    x, y = (along.applied(old) for along, old in zip(move, lines))
    return solution.asked.at(section).values(solved(conduction_system(section, x, y, *lines[2:])).answers)
