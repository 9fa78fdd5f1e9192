"""Budgets and sensitivities as plain data."""

from typing import Any

from fdm.inference.sensitivity import LengthSensitivities, Sensitivities
from fdm.output.export.result import plain_data
from fdm.solving.solution import Solution


def budget_dict(solution: Solution) -> dict[str, Any]:
    """The shares of parts, films and joints in every resistance and loss, as computed on the finest grid.

    `resistance {heat terminal: [shares]}` is in K/W, `loss {a: {b: [shares]}}` in W/K.
    """
    by_heat, by_pair = solution.budgets
    loss: dict[str, dict[str, Any]] = {}
    for (a, b), shares in by_pair.items():
        loss.setdefault(a, {})[b] = [vars(s) for s in shares]
    resistance = {heat: [vars(s) for s in shares] for heat, shares in by_heat.items()}
    out: dict[str, Any] = plain_data({"resistance": resistance, "loss": loss})
    return out


def sensitivity_dict(table: Sensitivities, lengths: LengthSensitivities | None = None) -> dict[str, Any]:
    """The effect of every input on every answer.

    Each of `answers [..]` has an `effect` for each of `inputs [..]`, in their order: d answer / d ln input, which is
    a hundred times the effect of 1 %. `lengths` holds what a millimetre more of each named length changes in the same
    answers, `per_mm {name: change}`.
    """
    answers = [vars(a) | {"effect": row} for a, row in zip(table.answers, table.matrix)]
    out: dict[str, Any] = {"inputs": [vars(i) for i in table.inputs], "answers": answers}
    if lengths is not None:
        out["lengths"] = {
            "names": dict(zip(lengths.names, lengths.values)),
            "answers": [
                vars(a) | {"per_mm": dict(zip(lengths.names, row))}
                for a, row in zip(lengths.answers, lengths.per_millimetre)
            ],
            "left_out": lengths.left_out,
        }
    data: dict[str, Any] = plain_data(out)
    return data
