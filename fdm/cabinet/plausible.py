"""Figures of a cabinet that are likely slips: of unit, or of the place of the comma. Limits as in
`fdm.solving.plausible`: common practice, no source, and wide."""

from collections.abc import Iterator
from math import prod

from fdm.cabinet.bank import PlateSink
from fdm.cabinet.model import Cabinet
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sides import INSIDE, OUTSIDE, sides_of
from fdm.cabinet.walls import FACES
from fdm.cabinet.zones import HOUR
from fdm.section.model import UNITS
from fdm.solving.plausible import (
    DRIEST,
    KELVIN,
    implausible_altitude,
    implausible_film,
    implausible_temperature,
    unlike_its_name,
)

SMALLEST, LARGEST = 0.02, 2.5  # m, of the inside
WARMEST_ROOM = 60.0  # degC
DENSEST = 3000.0  # kg of load in each m3 inside
LOWEST = 0.005  # m, of a sink along which air sinks
LARGEST_AREA = 30.0  # times the faces inside, of a load
LARGEST_WALL, LONGEST_LINE = 5.0, 10.0  # times the faces inside; times the sum of their edges
LARGEST_BLOCK = 0.1  # m2
MOST_OPENED = 1440.0  # times a day: every minute
BEST_SINK, WORST_SINK = 0.002, 50.0  # K/W, of all modules together: water, or no sink at all
SHORTEST_BLOCK, LONGEST_BLOCK = 2e-4, 1.0  # m
STRONGEST_FAN = 100.0  # W
LEAST_FLOW, MOST_CHANGED = 0.01 / 3600, 10.0  # m3/s, and of the air inside in a second: what a fan moves there
LARGEST_RATING = {
    "greatest_difference": (200.0, "K"),
    "greatest_current": (100.0, "A"),
    "greatest_voltage": (300.0, "V"),
}
LARGEST_SUPPLY = {"voltage": (400.0, "V"), "current": (400.0, "A"), "lead_resistance": (20.0, "ohm")}
MOST_CHANGES = 100.0  # of the air inside, per hour
THICKEST_WALL = 2.0  # m
LARGEST_PSI, LARGEST_CHI = 5.0, 2.0  # W/(m K) and W/K
SHORTEST = 0.005  # m, of a line, and of the width over which air touches a sink
THINNEST_GAP = 5e-4  # m, between fins
LARGEST_FACTOR = 20.0  # on what a sink moves by itself
INSULATES, THINNEST_FOAM = 0.06, 1e-3  # W/(m K) and m, of a layer
FAR_ABOVE = 3.0  # times a module's rating, of what the supply gives it
MOST_HEAT = 200.0  # W, given off inside
LEAST_CAPACITY, MOST_CAPACITY = 5.0, 1e5  # J/K, at a face of the modules
LARGEST_CONTACT = 100.0  # W/K, of a load on the cold plate
LEAST_MOISTURE = 0.1 / 86400e3  # kg/s, of a load
LEAST_HEAT, LARGEST_HEAT = 100.0, 15_000.0  # J/(kg K), of the load


