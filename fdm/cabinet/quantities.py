"""What a cabinet answers, as quantities. They share paths, words and units with those of sections, but come from no
three grids: their bands are what the sections' grids leave open, NaN where that is not known, and a time that never
comes is infinite."""

import numpy as np

from fdm.answers.quantity import Answers, Quantity
from fdm.cabinet.circuit import LOAD, Circuit
from fdm.cabinet.model import AIR
from fdm.cabinet.pulldown import PullDown
from fdm.cabinet.steady import BudgetLine, OperatingPoint, SupplyChart

Row = tuple[Quantity, float, float]  # value, and band


def steady_answers(c: Circuit, p: OperatingPoint) -> Answers:
    """A steady state of the cabinet."""
    rows: list[Row] = [
        (
            Quantity(
                ("operating_point", "temperature", node),
                f"temperature of the {node}",
                "degC",
                "temperature",
                also=((node,),),
                main=6 if node in (AIR, LOAD) else 0,
            ),
            t,
            p.band[node],
        )
        for node, t in p.temperature.items()
    ]
    parallel = c.cabinet.bank.supply.parallel
    return _answers(
        rows
        + [
            _row("thermostat_reading", "thermostat's reading", "degC", p.reading, p.reading_band, "reading"),
            _row("current", "current through each module", "A", p.current, np.nan, "current"),
            _row("supply_current", "current from the supply", "A", p.current * parallel, np.nan, "supply current"),
            _row("voltage", "voltage of the supply", "V", p.voltage, np.nan, "voltage"),
            _row("power", "power from the supply", "W", p.power, p.power_band, "power", main=6),
            _row("pumped", "heat pumped", "W", p.pumped, p.pumped_band, "heat pumped"),
            _row("rejected", "heat rejected", "W", p.rejected, p.pumped_band + p.power_band, "heat rejected"),
            _row("lead_loss", "heat of the leads", "W", p.lead_loss, np.nan, "lead loss"),
            _row("cop", "COP", "", p.cop, np.nan, "COP"),
        ]
    )


def _row(key: str, words: str, unit: str, value: float, band: float, short: str, main: int = 0) -> Row:
    return Quantity(("operating_point", key), words, unit, key, also=((short,),), main=main), value, band


def budget_answers(lines: tuple[BudgetLine, ...]) -> Answers:
    """What the modules pump, by where it comes from."""
    return _answers(
        [(Quantity(("budget", b.name, "watts"), f"heat by {b.name}", "W", "budget"), b.watts, b.band) for b in lines]
    )


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
    """How fast, and what it takes at last."""
    values: list[tuple[str, str, str, float | None, int]] = [
        ("time_to_setpoint", "time to the setpoint", "s", run.time_to_setpoint, 7),
        ("load_time", "time of the load", "s", run.load_time, 0),
        ("period", "period of the switching", "s", run.period, 0),
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
    quantities, value, band = zip(*rows)
    return Answers(quantities, np.array(value, float), np.array(band, float))
