"""What a study found: its designs, and the values and bands of any answer over them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.answers.quantity import Array, Path, Quantity, find, find_all, main_quantities
from fdm.errors import FailedChecks
from fdm.studies.design import Design, design_in_words
from fdm.studies.directions import better, of_size

LEAST_SPREADING = 1e-3  # of the largest, among a study's main answers
ABOVE_SETPOINT = ("operating_point", "above_setpoint")


@dataclass(frozen=True)
class Study:
    """Designs in the order asked for, or the best first. `columns`: the asked answers, `names`: all that were set.
    `values(answer)` and `bands(answer)` are in the answer's own unit, `find(answer).unit`, SI or degC; `inputs` are as
    in the file. Printed, and in notebooks, it shows its table and what it finds.

    Answers are asked for by their path, a short name, or the beginning of a path; methods raise InputError for one that
    no design answers.
    """

    path: str
    names: tuple[str, ...]
    designs: tuple[Design, ...]
    columns: tuple[Quantity, ...]
    target: float
    remarks: tuple[str, ...] = field(default=(), compare=False)  # on its folder, such as that a file was damaged
    kinds: Mapping[str, str] = field(default_factory=dict, compare=False)  # name -> its unit, or COUNT

    @property
    def varied(self) -> tuple[str, ...]:
        """The names with more than one value."""
        return tuple(n for n in self.names if len({d.values[n] for d in self.designs}) > 1)

    @property
    def failed(self) -> tuple[Design, ...]:
        return tuple(d for d in self.designs if d.message)

    @cached_property
    def known(self) -> tuple[Quantity, ...]:
        """Everything that some design answers."""
        return known_in(self.designs)

    @cached_property
    def main(self) -> tuple[Quantity, ...]:
        """The answers that a builder looks at first: those with a value, without negligible spreading resistances.
        Where there are none, as in a window between two airs, couplings."""
        asked = main_quantities(self.known) or [q for q in self.known if q.family == "coupling"]
        main = [q for q in asked if np.isfinite(self.values(q)).any()]
        size = {q: np.nanmax(abs(self.values(q))) for q in main if q.family == "spreading"}
        least = LEAST_SPREADING * max(size.values(), default=0.0)
        return tuple(q for q in main if size.get(q, least) >= least)

    @cached_property
    def told(self) -> tuple[Quantity, ...]:
        """The answers that were asked for, or the main ones where none were."""
        return self.main if self.columns == _unset(self.known, self.names) else self.columns

    @property
    def missed(self) -> int:
        """Number of designs with an answer that misses the target."""
        return sum(not d.met for d in self.designs)

    def find(self, answer: str | Quantity) -> Quantity:
        """The one answer that is asked for."""
        return answer if isinstance(answer, Quantity) else find(answer, self.known)

    def inputs(self, name: str) -> Array:
        """(designs,) values of a varied name."""
        return np.array([d.values[name] for d in self.designs])

    def values(self, answer: str | Quantity) -> Array:
        """(designs,) values of an answer; NaN where a design failed or has none."""
        return values_of(self.find(answer), self.designs)

    def merit(self, answer: str | Quantity) -> Array:
        """(designs,) the numbers by which designs are compared: the answer's values, or the sizes of misreadings."""
        return merit_of(self.find(answer), self.designs)

    @cached_property
    def reaches_setpoint(self) -> NDArray[np.bool_]:
        """(designs,) whether a cabinet's modules, always on, bring its thermostat to the setpoint; true of sections."""
        above = next((self.values(q) for q in self.known if q.path == ABOVE_SETPOINT), np.zeros(len(self.designs)))
        return ~(above > 0)

    def better(self, answer: str | Quantity) -> str | None:
        """Which way of an answer is better, as `fdm.studies.directions` says; None where it is another for some of the
        designs, as where a face is cooled in some and heated in others."""
        path = self.find(answer).path
        sets = {id(d.answers.quantities): d.answers for d in self.designs if not d.message}.values()
        ways = {better(a.quantities[a.place[path]]) for a in sets if path in a.place}
        return ways.pop() if len(ways) == 1 else None

    def states_band(self, answer: str | Quantity) -> bool:
        """Whether the error of an answer is known; else the target stands for it."""
        return bool((~np.isnan(numbers_of(self.find(answer), self.designs)[1])).any())

    def bands(self, answer: str | Quantity) -> Array:
        """(designs,) half-widths of their errors; the study's target where none is stated, infinite where it is not
        known."""
        values, bands = numbers_of(self.find(answer), self.designs)
        if np.isnan(bands).all():
            return self.target * np.abs(values)
        return np.where(np.isnan(bands), np.inf, bands)


def known_in(designs: Sequence[Design]) -> tuple[Quantity, ...]:
    """Everything that some of the designs answer."""
    found: dict[Path, Quantity] = {}
    last = None
    for design in designs:
        if design.answers.quantities is not last:  # most designs of a study share theirs
            last = design.answers.quantities
            for quantity in last:
                found.setdefault(quantity.path, quantity)
    return tuple(found.values())


def values_of(quantity: Quantity, designs: Sequence[Design]) -> Array:
    """(designs,) their values of a quantity; NaN where a design failed or has none."""
    return numbers_of(quantity, designs)[0]


def merit_of(quantity: Quantity, designs: Sequence[Design]) -> Array:
    """(designs,) the numbers by which designs are compared: the quantity's values, or their sizes, where sizes
    count."""
    values = values_of(quantity, designs)
    return np.abs(values) if of_size(quantity) else values


def numbers_of(quantity: Quantity, designs: Sequence[Design]) -> tuple[Array, Array]:
    """(designs,) each, their values of a quantity and its bands; NaN where a design failed or has none."""
    values, bands = np.full((2, len(designs)), np.nan)
    last, k = None, None
    for j, design in enumerate(designs):
        answers = design.answers
        if answers.quantities is not last:  # most designs of a study share theirs
            last, k = answers.quantities, answers.place.get(quantity.path)
        if k is not None:
            values[j], bands[j] = answers.value[k], answers.band[k]
    return np.where(np.isfinite(values), values, np.nan), bands


def concluded(
    path: str,
    target: float,
    done: Sequence[Design],
    answers: Sequence[str] | None = None,
    remarks: Sequence[str] = (),
    kinds: Mapping[str, str] | None = None,
) -> Study:
    """The study of designs that are done, of the file at `path`; its columns are the `answers`, or the beginnings of
    such, or all that were not set. Raises FailedChecks where every design failed, and InputError for an unknown
    answer."""
    if all(d.message for d in done):
        why = done[0].message.removeprefix(f"{path}: ")
        raise FailedChecks(f"{path}: every design failed; the first, {design_in_words(done[0].values)}: {why}")
    names = tuple(dict.fromkeys(n for d in done for n in d.values))
    known = known_in(done)
    if answers:
        columns = tuple(dict.fromkeys(q for asked in answers for q in find_all(asked, known)))
    else:
        columns = _unset(known, names)
    return Study(path, names, tuple(done), columns, target, tuple(remarks), kinds or {})


def _unset(known: Sequence[Quantity], names: Sequence[str]) -> tuple[Quantity, ...]:
    """All but the named numbers that were set."""
    return tuple(q for q in known if q.family != "let" or q.path[1] not in names)
