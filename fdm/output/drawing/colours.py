"""Colours of the pictures, and hatches. A material's hatch tells its kind: foam, plastic, paste or metal. Two materials
of one kind differ in colour, also to eyes that tell red and green, or blue and yellow, not apart
(`tests/output/drawing/test_colours.py`). Air has no hatch: cold air is blue, warm air rose.
"""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from fdm.section.model import CLOSED_AIR, SIDES, Environment, Section

if TYPE_CHECKING:
    from matplotlib.colors import Colormap

Array = NDArray[np.float64]
Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Owners = NDArray[np.int32]

INK, FAINT = "#2b2f36", "#8a9099"
HEAT, HELD, JOINT, SENSOR = "#c0392b", "#6c4a9e", "#d07a1f", "#0b3d5c"
DETAIL = "#7b2d8e"  # frames around a piece that is drawn twice
ADIABATIC, DASHES = "#5d6167", (0.0, (2.5, 1.8))  # edges through which no heat passes
TEMPERATURE_COLOURS = ["#2f6690", "#6aa3c4", "#b5d5df", "#f3ecd2", "#f2c078", "#de7c4a", "#b23a3a"]
ENVIRONMENT_COLOURS = ["#c6e0f5", "#f0f1f3", "#f8d2c2"]  # coldest to warmest
VOID_LINES = "#adadad"
HATCH_SHADE = 0.8  # of a colour, for the lines on it
HATCH_PERIOD = 28  # pixels between hatch lines; that over n where the hatch has n signs, as matplotlib has it


@dataclass(frozen=True)
class Kind:
    """Materials that conduct better than those of the kind before, up to `most` W/(m K)."""

    most: float
    hatch: str
    colours: tuple[str, ...]


# the limits lie where the built-in table has gaps; the colours are tints of those of Okabe and Ito (2008): yellow,
# vermilion, reddish purple and blue
KINDS = (
    Kind(0.08, ".", ("#fff6d0", "#f4dd85", "#d8b85a")),  # foams, wool, still air
    Kind(0.8, "\\", ("#f7d3b2", "#dfa374", "#c07c50")),  # plastics, rubbers, wood
    Kind(12.0, "+", ("#efd2e2", "#d6a3c0", "#b37a9d")),  # pastes, glass, stone
    Kind(math.inf, "/", ("#c5d6e3", "#9bb7cc", "#7593ae")),  # metals, ceramics that conduct
)
DENSITIES = 2, 4, 1  # of a kind's hatch, for its first three materials, the next three, and so on


@dataclass(frozen=True)
class Look:
    """How an area is drawn: its colour (RGB, 0 to 1), and matplotlib's signs for its hatch, or none."""

    colour: tuple[float, float, float]
    hatch: str = ""

    @property
    def lines(self) -> tuple[float, float, float]:
        """The colour of the hatch."""
        from matplotlib.colors import to_rgb

        r, g, b = self.colour
        white = self.colour == (1.0, 1.0, 1.0)
        return to_rgb(VOID_LINES) if white else (HATCH_SHADE * r, HATCH_SHADE * g, HATCH_SHADE * b)

    def patch(self, frame: float = 0.8, **more: Any) -> dict[str, Any]:
        """Keywords that make a patch of matplotlib look so."""
        return {"facecolor": self.colour, "edgecolor": self.lines, "linewidth": frame, "hatch": self.hatch} | more


VOID = Look((1.0, 1.0, 1.0), "xx")
GAP = Look((1.0, 1.0, 1.0), "..")  # closed air


def contour_levels(values: Array, most: int) -> tuple[Array, tuple[float, float]]:
    """At most `most` round values for contour lines, and the two ends of the colours; what is not finite is ignored."""
    from matplotlib.ticker import MaxNLocator

    finite = values[np.isfinite(values)]
    low, high = (float(finite.min()), float(finite.max())) if finite.size else (0.0, 1.0)
    if high - low < 1e-6 * max(1.0, abs(high)):  # all values are equal
        low, high = low - 0.5, high + 0.5
    levels = np.asarray(MaxNLocator(nbins=most, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high), float)
    return levels[(levels >= low) & (levels <= high)], (low, high)


