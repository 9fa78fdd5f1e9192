"""Numbers of a file, and temperatures that come of them, that are likely slips: of unit, sign or place of the comma.

The limits are common practice, no source. They are wide: what a small cabinet or a heat sink has lies well within.
"""

import math
import re
from collections.abc import Iterator

from fdm.answers.quantity import Answers
from fdm.answers.stems import pull_of
from fdm.errors import InputError
from fdm.section.by_temperature import STEEPEST, Curve, Line
from fdm.section.materials import builtin_materials
from fdm.section.model import UNITS, Fins, Material, Part, Rectangle, Section, Sensor
from fdm.section.rules import fin_array
from fdm.surroundings.air import air_at
from fdm.surroundings.channels import channel_film
from fdm.surroundings.film import Conditions
from fdm.surroundings.still import StillFins

KELVIN = 200.0  # from here on, degC of a surrounding are more likely kelvin
DRIEST = 1.0  # % humidity: a number of this or less is more likely a share of 1
LEAST_FILM, LARGEST_FILM = 0.5, 5000.0  # W/(m2 K): behind thick insulation; under densely set fins, or boiling water
SMALLEST, LARGEST = 0.0005, 10.0  # m, of a drawing
HIGHEST = 9.0  # km above the sea, that is asked for
STILL_WARMER, LEAST_STILL = 5.0, 0.5  # K of fins above still air; share of its film that fins have at the least
MOST_STILL = 20.0  # W/(m2 K), more than still air has between any fins
USUAL_FAN, STRONGEST_FAN = 3.0, 15.0  # m/s between fins
NEAR, NEAR_SHARE = 2.0, 0.2  # K, and of the difference to the air: by so much a surface may differ from a film's
DAMPED = 0.6  # power of the ratio of both differences: a film in still air goes with it to the power of 0.25 to 1
COLDEST, HOTTEST = -80.0, 200.0  # degC, of a heated place
THINNEST, THICKEST, LARGEST_BEAD = 2e-5, 0.02, 0.05  # m: the thinnest lead, the thickest stem, the largest bead
LEAST_DISSIPATION = 2e-5  # W/K: less than a bead of a quarter of a millimetre gives off to still air
LONGEST = 5.0  # m of a stem
THINNEST_PLATE = 1e-5  # m
LEAST_CONDUCTIVITY, LARGEST_CONDUCTIVITY = 0.003, 1e5  # W/(m K): of evacuated panels; of heat pipes, in effect
OVERLAP = 1e-6  # of the drawing's size
SURELY_POSITIVE = re.compile(r"(film|conductivity|resistance|thickness|emissivity|speed|volume_flow)( \d+)?$")
LEAST_JOINT, LARGEST_JOINT = 1e-7, 0.5  # m2 K/W
UNLIKE = 100.0  # times more or less than what materials of such a name conduct
LEAST_WATTS, MOST_RISE = 1e-6, 5.0  # W of a sensor's own, and K that they warm it by


