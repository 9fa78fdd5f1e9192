"""The best design within ranges of named numbers, subject to limits on other answers."""

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from os import PathLike

import numpy as np
from numpy.typing import NDArray

from fdm.accuracy.refinement import TARGET
from fdm.answers.units import shown_unit
from fdm.errors import InputError
from fdm.studies.choices import Choice, Given, Span, choices, grid, latin
from fdm.studies.findings import MOST_NAMED, WITHIN, allowance, shared, smallest_of, valued
from fdm.studies.paths import Array, found, merit, of_size, unit
from fdm.studies.run import Design, Job, Kept, Say, Study, Workbench, concluded, said, solved_designs, workbench

TRIES = 150
SPARED = 0.3  # of the tries, for the search around the best
POPULATION = 8  # designs a varied name in one generation
FINEST = 0.003  # of a range: where the search around the best ends; no number is told, or tried, much finer
AT_LIMIT = 0.01  # of a limit: nearer is at it
AT_END = 0.005  # of a range: nearer is at its end
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


@dataclass(frozen=True)
class Met:
    """How a limit is met by the best design. `active`: it is at its bound, and holds the goal back."""

    limit: Limit
    value: float
    band: float
    active: bool


@dataclass(frozen=True)
class Optimum:
    """The best design that was tried; where none meets every limit, the nearest to it, and `feasible` is False."""

    values: Mapping[str, float]
    goal: str
    value: float
    band: float
    feasible: bool
    limits: tuple[Met, ...]
    at_ends: tuple[str, ...]  # names that lie at an end of their range
    study: Study  # every design tried, the best first
    sentences: tuple[str, ...]


def best(
    path: str | PathLike[str],
    ranges: Mapping[str, Given] | Iterable[tuple[str, Given]],
    goal: str,
    *,
    maximise: bool = False,
    subject: Sequence[str] = (),
    tries: int = TRIES,
    executor: Executor | None = None,
    workers: int | None = None,
    cluster: str | None = None,
    out: str | PathLike[str] | None = None,
    target: float = TARGET,
    seed: int = 0,
    progress: Say | None = None,
) -> Optimum:
    """The design with the lowest `goal` (or the highest), a path in the JSON result, that meets every limit in
    `subject`, such as `"bridge.bolt.chi < 0.02"` (0.02 itself meets it). Of a misreading its size counts. [let] may
    hold names made for this, such as `weight`: their paths are `let.weight`.

    `ranges` are `low:high`; or, where only some numbers can be bought or counted, `low:high:step` or `3,4,6,10`. With
    nothing but such, and at most `tries` combinations, all are tried; else differential evolution (R. Storn, K. Price,
    J. Global Optim. 11 (1997) 341; limits as in J. Lampinen 2002) in generations that are solved side by side, then a
    search around the best by quadratic models (COBYQA; T.M. Ragonneau, Z. Zhang 2023), in about so many tries. The same
    call always tries the same designs; kept in the folder `out` as by `study`, none is solved twice.

    Raises InputError as `study` does, and for limits that cannot be read.
    """
    job = Job(path, target)
    choice = choices(ranges)
    if tries < 1:
        raise InputError(f"tries: {tries} is no number of designs; give 1 or more")
    wishes = [_limit(text) for text in subject]
    job.checked([{n: _first(c) for n, c in choice.items()}])
    kept = Kept(job, out)
    with workbench(executor, workers, cluster, tries) as bench:
        search = _Search(job, kept, bench, choice, goal, wishes, maximise, progress)
        every = math.prod(math.inf if isinstance(c, Span) else len(c) for c in choice.values())
        if every <= tries:
            search.tried(grid(choice))
        else:
            _evolve(search, tries, seed)
            _refine(search, int(SPARED * tries))
    return _optimum(search, out)


def _first(choice: Choice) -> float:
    return choice.low if isinstance(choice, Span) else choice[0]


