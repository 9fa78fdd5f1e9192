"""The best design within ranges of named numbers, subject to limits on other answers."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from os import PathLike

import numpy as np
from numpy.typing import NDArray

from fdm.accuracy.refinement import TARGET
from fdm.answers.quantity import Quantity
from fdm.errors import InputError, require_count, texts_of
from fdm.studies.aims import Aim, Limit, Wish, Wishes
from fdm.studies.choices import Values, choices, whole_numbers
from fdm.studies.design import design_in_words
from fdm.studies.directions import HIGHER
from fdm.studies.findings import MOST_NAMED, WITHIN, allowance, compared_name, shared, smallest_of, valued
from fdm.studies.job import Given, job_of
from fdm.studies.result import Study, concluded
from fdm.studies.run import Say, write_done
from fdm.studies.search import Search, Space, try_designs
from fdm.studies.store import Kept, alone_in, write_table
from fdm.studies.workers import Workers, workbench

TRIES = 150
AT_LIMIT = 0.01  # of a limit's bound: a value that is nearer counts as at the bound
AT_END = 0.005  # of a range: a value that is nearer counts as at its end
JUST = 0.1  # K below the setpoint: less counts as only just


@dataclass(frozen=True)
class LimitMet:
    """A limit, and the value of the best design. `active`: the value is at the bound, which holds the goal back."""

    limit: Limit
    value: float
    band: float
    active: bool


@dataclass(frozen=True)
class Optimum:
    """The best design that was tried; where none meets every limit, the nearest to it, and `feasible` is False."""

    values: Mapping[str, float]
    goal: str  # its whole path
    value: float
    band: float
    feasible: bool
    limits: tuple[LimitMet, ...]
    at_ends: tuple[str, ...]  # names that lie at an end of their range
    study: Study  # every design tried, the best first
    sentences: tuple[str, ...]
    shown: tuple[Quantity, ...] = ()  # the goal, what is limited, and the further answers


def best(
    given: Given,
    ranges: Mapping[str, Values] | Iterable[tuple[str, Values]],
    goal: str,
    *,
    maximise: bool = False,
    subject: str | Sequence[str] = (),
    answers: str | Sequence[str] = (),
    tries: int = TRIES,
    workers: Workers = None,
    out: str | PathLike[str] | None = None,
    target: float = TARGET,
    progress: Say | None = None,
) -> Optimum:
    """The design with the lowest `goal` (with `maximise`, the highest) that meets every limit in `subject`.

    `goal` is a path in the JSON result. A limit is text such as `"bridge.bolt.chi < 0.02"`; 0.02 itself meets it. Of a
    misreading, the size counts. A cabinet that does not reach its setpoint is no best design. [let] may hold names made
    for this purpose, such as `weight`, whose path is `let.weight`. `answers` are further paths, or beginnings of such,
    that `Optimum.shown` has.

    `ranges` are `low:high`; or `low:high:step` or `3,4,6,10` where only some numbers can be bought or counted. Where
    all ranges are of the second kind, with at most `tries` combinations, all combinations are tried. Otherwise about
    `tries` designs are tried: first differential evolution (R. Storn, K. Price, J. Global Optim. 11 (1997) 341; limits
    as in J. Lampinen 2002) in generations that are solved side by side, then a search around the best by quadratic
    models (COBYQA; T.M. Ragonneau, Z. Zhang 2023). The same call always tries the same designs. `given`, `workers`,
    `out`, `target` and `progress` are those of `study`.

    Raises InputError as `study` does, and for limits that cannot be read.

    >>> found = best("geometries/bolt.toml", {"foam": "40,50,60"}, "bridge.bolt with its bush.chi", workers=1)
    >>> found.values, found.feasible, len(found.study.designs)
    ({'foam': 60.0}, True, 3)
    """
    job = job_of(given, target, out)
    (goal,), subject = texts_of([goal], "goal", "'let.base'"), texts_of(subject, "subject", "'bridge.bolt.chi < 0.02'")
    answers = texts_of(answers, "answers", "'sensors'")
    require_count("tries", tries, "designs")
    space = Space(whole_numbers(choices(ranges), job.counted))
    wishes = Wishes(goal, maximise, tuple(map(Wish.read, subject)), tuple(answers))
    job.checked([space.first()])
    job.refuse_unknown(space.first(), wishes.refuse_unknown)
    with alone_in(out):
        kept = Kept(job.study, out)
        with workbench(workers, tries) as bench:
            search = Search(job, kept, bench, space, wishes, progress)
            try:
                try_designs(search, tries)
            except BaseException:  # ^C as well
                write_done(job, search.ordered(), out)
                raise
        found = concluded(job.path, target, search.ordered(), remarks=kept.remarks, kinds=job.kinds)
        if out is not None:
            write_table(found, out)
    return _optimum(found, search.aim, space)


def _optimum(study: Study, aim: Aim, space: Space) -> Optimum:
    """The first of the study's designs as the optimum, with sentences about it."""
    first, misses = study.designs[0], aim.misses(study.designs)
    if not np.isfinite(aim.goals([first])[0]):
        raise InputError(f"{study.path}: goal: no design tried has a value of {aim.goal.name!r}; choose another")
    met = tuple(_met(study, limit) for limit in aim.limits)
    feasible = bool(misses[0] <= 0)
    at_ends = _at_ends(space, first.values)
    if feasible:
        sentences = [_best(study, aim, space, met), *map(_limit_in_words, met)]
        sentences += _smaller(study, aim, space, misses <= 0)
        sentences += _setpoint_in_words(study, aim)
    else:
        sentences = [_nearest(study, aim, space, met)]
    for name, end in at_ends:
        low, high = space.bounds(name)
        sentences.append(
            f"{name} lies at the {end} end of its range, {low:.6g} to {high:.6g}; beyond it may be better still."
        )
    way = study.better(aim.goal)
    if way is not None and (way == HIGHER) != aim.maximise:
        asked, other = ("highest", "lower") if aim.maximise else ("lowest", "higher")
        sentences.append(f"The {asked} was asked for, though {other} is better of {aim.goal.words}.")
    value, band = float(study.merit(aim.goal)[0]), float(study.bands(aim.goal)[0])
    many = len(study.designs)
    shown = tuple(dict.fromkeys([aim.goal, *(x.quantity for x in aim.limits), *aim.also]))
    return Optimum(
        dict(first.values), aim.goal.name, value, band, feasible, met, tuple(name for name, _ in at_ends), study,
        (*sentences, f"{many} design{' was' if many == 1 else 's were'} tried."), shown,
    )  # fmt: skip


