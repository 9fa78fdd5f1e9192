"""Where a resistance or a loss comes from, and what would change it: in words, as bars, and as plain data."""

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from rich.console import Console
from rich.text import Text

from fdm.conduction.faces import Array
from fdm.errors import InputError
from fdm.inference.lengths import LengthSensitivities
from fdm.inference.sensitivity import Answer, Sensitivities
from fdm.inference.shares import Input, Share, budgets
from fdm.output.drawing.charts import heading, new_chart, plain_axes, save_chart
from fdm.output.drawing.colours import FAINT, INK, JOINT, environment_colours, material_colours
from fdm.output.tables.section import add_row, new_table, with_band
from fdm.section.model import Section
from fdm.solving.result import plain_data
from fdm.solving.solution import Solution

NAMED = 6  # shares in a sentence
BARS = 8  # shares in a picture
LEAST = 0.005  # a share below is part of the rest
PAIRS = 3  # of fixed terminals
SLIGHT = 0.02  # an effect below this part of the largest on the same answer is not named
SMALL = 0.01  # nor an answer below this part of the largest of its quantity, but readings
TOLD = ("coupling", "resistance", "resistance_max", "reading", "misreading", "spreading", "bridge")  # weights: as data


def share_words(shares: Sequence[Share], most: int = NAMED) -> str:
    """What a builder reads, the largest share first.

    >>> share_words([Share("air", "film", 0.6, 0.55), Share("fin", "part", 0.5, 0.45)])
    'film of air 55 %, fin 45 %'
    """
    shown, rest = _largest(shares, most)
    said = [f"{_name(s)} {_percent(s.share)}" for s in shown]
    return ", ".join([*said, f"the rest {_percent(rest)}"] if abs(rest) >= LEAST else said)


def print_budget(solution: Solution, console: Console) -> None:
    """The budget of every heat terminal's resistance and of the main losses, to the console; nothing where there is
    neither."""
    panels = _panels(solution)
    if not panels:
        return
    console.print()
    table = new_table("Where it comes from", ["of", "", "made up of"])
    for panel in panels:
        add_row(table, panel.name, with_band(panel.value, panel.band, panel.unit), share_words(panel.shares))
    console.print(table, highlight=False)
    if any(s.share <= -LEAST for p in panels for s in p.shares):
        console.print(Text("A share below 0: what passes there goes to a third temperature."), highlight=False)


def draw_budget(solution: Solution, path: str | Path) -> None:
    """budget.png: a panel of horizontal bars for every heat terminal and every main loss.

    Raises InputError where the section has neither.
    """
    panels = _panels(solution)
    if not panels:
        raise InputError(
            "budget: the section has one temperature and no heat; give a source with heat or a second environment"
        )
    section = solution.section
    bars = [_bars(p.shares) for p in panels]
    heights = [0.75 + 0.33 * len(b) for b in bars]
    figure = new_chart(0.95 + sum(heights))
    heading(figure, f"{section.title}\n", "where it comes from: shares of parts, films (hatched) and joints")
    axes = figure.subplots(len(panels), 1, sharex=True, height_ratios=heights, squeeze=False)[:, 0]
    low = min(0.0, *(100 * value for b in bars for _, _, value in b))
    high = max(100 * value for b in bars for _, _, value in b)
    for a, panel, shown in zip(axes, panels, bars):
        at, values = np.arange(len(shown)), 100 * np.array([value for _, _, value in shown])
        colours = [_colour(section, name, kind) for name, kind, _ in shown]
        films = [kind == "film" for _, kind, _ in shown]
        edges, hatches = [FAINT if film else INK for film in films], ["////" if film else "" for film in films]
        a.barh(at, values, 0.68, color=colours, edgecolor=edges, lw=0.7, hatch=hatches, zorder=2)
        for k, (_, _, value) in enumerate(shown):
            a.annotate(
                _percent(value), (max(100 * value, 0.0), k), (6, 0), textcoords="offset points", va="center",
                fontsize=9, color=INK, fontweight="bold" if k == 0 else "normal", in_layout=False,
            )  # fmt: skip
        names = [_name(Share(name, kind, 0.0, 0.0)) for name, kind, _ in shown]
        a.set_yticks(at, ["\n".join(textwrap.wrap(name, 38)) for name in names])
        a.set_ylim(len(shown) - 0.4, -0.6)
        a.set_title(
            f"{panel.name}: {with_band(panel.value, panel.band, panel.unit)}", loc="left", fontsize=9.5, color=INK, y=1
        )
        plain_axes(a)
        a.grid(axis="y", visible=False)
        a.tick_params(axis="y", length=0)
        a.axvline(0, color=INK, lw=0.8, zorder=3)
    axes[-1].set_xlim(1.15 * low, high + 0.12 * (high - low))  # with room for what is written beside the longest bar
    axes[-1].set_xlabel("share (%)", fontsize=9, color=INK)
    save_chart(figure, path)


