"""Uncertainties, samples and fits as plain data."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from fdm.answers.quantity import Quantity
from fdm.inference.fitted import Fit
from fdm.inference.uncertainty import Sample, Uncertainty
from fdm.output.tables.fit import fit_in_words
from fdm.section.model import Uncertain
from fdm.solving.result import plain_data


def uncertainty_dict(found: Uncertainty) -> dict[str, Any]:
    """Plain data for `write_json`: each answer's value, `band` of the grid, `uncertainty` by the inputs, and shares."""
    answers = {}
    for k, (quantity, value, band) in enumerate(found.answers):
        shares = found.shares(k, len(found.inputs))
        answers[quantity.name] = _answer(quantity, value, band) | {
            "uncertainty": found.standard[k],
            "first_order_holds": not found.bent[k],
            "by": {s.input.place: {"change": s.change, "share": s.share} for s in shares},
        }
    out: dict[str, Any] = plain_data({"inputs": _input_dicts(found.inputs), "answers": answers})
    return out


def sample_dict(found: Sample) -> dict[str, Any]:
    """Plain data for `write_json`: mean, standard deviation and quantiles of each answer."""
    answers = {
        quantity.name: _answer(quantity, value, band)
        | {
            "mean": found.mean[k],
            "standard_deviation": found.standard[k],
            "quantile_2.5": found.low[k],
            "quantile_97.5": found.high[k],
            "reached": np.isfinite(found.values[:, k]).mean(),
        }
        for k, (quantity, value, band) in enumerate(found.answers)
    }
    samples = {"samples": len(found.values), "left_out": found.left_out}
    out: dict[str, Any] = plain_data({"inputs": _input_dicts(found.inputs), **samples, "answers": answers})
    return out


def fit_dict(found: Fit) -> dict[str, Any]:
    """Plain data for `write_json`."""
    out: dict[str, Any] = plain_data(
        {
            "fitted": {
                f.name: {
                    "before": f.before,
                    "value": f.value,
                    "uncertainty": f.uncertainty,
                    "prior": f.prior,
                    "told": f.told,
                    "torn": f.torn,
                    "at_bound": f.at_bound,
                }
                for f in found.fitted
            },
            "correlation": found.correlation,
            "residuals": [
                {
                    "quantity": r.quantity.name,
                    "time": r.measurement.time,
                    "measured": r.measurement.value,
                    "uncertainty": r.measurement.uncertainty,
                    "before": r.before,
                    "after": r.after,
                }
                for r in found.residuals
            ],
            "chi_square": found.chi_square,
            "freedom": found.freedom,
            "explained": found.explained,
            "words": fit_in_words(found),
        }
    )
    return out


def _answer(quantity: Quantity, value: float, band: float) -> dict[str, Any]:
    return {"words": quantity.words, "value": value, "unit": quantity.unit, "band": band}


def _input_dicts(inputs: Sequence[Uncertain]) -> dict[str, Any]:
    return {
        u.place: {
            "nominal": u.nominal,
            "uncertainty": u.uncertainty,
            "between": u.between,
            "from_table": u.from_table,
            "table": u.table or None,
        }
        for u in inputs
    }
