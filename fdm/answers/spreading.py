"""Spreading resistance: what a plate costs because it does not carry heat perfectly to all of its width.

It is the difference between two systems: the section as it is, and the same section with a plate whose cells on each
line along it share one temperature, as perfect spreading would have it. Both are solved on the same grid lines, so
that most of the grid's error cancels.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from fdm.answers.grid import FurtherSystem, Goal, UnitAnswers
from fdm.answers.quantity import Answers, Array, Quantity
from fdm.conduction.layout import Variant
from fdm.conduction.network import NetworkValues
from fdm.conduction.protocol import ConductionSystem
from fdm.section.model import Section

LEAST = 0.04  # of the rise at the watts' own place: a smaller spreading resistance gets the target of this share
SKIN = 1e-6  # thickness of a plate's skins over its own


@dataclass(frozen=True)
class SpreadingResistance:
    """K/W, for one heat terminal: of its mean and of its highest temperature."""

    mean: float
    max: float
    mean_band: float
    max_band: float


def quantities(system: ConductionSystem) -> list[Quantity]:
    section = system.section
    return [
        Quantity(
            ("spreading", plate.name, h, which),
            f"{words} of {plate.name} for {h}",
            "K/W",
            "spreading",
            main=2 if which == "mean" else 0,
            counted=1,
            peak=which == "max",
        )
        for plate in section.spreading
        for h in section.heat_names
        for which, words in (("mean", "spreading"), ("max", "highest spreading"))
    ]


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity] = ()) -> Array:
    n, heat = grid.network, len(section.heat_names)
    h, input_axes = np.arange(heat), n.coupling.shape[2:]
    out = np.empty((len(section.spreading), heat, 2, *input_axes))
    for row, spread in zip(out, further(section)):
        perfect = grid.further[spread.key]
        row[:, 0] = n.resistance[h, h] - perfect.resistance[h, h]
        row[:, 1] = n.resistance_max[h, h] - perfect.resistance_max[h, h]
    return out.reshape(-1, *input_axes)


def sizes(section: Section, network: NetworkValues, vector: Array) -> Array:
    own = abs(np.diag(network.resistance[: len(section.heat_names)]))
    rises = np.tile(np.repeat(own, 2), len(section.spreading))
    return np.maximum(abs(vector), LEAST * rises)


def goals(section: Section, network: NetworkValues, vector: Array, lacking: Array) -> list[Goal]:
    heat, fixed = len(section.heat_names), len(section.fixed_names)
    shape = len(section.spreading), heat, 2
    out = []
    for value, lack in zip(vector.reshape(shape), lacking.reshape(shape)):
        for h in range(heat):
            size = np.maximum(abs(value[h]), LEAST * network.resistance[h, h])
            here = ("unit", fixed + h)
            out += [Goal(here, here, size[0], lack[h, 0]), Goal(here, ("highest", h), size[1], lack[h, 1])]
    return out


def further(section: Section) -> list[FurtherSystem]:
    """The section with each plate that is asked for spreading perfectly, on the section's lines and the plate's
    skins."""
    out = []
    for k, asked in enumerate(section.spreading):
        along = direction(section, k)
        shapes = [s.outline() for name in asked.parts for s in section.part_named[name].shapes]
        lines = partial(_with_skins, along, shapes)
        pieces = (p.name for p in section.parts if p.piece is not None and p.piece.beneath in asked.parts)
        # what crosses a plate, as a bolt does, is a piece of it
        variant = Variant(spread=(*asked.parts, *pieces), along=along)
        out.append(FurtherSystem(("spreading", asked.name), section.unasked, lines, variant))
    return out


def direction(section: Section, number: int) -> str:
    """The direction in which the plate of question `number` spreads: "x" or "y", in the plate view "both"."""
    asked = section.spreading[number]
    if section.view == "plate":
        return "both"
    corners = np.concatenate([s.outline() for name in asked.parts for s in section.part_named[name].shapes])
    return asked.along or "xy"[int(np.argmax(np.ptp(corners, 0)))]


def _with_skins(along: str, shapes: list[Array], x: Array, y: Array) -> tuple[Array, Array]:
    """The lines x, y (m), and further ones that cut a thin skin off both faces of a plate: with perfect spreading the
    surface has the plate's one temperature too, and without skins the centres of cells would lie half a cell below the
    surface."""
    if along == "y":
        return _skinned(x, [s[:, 0] for s in shapes]), y
    if along == "x":
        return x, _skinned(y, [s[:, 1] for s in shapes])
    return x, y


def _skinned(lines: Array, across: list[Array]) -> Array:
    skins = []
    for c in across:
        skin = SKIN * np.ptp(c)
        skins += [c.min() + skin, c.max() - skin]
    return np.unique(np.concatenate([lines, skins]))


def spreading_resistances(section: Section, answers: Answers) -> dict[str, dict[str, SpreadingResistance]]:
    """By plate and heat terminal."""
    out: dict[str, dict[str, SpreadingResistance]] = {}
    for plate in section.spreading:
        for h in section.heat_names:
            (mean, mean_band), (highest, highest_band) = (
                answers.at(("spreading", plate.name, h, which)) for which in ("mean", "max")
            )
            out.setdefault(plate.name, {})[h] = SpreadingResistance(mean, highest, mean_band, highest_band)
    return out
