"""A solved section as plain data: numbers by the path of their quantity, with the section's title and its grids.

These are the keys, as result.json has them. What is not finite is null.

    title  view  let {name: number}
    grid         shape cells target target_met worst note through warnings
                                                        through: of plates, "layers" or "one temperature"; else ""
    films        {environment: film uncertainty convective radiative of relation numbers notes} where a relation gave it
    frozen       rounds agreed off       where numbers follow the temperature; all answers hold for them
                 coefficients {name: value unit temperatures {place: degC}}
                 left_out {part: least most kelvin heat}  how far temperatures within a part are off,
                                                          and the heat that passes it, as a share
    terminals    {name: kind heat temperature}                    kind: environment, held or heat
                 dew_point dew_or_frost_point                    where a humidity is given; below 0 degC the frost point
    network      coupling {a: {b: W/K}}   weight {observed: {fixed: 1}}   resistance {observed: {heat: K/W}}
                 resistance_max {heat: {heat: K/W}}
    sensors      {name: reading should_read misreading split {terminal: K}}
                 stem self_heating                           K of the misreading, beside the split, where there are such
    spreading    {plate: {heat: mean max}}
    bridge       {name: between, psi or chi, watts}
    fins         {name: efficiency effectiveness heat}         of plates with fins
    surface      {part: {environment: lowest highest}}
                 margin sweats_from [temperature_factor]          where a humidity is given
    in_slices    as above, where parts are less deep than the drawing: what would be if no heat passed along the depth
    balance      flow {terminal: W} imbalance weight_error asymmetry outside
    band         terminals network sensors spreading bridge surface: the same paths
    budget       resistance {heat: [shares]}   loss {a: {b: [shares]}}      a share: name kind value share
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
    (None instead). The keys are listed above."""
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
