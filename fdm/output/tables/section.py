"""The answers as tables to read, each number rounded to its band."""

import math
from collections.abc import Iterable

import numpy as np
from rich.console import Console, Group, RenderableType
from rich.text import Text

from fdm.answers.grid import KELVIN
from fdm.answers.rounding import brief, fixed, with_band
from fdm.answers.sensors import Reading
from fdm.conduction.arrays import Array, Bools
from fdm.output.breakdown import percent
from fdm.output.tables.console_table import new_table
from fdm.output.tables.moisture import stretches
from fdm.output.tables.sentences import Sentence
from fdm.section.by_temperature import Line
from fdm.section.model import Material
from fdm.solving.left_out import left_out
from fdm.solving.solution import Solution
from fdm.surroundings import moist

WEIGHTS = "Weights: what part each given temperature has in another; those of one row add up to 1"
WEIGHTS_ABREAST = 3  # columns of weights that fit into 80 characters
SPLIT_SHARE = 0.01  # a terminal with less than this part of the largest share in a sensor's split is not named
MOST_ROWS = 200  # of a table of pairs; the largest numbers are shown then
MOST_COLUMNS = 12  # of weights
LEAST_HEAT = 1e-3  # of what passes a part: less is hardly off
UNFELT = 1e-4  # of the whole resistance: a plate that spreads less is one that the heat does not pass


def print_solution(solution: Solution, console: Console) -> None:
    """Everything that was asked of the section, to the console."""
    console.print(_report(solution), highlight=False)


def print_materials(materials: Iterable[Material], console: Console, sources: bool) -> None:
    """Conductivity, density, specific heat and, where they are asked for, the source of each material."""
    columns = ["material", "W/(m K)", "kg/m3", "J/(kg K)", "source"]
    table = new_table("Materials", columns if sources else columns[:-1], right=(1, 2, 3))
    for m in materials:
        along_x, along_y = m.conductivity
        k = f"{along_x:g}" if along_x == along_y else f"x {along_x:g}, y {along_y:g}"
        if isinstance(m.by_temperature, Line):
            k = f"{k} at {m.by_temperature.at:g} degC, {m.by_temperature.per_kelvin:+g} a K"
        rest = ["-" if v is None else f"{v:g}" for v in (m.density, m.specific_heat)]
        table.add_row(m.name, k, *rest, *([m.source or "-"] if sources else []))
    console.print(table, highlight=False)


def _report(solution: Solution) -> RenderableType:
    section = solution.section
    about = {
        "section": f"section, {section.depth:g} m deep",
        "axisymmetric": "about the axis, full turn",
        "plate": "plate, seen face on",
    }
    layers = ", resolved through its thickness" if section.layered else ""
    parts: list[RenderableType] = [Text(section.title, style="bold"), Text(about[section.view] + layers), Text()]
    network = (_terminals, _frozen, _couplings, _resistances, _weights)
    for make in (*network, _sensors, _spreading, _bridges, _surfaces, _moisture, _fins, _slices):
        for table in make(solution):
            parts += [table, Text()]
    return Group(*parts, *_closing(solution))


def _terminals(solution: Solution) -> list[RenderableType]:
    table = new_table("Terminals", ["name", "kind", "film\nW/(m2 K)", "mean\ndegC", "into section\nW"], right=(2, 3, 4))
    section, flow = solution.section, solution.balance.flow
    for e in section.environments:
        table.add_row(e.name, "environment", e.film_digits, f"{e.temperature:g}", f"{flow[e.name]:.5g}")
    for s in section.held_sources:
        table.add_row(s.name, "held source", "", f"{s.temperature:g}", f"{flow[s.name]:.5g}")
    for name in solution.network.heat:
        mean, band = solution.answers.at(("terminals", name, "temperature"))
        table.add_row(name, "heat source", "", with_band(mean, band), f"{flow[name]:.5g}")
    return [table]