def _met(study: Study, limit: Limit) -> LimitMet:
    value, band = float(study.merit(limit.quantity)[0]), float(study.bands(limit.quantity)[0])
    near = max(2 * band if math.isfinite(band) else 0.0, AT_LIMIT * abs(limit.bound))
    return LimitMet(limit, value, band, abs(value - limit.bound) <= near)


def _at_ends(space: Space, values: Mapping[str, float]) -> list[tuple[str, str]]:
    """The names whose value lies at an end of its range, and which end."""
    out = []
    for name, at, (low, high), whole in zip(space.free, space.point(values), space.ends, space.whole):
        near = 0.0 if whole else AT_END
        if at - low <= near or high - at <= near:
            out.append((name, "lower" if at - low <= near else "upper"))
    return out


def _goal_of(study: Study, aim: Aim, k: int) -> str:
    """The goal of one design, in words."""
    return valued(aim.goal, float(study.merit(aim.goal)[k]), float(study.bands(aim.goal)[k]))


def _here(study: Study, space: Space) -> str:
    return design_in_words(study.designs[0].values, space.free or None)


def _nearest(study: Study, aim: Aim, space: Space, met: Sequence[LimitMet]) -> str:
    missed = [m for m in met if not (m.value <= m.limit.bound if m.limit.below else m.value >= m.limit.bound)]
    gaps = [f"has {_value_or_none(m)} where {m.limit} is asked" for m in missed]
    for limit in aim.setpoint:
        if (above := float(study.values(limit.quantity)[0])) > 0:
            gaps.append(f"stays {above:.3g} K above its setpoint")
    what = "meets every limit" if met else "reaches its setpoint"
    return (
        f"No design tried {what}; the nearest, at {_here(study, space)}, {'; '.join(gaps)}. "
        f"Its {compared_name(aim.goal)} is {_goal_of(study, aim, 0)}."
    )


def _setpoint_in_words(study: Study, aim: Aim) -> list[str]:
    """A sentence where the best design only just reaches its setpoint."""
    return [
        f"It only just reaches its setpoint, with {-above:.2g} K to spare, which holds the goal back."
        for limit in aim.setpoint
        if (above := float(study.values(limit.quantity)[0])) > -JUST
    ]


def _value_or_none(m: LimitMet) -> str:
    return valued(m.limit.quantity, m.value, m.band) if math.isfinite(m.value) else "no value"


def _best(study: Study, aim: Aim, space: Space, met: Sequence[LimitMet]) -> str:
    which, limited = "highest" if aim.maximise else "lowest", " that meets every limit" if met else ""
    at = "" if aim.goal.path == ("let", *space.free) else f", at {_here(study, space)}"  # the same again
    return f"The {which} {compared_name(aim.goal)}{limited} is {_goal_of(study, aim, 0)}{at}."


def _limit_in_words(m: LimitMet) -> str:
    end = "active: it holds the goal back" if m.active else "not active"
    unsure = ", though by less than its band" if abs(m.value - m.limit.bound) < m.band else ""
    return f"{m.limit}: met{unsure}, with {valued(m.limit.quantity, m.value, m.band)}; {end}."


def _smaller(study: Study, aim: Aim, space: Space, meets: NDArray[np.bool_]) -> list[str]:
    """A sentence on the designs that meet every limit and are as good as the first, with smaller numbers."""
    value, bands = study.merit(aim.goal), study.bands(aim.goal)
    room = np.maximum(bands + bands[0], allowance(aim.goal, value[:1], WITHIN))
    close = meets & (np.abs(value - value[0]) <= room)
    inputs = np.array([[d.values[n] for n in space.free] for d in study.designs]).reshape(len(value), len(space.free))
    others = [
        f"{design_in_words(study.designs[k].values, space.free)} ({_goal_of(study, aim, k)})"
        for k in smallest_of(inputs, close)
        if k != 0
    ]
    if not others:
        return []
    some = "; or ".join(others[:MOST_NAMED])
    return [f"As good within {shared(aim.goal, WITHIN)} or the bands, with smaller numbers: {some}."]
