"""What is doubtful of a solved cabinet: the checks that it fails, and the warnings of what is likely not meant."""

import math
from collections.abc import Iterable, Mapping

from fdm.cabinet.at_work import left_as_drawn, plate_watts
from fdm.cabinet.circuit import Circuit
from fdm.cabinet.datasheet import HeatCheck
from fdm.cabinet.films import LOAD_FILM
from fdm.cabinet.model import Cabinet
from fdm.cabinet.module import properties
from fdm.cabinet.moisture import impossible_moisture, unlikely_moisture
from fdm.cabinet.nodes import COLD, HOT, sink_node
from fdm.cabinet.plausible import implausible_figures
from fdm.cabinet.pulldown import PullDown
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sections import Sections
from fdm.cabinet.sinks import half_apart
from fdm.cabinet.steady import OperatingPoint
from fdm.cabinet.supply_chart import SupplyChart
from fdm.cabinet.sweating import unread_surfaces
from fdm.cabinet.walls import FACES
from fdm.cabinet.zones import air_in_words

COLDEST, HOTTEST = -60.0, 100.0  # degC
LEAST_EXCESS, GREATEST_EXCESS = -0.15, 0.3  # of a module's greatest heat by the model over the stated one
MUCH_COLDER = 1.0  # K
LEAST_APART = 0.2  # K between places on a plate while half of the modules are off, to be worth a word
LEAST_WARMER = 1.0  # K of a load than the air, for its film to mean something on the way down


def failure(c: Circuit, sections: Sections, point: OperatingPoint) -> str:
    """A sentence on the checks that failed: those of the first section that fails its own, the operating point's, or
    those of the load's water; empty where all hold."""
    for file, solution in sections.items():
        if solution.failed:
            return f"{file.path}: {solution.failed}"
    numbers = {f"the temperature of the {name}": value for name, value in point.temperature.items()}
    numbers |= {"the thermostat's reading": point.reading, "the power": point.power, "the heat pumped": point.pumped}
    lacking = [name for name, value in numbers.items() if not math.isfinite(value)]
    if lacking:
        return f"{lacking[0]} cannot be computed; look for a number out of all proportion"
    faces = point.temperature[COLD], point.temperature[HOT]
    if min(map(float, properties(c.cabinet.bank.module, *faces))) <= 0:
        return (
            f"between faces of {faces[0]:.0f} and {faces[1]:.0f} degC the modules' figures fall below 0 by their "
            "slopes with temperature; look at hot_side, the ratings and the slopes"
        )
    return impossible_moisture(c)


def doubts(
    c: Circuit,
    sections: Sections,
    point: OperatingPoint,
    chart: SupplyChart,
    run: PullDown,
    check: HeatCheck | None,
) -> tuple[str, ...]:
    """All warnings of a solved cabinet, those of its sections among them."""
    cabinet = c.cabinet
    by_file = {file: [w for w in s.warnings if w != s.failed] for file, s in sections.items()}
    return (
        *doubts_before_answers(cabinet, by_file, c.warnings),
        *unlikely_moisture(c),
        *_moved_air(c, point),
        *_half_switched(c, sections, point),
        *_out_of_reach(cabinet, point, chart, run),
        *_turned_around(cabinet, point, chart),
        *_too_hot(point),
        *_still_load(cabinet),
        *_never_on(cabinet, run),
        *over_ratings(cabinet, run),
        *_contradicting(check),
        *_cold_load(cabinet, run),
        *_beyond_the_model(c, point, run),
    )


def doubts_before_answers(
    cabinet: Cabinet, of_sections: Mapping[SectionFile, Iterable[str]], of_circuit: Iterable[str]
) -> tuple[str, ...]:
    """The warnings that need no answer of the cabinet, with those of its sections and of its circuit."""
    own = tuple(implausible_figures(cabinet))  # its altitude is that of sections, and is told once
    return (
        *own,
        *(f"{file.path}: {w}" for file, warnings in of_sections.items() for w in warnings if w not in own),
        *of_circuit,
        *_open_faces(cabinet),
        *left_as_drawn(cabinet),
        *unread_surfaces(cabinet),
    )


