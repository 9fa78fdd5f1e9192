"""Adjusts a file's uncertain numbers, and chosen named ones, until it answers what was measured.

Least squares on residuals in standard uncertainties, those of the data (`fdm.inference.measured`) and, for numbers that
the file gives with a normal uncertainty, those of the numbers themselves.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from os import PathLike, fspath

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import chi2

from fdm.answers.quantity import Array, Path, Quantity, find
from fdm.cabinet.circuit import COLD, HOT, ROOM, Circuit
from fdm.cabinet.supply import module_current, supply_power
from fdm.cabinet.transient import always_on
from fdm.errors import InputError, nearest
from fdm.inference.cabinet_reanalysis import CabinetReanalysis
from fdm.inference.measured import Measurement, read_measured
from fdm.inference.reanalysis import reanalysis
from fdm.inference.section_reanalysis import AS_IT_STANDS, Let, SectionReanalysis
from fdm.section.model import Uncertain

Reanalysis = SectionReanalysis | CabinetReanalysis
Progress = Callable[[str], None]

STEP = 0.1  # of a number's scale, for slopes: wide enough to drown the solver's noise
FREE = 0.1  # of a number without an uncertainty of its own: its scale
UNMOVED = 0.9  # of the uncertainty before: what is left where the data say nothing
TORN = 3.0  # of its own uncertainties: data that move a number further contradict it (common practice, no source)
DOUBTFUL = 0.05  # probability of a larger chi-square below which the residuals are not explained
ROUNDS = 2  # about the file as it stands, then about the fitted numbers, solved well


@dataclass(frozen=True)
class Fitted:
    """A number before and after the fit, in the file's unit."""

    name: str  # a place, or the name of a number of [let]
    before: float
    value: float
    uncertainty: float  # standard; infinite where nothing at all is known
    prior: float | None  # standard uncertainty that the file gives; None: none
    at_bound: bool
    even: bool = False  # the file gives bounds, within which it moves freely

    @property
    def moved(self) -> float:
        """How far the data moved it, in standard uncertainties that the file gives; 0 where it gives none."""
        return 0.0 if self.prior is None else (self.value - self.before) / self.prior

    @property
    def told(self) -> bool:
        """Whether the data say anything about it: they narrow it, or move it beyond the uncertainty holding it."""
        known = max(abs(self.before), abs(self.value)) if self.prior is None else self.prior
        return self.uncertainty < UNMOVED * known or (abs(self.moved) > 1 and not self.even)

    @property
    def torn(self) -> bool:
        """Whether the data contradict what the file states of it: they move it by more than 3 of its uncertainties."""
        return abs(self.moved) > TORN


@dataclass(frozen=True)
class Residual:
    """A measurement and what the file answers there, before and after the fit."""

    measurement: Measurement
    quantity: Quantity
    before: float
    after: float

    @property
    def scaled(self) -> float:
        """Measured minus answered, in uncertainties of the measurement."""
        return (self.measurement.value - self.after) / self.measurement.uncertainty


@dataclass(frozen=True)
class Fit:
    """Fitted numbers, and how well they explain what was measured.

    `chi_square` is the sum of squared residuals, of the data and of numbers with a normal uncertainty, each in
    uncertainties; `freedom` how many of them more there are than fitted numbers. `moved` and `let` give the fitted
    file: `read_section(path, fit.moved, **fit.let)`, or `read_cabinet`.
    """

    path: str
    fitted: tuple[Fitted, ...]
    residuals: tuple[Residual, ...]
    correlation: Array  # (P, P) of the fitted numbers
    chi_square: float
    freedom: int
    moved: Mapping[str, float]
    let: Let

    @property
    def reduced(self) -> float | None:
        """chi-square over its degrees of freedom, about 1 where all is explained; None without any."""
        return self.chi_square / self.freedom if self.freedom > 0 else None

    @property
    def explained(self) -> bool | None:
        """Whether residuals as large as these happen by chance in more than 5 % of cases, with no number torn from what
        the file states of it; None where none are left."""
        if self.freedom <= 0:
            return None
        return bool(chi2.sf(self.chi_square, self.freedom) > DOUBTFUL) and not any(f.torn for f in self.fitted)

    @property
    def worst(self) -> Residual:
        return max(self.residuals, key=lambda r: abs(r.scaled))


