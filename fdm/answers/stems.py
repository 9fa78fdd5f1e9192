"""Sensors with a stem, or with watts of their own, in the network.

A sensor's place has a temperature T that the section answers. The sensor itself is at

    (1 - share) T + share T_to + rise

with `share` and the rise by its own watts as `fdm.surroundings.stems` has them. So its weights still sum to 1, and the
network stays exact: the rise is one more number beside its rows. What stem and watts do to the section itself is left
out; they end in the sensor's surroundings, which would be warmer by that.
"""

from dataclasses import dataclass, replace

import numpy as np

from fdm.answers.quantity import Array
from fdm.conduction.arrays import Integers
from fdm.conduction.network import NetworkValues
from fdm.section.model import Section
from fdm.section.sensors import Bead, Sensor, Stem, Touched, touched
from fdm.surroundings.stems import (
    Pull,
    along_in_air,
    along_in_solid,
    bead_in_air,
    bead_in_solid,
    pull,
    stem_conductances,
    still_bead_film,
    still_lead_film,
)

LEAST = 1e-10  # share of a sensor's own place in its reading


@dataclass(frozen=True)
class Pulls:
    """Of S sensors: the share of each that its stem has in its reading, the number of the fixed terminal where that
    comes from, and the rise by its own watts."""

    share: Array  # (S,)
    to: Integers  # (S,), 0 where there is no stem
    rise: Array  # (S,) K


def pulls(section: Section) -> Pulls | None:
    """What stems and watts of their own do to the sensors of a section; None where no sensor has any."""
    if not any(s.is_pulled for s in section.sensors):
        return None
    names = section.fixed_names
    each = [pull_of(section, s) if s.is_pulled else Pull(0.0, 0.0) for s in section.sensors]
    return Pulls(
        np.array([min(p.share, 1 - LEAST) for p in each]),
        np.array([0 if s.stem is None else names.index(s.stem.to) for s in section.sensors], np.intp),
        np.array([p.resistance * (s.self_heating or 0.0) for p, s in zip(each, section.sensors)]),
    )


def self_heating(section: Section) -> tuple[float, ...]:
    """K that each sensor reads more by its own watts; empty where none has any."""
    found = pulls(section) if any(s.self_heating for s in section.sensors) else None
    return () if found is None else tuple(found.rise.tolist())


def pull_of(section: Section, sensor: Sensor) -> Pull:
    """What the stem of a sensor, and a watt in it, do to it where it lies."""
    return pull_in(sensor, touched(section.parts, section.border, sensor))


def pull_in(sensor: Sensor, around: Touched) -> Pull:
    """The same where it touches what is `around`."""
    bead = 0.0 if sensor.bead is None else bead_conductance(sensor.bead, around)
    return pull(bead, *((0.0, 0.0) if sensor.stem is None else _of_stem(sensor.stem, around)))


def without_still_films(sensor: Sensor) -> Sensor:
    """The sensor without the films that its stem and bead have of still air, which belong to where it lies."""
    stem, bead = sensor.stem, sensor.bead
    if stem is not None and stem.film == still_lead_film(stem.width, dull=stem.insulation > 0):
        stem = replace(stem, film=None)
    if bead is not None and bead.diameter is not None and bead.film == still_bead_film(bead.diameter):
        bead = replace(bead, film=None)
    return replace(sensor, stem=stem, bead=bead)


def bead_conductance(bead: Bead, around: Touched) -> float:
    """W/K from a bead to what it touches. Where this is a solid at all, the air beside it does not count."""
    if bead.dissipation is not None or bead.diameter is None:
        return bead.dissipation or 0.0
    if not around.solid:
        return bead_in_air(still_bead_film(bead.diameter) if bead.film is None else bead.film, bead.diameter)
    spread = bead_in_solid(around.conductivity, bead.diameter, around.solid)
    if bead.film is None:
        return spread
    return 1 / (1 / spread + 1 / (around.solid * bead_in_air(bead.film, bead.diameter)))


def _of_stem(stem: Stem, around: Touched) -> tuple[float, float]:
    """W/K to the end of a stem, and to what lies along it."""
    if stem.film is None and around.solid == 1:
        along = along_in_solid(around.conductivity, stem.length, stem.diameter, stem.insulation)
    else:
        film = still_lead_film(stem.width, dull=stem.insulation > 0) if stem.film is None else stem.film
        along = along_in_air(film, stem.diameter, stem.insulation)
    return stem_conductances(stem.count * stem.conduction, stem.count * along, stem.length, stem.through)


def with_stems(section: Section, network: NetworkValues) -> NetworkValues:
    """The network with the rows of sensors as they read, from one with the rows of their places."""
    found = pulls(section)
    if found is None:
        return network
    heat, sensors = len(section.heat_names), range(len(section.sensors))
    weight, resistance = network.weight.copy(), network.resistance.copy()
    for rows in (weight, resistance):
        rows[heat:] *= (1 - found.share).reshape(-1, *(1,) * (rows.ndim - 1))
    weight[[heat + s for s in sensors], found.to] += found.share.reshape(-1, *(1,) * (weight.ndim - 2))
    return replace(network, weight=weight, resistance=resistance)


def weights_of_place(section: Section, network: NetworkValues, sensor: int) -> tuple[Array, Array]:
    """Weights (F,) and resistances (H,) of the place of a sensor, from a network with the rows of what it reads."""
    row, found = len(section.heat_names) + sensor, pulls(section)
    weight, resistance = network.weight[row].copy(), network.resistance[row]
    if found is None:
        return weight, resistance
    weight[found.to[sensor]] -= found.share[sensor]
    rest = 1 - found.share[sensor]
    return weight / rest, resistance / rest