def _open_faces(cabinet: Cabinet) -> list[str]:
    """A warning where the walls do not cover the inside."""
    bank = cabinet.bank
    covered, inside = sum(map(cabinet.wall_area, cabinet.walls)), sum(map(cabinet.face_area, FACES))
    taken = covered + bank.wall_area * bank.supply.modules
    if taken >= 0.99 * inside:
        return []
    return [f"the walls cover {taken:.3g} m2 of {inside:.3g} m2 inside; the rest lets nothing through"]


def _out_of_reach(cabinet: Cabinet, point: OperatingPoint, chart: SupplyChart, run: PullDown) -> list[str]:
    """Warnings where the modules, always on, do not reach where the thermostat switches off, or the setpoint."""
    out = []
    low = cabinet.setpoint - cabinet.thermostat.hysteresis / 2
    if point.reading > low and run.duty == 1:
        out.append(
            f"the thermostat never switches off: always on it settles at a reading of {point.reading:.2f} degC, "
            f"{point.reading - low:.2f} K above {low:.2f} degC where it would"
        )
    air = point.temperature[cabinet.load_zone]
    if air > cabinet.setpoint:
        supplied, lowest = chart.lowest
        unit = "V" if chart.quantity == "voltage" else "A"
        at, tried = f"{lowest:.2f} degC at {supplied:.1f} {unit}", chart.lowest_at_end
        other = f"it is {at}, the {tried} that was tried" if tried else f"the lowest with another supply is {at}"
        out.append(
            f"the setpoint of {cabinet.setpoint:g} degC is {air - cabinet.setpoint:.2f} K below "
            f"what is reached; {other}"
        )
    return out


def _moved_air(c: Circuit, point: OperatingPoint) -> list[str]:
    """Warnings of air that passes the cold sink otherwise than the file takes for granted."""
    out, sink = [], point.temperature[sink_node(c.cabinet.bank)]
    for flow in (f for f in c.flows if f.exchange.along_sink):
        x, first = flow.exchange, point.temperature[flow.exchange.between[0]]
        where = f"exchange {x.name!r}"
        if c.passing < 1:
            out.append(
                f"{where}: its {3600 * flow.volume:.3g} m3/h bring {100 * c.passing:.0f} % of the heat that the cold "
                "sink would take by its film, and leave as cold as the sink; look whether the film is that of so "
                "little air"
            )
        if flow.natural and first <= sink:
            met = air_in_words(x.between[0])
            out.append(f"{where}: the cold sink is warmer than the {met}, so that air rises along it")
        if not flow.laminar:
            out.append(f"{where}: its layer of air is turbulent; the flow by itself is that of a laminar one")
    return out


def _half_switched(c: Circuit, sections: Sections, point: OperatingPoint) -> list[str]:
    """Warnings of plates whose places are not evenly heated while half of the modules are off, though they count so."""
    if c.cabinet.thermostat.switches != "half":
        return []
    out = []
    for key, sink in c.cabinet.bank.plates.items():
        apart = half_apart(sink, sections[sink.file].network, plate_watts(c, point, key))
        if abs(apart) > LEAST_APART:
            out.append(
                f"thermostat, switches: while half of the modules are off, all places on the {key.replace('_', ' ')} "
                f"count as evenly heated; where the others are still on it would be {abs(apart):.2g} K "
                f"{'warmer' if apart > 0 else 'colder'}, so that these pump a little less than is told"
            )
    return out


def _turned_around(cabinet: Cabinet, point: OperatingPoint, chart: SupplyChart) -> list[str]:
    """A warning where the modules warm the inside, at any supply."""
    air = point.temperature[cabinet.load_zone]
    if air <= cabinet.room or chart.lowest_at_end != "least":
        return []
    swapped = "look whether cold and hot, or inside and outside, are swapped"
    return [f"the modules warm the air, to {air:.0f} degC, and less with less supply; {swapped}"]


def _too_hot(point: OperatingPoint) -> list[str]:
    """A warning where the modules' hot face gets too hot."""
    if point.temperature[HOT] <= HOTTEST:
        return []
    warning = (
        f"the hot face would reach {point.temperature[HOT]:.0f} degC, more than the solder and seals of most "
        f"modules stand for long ({HOTTEST:g} degC, common practice, no source)"
    )
    return [warning]


