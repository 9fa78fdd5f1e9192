"""The answers of a cabinet in a dozen sentences: how cold, how fast, on how many watts, what lets the warmth in."""

from collections.abc import Iterator

import numpy as np
from rich.console import Console
from rich.text import Text

from fdm.answers.rounding import brief, rough
from fdm.answers.units import KWH, SUPPLY_UNITS, duration
from fdm.cabinet.budget import levers
from fdm.cabinet.doubts import over_ratings
from fdm.cabinet.nodes import COLD, HOT
from fdm.cabinet.solution import SolvedCabinet
from fdm.cabinet.zones import air_in_words
from fdm.output.breakdown import percent
from fdm.output.tables.cabinet import (
    FILMS_FOLLOW,
    LEAST_ABOVE,
    LEAST_DIAL,
    cabinet_in_words,
    films_that_follow,
    with_fans,
)
from fdm.output.tables.cabinet_moisture import cabinet_moisture
from fdm.output.tables.section import own_pulls
from fdm.output.tables.sentences import print_sentences, with_article
from fdm.output.tables.zones import flows_in_words, misreading_in_words

SHARES = 4  # named of the heat pumped
TRIED = 2  # ways for heat that are proposed
LEAST_OFF = 1e-3  # K between the air and what the thermostat reads of it
LEAST_COLDER = 0.05  # K: less is not worth trying
LEAST_APART = 0.1  # K between modules on one plate
ALIKE = 0.01  # of a supply's figure: nobody sets it closer


def print_cabinet_summary(solved: SolvedCabinet, console: Console) -> None:
    """The summary, and where all the numbers are; the cabinet's warnings are left to the caller."""
    console.print(Text(solved.cabinet.title, style="bold"))
    print_sentences([cabinet_in_words(solved)], console)
    lines = (
        *(_cold, _load, _power, _supply, _heat, _faces, _films, cabinet_moisture, _dial),
        *(misreading_in_words, flows_in_words, _try, _other_supply),
    )
    print_sentences([s for sentences in lines for s in sentences(solved)], console)
    closing = "± is of the grids alone (--uncertainty: of the inputs). All numbers: --tables"
    print_sentences([closing], console)


def _cold(solved: SolvedCabinet) -> Iterator[str]:
    """Where the air settles, and what there is to spare."""
    point, chart, setpoint = solved.point, solved.chart, solved.cabinet.setpoint
    node = solved.circuit.air
    air = point.temperature[node]
    reached = f"With the modules always on, the {air_in_words(node)} gets to {brief(air, point.band[node], 'degC')}"
    if air > setpoint:
        yield f"{reached}: {air - setpoint:.3g} K above the setpoint of {setpoint:g} degC, which is NOT reached"
        return
    spare = float(np.interp(solved.cabinet.bank.supply.figure, chart.supply, chart.setpoint_spare))
    to_spare = f"; held there, they have {spare:.3g} W to spare" if spare >= 0 and chart.needed else ""
    yield f"{reached}, {setpoint - air:.3g} K below the setpoint of {setpoint:g} degC{to_spare}"


def _load(solved: SolvedCabinet) -> Iterator[str]:
    """How long the load takes to the setpoint."""
    run, cabinet = solved.pull_down, solved.cabinet
    goal, end = f"{cabinet.setpoint:g} degC", duration(float(run.switched.time[-1]))
    if run.load_setpoint_time == 0:
        yield f"The load is at {goal} or less from the start"
    elif run.load_setpoint_time is not None:
        first = f"; the thermostat reads it after {duration(run.time_to_setpoint)}" if run.time_to_setpoint else ""
        yield f"The load gets from {cabinet.load.start:g} to {goal} in {duration(run.load_setpoint_time)}{first}"
    elif run.load_settles > cabinet.setpoint + LEAST_ABOVE:
        still = "it settles at" if run.settled else "still"
        yield f"The load does NOT get down to {goal}: {still} {run.load_settles:.3g} degC after {end}"
    elif run.load_settles > cabinet.setpoint:
        above = f"{run.load_settles - cabinet.setpoint:.2g} K"
        yield f"The load stays a little above {goal}: it settles at {run.load_settles:.4g} degC, {above} above"
    else:
        above = f"{float(run.switched.temperature[-1] @ solved.circuit.load) - cabinet.setpoint:.2g} K"
        yield f"The load comes to {goal} by and by: it is {above} above after {end}"


def _power(solved: SolvedCabinet) -> Iterator[str]:
    """Watts and energy a day, as the thermostat switches."""
    run = solved.pull_down
    fans = solved.cabinet.bank.fan_power
    takes = f"{run.mean_power:.3g} W on average, {run.energy_a_day / KWH:.3g} kWh a day"
    takes += f" (fans always: {fans:.3g} W)" if fans else ""
    if run.period is not None:
        takes += f": the thermostat has it on for {percent(run.duty)} of the time, in cycles of {duration(run.period)}"
    elif run.duty == 1:
        takes += ", as it is always on"
    elif not run.duty:
        takes += ", as it stays switched off"
    yield f"It takes {takes}" if run.settled else f"At the end of what was calculated it takes {takes}"


