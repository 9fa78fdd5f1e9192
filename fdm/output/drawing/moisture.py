"""Lines along surfaces that sweat or freeze, and what they mean, below the drawing."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from fdm.answers.moisture import Wetted
from fdm.conduction.arrays import Array
from fdm.output.drawing.sheet import Sheet
from fdm.solving.solution import Solution

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# by whether it freezes
COLOURS = {False: "#0026ff", True: "#00e5ff"}
WORDS = {False: "sweats: water settles from its air", True: "freezes: ice settles from its air"}
WIDTH, CASING = 2.2, 3.8  # points; the white casing keeps a line apart from what is as blue below it


def wetted_on(solution: Solution, face: str | None) -> list[Wetted]:
    """What sweats and freezes; of a plate in layers, not what does in air at its other face alone."""
    plates, fins = solution.section.parts, solution.section.fins
    airs = {
        side: {getattr(p, side) for p in plates} | {f.environment for f in fins if f.face == side}
        for side in ("front", "back")
    }
    elsewhere = airs["back" if face == "front" else "front"] - airs[face] if face in airs else set()
    return [w for w in solution.wetted if w.air not in elsewhere]


def draw_wetted(axes: "Axes", wetted: Sequence[Wetted], unit: float) -> None:
    """A line along each surface that sweats or freezes, and around what does on plates seen face on; `unit` (m) is that
    of the axes."""
    from matplotlib.collections import LineCollection

    for freezes, colour in COLOURS.items():
        found = [w for w in wetted if w.freezes == freezes]
        if not found:
            continue
        cells, below = np.concatenate([w.cells for w in found]), np.concatenate([w.below for w in found])
        lines = np.concatenate([*(w.edges for w in found), *_outline(cells, below)]) / unit
        for shown, width, zorder in (("white", CASING, 3.1), (colour, WIDTH, 3.2)):
            axes.add_collection(
                LineCollection(list(lines), colors=shown, linewidths=width, capstyle="round", zorder=zorder)
            )


def _outline(cells: Array, below: Array) -> tuple[Array, Array]:
    """Lines (K, 2, 2) around where `below` (L,) is above 0, on cells (L, 2, 2) by their low and high corner: across
    cells, whose corners lie between those that meet there; and along sides of cells with no other beyond."""
    if not len(cells):
        return np.empty((0, 2, 2)), np.empty((0, 2, 2))
    low, which = np.unique(cells[:, 0], axis=0, return_inverse=True)
    high, most = np.empty_like(low), np.full(len(low), -np.inf)  # of fins, of both faces: what is most below
    high[which.ravel()] = cells[:, 1]
    np.maximum.at(most, which.ravel(), below)
    around = [np.column_stack([x[:, 0], y[:, 1]]) for x, y in ((low, low), (high, low), (high, high), (low, high))]
    corners, number = np.unique(np.concatenate(around), axis=0, return_inverse=True)
    number = number.reshape(4, -1)  # of the corners of each cell, one after another around it
    weight = 1 / (high - low).prod(1)  # straight lines from middle to middle, also where one cell is wider
    value = np.bincount(number.ravel(), np.tile(most * weight, 4)) / np.bincount(number.ravel(), np.tile(weight, 4))
    middle = len(corners) + np.arange(len(low))
    # middles are as flattened as corners, or lines would wave; but for a cell that is wet alone
    around_it = np.where((value[number] <= 0).all(0) & (most > 0), most, value[number].mean(0))
    corners, value = np.concatenate([corners, (low + high) / 2]), np.concatenate([value, around_it])
    ends = np.stack([number, np.roll(number, -1, 0)], -1).reshape(-1, 2)  # of the sides of all cells
    _, first, times = np.unique(np.sort(ends, 1), axis=0, return_index=True, return_counts=True)
    corner = np.column_stack([ends, np.tile(middle, 4)])  # of four triangles in each cell
    rim = ends[first[times == 1]]
    return _level(corners[corner], value[corner]), _above(corners[rim], value[rim])


def _level(corners: Array, values: Array) -> Array:
    """(K, 2, 2) lines across triangles (L, 3, 2) where the values (L, 3) of their corners pass 0."""
    after, value_after = np.roll(corners, -1, 1), np.roll(values, -1, 1)
    crosses = (values > 0) != (value_after > 0)
    share = values / np.where(crosses, values - value_after, 1.0)
    return np.asarray((corners + share[..., None] * (after - corners))[crosses].reshape(-1, 2, 2))


def _above(ends: Array, values: Array) -> Array:
    """(K, 2, 2) those of the lines (L, 2, 2) along which values, of their ends (L, 2), are above 0, as far as they
    are."""
    wet = np.asarray(values > 0)
    share = np.clip(values / np.where(wet & ~wet[:, ::-1], values - values[:, ::-1], 1.0), 0, 1)
    to_zero = ends + share[..., None] * (ends[:, ::-1] - ends)
    return np.asarray(np.where(wet[..., None], ends, to_zero[:, ::-1])[wet.any(1)])


def explain_wetted(sheet: Sheet, wetted: Sequence[Wetted]) -> None:
    """What these lines mean, below the drawing."""
    from matplotlib.lines import Line2D

    shown = [freezes for freezes in COLOURS if any(w.freezes == freezes for w in wetted)]
    if shown:
        lines = [Line2D([], [], color=COLOURS[freezes], lw=WIDTH) for freezes in shown]
        sheet.explain_below(lines, [WORDS[freezes] for freezes in shown])
