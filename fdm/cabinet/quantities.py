"""What a cabinet answers, as quantities with values and bands.

Their bands follow from those of the sections, which come from grids; NaN where a band is not known. A time that never
comes is infinite."""

from collections.abc import Collection, Iterable, Iterator, Mapping

import numpy as np

from fdm.answers.quantity import Answers, Quantity, joined
from fdm.cabinet.air import Flow
from fdm.cabinet.budget import BudgetLine
from fdm.cabinet.circuit import Circuit
from fdm.cabinet.misreading import misreading
from fdm.cabinet.nodes import LINING, LOAD, ROOM
from fdm.cabinet.pulldown import PullDown
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sections import Sections
from fdm.cabinet.settling import CoolSurface, MoistAir
from fdm.cabinet.steady import OperatingPoint
from fdm.cabinet.supply_chart import SupplyChart
from fdm.cabinet.zones import AIR

Row = tuple[Quantity, float, float]  # with its value and band
DAY = 86400.0  # s
FAMILIES = {LINING: "lining", ROOM: "given"}  # of nodes' temperatures by kind; all others: "temperature"


def steady_answers(c: Circuit, p: OperatingPoint) -> Answers:
    """A steady state of the cabinet."""
    nodes = [(_node_temperature(n.name, n.kind), p.temperature[n.name], p.band[n.name]) for n in c.nodes]
    parallel = c.cabinet.bank.supply.parallel
    rest = [
        _row("thermostat_reading", "thermostat's reading", "degC", p.reading, p.reading_band, "reading"),
        _row("above_setpoint", "reading above the setpoint", "K", *_above_setpoint(c, p), "above setpoint"),
        _row("current", "current through each module", "A", p.current, np.nan, "current"),
        _row("supply_current", "current from the supply", "A", p.current * parallel, np.nan, "supply current"),
        _row("voltage", "voltage of the supply", "V", p.voltage, np.nan, "voltage"),
        _row("power", "power from the supply", "W", p.power, p.power_band, "power", main=6),
        *_fans(c, p),
        _row("pumped", "heat pumped", "W", p.pumped, p.pumped_band, "heat pumped"),
        _row("rejected", "heat rejected", "W", p.rejected, p.pumped_band + p.power_band, "heat rejected"),
        _row("lead_loss", "heat of the leads", "W", p.lead_loss, np.nan, "lead loss"),
        _row("peltier", "heat taken by the Peltier effect", "W", p.gross.peltier, np.nan, "Peltier heat"),
        _row("conducted_back", "heat conducted back", "W", p.gross.conducted, np.nan, "conducted back"),
        _row("half_joule", "half of the Joule heat", "W", p.gross.half_joule, np.nan, "half Joule heat"),
        _row("cop", "COP", "", p.cop, np.nan, "COP"),
    ]
    if c.sensed_air != c.air:
        found, words = misreading(c, p), "K that the thermostat reads too much"
        rest += [
            _misread("mount", f"{words} by its mount", found.mount, found.mount_band),
            _misread("place", f"{words} by its place", found.place, found.place_band),
        ]
    return _answers([*nodes, *rest, *(row for flow in c.flows for row in _flow_rows(flow))])


def _misread(part: str, words: str, value: float, band: float) -> Row:
    return Quantity(("operating_point", "misreading", part), words, "K", "misreading"), value, band


def _flow_rows(flow: Flow) -> Iterator[Row]:
    """What an exchange moves, as a builder says it."""
    name, by_itself = flow.exchange.name, flow.exchange.height is not None
    for key, words, value in (
        ("flow", f"flow of {name}", flow.volume),
        *((("natural", f"flow of {name} by itself", flow.natural),) if by_itself else ()),
    ):
        yield Quantity(("operating_point", "exchange", name, key), words, "m3/h", "exchange"), 3600 * value, np.nan


def _fans(c: Circuit, p: OperatingPoint) -> list[Row]:
    """What the fans of the sinks take, and the power with it; nothing where there are none."""
    if not (fans := c.cabinet.bank.fan_power):
        return []
    return [
        _row("fan_power", "power of the fans", "W", fans, 0.0, "fan power"),
        _row("power_with_fans", "power with the fans", "W", p.power + fans, p.power_band, "power with fans"),
    ]


