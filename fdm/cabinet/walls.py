"""Walls of layers, over faces of the box or of a given area."""

from dataclasses import dataclass, replace
from itertools import accumulate, pairwise

import numpy as np

from fdm.cabinet.checks import require_known, require_positive
from fdm.errors import InputError, require_visible
from fdm.section.by_temperature import Spans
from fdm.section.model import Material

FACES = ("left", "right", "front", "back", "bottom", "top")
LAYER_ROUNDS = 5  # in which layers and their temperatures agree far below all else: each is a hundredth of the last


@dataclass(frozen=True)
class Layer:
    """One layer of a wall."""

    material: Material
    thickness: float  # m


@dataclass(frozen=True)
class Wall:
    """Layers from inside out over some faces of the box, or over a given area (m2); films W/(m2 K)."""

    name: str
    layers: tuple[Layer, ...]
    film_inside: float
    film_outside: float
    faces: tuple[str, ...] = ()
    area: float | None = None

    def __post_init__(self) -> None:
        where = f"wall {self.name!r}"
        require_visible(where, self.name)
        if not self.layers:
            raise InputError(f"{where}, layers: missing; give at least one layer of material and thickness")
        for layer in self.layers:
            require_positive(f"{where}, layer of {layer.material.name!r}, thickness", layer.thickness)
        require_positive(f"{where}, film_inside", self.film_inside)
        require_positive(f"{where}, film_outside", self.film_outside)
        if bool(self.faces) == (self.area is not None):
            raise InputError(f"{where}: give exactly one of faces and area")
        for face in self.faces:
            require_known(f"{where}, faces", face, FACES, "face")
        if self.area is not None:
            require_positive(f"{where}, area", self.area)

    def between(self, inside: float, outside: float) -> "Wall":
        """The same wall, whose layers have the mean of the conductivity over their temperatures between two faces
        (degC)."""
        layers = self.layers
        if all(x.material.by_temperature is None for x in layers):
            return self
        for _ in range(LAYER_ROUNDS):
            resistances = [x.thickness / x.material.conductivity[0] for x in layers]
            ends = list(accumulate(resistances, initial=0.0))
            middles = [inside + (outside - inside) * (a + b) / 2 / ends[-1] for a, b in pairwise(ends)]
            halves = [(outside - inside) * (b - a) / 2 / ends[-1] for a, b in pairwise(ends)]
            spans = [Spans(*np.array([[middle], [half], [1.0]])) for middle, half in zip(middles, halves)]
            layers = tuple(replace(x, material=x.material.at(at)) for x, at in zip(layers, spans))
        return replace(self, layers=layers)
