"""Uncertainties of answers by uncertain inputs, and results of fits, as tables to read and as plain data."""

import math
from collections.abc import Sequence
from string import ascii_lowercase
from typing import Any

import numpy as np
from rich.console import Console, Group, RenderableType
from rich.text import Text

from fdm.answers.quantity import Answers, Array, Quantity
from fdm.answers.rounding import with_band
from fdm.answers.units import duration, shown_unit
from fdm.inference.fitted import Fit, Fitted, Residual
from fdm.inference.uncertainty import Sample, Uncertainty
from fdm.output.tables.section import new_table
from fdm.output.tables.sentences import Sentence
from fdm.section.model import Uncertain
from fdm.section.uncertain import MATERIALS, USUAL
from fdm.solving.result import plain_data

NETWORK = ("coupling", "weight", "resistance", "resistance_max")  # families in the second table
LEFT_OUT = ("given", "flow", "lining", "at_setpoint")  # families that stand in the plain data only
LEAST_SHARE = 0.005  # of the variance, that is named
LEAST_WEIGHT = 5e-5  # uncertainty of a weight below which it rounds to nothing
MOST_KEPT = 3  # named of the numbers that a fit leaves as they are
ALIKE = 0.9  # correlation from which two fitted numbers can hardly be told apart


def print_uncertainty(found: Uncertainty, console: Console) -> None:
    """The inputs that matter, then every answer with its uncertainty by them, its grid's band, and the three inputs
    with the largest shares."""
    groups = _groups(found.answers, found.standard)
    shares = {k: [s for s in found.shares(k) if s.share >= LEAST_SHARE] for _, chosen in groups for k in chosen}
    named = {s.input for of_one in shares.values() for s in of_one}
    inputs = [u for u in found.inputs if u in named] or found.inputs
    letter = dict(zip(inputs, map(_letter, range(len(inputs)))))
    parts: list[RenderableType] = [_inputs(inputs), Text()]
    if others := len(found.inputs) - len(inputs):
        parts[1:] = [
            Sentence(f"and {others} more, which are nowhere among the three largest; the JSON result has all"),
            Text(),
        ]
    for title, chosen in groups:
        table = new_table(title, ["", "value ± by inputs", "± by grid", "by which inputs"], right=(1, 2))
        for k in chosen:
            by = ", ".join(f"{letter[s.input]} {100 * s.share:.0f} %" for s in shares[k])
            value, grid = _value_and_grid_band(found.answers, k, float(found.standard[k]))
            table.add_row(found.answers.quantities[k].words, value + " *" * bool(found.bent[k]), grid, by)
        parts += [table, Text()]
    parts.append(Sentence("Standard uncertainties (one sigma) to first order; the inputs' shares are of the variance."))
    parts += _on_usual(found.inputs)
    if found.bent.any():
        parts.append(Sentence("* bends within the inputs' reach: a sample tells more"))
    if np.isnan(found.standard).any():
        parts.append(Sentence("? not reached within an input's uncertainty, or only there: a sample tells more"))
    console.print(Group(*parts), highlight=False)


def print_sample(found: Sample, console: Console) -> None:
    """The inputs, then mean, standard deviation and the range that holds 95 % of the samples, of every answer."""
    parts: list[RenderableType] = [_inputs(found.inputs), Text()]
    for title, chosen in _groups(found.answers, found.standard):
        table = new_table(title, ["", "mean ± standard", "2.5 %", "97.5 %", "nominal", ""], right=(1, 2, 3, 4))
        for k in chosen:
            quantity, nominal = found.answers.quantities[k], float(found.answers.value[k])
            unit, size = shown_unit(quantity.unit, float(found.low[k]))
            mean, standard = float(found.mean[k]) / size, float(found.standard[k]) / size
            ends = (_short(float(v) / size, standard) for v in (found.low[k], found.high[k], nominal))
            reached = f"{100 * np.isfinite(found.values[:, k]).mean():.0f} % reach it"
            table.add_row(quantity.words, with_band(mean, standard) if math.isfinite(mean) else reached, *ends, unit)
        parts += [table, Text()]
    counts = f"{len(found.values)} samples"
    if found.left_out:
        counts += f"; {found.left_out} more made no sense and are left out"
    console.print(Group(*parts, Sentence(f"{counts}."), *_on_usual(found.inputs)), highlight=False)


