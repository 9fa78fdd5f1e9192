"""Where the cabinet settles: Newton's method on the heat balance of every node, with its analytic Jacobian."""

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.module import GrossHeat, gross_heat, heat_balances, heat_derivatives
from fdm.cabinet.nodes import COLD, COLD_SIDE, HOT, HOT_PLATE, ROOM
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
SMALLEST_SHARE = 0.01  # of the supply's figure, where a search begins


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


@dataclass(frozen=True)
class BudgetLine:
    """What one path brings in that the modules must pump, W, with its band and its share of all."""

    name: str
    kind: str
    watts: float
    band: float
    share: float


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
    free = _others(c, fixed)
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
            "there is no steady state: the heat balance of the modules' faces does not converge; give them less current"
        )
    slopes = inflow_slopes(c, laplacian, supply, t)[np.ix_(free, free)]
    if t.min() < -273.15 or np.linalg.eigvals(slopes).real.max() >= 0:
        raise ArithmeticError(
            "there is no steady state: the modules' own heat runs away; give them less current or a better hot sink"
        )
    return t


def _others(c: Circuit, held: Collection[str]) -> NDArray[np.int64]:
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
    free, faces = _others(c, held), [c.number(COLD), c.number(HOT)]
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


@dataclass(frozen=True)
class Lever:
    """What a change of one way for heat does to the air: `colder` K with a tenth more heat passing there per kelvin;
    below 0 where a tenth less makes it colder. `ends` are the way's two nodes."""

    name: str
    kind: str
    ends: tuple[str, str]
    colder: float


def levers(c: Circuit, point: OperatingPoint) -> tuple[Lever, ...]:
    """All ways for heat, to first order about a steady state with the cabinet's supply; the one that does most first.

    The linings are part of their walls.
    """
    t = np.array([point.temperature[name] for name in c.names])
    free = _others(c, {ROOM})
    slopes = inflow_slopes(c, c.laplacian, c.cabinet.bank.supply, t)[np.ix_(free, free)]
    by_heat = np.zeros(len(t))  # K of the air by a watt into each node
    by_heat[free] = -np.linalg.solve(slopes.T, (free == c.number(c.air)).astype(float))
    found: dict[tuple[str, tuple[str, str] | None], Lever] = {}
    for p in c.paths:
        (a, b), (warm, cold) = ([c.number(node) for node in pair] for pair in (p.ends, p.drivers))
        colder = -0.1 * p.conductance * (t[cold] - t[warm]) * (by_heat[a] - by_heat[b])
        key = (p.name, p.ends if p.kind == "section" else None)
        before = found.get(key)
        found[key] = Lever(p.name, p.kind, p.ends, float(colder) + (before.colder if before else 0.0))
    return tuple(sorted(found.values(), key=lambda x: -abs(x.colder)))


def budget(c: Circuit, point: OperatingPoint) -> tuple[BudgetLine, ...]:
    """The heat that the modules pump in a steady state, by where it comes from, the largest first.

    The lines add up to the heat pumped: through walls and bridges, by air exchange, given off inside, and through the
    modules' own section from the room and back from the hot face, by way of the air or straight to the cold face.
    """
    t = point.temperature
    lines = []
    for p in c.paths:
        inside = [c.kind(end) in COLD_SIDE for end in p.ends]
        if inside[0] != inside[1]:
            near, far = p.ends if inside[0] else p.ends[::-1]
            name = (
                p.name
                if p.kind != "section"
                else f"{p.name}: {f'back from the {far}' if far in (HOT, HOT_PLATE) else 'from the room'} to the {near}"
            )
            cold, warm = p.drivers if inside[0] else p.drivers[::-1]
            drop = t[warm] - t[cold]
            by_temperatures = p.conductance * (point.band[warm] + point.band[cold])
            lines.append((name, p.kind, p.conductance * drop, p.band * abs(drop) + by_temperatures))
    lines += [
        (name, "inside", watts, 0.0)
        for name, watts in (
            ("load's own heat", c.cabinet.load.heat),
            ("heat given off inside", c.cabinet.inside_heat),
            ("fan of the cold sink", c.cabinet.bank.inside_fan_power),
            *((f"heat given off inside ({z.name})", z.inside_heat) for z in c.cabinet.zones),
        )
        if watts
    ]
    lines += [(name, "moisture", watts, 0.0) for name, watts in _latent(c) if watts]
    total = sum(line[2] for line in lines)
    out = [
        BudgetLine(name, kind, float(w), float(band), float(w / total) if total else 0.0)
        for name, kind, w, band in lines
    ]
    return tuple(sorted(out, key=lambda b: -b.watts))


def _latent(c: Circuit) -> tuple[tuple[str, float], ...]:
    """W that water gives off on the cold side where it settles, and that it takes where it evaporates."""
    if c.moisture is None:
        return ()
    air = c.moisture.always_on
    given = sum(w for n, w in zip(c.nodes, air.heat.tolist()) if n.kind in COLD_SIDE)
    return ("water that settles", given + air.taken), ("water that evaporates", -air.taken)


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
    best = None
    if needed and (spare >= 0).any():
        enough = np.nonzero(spare >= 0)[0]
        low = float(values[enough[0]])
        if enough[0] > 0:
            low = _least_that_holds(c, held, float(values[enough[0] - 1]), low)
        at, cop = _least(lambda v: -held(v).cop, (low, float(values[enough[-1]])), tolerance)
        best = max((low, held(low).cop), (at, -cop), key=lambda x: x[1])
    return SupplyChart(
        quantity=supply.quantity,
        supply=values,
        air=air,
        power=np.array([p.power for p in settled_points]),
        setpoint_pumped=np.array([p.pumped for p in held_points]),
        setpoint_power=np.array([p.power for p in held_points]),
        setpoint_spare=spare,
        lowest=lowest,
        best=best,
        needed=needed,
    )


def _least(function: Callable[[float], float], bounds: tuple[float, float], tolerance: float) -> tuple[float, float]:
    """Where a function of the supply is least, and its value there."""
    from scipy.optimize import minimize_scalar  # a quarter of a second that solving a section is not to pay

    found = minimize_scalar(function, bounds=bounds, method="bounded", options={"xatol": tolerance})
    return float(found.x), float(found.fun)


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
