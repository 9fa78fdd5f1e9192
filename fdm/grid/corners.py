"""Corners of the drawing at which the temperature is singular, and how strongly, known before any solve; what the
exponents mean is in `fdm.grid.exponents`."""

import math
from collections.abc import Collection
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fdm.grid.edges import parts_at
from fdm.grid.exponents import FREE, HELD, REGULAR, Sector, point_exponent
from fdm.grid.rays import Directions, directions, reach
from fdm.section.model import SIDES, Rectangle, Section

Array = NDArray[np.float64]
Integers = NDArray[np.intp]

SLOW = 0.45  # exponents below this make errors that fall more slowly than three grids can tell
SCALE = 1e-3  # of the drawing's size: over less than that, a point does not matter that films or joints bypass


@dataclass(frozen=True)
class Wedge:
    """What lies between two directions from a point. `owner` is the name of a part or of an environment beyond the
    border, or "" where nothing is drawn. `kind`: "solid"; "fixed" or "adiabatic", as the solids beside it feel it."""

    start: float  # rad, from the x axis towards the y axis
    end: float  # rad, above `start`
    owner: str
    kind: str


@dataclass(frozen=True)
class Corner:
    """A point at which gradients are infinite. `heated`: a heated segment ends there, and r log r is as singular as the
    exponent, or more so."""

    place: tuple[float, float]  # m
    exponent: float
    wedges: tuple[Wedge, ...]
    reach: float  # m, to the nearest edge that does not pass through it
    heated: bool = False

    @property
    def solids(self) -> tuple[str, ...]:
        """Names of the solid parts around it, each once."""
        return tuple(dict.fromkeys(w.owner for w in self.wedges if w.kind == "solid"))


def corners(
    section: Section, cell: float = 0.0, without: Collection[str] = (), below: float = REGULAR
) -> tuple[Corner, ...]:
    """The points of a drawing with exponents below `below`, and ends of heated segments if that is REGULAR; by place,
    and without some parts by name.

    `cell` (m) is the scale that matters; 0 is the limit towards the point, where films and joints leave the surfaces
    beside them free. A film that lets more heat through than the solid beside it over a length `cell` holds its
    surface; a joint that lets more through than the least of the solids around the point counts as none.

    About an axis, points off it are as in the plane; those on it are left out.
    """
    return _found(section, directions(section), cell, without, below)


def slow_corners(section: Section) -> tuple[Corner, ...]:
    """Corners of the drawing, or of the drawing without a bridge's parts, at which the error falls too slowly to be
    told from three grids: exponents below SLOW both in the limit and, with films and joints, at SCALE of the drawing.
    Where a film or a joint lets heat past the point, what is singular within a thousandth of the drawing hardly counts.
    """
    if _is_a_rectangle(section):
        return ()
    around = directions(section)
    found: dict[tuple[float, float], Corner] = {}
    for without in ((), *(bridge.remove for bridge in section.bridges)):
        if wide := _found(section, around, SCALE * section.size, without, SLOW):
            places = {corner.place for corner in _found(section, around, 0.0, without, SLOW)}
            found |= {corner.place: corner for corner in wide if corner.place in places}
    return tuple(found.values())


def _is_a_rectangle(section: Section) -> bool:
    """Whether one rectangle is all that is drawn: its corners have exponents of 1 and more."""
    shapes = [s for p in section.parts for s in p.shapes]
    return len(shapes) == 1 and isinstance(shapes[0], Rectangle) and all(s.segment is None for s in section.sources)


def _found(section: Section, d: Directions, cell: float, without: Collection[str], below: float) -> tuple[Corner, ...]:
    """The corners, as `corners` gives them."""
    rays, first, count = d.rays, d.first, d.count
    owner = _owners(section, d.inside, without)
    bent = np.logical_or.reduceat((owner != owner[d.before]) | rays.held | rays.heated, first)
    conductivity, longer = _conductivities(section, cell)
    heated = np.repeat(np.logical_or.reduceat(rays.heated, first), count)
    joint = _joint_resistances(section)[owner[d.before], owner]
    angle, stretch = _stretched(rays.angle, d.end, longer[owner])
    numbers = np.column_stack([conductivity[owner], angle, stretch, rays.held, joint, heated])
    rounded = np.round(numbers, 9) + 0.0
    names = [*(p.name for p in section.parts), *(getattr(section.border, side) or "" for side in SIDES), ""]
    known: dict[bytes, tuple[float, bool]] = {}
    found = []
    for k, n in zip(first[bent].tolist(), count[bent].tolist()):
        rows = slice(k, k + n)
        key = rounded[rows].tobytes()
        if key not in known:  # most points of a drawing are alike
            known[key] = point_exponent([Sector(*row) for row in numbers[rows].tolist()], cell, below)
        exponent, log = known[key]
        if exponent < below or log:
            x, y = point = d.points[rays.point[k]]
            wedges = _wedges(rays.angle[rows], d.end[rows], [names[o] for o in owner[rows]], numbers[rows])
            found.append(Corner((float(x), float(y)), exponent, wedges, reach(d.edges, point), log))
    return tuple(sorted(found, key=lambda c: c.place))


