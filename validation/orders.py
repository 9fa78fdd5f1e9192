"""Observed orders: errors of one grid as all its cells are halved, where edges are round, slanted or thin.

`python -m validation.orders` prints the relative error of the coupling, without extrapolation, on six grids, the order
that the last halvings show on average, and what three grids extrapolate to. True values: exact shape factors and
series (validation.formulas), a lattice of discs by W.T. Perrins, D.R. McKenzie & R.C. McPhedran, Proc. R. Soc. Lond. A
369 (1979) 207 (from memory), and for the slanted fin the exact series of the same fin drawn upright.
"""

import math
import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from rich.console import Console
from rich.table import Table

from fdm.accuracy.extrapolation import extrapolated
from fdm.answers.kinds import solved
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Disc, Environment, Joint, Part, Polygon, Section, Source
from validation import formulas
from validation.cases import air, box, held, solid

GRIDS = 6


@dataclass(frozen=True)
class Body:
    """A body with two fixed terminals, and their true coupling."""

    name: str
    section: Section
    true: float  # W/K between the two fixed terminals
    cut: bool  # as `extrapolated` asks


def held_disc_in_block() -> Body:
    """A quarter of a held disc in a block that is held outside."""
    half = box(0, 1, 0, 1)
    section = Section(
        "held disc", (solid("block", 1, half), solid("disc", 1, Disc((0, 0), 0.5)),
                      Part("below", (box(-0.5, 1, -0.5, 0),), void=True),
                      Part("beside", (box(-0.5, 0, -0.5, 1),), void=True)),
        held("outside"), border=Border(right="outside", top="outside"),
        sources=(Source("hot", part="disc", temperature=1),),
    )  # fmt: skip
    return Body("held disc in a square block, w/D = 2", section, 8.17247 / 4, True)


def eccentric_annulus() -> Body:
    """A round ring with a hole off its centre, held on both faces."""
    section = Section(
        "annulus",
        (air("outside", box(-1.1, 1.1, -1.1, 1.1)), solid("ring", 1, Disc((0, 0), 1)),
         air("inside", Disc((0.25, 0), 0.5))),
        held("outside", "inside"),
    )  # fmt: skip
    return Body("eccentric annulus, held", section, formulas.eccentric_cylinders(2, 1, 0.25), True)


def filmed_disc() -> Body:
    """A solid ring with a hole, weak films on both round faces: resistances in series."""
    section = Section(
        "ring",
        (air("outside", box(-1.1, 1.1, -1.1, 1.1)), solid("ring", 1, Disc((0, 0), 1)),
         air("inside", Disc((0, 0), 0.4))),
        (Environment("outside", 0, 0.5), Environment("inside", 1, 1.5)),
    )  # fmt: skip
    circle = 2 * math.pi
    return Body(
        "annulus with films",
        section,
        1 / (1 / (0.5 * circle) + math.log(1 / 0.4) / circle + 1 / (1.5 * 0.4 * circle)),
        "cut",
    )


def slanted_fin() -> Body:
    """A fin turned by 0.4 rad in air, its base held: a straight fin of 2-D series (exact)."""
    h, k, thickness, length, turn = 40.0, 2.0, 0.004, 0.02, 0.4

    def turned(*corners: tuple[float, float]) -> Polygon:
        c, s = math.cos(turn), math.sin(turn)
        return Polygon(tuple((x * c - y * s, x * s + y * c) for x, y in corners))

    fin = turned((0, 0), (length, 0), (length, thickness), (0, thickness))
    base = turned((-0.003, -0.001), (0, -0.001), (0, thickness + 0.001), (-0.003, thickness + 0.001))
    section = Section(
        "fin", (air("air", box(-0.006, 0.022, -0.004, 0.014)), solid("fin", k, fin), air("base", base)),
        (Environment("air", 0, h), Environment("base", 1, math.inf)),
    )  # fmt: skip
    return Body("slanted fin in air", section, formulas.fin_conductance_2d(h, k, thickness, length, h), True)


def disc_in_block(k: float) -> Body:
    """A disc of conductivity `k` in a square block of conductivity 1, between two held sides."""
    section = Section(
        "disc", (solid("block", 1, box(0, 1, 0, 1)), solid("disc", k, Disc((0.5, 0.5), 0.3))), held("left", "right"),
        border=Border(left="left", right="right"),
    )  # fmt: skip
    f, t = math.pi * 0.09, (1 + k) / (1 - k)
    lattice = 1 - 2 * f / (t + f - 0.305827 * f**4 * t / (t * t - 1.402958 * f**8) - 0.013362 * f**8 / t)
    return Body(f"disc in a block, conductivity 1 : {k:g}", section, lattice, True)


def thin_layer(drawn: bool) -> Body:
    """0.05 mm of paste under a narrow source on a plate: drawn, or as a joint. The truth is the drawn one's on a far
    finer grid, which the joint's must equal but for what runs along the paste."""
    t = 5e-5 if drawn else 0.0
    parts = [solid("plate", 200, box(0, 0.03, 0, 0.005)), solid("block", 200, box(0, 0.01, 0.005 + t, 0.02 + t))]
    joints: tuple[Joint, ...] = (Joint(("plate", "block"), 5e-5 / 0.9),)
    if drawn:
        parts.append(solid("paste", 0.9, box(0, 0.01, 0.005, 0.005 + t)))
        joints = ()
    films = (Environment("air", 0, 800), Environment("hot", 1, math.inf))
    section = Section("paste", tuple(parts), films, joints=joints, border=Border(bottom="air", top="hot"))
    x, y = first_lines(section)
    for _ in range(7 if drawn else 6):
        x, y = halved(x), halved(y)
    fine = solved(conduction_system(section, x, y)).answers.network.coupling[0, 1]
    return Body(f"0.05 mm paste {'drawn as a part' if drawn else 'as a joint'}", section, float(fine), False)


BODIES: tuple[Callable[[], Body], ...] = (
    held_disc_in_block, eccentric_annulus, filmed_disc, slanted_fin,
    lambda: disc_in_block(0.1), lambda: disc_in_block(10), lambda: disc_in_block(1e4), lambda: thin_layer(True),
    lambda: thin_layer(False),
)  # fmt: skip


def errors(body: Body) -> tuple[list[float], float, float]:
    """Relative errors of GRIDS grids, the mean order of the last three halvings, the extrapolated value's error."""
    x, y = first_lines(body.section)
    values = []
    for _ in range(GRIDS):
        values.append(solved(conduction_system(body.section, x, y)).answers.network.coupling[0, 1])
        x, y = halved(x), halved(y)
    value, _ = extrapolated(*(np.array([v]) for v in values[-3:]), body.cut)
    off = [float(v / body.true - 1) for v in values]
    return off, math.log2(abs(off[-4] / off[-1])) / 3, float(value[0] / body.true - 1)


def main() -> int:
    table = Table(title="Relative error of the coupling, all cells halved from grid to grid")
    table.add_column("body")
    for k in range(GRIDS):
        table.add_column(f"grid {k + 1}", justify="right")
    table.add_column("order", justify="right")
    table.add_column("extrapolated", justify="right")
    for make in BODIES:
        body = make()
        off, order, last = errors(body)
        table.add_row(body.name, *(f"{e:+.1e}" for e in off), f"{order:.1f}", f"{last:+.1e}")
    Console(width=None if sys.stdout.isatty() else 130).print(table)
    return 0


if __name__ == "__main__":
    sys.exit(main())
