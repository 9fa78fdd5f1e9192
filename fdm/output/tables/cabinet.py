"""A cabinet's answers as tables and sentences to read."""

from collections.abc import Sequence

import numpy as np
from rich.console import Console, Group, RenderableType
from rich.text import Text

from fdm.answers.rounding import with_band
from fdm.answers.units import KWH, SUPPLY_UNITS, duration
from fdm.cabinet.nodes import COLD, COLD_AIR, COLD_PLATE, HOT, HOT_AIR, HOT_PLATE, LOAD
from fdm.cabinet.pulldown import PullDown
from fdm.cabinet.sides import sides_of
from fdm.cabinet.solution import SolvedCabinet
from fdm.cabinet.zones import AIR, air_in_words
from fdm.output.tables.cabinet_moisture import moisture_tables
from fdm.output.tables.console_table import ConsoleTable, new_table
from fdm.output.tables.sentences import Sentence
from fdm.output.tables.zones import flows_in_words, misreading_in_words

BAR = 16  # characters for the largest loss
LEAST_DIAL = 0.05  # K: who could set a thermostat closer?
FILMS_FOLLOW = "Films where it settles with the modules always on, kept on the way there"
LEAST_ABOVE = 0.1  # K above the setpoint that a load may stand without a word


def print_cabinet(solved: SolvedCabinet, console: Console) -> None:
    """Everything that the cabinet answers, to the console; its warnings are left to the caller."""
    parts: list[RenderableType] = [Text(solved.cabinet.title, style="bold"), Sentence(cabinet_in_words(solved)), Text()]
    for part in (_point(solved), _budget(solved), *moisture_tables(solved), _supply(solved), _pull_down(solved)):
        parts += [part, Text()]
    for sentence in _remarks(solved):
        parts += [Sentence(sentence), Text()]
    console.print(Group(*parts, Sentence(solved.left_out)), highlight=False)


def cabinet_in_words(solved: SolvedCabinet) -> str:
    """What is solved: its size, the room, the setpoint and the modules."""
    cabinet, supply = solved.cabinet, solved.cabinet.bank.supply
    size = " x ".join(f"{1000 * x:g}" for x in cabinet.inside)
    driven = f"{supply.figure:g} {SUPPLY_UNITS[supply.quantity]}"
    modules = f"{supply.modules} module{'s' * (supply.modules > 1)}"
    return f"{size} mm inside, room {cabinet.room:g} degC, setpoint {cabinet.setpoint:g} degC, {modules} at {driven}"


def _point(solved: SolvedCabinet) -> RenderableType:
    p, supply = solved.point, solved.cabinet.bank.supply
    table = new_table("Operating point, modules always on", ["", "value", ""], right=(1,))
    airs = [(z.name, z.name) for z in solved.cabinet.zones] or [(AIR, "cabinet air")]
    loads = [(n.name, n.name) for n in solved.circuit.nodes if n.kind == LOAD]
    named = (*airs, *loads, (COLD, "cold face of the modules"), (HOT, "hot face of the modules"))
    for node, name in (*named, *((x, x) for x in (COLD_PLATE, HOT_PLATE, COLD_AIR, HOT_AIR))):
        if node in p.temperature:
            table.add_row(name, with_band(p.temperature[node], p.band[node]), "degC")
    table.add_row("thermostat reads", with_band(p.reading, p.reading_band), "degC")
    constant = supply.voltage is None
    amperes = 0.0 if constant or not p.voltage else p.power_band / p.voltage / supply.parallel
    volts = p.power_band / (p.current * supply.parallel) if constant and p.current else 0.0
    table.add_row("current through each module", with_band(p.current, amperes), "A")
    table.add_row("voltage of the supply", with_band(p.voltage, volts), "V")
    table.add_row("power from the supply", with_band(p.power, p.power_band), "W")
    if fans := solved.cabinet.bank.fan_power:
        table.add_row("power of the fans", f"{fans:.3g}", "W")
    if p.lead_loss:
        table.add_row("of this lost in the leads", f"{p.lead_loss:.3g}", "W")
    table.add_row("heat pumped", with_band(p.pumped, p.pumped_band), "W")
    for name, watts in (
        ("of the Peltier effect", p.gross.peltier),
        ("less conducted back", -p.gross.conducted),
        ("less half of the Joule heat", -p.gross.half_joule),
    ):
        table.add_row(name, f"{watts:.4g}", "W")
    table.add_row("heat given off at the hot faces", with_band(p.rejected, p.pumped_band + p.power_band), "W")
    for key in solved.cabinet.bank.plates:
        table.add_row(f"modules apart on the {key.replace('_', ' ')}", f"{solved.places_apart(key):.2g}", "K")
    cop_band = (p.pumped_band + abs(p.cop) * p.power_band) / p.power if p.power > 0 else 0.0
    table.add_row("COP, leads included", with_band(p.cop, cop_band), "")
    return table