def implausible_numbers(section: Section) -> Iterator[str]:
    """A sentence for each given temperature, film and size that is likely a slip, with what to look at."""
    yield from implausible_altitude(section.altitude)
    for e in section.environments:
        yield from implausible_temperature(f"environment {e.name!r}", e.temperature)
        if e.film_from is not None and e.follows is None:
            yield from implausible_temperature(f"environment {e.name!r}, film, surface", e.film_from.surface or 0.0)
        yield from implausible_film(f"environment {e.name!r}", e.film)
        if e.humidity is not None and e.humidity <= DRIEST:
            yield (
                f"environment {e.name!r}: a humidity of {e.humidity:g} % is drier than any room; if a share is meant, "
                f"give {100 * e.humidity:g}"
            )
    for fins in section.fins:
        yield from _implausible_between(section, fins)
    for sensor in section.sensors:
        yield from _implausible_probe(section, sensor)
    for s in section.held_sources:
        yield from implausible_temperature(f"source {s.name!r}", s.temperature or 0.0)
    materials = {p.material.name: p.material for p in section.parts if p.material is not None}
    for m in materials.values():
        yield from implausible_curve(f"material {m.name!r}, conductivity", m.by_temperature)
        yield from unlike_its_name(m)
        if not LEAST_CONDUCTIVITY <= min(m.conductivity) <= max(m.conductivity) <= LARGEST_CONDUCTIVITY:
            yield (
                f"material {m.name!r}, conductivity: {m.conductivity[0]:g} W/(m K) is out of what solids, and heat "
                f"pipes, have ({LEAST_CONDUCTIVITY:g} to {LARGEST_CONDUCTIVITY:g}); give W/(m K)"
            )
    for part in section.parts:
        yield from _implausible_part(section, part)
    for u in section.uncertain:
        if not u.from_table and u.between is None and u.uncertainty > u.nominal and SURELY_POSITIVE.search(u.place):
            yield (
                f"{u.place}: an uncertainty of {u.uncertainty:g} is more than the value, {u.nominal:g}; give the "
                "standard uncertainty in the unit of the value, not in %"
            )
    for joint in section.joints:
        if joint.resistance > LARGEST_JOINT or 0 < joint.resistance < LEAST_JOINT:
            yield (
                f"{joint.where}: {joint.resistance:.3g} m2 K/W is not what joints have (5e-6 to 1e-3, a layer of air "
                f"0.2); give m2 K/W, not K/W, or a thickness in {section.unit}"
            )
    x0, x1, y0, y1 = section.extent
    sides = x1 - x0, y1 - y0
    if not SMALLEST <= max(sides) <= LARGEST:
        a, b = (s / UNITS[section.unit] for s in sides)
        yield (
            f"unit: the drawing is {a:g} x {b:g} {section.unit}, which is {'small' if max(sides) < 1 else 'large'} "
            f'for a cabinet or a heat sink; look whether unit = "{section.unit}" is meant'
        )
    elif section.view == "section" and not SMALLEST <= section.depth <= LARGEST:
        size = "little" if section.depth < 1 else "much"
        yield (
            f"depth: {section.depth / UNITS[section.unit]:g} {section.unit} is {size} for a cabinet or a heat sink; "
            f"give {section.unit}, as all lengths of this file"
        )


def _implausible_part(section: Section, part: Part) -> Iterator[str]:
    """A sentence on a plate that is thinner than a foil or thicker than the drawing is wide, and on copies of a part
    that lie on each other."""
    u, unit, t = UNITS[section.unit], section.unit, part.thickness
    if t is not None and not THINNEST_PLATE <= t <= section.size:
        than = "thinner than any plate" if t < THINNEST_PLATE else "more than all of the drawing is wide"
        yield f"part {part.name!r}, thickness: {t / u:g} {unit} is {than}; give {unit}, as all lengths of this file"
    slack = OVERLAP * section.size
    for one, next_one in zip(part.shapes, part.shapes[1:] if isinstance(part.shapes[0], Rectangle) else ()):
        (a, b, c, d), (e, f, g, h) = one.bounds, next_one.bounds
        alike = abs((b - a) - (f - e)) < slack and abs((d - c) - (h - g)) < slack
        if alike and min(b, f) - max(a, e) > slack and min(d, h) - max(c, g) > slack:
            yield f"part {part.name!r}, repeat: its copies lie on each other; give a step of more than their own width"
            return


