"""What a thermostat misreads where the air is not all alike: by its mount, and by its place.

    reading - air at the load = (reading - air around the sensor) + (air around the sensor - air at the load)
                                          by its mount                            by its place

The mount is the drawn section: wall, lead and post that the bead feels beside its air. The place is the zone.
"""

from dataclasses import dataclass

import numpy as np

from fdm.cabinet.circuit import Array, Circuit
from fdm.cabinet.steady import OperatingPoint


@dataclass(frozen=True)
class Misreading:
    """K by which a thermostat reads more than the air at the load, with bands."""

    mount: float
    place: float
    mount_band: float
    place_band: float

    @property
    def whole(self) -> float:
        return self.mount + self.place


def misreading(c: Circuit, point: OperatingPoint) -> Misreading:
    """The misreading in a steady state, in its two parts."""
    t, band = (np.array([x[name] for name in c.names]) for x in (point.temperature, point.band))
    around = np.array([float(name == c.sensed_air) for name in c.names])
    mount, place = c.sensing - around, around - c.air_at_load

    def of_temperatures(weights: Array) -> float:
        return float(abs(weights) @ np.where(weights == 0, 0.0, band))

    by_section = float(c.sensing_band @ abs(t - t.mean()))
    by_mount = float(mount @ t) + c.self_heating
    return Misreading(by_mount, float(place @ t), of_temperatures(mount) + by_section, of_temperatures(place))