@dataclass(frozen=True)
class _Parameter:
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
    def normal(self) -> bool:
        return self.input is not None and self.input.between is None


def fit(
    path: str | PathLike[str],
    measured: str | PathLike[str],
    names: Sequence[str] | None = None,
    let: Let = AS_IT_STANDS,
    uncertainties: Mapping[str, float] | None = None,
    target: float = 0.005,
    progress: Progress | None = None,
) -> Fit:
    """Fit a section or cabinet file to a measured CSV file.

    `names` are numbers of [let], places of uncertain numbers, or materials with an uncertain conductivity; all
    uncertain numbers if left out. Those with an uncertainty are held near their nominal values by it, within their
    bounds where they have any; a [let] without one is free. `let` overrides as for `read_section`; `uncertainties`
    gives those of a log's columns by quantity. Uncertainties after the fit come from (J' J)^-1 at its end, an even
    distribution counting there as a normal one of the same standard deviation.

    Raises InputError where the files cannot be read, a name or a quantity is not known, or fewer numbers are measured
    than are fitted without an uncertainty of their own.
    """
    say = progress or (lambda text: None)
    data = read_measured(measured, uncertainties or {})
    say("solving the file as it stands")
    model = reanalysis(path, let, target)
    try:
        parameters = _parameters(model, names)
        log = data[0].time is not None
        if log and not isinstance(model, CabinetReanalysis):
            raise InputError(f"{fspath(measured)}: a section has no time; give rows of quantity,value,uncertainty")
        of = _measured_quantities(model, data, fspath(measured))
        free = sum(not p.normal for p in parameters)
        if len(data) < free:
            raise InputError(
                f"{len(data)} measured values cannot tell {free} numbers without a normal uncertainty; "
                "measure more, or adjust fewer"
            )
    except InputError as error:
        raise InputError(f"fit: {error}") from None

    value, scale = (np.array([getattr(m, key) for m in data]) for key in ("value", "uncertainty"))
    normal = np.array([p.normal for p in parameters])
    low, high = np.array([p.bounds for p in parameters]).T
    count = 0

    def answered(x: Array) -> Array:
        nonlocal count
        count += 1
        say(f"fitting: {count} answers looked at")
        return _answered(model, data, of, *_split(parameters, x))

    def residuals(x: Array) -> Array:
        return np.concatenate([(answered(x) - value) / scale, x[normal]])

    def slopes(x: Array) -> Array:
        columns = []
        for k in range(len(x)):
            below, above = x.copy(), x.copy()
            below[k], above[k] = max(x[k] - STEP, low[k]), min(x[k] + STEP, high[k])
            columns.append((residuals(above) - residuals(below)) / (above[k] - below[k]))
        return np.array(columns).T

    x = np.zeros(len(parameters))
    before = answered(x)
    try:
        for k in range(ROUNDS):
            found = least_squares(residuals, x, jac=slopes, bounds=(low, high), xtol=1e-4, ftol=1e-6, gtol=1e-6)
            x = found.x
            if k < ROUNDS - 1:
                say("solving the file with the fitted numbers")
                model = model.centred(*_split(parameters, x), target)
    except (InputError, ArithmeticError) as error:
        raise InputError(
            f"fit: the data lead where the file makes no sense: {error}; adjust fewer numbers, or give them bounds "
            "with { between = [low, high] }"
        ) from None
    deviation, correlation = _covariance(found.jac, parameters)
    fitted = tuple(
        Fitted(
            p.name,
            p.nominal,
            p.nominal + p.scale * float(x[k]),
            p.scale * float(deviation[k]),
            None if p.input is None else p.scale,
            bool(min(x[k] - low[k], high[k] - x[k]) < 1e-3),
            p.input is not None and not p.normal,
        )
        for k, p in enumerate(parameters)
    )
    after = _answered(model, data, of, *_split(parameters, x))
    rows = tuple(Residual(m, q, float(b), float(a)) for m, q, b, a in zip(data, of, before, after))
    chi_square = sum(r.scaled**2 for r in rows) + float((x[normal] ** 2).sum())
    moved, changed = _split(parameters, x)
    freedom = len(data) + int(normal.sum()) - len(parameters)
    return Fit(model.path, fitted, rows, correlation, chi_square, freedom, moved, {**let, **changed})


