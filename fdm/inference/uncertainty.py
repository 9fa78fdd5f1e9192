"""The uncertainty of answers that comes from uncertain numbers of the file, apart from the grid's own error.

There are two ways:

- To first order (JCGM 100:2008, Evaluation of measurement data - Guide to the expression of uncertainty in measurement,
  5.1.2 and 5.1.3): the variance of an answer is the sum over all inputs, taken as independent, of the squared change
  that one standard uncertainty of the input makes.
- By samples of all inputs at once (JCGM 101:2008), which also holds where answers are not linear within the inputs'
  uncertainties.

Uncertainties are standard ones. Titles and numbers of both documents are cited from memory.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from os import PathLike

import numpy as np
from numpy.typing import NDArray
from scipy.stats import norm, qmc

from fdm.answers.quantity import Answers, Array
from fdm.errors import InputError, is_number, require_count, what_is
from fdm.inference.reanalysis import Model, model_of
from fdm.section.model import Uncertain

Progress = Callable[[str], None]

BENT = 0.3  # of the standard uncertainty: with larger second-order changes, the first order alone may mislead
MOST_LEFT_OUT = 0.05  # share of samples that may be impossible
SEED = 1


@dataclass(frozen=True)
class Share:
    """The part of one input in an answer's uncertainty: the change by its standard uncertainty, and the share of the
    variance."""

    input: Uncertain
    change: float
    share: float


@dataclass(frozen=True)
class Uncertainty:
    """The uncertainty of Q answers by I inputs, to first order. NaN where an answer, such as a time to the setpoint, is
    reached with some values of an input only."""

    answers: Answers
    inputs: tuple[Uncertain, ...]
    change: Array  # (I, Q) by one standard uncertainty of each input
    bend: Array  # (I, Q) change of second order by the same

    @cached_property
    def standard(self) -> Array:
        """(Q,) standard uncertainty of each answer by all inputs together."""
        return np.asarray(np.sqrt((self.change**2).sum(0)))

    @cached_property
    def bent(self) -> NDArray[np.bool_]:
        """(Q,) which answers are not linear enough in the inputs for the first order."""
        return np.asarray(abs(self.bend).sum(0) > BENT * self.standard)

    def shares(self, answer: int, count: int = 3) -> tuple[Share, ...]:
        """The inputs that matter most to answer number `answer`, the largest share of its variance first."""
        variance = self.change[:, answer] ** 2
        total = variance.sum()
        if not total > 0:
            return ()
        order = np.argsort(-variance, kind="stable")[:count]
        changes = self.change[:, answer]
        return tuple(Share(self.inputs[k], float(changes[k]), float(variance[k] / total)) for k in order if variance[k])


@dataclass(frozen=True)
class Sample:
    """Q answers in N samples. An answer that is never reached in a sample counts as infinite, and so does its mean."""

    answers: Answers
    inputs: tuple[Uncertain, ...]
    moves: Array  # (N, I) of the inputs from their nominal values, in the file's unit
    values: Array  # (N, Q)
    left_out: int  # samples in which the file makes no sense, such as a thickness below 0

    @cached_property
    def mean(self) -> Array:
        """(Q,)"""
        return np.asarray(self.values.mean(0))

    @cached_property
    def standard(self) -> Array:
        """(Q,) standard deviation; NaN where some samples are infinite."""
        with np.errstate(invalid="ignore"):
            return np.asarray(self.values.std(0, ddof=1))

    @cached_property
    def low(self) -> Array:
        """(Q,) 2.5 % of the samples lie below."""
        return np.quantile(self.values, 0.025, axis=0, method="inverted_cdf")

    @cached_property
    def high(self) -> Array:
        """(Q,) 97.5 % of the samples lie below."""
        return np.quantile(self.values, 0.975, axis=0, method="inverted_cdf")


def uncertainty(
    model: Model | str | PathLike[str], table: bool = True, progress: Progress | None = None
) -> Uncertainty:
    """The uncertainty of every answer to first order. `model` is a file's path; or what `reanalysis` returned of it, so
    that it is not solved again. `table` includes what is not stated by the file but usual: the spread of built-in
    materials, and the usual uncertainties of films, joints and modules' figures.

    Raises InputError where nothing is uncertain, or where an input cannot differ by its standard uncertainty.

    >>> from fdm.inference.reanalysis import reanalysis
    >>> found = uncertainty(reanalysis("geometries/light_bar.toml"), table=False)
    >>> board = found.answers.number("LEDs")
    >>> [share.input.place for share in found.shares(board, count=1)]
    ['let film']
    """
    model = model_of(model, "uncertainty")
    inputs = counted(model, table)
    change, bend = derivatives(model, inputs, progress)
    return Uncertainty(model.answers, inputs, change, bend)


def derivatives(model: Model, inputs: Sequence[Uncertain], progress: Progress | None = None) -> tuple[Array, Array]:
    """(I, Q) change of every answer by one standard uncertainty of each input, and what the second order adds.

    By central differences over one standard uncertainty to either side (JCGM 100:2008, 5.1.3, note 2): wide enough to
    drown the solver's noise, and fair where an answer bends. A section is solved for them only where an edge moves.
    """
    middle = model.answers.value
    change, bend = np.zeros((2, len(inputs), len(middle)))
    for k, u in enumerate(inputs):
        if progress:
            progress(f"moving {u.place} ({k + 1} of {len(inputs)})")
        try:
            low, high = model.ends(u.place, u.uncertainty)
        except InputError as error:
            raise InputError(
                f"{error}, where {u.place} differs by its standard uncertainty of {u.uncertainty:g}; give a smaller one"
            ) from None
        with np.errstate(invalid="ignore"):  # never reached
            change[k], bend[k] = (high - low) / 2, (high + low) / 2 - middle
        at_neither = ~np.isfinite([middle, low, high]).any(0)  # never reached, with no value of this input
        change[k, at_neither], bend[k, at_neither] = 0.0, 0.0
    never = ~np.isfinite(change)
    change[never], bend[never] = np.nan, np.nan
    return change, bend


def sample(
    model: Model | str | PathLike[str],
    count: int,
    table: bool = True,
    seed: int = SEED,
    progress: Progress | None = None,
) -> Sample:
    """Every answer in `count` samples of all inputs at once, from scrambled Sobol points; the same for the same `seed`.

    `model` and `table` are as in `uncertainty`. Raises InputError where nothing is uncertain, or more than 5 % of the
    samples are impossible.

    >>> from fdm.inference.reanalysis import reanalysis
    >>> found = sample(reanalysis("geometries/light_bar.toml"), 16, table=False)
    >>> board = found.answers.number("LEDs")
    >>> found.values.shape == (16, len(found.answers.quantities))
    True
    >>> bool(found.low[board] < found.mean[board] < found.high[board])
    True
    """
    require_count("sample", count, "samples")
    if count < 2:
        raise InputError(f"sample: {count} is too few to tell a spread; give a number of samples such as 200")
    if not is_number(seed) or seed < 0 or seed != seed // 1:
        raise InputError(f"seed: {what_is(seed)} is no whole number of 0 or more")
    model = model_of(model, "sample")
    inputs = counted(model, table)
    points = qmc.Sobol(len(inputs), seed=int(seed)).random_base2(math.ceil(math.log2(count)))
    moves = _moves(inputs, points[:count])
    kept, values, last = [], [], ""
    for k, row in enumerate(moves):
        if progress:
            progress(f"sample {k + 1} of {count}")
        try:
            values.append(model.values({u.place: float(move) for u, move in zip(inputs, row)}))
            kept.append(k)
        except (InputError, ArithmeticError) as error:
            last = str(error)
    left_out = count - len(kept)
    if left_out > MOST_LEFT_OUT * count or len(kept) < 2:
        raise InputError(
            f"{left_out} of {count} samples make no sense, such as: {last}; give its input a smaller uncertainty, "
            "or { between = [low, high] }"
        )
    return Sample(model.answers, inputs, moves[kept], np.array(values), left_out)


def counted(model: Model, table: bool) -> tuple[Uncertain, ...]:
    """The inputs, those that a built-in table states only with `table`. Raises InputError where there are none."""
    inputs = tuple(u for u in model.inputs if table or not u.from_table)
    if not inputs:
        raise InputError(
            "no number of the file has an uncertainty; write one as { value = .., uncertainty = .. } or "
            "{ between = [low, high] }"
        )
    return inputs


def _moves(inputs: Sequence[Uncertain], quantiles: Array) -> Array:
    """(N, I) moves at quantiles (N, I) of each input's distribution."""
    out: Array = norm.ppf(quantiles)
    for k, u in enumerate(inputs):
        if u.between is None:
            out[:, k] *= u.uncertainty
        else:
            low, high = u.between
            out[:, k] = low + quantiles[:, k] * (high - low) - u.nominal
    return out