def _rounded(span: Span, share: float) -> float:
    """The value at a share (0 to 1) of a span, to the decimal place that the search can tell.

    >>> _rounded(Span(2, 12), 0.294197)
    4.94
    """
    places = -math.floor(math.log10(FINEST * (span.high - span.low)))
    return min(max(round(span.low + share * (span.high - span.low), places), span.low), span.high)


def _limit(text: str) -> Limit:
    match = re.fullmatch(r"(.+?)\s*(<=?|>=?)\s*([^<>=]+)", text.strip())
    try:
        bound = float(match[3]) if match else math.nan
    except ValueError:
        bound = math.nan
    if match is None or not math.isfinite(bound):
        raise InputError(f"limit {text!r}: give an answer, < or >, and a number, such as 'bridge.bolt.chi < 0.02'")
    if bound < 0 and of_size(match[1]):
        raise InputError(f"limit {text!r}: of a misreading the size counts; give a number of 0 or more")
    return Limit(match[1], match[2][0] == "<", bound)


class _Search:
    """What has been tried. Points are (K, S): K names that vary in rows, from 0 to 1 for a span, a number of the choice
    otherwise; S designs."""

    def __init__(
        self,
        job: Job,
        kept: Kept,
        bench: Workbench,
        choice: Mapping[str, Choice],
        goal: str,
        limits: Sequence[Limit],
        maximise: bool,
        progress: Say | None,
    ) -> None:
        self.job, self.choice, self.goal, self.limits, self.maximise = job, choice, goal, list(limits), maximise
        self.free = [n for n, c in choice.items() if isinstance(c, Span) or len(c) > 1]
        self.designs: dict[tuple[float, ...], Design] = {}
        self._kept, self._bench, self._say, self.known = kept, bench, progress, False

    @property
    def whole(self) -> NDArray[np.bool_]:
        """(K,) names that have a list of values."""
        return np.array([not isinstance(self.choice[n], Span) for n in self.free])

    @property
    def ends(self) -> list[tuple[float, float]]:
        return [(0.0, 1.0) if isinstance(c, Span) else (0.0, len(c) - 1.0) for c in (self.choice[n] for n in self.free)]

    def designs_at(self, points: Array) -> list[dict[str, float]]:
        out = []
        for column in np.atleast_2d(points.T):
            design = {n: _first(c) for n, c in self.choice.items()}
            for name, at in zip(self.free, column.tolist()):
                c = self.choice[name]
                design[name] = _rounded(c, at) if isinstance(c, Span) else c[round(at)]
            out.append(design)
        return out

    def point(self, values: Mapping[str, float]) -> Array:
        """(K,)"""
        out = []
        for name in self.free:
            c = self.choice[name]
            out.append((values[name] - c.low) / (c.high - c.low) if isinstance(c, Span) else c.index(values[name]))
        return np.array(out, float)

    def tried(self, wanted: Sequence[Mapping[str, float]]) -> list[Design]:
        """The designs, solved where they have not been."""
        for _ in solved_designs(self.job, wanted, self._kept, self._bench):
            pass
        out = [self._kept[d] for d in wanted]
        self.designs |= {tuple(d.values[n] for n in self.choice): d for d in out}
        answers = next((d.answers for d in out if not d.message), None)
        if answers is not None and not self.known:
            self.goal, self.known = found(self.goal, answers, "goal"), True
            self.limits = [Limit(found(x.path, answers, f"limit '{x}'"), x.below, x.bound) for x in self.limits]
        if self._say and self.known:
            self._say(f"{len(self.designs)} designs tried; {self._so_far()}")
        return out

    def _so_far(self) -> str:
        designs = list(self.designs.values())
        k = self.order(designs)[0]
        goal, misses = self.goals(designs[k : k + 1]), self.misses(designs[k : k + 1])
        if misses[0] > 0:
            return "none meets every limit yet"
        return f"best so far {valued(self.goal, abs(goal[0]), 0.0)} at {said(designs[k].values, self.free)}"

    def order(self, designs: Sequence[Design]) -> list[int]:
        """(S,) numbers of the designs: those that meet every limit from the best on, then those that miss least."""
        order: list[int] = np.lexsort((self.goals(designs), self.misses(designs))).tolist()
        return order

    def goals(self, designs: Sequence[Design]) -> Array:
        """(S,) to be low; inf where a design has no value."""
        value = merit(self.goal, self._values(self.goal, designs))
        return np.where(np.isfinite(value), -value if self.maximise else value, np.inf)

    def excess(self, designs: Sequence[Design]) -> Array:
        """(limits, S) by how much of its bound each limit is missed; below 0 where it is met. Without a goal, too."""
        lost = ~np.isfinite(self.goals(designs))
        out = np.zeros((len(self.limits), len(designs)))
        for k, x in enumerate(self.limits):
            over = merit(x.path, self._values(x.path, designs)) - x.bound
            out[k] = np.where(lost | np.isnan(over), NOWHERE, (over if x.below else -over) / (abs(x.bound) or 1.0))
        return out

    def misses(self, designs: Sequence[Design]) -> Array:
        """(S,) the sum of what is missed."""
        lost = np.where(np.isfinite(self.goals(designs)), 0.0, NOWHERE)
        return lost + np.maximum(self.excess(designs), 0.0).sum(0)

    def _values(self, path: str, designs: Sequence[Design]) -> Array:
        return np.array([np.nan if (v := d.answers.get(path)) is None else v for d in designs])


