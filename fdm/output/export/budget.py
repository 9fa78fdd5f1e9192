"""Budgets and sensitivities as plain data."""

from typing import Any

from fdm.inference.budget import Budgets
from fdm.inference.lengths import LengthSensitivities
from fdm.inference.sensitivity import Sensitivities
from fdm.solving.result import plain_data


def budget_dict(found: Budgets) -> dict[str, Any]:
    """The shares of parts, films and joints in every resistance and loss, as computed on the finest grid.

    `resistance {heat terminal: [shares]}` is in K/W, `loss {a: {b: [shares]}}` in W/K.
    """
    loss: dict[str, dict[str, Any]] = {}
    for (a, b), shares in found.loss.items():
        loss.setdefault(a, {})[b] = [vars(s) for s in shares]
    resistance = {heat: [vars(s) for s in shares] for heat, shares in found.resistance.items()}
    out: dict[str, Any] = plain_data({"resistance": resistance, "loss": loss})
    return out


def sensitivity_dict(table: Sensitivities, lengths: LengthSensitivities | None = None) -> dict[str, Any]:
    """The effect of every input on every answer.

    Each of `answers`, by its path, has an `effect` for each of `inputs [..]`, in their order: d answer / d ln input,
    which is a hundred times the effect of 1 %. `lengths` holds what a millimetre more of each named length changes in
    the same answers, `per_mm {name: change}`.
    """
    answers = {
        quantity.name: {"words": quantity.words, "unit": quantity.unit, "value": value, "effect": row}
        for (quantity, value, _), row in zip(table.answers, table.matrix)
    }
    out: dict[str, Any] = {"inputs": [vars(i) for i in table.inputs], "answers": answers}
    if lengths is not None:
        out["lengths"] = {
            "names": dict(zip(lengths.names, lengths.values)),
            "answers": {
                quantity.name: {"per_mm": dict(zip(lengths.names, row))}
                for quantity, row in zip(lengths.answers.quantities, lengths.per_millimetre)
            },
            "left_out": lengths.left_out,
        }
    data: dict[str, Any] = plain_data(out)
    return data