def _frozen(solution: Solution) -> list[RenderableType]:
    """The numbers that follow the temperature."""
    frozen = solution.frozen
    if frozen is None or not frozen.values:
        return []
    table = new_table("What follows the temperature", ["", "value", "unit", "at"], right=(1,))
    for f in frozen.values:
        table.add_row(f.coefficient.name, f"{f.value:.4g}", f.coefficient.unit, f.where)
    told = [Sentence(text) for text in one_value_sentences(solution)]
    return [table, *told, Sentence(f"Found in {frozen.in_rounds}; all else holds for these numbers.")]


def one_value_sentences(solution: Solution) -> list[str]:
    """What one value for all of a part leaves out, where it is worth a word."""
    return [
        f"one value for all of {x.part}, which conducts {x.least:.3g} to {x.most:.3g} W/(m K) from place to place, "
        f"leaves temperatures in it and beside it up to {x.kelvin:.2g} K off, and the heat that passes it "
        f"{f'less than {percent(x.heat)}' if x.heat >= LEAST_HEAT else 'hardly'}"
        for x in left_out(solution)
        if x.kelvin >= KELVIN * solution.grid.target or x.heat >= LEAST_HEAT
    ]


def _couplings(solution: Solution) -> list[RenderableType]:
    n = solution.network
    if len(n.fixed) < 2:
        return []
    table = new_table("Couplings", ["between", "and", "W/K"], right=(2,))
    pairs, left_out = _largest(np.triu(n.values.coupling, 1), np.triu(np.ones_like(n.values.coupling, bool), 1))
    for i, j in pairs:
        table.add_row(n.fixed[i], n.fixed[j], with_band(n.values.coupling[i, j], n.band.coupling[i, j]))
    return [table, *left_out]


def _largest(values: Array, shown: Bools) -> tuple[list[tuple[int, int]], list[Sentence]]:
    """The places of a table of pairs that are `shown`, row by row, or the MOST_ROWS largest of its values where there
    are more; and a line on those that are left out."""
    i, j = np.nonzero(shown)
    if len(i) <= MOST_ROWS:
        return list(zip(i.tolist(), j.tolist())), []
    order = np.argsort(-values[i, j], kind="stable")[:MOST_ROWS]
    line = Sentence(f"The largest {MOST_ROWS} of {len(i)}; the JSON result has all.")
    return list(zip(i[order].tolist(), j[order].tolist())), [line]


def _resistances(solution: Solution) -> list[RenderableType]:
    n = solution.network
    if not n.heat:
        return []
    table = new_table("Resistances", ["of", "heated at", "mean K/W", "highest K/W"], right=(2, 3))
    pairs, left_out = _largest(n.values.resistance, np.ones_like(n.values.resistance, bool))
    for i, j in pairs:
        most = with_band(n.values.resistance_max[i, j], n.band.resistance_max[i, j]) if i < len(n.heat) else ""
        table.add_row(n.observed[i], n.heat[j], with_band(n.values.resistance[i, j], n.band.resistance[i, j]), most)
    return [table, *left_out]


def _weights(solution: Solution) -> list[RenderableType]:
    n = solution.network
    tables: list[RenderableType] = []
    if not n.observed or len(n.fixed) < 2:
        return tables
    with np.errstate(invalid="ignore"):  # of bands that are not known
        others = n.band.weight.sum(1, keepdims=True) - n.band.weight
    band = np.fmin(n.band.weight, others)  # as a row adds up to 1, no weight is less sure than all others of it
    for first in range(0, min(len(n.fixed), MOST_COLUMNS), WEIGHTS_ABREAST):
        columns = range(first, min(first + WEIGHTS_ABREAST, len(n.fixed)))
        table = new_table(
            WEIGHTS if first == 0 else "Weights, continued", ["in", *(n.fixed[j] for j in columns)], right=(1, 2, 3)
        )
        for i, observed in enumerate(n.observed):
            table.add_row(observed, *(_weight(n.values.weight[i, j], band[i, j]) for j in columns))
        tables.append(table)
    if len(n.fixed) > MOST_COLUMNS:
        tables.append(Sentence(f"The first {MOST_COLUMNS} of {len(n.fixed)}; the JSON result has all."))
    return tables


