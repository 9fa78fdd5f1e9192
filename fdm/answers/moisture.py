"""Moisture: where air whose humidity is known wets or ices surfaces, and how far the others are from that.

A surface sweats where its coldest place is below the dew point of its air, and freezes where that is below 0 degC: then
the frost point counts. How good a wall is by itself, whatever the temperatures, its temperature factor says (f_Rsi of
ISO 13788, from memory): 1 where the surface is as warm as its air, 0 where it is as cold as the other side.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fdm.answers.grid import UnitAnswers
from fdm.answers.quantity import Array, Path, Quantity
from fdm.answers.surfaces import extremes, thinkable_pairs
from fdm.answers.untargeted import further, goals, sizes  # noqa: F401  they make this file a `Kind`
from fdm.conduction.protocol import ConductionSystem
from fdm.conduction.surfaces import Pair, SurfaceTemperatures
from fdm.section.model import Environment, Section
from fdm.surroundings import moist


@dataclass(frozen=True)
class Wetted:
    """Where a part sweats, or where it `freezes`, in one air."""

    part: str
    air: str
    freezes: bool
    share: float  # of the part's surface in that air, by area
    edges: Array  # (K, 2, 2) m, both ends of each piece of edge
    cells: Array  # (L, 2, 2) m, two corners of each cell, of fronts and backs of plates; of dry ones, too
    below: Array  # (L,) K by which each of them is colder than where it begins; 0 or less where it is dry

    @property
    def wet_cells(self) -> Array:
        """(l, 2, 2) m"""
        return self.cells[self.below > 0]


def wetted(section: Section, surfaces: SurfaceTemperatures) -> tuple[Wetted, ...]:
    """All that sweats and freezes at the section's own temperatures, watts and humidities, on one grid."""
    at, out = surfaces.places, list[Wetted]()
    temperature = surfaces.rows @ np.concatenate([section.fixed_temperatures, section.watts])
    settling = np.array([e.settling_point for e in section.environments])[at.terminal]
    with np.errstate(invalid="ignore"):  # NaN: not known how moist that air is
        wet, ice = temperature < settling, temperature < moist.FREEZES
    for number, (part, air) in enumerate(at.pairs):
        own = at.pair == number
        for freezes in (False, True):
            if (on := own & wet & (ice == freezes)).any():
                share, cells = float(at.area[on].sum() / at.area[own].sum()), own & at.face_on
                colder = (moist.FREEZES - temperature[cells]) * (1 if freezes else -1)
                below = np.minimum(settling[cells] - temperature[cells], colder)
                out.append(Wetted(part, air, freezes, share, at.ends[on & ~at.face_on], at.ends[cells], below))
    return tuple(out)


def quantities(system: ConductionSystem) -> list[Quantity]:
    """Of each air whose humidity is known, then of each surface in it."""
    return _of(system.section, system.surfaces.pairs)


def thinkable(section: Section) -> list[Quantity]:
    """Those that a section drawn with other numbers may have, as in `surfaces`."""
    return _of(section, thinkable_pairs(section))


def _of(section: Section, pairs: Sequence[Pair]) -> list[Quantity]:
    out = []
    airs = {e.name: e for e in section.environments if e.moist}
    for name in airs:
        out.append(Quantity(("terminals", name, "dew_point"), f"dew point of {name}", "degC", "dew_point"))
        both = ("terminals", name, "dew_or_frost_point")  # below 0 degC the frost point
        out.append(Quantity(both, f"dew or frost point of {name}", "degC", "dew_point"))
    for part, name in pairs:
        if name not in airs:
            continue
        point = "frost" if airs[name].settling_point < 0 else "dew"
        out += [
            _of_surface(part, name, "margin", f"margin of {part} to the {point} point of {name}", "K"),
            _of_surface(part, name, "sweats_from", f"humidity of {name} from which {part} sweats", "%"),
        ]
        if math.isfinite(_other_side(section, airs[name])):
            factor = f"temperature factor of {part} in {name}"
            out.append(_of_surface(part, name, "temperature_factor", factor, ""))
    return out


def _of_surface(part: str, air: str, what: str, words: str, unit: str) -> Quantity:
    return Quantity(("surface", part, air, what), words, unit, what, local=True)


def _other_side(section: Section, air: Environment) -> float:
    """degC of the other side, where nothing is heated and two temperatures are all that is given; NaN elsewhere."""
    others = set(section.fixed_temperatures.tolist()) - {air.temperature}
    return others.pop() if len(others) == 1 and not section.heat_names else math.nan


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity]) -> Array:
    """As of every kind. Above 100 % humidity means that a surface, warmer than its air, never sweats."""
    airs = {e.name: e for e in section.environments}
    lowest = {pair: low for pair, (low, _) in extremes(section, grid).items()} if asked else {}
    found = np.array([_value(section, airs, lowest, q.path) for q in asked], np.float64)
    input_axes = grid.network.coupling.shape[2:]
    return np.broadcast_to(found.reshape(-1, *(1,) * len(input_axes)), (len(asked), *input_axes))


def _value(section: Section, airs: dict[str, Environment], lowest: dict[Pair, float], path: Path) -> float:
    what = path[-1]
    if what == "dew_point":
        return float(moist.dew_point(airs[path[1]].vapour_pressure))
    if what == "dew_or_frost_point":
        return airs[path[1]].settling_point
    air, low = airs[path[2]], lowest.get((path[1], path[2]), math.nan)
    if what == "margin":
        return low - air.settling_point
    if what == "sweats_from":
        return float(moist.relative_humidity(air.temperature, moist.saturation_on_surface(low)))
    other = _other_side(section, air)
    return (low - other) / (air.temperature - other)
