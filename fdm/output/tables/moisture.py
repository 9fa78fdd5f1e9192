"""What sweats and what freezes, in words."""

import math
from collections.abc import Iterator

import numpy as np

from fdm.answers.moisture import Wetted
from fdm.answers.rounding import brief
from fdm.conduction.arrays import Array
from fdm.output.breakdown import percent
from fdm.section.model import UNITS, Environment, Section, Source
from fdm.solving.solution import Solution
from fdm.surroundings import moist

NEAR = 0.02  # m from water to a source, below which it is named: common practice, no source
ALL = 0.995  # of a surface
COOLER = 1.0  # K that a surface is colder than its air, from which on it is worth a word where no humidity is given


def moisture_sentences(solution: Solution) -> Iterator[str]:
    """What sweats or freezes, the worst place of each part; or what comes nearest to it; or, where no humidity is given
    and nothing is heated, from which humidity on the coldest surface would."""
    margins = sorted((v, b, q.path) for q, v, b in solution.answers if q.family == "margin" and math.isfinite(v))
    airs = {e.name: e for e in solution.section.environments}
    if not margins:
        yield from _without_humidity(solution)
        return
    told = set[str]()
    for margin, band, (_, part, air, _) in margins:
        if part in told or margin > (band if math.isfinite(band) else 0.0):
            continue
        hazard = "" if told else _hazard(solution)
        told.add(part)
        yield f"{_how_wet(solution, part, airs[air])}{hazard}"
    if not told:
        margin, band, (_, part, name, _) = margins[0]
        humidity, unsure = solution.answers.at(("surface", part, name, "sweats_from"))
        lowest = brief(*solution.answers.at(("surface", part, name, "lowest")), "degC")
        would = "" if humidity > 100 else f"; it would from {brief(humidity, unsure, '%')} humidity on"
        yield (
            f"nothing sweats: {part} comes nearest, at {lowest}, {brief(margin, band, 'K')} above the "
            f"{_point(airs[name])}{would}"
        )


def _how_wet(solution: Solution, part: str, air: Environment) -> str:
    """That a part sweats or freezes, and by how much."""
    lowest, band = solution.answers.at(("surface", part, air.name, "lowest"))
    margin, unsure = solution.answers.at(("surface", part, air.name, "margin"))
    does, side = "freeze over" if lowest < 0 else "sweat", "below" if margin < 0 else "above"
    own = [w for w in solution.wetted if (w.part, w.air) == (part, air.name)]
    shares = ", ".join(f"{_share(w)} of that surface {'freezes' if w.freezes else 'is wet'}" for w in own)
    return (
        f"{part} {'will' if margin < -unsure else 'may'} {does}: coldest place {brief(lowest, band, 'degC')}, "
        f"{brief(abs(margin), unsure, 'K')} {side} the {_point(air)}{'; ' * bool(own)}{shares}"
    )


def _share(w: Wetted) -> str:
    return "all" if w.share > ALL else percent(w.share)


def _point(air: Environment) -> str:
    """The point below which an air's moisture settles, with the air that it is of."""
    kind = "frost" if air.settling_point < 0 else "dew"
    return f"{kind} point of {air.name} ({air.settling_point:.3g} degC)"


def _hazard(solution: Solution) -> str:
    """That water and electricity do not go together, and which source is near."""
    section = solution.section
    near = [(_distance(_places(w), section, s), s.name) for w in solution.wetted for s in section.heat_sources]
    distance, name = min(near, default=(math.inf, ""))
    near_by = "touches it" if distance < 1e-6 * section.size else f"is {1e3 * distance:.2g} mm from it"
    return "; keep the water away from anything electric" + (f": {name} {near_by}" if distance < NEAR else "")


def _places(w: Wetted) -> Array:
    """(K, 2) m"""
    return np.concatenate([w.edges, w.cells]).reshape(-1, 2)


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
        does = "freezes" if w.freezes else "sweats"
        yield f"{w.part} in {w.air}: {_share(w)} {does}, at {where} {solution.section.unit}"
