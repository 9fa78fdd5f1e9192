"""Whether bands hold, and what the constants behind them earn: a trial on random sections.

`python -m validation.bands [--sections N] [--seed S]` draws N sections of four classes by chance (walls, patchworks of
materials, fins, round and slanted parts), solves each to the default target, and again to a twentieth of it. It prints,
by class, how many values lie outside their bands and how far; and the same for all classes together with each constant
of `fdm.accuracy.extrapolation` smaller and larger than it is. A smaller one should let more values out, a larger one
should widen bands without keeping many more in.
"""

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from unittest import mock

import numpy as np
from rich.console import Console
from rich.progress import track
from rich.table import Table

from fdm import InputError, Solution, solve
from fdm.accuracy import extrapolation
from fdm.accuracy.refinement import TARGET
from fdm.answers.quantity import Array
from fdm.section.model import Border, Disc, Environment, Part, Polygon, Section, Segment, Sensor, Source, Spreading
from validation.cases import box, solid

REFERENCE = 0.05  # of the target, to which the values are solved that count as true
MOST_CELLS = 600_000
VARIED = {
    "SAFETY": (1.0, 1.8, 2.6),
    "LEAST": (0.001, 0.01, 0.05),
    "LEAST_CORNERED": (0.05, 0.1, 0.3),
    "MOST_CORNERED": (0.3, 0.6, 1.0),
    "UNEVEN": (0.0, 0.5, 1.0),
}


def conductivity(rng: np.random.Generator) -> float:
    """W/(m K), from foam to copper."""
    return float(10 ** rng.uniform(-1.5, 2.3))


def films(rng: np.random.Generator) -> tuple[Environment, ...]:
    """Two airs behind films between 3 and 100 W/(m2 K)."""
    return tuple(Environment(name, t, float(10 ** rng.uniform(0.5, 2.0))) for name, t in (("in", 7.0), ("out", 28.0)))


def wall(rng: np.random.Generator) -> Section:
    """Layers with a block through some of them."""
    ends = np.cumsum(rng.uniform(0.004, 0.03, 3))
    layers = [solid(f"layer {k}", conductivity(rng), box(0, 0.1, low, high))
              for k, (low, high) in enumerate(zip((0, *ends), ends))]  # fmt: skip
    left, width = rng.uniform(0.01, 0.06), rng.uniform(0.004, 0.03)
    block = solid("block", conductivity(rng), box(left, left + width, 0, float(rng.choice(ends))))
    return Section(
        "wall", (*layers, block), films(rng), border=Border(bottom="in", top="out"),
        sensors=(Sensor("bead", at=(left, float(ends[0])), should_read="in"),),
    )  # fmt: skip


def patchwork(rng: np.random.Generator) -> Section:
    """Materials that meet at many corners, warmed on a part of the top."""
    at = np.sort(rng.choice(np.arange(1, 10), (2, 4)), 1) / 100
    parts = [solid("ground", conductivity(rng), box(0, 0.1, 0, 0.1))]
    for k, (x, y) in enumerate(rng.uniform(0, 0.07, (4, 2)).round(2)):
        size = rng.choice([0.01, 0.02, 0.03], 2)
        parts.append(solid(f"patch {k}", conductivity(rng), box(x, x + size[0], y, y + size[1])))
    return Section(
        "patchwork", tuple(parts), films(rng), border=Border(bottom="in", right="out"),
        sources=(Source("foil", segment=Segment((0.02, 0.06), (0.1, 0.1)), heat=2.0),),
        sensors=(Sensor("bead", at=(float(at[0, 0]), 0.1)),),
    )  # fmt: skip


def fin(rng: np.random.Generator) -> Section:
    """A plate with fins, warmed in the middle."""
    base, count = rng.uniform(0.002, 0.01), int(rng.integers(2, 5))
    k, pitch = conductivity(rng), 0.1 / count
    fins = tuple(box(i * pitch, i * pitch + 0.002, base, base + 0.02) for i in range(count))
    air_above = Part("air", (box(0, 0.1, 0, base + 0.02),), environment="out")
    plate = solid("plate", k, box(0, 0.1, 0, base))
    return Section(
        "fins", (air_above, plate, Part("fins", fins, plate.material)), films(rng)[1:],
        sources=(Source("module", segment=Segment((0.03, 0.06), (0, 0)), heat=5.0),),
        spreading=(Spreading(("plate",)),),
    )  # fmt: skip


