"""The resistances and losses whose budgets are shown, and the words for them that tables and pictures share."""

from collections.abc import Sequence
from dataclasses import dataclass

from fdm.conduction.inputs import Input
from fdm.inference.budget import Budgets, Share

SMALLEST_SHARE = 0.005  # smaller shares are summed up as "the rest"
MOST_PAIRS = 3  # of fixed terminals whose coupling is broken down


@dataclass(frozen=True)
class Breakdown:
    """A resistance (K/W) or a coupling (W/K), and the shares that parts, films and joints have in it."""

    name: str
    value: float
    band: float
    unit: str
    shares: tuple[Share, ...]


def breakdowns(found: Budgets) -> list[Breakdown]:
    """The resistance of every heat terminal, then the couplings of at most 3 pairs of fixed terminals.

    The pairs are those between which most heat flows at their temperatures. Where all fixed terminals have one
    temperature, they are those with the largest couplings.
    """
    section, n = found.solution.section, found.solution.network
    by_heat, by_pair = found.resistance, found.loss
    out = []
    for k, heat in enumerate(n.heat):
        value, band = float(n.values.resistance[k, k]), float(n.band.resistance[k, k])
        out.append(Breakdown(f"{heat} to the surroundings", value, band, "K/W", by_heat[heat]))
    row = {name: k for k, name in enumerate(n.fixed)}
    t = section.fixed_temperatures
    drop = {(a, b): abs(t[row[a]] - t[row[b]]) for a, b in by_pair}
    if any(drop.values()):
        by_pair = {pair: shares for pair, shares in by_pair.items() if drop[pair]}
    else:
        drop = dict.fromkeys(drop, 1.0)
    watts = {(a, b): drop[a, b] * n.values.coupling[row[a], row[b]] for a, b in by_pair}
    for a, b in sorted(watts, key=lambda pair: -watts[pair])[:MOST_PAIRS]:
        value, band = float(n.values.coupling[row[a], row[b]]), float(n.band.coupling[row[a], row[b]])
        out.append(Breakdown(f"{a} to {b}", value, band, "W/K", by_pair[a, b]))
    return out


def largest_shares(shares: Sequence[Share], most: int) -> tuple[list[Share], float]:
    """At most `most` shares, the largest first whatever their sign, and the sum of all others."""
    by_size = sorted(shares, key=lambda s: -abs(s.share))
    shown = [s for s in by_size[:most] if abs(s.share) >= SMALLEST_SHARE]
    return shown, sum(s.share for s in by_size[len(shown) :])


def full_name(of: Share | Input) -> str:
    """The name with its kind before it, except for parts.

    >>> full_name(Share("base | board", "joint", 0.01, 0.02))
    'joint base | board'
    """
    before = {"film": "film of ", "joint": "joint ", "material": "all "}.get(of.kind, "")
    if of.kind.startswith(("stem", "bead", "self-heating")):
        before = f"{of.kind} of "
    return before + of.name


def percent(share: float) -> str:
    """
    >>> percent(0.314), percent(0.0314)
    ('31 %', '3.1 %')
    """
    return f"{100 * share:.0f} %" if abs(share) >= 0.0995 else f"{100 * share:.1f} %"
