"""The share of every part, film and joint in a resistance or a loss, from the unit fields of the solve.

Any entry of the network is a sum over all conductances: g times the drops of two unit fields across it. The sum is
stationary at these fields, so where conductances change by dg, the entry changes by the same sum with dg in place of g:
no field needs a new solve. All conductances together are of first degree in conductivities, films and 1 / joints, so
the effects of one per cent of each add up to one per cent of the whole (Euler). The effect of a part is thus its share:
in a resistance, the share of the dissipation that happens in it; in a coupling, the share of the temperature drop.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from fdm.conduction.arrays import Array
from fdm.conduction.derivatives import Tangent
from fdm.conduction.inputs import inputs_of
from fdm.solving.solution import Solution


@dataclass(frozen=True)
class Share:
    """`value` in K/W of a resistance, in W/K of a coupling; `share` of the whole."""

    name: str
    kind: str  # "part", "film" or "joint"
    value: float
    share: float


@dataclass(frozen=True)
class Budgets:
    """The budgets of a solved section, on the finest grid: shares of all parts, films and joints, the largest first."""

    solution: Solution
    # by heat terminal: in its mean rise (K/W) by its own watts with all fixed terminals at one temperature
    resistance: Mapping[str, tuple[Share, ...]]
    # by two fixed terminals, in the section's order: in their coupling (W/K). Where only these two exchange heat, they
    # are shares in its resistance too. With a third, heat that passes between it and both counts against them: some may
    # be negative
    loss: Mapping[tuple[str, str], tuple[Share, ...]]


def budgets(solution: Solution) -> Budgets:
    """The budgets of all heat terminals, and of all pairs of fixed terminals that exchange heat."""
    section, t = solution.section, solution.system.tangent
    drops, fixed = t.drops(t.units(solution.unit_fields)), len(section.fixed_names)
    resistance = {name: _budget(t, drops[[fixed + h] * 2], 1.0) for h, name in enumerate(section.heat_names)}
    coupling = solution.network.values.coupling
    pairs = [(a, b) for a in range(fixed) for b in range(a + 1, fixed) if coupling[a, b] > 1e-9 * coupling.max()]
    names = section.fixed_names
    loss = {(names[a], names[b]): _budget(t, drops[[a, b]], -1.0) for a, b in pairs}
    return Budgets(solution, resistance, loss)


def _budget(t: Tangent, drops: Array, sign: float) -> tuple[Share, ...]:
    inputs = inputs_of(t.system.section)
    values = sign * t.sign * t.effects(drops[0], drops[1:])[:, 0]
    whole = values.sum()
    shares = [Share(i.name, i.kind, float(v), float(v / whole)) for i, v in zip(inputs, values) if v != 0]
    return tuple(sorted(shares, key=lambda s: -s.value))
