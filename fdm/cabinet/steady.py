"""Where the cabinet settles: Newton's method on the heat balance of every node, with its analytic Jacobian."""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.module import GrossHeat, gross_heat, heat_balances, heat_derivatives
from fdm.cabinet.nodes import COLD, HOT, ROOM
from fdm.cabinet.supply import (
    Supply,
    bank_heat_balances,
    bank_heat_derivatives,
    current_derivatives,
    lead_loss,
    module_current,
    supply_power,
)

Array = NDArray[np.float64]

CLOSED = 1e-10  # K: every balance closes to this times the largest conductance
STEPS = 60
LONGEST = 50.0  # K, of a step: longer ones may lead past the steady state, or to one of no real temperature


@dataclass(frozen=True)
class OperatingPoint:
    """A steady state. Temperatures degC, heat and power W; bands are what the sections' grids leave open."""

    temperature: dict[str, float]  # node ->
    band: dict[str, float]  # K
    current: float  # A through each driven module
    voltage: float  # V of the supply
    power: float  # W from the supply
    pumped: float  # W absorbed at the cold faces, all modules
    rejected: float  # W given off at the hot faces
    lead_loss: float  # W
    gross: GrossHeat  # what the heat pumped is made of, all modules
    reading: float  # degC, of the thermostat
    reading_band: float
    power_band: float
    pumped_band: float

    @property
    def cop(self) -> float:
        """Heat pumped per watt from the supply; NaN without power."""
        return self.pumped / self.power if self.power > 0 else float("nan")


def module_heat(c: Circuit, supply: Supply | None, cold: float, hot: float) -> tuple[float, float]:
    """W absorbed and rejected by all modules; `supply` None: all off, open circuit."""
    module, count = c.cabinet.bank.module, c.cabinet.bank.supply.modules
    if supply is None:
        absorbed, rejected = heat_balances(module, 0.0, cold, hot)
        return count * float(absorbed), count * float(rejected)
    absorbed, rejected = bank_heat_balances(module, supply, cold, hot)
    return float(absorbed), float(rejected)


def module_slopes(c: Circuit, supply: Supply | None, cold: float, hot: float) -> Array:
    """(2, 2) W/K: absorbed and rejected, by cold and hot."""
    module = c.cabinet.bank.module
    if supply is None:
        return c.cabinet.bank.supply.modules * heat_derivatives(module, 0.0, cold, hot)
    return bank_heat_derivatives(module, supply, cold, hot)


def inflow(c: Circuit, laplacian: Array, supply: Supply | None, t: Array) -> Array:
    """(N,) W into each node at temperatures t (N,) degC; the rate of change of its stored heat."""
    cold, hot = c.number(COLD), c.number(HOT)
    out = c.heat - laplacian @ t
    absorbed, rejected = module_heat(c, supply, float(t[cold]), float(t[hot]))
    out[cold] -= absorbed
    out[hot] += rejected
    return out


def inflow_slopes(c: Circuit, laplacian: Array, supply: Supply | None, t: Array) -> Array:
    """(N, N) W/K derivatives of `inflow`."""
    at = np.array([c.number(COLD), c.number(HOT)])
    out = -laplacian
    out[np.ix_(at, at)] += np.array([[-1.0], [1.0]]) * module_slopes(c, supply, *t[at].tolist())
    return out


def settle(
    c: Circuit, supply: Supply | None, held: Mapping[str, float] | None = None, start: Array | None = None
) -> Array:
    """(N,) degC at which every node's balance closes, the room and the `held` nodes at given temperatures.

    Raises ArithmeticError where Newton's method does not converge.
    """
    laplacian = c.laplacian
    fixed = {ROOM: c.cabinet.room, **(held or {})}
    t = np.full(len(c.nodes), float(c.cabinet.room)) if start is None else start.copy()
    if start is None:
        t[c.number(COLD)] -= 10.0
        t[c.number(HOT)] += 10.0
    for node, value in fixed.items():
        t[c.number(node)] = value
    free = free_nodes(c, fixed)
    scale = abs(laplacian).max()
    for _ in range(STEPS):
        residual = inflow(c, laplacian, supply, t)[free]
        if abs(residual).max() <= CLOSED * scale:
            break
        step = np.linalg.solve(inflow_slopes(c, laplacian, supply, t)[np.ix_(free, free)], -residual)
        t[free] += step * min(1.0, LONGEST / max(abs(step).max(), 1e-300))
        if abs(step).max() < 1e-11:
            break
    else:
        raise ArithmeticError(
            f"{_no_steady_state(c, supply)}: the heat balance of the modules' faces does not converge; give them less "
            "current"
        )
    slopes = inflow_slopes(c, laplacian, supply, t)[np.ix_(free, free)]
    if t.min() < -273.15 or np.linalg.eigvals(slopes).real.max() >= 0:
        raise ArithmeticError(
            f"{_no_steady_state(c, supply)}: the modules' own heat runs away; give them less current or a better hot "
            "sink"
        )
    return t


