"""Colours of the pictures: light for insulators, grey-blue for metals; cold air blue, warm air rose."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from fdm.section.model import SIDES, Environment, Section

if TYPE_CHECKING:
    from matplotlib.colors import Colormap

Array = NDArray[np.float64]
Bytes = NDArray[np.uint8]

INK, FAINT = "#2b2f36", "#8a9099"
HEAT, HELD, JOINT, SENSOR = "#c0392b", "#6c4a9e", "#d07a1f", "#0b3d5c"
ADIABATIC, DASHES = "#5d6167", (0.0, (2.5, 1.8))  # edges through which no heat passes
CONDUCTIVITY_COLOURS = ["#fbf3da", "#efe3bd", "#d9dcc4", "#bccdd0", "#9fb3c1", "#8598ab"]
CONDUCTIVITY_RANGE = 0.02, 400.0  # W/(m K), ends of the colours
TEMPERATURE_COLOURS = ["#2f6690", "#6aa3c4", "#b5d5df", "#f3ecd2", "#f2c078", "#de7c4a", "#b23a3a"]
ENVIRONMENT_COLOURS = ["#dfecf8", "#e9e6f4", "#fae6dd"]  # coldest to warmest


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


def material_colours(section: Section) -> dict[str, Array]:
    """Each material's colour (3,), by the logarithm of its conductivity; colours too much alike are moved apart."""
    k = conductivities(section)
    low, high = np.log(CONDUCTIVITY_RANGE)
    at = np.clip((np.log(list(k.values())) - low) / (high - low), 0, 1)
    least = min(0.1, 1 / max(len(at) - 1, 1))
    for i in range(1, len(at)):
        at[i] = max(at[i], at[i - 1] + least)
    for i in range(len(at) - 1, -1, -1):
        at[i] = min(at[i], 1 - least * (len(at) - 1 - i))
    colours = colour_map("conductivity", CONDUCTIVITY_COLOURS)
    return {name: np.array(colours(float(a))[:3]) for name, a in zip(k, at)}


def environment_colours(environments: Sequence[Environment]) -> dict[str, Array]:
    """Each environment's colour (3,): the coldest is blue, the warmest rose."""
    colours = colour_map("environment", ENVIRONMENT_COLOURS)
    order = sorted(environments, key=lambda e: e.temperature)
    return {e.name: np.array(colours(k / max(len(order) - 1, 1))[:3]) for k, e in enumerate(order)}


def part_colours(section: Section) -> Bytes:
    """(parts + 4 + 1, 4) RGBA of the parts, of what lies beyond the four borders, and of nothing, which is white."""
    materials, environments = material_colours(section), environment_colours(section.environments)
    out = np.ones((len(section.parts) + 5, 4))
    for k, p in enumerate(section.parts):
        if p.material is not None:
            out[k, :3] = materials[p.material.name]
        elif p.environment is not None:
            out[k, :3] = environments[p.environment]
    for k, side in enumerate(SIDES):
        if (name := getattr(section.border, side)) is not None:
            out[len(section.parts) + k, :3] = environments[name]
    return (255 * out).astype(np.uint8)
