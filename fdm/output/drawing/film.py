"""The picture of a film: how it goes with flow, speed or temperature, and where a fan meets its fins."""

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fdm.output.drawing.charts import PAPER, heading, new_chart, plain_axes, save_chart
from fdm.output.drawing.colours import FAINT, HEAT, INK, SENSOR
from fdm.surroundings.film import Film
from fdm.surroundings.questions import Curve

if TYPE_CHECKING:
    from matplotlib.axes import Axes

BAND = 0.18  # opacity of the relation's uncertainty


def draw_film(found: Film, curve: Curve, asked: str, path: str | Path) -> None:
    """film.png: the film over `curve.x`, with its uncertainty; below it, where they are known, the pressure drop of the
    fins and the fan's curve. Raises InputError where it cannot be written."""
    two = curve.pressure is not None
    figure = new_chart(6.4 if two else 3.9)
    heading(figure, f"{asked}\n", f"{found.relation}; shaded: standard uncertainty of the relation")
    axes = figure.subplots(1 + two, 1, sharex=True, squeeze=False)[:, 0]
    _draw_curve(axes[0], found, curve)
    if two:
        _draw_pressure(axes[1], curve)
    axes[-1].set_xlabel(curve.words, fontsize=9, color=INK)
    low, high = min(0.0, float(curve.x.min())), max(0.0, float(curve.x.max()))
    axes[-1].set_xlim(low, high)
    save_chart(figure, path)


def _draw_curve(a: "Axes", found: Film, curve: Curve) -> None:
    plain_axes(a)
    a.plot(curve.x, curve.film, color=SENSOR, lw=2)
    spread = found.uncertainty * curve.film
    a.fill_between(curve.x, curve.film - spread, curve.film + spread, color=SENSOR, alpha=BAND, lw=0)
    a.set_ylim(0, 1.15 * float((curve.film + spread).max()))
    a.set_ylabel("film (W/(m² K))", fontsize=9, color=INK)
    right = curve.here - curve.x.min() > 0.75 * np.ptp(curve.x)
    where = (-8, -16) if right else (8, -16)
    _mark(a, curve.here, found.film, f"{found.film:.3g} W/(m² K)", where, "right" if right else "left")


def _draw_pressure(a: "Axes", curve: Curve) -> None:
    assert curve.pressure is not None
    plain_axes(a)
    a.plot(curve.x, curve.pressure, color=INK, lw=2, label="asked for by the fins")
    top = float(curve.pressure.max())
    if curve.fan is not None:
        a.plot(curve.x, curve.fan, color=HEAT, lw=2, label="given by the fan")
        top = 1.15 * float(curve.fan.max())
    a.set_ylim(0, top)
    a.set_ylabel("pressure (Pa)", fontsize=9, color=INK)
    a.legend(loc="upper center", fontsize=9, frameon=False, labelcolor=INK)
    here = float(np.interp(curve.here, curve.x, curve.pressure))
    _mark(a, curve.here, here, f"{curve.here:.3g} m³/h, {here:.3g} Pa", (0, 22), "center")


def _mark(a: "Axes", x: float, y: float, words: str, away: tuple[float, float], side: str) -> None:
    a.plot([x], [y], "o", color=INK, ms=6, zorder=4)
    a.axvline(x, color=FAINT, lw=0.8, zorder=1)
    a.annotate(
        words, (x, y), away, textcoords="offset points", ha=side, fontsize=9, color=INK, bbox=PAPER, zorder=5
    )  # fmt: skip