def _budget(solved: SolvedCabinet) -> RenderableType:
    table = new_table("What the modules pump, by where it comes from", ["", "W", "share", ""], right=(1, 2))
    worst = max((b.watts for b in solved.budget), default=0.0)
    total = sum(b.watts for b in solved.budget)
    for k, b in enumerate(solved.budget):
        bar = "█" * round(BAR * b.watts / worst) if worst > 0 else ""
        cells = (b.name, with_band(b.watts, b.band), f"{100 * b.share:.1f} %" if total > 0 else "", bar)
        table.add_row(*cells, style="bold" if k == 0 else "")
    table.add_row("all", with_band(total, solved.point.pumped_band), "", "")
    return table


def _supply(solved: SolvedCabinet) -> RenderableType:
    return Group(Text("Supply", style="bold"), *map(Sentence, supply_in_words(solved)))


def supply_in_words(solved: SolvedCabinet) -> list[str]:
    """Which supply makes the cabinet coldest, and which holds the setpoint with the best COP."""
    chart, setpoint, supply = solved.chart, solved.cabinet.setpoint, solved.cabinet.bank.supply
    unit, own = SUPPLY_UNITS[chart.quantity], getattr(supply, chart.quantity)
    at, lowest = chart.lowest
    here = f"{solved.point.temperature[solved.circuit.air]:.2f} degC"
    beside = (
        f", the {chart.lowest_at_end} that was tried; the air is at {here} with {own:g} {unit}"
        if chart.lowest_at_end
        else f"; more or less makes it warmer ({own:g} {unit}: {here})"
    )
    sentences = [f"The lowest cabinet temperature is {lowest:.2f} degC, at {at:.3g} {unit}{beside}."]
    if not chart.needed:
        sentences.append(
            f"The cabinet stays below its setpoint of {setpoint:g} degC without cooling; it would take a heater to "
            "hold it."
        )
        return sentences
    if chart.best is None:
        sentences.append(
            f"No {chart.quantity} up to {chart.supply[-1]:.3g} {unit} holds the setpoint of {setpoint:g} degC."
        )
        return sentences
    best, cop = chart.best
    pumped, power, spare = (
        float(np.interp(own, chart.supply, y))
        for y in (chart.setpoint_pumped, chart.setpoint_power, chart.setpoint_spare)
    )
    sentences.append(
        f"Held at the setpoint of {setpoint:g} degC, the best COP is {cop:.3g} at {best:.3g} {unit}"
        + (
            f"; {own:g} {unit} has {pumped / power:.2g} there, and {spare:.3g} W to spare."
            if spare >= 0
            else f"; {own:g} {unit} does not hold it."
        )
    )
    return sentences


def _pull_down(solved: SolvedCabinet) -> RenderableType:
    run, cabinet = solved.pull_down, solved.cabinet
    table = new_table("Pull-down, switched by the thermostat", ["", "value", ""], right=(1,))

    end = duration(float(run.switched.time[-1]))

    def timed(name: str, seconds: float | None) -> None:
        value, _, unit = duration(seconds).partition(" ")
        if seconds is None and not run.settled:
            value, unit = f"not in {end}", ""
        table.add_row(name, value, unit)

    if run.time_to_setpoint == 0:
        table.add_row(f"thermostat reads {cabinet.setpoint:g} degC or less", "from the start", "")
    else:
        timed(f"thermostat reads {cabinet.setpoint:g} degC after", run.time_to_setpoint)
    if run.settled or run.load_goal == cabinet.setpoint:
        goal = "the setpoint" if run.load_goal == cabinet.setpoint else "where it settles"
        timed(f"load within 1 K of {goal} after", run.load_time)
    _load_to_setpoint(table, solved, end)
    settles = "settles at" if run.settled else "at the end"
    table.add_row(f"load {settles}", f"{run.load_settles:.2f}", "degC")
    table.add_row(f"cabinet air {settles}", f"{run.air_settles:.2f}", "degC")
    timed("one cycle of on and off takes", run.period)
    table.add_row("share of time on", f"{100 * run.duty:.1f}", "%")
    table.add_row("mean power, with the fans" if cabinet.bank.fan_power else "mean power", f"{run.mean_power:.3g}", "W")
    table.add_row("energy a day", f"{run.energy_a_day / KWH:.3g}", "kWh")
    if run.settled:
        return table
    return Group(
        table, Sentence(f"It had not settled after {end}, where the calculation ended; the figures are of then.")
    )


