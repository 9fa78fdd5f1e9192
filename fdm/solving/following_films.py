"""Films that follow the mean temperature of the surfaces that they lie on, as frozen coefficients."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdm.answers.grid import SolvedGrid
from fdm.answers.quantity import Array
from fdm.errors import InputError
from fdm.section.model import Environment, Section
from fdm.surroundings.film import Film


@dataclass(frozen=True)
class EnvironmentFilm:
    """The film of an environment."""

    environment: str
    unit = "W/(m2 K)"
    places = ("surface",)

    @property
    def name(self) -> str:
        return f"film of {self.environment}"

    @property
    def input(self) -> tuple[str, str]:
        return "film", self.environment

    @property
    def path(self) -> tuple[str, ...]:
        return "films", self.environment, "film"

    def where(self, temperatures: Sequence[float]) -> str:
        return f"a surface of {temperatures[0]:.3g} degC"

    def value(self, section: Section) -> float:
        return self._in(section).film

    def wanted(self, grid: SolvedGrid) -> tuple[Array, float]:
        """At the mean temperature (1,) of all solid surfaces in the environment, by area. Where some are warmer than
        the air and some colder, it is as far from the air as they are on average: air moves along all of them."""
        section, surfaces = grid.system.section, grid.answers.surfaces
        assert surfaces is not None
        places = surfaces.places
        on = places.terminal == section.fixed_names.index(self.environment)
        if not places.area[on].sum() > 0:
            return np.array([np.nan]), math.nan
        own = self._in(section)
        above = surfaces.rows[on] @ np.concatenate([section.fixed_temperatures, section.watts]) - own.temperature
        share = places.area[on] / places.area[on].sum()
        surface = np.array([own.temperature + math.copysign(float(abs(above) @ share), float(above @ share))])
        return surface, self._found(own, surface).film

    def put(self, section: Section, value: float, temperatures: Array) -> Section:
        own = self._in(section)
        new = replace(own, film=value, film_from=replace(self._found(own, temperatures), film=value))
        return replace(section, environments=tuple(new if e is own else e for e in section.environments))

    def _found(self, own: Environment, temperatures: Array) -> Film:
        assert own.follows is not None
        try:
            return own.follows.film(own.temperature, float(temperatures[0]))
        except InputError as error:
            raise InputError(f"environment {own.name!r}, film, {error}") from None

    def _in(self, section: Section) -> Environment:
        return next(e for e in section.environments if e.name == self.environment)


def following_films(section: Section) -> list[EnvironmentFilm]:
    """Those of a section."""
    return [EnvironmentFilm(e.name) for e in section.environments if e.follows is not None]
