"""The share of every part, film and joint in a resistance or a loss, from the unit fields of the solve.

Any entry of the network is a sum over all conductances: g times the drops of two unit fields across it. The sum is
stationary at these fields, so where conductances change by dg, the entry changes by the same sum with dg in place of g:
no field needs a new solve. All conductances together are of first degree in conductivities, films and 1 / joints, so
the effects of one per cent of each add up to one per cent of the whole (Euler). The effect of a part is thus its share:
in a resistance, the share of the dissipation that happens in it; in a coupling, the share of the temperature drop.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fdm.conduction.arrays import Array
from fdm.conduction.derivatives import Tangent
from fdm.conduction.inputs import inputs_of
from fdm.errors import InputError, nearest
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
    """All budgets of a solved section: `resistance_budget` by heat terminal, `loss_budget` by pair of fixed ones."""

    solution: Solution
    resistance: Mapping[str, tuple[Share, ...]]
    loss: Mapping[tuple[str, str], tuple[Share, ...]]


def resistance_budget(solution: Solution, heat: str) -> tuple[Share, ...]:
    """Shares of all parts, films and joints in the mean rise (K/W) of a heat terminal by its own watts with all fixed
    terminals at one temperature, the largest first; on the finest grid.

    Raises InputError where there is no such name.
    """
    fixed = len(solution.section.fixed_names)
    k = fixed + _number(heat, solution.section.heat_names, "heat source")
    t = solution.system.tangent()
    return _budget(t, t.drops(t.units(solution.unit_fields)[k : k + 1])[[0, 0]], 1.0)


def loss_budget(solution: Solution, a: str, b: str) -> tuple[Share, ...]:
    """Shares of all parts, films and joints in the coupling (W/K) of two fixed terminals, the largest first; on the
    finest grid. Where only these two exchange heat, they are shares in its resistance too. With a third, heat that
    passes between it and both counts against them: some may be negative.

    Raises InputError where there are no such names, or they are the same.
    """
    ends = [_number(name, solution.section.fixed_names, "environment or held source") for name in (a, b)]
    if a == b:
        raise InputError(f"loss budget: names {a!r} twice; name two")
    t = solution.system.tangent()
    return _budget(t, t.drops(t.units(solution.unit_fields)[ends]), -1.0)


def budgets(solution: Solution) -> Budgets:
    """The budgets of all heat terminals, and of all pairs of fixed terminals that exchange heat."""
    section, t = solution.section, solution.system.tangent()
    drops, fixed = t.drops(t.units(solution.unit_fields)), len(section.fixed_names)
    resistance = {name: _budget(t, drops[[fixed + h] * 2], 1.0) for h, name in enumerate(section.heat_names)}
    coupling = solution.network.values.coupling
    pairs = [(a, b) for a in range(fixed) for b in range(a + 1, fixed) if coupling[a, b] > 1e-9 * coupling.max()]
    names = section.fixed_names
    loss = {(names[a], names[b]): _budget(t, drops[[a, b]], -1.0) for a, b in pairs}
    return Budgets(solution, resistance, loss)


def _number(name: str, names: Sequence[str], what: str) -> int:
    if name not in names:
        raise InputError(f"budget: there is no {what} named {name!r}; {nearest(name, names)}")
    return names.index(name)


def _budget(t: Tangent, drops: Array, sign: float) -> tuple[Share, ...]:
    inputs = inputs_of(t.system.section)
    values = sign * t.sign * t.effects(drops[0], drops[1:])[:, 0]
    whole = values.sum()
    shares = [Share(i.name, i.kind, float(v), float(v / whole)) for i, v in zip(inputs, values) if v != 0]
    return tuple(sorted(shares, key=lambda s: -s.value))