def _weight(value: float, band: float) -> str:
    """To four decimals, its band rounded up: all weights are shares of the same 1."""
    if not math.isfinite(value):
        return "-"
    if not math.isfinite(band):
        return f"{fixed(value, 4)} ± ?"
    return fixed(value, 4) + (f" ± {math.ceil(band * 1e4 - 1e-6) / 1e4:.4f}" if band > 1e-9 else "")


def _sensors(solution: Solution) -> list[RenderableType]:
    if not solution.sensors:
        return []
    table = new_table("Sensors", ["name", "reads degC", "should degC", "misreads K"], right=(1, 2, 3))
    sentences: list[RenderableType] = []
    for name, r in solution.sensors.items():
        misreading = "-" if r.misreading is None else with_band(r.misreading, r.misreading_band or 0.0)
        should = "-" if r.should_read is None else f"{r.should_read:.5g}"
        table.add_row(name, with_band(r.reading, r.band), should, misreading)
        sentences.append(Sentence(f"{name}: {split_in_words(r)}"))
    return [Group(table, *sentences)]


def split_in_words(reading: Reading) -> str:
    """What a misreading comes from: the terminals, the largest share first, then its stem and its own heating; or a
    reading, where nothing should be read."""
    shares = sorted(((k, v) for k, v in reading.split.items() if v), key=lambda item: -abs(item[1]))
    own = own_pulls(reading)
    least = SPLIT_SHARE * max((abs(v) for _, v in (*shares, *own)), default=0.0)
    named = [(f"by {k}", v) for k, v in shares] + own
    named = [(k, v) for k, v in named if abs(v) >= least]
    if reading.misreading is None:
        return "made up of " + ", ".join(f"{v:.3g} {'K' if (k, v) in own else 'degC'} {k}" for k, v in named)
    if not named:
        return "nothing pulls it from what it should read"
    return "pulled " + ", ".join(f"{brief(abs(v), 0.0, 'K')} {'up' if v > 0 else 'down'} {k}" for k, v in named)


def own_pulls(reading: Reading) -> list[tuple[str, float]]:
    """What a sensor's stem and own watts add, in words and K."""
    along = f"along its {'leads' if reading.leads else 'stem'}"
    return [(k, v) for k, v in ((along, reading.stem), ("by its own heating", reading.self_heating)) if v]


def _spreading(solution: Solution) -> list[RenderableType]:
    if not solution.spreading:
        return []
    table = new_table("Spreading resistance", ["of", "heated at", "mean K/W", "highest K/W"], right=(2, 3))
    whole = dict(zip(solution.network.heat, np.diag(solution.network.values.resistance)))
    for plate, by_heat in solution.spreading.items():
        told = {h: r for h, r in by_heat.items() if abs(r.mean) > UNFELT * whole[h]}
        for heat, r in (told or by_heat).items():
            table.add_row(plate, heat, with_band(r.mean, r.mean_band), with_band(r.max, r.max_band))
    return [table]


def _bridges(solution: Solution) -> list[RenderableType]:
    if not solution.bridges:
        return []
    symbol = "psi W/(m K)" if solution.section.view == "section" else "chi W/K"
    table = new_table("Bridges", ["of", "from, to", symbol, "loss W"], right=(2, 3))
    for name, b in solution.bridges.items():
        table.add_row(name, ", ".join(b.between), with_band(b.value, b.band), with_band(b.watts, b.watts_band))
    per = "metre and kelvin" if solution.section.view == "section" else "kelvin"
    name = symbol.partition(" ")[0]
    return [Group(table, Sentence(f"{name}: what it leaks per {per}, beyond what would pass without it (ISO 10211)"))]


def _surfaces(solution: Solution) -> list[RenderableType]:
    """The lowest and the highest temperature of each part in each environment."""
    found = {q.path: with_band(value, band) for q, value, band in solution.answers if q.family == "surface"}
    if not found:
        return []
    table = new_table("Surfaces", ["of", "in", "lowest degC", "highest degC"], right=(2, 3))
    for part, air in dict.fromkeys(path[1:3] for path in found):
        table.add_row(part, air, *(found["surface", part, air, which] for which in ("lowest", "highest")))
    return [table]


