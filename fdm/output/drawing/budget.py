"""The picture of a section's budget: the parts, films and joints that make up its resistances and losses, as bars."""

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fdm.answers.rounding import with_band
from fdm.errors import InputError
from fdm.inference.budget import Budgets, Share
from fdm.output.breakdown import SMALLEST_SHARE, Breakdown, breakdowns, full_name, largest_shares, percent
from fdm.output.drawing.charts import bar_axes, bar_limits, heading, new_chart, save_chart, wrapped, write_beside_bar
from fdm.output.drawing.colours import INK, JOINT, Look, environment_looks, material_looks
from fdm.output.drawing.figures import told
from fdm.section.model import Section

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_BARS = 8
MOST_PANELS = 16
PANEL_LETTERS = 92  # of the title of a panel
REST = "rest"  # the kind of the bar that sums up all smaller shares


def draw_budget(found: Budgets, path: str | Path) -> None:
    """budget.png: a panel of horizontal bars for every heat terminal and every main loss.

    Raises InputError where the section has neither, and where the picture cannot be written.
    """
    every = breakdowns(found)
    panels = every[:MOST_PANELS]
    if not panels:
        raise InputError(
            "budget: the section has one temperature and no heat; give a source with heat or a second environment"
        )
    section = found.solution.section
    bars = [_bars(p) for p in panels]
    values = [with_band(p.value, p.band, p.unit).replace(" ", "\N{NO-BREAK SPACE}") for p in panels]
    titles = [wrapped(f"{p.name}: {value}", PANEL_LETTERS) for p, value in zip(panels, values)]
    heights = [0.75 + 0.33 * len(b) + 0.16 * title.count("\n") for b, title in zip(bars, titles)]  # inch
    figure = new_chart(0.95 + sum(heights))
    heading(
        figure,
        f"{told(section.title, found.solution.failed)}\n",
        "where it comes from: shares of parts, of joints, and of films, which have the colour of their air"
        + (f"; the first {len(panels)} of {len(every)}" if len(every) > len(panels) else ""),
    )
    axes = figure.subplots(len(panels), 1, sharex=True, height_ratios=heights, squeeze=False)[:, 0]
    for a, title, shares in zip(axes, titles, bars):
        _draw_panel(a, title, shares, section)
    low = min(0.0, *(100 * s.share for b in bars for s in b))
    high = max(100 * s.share for b in bars for s in b)
    bar_limits(axes[-1], low, high, room=0.12)
    axes[-1].set_xlabel("share (%)", fontsize=9, color=INK)
    save_chart(figure, path)


def _draw_panel(a: "Axes", title: str, bars: list[Share], section: Section) -> None:
    at, per_cent = np.arange(len(bars)), 100 * np.array([s.share for s in bars])
    for bar, share in zip(a.barh(at, per_cent, 0.68, zorder=2), bars):
        bar.set(**_look(section, share).patch())
    for k, s in enumerate(bars):
        write_beside_bar(a, percent(s.share), k, 100 * s.share)
    a.set_title(title, loc="left", fontsize=9.5, color=INK, y=1)
    bar_axes(a, ["\n".join(textwrap.wrap(full_name(s), 38)) for s in bars])


def _bars(panel: Breakdown) -> list[Share]:
    """The largest shares, and one more for the rest unless it is too small to see."""
    shown, rest = largest_shares(panel.shares, MOST_BARS)
    return [*shown, Share("the rest", REST, np.nan, rest)] if abs(rest) >= SMALLEST_SHARE else shown


def _look(section: Section, share: Share) -> Look:
    """As in the picture of the parts."""
    from matplotlib.colors import to_rgb

    if share.kind == "joint":
        return Look(to_rgb(JOINT))
    if share.kind == "film":
        return environment_looks(section.environments)[share.name]
    metals = {p.name: p.material for p in section.parts} | {f.name: f.material for f in section.fins}
    material = metals[share.name] if share.kind == "part" else None
    return Look((1.0, 1.0, 1.0)) if material is None else material_looks(section)[material.name]
