"""What sweats and what freezes, in words."""

import math
from collections.abc import Iterator, Sequence

import numpy as np

from fdm.answers.moisture import Wetted
from fdm.answers.quantity import Quantity
from fdm.answers.rounding import brief, rough
from fdm.conduction.arrays import Array
from fdm.output.breakdown import percent
from fdm.section.model import UNITS, Environment, Section, Source
from fdm.solving.solution import Solution
from fdm.surroundings import moist

MOST_NAMED = 3  # parts that sweat, and as many that freeze
NEAR = 0.02  # m from water to a source, below which it is named: common practice, no source
ALL = 0.995  # of a surface
COOLER = 1.0  # K that a surface is colder than its air, from which on it is worth a word where no humidity is given

Margin = tuple[float, float, str, str]  # K above the dew or frost point, its band, the part and the air


def moisture_sentences(solution: Solution) -> Iterator[str]:
    """What sweats or freezes; or what comes nearest to it; or, where no humidity is given and nothing is heated, from
    which humidity on the coldest surface would."""
    answers = ((q.path, v, b) for q, v, b in solution.answers if q.family == "margin" and math.isfinite(v))
    margins = sorted((v, b, path[1], path[2]) for path, v, b in answers)
    if not margins:
        yield from _without_humidity(solution)
        return
    airs = {e.name: e for e in solution.section.environments}
    certain, possible = ([m for m in margins if m[0] < sign * m[1]] for sign in (-1, 1))
    told = certain or possible
    margin, band, part, name = (told or margins)[0]
    if told:
        upto = "up to " if len({m[2] for m in told}) > 1 and certain else ""
        side = "below" if margin < 0 else "above"
        yield (
            f"{_what(solution, told, 'will' if certain else 'may')}: {upto}{brief(abs(margin), band, 'K')} {side} the "
            f"{_point(airs[name])}; keep water away from anything electric{near_by(solution)}"
        )
        return
    lowest = brief(*solution.answers.at(("surface", part, name, "lowest")), "degC")
    humidity, unsure = solution.answers.at(("surface", part, name, "sweats_from"))
    would = "" if humidity > 100 else f"; it would from {brief(humidity, unsure, '%')} humidity on"
    yield (
        f"nothing sweats: {part} comes nearest, at {lowest}, {brief(margin, band, 'K')} above the "
        f"{_point(airs[name])}{would}"
    )


def _what(solution: Solution, margins: Sequence[Margin], will: str) -> str:
    """Which parts freeze and which sweat: "cold plate will freeze over, cold fins and skin will sweat"."""
    lowest = {(part, air): solution.answers.at(("surface", part, air, "lowest"))[0] for _, _, part, air in margins}
    icy = list(dict.fromkeys(part for _, _, part, air in margins if lowest[part, air] < 0))
    wet = list(dict.fromkeys(part for _, _, part, air in margins if part not in icy))
    kinds = ((icy, "freeze over"), (wet, "sweat"))
    return ", ".join(f"{listed(parts)} {will} {does}" for parts, does in kinds if parts)


def never_sweats(q: Quantity, lowest: float) -> bool:
    """Whether an answer is a humidity (%) from which something sweats that no air has, as its `lowest` is above 100."""
    return q.family == "sweats_from" and lowest > 100


def listed(names: Sequence[str]) -> str:
    """The first names, and how many more there are: "a, b and 3 more"."""
    more = len(names) - MOST_NAMED
    shown = [*names[:MOST_NAMED], *([f"{more} more"] if more > 0 else [])]
    return " and ".join([*([", ".join(shown[:-1])] if shown[:-1] else []), shown[-1]])


def _point(air: Environment) -> str:
    """The point below which an air's moisture settles, with the air that it is of."""
    kind = "frost" if air.settling_point < 0 else "dew"
    return f"{kind} point of {air.name} ({air.settling_point:.3g} degC)"


def near_by(solution: Solution) -> str:
    """The source that water comes near to."""
    section = solution.section
    near = [(_distance(_places(w), section, s), s.name) for w in solution.wetted for s in section.heat_sources]
    distance, name = min(near, default=(math.inf, ""))
    if distance > NEAR:
        return ""
    return f": it touches {name}" if distance < 1e-6 * section.size else f": {name} is {rough(1e3 * distance)} mm off"


def _places(w: Wetted) -> Array:
    """(K, 2) m"""
    return np.concatenate([w.edges, w.wet_cells]).reshape(-1, 2)


def _distance(places: Array, section: Section, source: Source) -> float:
    """m from the nearest of some places (K, 2) m to a source, as if its shapes were their bounds."""
    if source.segment is not None:
        boxes = [(*sorted(source.segment.x), *sorted(source.segment.y))]
    else:
        boxes = [s.bounds for s in section.part_named[str(source.part)].shapes]
    x, y = places.T
    gaps = [np.hypot(np.clip(x, x0, x1) - x, np.clip(y, y0, y1) - y) for x0, x1, y0, y1 in boxes]
    return min(float(gap.min()) for gap in gaps)


def _without_humidity(solution: Solution) -> Iterator[str]:
    """The coldest surface in the warmest air, of what nothing heats: a wall, a corner, a bolt."""
    airs = {e.name: e.temperature for e in solution.section.environments}
    if solution.network.heat or len(airs) < 2:
        return
    warm = max(airs, key=lambda name: airs[name])
    there = ((v, b, q.path) for q, v, b in solution.answers if q.family == "surface" and math.isfinite(v))
    found = ((v, b, path[1]) for v, b, path in there if path[2:] == (warm, "lowest"))
    value, band, part = min(found, default=(math.inf, 0.0, ""))
    if moist.COLDEST <= value < airs[warm] - COOLER and airs[warm] <= moist.WARMEST:
        humidity = moist.relative_humidity(airs[warm], moist.saturation_on_surface(value))
        yield (
            f"coldest surface in {warm}: {part}, {brief(value, band, 'degC')}; it sweats where that air has more than "
            f"{humidity:.0f} % humidity"
        )


def stretches(solution: Solution) -> Iterator[str]:
    """Where surfaces sweat and freeze, and on how much of them."""
    unit = UNITS[solution.section.unit]
    for w in solution.wetted:
        low, high = _places(w).min(0) / unit, _places(w).max(0) / unit
        where = ", ".join(
            f"{axis} = {a:.4g}" + (f" to {b:.4g}" if f"{a:.4g}" != f"{b:.4g}" else "")
            for axis, a, b in zip("xy", low, high)
        )
        share = "all" if w.share > ALL else percent(w.share)
        yield f"{w.part} in {w.air}: {share} {'freezes' if w.freezes else 'sweats'}, at {where} {solution.section.unit}"
