"""The answers of a section in a dozen sentences: how hot, what plates cost, what leaks, what sensors misread."""

import math
from collections.abc import Iterator

import numpy as np
from rich.console import Console
from rich.text import Text

from fdm.answers.rounding import brief, film_in_words, rough
from fdm.inference.budget import Budgets
from fdm.output.breakdown import full_name, percent
from fdm.output.tables.budget import share_words
from fdm.output.tables.moisture import moisture_sentences
from fdm.output.tables.section import UNFELT, one_value_sentences, split_in_words
from fdm.output.tables.sentences import print_sentences
from fdm.solving.frozen import FrozenValue
from fdm.solving.solution import LAYERS, ONE, Solution

MOST = 3  # of a kind: heat sources, plates, bridges, sensors
SHARES = 3  # named of each resistance
UNFELT_KELVIN = 1e-4  # a misreading that is none
MORE = 0.1  # of the input that is to be tried: a tenth more


def print_summary(found: Budgets, console: Console) -> None:
    """The summary, and where all the numbers are."""
    solution = found.solution
    section = solution.section
    about = {
        "section": f"section, {section.depth:g} m deep", "axisymmetric": "about its axis", "plate": "seen face on"
    }  # fmt: skip
    through = {LAYERS: ", resolved through its thickness", ONE: ", one temperature through its thickness", "": ""}
    layers = through[solution.grid.through]
    console.print(Text.assemble((section.title, "bold"), f" ({about[section.view]}{layers})"))
    films = ((e.name, e.film_from) for e in section.environments)
    found_at = {f.coefficient.name: at for f, at in _found_at(solution)}
    shown = [
        f"film of {name}: {film_in_words(film)}{found_at.pop(f'film of {name}', '')}; {film.relation}"
        for name, film in films
        if film is not None
    ]
    shown += [
        f"{f.coefficient.name}: {f.value:.3g} {f.coefficient.unit}{at}"
        for f, at in _found_at(solution)
        if f.coefficient.name in found_at
    ] + one_value_sentences(solution)
    of_solution = (_plates, _fins, _losses, _bridges, moisture_sentences, _sensors)
    for lines in (_heat(found), *(tell(solution) for tell in of_solution)):
        of_kind = list(lines)
        shown += of_kind[:MOST]
        if len(of_kind) > MOST:
            shown.append(f"({len(of_kind) - MOST} more like the last: --tables)")
    print_sentences([*shown, *_try(found), _accuracy(solution)], console)


def _found_at(solution: Solution) -> Iterator[tuple[FrozenValue, str]]:
    """Each number that follows the temperature, and in words at which temperatures it was found."""
    if solution.frozen is not None:
        for f in solution.frozen.values:
            yield f, f" at {f.where}, found in {solution.frozen.in_rounds}"


def _heat(found: Budgets) -> Iterator[str]:
    """How warm each heated place is, and the largest shares in what it takes; of many the furthest off first."""
    solution = found.solution
    resistance, band = solution.network.values.resistance, solution.network.band.resistance
    rises = abs(solution.section.watts * resistance.diagonal())
    order = np.argsort(-rises, kind="stable").tolist() if len(rises) > MOST else range(len(rises))
    for k in order:
        heat, watts = solution.network.heat[k], solution.section.watts[k]
        temperature = brief(*solution.answers.at(("terminals", heat, "temperature")), "degC")
        shares = share_words(found.resistance[heat], SHARES)
        yield (
            f"{heat}: {temperature} with {brief(watts, 0.0, 'W')}; {brief(resistance[k, k], band[k, k], 'K/W')} to the "
            f"surroundings, of which {shares}"
        )


def _plates(solution: Solution) -> Iterator[str]:
    """What each plate costs because it does not carry the heat to all its fins."""
    watts = dict(zip(solution.network.heat, solution.section.watts))
    whole = {h: solution.network.values.resistance[k, k] for k, h in enumerate(solution.network.heat)}
    for plate, by_heat in solution.spreading.items():
        for heat, r in by_heat.items():
            if abs(r.mean) > UNFELT * whole[heat]:
                yield (
                    f"{plate} costs {brief(r.mean, r.mean_band, 'K/W')} by spreading the heat of {heat}: "
                    f"{rough(abs(r.mean * watts[heat]))} K, {percent(r.mean / whole[heat])} of what it takes"
                )


