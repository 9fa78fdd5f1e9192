"""Sensors: what they read, and how far that is from what they should read."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fdm.answers.grid import KELVIN, FurtherSystem, Goal, UnitAnswers
from fdm.answers.network import observed_temperatures
from fdm.answers.quantity import Answers, Array, Quantity
from fdm.answers.stems import pulls, weights_of_place
from fdm.conduction.network import NetworkValues
from fdm.conduction.protocol import ConductionSystem
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
    stem: float | None = None  # K that its stem pulls it by; None: it has none
    self_heating: float | None = None  # K by its own watts
    leads: bool = False  # whether the stem is several leads


def quantities(system: ConductionSystem) -> list[Quantity]:
    """The readings, then the misreadings of those sensors that should read something; then how far stems pull, and how
    much watts of their own warm."""
    section = system.section
    out = [
        Quantity(
            ("sensors", s.name, "reading"),
            f"reading of {s.name}",
            "degC",
            "reading",
            also=((s.name,),),
            main=6 if s.should_read is None else 0,
            counted=1,
            point=s.at is not None,
        )
        for s in section.sensors
    ]
    out += [
        Quantity(
            ("sensors", s.name, "misreading"),
            f"misreading of {s.name}",
            "K",
            "misreading",
            main=4,
            counted=1,
            point=s.at is not None,
        )
        for s in section.sensors
        if s.should_read is not None
    ]
    stems, heated = _with_stem(section), _with_watts(section)
    of_stem, of_watts = "what the stem of {} adds", "what the own watts of {} add"
    return out + [
        Quantity(("sensors", (name := section.sensors[k].name), key), words.format(name), "K", key)
        for which, key, words in ((stems, "stem", of_stem), (heated, "self_heating", of_watts))
        for k in which
    ]


def _with_stem(section: Section) -> list[int]:
    return [k for k, s in enumerate(section.sensors) if s.stem is not None]


def _with_watts(section: Section) -> list[int]:
    return [k for k, s in enumerate(section.sensors) if s.self_heating is not None]


def values(section: Section, grid: UnitAnswers, asked: Sequence[Quantity] = ()) -> Array:
    heat = len(section.heat_names)
    reading = observed_temperatures(section, grid.network)[heat:]
    judged = [k for k, s in enumerate(section.sensors) if s.should_read is not None]
    out = np.concatenate([reading, reading[judged] - should_read(section, grid.network)[judged]])
    found = pulls(section)
    if found is None:
        return out
    stems, heated, axes = _with_stem(section), _with_watts(section), (1,) * (reading.ndim - 1)
    share, rise = (a.reshape(-1, *axes) for a in (found.share, found.rise))
    # reading = (1 - share) place + share T_to + rise, so share (T_to - place) follows from the reading itself
    past = section.fixed_temperatures[found.to].reshape(-1, *axes) - (reading - rise)
    by_stem = share / (1 - share) * past
    return np.concatenate([out, by_stem[stems], (rise + 0 * reading)[heated]])


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
    goals, out = should_read(section, network), {}
    for k, sensor in enumerate(section.sensors):
        reading, band = answers.at(("sensors", sensor.name, "reading"))
        misreading, misreading_band = None, None
        if sensor.should_read is not None:
            misreading, misreading_band = answers.at(("sensors", sensor.name, "misreading"))
        goal = None if sensor.should_read is None else float(goals[k])
        split = _split(section, network, k, goal or 0.0)
        stem, heating = sensor.stem, None
        if sensor.self_heating is not None:
            heating = answers.at(("sensors", sensor.name, "self_heating"))[0]
        pulled = None if stem is None else answers.at(("sensors", sensor.name, "stem"))[0]
        leads = stem is not None and stem.count > 1
        out[sensor.name] = Reading(reading, goal, misreading, band, misreading_band, split, pulled, heating, leads)
    return out


def _split(section: Section, n: NetworkValues, sensor: int, base: float) -> dict[str, float]:
    """K of the misreading that each terminal causes where the sensor lies: weight x (its temperature - what should be
    read), and resistance x watts. Where the section does not say what should be read, the reading itself is split:
    `base` is 0 degC."""
    weight, resistance = weights_of_place(section, n, sensor)
    fixed = zip(section.fixed_names, weight, section.fixed_temperatures)
    out = {name: float(w * (t - base)) for name, w, t in fixed}
    return out | {name: float(r * q) for name, r, q in zip(section.heat_names, resistance, section.watts)}