def implausible_figures(cabinet: Cabinet) -> Iterator[str]:
    """A sentence for each figure that is likely a slip, with what to look at, and for what is doubtful of a film by a
    relation."""
    load, sheet, unit = cabinet.load, cabinet.bank.data_sheet, UNITS[cabinet.unit]
    yield from cabinet.unused
    yield from implausible_altitude(cabinet.altitude)
    for file in dict.fromkeys(f for f in cabinet.section_files if f is not None and not f.made):
        if file.section.altitude != cabinet.altitude:
            yield (
                f"{file.path}: its altitude is {file.section.altitude:g} m, and that of the cabinet "
                f"{cabinet.altitude:g} m; give the cabinet its altitude, and leave it out there"
            )
        yield from _swapped_sides(cabinet, file)
    for where, degrees in (
        ("cabinet, room", cabinet.room),
        ("cabinet, setpoint", cabinet.setpoint),
        ("cabinet, start", cabinet.start or 0.0),
        ("load, start", load.start),
        ("module, hot_side", 0.0 if sheet is None else sheet.hot_side),
    ):
        yield from implausible_temperature(where, degrees)
    if WARMEST_ROOM < cabinet.room < KELVIN:
        yield (
            f"cabinet, room: {cabinet.room:g} degC is warmer than any room; if these are degrees Fahrenheit, give "
            f"{(cabinet.room - 32) / 1.8:.3g}"
        )
    fahrenheit = (cabinet.setpoint - 32) / 1.8
    if cabinet.setpoint > cabinet.room > fahrenheit > 0:
        yield (
            f"cabinet, setpoint: {cabinet.setpoint:g} degC is above the room's {cabinet.room:g}, and the modules cool; "
            f"if these are degrees Fahrenheit, give {fahrenheit:.3g}"
        )
    for wall in cabinet.walls:
        yield from implausible_film(f"wall {wall.name!r}, film_inside", wall.film_inside)
        yield from implausible_film(f"wall {wall.name!r}, film_outside", wall.film_outside)
    yield from implausible_film("load, film", load.film)
    yield from cabinet.film_notes
    for film in cabinet.films:
        yield from film.notes
    for key, humidity in (("humidity", cabinet.humidity), ("inside_humidity", cabinet.inside_humidity)):
        if humidity is not None and humidity <= DRIEST:
            yield (
                f"cabinet, {key}: {humidity:g} % is drier than any room; if a share is meant, give {100 * humidity:g}"
            )
    if not SMALLEST <= min(cabinet.inside) <= max(cabinet.inside) <= LARGEST:
        sides = " x ".join(f"{side / unit:g}" for side in cabinet.inside)
        meant = f'look whether unit = "{cabinet.unit}" is meant'
        yield f"cabinet, inside: {sides} {cabinet.unit} is no small cabinet; {meant}"
    yield from _implausible_heat(cabinet)
    yield from _implausible_exchanges(cabinet)
    yield from _implausible_losses(cabinet)
    yield from _implausible_modules(cabinet)
    yield from _implausible_sinks(cabinet)
    yield from _swapped_sinks(cabinet)
    yield from _implausible_load(cabinet)


def _implausible_exchanges(cabinet: Cabinet) -> Iterator[str]:
    """The same of air that moves between zones."""
    volume, unit = prod(cabinet.inside), UNITS[cabinet.unit]
    for x in cabinet.exchanges:
        if x.height is not None and not LOWEST <= x.height <= cabinet.inside[2]:
            yield (
                f"exchange {x.name!r}, height: {x.height / unit:g} {cabinet.unit} is not that of a sink in an inside "
                f"{cabinet.inside[2] / unit:g} {cabinet.unit} high; give it in {cabinet.unit}"
            )
        if x.perimeter is not None and x.perimeter < SHORTEST:
            yield (
                f"exchange {x.name!r}, perimeter: {x.perimeter / unit:g} {cabinet.unit} is not what air touches of a "
                f"sink; give it in {cabinet.unit}"
            )
        if x.gap is not None and not THINNEST_GAP <= x.gap <= max(cabinet.inside):
            yield (
                f"exchange {x.name!r}, gap: {x.gap / unit:g} {cabinet.unit} is not how far fins stand apart; give it "
                f"in {cabinet.unit}"
            )
        if x.factor > LARGEST_FACTOR:
            share = f"if % are meant, give {x.factor / 100:g}"
            yield f"exchange {x.name!r}, factor: {x.factor:g} is no factor of 0.5 to 2; {share}"
    for x in cabinet.exchanges:
        if x.flow and not LEAST_FLOW <= x.flow <= MOST_CHANGED * volume:
            yield f"exchange {x.name!r}, flow: {HOUR * x.flow:g} m3/h is not what moves in a small cabinet; give m3/h"


def _implausible_heat(cabinet: Cabinet) -> Iterator[str]:
    """The same of what is given off inside."""
    for where, watts in (
        ("cabinet, inside_heat", cabinet.inside_heat),
        ("load, heat", cabinet.load.heat),
        *((f"zone {z.name!r}, inside_heat", z.inside_heat) for z in cabinet.zones),
    ):
        if watts > MOST_HEAT:
            yield f"{where}: {watts:g} W are more than any small cabinet takes away; give watts, not milliwatts"
    if cabinet.load.heat < 0:
        yield (
            f"load, heat: {cabinet.load.heat:g} W is below 0, so that the load itself cools; give what it gives off as "
            "a number above 0"
        )


