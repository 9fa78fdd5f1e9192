"""Properties of whatever may own a cell: parts, the environments beyond the drawing's four borders, and nothing.

An *owner* is a part's number, then four for the borders' environments (left, right, bottom, top); -1, the last row of
every array here, is nothing.
"""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers, Owners
from fdm.section.model import SIDES, Section

PERFECT = 1e9  # in-plane conductivity of a perfectly spreading part, relative to its own


@dataclass(frozen=True)
class PartProperties:
    """Properties by owner number (see Raster.owner): P parts, four borders, nothing."""

    solid: Bools  # (P + 5,) conducts, and its temperature is sought
    fixed: Integers  # (P + 5,) number of the fixed terminal that it is, or -1
    held: Bools  # (P + 5,) a part held at a temperature
    conductivity: Array  # (P + 5, 2) along x and y, W/(m K)
    film: Array  # (P + 5,) W/(m2 K) of a fixed terminal's surface
    thickness: Array  # (P + 5,) m; 1 unless the view is plate; infinite where not solid
    joint: Array | None  # (P + 5, P + 5) m2 K/W

    def film_between(self, own: Owners | Integers, other: Owners | Integers) -> Array:
        """W/(m2 K) between the surface of a solid and a fixed terminal: its film, and a joint before a held part."""
        film = self.film[other]
        if self.joint is None:
            return film
        joint = self.joint[own, other]
        with np.errstate(divide="ignore"):
            return np.where(joint > 0, 1 / (1 / film + joint), film)


def properties(section: Section) -> PartProperties:
    """The properties of all owners, as the section states them."""
    count = len(section.parts)
    size = count + len(SIDES) + 1
    solid, held = np.zeros(size, bool), np.zeros(size, bool)
    fixed = np.full(size, -1, np.intp)
    plate = section.view == "plate"
    conductivity, film, thickness = np.ones((size, 2)), np.zeros(size), np.full(size, np.inf if plate else 1.0)
    number = {name: k for k, name in enumerate(section.fixed_names)}
    film_of = {e.name: e.film for e in section.environments}
    held_by = {s.part: s.name for s in section.held_sources if s.part}
    for k, part in enumerate(section.parts):
        if part.material is not None:
            conductivity[k] = part.material.conductivity
            if part.thickness is not None:
                thickness[k] = part.thickness
            if part.name in held_by:
                fixed[k], film[k], held[k] = number[held_by[part.name]], np.inf, True
            else:
                solid[k] = True
        elif part.environment is not None:
            fixed[k], film[k] = number[part.environment], film_of[part.environment]
    for k, side in enumerate(SIDES):
        if (name := getattr(section.border, side)) is not None:
            fixed[count + k], film[count + k] = number[name], film_of[name]
    joint = None
    if section.joints:
        joint = np.zeros((size, size))
        place = {p.name: k for k, p in enumerate(section.parts)}
        for j in section.joints:
            a, b = (place[name] for name in j.between)
            joint[a, b] = joint[b, a] = j.resistance
    return PartProperties(solid, fixed, held, conductivity, film, thickness, joint)


def spread_conductivity(section: Section, p: PartProperties, spread: Collection[str], along: str) -> Array:
    """(P + 5, 2) W/(m K), or W/K in the plate view (times thickness). Parts named in `spread` conduct perfectly
    `along` "x", "y" or "both", and as they are in the other direction."""
    conductivity = p.conductivity * p.thickness[:, None] if section.view == "plate" else p.conductivity.copy()
    for row in (i for i, part in enumerate(section.parts) if part.name in spread):
        conductivity[row, {"x": [0], "y": [1], "both": [0, 1]}[along]] *= PERFECT
    return conductivity
