"""The search for the best design: differential evolution over all ranges, then quadratic models around the best, and
steps from it along lists of values.

Both work on points (K, S) of S designs: in K rows the names that vary, from 0 to 1 for a span, otherwise the number of
the value in its list.
"""

import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from fdm.answers.quantity import Array
from fdm.errors import InputError
from fdm.studies.aims import Aim, Wishes
from fdm.studies.choices import Choice, Span, grid, latin
from fdm.studies.design import Design, design_in_words
from fdm.studies.findings import valued
from fdm.studies.job import FunctionJob, Job
from fdm.studies.run import Say
from fdm.studies.store import Kept
from fdm.studies.workers import Workbench, solved_designs

SPARED = 0.3  # share of the tries that is kept for the search around the best
POPULATION = 8  # designs in one generation, times the number of varied names
SEED = 0  # the same call always tries the same designs
FINEST = 0.003  # of a range: where the search around the best ends; values are rounded to about this


class Space:
    """What each name may be, as a space to search."""

    def __init__(self, choice: Mapping[str, Choice]) -> None:
        self.choice = choice
        self.free = tuple(n for n, c in choice.items() if isinstance(c, Span) or len(c) > 1)  # K names
        varied = [choice[n] for n in self.free]
        # (K,) which are a list of values
        self.whole: NDArray[np.bool_] = np.array([not isinstance(c, Span) for c in varied], bool)
        self.ends = [(0.0, 1.0) if isinstance(c, Span) else (0.0, len(c) - 1.0) for c in varied]

    def bounds(self, name: str) -> tuple[float, float]:
        """The lowest and the highest that a name may be."""
        c = self.choice[name]
        return (c.low, c.high) if isinstance(c, Span) else (min(c), max(c))

    @property
    def size(self) -> float:
        """The number of designs there are."""
        return math.prod(math.inf if isinstance(c, Span) else len(c) for c in self.choice.values())

    def first(self) -> dict[str, float]:
        """The design with the first value of each name."""
        return {n: c.low if isinstance(c, Span) else c[0] for n, c in self.choice.items()}

    def designs(self, points: Array) -> list[dict[str, float]]:
        """The designs at points (K, S)."""
        out = []
        for column in np.atleast_2d(points.T):
            design = self.first()
            for name, at in zip(self.free, column.tolist()):
                c = self.choice[name]
                design[name] = rounded(c, at) if isinstance(c, Span) else c[round(at)]
            out.append(design)
        return out

    def point(self, values: Mapping[str, float]) -> Array:
        """(K,) where a design lies."""
        out = []
        for name in self.free:
            c = self.choice[name]
            out.append((values[name] - c.low) / (c.high - c.low) if isinstance(c, Span) else c.index(values[name]))
        return np.array(out, float)


def rounded(span: Span, share: float) -> float:
    """The value at a share (0 to 1) of a span, to the decimal place that the search can tell.

    >>> rounded(Span(2, 12), 0.294197)
    4.94
    """
    places = -math.floor(math.log10(FINEST * (span.high - span.low)))
    return min(max(round(span.low + share * (span.high - span.low), places), span.low), span.high)


class Search:
    """The designs that have been tried in a space for some wishes. `aim` has the wishes in quantities, once a design
    has answered."""

    def __init__(
        self, job: Job | FunctionJob, kept: Kept, bench: Workbench, space: Space, wishes: Wishes, progress: Say | None
    ) -> None:
        self.job, self.space, self.wishes = job, space, wishes
        self._aim: Aim | None = None
        self.designs: dict[tuple[float, ...], Design] = {}
        self._kept, self._bench, self._say = kept, bench, progress

    @property
    def known(self) -> bool:
        """Whether a design has answered, so that the aim is known."""
        return self._aim is not None

    @property
    def aim(self) -> Aim:
        assert self._aim is not None
        return self._aim

    def tried(self, wanted: Sequence[Mapping[str, float]]) -> list[Design]:
        """The wanted designs, solved unless they are kept. Raises InputError for unknown paths in the aim."""
        try:
            for design in solved_designs(self.job, wanted, self._kept, self._bench):
                self._know(design)
        finally:  # ^C as well
            out = [self._kept[d] for d in wanted if d in self._kept]
            self.designs |= {tuple(d.values[n] for n in self.space.choice): d for d in out}
        for design in out:
            self._know(design)
        if self._say and self.known:
            self._say(f"{len(self.designs)} designs tried; {self._so_far()}")
        return out

    def _know(self, design: Design) -> None:
        """Turn the wishes into an aim once a design has answered."""
        if self._aim is None and not design.message:
            self._aim = self.wishes.among(design.answers.quantities)

    def judged(self, points: Array) -> tuple[Array, Array]:
        """Goals (S,) and excess (limits, S) of the designs at points (K, S); of one point (K,) a number and
        (limits,)."""
        designs = self.tried(self.space.designs(points if points.ndim == 2 else points[:, None]))
        goal, excess = self.aim.goals(designs), self.aim.excess(designs)
        return (goal, excess) if points.ndim == 2 else (goal[0], excess[:, 0])

    def ordered(self) -> list[Design]:
        """All that were tried, the best first."""
        designs = list(self.designs.values())
        return [designs[k] for k in self.aim.order(designs)] if self.known else designs

    def _so_far(self) -> str:
        first = self.ordered()[0]
        if self.aim.misses([first])[0] > 0:
            return "none meets every limit yet"
        value = valued(self.aim.goal, abs(self.aim.goals([first])[0]), 0.0)
        return f"best so far {value} at {design_in_words(first.values, self.space.free)}"