def _evolve(search: _Search, tries: int, seed: int) -> None:
    from scipy.optimize import NonlinearConstraint, differential_evolution

    many = max(POPULATION * len(search.free), 5)
    low, high = np.array(search.ends).T
    start = low + latin(many, len(search.free), seed) * (high - low)
    start[:, search.whole] = np.round(start[:, search.whole])
    search.tried(search.designs_at(start.T))
    if not search.known:
        return
    generations = int((1 - SPARED) * tries / many) - 1
    if generations < 1:
        return
    solve = _both(search)
    constraints = [NonlinearConstraint(lambda x: solve(x)[1], -np.inf, 0.0)] if search.limits else []
    try:
        differential_evolution(
            lambda x: solve(x)[0],
            search.ends,
            constraints=constraints,
            integrality=search.whole,
            init=start,
            maxiter=generations,
            tol=search.job.target,
            polish=False,
            vectorized=True,
            updating="deferred",
            seed=np.random.default_rng(seed),
        )
    except RuntimeError as fault:  # what it makes of every ValueError
        if isinstance(fault.__cause__, InputError):
            raise fault.__cause__ from None
        raise


def _refine(search: _Search, tries: int) -> None:
    """Around the best so far, the numbers with a span only."""
    from scipy.optimize import NonlinearConstraint, minimize

    if not search.known or search.whole.all() or tries < 2:
        return
    designs = list(search.designs.values())
    first = designs[search.order(designs)[0]]
    (goal,) = search.goals([first])
    if not np.isfinite(goal):
        return
    begin, scale = search.point(first.values), abs(goal) or 1.0
    spans = ~search.whole
    solve = _both(search)

    def at(x: Array) -> Array:
        point = begin.copy()
        point[spans] = x
        return point

    constraints = [NonlinearConstraint(lambda x: solve(at(x))[1], -np.inf, 0.0)] if search.limits else []
    minimize(
        lambda x: solve(at(x))[0] / scale,
        begin[spans],
        method="COBYQA",
        bounds=[(0.0, 1.0)] * int(spans.sum()),
        constraints=constraints,
        options={"maxfev": tries, "initial_tr_radius": 0.1, "final_tr_radius": FINEST},
    )