def print_fit(found: Fit, console: Console) -> None:
    """The numbers before and after, the residuals, and in words whether the measurements are explained."""
    table = new_table("Fitted numbers", ["", "before", "fitted", ""], right=(1, 2))
    for f in found.fitted:
        before = f"{f.before:.5g}" if f.prior is None else with_band(f.before, f.prior)
        table.add_row(f.name, before, with_band(f.value, f.uncertainty), _remark(f))
    rows = _residuals(found) if found.residuals[0].measurement.time is None else _log_residuals(found)
    console.print(Group(table, Text(), rows, Text(), *map(Sentence, fit_in_words(found))), highlight=False)


def fit_in_words(found: Fit) -> list[str]:
    """Whether the measurements are explained, the largest residual, and what the data do not tell."""
    sentences = []
    if found.reduced is None:
        sentences.append("No measured value is left over to check the fit with.")
    else:
        each = f"{float(f'{found.reduced:.2g}'):g}"
        chi = f"chi-square {found.chi_square:.3g} with {found.freedom} degrees of freedom, {each} each"
        sentences.append(
            f"The fitted numbers explain what was measured: {chi}."
            if found.explained
            else f"The fitted numbers do NOT explain what was measured: {chi}. Something else differs, or the stated "
            "uncertainties are too small; those of the fitted numbers then are too small as well."
        )
    r, m = found.worst, found.worst.measurement
    when = "" if m.time is None else f" after {duration(m.time)}"
    way = "above" if m.value > r.after else "below"
    if abs(r.scaled) > 1e-3:  # else there are as many numbers as measurements
        sentences.append(
            f"Largest residual: {r.quantity.words}{when}, measured {m.value:g}, is {abs(m.value - r.after):.2g} {way} "
            f"the fitted {r.after:.5g}, {abs(r.scaled):.2g} times its uncertainty."
        )
    sentences += [
        f"{f.name} is moved by {abs(f.moved):.2g} of the uncertainties that the file gives it: the measurements "
        "contradict the file there, or it makes up for something else that differs."
        for f in found.fitted
        if f.torn
    ]
    if untold := [f.name for f in found.fitted if not f.told]:
        sentences.append(f"The data say nothing about {'; '.join(untold)}.")
    if found.kept:
        more = f" and {len(found.kept) - MOST_KEPT} more" if len(found.kept) > MOST_KEPT else ""
        sentences.append(
            "Not adjusted, as the file does not say how uncertain they are: "
            f"{'; '.join(found.kept[:MOST_KEPT])}{more}. Name them with --adjust."
        )
    names = [f.name for f in found.fitted]
    sentences += [
        f"{names[i]} and {names[j]} can hardly be told apart (correlation {found.correlation[i, j]:+.2f})."
        for i in range(len(names))
        for j in range(i)
        if abs(found.correlation[i, j]) > ALIKE
    ]
    told = [f for f in found.fitted if f.told]
    words = [f"{f.name.removeprefix('let ')}={f.value:.5g}" for f in told if _can_be_set(f)]
    rest = "; the others have to be written into the file" if len(words) < len(told) else ""
    return sentences + ([f"To solve with them: {' '.join(words)}{rest}"] if words else [])


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


def _groups(answers: Answers, spread: Array) -> list[tuple[str, list[int]]]:
    """Numbers of the answers under each title; weights that do not change are left out."""
    quantities = answers.quantities
    asked = [
        k
        for k, q in enumerate(quantities)
        if q.family not in (*NETWORK, *LEFT_OUT) and not _has_no_value(answers, k) and not _beside_a_margin(q)
    ]
    network = [k for k, q in enumerate(quantities) if q.family in NETWORK]
    network = [k for k in network if quantities[k].family != "weight" or not spread[k] < LEAST_WEIGHT]
    return [(title, chosen) for title, chosen in (("Answers", asked), ("Network", network)) if chosen]


def _beside_a_margin(q: Quantity) -> bool:
    """Whether it says of a cabinet's surface what its margin says as well."""
    return q.path[0] == "moisture" and len(q.path) == 5 and (q.path[1] == "at_setpoint" or q.family != "margin")