def _no_steady_state(c: Circuit, supply: Supply | None) -> str:
    """That there is none, with what drives the modules, and what they are made for."""
    if supply is None:
        return "there is no steady state"
    key, unit = supply.quantity, "V" if supply.quantity == "voltage" else "A"
    rated = getattr(c.cabinet.bank.data_sheet, f"greatest_{key}", None)
    made_for = "" if rated is None else f" (a module's greatest_{key} is {rated:g} {unit})"
    return f"supply, {key}: there is no steady state with {supply.figure:g} {unit}{made_for}"


def free_nodes(c: Circuit, held: Collection[str]) -> NDArray[np.int64]:
    """Numbers of the nodes whose temperatures are not held."""
    return np.array([k for k, name in enumerate(c.names) if name not in held])


def operating_point(c: Circuit, supply: Supply | None, held: Mapping[str, float] | None = None) -> OperatingPoint:
    """The steady state with a supply (None: off), as `settle`, with bands."""
    t = settle(c, supply, held)
    module = c.cabinet.bank.module
    cold, hot = t[c.number(COLD)], t[c.number(HOT)]
    absorbed, rejected = module_heat(c, supply, cold, hot)
    current = float(module_current(module, supply, cold, hot)) if supply else 0.0
    power = float(supply_power(module, supply, cold, hot)) if supply else 0.0
    leads = float(lead_loss(module, supply, cold, hot)) if supply else 0.0
    total = current * supply.parallel if supply else 0.0
    band, pumped_band, power_band = _bands(c, supply, t, {ROOM, *(held or {})})
    return OperatingPoint(
        temperature=dict(zip(c.names, t.tolist())),
        band=dict(zip(c.names, band.tolist())),
        current=current,
        voltage=supply.voltage if supply and supply.voltage is not None else power / total if total else 0.0,
        power=power,
        pumped=absorbed,
        rejected=rejected,
        lead_loss=leads,
        gross=_gross(c, supply, current, cold, hot),
        reading=float(c.reading(t)),
        reading_band=float(abs(c.sensing) @ np.where(c.sensing == 0, 0.0, band) + c.sensing_band @ abs(t - t.mean())),
        power_band=power_band,
        pumped_band=pumped_band,
    )


def _gross(c: Circuit, supply: Supply | None, current: float, cold: float, hot: float) -> GrossHeat:
    """Of all modules: those that are driven, and those that only conduct."""
    bank = c.cabinet.bank
    on, off = (gross_heat(bank.module, amperes, cold, hot) for amperes in (current, 0.0))
    driven, idle = (supply.driven, supply.idle) if supply else (0, bank.supply.modules)
    return GrossHeat(driven * on.peltier, driven * on.conducted + idle * off.conducted, driven * on.half_joule)


def _bands(c: Circuit, supply: Supply | None, t: Array, held: Collection[str]) -> tuple[Array, float, float]:
    """The bands of a steady state that follow from those of the paths: (N,) K of the temperatures, W of the heat
    pumped, W of the power. To first order; the sizes of all effects add up."""
    free, faces = free_nodes(c, held), [c.number(COLD), c.number(HOT)]
    slopes = inflow_slopes(c, c.laplacian, supply, t)[np.ix_(free, free)]
    pumped_by_face = module_slopes(c, supply, *t[faces])[0]
    power_by_face = _power_slopes(c, supply, *t[faces])
    band, pumped_band, power_band = np.zeros(len(t)), 0.0, 0.0
    for p in c.paths:
        if p.band:
            (a, b), (warm, cold) = ([c.number(node) for node in pair] for pair in (p.ends, p.drivers))
            heat = np.zeros(len(t))  # W into the nodes by the path's band
            known = math.isfinite(p.band)
            heat[[a, b]] = np.array([1.0, -1.0]) * (p.band if known else 1.0) * (t[cold] - t[warm])
            change = np.zeros(len(t))
            change[free] = np.linalg.solve(slopes, -heat[free])
            if not known:
                change[change != 0] = math.inf
            band += abs(change)
            pumped_band += float(abs(pumped_by_face @ change[faces])) if known else math.inf
            power_band += float(abs(power_by_face @ change[faces])) if known else math.inf
    return band, pumped_band, power_band


def _power_slopes(c: Circuit, supply: Supply | None, cold: float, hot: float) -> Array:
    """(2,) W/K of the supply's power by cold and hot face: of the modules, and of the leads."""
    if supply is None:
        return np.zeros(2)
    module = c.cabinet.bank.module
    absorbed, rejected = bank_heat_derivatives(module, supply, cold, hot)
    total = supply.parallel * float(module_current(module, supply, cold, hot))
    by_current = np.array([float(d) for d in current_derivatives(module, supply, cold, hot)])
    by_face: Array = rejected - absorbed + 2 * total * supply.lead_resistance * supply.parallel * by_current
    return by_face