def _parameters(model: Reanalysis, names: Sequence[str] | None) -> list[_Parameter]:
    inputs = {u.place: u for u in model.inputs}
    if not names:
        if not inputs:
            raise InputError("no number of the file has an uncertainty; name numbers of [let] to adjust")
        names = list(inputs)
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


def _split(parameters: Sequence[_Parameter], x: Array) -> tuple[dict[str, float], dict[str, float | str]]:
    """Moves by place, and values of [let] by name, at x (P,) in scales from nominal."""
    pairs = [(p, p.scale * float(step)) for p, step in zip(parameters, x)]
    return (
        {p.name: step for p, step in pairs if p.input is not None},
        {p.name: p.nominal + step for p, step in pairs if p.input is None},
    )


def _measured_quantities(model: Reanalysis, data: Sequence[Measurement], path: str) -> list[Quantity]:
    """(M,) what each measurement is one of. Raises InputError, with the nearest path, for what the file does not
    answer."""
    if data[0].time is None:
        answers = model.measurable
        known = [q for q, value, _ in answers if math.isfinite(value)]
    else:
        assert isinstance(model, CabinetReanalysis)
        in_log = _curves(model.circuit({}), np.zeros(1))
        known = [q for q, _, _ in model.measurable if q.path in in_log]
    try:
        found = {name: find(name, known, "quantity") for name in dict.fromkeys(m.quantity for m in data)}
    except InputError as error:
        raise InputError(f"{path}: {error}") from None
    return [found[m.quantity] for m in data]


def _answered(
    model: Reanalysis, data: Sequence[Measurement], of: Sequence[Quantity], moved: Mapping[str, float], let: Let
) -> Array:
    """(M,) what the file answers for each measurement."""
    if data[0].time is None:
        place = model.measurable.place
        return model.measured(moved, let)[[place[q.path] for q in of]]
    assert isinstance(model, CabinetReanalysis)
    times, back = np.unique([m.time for m in data], return_inverse=True)
    curves = _curves(model.circuit(moved, let), times)
    return np.array([curves[q.path][k] for q, k in zip(of, back)])


def _curves(c: Circuit, times: Array) -> dict[Path, Array]:
    """(K,) of every quantity that a log may have, by its path."""
    supply, module = c.cabinet.bank.supply, c.cabinet.bank.module
    t = always_on(c, times)
    cold, hot = t[:, c.number(COLD)], t[:, c.number(HOT)]
    current = module_current(module, supply, cold, hot)
    found = {("temperature", node.name): column for node, column in zip(c.nodes, t.T) if node.kind != ROOM} | {
        ("thermostat_reading",): t @ c.sensing,
        ("current",): current,
        ("supply_current",): current * supply.parallel,
        ("power",): supply_power(module, supply, cold, hot),
    }
    return {("operating_point", *path): column for path, column in found.items()}


def _covariance(jacobian: Array, parameters: Sequence[_Parameter]) -> tuple[Array, Array]:
    """(P,) standard deviations in scales, and (P, P) correlations, from J (M, P); infinite where the data leave a
    number wholly open."""
    even = [p.input is not None and not p.normal for p in parameters]
    information = jacobian.T @ jacobian + np.diag(np.array(even, float))
    size = np.sqrt(np.maximum(np.diag(information), 1e-300))
    value, vector = np.linalg.eigh(information / np.outer(size, size))
    open_ = value <= 1e-10 * value[-1]  # all of them, where the data tell of none
    spread = vector[:, ~open_] / np.sqrt(value[~open_])
    covariance = spread @ spread.T
    deviation = np.sqrt(np.diag(covariance))
    correlation = covariance / np.maximum(np.outer(deviation, deviation), 1e-300)
    deviation = deviation / size
    deviation[(abs(vector[:, open_]) > 1e-3).any(1) | (size < 1e-12)] = np.inf
    return deviation, correlation
