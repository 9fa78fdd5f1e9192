"""The layers of a stack: which of them are the plate's, which are fins, and how thick each is."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Integers

OUTWARD = {"back": -1, "front": 1}


@dataclass(frozen=True)
class Layers:
    """L layers between lines z (L + 1,), see `fdm.grid.layers`, from the back to the front."""

    lines: Array

    @cached_property
    def share(self) -> Array:
        """(L,) of the thickness of the plate, or of the height of the fins."""
        return np.diff(self.lines)

    @cached_property
    def side(self) -> Integers:
        """(L,) 0 for the plate, -1 for fins on its back, 1 for fins on its front."""
        return np.floor((self.lines[1:] + self.lines[:-1]) / 2).astype(np.intp)

    @cached_property
    def of_plate(self) -> Integers:
        """Numbers of the plate's layers, from the back to the front."""
        return np.nonzero(self.side == 0)[0]

    @property
    def single(self) -> bool:
        """Whether the plate has one temperature through its thickness."""
        return len(self.of_plate) == 1

    def beside(self, face: str) -> int:
        """The number of the plate's layer beside a face."""
        return int(self.of_plate[0 if face == "back" else -1])

    def of_fins(self, face: str) -> Integers:
        """Numbers of the layers of fins on a face, from the root to the tip."""
        return self._of_fins[face]

    @cached_property
    def _of_fins(self) -> dict[str, Integers]:
        return {face: np.nonzero(self.side == way)[0][::way] for face, way in OUTWARD.items()}
