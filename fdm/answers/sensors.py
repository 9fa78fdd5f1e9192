"""Sensors: what they read, and how far that is from what they should read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fdm.answers.grid import KELVIN, FurtherSystem, Goal, UnitAnswers
from fdm.answers.network import observed_temperatures
from fdm.answers.quantity import Answers, Array, Quantity
from fdm.conduction.face import ConductionSystem
from fdm.conduction.network import NetworkValues
from fdm.section.model import Section


@dataclass(frozen=True)
class Reading:
    """A sensor at the section's own temperatures and watts."""

    reading: float  # degC
    should_read: float | None  # degC
    misreading: float | None  # K
    band: float  # K, of the reading
    misreading_band: float | None  # K
    split: Mapping[str, float]  # terminal -> K: its share in the misreading (in the reading, where should_read is None)


def quantities(system: ConductionSystem) -> list[Quantity]:
    """The readings, then the misreadings of those sensors that should read something."""
    section = system.section
    out = [
        Quantity(
            ("sensors", s.name, "reading"),
            f"reading of {s.name}",
            "degC",
            "reading",
            also=((s.name,),),
            main=5 if s.should_read is None else 0,
            counted=1,
            point=s.at is not None,
        )
        for s in section.sensors
    ]
    return out + [
        Quantity(
            ("sensors", s.name, "misreading"),
            f"misreading of {s.name}",
            "K",
            "misreading",
            main=3,
            counted=1,
            point=s.at is not None,
        )
        for s in section.sensors
        if s.should_read is not None
    ]


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity] = ()) -> Array:
    reading = observed_temperatures(section, grid.network)[len(section.heat_names) :]
    judged = [k for k, s in enumerate(section.sensors) if s.should_read is not None]
    return np.concatenate([reading, reading[judged] - should_read(section, grid.network)[judged]])


def sizes(section: Section, network: NetworkValues, vector: Array) -> Array:
    sensors = len(section.sensors)
    out = np.full(len(vector), np.inf)  # misreadings follow from readings
    out[:sensors] = KELVIN
    return out


def goals(section: Section, network: NetworkValues, vector: Array, lacking: Array) -> list[Goal]:
    """The error of a weight counts times its terminal's temperature, the error of a resistance times its watts."""
    temperatures, watts = section.fixed_temperatures, section.watts
    factor = np.concatenate([abs(temperatures - temperatures.mean()), abs(watts)])
    return [
        Goal(("sensor", s), ("unit", k), KELVIN / max(f, 1e-9), lacking[s])
        for s in range(len(section.sensors))
        for k, f in enumerate(factor)
    ]


def further(section: Section) -> list[FurtherSystem]:
    return []


def should_read(section: Section, network: NetworkValues) -> Array:
    """(S, ...) degC that each sensor should read; NaN where the section does not say."""
    observed = observed_temperatures(section, network)
    input_axes = observed.shape[1:]
    names = [*section.heat_names, *(s.name for s in section.sensors)]
    known = dict(zip(names, observed)) | dict(zip(section.fixed_names, section.fixed_temperatures))
    out = np.full((len(section.sensors), *input_axes), np.nan)
    for k, sensor in enumerate(section.sensors):
        goal = sensor.should_read
        if goal is not None:
            out[k] = known[goal] if isinstance(goal, str) else goal
    return out


def readings(section: Section, network: NetworkValues, answers: Answers) -> dict[str, Reading]:
    """By sensor; `network` and `answers` are extrapolated."""
    goals, heat, out = should_read(section, network), len(section.heat_names), {}
    for k, sensor in enumerate(section.sensors):
        reading, band = answers.at(("sensors", sensor.name, "reading"))
        misreading, misreading_band = None, None
        if sensor.should_read is not None:
            misreading, misreading_band = answers.at(("sensors", sensor.name, "misreading"))
        goal = None if sensor.should_read is None else float(goals[k])
        split = _split(section, network, heat + k, goal or 0.0)
        out[sensor.name] = Reading(reading, goal, misreading, band, misreading_band, split)
    return out


def _split(section: Section, n: NetworkValues, row: int, base: float) -> dict[str, float]:
    """K of the misreading that each terminal causes: weight x (its temperature - what should be read), and resistance x
    watts. Where the section does not say what should be read, the reading itself is split: `base` is 0 degC."""
    fixed = zip(section.fixed_names, n.weight[row], section.fixed_temperatures)
    out = {name: float(w * (t - base)) for name, w, t in fixed}
    return out | {name: float(r * q) for name, r, q in zip(section.heat_names, n.resistance[row], section.watts)}