def budget_dict(solution: Solution) -> dict[str, Any]:
    """`resistance {heat: [shares]}` in K/W, `loss {a: {b: [shares]}}` in W/K; of the finest grid."""
    by_heat, by_pair = budgets(solution)
    loss: dict[str, dict[str, Any]] = {}
    for (a, b), shares in by_pair.items():
        loss.setdefault(a, {})[b] = [vars(s) for s in shares]
    return plain_data({"resistance": {h: [vars(s) for s in shares] for h, shares in by_heat.items()}, "loss": loss})


def print_sensitivities(table: Sensitivities, console: Console, most: int = 8) -> None:
    """What 1 % more of everything would do to every answer but the weights and those that hardly count, the largest
    effect first: in per cent of the answer, in kelvin for readings."""
    several = [k for k in range(len(table.inputs)) if not _lone_material(table, k)]
    inputs, effects = [table.inputs[k] for k in several], table.matrix[:, several] / 100
    _print_effects("What 1 % more of it changes", table.answers, inputs, effects, np.ones(len(inputs)), console, most)


def print_lengths(table: LengthSensitivities, console: Console, most: int = 8) -> None:
    """The same of a millimetre more of every named length; first those of which 1 % would have the largest effect."""
    inputs = [Input(name, "length", value, "") for name, value in zip(table.names, table.values)]
    sizes = np.array([abs(v) for v in table.values])
    title = "What 1 mm more of it changes; first where 1 % would change most"
    _print_effects(title, table.answers, inputs, table.per_millimetre, sizes, console, most)
    for name, why in table.left_out.items():
        console.print(Text(f"{name} is left out: {why}"), highlight=False)


def _print_effects(
    title: str,
    answers: Sequence[Answer],
    inputs: Sequence[Input],
    effects: Array,
    sizes: Array,
    console: Console,
    most: int,
) -> None:
    """A row an answer: its value, and the effects (A, I) on it, sorted by their product with `sizes` (I,)."""
    console.print()
    table = new_table(title, ["answer", "", "by"])
    largest: dict[str, float] = {}
    for a in answers:
        largest[a.quantity] = max(largest.get(a.quantity, 0.0), abs(a.value))
    for answer, row in zip(answers, effects):
        kelvin = answer.quantity in ("reading", "misreading")
        if answer.quantity in TOLD and (kelvin or abs(answer.value) >= SMALL * largest[answer.quantity]):
            shown = row if kelvin else 100 * row / (abs(answer.value) or 1.0)
            weight = abs(shown) * sizes
            order = [k for k in np.argsort(-weight, kind="stable")[:most] if weight[k] > SLIGHT * weight.max()]
            said = [f"{_name(inputs[k])} {_signed(shown[k])} {'K' if kelvin else '%'}" for k in order]
            add_row(table, answer.name, with_band(answer.value, 0.0, answer.unit), ", ".join(said) or "nothing")
    console.print(table, highlight=False)