def _load_to_setpoint(table: ConsoleTable, solved: SolvedCabinet, end: str) -> None:
    """When the load itself reaches the setpoint, and how warm it still is when the thermostat reads that."""
    run, setpoint = solved.pull_down, solved.cabinet.setpoint
    name = f"load itself at {setpoint:g} degC after"
    if run.load_setpoint_time == 0:
        table.add_row(f"load itself at {setpoint:g} degC or less", "from the start", "")
    elif run.load_setpoint_time is None:
        table.add_row(name, "never" if run.settled and run.load_settles > setpoint else f"not in {end}", "")
    else:
        value, _, unit = duration(run.load_setpoint_time).partition(" ")
        table.add_row(name, value, unit)
    if run.time_to_setpoint and run.load_at_setpoint_reading is not None:
        still = f"{run.load_at_setpoint_reading:.2f}"
        table.add_row(f"load when the thermostat reads {setpoint:g} degC", still, "degC")


def _remarks(solved: SolvedCabinet) -> Sequence[str]:
    on, supply, run = solved.pull_down.always_on, solved.cabinet.bank.supply, solved.pull_down
    first, last = on.power[0], on.power[-1]
    sentences = []
    if supply.voltage:
        sentences.append(
            f"Switched on, the modules draw {first / supply.voltage:.3g} A ({first:.3g} W) from the supply; "
            f"always on and settled, {last / supply.voltage:.3g} A ({last:.3g} W). "
            f"Size supply, leads and fuse for {_largest(run, first)}{with_fans(solved)}."
        )
    elif supply.current:
        sentences.append(
            f"Switched on, the modules take {first / supply.current:.3g} V ({first:.3g} W) at {supply.current:g} A; "
            f"always on and settled, {last / supply.current:.3g} V ({last:.3g} W){with_fans(solved)}."
        )
    sentences += [f"{said}." for said in (*_misreading(solved), *flows_in_words(solved))]
    if run.load_setpoint_time is None and run.load_settles > solved.cabinet.setpoint + LEAST_ABOVE:
        sentences.append(
            f"The load does not get down to the setpoint of {solved.cabinet.setpoint:g} degC: it "
            f"{'settles at' if run.settled else 'is still at'} {run.load_settles:.2f} degC after "
            f"{duration(float(run.switched.time[-1]))}."
        )
    if run.dial is not None and abs(run.dial - solved.cabinet.setpoint) >= LEAST_DIAL:
        sentences.append(
            f"Set the thermostat to {run.dial:.2f} degC, and the load stands at {solved.cabinet.setpoint:g} degC."
        )
    if films := films_that_follow(solved):
        sentences.append(f"{FILMS_FOLLOW}: {'; '.join(films)}.")
    if (check := solved.heat_check) is not None:
        sentences.append(
            f"Module check: with no temperature difference the model absorbs {check.predicted:.3g} W at the greatest "
            f"current, the data sheet states {check.stated:.3g} W ({100 * check.excess:+.0f} %)."
        )
    return sentences


def films_that_follow(solved: SolvedCabinet) -> list[str]:
    """In words, the films of walls, load and sinks that follow where the cabinet settles, and those of its sections."""
    values = [
        f"{v.words} ({file.path})"
        for file, section in solved.sections.items()
        if section.frozen is not None and sides_of(solved.cabinet, file)
        for v in section.frozen.values
        if v.coefficient.input[0] == "film"
    ]
    return [*(f.in_words for f in solved.cabinet.films), *values]


def _misreading(solved: SolvedCabinet) -> list[str]:
    """What the thermostat misreads, where there are zones."""
    c, point = solved.circuit, solved.point
    of_air = point.reading - point.temperature[c.air]
    words = f"The thermostat reads {of_air:+.2f} K beside the {air_in_words(c.air)}"
    return [words, *split] if (split := list(misreading_in_words(solved))) else []


def with_fans(solved: SolvedCabinet) -> str:
    """How a sentence on what the supply has to stand ends, where there are fans."""
    peaks, bank = solved.pull_down.peaks, solved.cabinet.bank
    if not bank.fan_power:
        return ""
    if volts := bank.supply.voltage:
        amps, watts = peaks.supply_current + bank.fan_power / volts, peaks.power + bank.fan_power
        return f" (with the fans {amps:.3g} A, {watts:.3g} W)"
    return f"; the fans take {bank.fan_power:.3g} W more, from a supply of their own"


def _largest(run: PullDown, first: float) -> str:
    """For which current supply, leads and fuse are to be sized: the first, or one that comes later."""
    if run.peaks.power <= 1.001 * first:
        return "the first"
    return f"the most that comes later, {run.peaks.supply_current:.3g} A ({run.peaks.power:.3g} W)"
