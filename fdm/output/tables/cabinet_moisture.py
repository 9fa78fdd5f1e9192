"""What sweats outside a cabinet, and what settles inside, in words and as tables."""

from collections.abc import Iterator, Sequence

import numpy as np
from rich.console import Group, RenderableType
from rich.text import Text

from fdm.answers.rounding import brief, with_band
from fdm.answers.units import GRAM
from fdm.cabinet.bank import PlateSink
from fdm.cabinet.quantities import DAY, section_names
from fdm.cabinet.settling import ANYWHERE, COLD_SINK, MODULE_SECTION, CoolSurface, MoistAir
from fdm.cabinet.solution import SolvedCabinet
from fdm.output.tables.console_table import new_table
from fdm.output.tables.moisture import listed, near_by
from fdm.output.tables.sentences import Sentence, with_article
from fdm.solving.solution import Solution

LEAST_WATER = 0.01  # g a day that are worth a word
LEAST_SHARE = 0.005  # of the water, that is
LEAST_LATENT = 0.02  # of what the modules pump, that is
SIDES = ("outside", "inside")


def cabinet_moisture(solved: SolvedCabinet) -> Iterator[str]:
    """What sweats outside, and what settles inside, with the modules always on."""
    m = solved.circuit.moisture
    if m is None:
        return
    air = m.always_on
    yield _outside([s for s in air.surfaces if s.side == "outside"], m.room_humidity, m.room_point)
    yield _water(solved, air)
    bank = solved.cabinet.bank
    files = [bank.file, *(sink.file for key, sink in bank.plates.items() if key == "cold_sink")]
    counted = [x.name for x in air.settled]
    counted += [name for name, file in zip(section_names(solved.sections), solved.sections) if file in files]
    others = [s for s in air.surfaces if s.side == "inside" and s.margin < -s.margin_band and s.name not in counted]
    if others:
        yield f"Inside, {listed([_name(s) for s in others])} will sweat, too; what settles there is not counted"


def _outside(surfaces: Sequence[CoolSurface], humidity: float, point: float) -> str:
    """What sweats in the room's air, or what comes nearest to it."""
    certain, possible = ([s for s in surfaces if s.margin < sign * s.margin_band] for sign in (-1, 1))
    told = sorted(certain or possible, key=lambda s: s.margin)
    kind = f"{_kind(point)} point of the room ({point:.3g} degC)"
    if told:
        s = told[0]
        upto, side = "up to " if len(told) > 1 and certain else "", "below" if s.margin < 0 else "above"
        return (
            f"Outside, at {humidity:.3g} % humidity, {listed([_name(s) for s in told])} {'will' if certain else 'may'} "
            f"sweat: {upto}{brief(abs(s.margin), s.margin_band, 'K')} {side} the {kind}; keep water away from anything "
            "electric"
        )
    s = min(surfaces, key=lambda s: s.margin)
    would = "" if s.sweats_from > 100 else f"; it would from {brief(s.sweats_from, s.sweats_band, '%')} on"
    return (
        f"Outside nothing sweats: {_name(s)} is nearest, {brief(s.margin, s.margin_band, 'K')} above the {kind}{would}"
    )


def _water(solved: SolvedCabinet, air: MoistAir) -> str:
    """How much water a day freezes and drains inside, on what, and how moist that leaves the air."""
    water, frozen, drained, band = (DAY * kg / GRAM for kg in (air.water, air.frozen, air.drained, air.water_band))
    point = f"{_kind(air.settling_point)} point {air.settling_point:.3g} degC"
    left = f"the air has {air.humidity:.3g} % humidity ({point}){_kept(solved, air)}"
    if water < LEAST_WATER:
        return f"Inside nothing sweats: {left}"
    some = frozen > LEAST_SHARE * water, drained > LEAST_SHARE * water
    does = f"settle, {frozen:.2g} g of it as frost," if all(some) else "freeze" if some[0] else "drain"
    what = f"{'let it thaw, and ' * some[0]}lead it off, away from anything electric"
    at_work = solved.module_at_work()
    near = "" if at_work is None else near_by(at_work)
    heat = f", {air.latent:.2g} W more to pump" if air.latent > LEAST_LATENT * abs(solved.point.pumped) else ""
    return (
        f"Inside, {brief(water, band, 'g')} of water a day {does} {_on_what(solved, air)}{heat}: {what}{near}; {left}"
    )