def _has_no_value(answers: Answers, k: int) -> bool:
    """Whether there is no such answer; an infinite one is a time that never comes."""
    return math.isnan(answers.value[k])


def _inputs(inputs: Sequence[Uncertain]) -> RenderableType:
    table = new_table("Uncertain inputs", ["", "", "value", ""], right=(2,))
    for k, u in enumerate(inputs):
        kind = f"evenly {u.between[0]:.4g} to {u.between[1]:.4g}" if u.between else "normal"
        kind += f", {'table' if u.table == MATERIALS else u.table}" * u.from_table
        table.add_row(_letter(k), u.place, with_band(u.nominal, u.uncertainty), kind)
    return table


def _on_usual(inputs: Sequence[Uncertain]) -> list[Sentence]:
    """What the usual uncertainties are, where there are any."""
    if not any(u.table == USUAL for u in inputs):
        return []
    return [
        Sentence(
            "usual: the file does not say how uncertain it is, so what is common practice for its kind is taken, "
            "without a source. Give { value = .., uncertainty = .. }, 0 where it is exact; --no-table-spread leaves "
            "these out."
        )
    ]


def _letter(k: int) -> str:
    """A short name for input number k: a to z, then a2 to z2."""
    return ascii_lowercase[k % 26] + (f"{k // 26 + 1}" if k > 25 else "")


def _value_and_grid_band(answers: Answers, k: int, by_inputs: float) -> tuple[str, str]:
    """The value with what the inputs make of it, and the grid's band, in one unit."""
    value, band = float(answers.value[k]), float(answers.band[k])
    if not math.isfinite(value):
        return "never" + " ?" * math.isnan(by_inputs), ""
    unit, size = shown_unit(answers.quantities[k].unit, value)
    value, inputs, grid = value / size, by_inputs / size, 0.0 if math.isnan(band) else band / size
    if not inputs > 0 and not math.isnan(inputs):
        return with_band(value, grid, unit), _short(grid)
    return with_band(value, inputs, unit), _short(grid)


def _short(value: float, standard: float | None = None) -> str:
    """A number to one digit, or to as many as its standard uncertainty allows."""
    if standard is None:
        return f"{float(f'{value:.1g}'):g}" if value else ""
    if not math.isfinite(value):
        return "never"
    return with_band(value, standard).split(" ± ")[0].lstrip("(") if standard > 0 else f"{value:.4g}"


def _remark(f: Fitted) -> str:
    sentences = [] if f.told else ["not told by the data"]
    sentences += ["at its bound"] * f.at_bound
    sentences += [f"{abs(f.moved):.2g} of its uncertainties away"] * f.torn
    return "; ".join(sentences)


def _can_be_set(f: Fitted) -> bool:
    """Whether the number can be set on a command line, as a name of [let]."""
    return f.prior is None or f.name.startswith("let ")


def _residuals(found: Fit) -> RenderableType:
    table = new_table("Measured", ["", "measured", "before", "fitted", "residual in ±"], right=(1, 2, 3, 4))
    for r in found.residuals:
        m = r.measurement
        table.add_row(
            r.quantity.words,
            with_band(m.value, m.uncertainty),
            f"{r.before:.5g}",
            f"{r.after:.5g}",
            f"{r.scaled:+.1f}".replace("-0.0", "+0.0"),
        )
    return table


def _log_residuals(found: Fit) -> RenderableType:
    """By quantity, as a log is long."""
    title = "Measured less answered, root mean square, in the measurement's unit"
    table = new_table(title, ["", "values", "before", "fitted", "largest in ±"], right=(1, 2, 3, 4))
    by_name: dict[str, list[Residual]] = {}
    for r in found.residuals:
        by_name.setdefault(r.quantity.words, []).append(r)
    for name, rows in by_name.items():
        value, before, after = (np.array(v) for v in zip(*((r.measurement.value, r.before, r.after) for r in rows)))
        rms = (f"{np.sqrt(np.mean((value - v) ** 2)):.2g}" for v in (before, after))
        table.add_row(name, str(len(rows)), *rms, f"{max((r.scaled for r in rows), key=abs):+.1f}")
    return table


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
