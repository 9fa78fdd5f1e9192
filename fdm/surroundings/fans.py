"""Fans: pressure over flow, and where that meets what the fins ask for.

Between its points a curve is straight. Fan laws: at a share s of its full speed a fan gives s of the flow and s^2 of
the pressure; in thinner air it gives the same flow, and pressure in proportion to the density. The laws fail below some
40 % of the full speed (common practice, no source).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from fdm.errors import InputError, checked, require_types
from fdm.surroundings.air import Array

HOUR = 3600.0  # s
STATED_DENSITY = 1.2  # kg/m3, of the air that makers state curves for (common practice)
SCAN = 24  # places on a rising piece of a curve where crossings are looked for; a falling one has at most one


@dataclass(frozen=True)
class Fan:
    """`flow` m3/s, rising, and `pressure` Pa at each, for air of 1.2 kg/m3."""

    flow: tuple[float, ...]
    pressure: tuple[float, ...]

    def __post_init__(self) -> None:
        require_types(self)
        if len(self.flow) != len(self.pressure) or len(self.flow) < 2:
            raise InputError("curve: give at least two points, [[m3/h, Pa], ..]")
        if not np.all(np.isfinite([self.flow, self.pressure])) or min(*self.flow, *self.pressure) < 0:
            raise InputError("curve: a flow or pressure is below 0 or not finite; give m3/h and Pa of 0 or more")
        if not np.all(np.diff(self.flow) > 0):
            raise InputError("curve: its flows do not rise; give the points from no flow to free flow")
        if self.pressure[0] <= 0:
            raise InputError("curve: it begins with no pressure; give the points from no flow to free flow")

    @property
    def free_flow(self) -> float:
        """The largest flow of the curve, m3/s."""
        return self.flow[-1]

    def pressure_at(self, flow: float | Array) -> Array:
        """Pa, at flows (m3/s) within the curve."""
        return np.asarray(np.interp(flow, self.flow, self.pressure))


@checked
def fan_of_points(points: tuple[tuple[float, float], ...]) -> Fan:
    """From points (m3/h, Pa).

    >>> fan_of_points(((0, 55), (36, 30), (72, 0))).flow
    (0.0, 0.01, 0.02)
    """
    return Fan(tuple(flow / HOUR for flow, _ in points), tuple(pressure for _, pressure in points))


def at_speed(fan: Fan, share: float) -> Fan:
    """The fan at a share of its full speed.

    >>> at_speed(fan_of_points(((0, 50), (72, 0))), 0.5)
    Fan(flow=(0.0, 0.01), pressure=(12.5, 0.0))
    """
    return Fan(tuple(share * q for q in fan.flow), tuple(share**2 * p for p in fan.pressure))


def at_density(fan: Fan, density: float) -> Fan:
    """The fan in air of another density (kg/m3) than that which its curve is stated for."""
    return Fan(fan.flow, tuple(p * density / STATED_DENSITY for p in fan.pressure))


def operating_points(fan: Fan, drop: Callable[[float], float]) -> tuple[float, ...]:
    """The flows (m3/s), rising, at which the fan gives just the pressure that `drop` (Pa, rising with the flow) asks
    for: one as a rule, more where the curve has a dip. Raises InputError where there is none on the curve.

    >>> fan = fan_of_points(((0, 55), (72, 0)))
    >>> [round(3600 * q, 2) for q in operating_points(fan, lambda q: 1e5 * q**2)]
    [48.37]
    """
    rises = np.diff(fan.pressure) > 0
    pieces = [np.linspace(a, b, SCAN if up else 2) for a, b, up in zip(fan.flow, fan.flow[1:], rises)]
    places = np.unique(np.concatenate(pieces))

    def spare(flow: float) -> float:
        return float(fan.pressure_at(flow)) - drop(flow)

    left = [spare(float(q)) for q in places]
    found = [
        float(brentq(spare, a, b, xtol=1e-12)) if below != 0 else float(b)
        for a, b, above, below in zip(places, places[1:], left, left[1:])
        if above * below < 0 or (below == 0 and above != 0)
    ]
    if not found:
        flow, pressure, asked = fan.flow[-1], fan.pressure[-1], drop(fan.flow[-1])
        if left[0] <= 0:
            raise InputError(
                f"fan: at {HOUR * fan.flow[0]:.3g} m3/h, where its curve begins, it has {fan.pressure[0]:.3g} Pa and "
                f"{drop(fan.flow[0]):.3g} Pa are needed; give the curve from no flow on"
            )
        raise InputError(
            f"fan: its curve ends at {HOUR * flow:.3g} m3/h with {pressure:.3g} Pa, where {asked:.3g} Pa are needed; "
            "give the curve down to 0 Pa"
        )
    return tuple(found)


def flow_with_more_drop(fan: Fan, drop: Callable[[float], float], flow: float, share: float) -> float:
    """The flow (m3/s) where the drop is larger by a share than at the operating point `flow`, to first order.

    >>> fan = fan_of_points(((0, 55), (72, 0)))
    >>> round(3600 * flow_with_more_drop(fan, lambda q: 1e5 * q**2, 48.37 / 3600, 0.1), 1)
    47.2
    """
    less, more = 0.999 * flow, min(1.001 * flow, fan.free_flow)
    steeper = (drop(more) - drop(less) - float(fan.pressure_at(more) - fan.pressure_at(less))) / (more - less)
    return max(flow - share * drop(flow) / steeper, 0.1 * flow)
