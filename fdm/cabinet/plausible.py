"""Figures of a cabinet that are likely slips: of unit, or of the place of the comma. Limits as in
`fdm.solving.plausible`: common practice, no source, and wide."""

from collections.abc import Iterator
from math import prod

from fdm.cabinet.model import Cabinet
from fdm.section.model import UNITS
from fdm.solving.plausible import DRIEST, implausible_film, implausible_temperature

SMALLEST, LARGEST = 0.02, 5.0  # m, of the inside
DENSEST = 3000.0  # kg of load in each m3 inside
LOWEST = 0.005  # m, of a sink along which air sinks
LEAST_HEAT, LARGEST_HEAT = 100.0, 15_000.0  # J/(kg K), of the load


def implausible_figures(cabinet: Cabinet) -> Iterator[str]:
    """A sentence for each figure that is likely a slip, with what to look at."""
    load, sheet, unit = cabinet.load, cabinet.bank.data_sheet, UNITS[cabinet.unit]
    for where, degrees in (
        ("cabinet, room", cabinet.room),
        ("cabinet, setpoint", cabinet.setpoint),
        ("load, start", load.start),
        ("module, hot_side", 0.0 if sheet is None else sheet.hot_side),
    ):
        yield from implausible_temperature(where, degrees)
    for wall in cabinet.walls:
        yield from implausible_film(f"wall {wall.name!r}, film_inside", wall.film_inside)
        yield from implausible_film(f"wall {wall.name!r}, film_outside", wall.film_outside)
    yield from implausible_film("load, film", load.film)
    for key, humidity in (("humidity", cabinet.humidity), ("inside_humidity", cabinet.inside_humidity)):
        if humidity is not None and humidity <= DRIEST:
            yield (
                f"cabinet, {key}: {humidity:g} % is drier than any room; if a share is meant, give {100 * humidity:g}"
            )
    if not SMALLEST <= min(cabinet.inside) <= max(cabinet.inside) <= LARGEST:
        sides = " x ".join(f"{side / unit:g}" for side in cabinet.inside)
        meant = f'look whether unit = "{cabinet.unit}" is meant'
        yield f"cabinet, inside: {sides} {cabinet.unit} is no small cabinet; {meant}"
    for x in cabinet.exchanges:
        if x.height is not None and not LOWEST <= x.height <= cabinet.inside[2]:
            yield (
                f"exchange {x.name!r}, height: {x.height / unit:g} {cabinet.unit} is not that of a sink in an inside "
                f"{cabinet.inside[2] / unit:g} {cabinet.unit} high; give it in {cabinet.unit}"
            )
    volume = prod(cabinet.inside)
    if load.mass > DENSEST * volume:
        yield (
            f"load, mass: {load.mass:g} kg are more than {1000 * volume:.3g} litres inside can hold; "
            "give kilograms, not grams"
        )
    if not LEAST_HEAT <= load.specific_heat <= LARGEST_HEAT:
        yield (
            f"load, specific_heat: {load.specific_heat:g} J/(kg K) is that of no load; water has 4180, most things 400 "
            "to 2500; give joules, not kilojoules"
        )