def _implausible_probe(section: Section, sensor: Sensor) -> Iterator[str]:
    """A sentence for each number of a sensor's stem, bead and watts that is likely a slip."""
    where, stem, bead = f"sensor {sensor.name!r}", sensor.stem, sensor.bead
    if isinstance(sensor.should_read, float):
        yield from implausible_temperature(f"{where}, should_read", sensor.should_read)
    widths = [] if stem is None else [("stem, diameter", stem.diameter, THICKEST)]
    widths += [("bead, diameter", bead.diameter, LARGEST_BEAD)] if bead is not None and bead.diameter else []
    for key, width, most in widths:
        if not THINNEST <= width <= most:
            yield (
                f"{where}, {key}: {1e3 * width:g} mm is not what sensors have ({1e3 * THINNEST:g} to {1e3 * most:g} "
                f"mm); look whether {section.unit} is meant, the unit of this file"
            )
    if bead is not None and bead.dissipation is not None and bead.dissipation < LEAST_DISSIPATION:
        yield (
            f"{where}, bead, dissipation: {1e3 * bead.dissipation:g} mW/K is less than any sensor has (0.5 to 10); "
            "give mW/K, not W/K"
        )
    if stem is not None:
        if stem.film is not None:
            yield from implausible_film(f"{where}, stem", stem.film)
        for key, metres in (("length", stem.length), ("through", stem.through)):
            if metres >= LONGEST:
                yield f"{where}, stem, {key}: {metres:g} m is far more than is felt; look at the unit of this file"
        if stem.to == sensor.should_read:
            yield (
                f"{where}, stem, to: {stem.to!r} is what it should read, so its stem does no harm; name the "
                "environment that the stem comes from"
            )
    watts = sensor.self_heating or 0.0
    if 0 < watts < LEAST_WATTS:
        yield f"{where}, self_heating: {1e3 * watts:g} mW warms nothing; give mW, not W"
    rise = pull_of(section, sensor).resistance * watts if watts else 0.0
    if rise > MOST_RISE:
        yield (
            f"{where}, self_heating: {1e3 * watts:g} mW warm it by {rise:.3g} K; look at the watts (in "
            "mW: most sensors take less than one), at its bead and at its stem"
        )


def _implausible_between(section: Section, fins: Fins) -> Iterator[str]:
    """A sentence on a film that is given as a number for fins, and that no air between them has."""
    air = next(e for e in section.environments if e.name == fins.environment)
    if air.film_from is not None or not math.isfinite(air.film):
        return
    try:
        drawn = fin_array(fins, section.part_named)
        on_walls = channel_film(air_at(air.temperature), drawn, [USUAL_FAN, STRONGEST_FAN])
        usual, strongest = (on_walls * drawn.area / drawn.wetted_area).tolist()
        if LEAST_STILL * MOST_STILL <= air.film <= strongest:
            return
        still = StillFins(drawn).film(Conditions(air.temperature, air.temperature + STILL_WARMER)).film
    except InputError:  # a single fin, or air of which relations know nothing
        return
    if LEAST_STILL * still <= air.film <= strongest:
        return
    than = f"more than air of {STRONGEST_FAN:g} m/s has" if air.film > still else "less than half of still air's"
    yield (
        f"environment {air.name!r}: a film of {air.film:g} W/(m2 K) is {than} between {fins.name!r} as drawn, "
        f"{1e3 * drawn.gap:.3g} mm apart: still air has about {still:.2g}, and that of a fan at {USUAL_FAN:g} m/s "
        f"{usual:.2g}; it is that of the fins' own faces, not one of their base that stands for them"
    )


def implausible_altitude(metres: float) -> Iterator[str]:
    """A sentence on an altitude that is likely in kilometres: a few metres, with decimals that no air feels."""
    if 0 < metres < HIGHEST and metres != round(metres):
        yield f"altitude: {metres:g} m is felt by no air; if these are kilometres, give {1000 * metres:g}"


def implausible_temperature(where: str, degrees: float) -> Iterator[str]:
    """A sentence on a given temperature that is likely in kelvin."""
    if degrees >= KELVIN:
        yield (
            f"{where}: {degrees:g} degC is hotter than what a cabinet or a heat sink meets; if these are kelvin, give "
            f"{round(degrees - 273.15, 2):g}"
        )


