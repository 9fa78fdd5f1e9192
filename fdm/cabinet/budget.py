"""Where the heat that the modules pump comes from, and which way for heat does most to the air."""

from dataclasses import dataclass

import numpy as np

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.nodes import COLD_SIDE, HOT, HOT_PLATE, ROOM
from fdm.cabinet.steady import OperatingPoint, free_nodes, inflow_slopes


@dataclass(frozen=True)
class BudgetLine:
    """What one path brings in that the modules must pump, W, with its band and its share of all."""

    name: str
    kind: str
    watts: float
    band: float
    share: float


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
    free = free_nodes(c, {ROOM})
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
