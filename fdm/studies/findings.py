"""What a study means for whoever cuts the metal, in sentences."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.answers.quantity import Array, Quantity, dotted
from fdm.answers.rounding import brief
from fdm.answers.units import shown_unit
from fdm.errors import InputError
from fdm.studies.design import Design, design_in_words
from fdm.studies.directions import HIGHER, of_size
from fdm.studies.result import ABOVE_SETPOINT, Study

WITHIN = 0.02  # of the best: as good, for whoever would rather have smaller numbers
FLAT = 0.01  # a step: a curve that changes less is flat
MOST_NAMED = 4  # designs listed in one sentence
DEGREES = 25.0  # K that shares of a temperature refer to, as 0 degC is no zero: 2 % are 0.5 K
EVEN = 3.0  # largest step over smallest, up to which "a step" of a curve means something


@dataclass(frozen=True)
class _Compared:
    """One answer of a study's designs. `value` and `band` are (designs,): what is compared, NaN where a design has
    none, and its band, infinite where it is not known; `best` is the number of the best design, and `eligible`
    (designs,) are those that may be."""

    study: Study
    quantity: Quantity
    value: Array
    band: Array
    eligible: NDArray[np.bool_]
    best: int

    @property
    def names(self) -> tuple[str, ...]:
        return self.study.varied

    @property
    def close(self) -> NDArray[np.bool_]:
        """(designs,) that cannot be told from the best."""
        return equal_to(self.value, self.band, self.best) & self.eligible

    def design(self, k: int) -> str:
        """The numbers of one design, in words."""
        return design_in_words(self.study.designs[k].values, self.names)

    def answer(self, k: int) -> str:
        """The answer of one design, in words."""
        return valued(self.quantity, float(self.value[k]), float(self.band[k]))


def findings(study: Study, answer: str | Quantity, *, maximise: bool | None = None) -> tuple[str, ...]:
    """Sentences on one answer: its best design; which others cannot be told from it, as their bands overlap; the
    smallest numbers that come within 2 % of it; beyond which number the curve is flat, less than 1 % a step; and what
    failed.

    Best is the highest value with `maximise`, the lowest with False; left out, what `fdm.studies.directions` says, and
    no design is best by an answer of which it says nothing. A cabinet that does not reach its setpoint is never best.

    Raises InputError for an unknown answer, and where nothing varies.
    """
    quantity = study.find(answer)
    if not study.varied:
        raise InputError("findings: nothing varies in this study; give a name two values or more")
    value, band = study.merit(quantity), study.bands(quantity)
    valueless = int((~np.isfinite(value)).sum())
    best = best_of(study, quantity, maximise)
    failures = _failures(study.failed, study.varied, len(study.designs))
    if valueless == len(value):
        return (f"No design has a value of the {quantity.words}.", *failures)
    known_band, eligible = np.where(np.isfinite(band), band, np.inf), study.reaches_setpoint
    x = _Compared(study, quantity, value, known_band, eligible, -1 if best is None else best)
    if best is None:
        out = _none_best(x)
    else:
        out = [_best(x, maximise), *_equal(x), *_at_an_end(x), _smallest(x)]
        if short := int((np.isfinite(value) & ~eligible).sum()):
            out.append(f"Of {len(value)} designs, {short} cannot be best, as the setpoint is not reached there.")
    if len(x.names) == 1:
        out += _flat(x)
    if not study.states_band(quantity):
        out.append(f"The result states no band for it; the study's target of {100 * study.target:g} % is taken.")
    if none := valueless - len(study.failed):
        out.append(f"{none} of {len(study.designs)} designs have no value of it.")
    return (*out, *failures)


def best_of(study: Study, quantity: Quantity, maximise: bool | None = None) -> int | None:
    """Number of the best design, the first of equals, as `findings` says; None where there is none."""
    if maximise is None:
        if (way := study.better(quantity)) is None:
            return None
        maximise = way == HIGHER
    value = np.where(study.reaches_setpoint, study.merit(quantity), np.nan)
    if not np.isfinite(value).any():
        return None
    return int(np.nanargmax(value) if maximise else np.nanargmin(value))


def without_setpoint(study: Study) -> str:
    """A sentence where no design of cabinets reaches its setpoint; empty else."""
    if study.reaches_setpoint.any():
        return ""
    above = study.values(dotted(ABOVE_SETPOINT))
    k = int(np.nanargmin(above))
    return (
        "No design reaches its setpoint, so none is best; the nearest, at "
        f"{design_in_words(study.designs[k].values, study.varied or None)}, stays {above[k]:.3g} K above it."
    )


def equal_to(value: Array, band: Array, best: int) -> NDArray[np.bool_]:
    """(designs,) whose values cannot be told from the best one's, as the bands reach into each other."""
    close: NDArray[np.bool_] = np.abs(value - value[best]) <= band + band[best]
    close[best] = True
    return close