def _slices(solution: Solution) -> list[RenderableType]:
    """Both bounds, where parts are less deep than the drawing, of the numbers that differ."""
    if not solution.slices:
        return []
    table = new_table("If no heat passed along the depth", ["of", "", "as solved", "then"], right=(2, 3))
    for q, value, band in solution.in_slices:
        solved, own = solution.answers.at(q.path)
        if abs(solved - value) > own + band:
            table.add_row(q.words, q.unit, with_band(solved, own), with_band(value, band))
    return [table] if table.rows else []


def _fins(solution: Solution) -> list[RenderableType]:
    found = {q.path: with_band(value, band) for q, value, band in solution.answers if q.family == "fins"}
    if not found:
        return []
    table = new_table("Fins", ["name", "give off W", "efficiency", "effectiveness"], right=(1, 2, 3))
    for name in dict.fromkeys(path[1] for path in found):
        table.add_row(name, *(found["fins", name, which] for which in ("heat", "efficiency", "effectiveness")))
    return [table]


def _moisture(solution: Solution) -> list[RenderableType]:
    """Each air whose humidity is known; how far each surface in it is from sweating, and where some do."""
    airs = [e for e in solution.section.environments if e.moist]
    if not airs:
        return []
    columns = ["of", "humidity %", "dew point degC", "frost point degC", "water g/m3"]
    table = new_table("Moist air", columns, right=(1, 2, 3, 4))
    for e in airs:
        humidity = float(moist.relative_humidity(e.temperature, e.vapour_pressure))
        points = [f"{float(moist.dew_point(e.vapour_pressure)):.2f}"]
        points.append(f"{e.settling_point:.2f}" if e.settling_point < 0 else "-")
        grams = 1e3 * float(moist.vapour_content(e.temperature, e.vapour_pressure))
        table.add_row(e.name, f"{humidity:.3g}", *points, f"{grams:.3g}")
    return [Group(table, Text(), _margins(solution), *map(Sentence, stretches(solution)))]


def _margins(solution: Solution) -> RenderableType:
    found = {q.path: (value, band) for q, value, band in solution.answers if q.path[0] == "surface"}
    factors = any(path[3] == "temperature_factor" for path in found)
    columns = ["of", "in", "margin K", "sweats from %", "temperature factor"]
    table = new_table(
        "Moisture on surfaces; margin: above the dew or frost point", columns[: 4 + factors], right=(2, 3, 4)
    )
    for part, air in (path[1:3] for path in found if path[3] == "margin"):
        margin, humidity = (found["surface", part, air, which] for which in ("margin", "sweats_from"))
        shown = [with_band(*margin), "never" if humidity[0] > 100 else with_band(*humidity)]
        if factors:
            factor = found.get(("surface", part, air, "temperature_factor"))
            shown.append("" if factor is None else with_band(*factor))
        table.add_row(part, air, *shown)
    return table


def _closing(solution: Solution) -> list[RenderableType]:
    b, g = solution.balance, solution.grid
    lines = [
        (
            f"Balance: flows close to {b.imbalance:.1e} of the largest, weights sum to 1 within {b.weight_error:.1e}, "
            f"couplings symmetric to {b.asymmetry:.1e}"
        ),
        f"Grid: {' x '.join(map(str, g.shape))} cells ({', '.join(map(str, g.cells))})"
        + (f", through the thickness {g.through}" if g.through else "")
        + f"; target {100 * g.target:g} %: "
        + (g.note if g.target_met else f"NOT met, {g.note}" + (f"; furthest from it: {g.worst}" if g.worst else "")),
    ]
    sentences: list[RenderableType] = [
        Sentence(line, style="" if g.target_met or k == 0 else "bold") for k, line in enumerate(lines)
    ]
    return sentences + [Sentence(f"Warning: {w}", style="bold") for w in solution.warnings]
