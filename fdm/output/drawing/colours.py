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
CONDUCTIVITY_COLOURS = ["#fbf3da", "#efe3bd", "#d9dcc4", "#bccdd0", "#9fb3c1", "#8598ab"]
CONDUCTIVITY_RANGE = 0.02, 400.0  # W/(m K), ends of the colours
TEMPERATURE_COLOURS = ["#2f6690", "#6aa3c4", "#b5d5df", "#f3ecd2", "#f2c078", "#de7c4a", "#b23a3a"]
ENVIRONMENT_COLOURS = ["#dfecf8", "#e9e6f4", "#fae6dd"]  # coldest to warmest


def colour_map(name: str, colours: Sequence[str]) -> "Colormap":
    from matplotlib.colors import LinearSegmentedColormap

    return LinearSegmentedColormap.from_list(name, list(colours))


def conductivities(section: Section) -> dict[str, float]:
    """Material -> the mean of its conductivities, in rising order."""
    k = {
        p.material.name: math.sqrt(math.prod(p.material.conductivity)) for p in section.parts if p.material is not None
    }
    return dict(sorted(k.items(), key=lambda item: (item[1], item[0])))


def material_colours(section: Section) -> dict[str, Array]:
    """By the logarithm of conductivity, moved apart where two materials would look the same."""
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
    """Cold ones blue, warm ones rose."""
    colours = colour_map("environment", ENVIRONMENT_COLOURS)
    order = sorted(environments, key=lambda e: e.temperature)
    return {e.name: np.array(colours(k / max(len(order) - 1, 1))[:3]) for k, e in enumerate(order)}


def part_colours(section: Section) -> Bytes:
    """(parts + 4 borders + 1, 4) RGBA: what a pixel's owner looks like; the last, nothing, is white."""
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