def bent(rng: np.random.Generator) -> Section:
    """A disc and a slanted bar in a block."""
    x, y, r = rng.uniform(0.03, 0.04), rng.uniform(0.03, 0.07), rng.uniform(0.008, 0.02)
    low, high = rng.uniform(0.06, 0.07), rng.uniform(0.075, 0.09)
    bar = Polygon(((low, 0.0), (low + 0.008, 0.0), (high + 0.008, 0.1), (high, 0.1)))
    parts = (
        solid("block", conductivity(rng), box(0, 0.1, 0, 0.1)),
        solid("disc", conductivity(rng), Disc((float(x), float(y)), float(r))),
        solid("bar", conductivity(rng), bar),
    )
    return Section("bent", parts, films(rng), border=Border(bottom="in", top="out"))


CLASSES: tuple[Callable[[np.random.Generator], Section], ...] = (wall, patchwork, fin, bent)


@dataclass(frozen=True)
class Trial:
    """A section as solved, and the values (Q,) that count as true, known to `known_to` (Q,)."""

    kind: str
    solution: Solution
    true: Array
    known_to: Array

    def outside(self) -> Array:
        """Errors over bands of those quantities with a target that are met; above 1 outside."""
        s = self.solution
        rule = extrapolation.rule_of(
            *(s.asked.values(g.answers) for g in s.grids), self.counted, s.system.cut is not None
        )
        rule = replace(rule, slow=s.extrapolation.rule.slow)
        value, band = replace(s.extrapolation, rule=rule).of(s.asked, s.grids)
        error = np.maximum(abs(value - self.true) - self.known_to, 0.0)
        on = (self.counted > 0) & (band > 1e-8 * abs(value)) & np.isfinite(band)
        return error[on] / band[on]

    @property
    def counted(self) -> Array:
        """(Q,) how often each quantity counts in what the answers of one solve have in common."""
        return np.array([q.counted for q in self.solution.asked.quantities])


def trials(count: int, seed: int, console: Console | None = None) -> list[Trial]:
    """Sections of all classes in turn, always the same for the same seed; those that make no sense are passed over."""
    rng, out = np.random.default_rng(seed), []
    for k in track(range(count), "solving", console=console, transient=True, disable=console is None):
        make = CLASSES[k % len(CLASSES)]
        try:
            section = make(rng)
            solution = solve(section)
            better = solve(section, REFERENCE * TARGET, MOST_CELLS)
        except InputError:
            continue
        if solution.grid.target_met:
            out.append(Trial(make.__name__, solution, better.answers.value, better.answers.band))
    return out


def table(found: list[Trial]) -> Table:
    """Values outside their bands by class, and by constants that are smaller or larger than they are."""
    out = Table(title="Values outside their bands, and what the constants behind these earn")
    for heading in ("", "sections", "values", "outside", "beyond three bands", "error over band, median"):
        out.add_column(heading, justify="left" if not heading else "right")
    for make in CLASSES:
        out.add_row(*_counted(make.__name__, [t for t in found if t.kind == make.__name__]))
    out.add_section()
    for name, values in VARIED.items():
        for value in values:
            with mock.patch.object(extrapolation, name, value):
                own = " (as it is)" if value == values[1] else ""
                out.add_row(*_counted(f"{name} = {value:g}{own}", found), end_section=value == values[-1])
    return out


def _counted(name: str, some: list[Trial]) -> tuple[str, ...]:
    ratios = np.concatenate([t.outside() for t in some]) if some else np.empty(0)
    median = f"{np.median(ratios):.3f}" if len(ratios) else "-"
    return name, str(len(some)), str(len(ratios)), str((ratios > 1).sum()), str((ratios > 3).sum()), median


def main() -> int:
    words = argparse.ArgumentParser(prog="python -m validation.bands", description=__doc__)
    words.add_argument("--sections", type=int, default=60, metavar="N", help="sections to draw (60)")
    words.add_argument("--seed", type=int, default=1, metavar="S", help="of the draw (1)")
    asked = words.parse_args()
    console = Console(width=None if sys.stdout.isatty() else 110)
    console.print(table(trials(asked.sections, asked.seed, console)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
