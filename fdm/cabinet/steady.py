"""Where the cabinet settles: Newton's method on the heat balance of every node, with its analytic Jacobian."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.circuit import COLD, HOT, LOAD, ROOM, Circuit
from fdm.cabinet.model import AIR
from fdm.cabinet.module import (
    Supply,
    bank_heat_balances,
    bank_heat_derivatives,
    current_derivatives,
    heat_balances,
    heat_derivatives,
    lead_loss,
    module_current,
    supply_power,
)

Array = NDArray[np.float64]

CLOSED = 1e-10  # W, of the largest flow, to which every balance is solved
STEPS = 60
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
    setpoint_spare: Array  # (K,) W of that more than the losses at the setpoint
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
    absorbed, rejected = module_heat(c, supply, t[cold], t[hot])
    out[cold] -= absorbed
    out[hot] += rejected
    return out


def inflow_slopes(c: Circuit, laplacian: Array, supply: Supply | None, t: Array) -> Array:
    """(N, N) W/K derivatives of `inflow`."""
    at = np.array([c.number(COLD), c.number(HOT)])
    out = -laplacian
    out[np.ix_(at, at)] += np.array([[-1.0], [1.0]]) * module_slopes(c, supply, *t[at])
    return out


def settle(
    c: Circuit, supply: Supply | None, held: dict[str, float] | None = None, start: Array | None = None
) -> Array:
    """(N,) degC at which every node's balance closes, the room and the `held` nodes at given temperatures.

    Raises ArithmeticError where Newton's method does not converge.
    """
    laplacian = c.laplacian
    fixed = {ROOM: c.cabinet.room} | (held or {})
    t = np.full(len(c.nodes), float(c.cabinet.room)) if start is None else start.copy()
    if start is None:
        t[c.number(COLD)] -= 10.0
        t[c.number(HOT)] += 10.0
    for node, value in fixed.items():
        t[c.number(node)] = value
    free = np.array([k for k, node in enumerate(c.nodes) if node not in fixed])
    scale = abs(laplacian).max() * 1.0
    for _ in range(STEPS):
        rest = inflow(c, laplacian, supply, t)[free]
        if abs(rest).max() <= CLOSED * scale:
            break
        step = np.linalg.solve(inflow_slopes(c, laplacian, supply, t)[np.ix_(free, free)], -rest)
        t[free] += step * min(1.0, 50.0 / max(abs(step).max(), 1e-300))
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


def operating_point(c: Circuit, supply: Supply | None, held: dict[str, float] | None = None) -> OperatingPoint:
    """The steady state with a supply (None: off), as `settle`, with bands."""
    t = settle(c, supply, held)
    fixed = {ROOM} | set(held or {})
    free = np.array([k for k, node in enumerate(c.nodes) if node not in fixed])
    slopes = inflow_slopes(c, c.laplacian, supply, t)
    module = c.cabinet.bank.module
    cold, hot = t[c.number(COLD)], t[c.number(HOT)]
    absorbed, rejected = module_heat(c, supply, cold, hot)
    current = float(module_current(module, supply, cold, hot)) if supply else 0.0
    power = float(supply_power(module, supply, cold, hot)) if supply else 0.0
    leads = float(lead_loss(module, supply, cold, hot)) if supply else 0.0
    total = current * supply.parallel if supply else 0.0
    # what each path's band moves, to first order, added up without regard to sign
    band, faces = np.zeros(len(t)), np.zeros(2)
    at = [c.number(COLD), c.number(HOT)]
    by_face = module_slopes(c, supply, cold, hot)
    moved_power, by_power = 0.0, _power_slopes(c, supply, cold, hot)
    for p in c.paths:
        if p.band:
            a, b = (c.number(end) for end in p.ends)
            push = np.zeros(len(t))
            push[[a, b]] = np.array([1.0, -1.0]) * p.band * (t[b] - t[a])
            moved = np.zeros(len(t))
            moved[free] = np.linalg.solve(slopes[np.ix_(free, free)], -push[free])
            band += abs(moved)
            faces += abs(by_face @ moved[at])
            moved_power += float(abs(by_power @ moved[at]))
    reading, reading_band = float(c.sensing @ t), abs(c.sensing) @ band + c.sensing_band @ abs(t - t.mean())
    return OperatingPoint(
        dict(zip(c.nodes, t.tolist())), dict(zip(c.nodes, band.tolist())), current,
        supply.voltage if supply and supply.voltage is not None else power / total if total else 0.0,
        power, absorbed, rejected, leads, reading, float(reading_band), moved_power, float(faces[0]),
    )  # fmt: skip


def _power_slopes(c: Circuit, supply: Supply | None, cold: float, hot: float) -> Array:
    """(2,) W/K of the supply's power by cold and hot face: of the modules, and of the leads."""
    if supply is None:
        return np.zeros(2)
    module = c.cabinet.bank.module
    rows = bank_heat_derivatives(module, supply, cold, hot)
    total = supply.parallel * float(module_current(module, supply, cold, hot))
    by_current = np.array([float(d) for d in current_derivatives(module, supply, cold, hot)])
    return rows[1] - rows[0] + 2 * total * supply.lead_resistance * supply.parallel * by_current


