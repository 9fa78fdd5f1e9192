"""Results of fits as tables, and in words."""

import numpy as np
from rich.console import Console, Group, RenderableType
from rich.text import Text

from fdm.answers.rounding import with_band
from fdm.answers.units import duration
from fdm.inference.fitted import Fit, Fitted, Residual
from fdm.output.tables.console_table import new_table
from fdm.output.tables.sentences import Sentence

MOST_KEPT = 3  # named of the numbers that a fit leaves as they are
ALIKE = 0.9  # correlation from which two fitted numbers can hardly be told apart


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
        degrees = "1 degree" if found.freedom == 1 else f"{found.freedom} degrees"
        chi = f"chi-square {found.chi_square:.3g} with {degrees} of freedom, {each} each"
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