def try_designs(search: Search, tries: int) -> None:
    """Try all designs of the space where there are at most `tries`; otherwise about `tries` of them."""
    if search.space.size <= tries:
        search.tried(grid(search.space.choice))
    else:
        _evolve(search, tries)
        _refine(search, int(SPARED * tries))
        _step(search, tries)


def _evolve(search: Search, tries: int) -> None:
    """Try generations of designs in the whole space by differential evolution, each solved side by side; about `tries`
    in all, less those that are kept for `_refine`."""
    from scipy.optimize import differential_evolution

    space = search.space
    many = max(POPULATION * len(space.free), 5)
    low, high = np.array(space.ends).T
    start = low + latin(many, len(space.free), SEED) * (high - low)
    start[:, space.whole] = np.round(start[:, space.whole])
    search.tried(space.designs(start.T))
    if not search.known:
        return
    generations = int((1 - SPARED) * tries / many) - 1
    if generations < 1:
        return
    try:
        differential_evolution(
            lambda x: search.judged(x)[0],
            space.ends,
            constraints=_constraints(search, lambda x: search.judged(x)[1]),
            integrality=space.whole,
            init=start,
            maxiter=generations,
            tol=search.job.target,
            polish=False,
            vectorized=True,
            updating="deferred",
            seed=np.random.default_rng(SEED),
        )
    except RuntimeError as fault:  # scipy turns every ValueError into this
        if isinstance(fault.__cause__, InputError):
            raise fault.__cause__ from None
        raise


def _refine(search: Search, tries: int) -> None:
    """Try at most `tries` designs around the best so far, varying only the numbers that have a span."""
    from scipy.optimize import minimize

    spans = ~search.space.whole
    if not search.known or not spans.any() or tries < 2:
        return
    first = search.ordered()[0]
    (goal,) = search.aim.goals([first])
    if not np.isfinite(goal):
        return
    begin, scale = search.space.point(first.values), abs(goal) or 1.0

    def judged(x: Array) -> tuple[Array, Array]:
        point = begin.copy()
        point[spans] = x
        return search.judged(point)

    minimize(
        lambda x: judged(x)[0] / scale,
        begin[spans],
        method="COBYQA",
        bounds=[(0.0, 1.0)] * int(spans.sum()),
        constraints=_constraints(search, lambda x: judged(x)[1]),
        options={"maxfev": tries, "initial_tr_radius": 0.1, "final_tr_radius": FINEST},
    )


def _step(search: Search, tries: int) -> None:
    """Go on from the best design along each list of values, by strides that double as long as one leads to a better
    one, until about `tries` designs were tried. Quadratic models leave lists as they are; they follow at the end."""
    space, stride = search.space, 1
    ways = [sign * way for way in np.eye(len(space.free))[space.whole] for sign in (-1, 1)]
    while ways and search.known and (left := tries - len(search.designs)) > 0:
        first = search.ordered()[0]
        beside = np.clip([space.point(first.values) + stride * way for way in ways], *np.array(space.ends).T)
        search.tried(space.designs(beside.T))
        if search.ordered()[0] is not first:
            stride *= 2
        elif stride > 1:
            stride //= 2
        else:
            _refine(search, left)
            if search.ordered()[0] is first:
                return


def _constraints(search: Search, excess: Callable[[Array], Array]) -> list[object]:
    from scipy.optimize import NonlinearConstraint

    return [NonlinearConstraint(excess, -np.inf, 0.0)] if search.aim.limits or search.aim.setpoint else []