def _on_what(solved: SolvedCabinet, air: MoistAir) -> str:
    """What the water settles on; parts of drawn sections by their names."""
    names, drawn = list[str](), _drawn(solved)
    for x in sorted(air.settled, key=lambda x: -x.frozen - x.drained):
        if x.name != ANYWHERE and x.frozen + x.drained > LEAST_SHARE * air.water:
            at_work, inside = drawn.get(x.name, (None, ()))
            wet = () if at_work is None else dict.fromkeys(w.part for w in at_work.wetted if w.air in inside)
            names.append(f"{x.name} ({', '.join(wet)})" if wet else x.name)
    rest = [ANYWHERE] if any(x.name == ANYWHERE for x in air.settled) else []
    where = [f"on {with_article(listed(names))}"] if names else []
    return " and, as the air is saturated, ".join([*where, *rest])


def _drawn(solved: SolvedCabinet) -> dict[str, tuple[Solution, tuple[str, ...]]]:
    """The sections at work on which water that settles is counted, with their airs inside, by the names of what they
    are."""
    bank, module = solved.cabinet.bank, solved.module_at_work()
    out = {} if module is None else {COLD_SINK if bank.cold_sink is None else MODULE_SECTION: (module, bank.inside)}
    if isinstance(bank.cold_sink, PlateSink):
        out[COLD_SINK] = solved.plate_at_work("cold_sink"), bank.cold_sink.inside
    return out


def _kept(solved: SolvedCabinet, air: MoistAir) -> str:
    """What it takes to keep the air as moist as is wanted."""
    if solved.cabinet.inside_humidity is None:
        return ""
    grams, way = DAY * abs(air.evaporated) / GRAM, "added" if air.evaporated > 0 else "taken away"
    return f", for which {grams:.3g} g a day have to be {way}"


def _name(s: CoolSurface) -> str:
    return f"{s.part} of {s.name}" if s.part else s.name


def _kind(point: float) -> str:
    return "frost" if point < 0 else "dew"


def moisture_tables(solved: SolvedCabinet) -> Iterator[RenderableType]:
    """Both airs and the water, then all surfaces with their margins; nothing where no humidity is given."""
    m = solved.circuit.moisture
    if m is None:
        return
    states = [m.always_on, *([m.at_setpoint] if m.at_setpoint is not None else [])]
    columns = ("", "always on", "held at the setpoint", "")[: 1 + len(states)] + ("",)
    table = new_table("Moisture inside", columns, range(1, 1 + len(states)))
    no_band = np.nan
    for name, unit, cells in (
        ("humidity of the air", "%", [(a.humidity, no_band) for a in states]),
        ("its dew or frost point", "degC", [(a.settling_point, a.point_band) for a in states]),
        ("water that air exchange brings", "g a day", [(DAY * a.exchanged / GRAM, no_band) for a in states]),
        ("water that evaporates inside", "g a day", [(DAY * a.evaporated / GRAM, no_band) for a in states]),
        ("water that freezes", "g a day", [(DAY * a.frozen / GRAM, no_band) for a in states]),
        ("water that drains", "g a day", [(DAY * a.drained / GRAM, no_band) for a in states]),
        ("its latent heat", "W", [(a.latent, no_band) for a in states]),
    ):
        table.add_row(name, *(_cell(*cell) for cell in cells), unit)
    yield table
    yield _margins(m.always_on, m.room_humidity, m.room_point)


def _cell(value: float, band: float) -> str:
    return f"{value:.3g}" if np.isnan(band) else with_band(value, band)


def _margins(air: MoistAir, humidity: float, point: float) -> RenderableType:
    columns = ("of", "side", "lowest degC", "margin K", "sweats from %", "temperature factor")
    table = new_table("Moisture on surfaces, modules always on", columns, (2, 3, 4, 5))
    for side in SIDES:
        for s in sorted((s for s in air.surfaces if s.side == side), key=lambda s: s.margin):
            sweats = "never" if s.sweats_from > 100 else with_band(s.sweats_from, s.sweats_band)
            factor = f"{s.factor:.3f}" if np.isfinite(s.factor) else ""
            margin = with_band(s.margin, s.margin_band)
            table.add_row(_name(s), side, with_band(s.lowest, s.band), margin, sweats, factor)
    closing = (
        f"margin: above the point at which water settles, {point:.3g} degC in the room ({humidity:.3g} %), "
        f"{air.settling_point:.3g} degC inside"
    )
    return Group(table, Text(), Sentence(closing))
