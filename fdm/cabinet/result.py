"""A solved cabinet as plain data."""

from typing import Any

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.datasheet import HeatCheck
from fdm.cabinet.model import SectionFile
from fdm.cabinet.pulldown import PullDown
from fdm.cabinet.solution import LEFT_OUT, SolvedCabinet
from fdm.cabinet.steady import OperatingPoint, SupplyChart
from fdm.solving.result import plain_data, result_dict


def cabinet_dict(solved: SolvedCabinet) -> dict[str, Any]:
    """Every answer by name: temperatures in degC, heat and power in W, times in s, energy in J, all else SI; no NaN and
    no infinity (None instead).

    `band` holds half-widths under the same names, 0 where nothing comes from a grid. `circuit` has the nodes and paths
    for other lumped models; `sections` what each drawn section answers, as `result_dict`, by its file and overrides.
    """
    cabinet = solved.cabinet
    plain: dict[str, Any] = plain_data(
        {
            "title": cabinet.title,
            "let": cabinet.let,
            "room": cabinet.room,
            "setpoint": cabinet.setpoint,
            "operating_point": _operating_point(solved.point),
            "budget": [
                {"name": b.name, "kind": b.kind, "watts": b.watts, "band": b.band, "share": b.share}
                for b in solved.budget
            ],
            "supply": _supply(solved.chart),
            "pull_down": _pull_down(solved.pull_down),
            "module_check": None if solved.heat_check is None else _module_check(solved.heat_check),
            "circuit": _circuit(solved.circuit),
            "sections": {section_name(file): result_dict(s) for file, s in solved.sections.items()},
            "warnings": solved.warnings,
            "left_out": LEFT_OUT,
        }
    )
    return plain


def section_name(file: SectionFile) -> str:
    """The file and its overrides, as on a command line."""
    return " ".join([file.path, *(f"{name}={value}" for name, value in file.let)])


def _operating_point(p: OperatingPoint) -> dict[str, Any]:
    return {
        "temperature": p.temperature,
        "thermostat_reading": p.reading,
        "current": p.current,
        "voltage": p.voltage,
        "power": p.power,
        "pumped": p.pumped,
        "rejected": p.rejected,
        "lead_loss": p.lead_loss,
        "cop": p.cop,
        "band": {"temperature": p.band, "power": p.power_band, "pumped": p.pumped_band},
    }


def _supply(chart: SupplyChart) -> dict[str, Any]:
    return {
        "quantity": chart.quantity,
        "supply": chart.supply,
        "air": chart.air,
        "power": chart.power,
        "setpoint_pumped": chart.setpoint_pumped,
        "setpoint_power": chart.setpoint_power,
        "setpoint_spare": chart.setpoint_spare,
        "lowest": {"supply": chart.lowest[0], "air": chart.lowest[1]},
        "best": None if chart.best is None else {"supply": chart.best[0], "cop": chart.best[1]},
    }


def _pull_down(run: PullDown) -> dict[str, Any]:
    return {
        "time_to_setpoint": run.time_to_setpoint,
        "load_time": run.load_time,
        "period": run.period,
        "duty": run.duty,
        "mean_power": run.mean_power,
        "energy_a_day": run.energy_a_day,
        "load_settles": run.load_settles,
        "air_settles": run.air_settles,
        "settled": run.settled,
    }


def _module_check(check: HeatCheck) -> dict[str, Any]:
    return {"predicted": check.predicted, "stated": check.stated, "excess": check.excess}


def _circuit(c: Circuit) -> dict[str, Any]:
    return {
        "nodes": {n.name: {"capacity": n.capacity, "heat": n.heat} for n in c.nodes},
        "paths": [
            {"name": p.name, "kind": p.kind, "between": p.ends, "conductance": p.conductance, "band": p.band}
            for p in c.paths
        ],
    }
