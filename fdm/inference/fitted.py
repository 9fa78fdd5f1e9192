"""What a fit has found: the adjusted numbers, and how well they explain what was measured."""

from collections.abc import Mapping
from dataclasses import dataclass

from scipy.stats import chi2

from fdm.answers.quantity import Array, Quantity
from fdm.inference.measured import Measurement
from fdm.inference.section_reanalysis import Let

UNMOVED = 0.9  # a number counts as told by the data where these leave less than this share of its uncertainty
TORN = 3.0  # of its own uncertainties: data that move a number further contradict it (common practice, no source)
DOUBTFUL = 0.05  # probability of a larger chi-square below which the residuals are not explained


@dataclass(frozen=True)
class Fitted:
    """A number before and after the fit, in the file's unit."""

    name: str  # a place, or the name of a number of [let]
    before: float
    value: float
    uncertainty: float  # standard; infinite where nothing at all is known
    prior: float | None  # standard uncertainty that the file gives; None: none
    at_bound: bool
    even: bool = False  # the file gives bounds, within which it stays

    @property
    def moved(self) -> float:
        """How far the data moved it, in standard uncertainties of the file; 0 where the file gives none."""
        return 0.0 if self.prior is None else (self.value - self.before) / self.prior

    @property
    def told(self) -> bool:
        """Whether the data tell anything about it: they narrow its uncertainty, or move it by more than that."""
        known = max(abs(self.before), abs(self.value)) if self.prior is None else self.prior
        return self.uncertainty < UNMOVED * known or (abs(self.moved) > 1 and not self.even)

    @property
    def torn(self) -> bool:
        """Whether the data contradict the file: they move the number by more than 3 of its uncertainties."""
        return abs(self.moved) > TORN


@dataclass(frozen=True)
class Residual:
    """A measurement, and what the file answers in its place before and after the fit."""

    measurement: Measurement
    quantity: Quantity
    before: float
    after: float

    @property
    def scaled(self) -> float:
        """Measured minus answered value, in standard uncertainties of the measurement."""
        return (self.measurement.value - self.after) / self.measurement.uncertainty


@dataclass(frozen=True)
class Fit:
    """Fitted numbers, and how well they explain what was measured.

    `chi_square` is the sum of squared residuals, each in standard uncertainties: those of the data, and those of the
    numbers that have an uncertainty. `freedom` is the number of residuals less the number of fitted numbers.
    `moved` and `let` reproduce the fitted file: `read_section(path, fit.moved, **fit.let)`, or `read_cabinet`. `kept`
    are the places of films, joints and modules' figures that are not fitted, where no names were given: the file does
    not say how uncertain they are.
    """

    path: str
    fitted: tuple[Fitted, ...]
    residuals: tuple[Residual, ...]
    correlation: Array  # (P, P) between the fitted numbers
    chi_square: float
    freedom: int
    moved: Mapping[str, float]
    let: Let
    warnings: tuple[str, ...] = ()  # of the file, solved with the fitted numbers
    kept: tuple[str, ...] = ()

    @property
    def reduced(self) -> float | None:
        """chi-square over its degrees of freedom, about 1 where all is explained; None without degrees of freedom."""
        return self.chi_square / self.freedom if self.freedom > 0 else None

    @property
    def explained(self) -> bool | None:
        """Whether residuals as large as these happen by chance in more than 5 % of cases, and no number is `torn`; None
        without degrees of freedom."""
        if self.freedom <= 0:
            return None
        return bool(chi2.sf(self.chi_square, self.freedom) > DOUBTFUL) and not any(f.torn for f in self.fitted)

    @property
    def worst(self) -> Residual:
        """The largest residual, in uncertainties."""
        return max(self.residuals, key=lambda r: abs(r.scaled))
