"""The water in a cabinet's air: how moist it gets, and how much settles on what is cold. Numbers in, numbers out.

In the steady state as much water comes in as settles. With w kg of vapour for each kg of dry air,

    exchange (w_room - w) + evaporated  =  sum over cold places of  h A (w - w_sat(T)) / (cp Le^(2/3)),

where a place counts only while it is colder than the air's dew point, below 0 degC the frost point: what dries there
has settled there before. The right side rises with w and the left one falls, so there is one w.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from fdm.surroundings import moist

Array = NDArray[np.float64]

COLD_SINK = "cold sink"
MODULE_SECTION = "module section"  # beside a cold sink of its own
ANYWHERE = "anywhere"  # water that saturated air has no place for
CLOSED = 1e-13  # kg/kg


@dataclass(frozen=True)
class ColdPlaces:
    """K places of one thing inside, on which water may settle, by the N nodes of a circuit."""

    name: str
    weights: Array  # (K, N) of the nodes in the places' temperatures
    conductance: Array  # (K,) W/K, convective film times area
    own: float = 0.0  # K/W by which a watt that is given off on all of them warms them

    def heat(self, watts: Array) -> Array:
        """(N,) W into each node, of watts (K,) given off at the places: they leave to the nodes by the same weights by
        which the nodes set the places' temperatures."""
        return np.asarray(watts @ self.weights)


@dataclass(frozen=True)
class WaterBalance:
    """How moist the air is, and where the water goes."""

    ratio: float  # kg of vapour for each kg of dry air inside
    exchanged: float  # kg/s that the air exchange brings in; below 0 it takes them away
    evaporated: float  # kg/s from what stands inside; below 0 a dryer takes them away
    settling: tuple[Array, ...]  # (K,) kg/s at each of the places of each thing
    rest: float  # kg/s that find no place while the air is saturated, and settle anywhere


def water_balance(
    air: float,
    places: Sequence[tuple[Array, Array]],
    room_ratio: float,
    exchange: float,
    evaporated: float,
    kept: float | None = None,
) -> WaterBalance:
    """The balance of air at degC. `places` are the conductances (K,) and temperatures (K,) of each thing that is cold,
    `exchange` the kg/s of dry air that pass to and fro, `evaporated` the kg/s of water from what stands inside: as
    much as is needed where the air is `kept` at so many kg of vapour for each kg of dry air."""
    conductance, surface = (np.concatenate([np.empty(0), *(p[k] for p in places)]) for k in (0, 1))
    boundary = moist.Boundary.between(conductance, air, surface)

    def settling(ratio: float) -> Array:
        return np.maximum(boundary.settling(ratio), 0.0)

    def gain(ratio: float) -> float:
        return float(exchange * (room_ratio - ratio) + evaporated - settling(ratio).sum())

    driest = float(boundary.saturated.min(initial=np.inf))  # with which nothing settles yet
    saturated = float(moist.humidity_ratio(moist.saturation_over_water(air)))
    undisturbed = room_ratio + evaporated / exchange if exchange else np.inf if evaporated else driest
    if kept is not None:
        ratio = min(kept, saturated)
        evaporated = float(settling(ratio).sum()) - exchange * (room_ratio - ratio)
    elif undisturbed <= driest and undisturbed <= saturated:
        ratio = undisturbed
    elif gain(saturated) >= 0:
        ratio = saturated
    else:
        ratio = float(brentq(gain, min(driest, saturated), saturated, xtol=CLOSED))
    ends = np.cumsum([len(p[0]) for p in places])[:-1]
    rest = max(gain(ratio), 0.0) if ratio == saturated and kept is None else 0.0
    rates = tuple(np.split(settling(ratio), ends)) if places else ()
    return WaterBalance(ratio, exchange * (room_ratio - ratio), evaporated, rates, rest)


@dataclass(frozen=True)
class Settled:
    """Water that settles on one thing, kg/s."""

    name: str
    frozen: float
    drained: float


@dataclass(frozen=True)
class CoolSurface:
    """The coldest place of one thing on one side: `side` is inside or outside, `part` what it is a part of."""

    side: str
    name: str
    part: str
    lowest: float  # degC
    band: float  # K
    margin: float  # K above the point at which water settles from the air on that side
    margin_band: float
    sweats_from: float  # % humidity of the air on that side; above 100 it never does
    sweats_band: float
    factor: float  # temperature factor by ISO 13788, of walls; NaN of all else


@dataclass(frozen=True)
class MoistAir:
    """The air inside in one steady state of the cabinet, what settles from it, and what is cold in both airs."""

    ratio: float  # kg of vapour for each kg of dry air
    settling_point: float  # degC, dew point, below 0 degC the frost point
    point_band: float
    humidity: float  # %
    humidity_band: float
    exchanged: float  # kg/s by the air exchange
    evaporated: float  # kg/s inside, from the load or to keep the air as moist as is wanted; below 0: taken away
    evaporated_band: float
    settled: tuple[Settled, ...]
    water_band: float  # kg/s, of all that settles
    latent: float  # W that settling gives off
    taken: float  # W that evaporation takes
    heat: Array  # (N,) W into the nodes by both
    surfaces: tuple[CoolSurface, ...]

    @property
    def water(self) -> float:
        """kg/s that settle."""
        return self.frozen + self.drained

    @property
    def frozen(self) -> float:
        """kg/s"""
        return sum(s.frozen for s in self.settled)

    @property
    def drained(self) -> float:
        """kg/s"""
        return sum(s.drained for s in self.settled)


@dataclass(frozen=True)
class Moisture:
    """The moisture of a cabinet whose room has a known humidity."""

    room_humidity: float  # %
    room_point: float  # degC, dew point, below 0 degC the frost point
    always_on: MoistAir  # with the modules always on
    at_setpoint: MoistAir | None  # with them on and the air at the setpoint; None where it is never reached