def sensitivity_dict(table: Sensitivities, lengths: LengthSensitivities | None = None) -> dict[str, Any]:
    """`inputs [..]` and `answers [..]`, each answer with the `effect` of every input in that order: d answer / d ln
    input, a hundred times that of 1 %. `lengths` has the same answers' change `per_mm` by name."""
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
    return plain_data(out)


@dataclass(frozen=True)
class _Panel:
    name: str
    value: float
    band: float
    unit: str
    shares: tuple[Share, ...]


def _panels(solution: Solution) -> list[_Panel]:
    """Every heat terminal, then the pairs of fixed terminals between which most heat flows at their temperatures (all
    of one temperature: that are coupled best)."""
    section, n = solution.section, solution.network
    by_heat, by_pair = budgets(solution)
    panels = [
        _Panel(
            f"{h} to the surroundings",
            float(n.values.resistance[k, k]),
            float(n.band.resistance[k, k]),
            "K/W",
            by_heat[h],
        )
        for k, h in enumerate(n.heat)
    ]
    place = {name: k for k, name in enumerate(n.fixed)}
    t = section.fixed_temperatures
    drop = {(a, b): abs(t[place[a]] - t[place[b]]) for a, b in by_pair}
    if any(drop.values()):
        by_pair = {pair: shares for pair, shares in by_pair.items() if drop[pair]}
    else:
        drop = dict.fromkeys(drop, 1.0)
    watts = {pair: drop[pair] * n.values.coupling[place[pair[0]], place[pair[1]]] for pair in by_pair}
    for a, b in sorted(watts, key=lambda pair: -watts[pair])[:PAIRS]:
        at = place[a], place[b]
        value, band = float(n.values.coupling[at]), float(n.band.coupling[at])
        panels.append(_Panel(f"{a} to {b}", value, band, "W/K", by_pair[a, b]))
    return panels


def _largest(shares: Sequence[Share], most: int) -> tuple[list[Share], float]:
    """The largest shares, whatever their sign, and the sum of the others."""
    by_size = sorted(shares, key=lambda s: -abs(s.share))
    shown = [s for s in by_size[:most] if abs(s.share) >= LEAST]
    return shown, sum(s.share for s in by_size[len(shown) :])


def _bars(shares: Sequence[Share]) -> list[tuple[str, str, float]]:
    """Name, kind and share of each bar."""
    shown, rest = _largest(shares, BARS)
    bars = [(s.name, s.kind, s.share) for s in shown]
    return [*bars, ("the rest", "rest", rest)] if abs(rest) >= LEAST else bars


def _colour(section: Section, name: str, kind: str) -> Any:
    if kind == "joint":
        return JOINT
    if kind == "film":
        return environment_colours(section.environments)[name]
    material = section.part_named[name].material if kind == "part" else None
    return "white" if material is None else material_colours(section)[material.name]


def _name(of: Share | Input) -> str:
    """
    >>> _name(Share("base | board", "joint", 0.01, 0.02))
    'joint base | board'
    """
    before = {"film": "film of ", "joint": "joint ", "material": "all "}.get(of.kind, "")
    return before + of.name


def _percent(share: float) -> str:
    """
    >>> _percent(0.314), _percent(0.0314)
    ('31 %', '3.1 %')
    """
    return f"{100 * share:.0f} %" if abs(share) >= 0.0995 else f"{100 * share:.1f} %"


def _signed(value: float) -> str:
    """
    >>> _signed(0.0312), _signed(-141.2)
    ('+0.031', '-141')
    """
    return f"{value:+.2g}" if abs(value) < 99.5 else f"{value:+.0f}"


def _lone_material(table: Sensitivities, k: int) -> bool:
    """Whether a material has but one part, whose effects are its own."""
    parts = [p for p, i in enumerate(table.inputs) if i.kind == "part"]
    column = table.matrix[:, k]
    return table.inputs[k].kind == "material" and any(np.array_equal(column, table.matrix[:, p]) for p in parts)
