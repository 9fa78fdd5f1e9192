"""Conductivities that follow the temperature of their part, as frozen coefficients.

That of a part is its mean over the part's temperatures, weighed by the square of the heat flux q, as is the effect of a
conductivity:

    dQ dT = integral of dk (q / k)^2 over the volume        Q the heat that passes between two faces at dT

So it is right where the heat passes, to first order in its changes. Between two faces of whatever shape, each at one
temperature, every temperature between theirs is passed by the same heat Q, and this mean is

    integral of k(T) dT from one face to the other / dT

which gives the exact heat flow, whatever k(T) is (Kirchhoff's transformation: H.S. Carslaw, J.C. Jaeger, Conduction of
Heat in Solids, 2nd ed. 1959, section 1.6; from memory). Of a line it is the conductivity of the mean temperature.

Temperatures are off by how much they depart from those of that transformation, all but for a constant:

    T - integral of k(T) dT / mean conductivity

of a line in the middle of a plane layer by a quarter of (largest departure of the conductivity from its mean, relative)
x (warmest less coldest place). If that differs from place to place on a face, the heat is off as well, by the order of
its square over the square of (warmest less coldest place).
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdm.answers.grid import SolvedGrid
from fdm.answers.quantity import Array
from fdm.conduction.arrays import Bools, Integers
from fdm.conduction.fields import LayeredField
from fdm.conduction.inputs import inputs_of
from fdm.section.by_temperature import Pairs, Spans
from fdm.section.depths import mixture
from fdm.section.model import CLOSED_AIR, Fins, Material, Part, Section

STEPS = 101  # of temperatures between the lowest and the highest of a part
EVEN = 1e-3  # relative: with the variance of an even spread, all temperatures of a part are passed by the same heat
FELT = 1e-3  # share of a resistance: beside edges that cut cells, parts beyond have less
AT_MOST = 2.0  # of 165 sections beside nonlinear finite elements, the heat of 3 was off by up to 1.7 times the estimate
MUCH = 0.25  # of the temperatures of a part: with less beyond its pairs, their mean is hardly off


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
        return f"{low:g} to {high:g} degC, {mean:g} in the mean" if low < high else f"{mean:g} degC"

    def value(self, section: Section) -> float:
        material = _owner(section, self.number).material
        assert material is not None
        return material.conductivity[0]

    def wanted(self, grid: SolvedGrid) -> tuple[Array, float]:
        spans = self.spans(grid)
        if not len(spans.weight):
            return np.full(3, np.nan), math.nan
        return _mean_and_ends(spans), _at(grid.system.section, self.number, spans)[0].conductivity[0]

    def spans(self, grid: SolvedGrid) -> Spans:
        """Its temperatures, weighed by volume and by the square of the heat flux; none where it stands nowhere.

        Of the difference along each conductance between two cells, the part has the share that it has in its
        resistance, from its own cell on; and of the heat that passes, times that difference, what a change of its
        conductivity changes. All is exact where heat goes along one axis, also about an axis.
        """
        section, tangent = grid.system.section, grid.system.tangent
        row = tangent.change[[(i.kind, i.name) for i in inputs_of(section)].index(self.input)]
        row.sum_duplicates()  # between two cells of the part
        links, change = row.indices, row.data
        t = np.concatenate([section.fixed_temperatures, section.watts]) @ tangent.units(grid.units)
        begin, end = (t[nodes[links]] for nodes in tangent.link)
        whole = (tangent.by_link @ np.ones(tangent.change.shape[0]))[links]
        share = np.clip(np.divide(change, whole, out=np.zeros_like(change), where=whole != 0), 0, 1)
        first, second = (self._has(grid, nodes[links]) for nodes in tangent.link)
        middle = np.select([first & ~second, second & ~first], [share / 2, 1 - share / 2], 0.5)
        felt = first | second | (share > FELT)
        weight = (change * (end - begin) ** 2)[felt]
        if not weight.sum() > 0:  # all at one temperature
            weight = np.ones_like(weight)
        return Spans((begin + (end - begin) * middle)[felt], ((end - begin) * share / 2)[felt], weight)

    def _has(self, grid: SolvedGrid, nodes: Integers) -> Bools:
        """Which nodes, cells and others after them, are cells of the part."""
        field = grid.field
        owner = (field.layer_part if isinstance(field, LayeredField) else field.part).ravel()
        own: Bools = owner[np.minimum(nodes, len(owner) - 1)] == self.number
        return own & (nodes < len(owner))

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


def _mean_and_ends(spans: Spans) -> Array:
    """(3,) the mean temperature, weighed by volume and by the square of the heat flux; the lowest and the highest."""
    return np.array([spans.mean, (spans.middle - abs(spans.half)).min(), (spans.middle + abs(spans.half)).max()])


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


def _filler(section: Section, part: Part, material: Material | None, temperature: float | Spans) -> Material | None:
    if material is None or material.name != CLOSED_AIR.name:
        return material and material.at(temperature)
    while part.piece is not None:
        part = section.part_named[part.piece.beneath]
    return part.material


def spread_within(grid: SolvedGrid, own: PartConductivity) -> tuple[float, float, float, float]:
    """The least and the largest conductivity of a part on a solved grid, W/(m K); and how far one value for all of it
    may leave temperatures off, in it and beside it, K, and the heat that passes it, as a share: both at most."""
    from scipy.integrate import cumulative_trapezoid  # a twelfth of the time that the program takes to start

    section, spans = grid.system.section, own.spans(grid)
    mean, low, high = _mean_and_ends(spans).tolist()
    t = np.linspace(low, high, STEPS)
    k = np.array([_at(section, own.number, v)[0].conductivity[0] for v in t.tolist()])
    transformed = cumulative_trapezoid(k, t, initial=0.0) / own.value(section)
    kelvin = float(np.ptp(t - transformed))
    variance = np.average((spans.middle - mean) ** 2 + spans.half**2 / 3, weights=spans.weight)
    even = abs(12 * variance - (high - low) ** 2) <= EVEN * (high - low) ** 2
    return float(k.min()), float(k.max()), kelvin, 0.0 if even else AT_MOST * (kelvin / (high - low)) ** 2


def doubtful_conductivities(section: Section, found: Iterable[tuple[PartConductivity, Array]]) -> Iterator[str]:
    """A sentence on each part that is colder or warmer than its material's pairs reach, in its mean or in much of it,
    with its temperatures (3,)."""
    for own, temperatures in found:
        owner, (mean, coldest, warmest) = _owner(section, own.number), temperatures.tolist()
        materials = [owner.material] if isinstance(owner, Fins) else [m for _, m in owner.layers]
        for m in materials:
            curve = None if m is None else m.by_temperature
            if m is None or not isinstance(curve, Pairs):
                continue
            low, high = curve.temperature[0], curve.temperature[-1]
            beyond = max(low - coldest, 0.0) + max(warmest - high, 0.0)
            if not low <= mean <= high or beyond > MUCH * (warmest - coldest):
                yield (
                    f"material {m.name!r}, conductivity: its pairs reach from {low:g} to {high:g} degC, and {own.of!r} "
                    f"is at {own.where(temperatures.tolist())}; beyond them that of the nearest pair is taken"
                )
