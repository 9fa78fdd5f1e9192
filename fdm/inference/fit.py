"""Adjusts a file's uncertain numbers, and chosen named ones, until it answers what was measured.

Least squares of residuals, each in standard uncertainties: those of the data, measured minus answered, and those of the
numbers that the file gives with an uncertainty, fitted minus nominal. An even distribution counts as a normal one of
the same standard deviation, within its bounds: numbers that the data hardly tell would run to a bound if they were let
go.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from os import PathLike

import numpy as np
from scipy.optimize import least_squares

from fdm.answers.quantity import Array
from fdm.cabinet.checks import ZERO_CELSIUS
from fdm.errors import FailedChecks, InputError, nearest, path_of, require_by_name, texts_of
from fdm.inference.comparison import Comparison, Reanalysis, compared
from fdm.inference.fitted import Fit, Fitted, Residual
from fdm.inference.measured import Measurement, read_measured
from fdm.inference.reanalysis import reanalysis
from fdm.inference.section_reanalysis import AS_IT_STANDS, Let
from fdm.section.model import Uncertain
from fdm.section.uncertain import USUAL

Progress = Callable[[str], None]

STEP = 0.1  # of a number's scale, for slopes: wide enough to drown the solver's noise
FREE = 0.1  # scale of a number without an uncertainty, as a share of its value
WARMEST, NEAR = 200.0, 50.0  # degC, and K from what the file answers: a warmer one that is so near is in kelvin
ROUNDS = 2  # around the file as it stands, then around the fitted numbers, where the file is solved again


def fit(
    path: str | PathLike[str],
    measured: str | PathLike[str],
    names: Sequence[str] | None = None,
    let: Let = AS_IT_STANDS,
    uncertainties: Mapping[str, float] | None = None,
    target: float = 0.005,
    progress: Progress | None = None,
) -> Fit:
    """Fit a section or cabinet file to a measured CSV file (see `fdm.inference.measured`).

    `names` are numbers of [let], places of uncertain numbers, or materials with an uncertain conductivity; left out,
    all uncertain numbers are fitted but those whose uncertainty is only the usual one of its kind: films, joints and
    modules' figures, of which a cabinet has dozens. A number with an uncertainty is drawn to its nominal value by that,
    and stays within its bounds where it has any; a number of [let] without an uncertainty is free. `let` overrides
    named numbers as in `read_section`. `uncertainties` gives the standard uncertainties of a log's columns, by
    quantity. `target` is that of the solves; `progress` is called with a line of text before each step.

    Uncertainties after the fit come from (J' J)^-1 at its end.

    Raises InputError where the files cannot be read, a name or a quantity is not known, or fewer values are measured
    than numbers without an uncertainty are fitted; `fdm.errors.FailedChecks`, an InputError too, where the answers fail
    their own checks.

    >>> found = fit("geometries/light_bar.toml", "geometries/light_bar_log.csv", ["film", "pad"])
    >>> [(f.name, round(f.before, 1), round(f.value, 1)) for f in found.fitted]
    [('let film', 7.0, 6.2), ('pad', 0.2, 0.5)]
    >>> found.explained
    True
    """
    say = progress or (lambda text: None)
    path, measured = path_of(path, "fit", "section or cabinet file"), path_of(measured, "fit", "CSV file")
    names = None if names is None else texts_of(names, "names", "'film'")
    require_by_name("uncertainties", uncertainties or {}, '{"air": 0.3}')
    data = read_measured(measured, uncertainties or {})
    say("solving the file as it stands")
    model = reanalysis(path, let, target)
    _refuse_unsound(model)
    try:
        parameters, comparison = _parameters(model, names), compared(model, data, measured)
        _refuse_too_few(data, parameters)
    except InputError as error:
        raise InputError(f"fit: {error}") from None
    problem = _Problem(model, comparison, tuple(parameters), _count(say))
    nominal = np.zeros(len(parameters))
    before = problem.answered(nominal)
    _refuse_kelvin(comparison, before, measured)
    try:
        problem, x, jacobian = _adjusted(problem, nominal, target, say)
    except FailedChecks:
        raise
    except (InputError, ArithmeticError) as error:
        if "not a whole number" in str(error):
            raise InputError(f"fit: {error}; a count cannot be adjusted by and by, so leave it out") from None
        raise InputError(
            f"fit: the data lead where the file makes no sense: {error}; adjust fewer numbers, or give them bounds "
            "with { between = [low, high] }"
        ) from None
    kept = () if names else tuple(u.place for u in model.inputs if u.table == USUAL)
    return replace(_found(problem, x, jacobian, before, let), kept=kept)


def _refuse_unsound(model: Reanalysis) -> None:
    if model.failed:
        raise FailedChecks(f"fit: {model.path}: {model.failed}")


@dataclass(frozen=True)
class _Parameter:
    """A number that is fitted. Steps of it are counted in its scale, from its nominal value."""

    name: str
    nominal: float
    scale: float
    input: Uncertain | None  # None: a number of [let] without an uncertainty

    @property
    def bounds(self) -> tuple[float, float]:
        """In scales from nominal."""
        if self.input is None or self.input.between is None:
            return -np.inf, np.inf
        low, high = self.input.between
        return (low - self.nominal) / self.scale, (high - self.nominal) / self.scale

    @property
    def uncertain(self) -> bool:
        """Whether the file gives it an uncertainty."""
        return self.input is not None

    @property
    def even(self) -> bool:
        """Whether it is evenly likely between two bounds."""
        return self.input is not None and self.input.between is not None


@dataclass(frozen=True)
class _Problem:
    """Least squares for P parameters; x (P,) are their values in scales from nominal."""

    model: Reanalysis
    comparison: Comparison
    parameters: tuple[_Parameter, ...]
    count: Callable[[], None]  # called at each look at the answers

    @property
    def uncertain(self) -> Array:
        """(P,) whether the file gives each an uncertainty."""
        return np.array([p.uncertain for p in self.parameters])

    @property
    def bounds(self) -> tuple[Array, Array]:
        """(P,) each, the lower and the upper."""
        low, high = np.array([p.bounds for p in self.parameters]).T
        return low, high

    def split(self, x: Array) -> tuple[dict[str, float], dict[str, float | str]]:
        """Moves of uncertain numbers by place, and values of free numbers of [let] by name."""
        steps = [(p, p.scale * float(step)) for p, step in zip(self.parameters, x)]
        return (
            {p.name: step for p, step in steps if p.input is not None},
            {p.name: p.nominal + step for p, step in steps if p.input is None},
        )

    def answered(self, x: Array) -> Array:
        """(M,) what the file answers in the place of each measurement."""
        self.count()
        return self.comparison.answered(self.model, *self.split(x))

    def residuals(self, x: Array) -> Array:
        """(R,) of the data, then of the parameters with an uncertainty."""
        of_data = (self.answered(x) - self.comparison.values) / self.comparison.uncertainties
        return np.concatenate([of_data, x[self.uncertain]])

    def slopes(self, x: Array) -> Array:
        """(R, P) of the residuals, by differences within the bounds."""
        low, high = self.bounds
        columns = []
        for k in range(len(x)):
            below, above = x.copy(), x.copy()
            below[k], above[k] = max(x[k] - STEP, low[k]), min(x[k] + STEP, high[k])
            columns.append((self.residuals(above) - self.residuals(below)) / (above[k] - below[k]))
        return np.array(columns).T


def _count(say: Progress) -> Callable[[], None]:
    """A function that says how often it was called."""
    calls = 0

    def called() -> None:
        nonlocal calls
        calls += 1
        say(f"fitting: {calls} answers looked at")

    return called


def _adjusted(problem: _Problem, x: Array, target: float, say: Progress) -> tuple[_Problem, Array, Array]:
    """The problem around the fitted numbers, these numbers (P,), and the slopes (R, P) of the residuals there."""
    found = None
    for _ in range(ROUNDS):
        if found is not None:
            say("solving the file with the fitted numbers")
            problem = replace(problem, model=problem.model.centred(*problem.split(x), target))
            _refuse_unsound(problem.model)
        found = least_squares(
            problem.residuals, x, jac=problem.slopes, bounds=problem.bounds, xtol=1e-4, ftol=1e-6, gtol=1e-6
        )
        x = found.x
    assert found is not None
    return problem, x, found.jac


def _found(problem: _Problem, x: Array, jacobian: Array, before: Array, let: Let) -> Fit:
    """The result at x (P,), from the slopes there and what the file answered `before` (M,)."""
    parameters, comparison = problem.parameters, problem.comparison
    deviation, correlation = _covariance(jacobian)
    from_bound = np.minimum(*abs(x - np.array(problem.bounds)))
    fitted = tuple(
        Fitted(
            p.name,
            before=p.nominal,
            value=p.nominal + p.scale * float(x[k]),
            uncertainty=p.scale * float(deviation[k]),
            prior=None if p.input is None else p.scale,
            at_bound=bool(from_bound[k] < 1e-3),
            even=p.even,
        )
        for k, p in enumerate(parameters)
    )
    moved, changed = problem.split(x)
    after = comparison.answered(problem.model, moved, changed)
    rows = zip(comparison.data, comparison.quantities, before, after)
    residuals = tuple(Residual(m, q, float(b), float(a)) for m, q, b, a in rows)
    chi_square = sum(r.scaled**2 for r in residuals) + float((x[problem.uncertain] ** 2).sum())
    freedom = len(comparison.data) + int(problem.uncertain.sum()) - len(parameters)
    path = problem.model.path
    warnings = problem.model.warnings
    return Fit(path, fitted, residuals, correlation, chi_square, freedom, moved, {**let, **changed}, warnings)


def _parameters(model: Reanalysis, names: Sequence[str] | None) -> list[_Parameter]:
    """The numbers to fit. Raises InputError for a name that is unknown, and where no number is uncertain."""
    inputs = {u.place: u for u in model.inputs}
    if not names:
        names = [u.place for u in model.inputs if u.table != USUAL]
        if not names:
            raise InputError(
                "no number of the file has an uncertainty of its own; name numbers of [let], or films, joints and "
                "modules' figures by their places, to adjust"
            )
    out: dict[str, _Parameter] = {}
    for name in names:
        places = [p for p in (name, f"let {name}", f"material {name!r}, conductivity") if p in inputs]
        if places:
            u = inputs[places[0]]
            out[u.place] = _Parameter(u.place, u.nominal, u.uncertainty, u)
        elif name in model.named:
            value = model.named[name]
            out[name] = _Parameter(name, value, FREE * abs(value) or 1.0, None)
        else:
            known = nearest(name, [*model.named, *inputs])
            raise InputError(f"{name!r} is neither a number of [let] nor one with an uncertainty; {known}")
    return list(out.values())


def _refuse_too_few(data: Sequence[Measurement], parameters: Sequence[_Parameter]) -> None:
    free = sum(not p.uncertain for p in parameters)
    if len(data) < free:
        raise InputError(
            f"{len(data)} measured values cannot tell {free} numbers without an uncertainty; measure more, or "
            "adjust fewer"
        )


def _refuse_kelvin(comparison: Comparison, before: Array, path: str) -> None:
    """Raise InputError where a temperature is so much above what the file answers that it is likely in kelvin."""
    for m, q, answered in zip(comparison.data, comparison.quantities, before.tolist()):
        celsius = m.value - ZERO_CELSIUS
        if q.unit == "degC" and m.value > WARMEST and abs(celsius - answered) < NEAR:
            raise InputError(
                f"fit: {path}: {m.quantity}: {m.value:g} degC is measured where the file answers {answered:.3g}; "
                f"temperatures are in degC, so if this is kelvin, give {celsius:.5g}"
            )


def _covariance(jacobian: Array) -> tuple[Array, Array]:
    """(P,) standard deviations in scales, and (P, P) correlations, from J (R, P); a deviation is infinite where the
    data tell nothing about the number."""
    information = jacobian.T @ jacobian
    size = np.sqrt(np.maximum(np.diag(information), 1e-300))
    value, vector = np.linalg.eigh(information / np.outer(size, size))
    unknown = value <= 1e-10 * value[-1]  # directions of which the data tell nothing; all, where they tell of none
    spread = vector[:, ~unknown] / np.sqrt(value[~unknown])
    covariance = spread @ spread.T
    deviation = np.sqrt(np.diag(covariance))
    correlation = covariance / np.maximum(np.outer(deviation, deviation), 1e-300)
    deviation = deviation / size
    deviation[(abs(vector[:, unknown]) > 1e-3).any(1) | (size < 1e-12)] = np.inf
    return deviation, correlation
