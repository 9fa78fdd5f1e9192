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
        lines = np.concatenate([*(w.edges for w in found), _outline(np.concatenate([w.cells for w in found]))]) / unit
        for shown, width, zorder in (("white", CASING, 3.1), (colour, WIDTH, 3.2)):
            axes.add_collection(
                LineCollection(list(lines), colors=shown, linewidths=width, capstyle="projecting", zorder=zorder)
            )


def _outline(cells: Array) -> Array:
    """(K, 2, 2) sides of cells with no other of them beyond; cells (L, 2, 2) by their low and high corner."""
    low, high = np.unique(cells, axis=0).transpose(1, 0, 2)
    corners = [np.column_stack([x[:, 0], y[:, 1]]) for x, y in ((low, low), (high, low), (low, high), (high, high))]
    sides = np.concatenate([np.stack([corners[a], corners[b]], 1) for a, b in ((0, 1), (2, 3), (0, 2), (1, 3))])
    found, count = np.unique(sides.reshape(-1, 4), axis=0, return_counts=True)
    return np.asarray(found[count == 1].reshape(-1, 2, 2))


def explain_wetted(sheet: Sheet, wetted: Sequence[Wetted]) -> None:
    """What these lines mean, below the drawing."""
    from matplotlib.lines import Line2D

    shown = [freezes for freezes in COLOURS if any(w.freezes == freezes for w in wetted)]
    if shown:
        lines = [Line2D([], [], color=COLOURS[freezes], lw=WIDTH) for freezes in shown]
        sheet.explain_below(lines, [WORDS[freezes] for freezes in shown])
