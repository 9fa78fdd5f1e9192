"""Air in closed gaps, as frozen coefficients: a solid in its place, by the temperatures of what it lies between."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from scipy.ndimage import find_objects, label

from fdm.answers.grid import SolvedGrid
from fdm.answers.quantity import Array
from fdm.grid.lines import first_lines
from fdm.grid.raster import Raster, middles, raster_of
from fdm.section.by_temperature import AirGap
from fdm.section.model import UNITS, Bounds, Part, Section
from fdm.surroundings.cavities import DOWN, LEVEL, UP, Cavities
from fdm.surroundings.film import COLDEST, HOTTEST

NOTHING = 1e-6  # K: with less from face to face, heat is taken to go through the thinner side
RECTANGULAR = 0.5  # share of its bounds from which on a gap counts as a rectangle; a disc has 0.79
UNLIKE = 5.0  # times that a thickness which is given may differ from the sides that are drawn
FELT = 0.05  # relative: a direction of heat that changes a gap by less need not be told
AXES = {"left": 0, "right": 0, "bottom": 1, "top": 1}


@dataclass(frozen=True)
class Cavity:
    """What of a gap hangs together: its `bounds`, and the sides along x and y of a rectangle with the same area and the
    same proportions, m (ISO 10077-2). `filled` is the share of its bounds that it has."""

    bounds: Bounds
    sides: tuple[float, float]
    filled: float


@dataclass(frozen=True)
class ClosedGap:
    """The air in a part, which may lie in several cavities: the conductivity is their mean by area."""

    part: str
    cavities: tuple[Cavity, ...] = field(compare=False)
    unit = "W/(m K)"

    @property
    def places(self) -> tuple[str, ...]:
        """Words for the temperatures."""
        numbers = [""] if len(self.cavities) == 1 else [f" {k}" for k in range(1, len(self.cavities) + 1)]
        return tuple(f"{side} face{number}" for number in numbers for side in ("left", "right", "lower", "upper"))

    @property
    def input(self) -> tuple[str, str]:
        return "part", self.part

    @property
    def path(self) -> tuple[str, ...]:
        return "conductivity", self.part

    def where(self, temperatures: Sequence[float]) -> str:
        faces = np.array(temperatures).reshape(-1, 2, 2)
        if len(faces) > 1:
            return f"{faces.mean():.3g} degC in the mean of {len(faces)} cavities"
        one, other = max(faces[0].tolist(), key=lambda pair: abs(pair[0] - pair[1]))
        return f"faces of {one:.3g} and {other:.3g} degC"

    @property
    def name(self) -> str:
        return f"air in {self.part}"

    def value(self, section: Section) -> float:
        material = section.part_named[self.part].material
        assert material is not None
        return material.conductivity[0]

    def wanted(self, grid: SolvedGrid) -> tuple[Array, float]:
        temperatures = self._temperatures(grid)
        if np.isnan(temperatures).any():
            return temperatures, math.nan
        section = grid.system.section
        gap = _gap(section.part_named[self.part])
        areas = np.array([x * y for x, y in (c.sides for c in self.cavities)])
        k = self.cavities_at(section, temperatures).conductivity(gap.emissivity)
        return temperatures, gap.times * float((areas * k).sum() / areas.sum())

    def _temperatures(self, grid: SolvedGrid) -> Array:
        """(4 K,) of the left, right, lower and upper face of each of the K cavities, in the mean."""
        section, there = grid.system.section, grid.field
        own = (there.part == [p.name for p in section.parts].index(self.part)) & there.solid
        area, k = np.diff(there.x)[:, None] * np.diff(there.y), self.value(section)
        faces = []
        for cavity in self.cavities:
            at = _cells(cavity.bounds, there.x, there.y)
            weight = np.where(own[at], area[at], 0.0)
            if not weight.sum() > 0:
                return np.full(4 * len(self.cavities), np.nan)
            weight = weight / weight.sum()
            mean = float((weight * np.where(own[at], there.temperature[at], 0.0)).sum())
            for axis, side in enumerate(cavity.sides):
                flux = there.flux[at][..., axis]
                falls = float((weight * abs(flux)).sum()) / k * side / 2
                falls = -falls if (weight * flux).sum() < 0 else falls
                faces += [mean + falls, mean - falls]
        return np.array(faces)

    def put(self, section: Section, value: float, temperatures: Array) -> Section:
        own = section.part_named[self.part]
        assert own.material is not None
        material = replace(own.material, conductivity=(value, value))
        parts = [replace(p, material=material) if p is own else p for p in section.parts]
        return replace(section, parts=tuple(parts))

    def cavities_at(self, section: Section, temperatures: Array) -> Cavities:
        """The cavities between faces of these temperatures (4 K,), degC."""
        gap = _gap(section.part_named[self.part])
        faces = np.asarray(temperatures).reshape(-1, 2, 2)
        sides, bounds = (np.array([getattr(c, key) for c in self.cavities]) for key in ("sides", "bounds"))
        gradient = (faces[..., 1] - faces[..., 0]) / sides
        steepest = np.where(abs(gradient * sides).max(1) > NOTHING, abs(gradient).argmax(1), sides.argmin(1))
        axis = steepest if gap.along is None else np.full(len(sides), "xy".index(gap.along))
        each = np.arange(len(sides))
        thickness, width = sides[each, axis], sides[each, 1 - axis]
        if section.view == "axisymmetric":  # as wide as its diameter where it lies about the axis
            width = np.where((axis == 1) & (bounds[:, 0] <= 0), 2 * width, width)
        if gap.thickness is not None:
            width = sides.prod(1) / gap.thickness
            thickness = np.full(len(sides), gap.thickness)
        slope = gradient[each, axis]
        heat = np.full(len(sides), LEVEL)
        if section.down in AXES:
            to_higher = (slope < 0) == (section.down in ("left", "bottom"))
            heat = np.where((axis == AXES[section.down]) & (slope != 0), np.where(to_higher, UP, DOWN), LEVEL)
        return Cavities(thickness, width, np.clip(faces.mean((1, 2)), COLDEST, HOTTEST), abs(slope) * thickness, heat)


def closed_gaps(section: Section) -> list[ClosedGap]:
    """Those of a section; gaps that are wholly covered are left out."""
    if all(p.gap is None for p in section.parts):
        return []
    x, y, *_ = first_lines(section)
    raster = raster_of(section, x, y)
    found = [(p.name, _cavities(raster, k)) for k, p in enumerate(section.parts) if p.gap is not None]
    return [ClosedGap(name, cavities) for name, cavities in found if cavities]


def _gap(part: Part) -> AirGap:
    assert part.gap is not None
    return part.gap


def _cavities(raster: Raster, number: int) -> tuple[Cavity, ...]:
    """What of a part hangs together."""
    numbers, _ = label(raster.owner[1:-1, 1:-1] == number)
    found = []
    for k, (i, j) in enumerate(find_objects(numbers), 1):
        x, y = raster.x[i.start : i.stop + 1], raster.y[j.start : j.stop + 1]
        area = float(((numbers[i, j] == k) * np.diff(x)[:, None] * np.diff(y)).sum())
        bounds = float(x[0]), float(x[-1]), float(y[0]), float(y[-1])
        dx, dy = bounds[1] - bounds[0], bounds[3] - bounds[2]
        shrunk = (area / (dx * dy)) ** 0.5
        found.append(Cavity(bounds, (dx * shrunk, dy * shrunk), shrunk**2))
    return tuple(found)


def _cells(bounds: Bounds, x: Array, y: Array) -> tuple[slice, slice]:
    """The cells of lines x, y (m) whose middles lie within bounds."""
    (a, b), (c, d) = (
        np.searchsorted(middles(lines), ends).tolist() for lines, ends in ((x, bounds[:2]), (y, bounds[2:]))
    )
    return slice(a, b), slice(c, d)


def doubtful_gaps(section: Section, found: Iterable[tuple[ClosedGap, Array]]) -> Iterator[str]:
    """A sentence on each gap whose relation may not be meant for it, with the temperatures (4 K,) it was found at."""
    for own, temperatures in found:
        gap, where = _gap(section.part_named[own.part]), f"part {own.part!r}, gap"
        least = min(c.filled for c in own.cavities)
        if gap.thickness is None and least < RECTANGULAR:
            yield (
                f"{where}: it fills {100 * least:.2g} % of its height and width, and is taken for a rectangle of the "
                "same area and proportions; draw it as several rectangles, or give its thickness"
            )
        drawn = [side for c in own.cavities for side in c.sides]
        if gap.thickness is not None and not min(drawn) / UNLIKE <= gap.thickness <= UNLIKE * max(drawn):
            u = UNITS[section.unit]
            yield (
                f"{where}, thickness: {gap.thickness / u:g} {section.unit} is far from what is drawn, "
                f"{min(drawn) / u:.3g} x {max(drawn) / u:.3g} {section.unit}; give it in {section.unit}, or leave it "
                "out"
            )
        at = own.cavities_at(section, temperatures)
        yield from (f"{where}: {note}" for note in at.notes())
        if section.down is None:
            ways = [replace(at, heat=np.full(at.heat.shape, way)) for way in (LEVEL, UP, DOWN)]
            level, up, down = (float(way.conductivity(gap.emissivity).mean()) for way in ways)
            if max(up / level - 1, 1 - down / level) > FELT:
                yield (
                    f"{where}: which way is down is not said, so heat is taken to go level through it; if it goes up, "
                    f"the gap conducts {_percent(up / level)}, if down {_percent(down / level)}; give down = "
                    '"bottom", "top", "left" or "right" at the top of the file, or "depth" where all is level'
                )


def _percent(ratio: float) -> str:
    if abs(ratio - 1) < FELT / 10:
        return "as much"
    return f"{100 * abs(ratio - 1):.2g} % {'more' if ratio > 1 else 'less'}"
