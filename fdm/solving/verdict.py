"""Whether the answers of a solve are sound: what conduction guarantees, checked on each of its grids."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from fdm.answers.kinds import Asked
from fdm.answers.quantity import Array
from fdm.conduction.network import Checks, NetworkValues
from fdm.section.model import UNITS, Section

ROUNDED = 1e-6  # departures above this come of more than rounding: good input stays below 1e-8
# conductances at slanted edges may be negative, and then the maximum principle holds only nearly
OUTSIDE = 1e-3
FAILED = "a check failed"  # why refinement ended, in short


def failure(asked: Asked, checks: Sequence[Checks], further: Sequence[NetworkValues], value: Array, band: Array) -> str:
    """A sentence on the checks that failed, by how much, and what to look at; empty where all hold.

    `checks` are those of each grid, `further` the networks of all further systems on them, and `value`, `band` (Q,)
    the answers.
    """
    faults = [*_departures(checks, further), *_not_computed(asked, value, band)]
    if not faults:
        return ""
    return f"the answers failed their own checks: {'; '.join(faults)}; {_proportions(asked.section)}"


def _departures(checks: Sequence[Checks], further: Sequence[NetworkValues]) -> Iterator[str]:
    resistances = [n.resistance for n in further if n.resistance.size]
    asymmetry = [float(abs(r - r.T).max() / max(abs(r).max(), 1e-300)) for r in resistances if len(r) == len(r.T)]
    for name, departures, of, limit in (
        ("sums of weights are off by", [c.weight_error for c in checks], "", ROUNDED),
        ("heat flows are out of balance by", [c.imbalance for c in checks], " of the largest", ROUNDED),
        ("the network is out of symmetry by", [c.asymmetry for c in checks] + asymmetry, " of the largest", ROUNDED),
        ("temperatures lie outside their limits by", [c.outside for c in checks], " of their range", OUTSIDE),
    ):
        worst = float(np.max(departures, initial=0.0))
        if not worst <= limit:
            size = f"{worst:.2g}{of}" if math.isfinite(worst) else "what cannot be computed"
            yield f"{name} {size} ({limit:g} is allowed)"


def _not_computed(asked: Asked, value: Array, band: Array) -> Iterator[str]:
    """Answers without a value, or with a band that is no number. Fins that are no warmer than their air have no
    efficiency."""
    lacking = ~np.isfinite(value) | np.isnan(band)
    names = [q.words for q, lacks in zip(asked.quantities, lacking) if lacks and q.family != "fins"]
    if names:
        more = f" and {len(names) - 1} more cannot" if names[1:] else " cannot"
        yield f"{names[0]}{more} be computed"


def _proportions(section: Section) -> str:
    """Where to look: the ranges of what conducts, and the size of the drawing."""
    unit = UNITS[section.unit]
    low_x, high_x, low_y, high_y = (v / unit for v in section.extent)
    solids = [k for p in section.parts if p.material is not None for k in p.material.conductivity]
    films = [e.film for e in section.environments if math.isfinite(e.film)]
    joints = [j.resistance for j in section.joints if j.resistance > 0]
    ranges = [(solids, "conductivities", "W/(m K)"), (films, "films", "W/(m2 K)"), (joints, "joints", "m2 K/W")]
    told = [f"{name} from {min(some):.3g} to {max(some):.3g} {of}" for some, name, of in ranges if some]
    size = f"a drawing of {high_x - low_x:.3g} x {high_y - low_y:.3g} {section.unit}"
    return f"look for a number out of all proportion among {', '.join([*told, size])}"
