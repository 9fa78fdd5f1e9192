"""Reanalysis: what a file answers with some of its numbers moved, without solving it anew.

Uncertainties, samples and fits ask one file hundreds of times. It is solved once, well; every other answer is that one
plus the change that the moved numbers make on a coarse grid, so that the grid's own error falls out of the difference.
"""

from collections.abc import Mapping
from os import PathLike, fspath
from typing import Protocol

from fdm.answers.quantity import Answers, Array
from fdm.cabinet.reader import is_cabinet
from fdm.inference.cabinet_reanalysis import CabinetReanalysis, cabinet_reanalysis
from fdm.inference.section_reanalysis import AS_IT_STANDS, Let, SectionReanalysis, section_reanalysis
from fdm.section.model import Uncertain


class Model(Protocol):
    """A file with uncertain inputs, and its answers where these are moved: what uncertainties need of one."""

    @property
    def inputs(self) -> tuple[Uncertain, ...]:
        """Numbers that are only known within limits."""

    @property
    def answers(self) -> Answers:
        """As the file stands."""

    def values(self, moved: Mapping[str, float]) -> Array:
        """(Q,) the answers with moves of the inputs, by place."""

    def ends(self, place: str, step: float) -> tuple[Array, Array]:
        """(Q,) the answers with one input a step less, and a step more."""


def reanalysis(
    path: str | PathLike[str], let: Let = AS_IT_STANDS, target: float = 0.005
) -> SectionReanalysis | CabinetReanalysis:
    """A section or a cabinet file, whichever it is, solved. Raises InputError where it cannot be read or solved."""
    if is_cabinet(path):
        return cabinet_reanalysis(path, let, None, target)
    return section_reanalysis(fspath(path), let, None, target)
