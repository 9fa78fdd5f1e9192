"""How answers change with the stems, beads and own watts of sensors: differences on fields that stay as they are."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from fdm.answers.quantity import Array
from fdm.conduction.inputs import Input
from fdm.section.model import Section
from fdm.section.sensors import Sensor
from fdm.solving.solution import Solution

STEP = 1e-4  # of a number, relative
FACTORS = 1 - STEP, 1 + STEP


def stem_changes(solution: Solution) -> tuple[list[tuple[Input, Array]], Array]:
    """Each number of a stem or bead with its column (Q,), d answer / d ln number; and the same of the parts'
    conductivities (Q, P), as far as beads and stems touch them."""
    section = solution.section
    by_part = np.zeros((len(solution.answers.quantities), len(section.parts)))
    own: list[tuple[Input, Array]] = []
    if not any(s.is_pulled for s in section.sensors):
        return own, by_part
    for k, sensor in enumerate(section.sensors):
        for number in _numbers(sensor):
            ends = (replace(section, sensors=_with(section, k, _scaled(sensor, number, f))) for f in FACTORS)
            own.append((number, _slope(solution, *ends)))
    for k, part in enumerate(section.parts):
        if part.material is not None:
            by_part[:, k] = _slope(solution, *(_with_conductivity(section, k, f) for f in FACTORS))
    return own, by_part


def _slope(solution: Solution, less: Section, more: Section) -> Array:
    """(Q,)"""
    low, high = (solution.asked.at(s).values(solution.grids[-2].answers) for s in (less, more))
    return np.asarray((high - low) / (2 * STEP))


def _numbers(sensor: Sensor) -> Iterator[Input]:
    """The numbers of a sensor's stem and bead, and its watts."""
    stem, bead, name = sensor.stem, sensor.bead, sensor.name
    if stem is not None:
        yield Input(name, "stem length", stem.length, "m")
        yield Input(name, "stem diameter", stem.diameter, "m")
        yield Input(name, "stem conductivity", stem.material.conductivity[0], "W/(m K)")
        if stem.film:
            yield Input(name, "stem film", stem.film, "W/(m2 K)")
        for key in ("insulation", "through"):
            if value := getattr(stem, key):
                yield Input(name, f"stem {key}", value, "m")
    if bead is not None:
        for key, unit in (("diameter", "m"), ("film", "W/(m2 K)"), ("dissipation", "W/K")):
            if value := getattr(bead, key):
                yield Input(name, f"bead {key}", value, unit)
    if sensor.self_heating:
        yield Input(name, "self-heating", sensor.self_heating, "W")


def _scaled(sensor: Sensor, number: Input, factor: float) -> Sensor:
    """The sensor with one of its numbers so many times as large."""
    value, (of, _, key) = number.value * factor, number.kind.partition(" ")
    changed: dict[str, Any] = {key: value}
    if of == "self-heating":
        return replace(sensor, self_heating=value)
    if of == "bead" and sensor.bead is not None:
        return replace(sensor, bead=replace(sensor.bead, **changed))
    assert sensor.stem is not None
    if key == "conductivity":
        changed = {"material": replace(sensor.stem.material, conductivity=(value, value))}
    return replace(sensor, stem=replace(sensor.stem, **changed))


def _with(section: Section, number: int, sensor: Sensor) -> tuple[Sensor, ...]:
    return (*section.sensors[:number], sensor, *section.sensors[number + 1 :])


def _with_conductivity(section: Section, number: int, factor: float) -> Section:
    """The section with the conductivity of one part so many times as large."""
    part = section.parts[number]
    assert part.material is not None
    along_x, along_y = part.material.conductivity
    material = replace(part.material, conductivity=(factor * along_x, factor * along_y))
    parts = (*section.parts[:number], replace(part, material=material), *section.parts[number + 1 :])
    return replace(section, parts=parts)
