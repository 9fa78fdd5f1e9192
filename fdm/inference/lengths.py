"""What every answer gains or loses by a millimetre of every named length.

A length moves the grid lines: answers are solved anew on grids of one topology, stretched with the drawing, so that
their grid errors cancel.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fdm.answers.kinds import asked_of, solved
from fdm.answers.quantity import Array, Quantity
from fdm.conduction.system import assemble
from fdm.errors import InputError, nearest
from fdm.grid.lines import SAME, edge_places
from fdm.section.model import Rectangle, Section
from fdm.section.rules import UNITS
from fdm.solving.solution import Solution

LENGTH_STEPS = 1e-3, 1e-4, 1e-5  # of a length, relative; the first that leaves the order of edges as it is
ROUND_STEPS = 3e-2, 1e-2, *LENGTH_STEPS  # where edges cut cells: by more than a sub-cell
# second difference, over the first and relative, from which an answer changes abruptly; thin cells make a tenth of it
BENT, NOTICED = 0.2, 5e-4

Progress = Callable[[str], None]


@dataclass(frozen=True)
class LengthSensitivities:
    """Q quantities, L named numbers of the file that are lengths."""

    names: tuple[str, ...]
    values: tuple[float, ...]  # in the file's unit
    quantities: tuple[Quantity, ...]
    per_millimetre: Array  # (Q, L)
    left_out: Mapping[str, str]  # name -> why it has no column


def length_sensitivities(
    read: Callable[..., Section], let: Sequence[str], solution: Solution, progress: Progress | None = None
) -> LengthSensitivities:
    """Of all answers to named numbers that are lengths in the file's unit, by central differences: `read(NAME=value)`
    gives the section with one of them changed. Two solves a name on grids with half, and two with a quarter, of the
    finest grid's lines, extrapolated. A number by which answers do not change smoothly is left out.

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
    quantities = solution.asked.quantities
    values = tuple(float(solution.section.let[name]) for name in columns)
    per_millimetre = np.array(list(columns.values())).reshape(-1, len(quantities)).T
    return LengthSensitivities(tuple(columns), values, quantities, per_millimetre, left_out)


Edges = tuple[Array, list[Array]]  # places of edges in rising order; for each, the lines that take its place


class _NoDerivative(Exception):
    """Says why."""


def _steepness(read: Callable[..., Section], name: str, solution: Solution) -> Array:
    """(Q,) change of all answers per millimetre of a named length. Raises _NoDerivative."""
    section, raster = solution.section, solution.system.raster
    (less, more), step = _moved(read, name, section)
    edges, parted = _stretches(section, less, more)
    slopes = []
    for stride in (4, 2):
        lines = raster.x[::stride], raster.y[::stride]
        low, high = (_grid_answers(s, *map(_stretched, lines, by)) for s, by in ((less, edges[0]), (more, edges[2])))
        slopes.append((high - low) / (2 * step) * 1e-3 / UNITS[section.unit])
        if parted and stride == 4:  # edges leave a line that they shared: only if nothing jumps is there a slope
            here = _grid_answers(section, *map(_stretched, lines, edges[1]))
            bend = abs(high + low - 2 * here)
            if ((bend > BENT * abs(high - low)) & (bend > NOTICED * _sizes(solution, here))).any():
                raise _NoDerivative("it takes edges apart that lie on one line, and answers change abruptly")
    return slopes[1] + (slopes[1] - slopes[0]) / 3


def _sizes(solution: Solution, values: Array) -> Array:
    """(Q,) the largest of each quantity's family."""
    family = np.array([q.family for q in solution.asked.quantities])
    return np.array([np.nanmax(abs(values[family == f])) for f in family])


def _moved(read: Callable[..., Section], name: str, section: Section) -> tuple[tuple[Section, Section], float]:
    """The section with a length a step less and a step more, and the step in the file's unit."""
    value = float(section.let[name])
    scale = abs(value) or max(np.ptp(section.extent[:2]), np.ptp(section.extent[2:])) / UNITS[section.unit]
    straight = all(isinstance(s, Rectangle) for p in section.parts for s in p.shapes)
    why = ""
    for step in (s * scale for s in (LENGTH_STEPS if straight else ROUND_STEPS)):
        try:
            less, more = (read(**{name: value + d}) for d in (-step, step))
        except InputError as fault:
            why = why or str(fault)
            continue
        if all(_matched(section, s) is not None for s in (less, more)):
            return (less, more), step
    raise _NoDerivative(why or "the least change of it adds edges, or removes some, or moves one past another")


def _stretches(section: Section, less: Section, more: Section) -> tuple[list[list[Edges]], bool]:
    """Edges along x and y for the grids of the lesser section, the section itself and the greater one; and whether any
    part. Where they do, all three have a line wherever one of them has an edge: grids that differ in nothing else."""
    parted, out = False, [[], [], []]  # type: ignore[var-annotated]
    for axis in (0, 1):
        went = [_matched(section, s)[axis] for s in (less, section, more)]  # type: ignore[index]
        first = went[1][0]
        together = [np.unique(np.concatenate(places)) for places in zip(*(w[1] for w in went))]
        splits = [max(map(len, places)) > 1 for places in zip(*(w[1] for w in went))]
        parted = parted or any(splits)
        for k, (_, places) in enumerate(went):
            out[k].append((first, [t if split else p for t, split, p in zip(together, splits, places)]))
    return out, parted


def _matched(section: Section, other: Section) -> list[Edges] | None:
    """Along x and along y, where the section's edges are in the other; None where their number or order differs."""
    tolerance = SAME * max(np.ptp(section.extent[:2]), np.ptp(section.extent[2:]))
    out = []
    for axis, places in enumerate(zip(edge_places(section), edge_places(other))):
        if len(places[0]) != len(places[1]):
            return None
        low, high = ([s.extent[2 * axis + d] for s in (section, other)] for d in (0, 1))
        here, there = (np.clip(np.array(p), a, b) for p, a, b in zip(places, low, high))
        order = np.argsort(here, kind="stable")
        starts = np.nonzero(np.concatenate([[True], np.diff(here[order]) > tolerance]))[0]
        first = here[order][starts]
        went = [np.sort(group) for group in np.split(there[order], starts[1:])]
        went = [g[np.concatenate([[True], np.diff(g) > tolerance])] for g in went]
        gaps = np.array([b[0] - a[-1] for a, b in pairwise(went)])
        if (gaps < np.diff(first) / 2).any():
            return None
        out.append((first, went))
    return out


def _stretched(lines: Array, edges: Edges) -> Array:
    """Grid lines that keep their place between the edges, and all places of edges."""
    here, there = edges
    k = np.clip(np.searchsorted(here, lines, side="right") - 1, 0, len(here) - 2)
    u = (lines - here[k]) / (here[k + 1] - here[k])
    inside = (u > 1e-6) & (u < 1 - 1e-6)
    start, end = np.array([p[-1] for p in there])[k], np.array([p[0] for p in there])[k + 1]
    return np.sort(np.concatenate([(start + u * (end - start))[inside], *there]))


def _grid_answers(section: Section, x: Array, y: Array) -> Array:
    """(Q,) on one grid."""
    return asked_of(section).values(solved(assemble(section, x, y)).answers)
