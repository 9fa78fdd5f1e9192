"""Where a resistance or a loss comes from, and what would change it, as tables to read."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from rich.console import Console

from fdm.answers.quantity import Answers
from fdm.answers.rounding import with_band
from fdm.conduction.arrays import Array
from fdm.conduction.inputs import Input
from fdm.inference.budget import Budgets, Share
from fdm.inference.lengths import LengthSensitivities
from fdm.inference.sensitivity import Sensitivities
from fdm.output.breakdown import SMALLEST_SHARE, breakdowns, full_name, largest_shares, percent
from fdm.output.tables.console_table import new_table
from fdm.output.tables.sentences import Sentence

MOST_SHARES = 6  # named in a sentence
LEFT_OUT = ("weight", "given", "dew_point", "flow", "loss")  # families that are only in the plain data
SMALLEST_EFFECT = 0.02  # of the largest effect on the same answer; smaller ones are not named
SMALLEST_ANSWER = 0.01  # of the largest answer of its family; smaller ones are left out, except temperatures


def share_words(shares: Sequence[Share], most: int = MOST_SHARES) -> str:
    """The shares in words, the largest first.

    >>> share_words([Share("air", "film", 0.6, 0.55), Share("fin", "part", 0.5, 0.45)])
    'film of air 55 %, fin 45 %'
    """
    shown, rest = largest_shares(shares, most)
    words = [f"{full_name(s)} {percent(s.share)}" for s in shown]
    return ", ".join([*words, f"the rest {percent(rest)}"] if abs(rest) >= SMALLEST_SHARE else words)


def print_budget(found: Budgets, console: Console) -> None:
    """The budget of every heat terminal's resistance and of the main losses; nothing where there is neither."""
    shown = breakdowns(found)
    if not shown:
        return
    console.print()
    table = new_table("Where it comes from", ["of", "", "made up of"])
    for b in shown:
        table.add_row(b.name, with_band(b.value, b.band, b.unit), share_words(b.shares))
    console.print(table, highlight=False)
    if any(s.share <= -SMALLEST_SHARE for b in shown for s in b.shares):
        console.print(Sentence("A share below 0: what passes there goes to a third temperature."), highlight=False)


@dataclass(frozen=True)
class _Effects:
    """What changes of some inputs do to some answers."""

    title: str
    answers: Answers
    inputs: Sequence[Input]
    matrix: Array  # (answers, inputs)
    sizes: Array  # (inputs,); an answer's effects are sorted by their product with these


def print_sensitivities(table: Sensitivities, console: Console, most: int = 8) -> None:
    """What 1 % more of every input changes in every answer, the largest effect first.

    Effects are in per cent of the answer, for temperatures in kelvin. Weights and very small answers are left out.
    """
    several = [k for k in range(len(table.inputs)) if not _lone_material(table, k)]
    inputs, effects = [table.inputs[k] for k in several], table.matrix[:, several] / 100
    title = "What 1 % more of it changes"
    _print_effects(_Effects(title, table.answers, inputs, effects, np.ones(len(inputs))), console, most)


def print_lengths(table: LengthSensitivities, console: Console, most: int = 8) -> None:
    """What a millimetre more of every named length changes; the lengths whose 1 % changes most come first."""
    inputs = [Input(name, "length", value, "") for name, value in zip(table.names, table.values)]
    sizes = np.array([abs(v) for v in table.values])
    title = "What 1 mm more of it changes; first where 1 % would change most"
    _print_effects(_Effects(title, table.answers, inputs, table.per_millimetre, sizes), console, most)
    for name, why in table.left_out.items():
        console.print(Sentence(f"{name} is left out: {why}"), highlight=False)


def _print_effects(effects: _Effects, console: Console, most: int) -> None:
    """One row for each answer: its value, and at most so many effects on it."""
    console.print()
    table = new_table(effects.title, ["answer", "", "by"])
    largest: dict[str, float] = {}
    for quantity, value, _ in effects.answers:
        largest[quantity.family] = max(largest.get(quantity.family, 0.0), abs(value))
    for (quantity, value, _), row in zip(effects.answers, effects.matrix):
        kelvin = quantity.unit in ("degC", "K")
        small = abs(value) < SMALLEST_ANSWER * largest[quantity.family]
        if quantity.family not in LEFT_OUT and np.isfinite(row).all() and (kelvin or not small):
            shown = row if kelvin else 100 * row / (abs(value) or 1.0)
            weight = abs(shown) * effects.sizes
            largest_first = np.argsort(-weight, kind="stable")[:most]
            named = [k for k in largest_first if weight[k] > SMALLEST_EFFECT * weight.max()]
            effects_in_words = [
                f"{full_name(effects.inputs[k])} {_signed(shown[k])} {'K' if kelvin else '%'}" for k in named
            ]
            table.add_row(
                quantity.words, with_band(value, 0.0, quantity.unit), ", ".join(effects_in_words) or "nothing"
            )
    console.print(table, highlight=False)


def _signed(value: float) -> str:
    """
    >>> _signed(0.0312), _signed(-141.2)
    ('+0.031', '-141')
    """
    return f"{value:+.2g}" if abs(value) < 99.5 else f"{value:+.0f}"


def _lone_material(table: Sensitivities, k: int) -> bool:
    """Whether input `k` is a material that only one part is made of: the part's row says the same."""
    parts = [p for p, i in enumerate(table.inputs) if i.kind == "part"]
    column = table.matrix[:, k]
    return table.inputs[k].kind == "material" and any(np.array_equal(column, table.matrix[:, p]) for p in parts)
