"""Temperatures and heat flows at any place of a solved section, each with its band."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdm.answers.grid import KELVIN
from fdm.answers.quantity import Array
from fdm.conduction.fields import Field, LayeredField
from fdm.conduction.places import heat_through, temperatures_at
from fdm.errors import InputError
from fdm.grid.raster import middles
from fdm.section.model import UNITS, Section

Extrapolated = Callable[[Sequence[Array], float], tuple[Array, Array]]


@dataclass(frozen=True)
class SolvedField(Field):
    """Temperatures and heat flows anywhere in a solved section: `at` and `heat_through`, their bands by `band_at` and
    `band_through`, and `table`.

    Lengths here are in the file's unit (`unit`), temperatures in degC, heat in W: for the whole depth in the section
    view, for the full turn about an axis, through the thickness in the plate view. The arrays of the finest grid, in
    metres, are those of `fdm.conduction.fields.Field`.

    >>> import fdm
    >>> field = fdm.solve("geometries/bolt.toml").field
    >>> field.unit, round(field.at(0, 30), 1)  # halfway up the foam, on the bolt's axis
    ('mm', 18.3)
    >>> round(field.heat_through([(0, 30), (40, 30)]), 2)  # W, down through bolt and foam, into the cabinet
    0.21
    """

    section: Section = field(repr=False)
    coarser: Callable[[], tuple[Field, ...]] = field(repr=False)  # the fields of the two coarser grids
    extrapolated: Extrapolated = field(repr=False)  # values on three grids, and their size, to values and bands

    @property
    def unit(self) -> str:
        """The unit of length of `at`, `heat_through` and `table`: mm, cm or m, as in the file."""
        return self.section.unit

    @cached_property
    def on_grids(self) -> tuple[Field, ...]:
        """The fields of the three grids, coarse to fine; the last one is this."""
        return (*self.coarser(), self)

    def at(self, x: ArrayLike, y: ArrayLike) -> Any:
        """degC at points x, y, in the file's unit: numbers, or arrays of one shape, or such as broadcast together.

        Each value is as a sensor would read it there, taken from three grids. On a surface it is the solid's; on a
        joint the mean of both sides; within an environment, its temperature; NaN in voids and where nothing is drawn.
        A single pair of numbers gives a float, else an array. Raises InputError for what is no number.
        """
        return self._temperatures(x, y)[0]

    def band_at(self, x: ArrayLike, y: ArrayLike) -> Any:
        """K by which `at` may be off, as far as the grids go; infinite where they cannot tell."""
        return self._temperatures(x, y)[1]

    def _temperatures(self, x: ArrayLike, y: ArrayLike) -> tuple[Any, Any]:
        px, py, shape = places_in_metres(x, y, self.unit)
        out = self.with_band([temperatures_at(self.section, f, px, py) for f in self.on_grids], KELVIN)
        return shaped(out[0], shape), shaped(out[1], shape)

    def heat_through(self, line: ArrayLike) -> float:
        """W that cross a line from its left to its right, on the way from its first point to its last.

        `line` is two points or more, each (x, y) in the file's unit, joined by straight lines at any slant. Where it
        ends in its first point again and runs counter-clockwise, this is the heat that leaves what it encloses: to
        rounding, the watts of the sources in there, less what environments in there take. A source that lies on the
        line itself counts as on its right; on the outer edge of the drawing, as beyond it. Environments and what lies
        beyond the drawing carry no heat: it ends at their surfaces.

        Raises InputError where that is no line.
        """
        return self._heat(line)[0]

    def band_through(self, line: ArrayLike) -> float:
        """W by which `heat_through` may be off, as far as the grids go."""
        return self._heat(line)[1]

    def _heat(self, line: ArrayLike) -> tuple[float, float]:
        points = _numbers("line", line)
        if points.ndim != 2 or len(points) < 2 or points.shape[1] != 2 or not np.isfinite(points).all():
            raise InputError("line: give two points or more, each with its x and y, such as [(0, 4), (120, 4)]")
        points = points * UNITS[self.unit]
        heat = [np.array([heat_through(self.section, f, points)]) for f in self.on_grids]
        value, band = self.with_band(heat, abs(float(heat[-1][0])))
        return float(value[0]), float(band[0])

    def table(self) -> dict[str, NDArray[Any]]:
        """The solid cells of the finest grid as columns of equal length, for `pandas.DataFrame` or for plotting: `x`
        and `y` of their middles in the file's unit, their temperature `T` in degC, and the name of their `part`."""
        i, j = np.nonzero(self.solid)
        size, names = UNITS[self.unit], np.array([p.name for p in self.section.parts])
        return {
            "x": middles(self.x)[i] / size,
            "y": middles(self.y)[j] / size,
            "T": self.temperature[i, j],
            "part": names[self.part[i, j]],
        }

    def with_band(self, on_grids: Sequence[Array], size: float) -> tuple[Array, Array]:
        """Values and bands (K,) of what is read on each of the three grids, (K,) each; `size` is what a target is
        relative to. Where a coarser grid has no value, it is the finest grid's, and its band is infinite."""
        value, band = self.extrapolated(on_grids, size)
        lacking = np.isnan(value) & np.isfinite(on_grids[-1])
        return np.where(lacking, on_grids[-1], value), np.where(lacking, np.inf, band)

    def __repr__(self) -> str:
        n, m = self.solid.shape
        low, high = np.nanmin(self.temperature), np.nanmax(self.temperature)
        return (
            f"Field of {self.section.title!r}: {n} x {m} cells, {low:.4g} to {high:.4g} degC; "
            f"at(x, y), heat_through(line), table() in {self.unit}"
        )


@dataclass(frozen=True, repr=False)
class SolvedLayers(SolvedField, LayeredField):
    """The same of a plate in layers, whose front `at` and `table` read."""

    def _heat(self, line: ArrayLike) -> tuple[float, float]:
        raise InputError(
            "heat_through: heat passes a line on a plate in all of its layers and in its fins, which are not added up; "
            "read what fins and surroundings receive instead"
        )


def places_in_metres(x: ArrayLike, y: ArrayLike, unit: str) -> tuple[Array, Array, tuple[int, ...]]:
    """(K,) each, m, of numbers or arrays in a unit of length, and the shape that they have together. Raises InputError
    for what is no number, and for shapes that do not broadcast together."""
    places = [_numbers(name, given) for name, given in (("x", x), ("y", y))]
    try:
        px, py = np.broadcast_arrays(*places)
    except ValueError:
        raise InputError(f"at: x has the shape {places[0].shape} and y {places[1].shape}; give both the same") from None
    return px.ravel() * UNITS[unit], py.ravel() * UNITS[unit], px.shape


def shaped(values: Array, shape: tuple[int, ...]) -> Any:
    """Values (K,) in the shape of their places; of a single pair of numbers, a float."""
    return values.reshape(shape) if shape else float(values[0])


def _numbers(name: str, given: ArrayLike) -> Array:
    try:
        numbers = np.asarray(given)
        if numbers.dtype.kind in "biuf" or (numbers.dtype.kind == "O" and all(x is not None for x in numbers.flat)):
            return np.asarray(numbers, float)
    except (TypeError, ValueError):  # neither numbers, nor rows of one length
        pass
    raise InputError(f"{name}: {given!r} is no number, and no list of numbers")