def apart_answers(apart: Mapping[str, float]) -> Answers:
    """By sink, how far the places of the modules on its plate are apart at the operating point, K."""
    return _answers(
        [
            (
                Quantity(("operating_point", "places_apart", name), f"modules apart on the {name}", "K", "apart"),
                k,
                np.nan,
            )
            for name, k in apart.items()
        ]
    )


def _above_setpoint(c: Circuit, p: OperatingPoint) -> tuple[float, float]:
    """K by which the thermostat's reading stays above the setpoint, below 0 where it reaches it; and its band."""
    return p.reading - c.cabinet.setpoint, p.reading_band


def _node_temperature(name: str, kind: str) -> Quantity:
    family, main = FAMILIES.get(kind, "temperature"), 6 if kind in (AIR, LOAD) else 0
    path = ("operating_point", "temperature", name)
    return Quantity(path, f"temperature of the {name}", "degC", family, also=((name,),), main=main, role=kind)


def _row(key: str, words: str, unit: str, value: float, band: float, short: str, main: int = 0) -> Row:
    return Quantity(("operating_point", key), words, unit, key, also=((short,),), main=main), value, band


def moisture_answers(c: Circuit) -> Answers:
    """How moist both airs are, what settles inside, and how far what is cold in them is from sweating; nothing where
    the room's humidity is not known."""
    m = c.moisture
    if m is None:
        return _answers([])
    room = [
        (Quantity(("moisture", "room", "humidity"), "humidity of the room", "%", "given"), m.room_humidity, np.nan),
        (
            Quantity(("moisture", "room", "point"), "dew or frost point of the room", "degC", "given"),
            m.room_point,
            np.nan,
        ),
    ]
    return _answers(
        [
            *room,
            *_of_air(m.always_on, "always_on"),
            *_of_air(m.at_setpoint or m.always_on, "at_setpoint", m.at_setpoint is not None),
        ]
    )


def _of_air(air: MoistAir, state: str, known: bool = True) -> list[Row]:
    """One steady state; without values where it is not `known`."""
    held = "" if state == "always_on" else ", air held at the setpoint"
    share = air.water_band / air.water if air.water else 0.0
    rows = [
        ("point", "dew or frost point of the air inside", "degC", air.settling_point, air.point_band),
        ("humidity", "humidity of the air inside", "%", air.humidity, air.humidity_band),
        ("water_a_day", "water that settles in a day", "kg", DAY * air.water, DAY * air.water_band),
        ("frozen_a_day", "water that freezes in a day", "kg", DAY * air.frozen, DAY * air.frozen * share),
        ("drained_a_day", "water that drains in a day", "kg", DAY * air.drained, DAY * air.drained * share),
        (
            "evaporated_a_day",
            "water that evaporates in a day",
            "kg",
            DAY * air.evaporated,
            DAY * air.evaporated_band,
        ),
        ("brought_a_day", "water by air exchange in a day", "kg", DAY * air.exchanged, DAY * air.water_band),
        ("latent", "latent heat of the water", "W", air.latent, air.latent * share),
    ]
    out = [
        (Quantity(("moisture", state, key), words + held, unit, key if not held else "at_setpoint"), value, band)
        for key, words, unit, value, band in rows
    ]
    for s in air.surfaces:
        out += _of_cool_surface(s, state, held)
    return out if known else [(quantity, np.nan, np.nan) for quantity, _, _ in out]


def _of_cool_surface(s: CoolSurface, state: str, held: str) -> list[Row]:
    where = f"{s.name} {s.side}"
    rows = [
        ("lowest", f"lowest surface of {where}", "degC", s.lowest, s.band),
        ("margin", f"margin of {where} to sweating", "K", s.margin, s.margin_band),
        ("sweats_from", f"humidity from which {where} sweats", "%", s.sweats_from, s.sweats_band),
    ]
    if np.isfinite(s.factor):
        rows.append(("temperature_factor", f"temperature factor of {where}", "", s.factor, np.nan))
    return [
        (Quantity(("moisture", state, s.side, s.name, what), words + held, unit, what), value, band)
        for what, words, unit, value, band in rows
    ]