def budget(c: Circuit, point: OperatingPoint) -> tuple[BudgetLine, ...]:
    """Everything that the modules pump in a steady state, by where it comes from, the largest first.

    Its sum is the heat pumped: walls, bridges, air exchange, what is given off inside, and what comes through the
    modules' own section from the room and back from the hot face, whether it passes the air or reaches the cold side
    straight.
    """
    t = point.temperature
    cold_side = {AIR, LOAD, COLD, "air at the cold sink"} | {n for n in c.nodes if n.startswith("lining of ")}
    lines = []
    for p in c.paths:
        inside = [end in cold_side for end in p.ends]
        if inside[0] != inside[1]:
            near, far = p.ends if inside[0] else p.ends[::-1]
            name = (
                p.name
                if p.kind != "section"
                else f"{p.name}: {'back from the hot face' if far == HOT else 'from the room'} to the {near}"
            )
            drop = t[far] - t[near]
            moved = p.conductance * (point.band[far] + point.band[near])
            lines.append((name, p.kind, p.conductance * drop, p.band * abs(drop) + moved))
    lines += [
        (name, "inside", watts, 0.0)
        for name, watts in (("load's own heat", c.cabinet.load.heat), ("heat given off inside", c.cabinet.inside_heat))
        if watts
    ]
    total = sum(line[2] for line in lines)
    out = [
        BudgetLine(name, kind, float(w), float(band), float(w / total) if total else 0.0)
        for name, kind, w, band in lines
    ]
    return tuple(sorted(out, key=lambda b: -b.watts))


def supply_chart(c: Circuit, count: int = 41) -> SupplyChart:
    """From near nothing to twice the supply's figure, or to where no steady state is left.

    Raises ArithmeticError where there is none at all.
    """
    from scipy.optimize import minimize_scalar  # a quarter of a second that solving a section is not to pay

    supply = c.cabinet.bank.supply
    quantity = "voltage" if supply.voltage is not None else "current"
    full = getattr(supply, quantity)
    values = np.linspace(SMALLEST_SHARE, 2.0, count) * full
    hold = {AIR: c.cabinet.setpoint}

    def at(value: float, held: dict[str, float] | None) -> OperatingPoint:
        voltage, current = (float(value), None) if quantity == "voltage" else (None, float(value))
        return operating_point(c, replace(supply, voltage=voltage, current=current), held)

    free, kept = [], []
    for value in values:
        try:
            pair = at(value, None), at(value, hold)
        except ArithmeticError:  # from here on the modules' own heat runs away
            break
        free.append(pair[0])
        kept.append(pair[1])
    if not free:
        raise ArithmeticError("there is no steady state at any supply; give the modules a better hot sink")
    values = values[: len(free)]
    spare = np.array([_spare(c, p) for p in kept])
    best_free = values[int(np.argmin([p.temperature[AIR] for p in free]))]
    lowest = minimize_scalar(
        lambda v: at(v, None).temperature[AIR],
        bounds=_around(values, best_free),
        method="bounded",
        options={"xatol": 1e-4 * full},
    )
    best, needed = None, _spare(c, operating_point(c, None, hold)) < 0
    if needed and (spare >= 0).any():
        enough = values[spare >= 0]
        low = float(enough[0])
        if enough[0] > values[0]:  # the least supply that holds the setpoint, between two values
            below = values[int(np.argmax(values == enough[0])) - 1]
            for _ in range(40):
                middle = (below + low) / 2
                below, low = (below, middle) if _spare(c, at(middle, hold)) >= 0 else (middle, low)
        found = minimize_scalar(
            lambda v: -at(v, hold).cop,
            bounds=(low, float(enough[-1])),
            method="bounded",
            options={"xatol": 1e-4 * full},
        )
        candidates = [(float(low), at(low, hold).cop), (float(found.x), -float(found.fun))]
        best = max(candidates, key=lambda x: x[1])
    return SupplyChart(
        quantity, values, np.array([p.temperature[AIR] for p in free]), np.array([p.power for p in free]),
        np.array([p.pumped for p in kept]), np.array([p.power for p in kept]), spare,
        (float(lowest.x), float(lowest.fun)), best, needed,
    )  # fmt: skip


def _spare(c: Circuit, held: OperatingPoint) -> float:
    """W that leave the air beyond what enters it, with the air held: what would cool it further."""
    t = np.array([held.temperature[n] for n in c.nodes])
    air = c.number(AIR)
    return float((c.laplacian @ t - c.heat)[air])


def _around(values: Sequence[float] | Array, chosen: float) -> tuple[float, float]:
    k = int(np.argmin(abs(np.asarray(values) - chosen)))
    return float(values[max(k - 1, 0)]), float(values[min(k + 1, len(values) - 1)])