def _implausible_load(cabinet: Cabinet) -> Iterator[str]:
    """The same of the load."""
    load, volume, faces = cabinet.load, prod(cabinet.inside), sum(map(cabinet.face_area, FACES))
    if load.surface > LARGEST_AREA * faces:
        yield f"load, surface: {load.surface:g} m2 is far more than the faces inside, {faces:.3g} m2; give m2"
    if load.mass > DENSEST * volume:
        yield (
            f"load, mass: {load.mass:g} kg are more than {1000 * volume:.3g} litres inside can hold; "
            "give kilograms, not grams"
        )
    if 0 < load.moisture < LEAST_MOISTURE:
        grams = 86400e3 * load.moisture
        yield f"load, moisture: {grams:g} g a day are next to nothing; if kilograms are meant, give {1000 * grams:g}"
    if load.contact > LARGEST_CONTACT:
        yield f"load, cold_plate, contact: {load.contact:g} W/K are more than any load that lies there has; give W/K"
    if load.facing is not None and load.facing.area > faces:
        yield (
            f"load, cold_plate, area: {load.facing.area:g} m2 is more than all faces inside, {faces:.3g} m2; give m2"
        )
    if not LEAST_HEAT <= load.specific_heat <= LARGEST_HEAT:
        yield (
            f"load, specific_heat: {load.specific_heat:g} J/(kg K) is that of no load; water has 4180, most things 400 "
            "to 2500; give joules, not kilojoules"
        )


def _implausible_sinks(cabinet: Cabinet) -> Iterator[str]:
    """The same of sinks, with their blocks and fans."""
    unit = cabinet.unit
    for key in ("cold_sink", "hot_sink"):
        where, sink = f"module, {key}", getattr(cabinet.bank, key)
        if sink is None:
            continue
        if sink.fan_power > STRONGEST_FAN:
            yield f"{where}, fan_power: {sink.fan_power:g} W is far more than such a fan takes (1 to 6 W); give watts"
        if isinstance(sink, PlateSink):
            if sink.block is not None and (sink.block.area or 0.0) > LARGEST_BLOCK:
                yield f"{where}, block, area: {sink.block.area:g} m2 is not that of a block between plates; give m2"
            if sink.block is not None and not SHORTEST_BLOCK <= sink.block.length <= LONGEST_BLOCK:
                length = f"{sink.block.length / UNITS[unit]:g} {unit}"
                yield f"{where}, block, length: {length} is not what reaches through a wall; give it in {unit}"
        elif sink.resistance is not None and not BEST_SINK <= sink.resistance <= WORST_SINK:
            yield (
                f"{where}: its {sink.resistance:.3g} K/W are {'less' if sink.resistance < BEST_SINK else 'more'} than "
                "sinks of small cabinets have (0.05 to 2); look at its resistance, or its film and area (m2)"
            )


def _implausible_losses(cabinet: Cabinet) -> Iterator[str]:
    """The same of walls, bridges and the exchange of air."""
    if cabinet.air_changes > MOST_CHANGES:
        yield (
            f"cabinet, air_changes: {cabinet.air_changes:g} an hour are those of no closed cabinet (0.05 to 2); give "
            "how often an hour"
        )
    faces, edges = sum(map(cabinet.face_area, FACES)), 4 * sum(cabinet.inside)
    for wall in cabinet.walls:
        if wall.area is not None and wall.area > LARGEST_WALL * faces:
            yield f"wall {wall.name!r}, area: {wall.area:g} m2 is more than all faces inside, {faces:.3g} m2; give m2"
        for material in dict.fromkeys(layer.material for layer in wall.layers):
            yield from unlike_its_name(material)
        for layer in wall.layers:
            if layer.material.conductivity[0] < INSULATES and layer.thickness < THINNEST_FOAM:
                thin = f"{layer.thickness / UNITS[cabinet.unit]:g} {cabinet.unit}"
                yield (
                    f"wall {wall.name!r}, layer of {layer.material.name!r}: {thin} is thinner than what insulates; "
                    f"give it in {cabinet.unit}"
                )
        if (thick := sum(layer.thickness for layer in wall.layers)) > THICKEST_WALL:
            yield f"wall {wall.name!r}, layers: they are {thick:g} m thick together; give {cabinet.unit}"
    for opening in cabinet.openings:
        if opening.a_day > MOST_OPENED:
            yield f"opening {opening.name!r}, a_day: {opening.a_day:g} is more than once a minute; give how often a day"
    for line in cabinet.lines:
        if line.length < SHORTEST:
            yield (
                f"line {line.name!r}, length: {line.length / UNITS[cabinet.unit]:g} {cabinet.unit} is shorter than any "
                f"edge or seal; give it in {cabinet.unit}"
            )
        if line.length > LONGEST_LINE * edges:
            yield (
                f"line {line.name!r}, length: {line.length:.4g} m is far more than all edges inside, {edges:.3g} m; "
                f"give {cabinet.unit}"
            )
        if line.psi is not None and line.psi > LARGEST_PSI:
            yield (
                f"line {line.name!r}, psi: {line.psi:g} W/(m K) are more than any edge or seal passes (0.01 to 1); "
                "give W/(m K)"
            )
    for point in cabinet.points:
        if point.chi is not None and point.chi > LARGEST_CHI:
            yield f"point {point.name!r}, chi: {point.chi:g} W/K are more than any bolt passes (0.001 to 0.1); give W/K"


