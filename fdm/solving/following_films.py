"""Films that follow the mean temperature of the surfaces that they lie on, as frozen coefficients."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdm.answers.grid import SolvedGrid
from fdm.answers.quantity import Array
from fdm.section.model import Environment, Section


@dataclass(frozen=True)
class FollowingFilm:
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

    def temperatures(self, grid: SolvedGrid) -> Array:
        """(1,) the mean of all solid surfaces in the environment, by area."""
        section, surfaces = grid.system.section, grid.answers.surfaces
        assert surfaces is not None
        places = surfaces.places
        on = places.terminal == section.fixed_names.index(self.environment)
        if not places.area[on].sum() > 0:
            return np.array([np.nan])
        there = surfaces.rows[on] @ np.concatenate([section.fixed_temperatures, section.watts])
        return np.array([there @ places.area[on] / places.area[on].sum()])

    def wanted(self, section: Section, temperatures: Array) -> float:
        own = self._in(section)
        assert own.follows is not None
        return own.follows.film(own.temperature, float(temperatures[0])).film

    def put(self, section: Section, value: float, temperatures: Array) -> Section:
        own = self._in(section)
        assert own.follows is not None
        told = replace(own.follows.film(own.temperature, float(temperatures[0])), film=value)
        new = replace(own, film=value, film_from=told)
        return replace(section, environments=tuple(new if e is own else e for e in section.environments))

    def _in(self, section: Section) -> Environment:
        return next(e for e in section.environments if e.name == self.environment)


def following_films(section: Section) -> list[FollowingFilm]:
    """Those of a section."""
    return [FollowingFilm(e.name) for e in section.environments if e.follows is not None]