def _supply(solved: SolvedCabinet) -> Iterator[str]:
    """What supply and fuse have to stand, and whether the modules stay within their ratings."""
    peaks = solved.pull_down.peaks
    rated = ""
    if solved.cabinet.bank.data_sheet is not None:
        exceeded = over_ratings(solved.cabinet, solved.pull_down)
        rated = f"; {exceeded[0]}" if exceeded else "; the modules stay within ratings"
    stands = f"{peaks.supply_current:.3g} A, {peaks.power:.3g} W{with_fans(solved)}"
    yield f"Supply and fuse have to stand {stands}{rated}"


def _heat(solved: SolvedCabinet) -> Iterator[str]:
    """Where the heat comes from that the modules pump."""
    point, lines = solved.point, solved.budget
    if not sum(b.watts for b in lines) > 0:
        return
    named = [f"{b.name} {percent(b.share)}" for b in lines[:SHARES]]
    if (rest := sum(b.share for b in lines[SHARES:])) >= 0.005:
        named.append(f"the rest {percent(rest)}")
    yield f"The {brief(point.pumped, point.pumped_band, 'W')} that the modules pump come from: {', '.join(named)}"


def _faces(solved: SolvedCabinet) -> Iterator[str]:
    """What the modules' own heat leaves of what they take."""
    point = solved.point
    cold, hot = (brief(point.temperature[face], point.band[face], "degC") for face in (COLD, HOT))
    gross = point.gross
    yield (
        f"Cold face {cold}, hot face {hot}; of {gross.peltier:.3g} W taken at the cold face, "
        f"{gross.conducted:.3g} W leak back and {gross.half_joule:.3g} W are half of the modules' own heat"
    )
    apart = {key.replace("_", " "): solved.places_apart(key) for key in solved.cabinet.bank.plates}
    named = [f"{kelvin:.2g} K on the {name}" for name, kelvin in apart.items() if kelvin >= LEAST_APART]
    if named:
        yield f"Modules are taken as equally warm; their places are apart by {' and '.join(named)}"


def _films(solved: SolvedCabinet) -> Iterator[str]:
    """Films that follow the surfaces' temperatures."""
    if films := films_that_follow(solved):
        yield f"{FILMS_FOLLOW}: {'; '.join(films)}"


def _dial(solved: SolvedCabinet) -> Iterator[str]:
    """What the thermostat misreads, where the load stands with it, and where to set the dial."""
    run, point, setpoint = solved.pull_down, solved.point, solved.cabinet.setpoint
    node, air = solved.circuit.air, air_in_words(solved.circuit.air)
    off = point.reading - point.temperature[node]
    side = "more" if off > 0 else "less"
    what = f"{rough(abs(off))} K {side} than the {air}" if abs(off) >= LEAST_OFF else f"the {air} as it is"
    says = f"The thermostat reads {what}{_of_which(solved)}"
    if run.period is not None:
        says += f", and keeps the load at {run.load_settles:.3g} degC"
    if run.dial is not None and abs(run.dial - setpoint) >= LEAST_DIAL:
        says += f"; set it to {run.dial:.3g} degC, and the load stands at {setpoint:g} degC"
    yield says


def _of_which(solved: SolvedCabinet) -> str:
    """How far the leads of the thermostat's sensor pull it, and its own watts warm it."""
    found = solved.thermostat_at_work()
    own = [] if found is None else own_pulls(found)
    return f" ({', '.join(f'{rough(v)} K {how}' for how, v in own)})" if own else ""


def _try(solved: SolvedCabinet) -> Iterator[str]:
    """The ways for heat that matter most to the air."""
    if not solved.chart.needed:
        return
    best = [x for x in levers(solved.circuit, solved.point) if abs(x.colder) >= LEAST_COLDER][:TRIED]
    ideas = []
    for x in best:
        warm, cold = sorted(x.ends, key=lambda node: -solved.point.temperature[node])
        way = f"from the {warm} to the {cold}" if x.kind == "section" else f"through {with_article(x.name)}"
        ideas.append(f"a tenth {'better' if x.colder > 0 else 'less'} {way}, {rough(abs(x.colder))} K")
    if ideas:
        yield f"To try, and how much colder the air gets: {'; '.join(ideas)}"


def _other_supply(solved: SolvedCabinet) -> Iterator[str]:
    """What another voltage or current would do."""
    chart, supply, setpoint = solved.chart, solved.cabinet.bank.supply, solved.cabinet.setpoint
    unit, own = SUPPLY_UNITS[chart.quantity], supply.figure
    at, lowest = chart.lowest
    tried = f", the {chart.lowest_at_end} that was tried" if chart.lowest_at_end else ""
    coldest = f"{at:.3g} {unit}{tried} makes the air coldest, {lowest:.3g} degC"
    said = [coldest] if abs(at - own) > ALIKE * own else []
    if chart.needed and chart.best is None:
        said.append(f"no {chart.quantity} up to {chart.supply[-1]:.3g} {unit} holds {setpoint:g} degC")
    elif chart.best is not None and abs(chart.best[0] - own) > ALIKE * own:
        best, cop = chart.best
        said.append(f"{best:.3g} {unit} holds {setpoint:g} degC with the best COP, {cop:.2g} W pumped for each watt")
    if said:
        yield f"Other supplies: {'; '.join(said)}"