def _fins(solution: Solution) -> Iterator[str]:
    """What each group of fins gives off, and how well."""
    for f in solution.section.fins:
        heat, share = (solution.answers.at(("fins", f.name, which)) for which in ("heat", "efficiency"))
        if math.isfinite(share[0]):
            given, share_of_all = brief(*heat, "W"), percent(share[0])
            yield f"{f.name} give {given} to {f.environment}, {share_of_all} of what they would as warm as their roots"


def _losses(solution: Solution) -> Iterator[str]:
    """The largest heat from one given temperature to another; not where each bridge is asked for."""
    if solution.bridges:
        return
    n, t = solution.network, solution.section.fixed_temperatures
    if not solution.section.watts.any() and np.ptp(t) == 0:
        yield (
            f"no heat flows: all given temperatures are {t[0]:g} degC, and no source gives heat; give a [[source]], or "
            "a second environment"
        )
    pairs = [(a, b) for a in range(len(t)) for b in range(len(t)) if t[a] > t[b]]
    for a, b in sorted(pairs, key=lambda p: -n.values.coupling[p] * (t[p[0]] - t[p[1]]))[:1]:
        coupling, watts = n.values.coupling[a, b], n.values.coupling[a, b] * (t[a] - t[b])
        yield (
            f"from {n.fixed[a]} to {n.fixed[b]} leak {watts:.3g} W: {brief(coupling, n.band.coupling[a, b], 'W/K')} "
            f"times {t[a] - t[b]:.3g} K"
        )


def _bridges(solution: Solution) -> Iterator[str]:
    per = "metre and kelvin" if solution.section.view == "section" else "kelvin"
    for name, b in solution.bridges.items():
        more = b.value >= 0
        warm, cold = b.between if (b.watts >= 0) == more else b.between[::-1]
        least = ""
        if solution.slices:
            sliced, band = solution.in_slices.at(("bridge", name, "watts"))
            least = f"; {brief(abs(sliced), band, 'W')} if no heat passed along the depth"
        watts = f"{brief(abs(b.watts), b.watts_band, 'W')} {'more' if more else 'less'}"
        of_each = f"per {per} {brief(b.value, b.band, 'W')} ({b.symbol})"
        yield f"{name}: with it {watts} pass from {warm} to {cold} than without: {of_each}{least}"


def _sensors(solution: Solution) -> Iterator[str]:
    for name, r in solution.sensors.items():
        reads = f"{name} reads {brief(r.reading, r.band, 'degC')}"
        if r.misreading is None or r.should_read is None:
            yield reads
            continue
        if abs(r.misreading) < UNFELT_KELVIN:
            yield f"{reads}, as it should"
            continue
        side = "too warm" if r.misreading > 0 else "too cold"
        yield (
            f"{reads} where {brief(r.should_read, 0.0, 'degC')} are asked for, "
            f"{brief(abs(r.misreading), r.misreading_band or 0.0, 'K')} {side}: {split_in_words(r)}"
        )


def _try(found: Budgets) -> Iterator[str]:
    """What a tenth more of the largest share's film or part would do, to the place that is furthest from its air."""
    solution = found.solution
    rises = abs(solution.section.watts * solution.network.values.resistance.diagonal())
    if not len(rises) or not rises.max() > 0:
        return
    k = int(rises.argmax())
    heat = solution.network.heat[k]
    share = found.resistance[heat][0]  # the largest
    kelvin = MORE / (1 + MORE) * share.share * rises[k]
    what = {"film": "film", "joint": "conductance"}.get(share.kind, "conductivity")
    warmer = "cooler" if solution.section.watts[k] > 0 else "warmer"
    yield f"To try: {full_name(share)} matters most to {heat}; a tenth more {what} makes it {rough(kelvin)} K {warmer}"


def _accuracy(solution: Solution) -> str:
    grid = solution.grid
    target = f"the target of {100 * grid.target:g} % is {'met' if grid.target_met else 'NOT met: ' + grid.note}"
    far = f"; furthest from it: {grid.worst}" if grid.worst and not grid.target_met else ""
    return f"What the grid leaves open is in the last digit or after ±; {target}{far}. All numbers: --tables"
