"""A solved section as plain data: numbers by the path of their quantity, with the section's title and its grids.

The band of a number stands under the same path below `band`.
"""

import math
from typing import Any

import numpy as np

from fdm.answers.quantity import Answers, nested
from fdm.solving.frozen import Frozen
from fdm.solving.left_out import left_out
from fdm.solving.solution import Solution
from fdm.surroundings.film import film_dict


def result_dict(solution: Solution) -> dict[str, Any]:
    """Everything that a section answers, by path: temperatures in degC, heat in W, all else SI; no NaN and no infinity
    (None instead). See DEVELOPERS.md for the keys."""
    section, grid, balance = solution.section, solution.grid, solution.balance
    answered = by_path(solution.answers)
    environments = {e.name for e in section.environments}
    kinds = {name: "environment" if name in environments else "held" for name in section.fixed_names}
    kinds |= dict.fromkeys(section.heat_names, "heat")
    terminals, sensors = answered.pop("terminals"), answered.pop("sensors", {})
    bridges, spreading = answered.pop("bridge", {}), answered.pop("spreading", {})
    network = answered.pop("network", {})
    films = {e.name: film_dict(e.film_from) for e in section.environments if e.film_from is not None}
    for family in ("films", "conductivity"):  # what follows the temperature, told under "frozen"
        answered.pop(family, None)
    out: dict[str, Any] = plain_data(
        {
            "title": section.title,
            "view": section.view,
            "let": section.let,
            "grid": vars(grid) | {"warnings": solution.warnings},
            **({"films": films} if films else {}),
            **({"frozen": _frozen(solution, solution.frozen)} if solution.frozen is not None else {}),
            "terminals": {
                name: {"kind": kind, "heat": balance.flow[name]} | terminals[name] for name, kind in kinds.items()
            },
            "network": {key: network.get(key, {}) for key in ("coupling", "weight", "resistance", "resistance_max")},
            "sensors": {
                name: {"should_read": r.should_read, "split": r.split, "misreading": None} | sensors[name]
                for name, r in solution.sensors.items()
            },
            "spreading": spreading,
            "bridge": {name: {"between": b.between} | bridges[name] for name, b in solution.bridges.items()},
            **answered,
            "balance": vars(balance),
            "band": by_path(solution.answers, bands=True),
        }
        | ({"in_slices": by_path(solution.in_slices)} if solution.slices else {})
    )
    return out


def _frozen(solution: Solution, frozen: Frozen) -> dict[str, Any]:
    """The numbers that follow the temperature, what they were found at, and what one value for all of a part leaves
    out."""
    coefficients = {
        f.coefficient.name: {
            "value": f.value,
            "unit": f.coefficient.unit,
            "temperatures": dict(zip(f.coefficient.places, f.temperatures)),
        }
        for f in frozen.values
    }
    varying = {
        x.part: {"least": x.least, "most": x.most, "kelvin": x.kelvin, "heat": x.heat} for x in left_out(solution)
    }
    told: dict[str, Any] = {"rounds": frozen.rounds, "agreed": frozen.agreed, "off": frozen.off}
    return told | {"coefficients": coefficients} | ({"left_out": varying} if varying else {})


def by_path(answers: Answers, bands: bool = False) -> dict[str, Any]:
    """Values, or bands, as dictionaries within dictionaries. A quantity with several paths stands under each of
    them."""
    numbers = answers.band if bands else answers.value
    return nested(
        (path, float(number))
        for q, number in zip(answers.quantities, numbers)
        for path in (q.path, *(p for p in q.also if len(p) > 1))
    )


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