def _implausible_modules(cabinet: Cabinet) -> Iterator[str]:
    """The same of the modules' ratings, and of what drives them."""
    for where, given, largest in (
        ("module", cabinet.bank.data_sheet, LARGEST_RATING),
        ("supply", cabinet.bank.supply, LARGEST_SUPPLY),
    ):
        for key, (most, unit) in largest.items():
            figure = getattr(given, key, None)
            if figure is not None and figure > most:
                yield f"{where}, {key}: {figure:g} {unit} are more than such a {where} has; give {unit}"
    yield from _far_above_ratings(cabinet)
    for key in ("cold_capacity", "hot_capacity"):
        joules = getattr(cabinet.bank, key)
        if joules and not LEAST_CAPACITY <= joules <= MOST_CAPACITY:
            yield (
                f"module, {key}: {joules:g} J/K are not those of a sink or plate (50 to 5000; aluminium has 900 J/K in "
                "each kg); give J/K, not kilojoules"
            )


def _far_above_ratings(cabinet: Cabinet) -> Iterator[str]:
    """A sentence on a supply that is not meant for such modules."""
    supply, sheet = cabinet.bank.supply, cabinet.bank.data_sheet
    key, figure = supply.quantity, supply.figure
    most, unit = LARGEST_SUPPLY[key]
    rated = getattr(sheet, f"greatest_{key}", None)
    each = figure / (supply.series if key == "voltage" else supply.parallel)
    if rated is not None and FAR_ABOVE * rated < each and figure <= most:
        meant = "voltage behind the mains adapter" if key == "voltage" else "amperes"
        yield (
            f"supply, {key}: {figure:g} {unit} are {each:g} {unit} for each module, far above its greatest_{key} of "
            f"{rated:g} {unit}; give the {meant}"
        )


def _swapped_sides(cabinet: Cabinet, file: SectionFile) -> Iterator[str]:
    """A sentence on a section whose own temperatures say that inside and outside are named the wrong way round."""
    degrees = {e.name: e.temperature for e in file.section.environments}
    sides = sides_of(cabinet, file)
    inside, outside = ({name: degrees[name] for name in sides.get(side, ())} for side in (INSIDE, OUTSIDE))
    if inside and outside and cabinet.setpoint < cabinet.room and min(inside.values()) > max(outside.values()):
        cold, warm = min(outside, key=outside.__getitem__), min(inside, key=inside.__getitem__)
        yield (
            f"{file.path}: {warm!r}, named as inside, has {inside[warm]:g} degC there, and {cold!r}, named as outside, "
            f"{outside[cold]:g} degC; look whether they are swapped"
        )


def _swapped_sinks(cabinet: Cabinet) -> Iterator[str]:
    """A sentence on a plate drawn for the other side: its modules give heat to one that should be cold, in air that is
    nearer to the room's, or take it from one that should be hot. One that is drawn once for both sides is none, but it
    is told where nothing in it differs from side to side."""
    plates, between = cabinet.bank.plates, (cabinet.room + cabinet.setpoint) / 2
    files = [sink.file for sink in plates.values()]
    if len({(sink.file, sink.places) for sink in plates.values()}) < len(plates):
        yield (
            f"module: cold_sink and hot_sink are both {files[0].path}, alike; a hot sink gives off three to five times "
            "as much, so look whether one of them is meant to be another file"
        )
    if len({file.path for file in files}) < len(files):
        return
    for key, sink in plates.items():
        section, sign = sink.file.section, 1 if key == "cold_sink" else -1
        heats = [s.heat for s in section.sources if s.name in sink.places and s.heat is not None]
        airs = [e.temperature for e in section.environments]
        if all(sign * heat > 0 for heat in heats) and all(sign * (air - between) > 0 for air in airs):
            does, other = ("gives", "hot") if key == "cold_sink" else ("takes", "cold")
            yield (
                f"module, {key}: in {sink.file.path} a module {does} {abs(heats[0]):g} W, and its air has "
                f"{airs[0]:g} degC: look whether it is the {other} sink's file"
            )