def _still_load(cabinet: Cabinet) -> list[str]:
    """A warning where the film of the load follows the settled state, in which hardly any heat passes it."""
    own = [f for f in cabinet.films if f.of == LOAD_FILM]
    if not own or own[0].film.surface is None or abs(own[0].film.surface - own[0].air) >= LEAST_WARMER:
        return []
    warning = (
        f"{own[0].place}: where it settles, the load is as warm as the air, and its film of {own[0].film.film:.2g} "
        "W/(m2 K) that of still air; on the way down it is higher, and times are shorter: give warmer = 5 or so"
    )
    return [warning]


def _never_on(cabinet: Cabinet, run: PullDown) -> list[str]:
    """A warning where the cabinet settles with the modules switched off."""
    high, low = (cabinet.setpoint + s * cabinet.thermostat.hysteresis / 2 for s in (1, -1))
    readings = run.switched.reading
    if run.period is not None or not run.settled or run.duty != 0 or readings[-1] >= high:
        return []
    never = "never switches on again" if readings[0] > low else "never switches on"
    cools = f"; the modules cool, and do not warm it to {cabinet.setpoint:g} degC"
    above = cools if cabinet.setpoint > cabinet.room else ""
    return [f"the thermostat {never}: switched off it settles at a reading of {readings[-1]:.2f} degC{above}"]


def over_ratings(cabinet: Cabinet, run: PullDown) -> list[str]:
    """A warning of the ratings of the data sheet that the modules exceed on the way down or later."""
    sheet, peaks = cabinet.bank.data_sheet, run.peaks
    if sheet is None:
        return []
    rated = [
        ("current", peaks.current, sheet.greatest_current, "A"),
        ("voltage", peaks.voltage, sheet.greatest_voltage, "V"),
        ("difference", peaks.difference, sheet.greatest_difference, "K"),
    ]
    over = [
        f"a {name} of {value:.3g} {unit}, above their greatest_{name} of {most:g} {unit}"
        for name, value, most, unit in rated
        if most is not None and value > 1.001 * most
    ]
    return [f"the modules get {' and '.join(over)}"] if over else []


def _contradicting(check: HeatCheck | None) -> list[str]:
    """A warning where the ratings of a data sheet cannot all be of one module."""
    if check is None or LEAST_EXCESS <= check.excess <= GREATEST_EXCESS:
        return []
    warning = (
        f"the data sheet's figures contradict one another: by the others the greatest heat would be "
        f"{check.predicted:.3g} W, but greatest_heat is {check.stated:.3g} W; look for one of another module, or of "
        "another hot_side"
    )
    return [warning]


def _cold_load(cabinet: Cabinet, run: PullDown) -> list[str]:
    """A warning where the load is kept much colder than is wanted, or frozen though that is not wanted."""
    load, setpoint = run.load_settles, cabinet.setpoint
    if not run.settled or not run.duty:
        return []
    frozen = load < 0 <= setpoint
    if setpoint - load < MUCH_COLDER and not frozen:
        return []
    dial = f"; set the thermostat to {run.dial:.2f} degC for that" if run.dial is not None else ""
    how = "below freezing" if frozen else f"{setpoint - load:.2f} K too cold"
    return [f"the load is kept at {load:.2f} degC, {how}: {setpoint:g} degC is wanted{dial}"]


def _beyond_the_model(c: Circuit, point: OperatingPoint, run: PullDown) -> list[str]:
    """A warning of the first temperature that lies where air, films and the modules' figures mean little."""
    reached = dict(zip(c.names, run.always_on.temperature.min(0).tolist()))
    for name, value in point.temperature.items():
        low, high = min(value, reached[name]), value
        if low < COLDEST or (high > HOTTEST and name != HOT):  # which has a warning of its own
            where = air_in_words(name) if name in c.cabinet.zone_names else name
            reaches = f"the {where} would reach {low if low < COLDEST else high:.0f} degC"
            meant = f"{COLDEST:g} to {HOTTEST:g} degC"
            return [f"{reaches}; figures of modules, air and films mean little outside of {meant}"]
    return []