def _owners(section: Section, place: Array, without: Collection[str]) -> Integers:
    """(K,) numbers of the parts at places (K, 2), m; beyond them the borders in the order of SIDES, then nothing."""
    x, y = place.T
    x0, x1, y0, y1 = section.extent
    parts = len(section.parts)
    beside, above = (y > y0) & (y < y1), (x > x0) & (x < x1)
    owner = np.full(len(place), parts + len(SIDES), np.intp)
    for k, there in enumerate((beside & (x < x0), beside & (x > x1), above & (y < y0), above & (y > y1))):
        owner[there] = parts + k
    part = parts_at(section, x, y, without)
    return np.where(part < 0, owner, part)


def _conductivities(section: Section, cell: float) -> tuple[Array, Array]:
    """(P + 5,) of each owner the conductivity, W/(m K), or what stands for it where it is not solid: HELD, FREE, or
    below 0 the film times `cell`; and (P + 5,) how much longer y gets where stretching makes it alike in x and y."""
    film = {e.name: HELD if math.isinf(e.film) else -e.film * cell for e in section.environments}
    held = {s.part for s in section.held_sources}
    thickest = max(part.thickness or 1.0 for part in section.parts)
    conductivity, longer = [], []
    for part in section.parts:
        k, ratio = film.get(part.environment or "", FREE), 1.0
        if part.name in held:
            k = HELD
        elif part.material is not None:
            kx, ky = part.material.conductivity
            k, ratio = math.sqrt(kx * ky) * (part.thickness or 1.0) / thickest, math.sqrt(kx / ky)
        conductivity.append(k)
        longer.append(ratio)
    borders = [film.get(getattr(section.border, side) or "", FREE) for side in SIDES]
    return np.array([*conductivity, *borders, FREE]), np.array([*longer, *(1.0 for _ in SIDES), 1.0])


def _stretched(start: Array, end: Array, longer: Array) -> tuple[Array, Array]:
    """Angles of wedges, and the logarithm of how much more their end is stretched than their start, after y has become
    `longer`."""
    turn = [np.arctan2(longer * np.sin(a), np.cos(a)) for a in (start, end)]
    length = [np.hypot(np.cos(a), longer * np.sin(a)) for a in (start, end)]
    angle = np.where(longer == 1, end - start, np.mod(turn[1] - turn[0], 2 * math.pi))
    return np.where(angle == 0, 2 * math.pi, angle), np.log(length[1] / length[0])


def _joint_resistances(section: Section) -> Array:
    """(P + 5, P + 5) m2 K/W of the joint between two owners, 0 where there is none."""
    number = {p.name: k for k, p in enumerate(section.parts)}
    resistance = np.zeros((len(section.parts) + len(SIDES) + 1,) * 2)
    for joint in section.joints:
        i, j = (number[name] for name in joint.between)
        resistance[i, j] = resistance[j, i] = joint.resistance
    return resistance


def _wedges(start: Array, end: Array, owners: list[str], numbers: Array) -> tuple[Wedge, ...]:
    """What lies round a point; what no edge parts is one wedge."""
    n, conductivity = len(owners), numbers[:, 0]
    begins = [k for k in range(n) if owners[k] != owners[k - 1] or numbers[k, 3]] or [0]
    out = []
    for k, stop in zip(begins, [*begins[1:], begins[0] + n]):
        beside = [conductivity[m % n] for m in (begins[0] - 1 if k == 0 else k - 1, stop) if conductivity[m % n] > 0]
        fixed = any(-conductivity[k] > other for other in beside) or conductivity[k] == HELD
        kind = "solid" if conductivity[k] > 0 else "fixed" if fixed else "adiabatic"
        turns = 2 * math.pi * (stop > n)
        out.append(Wedge(float(start[k]), float(end[(stop - 1) % n]) + turns, owners[k], kind))
    return tuple(out)