def budget_answers(lines: Collection[BudgetLine]) -> Answers:
    """What the modules pump, by where it comes from."""
    names = numbered(b.name for b in lines)
    return _answers(
        [
            (Quantity(("budget", name, "watts"), f"heat by {name}", "W", "budget"), b.watts, b.band)
            for name, b in zip(names, lines)
        ]
    )


def numbered(names: Iterable[str]) -> list[str]:
    """The names; where one comes again, it is numbered: `name 2`.

    >>> numbered(["door", "lid", "door"])
    ['door', 'lid', 'door 2']
    """
    seen: dict[str, int] = {}
    out = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        out.append(name if seen[name] == 1 else f"{name} {seen[name]}")
    return out


def section_names(sections: Iterable[SectionFile]) -> list[str]:
    """What a cabinet's sections are called in its answers: by the names of their files, without folder and ending; one
    that is made of a bolt by that of its point."""
    return numbered(f.path if f.made else f.path.rpartition("/")[2].removesuffix(".toml") for f in sections)


def section_answers(sections: Sections) -> Answers:
    """Everything that the drawn sections answer, below `sections` and the section's name."""
    parts = []
    for name, solution in zip(section_names(sections), sections.values()):
        answers = solution.answers
        below = tuple(q.below("sections", name) for q in answers.quantities)
        parts.append(Answers(below, answers.value, answers.band))
    return joined(parts)


def supply_answers(chart: SupplyChart) -> Answers:
    """The lowest temperature and the best COP that another supply would give."""
    unit = "V" if chart.quantity == "voltage" else "A"
    lowest, best = chart.lowest, chart.best or (np.nan, np.nan)
    of = f"{chart.quantity} of the supply"
    return _answers(
        [
            (Quantity(("supply", "lowest", "supply"), f"{of} at the lowest air", unit, "supply"), lowest[0], np.nan),
            (Quantity(("supply", "lowest", "air"), "lowest air with any supply", "degC", "lowest"), lowest[1], np.nan),
            (Quantity(("supply", "best", "supply"), f"{of} at the best COP", unit, "supply"), best[0], np.nan),
            (Quantity(("supply", "best", "cop"), "best COP that holds the setpoint", "", "cop"), best[1], np.nan),
        ]
    )


def pull_down_answers(run: PullDown) -> Answers:
    """How fast the cabinet gets cold, and the last cycle of the thermostat."""
    values: list[tuple[str, str, str, float | None, int]] = [
        ("time_to_setpoint", "time to the setpoint", "s", run.time_to_setpoint, 7),
        ("load_time", "time of the load", "s", run.load_time, 0),
        ("load_setpoint_time", "time of the load to the setpoint", "s", run.load_setpoint_time, 0),
        ("dial", "setting that keeps the load at the setpoint", "degC", np.nan if run.dial is None else run.dial, 0),
        ("peak_supply_current", "highest current from the supply", "A", run.peaks.supply_current, 0),
        ("peak_power", "highest power from the supply", "W", run.peaks.power, 0),
        ("period", "period of the switching", "s", np.nan if run.period is None else run.period, 0),
        ("load_settles", "temperature at which the load settles", "degC", run.load_settles, 0),
        ("air_settles", "temperature at which the air settles", "degC", run.air_settles, 0),
        ("duty", "share of time on", "", run.duty, 0),
        ("mean_power", "mean power", "W", run.mean_power, 0),
        ("energy_a_day", "energy a day", "J", run.energy_a_day, 7),
    ]
    return _answers(
        [
            (Quantity(("pull_down", key), words, unit, key, main=main), np.inf if v is None else v, np.nan)
            for key, words, unit, v, main in values
        ]
    )


def _answers(rows: list[Row]) -> Answers:
    quantities = tuple(quantity for quantity, _, _ in rows)
    return Answers(quantities, *np.reshape([row[1:] for row in rows], (len(rows), 2)).astype(float).T)
