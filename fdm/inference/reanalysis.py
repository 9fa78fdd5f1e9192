"""Reanalysis: what a file answers with some of its numbers changed, without solving it again on three grids.

Uncertainties, samples and fits need the answers of one file hundreds of times. It is solved once, on three grids; every
other answer is that one plus the difference that the changed numbers make on one coarse grid. The grid's own error
cancels in this difference.
"""

from collections.abc import Mapping
from os import PathLike
from typing import Protocol

from fdm.answers.quantity import Answers, Array
from fdm.cabinet.reader import is_cabinet
from fdm.errors import InputError, path_of, require_by_name, require_share, what_is
from fdm.inference.cabinet_reanalysis import CabinetReanalysis, cabinet_reanalysis
from fdm.inference.section_reanalysis import AS_IT_STANDS, Let, SectionReanalysis, section_reanalysis
from fdm.section.model import Uncertain


class Model(Protocol):
    """A file with uncertain inputs, and its answers where these differ: all that uncertainties and samples need."""

    @property
    def inputs(self) -> tuple[Uncertain, ...]:
        """Numbers that are only known within limits."""

    @property
    def answers(self) -> Answers:
        """The answers of the file as it stands."""

    def values(self, moved: Mapping[str, float]) -> Array:
        """(Q,) the answers with inputs `moved` from their nominal values, by place."""

    def ends(self, place: str, step: float) -> tuple[Array, Array]:
        """(Q,) the answers with one input less by `step`, and greater by it."""


def reanalysis(
    path: str | PathLike[str], let: Let = AS_IT_STANDS, target: float = 0.005
) -> SectionReanalysis | CabinetReanalysis:
    """The section or cabinet file at `path`, solved. Raises InputError where it cannot be read or solved.

    >>> model = reanalysis("geometries/light_bar.toml")
    >>> warm, cool = (model.values({"let film": move}) for move in (-1, 1))  # W/(m2 K) less and more than nominal
    >>> board = model.answers.number("LEDs")
    >>> bool(warm[board] > model.answers.value[board] > cool[board])
    True
    """
    name = path_of(path, "reanalysis", "section or cabinet file")
    require_share("target", target)
    require_by_name("let", let, '{"base": 4}')
    if is_cabinet(name):
        return cabinet_reanalysis(name, let, None, target)
    return section_reanalysis(name, let, None, target)


def model_of(given: object, where: str) -> Model:
    """A file's reanalysis, given as it is or by the file's path. Raises InputError for anything else."""
    if isinstance(given, (str, PathLike)):
        return reanalysis(given)
    if isinstance(given, (SectionReanalysis, CabinetReanalysis)):
        return given
    raise InputError(f"{where}: got {what_is(given)}; give the path of a file, or what reanalysis returned of it")
