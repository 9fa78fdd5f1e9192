"""Fins eliminated from a stack, exactly.

Fins conduct along themselves and upwards only. So each line of cells along them is a sheet of its own, which hangs on
the plate by its roots:

    layers[-1]   o--o--o--o  o--o--o      a line of m cells, with a gap: a hole in the plate, or the end of a group
                 |  |  |  |  |  |  |
    layers[0]    o--o--o--o  o--o--o
                 |  |  |  |  |  |  |      up[0], the roots
    plate        o--o--o--o--o--o--o

From the tips to the roots each layer is replaced by what it takes out of the one below, by a dense matrix (m, m) for
each line. Lines that are alike, as nearly all are, share theirs.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers

ALIKE = 9  # digits to which lines that share their matrices agree


@dataclass(frozen=True)
class FinLines:
    """The fins of one direction on one face: K lines of m cells in M layers. Lines along y are those of (n, m), lines
    along x its columns."""

    layers: Integers  # (M,) their numbers, from the roots to the tips
    beside: int  # number of the plate's layer that they stand on
    along_x: bool
    up: Array  # (M, K, m) W/K from the layer before
    width: Array  # (K,) m of each line
    number: Integers  # (K,) by which of U matrices a line goes
    inverse: Array  # (M, U, m, m) K m/W, of each layer with all layers beyond it

    def drawn(self, t: Array) -> Array:
        """(E, n, m) W that fins draw less than roots with 0 above them would, at temperatures (E, n, m) of the
        plate."""
        right = self.up[0] * self._lines(t)
        of_first = right @ self.inverse[0, 0] if self._alike else (self._roots @ right[..., None])[..., 0]
        return self._lines(self.up[0] / self.width[:, None] * of_first)

    def passed(self, right: Array) -> tuple[Array, Array]:
        """Of watts (E, L, n, m) into the cells: (M, E, K, m) what each layer has with all that comes from beyond it,
        and (E, n, m) what comes to the plate."""
        watts = np.stack([np.where(self.up[0] > 0, self._lines(right[:, k]), 0.0) for k in self.layers.tolist()])
        for k in range(len(watts) - 1, 0, -1):
            watts[k - 1] += self.up[k] * self._temperatures(k, watts[k])
        return watts, self._lines(self.up[0] * self._temperatures(0, watts[0]))

    def fill(self, t: Array, watts: Array) -> None:
        """Write the temperatures of the fins into t (E, L, n, m), which has those of the plate; with `watts` (M, E, K,
        m) in each layer, see `passed`."""
        below, on = self._lines(t[:, self.beside]), self._lines(self.up[0] > 0)
        for k, layer in enumerate(self.layers.tolist()):
            below = self._temperatures(k, self.up[k] * below + watts[k])
            np.copyto(t[:, layer], self._lines(below), where=on)

    def _temperatures(self, k: int, watts: Array) -> Array:
        """(E, K, m) of a layer, by watts into it."""
        of_unit: Array
        if self._alike:
            of_unit = watts @ self.inverse[k, 0]
        else:
            of_unit = (self.inverse[k][self.number] @ watts[..., None])[..., 0]
        return of_unit / self.width[:, None]

    @property
    def _alike(self) -> bool:
        return len(self.inverse[0]) == 1

    @cached_property
    def _roots(self) -> Array:
        return np.asarray(self.inverse[0][self.number])

    def _lines(self, cells: Array) -> Array:
        """(..., K, m) from (..., n, m), and back."""
        return cells.swapaxes(-1, -2) if self.along_x else cells


def fin_lines(
    layers: Integers, beside: int, along_x: bool, on: Bools, along: Array, up: Array, to_fixed: Array, width: Array
) -> FinLines:
    """Of the cells that are `on` (K, m), in lines of `width` (K,) m: conductances between them along (M, K, m - 1),
    from the layer before up (M, K, m), and to_fixed (M, K, m), W/K."""
    along, up = np.where(on[:, 1:] & on[:, :-1], along, 0.0), np.where(on, up, 0.0)
    own = np.where(on, to_fixed, width[:, None]) + up  # any number will do where there is no fin
    own[:-1] += up[1:]
    own[..., 1:] += along
    own[..., :-1] += along
    lines = (np.concatenate([own, up, along], 2) / width[:, None]).swapaxes(0, 1)  # (K, M, 3 m - 1)
    rounded = np.round(lines / lines.max(), ALIKE).reshape(len(lines), -1)
    of_bytes = rounded.view(f"V{rounded[0].nbytes}")  # rows as one each, which are sorted far faster
    _, first, number = np.unique(of_bytes, return_index=True, return_inverse=True)
    m = on.shape[1]
    kinds = lines[first].swapaxes(0, 1)  # (M, U, ...)
    own, rises, along = kinds[..., :m], kinds[..., m : 2 * m], kinds[..., 2 * m :]
    inverse, each = np.zeros((*own.shape, m)), np.arange(m)
    for k in range(len(own) - 1, -1, -1):
        matrix = inverse[k]
        matrix[:, each, each] = own[k]
        matrix[:, each[1:], each[:-1]] = matrix[:, each[:-1], each[1:]] = -along[k]
        if k + 1 < len(own):
            matrix -= rises[k + 1][..., None] * inverse[k + 1] * rises[k + 1][:, None]
        inverse[k] = np.linalg.inv(matrix)
    return FinLines(layers, beside, along_x, up, width, number.ravel(), inverse)
