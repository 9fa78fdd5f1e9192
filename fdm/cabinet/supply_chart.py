"""The steady state over the modules' voltage or current: the coldest, and the best that holds the setpoint."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.steady import OperatingPoint, operating_point

Array = NDArray[np.float64]

SMALLEST_SHARE = 0.01  # of the supply's figure, where a search begins


@dataclass(frozen=True)
class SupplyChart:
    """The steady state against the supply's voltage, or its current where that is given; K points."""

    quantity: str  # "voltage" or "current"
    supply: Array  # (K,) V or A
    air: Array  # (K,) degC where the cabinet settles
    power: Array  # (K,) W
    setpoint_pumped: Array  # (K,) W pumped with the cabinet held at the setpoint
    setpoint_power: Array  # (K,) W
    setpoint_spare: Array  # (K,) W by which cooling exceeds the losses at the setpoint
    lowest: tuple[float, float]  # supply and degC of the lowest cabinet temperature
    best: tuple[float, float] | None  # supply and COP of the best COP that holds the setpoint; None where none does
    needed: bool  # False where the cabinet stays below its setpoint without cooling

    @property
    def lowest_at_end(self) -> str:
        """Whether the lowest temperature is at the "least" or the "most" supply tried: beyond may be lower still."""
        near = 0.002 * self.supply[-1]
        at = self.lowest[0]
        return "most" if at > self.supply[-1] - near else "least" if at < self.supply[0] + near else ""


def supply_chart(c: Circuit, count: int = 41) -> SupplyChart:
    """The steady states from 1 % to twice the supply's figure, or to the last supply that has a steady state.

    Raises ArithmeticError where there is none at all.
    """
    supply = c.cabinet.bank.supply
    hold = {c.air: c.cabinet.setpoint}

    def settled(value: float) -> OperatingPoint:
        return operating_point(c, supply.at(float(value)))

    def held(value: float) -> OperatingPoint:
        return operating_point(c, supply.at(float(value)), hold)

    values = np.linspace(SMALLEST_SHARE, 2.0, count) * supply.figure
    settled_points, held_points = [], []
    for value in values:
        try:
            pair = settled(value), held(value)
        except ArithmeticError:  # from here on the modules' own heat runs away
            break
        settled_points.append(pair[0])
        held_points.append(pair[1])
    if not settled_points:
        raise ArithmeticError("there is no steady state at any supply; give the modules a better hot sink")
    values = values[: len(settled_points)]
    air = np.array([p.temperature[c.air] for p in settled_points])
    spare = np.array([_spare(c, p) for p in held_points])
    tolerance = 1e-4 * supply.figure
    lowest = _least(lambda v: settled(v).temperature[c.air], _around(values, int(np.argmin(air))), tolerance)
    needed = _spare(c, operating_point(c, None, hold)) < 0
    holds = np.nonzero(spare >= 0)[0]
    return SupplyChart(
        quantity=supply.quantity,
        supply=values,
        air=air,
        power=np.array([p.power for p in settled_points]),
        setpoint_pumped=np.array([p.pumped for p in held_points]),
        setpoint_power=np.array([p.power for p in held_points]),
        setpoint_spare=spare,
        lowest=lowest,
        best=_best(c, held, values, holds, tolerance) if needed and len(holds) else None,
        needed=needed,
    )


def _least(function: Callable[[float], float], bounds: tuple[float, float], tolerance: float) -> tuple[float, float]:
    """Where a function of the supply is least, and its value there."""
    found = minimize_scalar(function, bounds=bounds, method="bounded", options={"xatol": tolerance})
    return float(found.x), float(found.fun)


def _best(
    c: Circuit, held: Callable[[float], OperatingPoint], values: Array, holds: NDArray[np.intp], tolerance: float
) -> tuple[float, float]:
    """Supply and COP of the best COP that holds the setpoint, as those of the values with the numbers `holds` do."""
    low = float(values[holds[0]])
    if holds[0] > 0:
        low = _least_that_holds(c, held, float(values[holds[0] - 1]), low)
    at, cop = _least(lambda v: -held(v).cop, (low, float(values[holds[-1]])), tolerance)
    return max((low, held(low).cop), (at, -cop), key=lambda x: x[1])


def _least_that_holds(c: Circuit, held: Callable[[float], OperatingPoint], below: float, above: float) -> float:
    """The least supply that holds the setpoint, by bisection between one that does not and one that does."""
    for _ in range(40):
        middle = (below + above) / 2
        below, above = (below, middle) if _spare(c, held(middle)) >= 0 else (middle, above)
    return above


def _spare(c: Circuit, held: OperatingPoint) -> float:
    """W by which the heat that leaves the air, which is held, exceeds the heat that enters it."""
    t = np.array([held.temperature[n] for n in c.names])
    air = c.number(c.air)
    return float((c.laplacian @ t - c.heat)[air])


def _around(values: Array, k: int) -> tuple[float, float]:
    """The values on both sides of the k-th."""
    return float(values[max(k - 1, 0)]), float(values[min(k + 1, len(values) - 1)])
