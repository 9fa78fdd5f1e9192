"""The answers as plain data, and as JSON."""

import json
import math
import sys
from pathlib import Path
from typing import Any

import numpy as np

from fdm.answers.results import Network, NetworkValues
from fdm.section.files import written_beside
from fdm.solving.solution import Solution


def result_dict(solution: Solution) -> dict[str, Any]:
    """Every answer by name: temperatures in degC, heat in W, all else SI; no NaN and no infinity (None instead).

    `network`, `spreading`, `sensors` and `bridge` hold the band beside each number; see DEVELOPERS.md for the keys.
    """
    section, grid, balance = solution.section, solution.grid, solution.balance
    return plain_data(
        {
            "title": section.title,
            "view": section.view,
            "let": section.let,
            "grid": {
                "shape": grid.shape,
                "cells": grid.cells,
                "target": grid.target,
                "target_met": grid.target_met,
                "worst": grid.worst,
                "note": grid.note,
                "warnings": solution.warnings,
            },
            "terminals": {
                name: _terminal(solution, name) for name in (*solution.network.fixed, *solution.network.heat)
            },
            "network": _network(solution.network),
            "sensors": {
                name: {
                    "reading": r.reading,
                    "should_read": r.should_read,
                    "misreading": r.misreading,
                    "band": r.band,
                    "misreading_band": r.misreading_band,
                    "split": r.split,
                }
                for name, r in solution.sensors.items()
            },
            "spreading": {
                plate: {
                    heat: {"mean": r.mean, "max": r.max, "mean_band": r.mean_band, "max_band": r.max_band}
                    for heat, r in by_heat.items()
                }
                for plate, by_heat in solution.spreading.items()
            },
            "bridge": {
                name: {
                    "between": b.between,
                    b.symbol: b.value,
                    "band": b.band,
                    "watts": b.watts,
                    "watts_band": b.watts_band,
                }
                for name, b in solution.bridges.items()
            },
            "balance": {
                "flow": balance.flow,
                "imbalance": balance.imbalance,
                "weight_error": balance.weight_error,
                "asymmetry": balance.asymmetry,
            },
        }
    )


def write_json(data: dict[str, Any], path: str | Path) -> None:
    """Write plain data as JSON; to standard output where `path` is "-"."""
    text = json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    if str(path) == "-":
        sys.stdout.write(text)
        return
    with written_beside(path) as temporary:
        temporary.write_text(text, encoding="utf-8")


def heat_terminal_temperatures(solution: Solution) -> dict[str, tuple[float, float]]:
    """Mean temperature (degC) of each heat terminal at the section's own temperatures and watts, and its band (K)."""
    n, section = solution.network, solution.section
    fixed, watts = section.fixed_temperatures, section.watts
    rows = slice(0, len(n.heat))
    mean = n.values.weight[rows] @ fixed + n.values.resistance[rows] @ watts
    # the errors of a row of weights sum to zero, so only differences of temperature carry them
    apart = np.abs(fixed[None, :] - mean[:, None])
    band = (n.band.weight[rows] * apart).sum(1) + n.band.resistance[rows] @ np.abs(watts)
    return {name: (float(t), float(b)) for name, t, b in zip(n.heat, mean, band)}


def _terminal(solution: Solution, name: str) -> dict[str, Any]:
    section = solution.section
    flow = solution.balance.flow[name]
    if name in solution.network.heat:
        mean, band = heat_terminal_temperatures(solution)[name]
        return {"kind": "heat", "temperature": mean, "band": band, "heat": flow}
    kind = "environment" if name in {e.name for e in section.environments} else "held"
    return {"kind": kind, "temperature": section.fixed_temperatures[section.fixed_names.index(name)], "heat": flow}


def _network(n: Network) -> dict[str, Any]:
    def by_name(v: NetworkValues) -> dict[str, Any]:
        return {
            "coupling": {
                a: {b: v.coupling[i, j] for j, b in enumerate(n.fixed) if i != j} for i, a in enumerate(n.fixed)
            },
            "weight": {o: dict(zip(n.fixed, v.weight[i])) for i, o in enumerate(n.observed)},
            "resistance": {o: dict(zip(n.heat, v.resistance[i])) for i, o in enumerate(n.observed)},
            "resistance_max": {h: dict(zip(n.heat, v.resistance_max[i])) for i, h in enumerate(n.heat)},
        }

    return by_name(n.values) | {"band": by_name(n.band)}


def plain_data(value: Any) -> Any:
    """Python's own types only; what is not finite becomes None."""
    if isinstance(value, dict) or hasattr(value, "items"):
        return {str(k): plain_data(v) for k, v in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [plain_data(v) for v in value]
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        return float(value) if math.isfinite(value) else None
    return value
