"""Conductivities that follow the temperature of their part, as frozen coefficients.

The temperature of a part is its mean, weighed by the square of the heat flux q, as is the effect of a conductivity:

    dQ dT = integral of dk (q / k)^2 over the volume        Q the heat that passes between two faces at dT

So the mean conductivity is right where the heat passes, to first order in its changes. Between two faces of whatever
shape, each at one temperature, this mean lies midway between both: for a conductivity that goes straight with the
temperature it gives the exact heat flow, in a plane layer as in a tube (Kirchhoff). Temperatures within the part are
off, as it conducts better where it is warmer: in the middle of a plane layer by a quarter of

    (largest departure of the conductivity from its mean, relative) x (warmest less coldest place of the part)
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdm.answers.grid import SolvedGrid
from fdm.answers.quantity import Array
from fdm.conduction.arrays import Integers
from fdm.conduction.fields import LayeredField
from fdm.section.by_temperature import Pairs, Spans
from fdm.section.depths import mixture
from fdm.section.model import CLOSED_AIR, Fins, Material, Part, Section

STEPS = 101  # of temperatures between the lowest and the highest of a part


@dataclass(frozen=True)
class PartConductivity:
    """The conductivity of a part, or of the metal of fins, by its number: parts, then fins."""

    number: int
    of: str
    unit = "W/(m K)"
    places = ("mean", "coldest place", "warmest place")

    @property
    def name(self) -> str:
        return f"conductivity of {self.of}"

    @property
    def input(self) -> tuple[str, str]:
        return "part", self.of

    @property
    def path(self) -> tuple[str, ...]:
        return "conductivity", self.of

    def where(self, temperatures: Sequence[float]) -> str:
        mean, low, high = (float(f"{t:.3g}") for t in temperatures)
        return f"{mean:g} degC" + (f", the mean of {low:g} to {high:g}" if low < high else "")

    def value(self, section: Section) -> float:
        material = _owner(section, self.number).material
        assert material is not None
        return material.conductivity[0]

    def temperatures(self, grid: SolvedGrid) -> Array:
        """(3,) the mean, weighed by volume and by the square of the heat flux; the lowest and the highest."""
        if not grid.system.part_volumes(self.number)[1].sum() > 0:
            return np.full(3, np.nan)
        spans, ends = self._spans(grid)
        return np.array([spans.mean, ends.min(), ends.max()])

    def _spans(self, grid: SolvedGrid) -> tuple[Spans, Array]:
        """Its temperatures, weighed by volume and by the square of the heat flux; and temperatures with the lowest and
        the highest among them."""
        field, (cells, volume) = grid.field, grid.system.part_volumes(self.number)
        if isinstance(field, LayeredField):
            spans, ends = _in_layers(field, cells, volume)
        else:
            spans, ends = _in_plane(grid, cells)
        if not spans.weight.sum() > 0:  # all at one temperature
            spans = replace(spans, weight=np.ones_like(spans.middle))
        return spans, ends

    def wanted(self, grid: SolvedGrid, temperatures: Array) -> float:
        return _at(grid.system.section, self.number, self._spans(grid)[0])[0].conductivity[0]

    def put(self, section: Section, value: float, temperatures: Array) -> Section:
        owner = _owner(section, self.number)
        material, filling = _at(section, self.number, float(temperatures[0]))
        kx, ky = material.conductivity
        material = replace(material, conductivity=(value, value * (ky / kx)))
        if isinstance(owner, Fins):
            fins = [replace(f, material=material) if f is owner else f for f in section.fins]
            return replace(section, fins=tuple(fins))
        piece = owner.piece and replace(owner.piece, filling=filling)
        parts = [replace(p, material=material, piece=piece) if p is owner else p for p in section.parts]
        return replace(section, parts=tuple(parts))


def _in_plane(grid: SolvedGrid, cells: Integers) -> tuple[Spans, Array]:
    """Temperatures (degC) in the half cells beside each side, from the cell's middle to that side; and those of the
    sides.

    The heat that passes half a cell, times the difference along it, is the conductivity times the square of its
    gradient, summed up over its volume. All is exact where heat goes along one axis, also about an axis. Where edges
    cut cells, what does not leave one through its sides goes to the surface in it: that is one more side.
    """
    field = grid.field
    middle = field.temperature.ravel()[cells, None]
    sides, flow = (v.reshape(-1, 4)[cells] for v in (field.side_temperature, field.side_flow))
    left = (flow[:, 0] - flow[:, 1] + flow[:, 2] - flow[:, 3]) * field.near_cut.ravel()[cells]
    sides, flow = np.column_stack([sides, _at_surfaces(grid)[cells]]), np.column_stack([flow, left])
    sides = np.where(np.isfinite(sides), sides, middle)
    return Spans((sides + middle) / 2, (sides - middle) / 2, abs(flow * (sides - middle))), sides


def _at_surfaces(grid: SolvedGrid) -> Array:
    """(n * m,) mean temperature of the surfaces in each cell, degC; NaN where there is none."""
    section, surfaces, cells = grid.system.section, grid.answers.surfaces, grid.field.temperature.size
    if surfaces is None:
        return np.full(cells, np.nan)
    there = surfaces.rows @ np.concatenate([section.fixed_temperatures, section.watts])
    cell, area = surfaces.places.cell, surfaces.places.area
    whole = np.bincount(cell, area, cells)
    total = np.bincount(cell, area * there, cells)
    return np.asarray(np.divide(total, whole, out=np.full(cells, np.nan), where=whole > 0))


def _in_layers(field: LayeredField, cells: Integers, volume: Array) -> tuple[Spans, Array]:
    """Temperatures (degC) in the cells of a plate in layers, each from half a cell's drop below its middle to as much
    above; and those of the middles. Drops along several axes count as one of the same variance."""
    there, flux = field.layer_temperature.ravel()[cells], field.layer_flux.reshape(-1, 3)[cells]
    sizes = np.broadcast_arrays(np.diff(field.x)[:, None], np.diff(field.y), np.diff(field.height, axis=0))
    size = np.stack([v.ravel()[cells] for v in sizes], -1)
    k = field.layer_conductivity.reshape(-1, 3)[cells]
    drop = np.divide(flux * size, k, out=np.zeros_like(k), where=k > 0)  # from one fin to the next nothing passes
    return Spans(there, np.sqrt((drop**2).sum(-1)) / 2, volume * (flux**2).sum(-1)), there


def part_conductivities(section: Section) -> list[PartConductivity]:
    """Those of a section."""
    owners: list[Part | Fins] = [*section.parts, *section.fins]
    return [
        PartConductivity(k, owner.name)
        for k, owner in enumerate(owners)
        if owner.follows and (isinstance(owner, Fins) or owner.gap is None)
    ]


def _owner(section: Section, number: int) -> Part | Fins:
    parts = section.parts
    return parts[number] if number < len(parts) else section.fins[number - len(parts)]


Filling = tuple[tuple[float, Material | None], ...]


def _at(section: Section, number: int, temperature: float | Spans) -> tuple[Material, Filling]:
    """The material of a part at a temperature (degC) or over spans of them, and what fills the drawing's depth there:
    air in a closed gap as it is in the part that it belongs to."""
    owner = _owner(section, number)
    if isinstance(owner, Fins) or owner.piece is None:
        assert owner.material is not None
        material = owner.material.at(temperature)
        return material, ((1.0, material),)
    filling = tuple((share, _filler(section, owner, m, temperature)) for share, m in owner.layers)
    only = filling[0][1]
    return mixture(filling) if len(filling) > 1 or only is None else only, filling


def _filler(
    section: Section, part: Part, material: Material | None, temperature: float | Spans
) -> Material | None:
    if material is None or material.name != CLOSED_AIR.name:
        return material and material.at(temperature)
    while part.piece is not None:
        part = section.part_named[part.piece.beneath]
    return part.material


def spread_within(section: Section, own: PartConductivity, temperatures: Array) -> tuple[float, float, float, float]:
    """The least and the largest conductivity of a part between its lowest and highest temperature, W/(m K); and how far
    one value for all of it may leave its temperatures off, K, and the heat that passes it, as a share: its conductivity
    is no straight line, and differs in the mean from that of the mean temperature."""
    _, low, high = temperatures.tolist()
    k = [_at(section, own.number, t)[0].conductivity[0] for t in np.linspace(low, high, STEPS).tolist()]
    ends = k[0], k[-1]
    departure = max(abs(v / own.value(section) - 1) for v in ends)
    mean = (sum(k) - sum(ends) / 2) / (STEPS - 1)
    return min(ends), max(ends), departure * (high - low) / 4, abs(mean / k[STEPS // 2] - 1)


def doubtful_conductivities(section: Section, found: Iterable[tuple[PartConductivity, Array]]) -> Iterator[str]:
    """A sentence on each part that is colder or warmer than its material's pairs reach, with its temperatures (3,)."""
    for own, temperatures in found:
        owner, there = _owner(section, own.number), float(temperatures[0])
        materials = [owner.material] if isinstance(owner, Fins) else [m for _, m in owner.layers]
        for m in materials:
            curve = None if m is None else m.by_temperature
            if m is not None and isinstance(curve, Pairs) and not curve.covers(there):
                low, high = curve.temperature[0], curve.temperature[-1]
                yield (
                    f"material {m.name!r}, conductivity: its pairs reach from {low:g} to {high:g} degC, and "
                    f"{own.of!r} is at {there:.3g} degC; that of the nearest pair is taken"
                )