def implausible_curve(where: str, curve: Curve | None) -> Iterator[str]:
    """A sentence on a conductivity that is given at kelvin, or changes with the temperature as no solid's does."""
    if curve is not None:
        yield from implausible_temperature(where, curve.at if isinstance(curve, Line) else curve.temperature[0])
    if isinstance(curve, Line) and abs(curve.per_kelvin) > STEEPEST * curve.value:
        share = curve.per_kelvin / curve.value
        meant = float(f"{curve.per_kelvin * curve.value:.3g}")
        relative = f"; if a share a kelvin is meant, give {meant:g}" if abs(curve.per_kelvin) <= STEEPEST else ""
        yield (
            f"{where}: per_kelvin = {curve.per_kelvin:g} W/(m K2) changes {curve.value:g} W/(m K) by "
            f"{100 * share:.2g} % a kelvin, more than that of any solid{relative}"
        )


def unlike_its_name(material: Material) -> Iterator[str]:
    """A sentence on a conductivity that is far from that of all built-in materials which share a word with its name."""
    builtin = builtin_materials()
    if builtin.get(material.name) == material:
        return
    words = set(re.findall(r"[a-z]{3,}", material.name.lower()))
    known = [m.conductivity[0] for m in builtin.values() if words & set(re.findall(r"[a-z]{3,}", m.name.lower()))]
    k = material.conductivity[0]
    if known and not min(known) / UNLIKE <= k <= UNLIKE * max(known):
        meant = f"; if these are mW/(m K), give {k / 1000:g}" if k > max(known) else ""
        yield (
            f"material {material.name!r}, conductivity: {k:g} W/(m K) is far from the {min(known):g} to {max(known):g} "
            f"of built-in materials with such a name{meant}"
        )


def implausible_film(where: str, film: float) -> Iterator[str]:
    """A sentence on a film that air cannot have."""
    if math.isfinite(film) and not LEAST_FILM <= film <= LARGEST_FILM:
        yield (
            f"{where}: a film of {film:g} W/(m2 K) is out of all that air does; still air has 4 to 10 with its "
            "radiation, a fan 20 to 100, and one that stands for fins has as many times more as these have more surface"
        )


def far_surfaces(section: Section, answers: Answers) -> Iterator[str]:
    """A sentence for each film that was taken for a surface of another temperature than the answers have there."""
    for e in section.environments:
        if e.film_from is None or (taken := e.film_from.surface) is None:
            continue
        there = [v for q, v, _ in answers if q.family == "surface" and q.path[2] == e.name and math.isfinite(v)]
        near = max(NEAR, NEAR_SHARE * abs(taken - e.temperature))
        if there and not min(there) - near <= taken <= max(there) + near:
            found, given = (x - e.temperature for x in ((min(there) + max(there)) / 2, taken))
            better = e.temperature + (given * (found / given) ** DAMPED if found * given > 0 else found)
            yield (
                f"environment {e.name!r}: its film is that of a surface of {taken:.3g} degC, and surfaces there come "
                f"to {min(there):.3g} to {max(there):.3g} degC; try surface = {better:.3g} in it"
            )


def implausible_answers(section: Section, answers: Answers) -> Iterator[str]:
    """A sentence on the heated places that are colder or hotter than anything small that is built."""
    reached = {name: answers.at(("terminals", name, "temperature"))[0] for name in section.heat_names}
    out = {name: degrees for name, degrees in reached.items() if not COLDEST <= degrees <= HOTTEST}
    out = {name: degrees for name, degrees in out.items() if math.isfinite(degrees)}
    if not out or any(implausible_numbers(section)):
        return  # what is implausible in the file has been told
    name = max(out, key=lambda n: abs(out[n]))
    more = f" (and {len(out) - 1} more)" if len(out) > 1 else ""
    yield (
        f"source {name!r}{more} would be at {out[name]:.0f} degC, which nothing of a cabinet or a lamp stands; look at "
        "its watts (W, not mW), at the depth that they enter in, and at the surface that gives them off"
    )