def _both(search: _Search) -> Callable[[Array], tuple[Array, Array]]:
    """Goals (S,) and excess (limits, S) at points (K, S); of one point (K,) a number and (limits,)."""

    def solve(points: Array) -> tuple[Array, Array]:
        designs = search.tried(search.designs_at(points if points.ndim == 2 else points[:, None]))
        goal, excess = search.goals(designs), search.excess(designs)
        return (goal, excess) if points.ndim == 2 else (goal[0], excess[:, 0])

    return solve


def _optimum(search: _Search, out: str | PathLike[str] | None) -> Optimum:
    tried = list(search.designs.values())
    designs = [tried[i] for i in search.order(tried)]
    study, k = concluded(search.job, designs, None, out), 0
    goal, misses = search.goals(designs), search.misses(designs)
    if not np.isfinite(goal[k]):
        raise InputError(f"{search.job.path}: goal: no design tried has a value of {search.goal!r}; choose another")
    value, bands = merit(search.goal, study.values(search.goal)), study.bands(search.goal)
    met = []
    for x in search.limits:
        v, b = float(merit(x.path, study.values(x.path))[k]), float(study.bands(x.path)[k])
        near = max(2 * b if math.isfinite(b) else 0.0, AT_LIMIT * abs(x.bound))
        met.append(Met(x, v, b, abs(v - x.bound) <= near))
    at_ends, ends = [], []
    for name, at, (low, high), whole in zip(search.free, search.point(designs[k].values), search.ends, search.whole):
        near = 0.0 if whole else AT_END
        if at - low <= near or high - at <= near:
            at_ends.append(name)
            end = "lower" if at - low <= near else "upper"
            ends.append(f"{name} lies at the {end} end of its range; beyond it may be better still.")
    feasible = bool(misses[k] <= 0)
    sentences = _sentences(search, designs, k, value, bands, met, feasible, misses)
    return Optimum(
        dict(designs[k].values), search.goal, float(value[k]), float(bands[k]), feasible, tuple(met), tuple(at_ends),
        study, (*sentences, *(ends if feasible else ()), f"{len(designs)} designs were tried."),
    )  # fmt: skip


def _sentences(
    search: _Search,
    designs: Sequence[Design],
    k: int,
    value: Array,
    bands: Array,
    met: Sequence[Met],
    feasible: bool,
    misses: Array,
) -> list[str]:
    here = said(designs[k].values, search.free or None)
    of = f"size of {search.goal}" if of_size(search.goal) else search.goal
    which, number = "highest" if search.maximise else "lowest", valued(search.goal, float(value[k]), float(bands[k]))
    if not feasible:
        missed = [m for m in met if (m.value > m.limit.bound) == m.limit.below]
        gaps = "; ".join(f"{valued(m.limit.path, m.value, m.band)} where {m.limit} is asked" for m in missed)
        return [f"No design tried meets every limit; the nearest, at {here}, has {gaps}. Its {of} is {number}."]
    out = [f"The {which} {of}{' that meets every limit' if met else ''} is {number}, at {here}."]
    for m in met:
        end = "active: it holds the goal back" if m.active else "not active"
        unsure = ", though by less than its band" if abs(m.value - m.limit.bound) < m.band else ""
        out.append(f"{m.limit}: met{unsure}, with {valued(m.limit.path, m.value, m.band)}; {end}.")
    room = np.maximum(bands + bands[k], allowance(search.goal, value[k : k + 1], WITHIN))
    close = (misses <= 0) & (np.abs(value - value[k]) <= room)
    inputs = np.array([[d.values[n] for n in search.free] for d in designs]).reshape(len(designs), len(search.free))
    others = [
        f"{said(designs[i].values, search.free)} ({valued(search.goal, float(value[i]), float(bands[i]))})"
        for i in smallest_of(inputs, close)
        if i != k
    ]
    if others:
        some = "; or ".join(others[:MOST_NAMED])
        out.append(f"As good within {shared(search.goal, WITHIN)} or the bands, with smaller numbers: {some}.")
    return out
