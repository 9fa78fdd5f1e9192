"""What a study found: its designs, and the values and bands of any answer over them."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.errors import InputError
from fdm.studies import paths
from fdm.studies.design import Design, said
from fdm.studies.paths import Array

LEAST_SPREADING = 1e-3  # of the largest, among a study's main answers


@dataclass(frozen=True)
class Study:
    """Designs in the order asked for, or the best first. `columns`: the asked answers, `names`: all that were set.

    Answers are asked for by their path; methods raise InputError for one that no design answers.
    """

    path: str
    names: tuple[str, ...]
    designs: tuple[Design, ...]
    columns: tuple[str, ...]
    target: float

    @property
    def varied(self) -> tuple[str, ...]:
        """The names with more than one value."""
        return tuple(n for n in self.names if len({d.values[n] for d in self.designs}) > 1)

    @property
    def failed(self) -> tuple[Design, ...]:
        return tuple(d for d in self.designs if d.message)

    @cached_property
    def known(self) -> tuple[str, ...]:
        """Every path that some design answers."""
        return tuple(dict.fromkeys(path for d in self.designs for path in d.answers))

    @cached_property
    def main(self) -> tuple[str, ...]:
        """What a builder looks at first, of the answers that have a value; no spreading that is next to nothing."""
        valued = [p for p in self.known if any(d.answers.get(p) is not None for d in self.designs)]
        main = paths.main_answers(valued)
        size = {p: np.nanmax(abs(self.values(p))) for p in main if paths.family(p) == "spreading"}
        least = LEAST_SPREADING * max(size.values(), default=0.0)
        return tuple(p for p in main if size.get(p, least) >= least)

    @property
    def missed(self) -> int:
        """Number of designs with an answer that misses the target."""
        return sum(not paths.meets_target(d.answers) for d in self.designs)

    def inputs(self, name: str) -> Array:
        """(designs,) values of a varied name."""
        return np.array([d.values[name] for d in self.designs])

    def values(self, answer: str) -> Array:
        """(designs,) values of an answer; NaN where a design failed or has none."""
        return values_of(paths.found(answer, self.known), self.designs)

    def merit(self, answer: str) -> Array:
        """(designs,) what is compared of an answer: its values, or of a misreading their sizes."""
        return paths.merit(paths.found(answer, self.known), self.values(answer))

    def states_band(self, answer: str) -> bool:
        """Whether the error of an answer is known; else the target stands for it."""
        path = paths.found(answer, self.known)
        return paths.is_given(path) or paths.band_path(path, self.known) is not None

    def bands(self, answer: str) -> Array:
        """(designs,) half-widths of their errors; the study's target where the result states none."""
        path = paths.found(answer, self.known)
        if paths.is_given(path):
            return np.zeros(len(self.designs))
        band = paths.band_path(path, self.known)
        if band is None:
            return self.target * np.abs(self.values(path))
        return np.array([np.inf if (b := d.answers.get(band)) is None else b for d in self.designs])


def values_of(path: str, designs: Sequence[Design]) -> Array:
    """(designs,) their answers at a path; NaN where a design failed or has none."""
    return np.array([np.nan if (v := d.answers.get(path)) is None else v for d in designs])


def concluded(path: str, target: float, done: Sequence[Design], answers: Sequence[str] | None = None) -> Study:
    """The study of designs that are done, of the file at `path`; its columns are the `answers`, or the beginnings of
    such, or all that were not set. Raises InputError where every design failed, and for an unknown answer."""
    if all(d.message for d in done):
        why = done[0].message.removeprefix(f"{path}: ")
        raise InputError(f"{path}: every design failed; the first, {said(done[0].values)}: {why}")
    names = tuple(dict.fromkeys(n for d in done for n in d.values))
    known = tuple(dict.fromkeys(p for d in done for p in d.answers))
    if answers:
        columns = tuple(dict.fromkeys(p for asked in answers for p in paths.found_all(asked, known)))
    else:
        columns = tuple(p for p in known if p not in {f"let.{n}" for n in names})
    return Study(path, names, tuple(done), columns, target)
