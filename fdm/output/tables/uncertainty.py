"""Uncertainties of answers by uncertain inputs as tables."""

import math
from collections.abc import Sequence
from string import ascii_lowercase

import numpy as np
from rich.console import Console, Group, RenderableType
from rich.text import Text

from fdm.answers.quantity import Answers, Array, Quantity
from fdm.answers.rounding import with_band
from fdm.answers.units import shown_unit
from fdm.inference.uncertainty import Sample, Uncertainty
from fdm.output.tables.console_table import new_table
from fdm.output.tables.moisture import never_sweats
from fdm.output.tables.sentences import Sentence
from fdm.section.model import Uncertain
from fdm.section.uncertain import MATERIALS, USUAL

NETWORK = ("coupling", "weight", "resistance", "resistance_max")  # families in the second table
LEFT_OUT = ("given", "flow", "lining", "at_setpoint")  # families that stand in the plain data only
LEAST_SHARE = 0.005  # of the variance, that is named
LEAST_WEIGHT = 5e-5  # uncertainty of a weight below which it rounds to nothing


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
            bent = bool(found.bent[k]) and value != "never"
            table.add_row(found.answers.quantities[k].words, value + " *" * bent, grid, by)
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
            if never_sweats(quantity, float(found.low[k])):
                table.add_row(quantity.words, "never")
                continue
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
    if never_sweats(answers.quantities[k], value - 2 * by_inputs):
        return "never", ""
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
