"""What a cabinet answers, as quantities with values and bands.

Their bands follow from those of the sections, which come from grids; NaN where a band is not known. A time that never
comes is infinite."""

from collections.abc import Collection, Iterable, Mapping

import numpy as np

from fdm.answers.quantity import Answers, Quantity, joined
from fdm.cabinet.circuit import LINING, LOAD, ROOM, Circuit
from fdm.cabinet.model import AIR
from fdm.cabinet.pulldown import PullDown
from fdm.cabinet.sections import Sections
from fdm.cabinet.steady import BudgetLine, OperatingPoint, SupplyChart

Row = tuple[Quantity, float, float]  # with its value and band
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
    return _answers([*nodes, *rest])


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


def section_names(sections: Sections) -> list[str]:
    """What a cabinet's sections are called in its answers: by the names of their files, without folder and ending."""
    return numbered(file.path.rpartition("/")[2].removesuffix(".toml") for file in sections)


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