def smallest_of(inputs: Array, chosen: NDArray[np.bool_]) -> list[int]:
    """The chosen designs for which no other chosen design has numbers as small in all and smaller in one.

    >>> smallest_of(np.array([[3.0, 20], [4, 20], [2, 30]]), np.array([True, True, True]))
    [0, 2]
    """
    numbers = np.nonzero(chosen)[0]
    x = inputs[numbers]
    return [
        int(k) for k, row in zip(numbers, x) if not ((x <= row).all(axis=1) & (x < row).any(axis=1)).any()
    ]  # fmt: skip


def allowance(quantity: Quantity, value: Array, share: float) -> Array:
    """A share of values; for temperatures in degC, of 25 K."""
    return share * (np.full_like(value, DEGREES) if quantity.unit == "degC" else np.abs(value))


def shared(quantity: Quantity, share: float) -> str:
    """A share of an answer in words."""
    return f"{share * DEGREES:g} K" if quantity.unit == "degC" else f"{100 * share:g} %"


def valued(quantity: Quantity, value: float, band: float) -> str:
    """An answer in words, in the unit that tables show it in; of a misreading its size."""
    symbol, size = shown_unit(quantity.unit, value)
    return brief(value / size, band / size, symbol)


def compared_name(quantity: Quantity) -> str:
    """What is compared, in a sentence."""
    return f"size of the {quantity.words}" if of_size(quantity) else quantity.words


def _none_best(x: _Compared) -> list[str]:
    """What is said of an answer by which no design is best."""
    low, high = int(np.nanargmin(x.value)), int(np.nanargmax(x.value))
    lowest, highest = f"{x.answer(low)}, at {x.design(low)}", f"{x.answer(high)}, at {x.design(high)}"
    spread = f"The {compared_name(x.quantity)} goes from {lowest}, to {highest}."
    if not x.eligible.any():
        return [spread, without_setpoint(x.study)]
    return [spread, "By it alone no design is best: what is right depends on what it should be, as a limit says."]


def _best(x: _Compared, maximise: bool | None) -> str:
    highest = maximise or (maximise is None and x.study.better(x.quantity) == HIGHER)
    which = "highest" if highest else "lowest"
    return f"The {which} {compared_name(x.quantity)} is {x.answer(x.best)}, at {x.design(x.best)}."


def _equal(x: _Compared) -> list[str]:
    others = [k for k in np.nonzero(x.close)[0].tolist() if k != x.best]
    if not others:
        return []
    some = "; ".join(x.design(k) for k in others[:MOST_NAMED])
    more = f" and {len(others) - MOST_NAMED} more" if len(others) > MOST_NAMED else ""
    return [f"Equal to it within the bands: {some}{more}."]


def _at_an_end(x: _Compared) -> list[str]:
    """Where a wider range may do better: the best is at an end, and clearly better than its neighbour inwards."""
    out = []
    value, band, best = x.value, x.band, x.best
    inputs = {n: x.study.inputs(n) for n in x.names}
    for name in x.names:
        steps = np.unique(inputs[name])
        at = inputs[name][best]
        if len(steps) < 2 or at not in (steps[0], steps[-1]):
            continue
        inward = steps[1] if at == steps[0] else steps[-2]
        beside = inputs[name] == inward
        for other in x.names:
            beside &= (other == name) | (inputs[other] == inputs[other][best])
        k = np.nonzero(beside)[0]
        if len(k) and np.isfinite(value[k[0]]) and abs(value[k[0]] - value[best]) > band[k[0]] + band[best]:
            end, tried = "smallest" if at == steps[0] else "largest", f"{steps[0]:.6g} to {steps[-1]:.6g}"
            out.append(f"That is the {end} {name} of those tried, {tried}; what lies beyond may be better still.")
    return out


