"""A cabinet's answers as plain data, and its curves as CSV."""

import csv
from pathlib import Path
from typing import Any

import numpy as np

from fdm.cabinet.model import SectionFile
from fdm.cabinet.pulldown import Curve
from fdm.cabinet.solution import LEFT_OUT, SolvedCabinet
from fdm.section.files import written_beside
from fdm.solving.result import plain_data, result_dict


def cabinet_dict(solved: SolvedCabinet) -> dict[str, Any]:
    """Every answer by name, for `write_json`: temperatures in degC, heat and power in W, times in s, energy in J, all
    else SI; no NaN and no infinity (None instead).

    `band` holds half-widths under the same names, 0 where nothing comes from a grid. `circuit` has the nodes and paths
    for other lumped models; `sections` what each drawn section answers, as `result_dict`, by its file and overrides.
    """
    cabinet, c, p, chart, run = solved.cabinet, solved.circuit, solved.point, solved.chart, solved.pull_down
    check = solved.heat_check
    return plain_data(
        {
            "title": cabinet.title,
            "let": cabinet.let,
            "room": cabinet.room,
            "setpoint": cabinet.setpoint,
            "operating_point": {
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
            },
            "budget": [
                {"name": b.name, "kind": b.kind, "watts": b.watts, "band": b.band, "share": b.share}
                for b in solved.budget
            ],
            "supply": {
                "quantity": chart.quantity,
                "supply": chart.supply,
                "air": chart.air,
                "power": chart.power,
                "setpoint_pumped": chart.setpoint_pumped,
                "setpoint_power": chart.setpoint_power,
                "setpoint_spare": chart.setpoint_spare,
                "lowest": {"supply": chart.lowest[0], "air": chart.lowest[1]},
                "best": None if chart.best is None else {"supply": chart.best[0], "cop": chart.best[1]},
            },
            "pull_down": {
                "time_to_setpoint": run.time_to_setpoint,
                "load_time": run.load_time,
                "period": run.period,
                "duty": run.duty,
                "mean_power": run.mean_power,
                "energy_a_day": run.energy_a_day,
                "load_settles": run.load_settles,
                "air_settles": run.air_settles,
                "settled": run.settled,
            },
            "module_check": None
            if check is None
            else {"predicted": check.predicted, "stated": check.stated, "excess": check.excess},
            "circuit": {
                "nodes": {n.name: {"capacity": n.capacity, "heat": n.heat} for n in c.nodes},
                "paths": [
                    {"name": x.name, "kind": x.kind, "between": x.ends, "conductance": x.conductance, "band": x.band}
                    for x in c.paths
                ],
            },
            "sections": {section_name(file): result_dict(s) for file, s in solved.sections.items()},
            "warnings": solved.warnings,
            "left_out": LEFT_OUT,
        }
    )


def section_name(file: SectionFile) -> str:
    """The file and its overrides, as on a command line."""
    return " ".join([file.path, *(f"{name}={value}" for name, value in file.let)])


def write_curves(solved: SolvedCabinet, path: str | Path) -> None:
    """The pull-down as CSV, switched by the thermostat first, then always on, as column `modules` says. Times in s,
    temperatures in degC, power in W. Raises InputError where it cannot be written."""
    run = solved.pull_down
    with written_beside(path) as temporary, open(temporary, "w", newline="", encoding="utf-8") as file:
        write = csv.writer(file, lineterminator="\n")
        nodes = (f"{node} (degC)" for node in solved.circuit.names)
        write.writerow(["modules", "time (s)", *nodes, "thermostat reading (degC)", "power (W)"])
        for said, curve in (("switched", run.switched), ("always on", run.always_on)):
            write.writerows([said, *row] for row in _rows(curve))


def _rows(curve: Curve) -> list[list[str]]:
    columns = np.column_stack([curve.time, curve.temperature, curve.reading, curve.power])
    return [[f"{v:.7g}" for v in row] for row in columns.tolist()]