def colour_map(name: str, colours: Sequence[str]) -> "Colormap":
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list(name, list(colours))


def conductivities(section: Section) -> dict[str, float]:
    """The geometric mean of each material's two conductivities, W/(m K), by name and in rising order."""
    k = {
        p.material.name: math.sqrt(math.prod(p.material.conductivity)) for p in section.parts if p.material is not None
    }
    return dict(sorted(k.items(), key=lambda item: (item[1], item[0])))


def material_looks(section: Section) -> dict[str, Look]:
    """Each material's look, by name: the hatch of its kind, and a colour that no other of up to nine of its kind has
    together with a hatch as dense."""
    from matplotlib.colors import to_rgb

    out, earlier = {}, Counter[Kind]()
    for name, k in conductivities(section).items():
        if name == CLOSED_AIR.name:
            out[name] = GAP
            continue
        kind = next(kind for kind in KINDS if k <= kind.most)
        again, colour = divmod(earlier[kind], len(kind.colours))
        out[name] = Look(to_rgb(kind.colours[colour]), kind.hatch * DENSITIES[again % len(DENSITIES)])
        earlier[kind] += 1
    return out


def environment_looks(environments: Sequence[Environment]) -> dict[str, Look]:
    """Each environment's look, by name: the coldest is blue, the warmest rose."""
    colours = colour_map("environment", ENVIRONMENT_COLOURS)
    order = sorted(environments, key=lambda e: e.temperature)
    return {e.name: Look(colours(k / max(len(order) - 1, 1))[:3]) for k, e in enumerate(order)}


def looks(section: Section) -> list[Look]:
    """The looks of the parts, of what lies beyond the four borders, and of nothing, which is white."""
    materials, environments = material_looks(section), environment_looks(section.environments)
    nothing = Look((1.0, 1.0, 1.0))
    parts = [
        VOID if p.void else materials[p.material.name] if p.material is not None else environments[str(p.environment)]
        for p in section.parts
    ]
    beyond = [getattr(section.border, side) for side in SIDES]
    return [*parts, *(nothing if name is None else environments[name] for name in beyond), nothing]


def paint(section: Section, owner: Owners, strength: float = 1.0) -> Bytes:
    """(n, m, 4) RGBA of pixels, from what is seen in each of them: an index into `looks`, or -1 for nothing. A smaller
    `strength` makes all of them paler."""
    found = looks(section)
    colours = np.array([(*look.colour, 1.0) for look in found] + [(*look.lines, 1.0) for look in found])
    colours[-1] = colours[len(found) - 1]  # what -1 stands for
    index = owner.copy()
    for hatch in {look.hatch for look in found if look.hatch}:
        tile = _hatch_tile(hatch)
        lines = np.tile(tile, [-(-n // len(tile)) for n in owner.shape])[: owner.shape[0], : owner.shape[1]]
        index[lines & np.array([look.hatch == hatch for look in found])[owner]] += len(found)
    paler = (255 * (1 - strength * (1 - colours))).round().astype(np.uint8)
    # four bytes taken as one number: it is faster
    out: Bytes = paler.view(np.uint32)[index].view(np.uint8).reshape(*owner.shape, 4)
    return out


def _hatch_tile(hatch: str) -> Mask:
    """A square of pixels, whether they are on the lines, or the dots, of a hatch; it continues on all sides."""
    period = HATCH_PERIOD // len(hatch)
    i, j = np.indices((period, period))
    half = period // 2
    rising, falling = (i - j) % period < 2, (i + j) % period < 2
    return {
        ".": ((i < 3) & (j < 3)) | ((abs(i - half - 1) < 2) & (abs(j - half - 1) < 2)),
        "+": (i < 2) | (j < 2),
        "/": rising,
        "\\": falling,
        "x": rising | falling,
    }[hatch[0]]