def _smallest(x: _Compared) -> str:
    near = np.abs(x.value - x.value[x.best]) <= allowance(x.quantity, x.value[x.best : x.best + 1], WITHIN)
    near = (near | x.close) & x.eligible
    numbers = smallest_of(np.column_stack([x.study.inputs(n) for n in x.names]), near)
    which = [f"{x.design(k)} ({x.answer(k)})" for k in numbers]
    if len(x.names) == 1:
        number = which[0].partition(" = ")[2]
        return f"The smallest {x.names[0]} within {shared(x.quantity, WITHIN)} of the best is {number}."
    return f"The smallest within {shared(x.quantity, WITHIN)} of the best: {'; or '.join(which[:MOST_NAMED])}."


def _flat(compared: _Compared) -> list[str]:
    """A sentence on where the curve gets flat: from there on each step changes less than FLAT, or less than the
    bands. Where steps are finer than a tenth of the range, tenths count as steps."""
    quantity, (name,), inputs = compared.quantity, compared.names, compared.study.inputs(compared.names[0])
    order = np.argsort(inputs, kind="stable")
    order = order[np.isfinite(compared.value[order])]
    x, v, b = inputs[order], compared.value[order], compared.band[order]
    if len(x) < 3 or np.diff(x).max() > EVEN * np.diff(x).min():
        return []
    stride = max(x[1] - x[0], (x[-1] - x[0]) / 10)
    begin = np.minimum(x[:-1], x[-1] - stride)
    before, after = np.interp(begin, x, v), np.interp(begin + stride, x, v)
    step = np.abs(after - before)
    small = step <= np.maximum(allowance(quantity, np.maximum(np.abs(after), np.abs(before)), FLAT), b[1:] + b[:-1])
    each = "a step" if stride < 1.01 * (x[1] - x[0]) else f"for each {stride:.3g}"
    first = len(small) - int(np.argmin(small[::-1])) if not small.all() else 0
    if first == len(small):
        last = (
            f"{step[-1]:.2g} K" if quantity.unit == "degC" else f"{100 * step[-1] / max(abs(before[-1]), 1e-300):.2g} %"
        )
        what = f"its last {'step' if each == 'a step' else 'tenth'} changes"
        return [f"The curve is not flat at {name} = {x[-1]:.6g}: {what} {last}."]
    if first == 0:
        return [f"The curve is flat throughout: less than {shared(quantity, FLAT)} {each}; {name} hardly matters here."]
    return [f"Beyond {name} = {x[first]:.6g} the curve is flat: less than {shared(quantity, FLAT)} {each}."]


def warned(study: Study) -> tuple[str, ...]:
    """The designs' warnings, each once with the numbers of the first design that has it, and the number of designs."""
    by_words: dict[str, list[str]] = {}
    for design in study.designs:
        for words in dict.fromkeys(design.warnings):
            by_words.setdefault(re.sub(r"[\d.]+", "#", words), []).append(words)
    total = len(study.designs)
    return tuple(f"Warning for {len(all_)} of {total} designs: {all_[0]}." for all_ in by_words.values())


def _failures(failed: Sequence[Design], names: Sequence[str], total: int) -> list[str]:
    if not failed:
        return []
    by_message: dict[str, list[Mapping[str, float]]] = {}
    for d in failed:
        by_message.setdefault(d.message, []).append(d.values)
    out = [f"{len(failed)} of {total} designs failed."]
    for message, values in list(by_message.items())[:MOST_NAMED]:
        more = f" and {len(values) - 1} more" if len(values) > 1 else ""
        out.append(f"Failed at {design_in_words(values[0], names)}{more}: {message}")
    return out
