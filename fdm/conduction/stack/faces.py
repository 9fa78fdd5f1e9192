"""The two faces of a plate: where heat enters on them, what film lies on them, and where fins stand."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.layout import Layout
from fdm.errors import InputError
from fdm.grid.raster import middles
from fdm.section.model import Fins, Rectangle, Section
from fdm.section.rules import fin_pitch

COVERED = 1e-6  # of a cell's area: less is rounding


@dataclass(frozen=True)
class Patch:
    """Where something lies on a face, by cell and part: C pieces."""

    cell: Integers  # (C,) flat numbers on (n, m)
    part: Integers  # (C,) numbers of the parts
    area: Array  # (C,) m2

    def by_cell(self, shape: tuple[int, int]) -> Array:
        """(n, m) its area in each cell, m2."""
        return np.asarray(np.bincount(self.cell, self.area, shape[0] * shape[1]), float).reshape(shape)


@dataclass(frozen=True)
class FinGroup:
    """Fins on a face. `pitch` in metres; `row` and `joint_row` are the numbers of their inputs."""

    fins: Fins
    patch: Patch
    pitch: float
    terminal: int
    row: int
    joint_row: int

    @property
    def share(self) -> float:
        """Metal's share of the area."""
        return self.fins.thickness / self.pitch

    @property
    def conductivity(self) -> float:
        return self.fins.material.conductivity[0]

    @property
    def constriction(self) -> float:
        """m, of the plate's metal over its whole area, that resists as the flow into the roots does."""
        return self.pitch / math.pi * math.log(1 / math.sin(math.pi * self.share / 2))


@dataclass(frozen=True)
class PlateFace:
    """One face: its fins, the patches on which each heat terminal enters, and what of its area has a film."""

    name: str
    groups: tuple[FinGroup, ...]
    heated: dict[int, Patch]  # by number of the heat terminal
    film: tuple[tuple[int, Patch], ...]  # numbers of the environments, and where the face has their film


def patch_on(layout: Layout, area: Array, parts: Sequence[str], rectangle: Rectangle | None) -> Patch:
    """The cells (with areas (n, m) m2) of some parts, within a rectangle where there is one."""
    section, raster = layout.section, layout.raster
    inside: Bools = np.ones(raster.shape, bool)
    if rectangle is not None:
        inside = np.asarray(rectangle.contains(middles(raster.x)[:, None], middles(raster.y)))
    found = []
    for number, part in enumerate(section.parts):
        if part.name in parts and layout.properties.solid[number]:
            cell, own = layout.part_cells(number, area)
            on = inside.ravel()[cell]
            found.append((cell[on], np.full(on.sum(), number), own[on]))
    if not found:
        return Patch(np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0))
    return Patch(*(np.concatenate(v) for v in zip(*found)))


def plate_face(layout: Layout, section: Section, name: str, area: Array) -> PlateFace:
    """A face of the section whose parts, without their faces, are laid out on cells of `area` (n, m) m2.

    Raises InputError where what lies on the face lies on nothing, or on each other.
    """
    names, first = section.fixed_names, len(section.parts) + len(section.environments) + len(section.joints)
    groups, heated, taken = [], {}, dict[str, Patch]()
    for k, fins in enumerate(section.fins):
        if fins.face != name:
            continue
        patch, where = patch_on(layout, area, fins.parts, fins.rectangle), f"fins {fins.name!r}"
        if not len(patch.cell) and not layout.variant.without:
            raise InputError(f"{where}: they stand on nothing; is the part covered, or their rectangle beside it?")
        _take(taken, patch, area, where, name)
        terminal, pitch = names.index(fins.environment), fin_pitch(fins, section.part_named)
        groups.append(FinGroup(fins, patch, pitch, terminal, first + 2 * k, first + 2 * k + 1))
    for h, source in enumerate(section.heat_sources):
        if source.face == name:
            patch, where = patch_on(layout, area, [str(source.part)], source.rectangle), f"source {source.name!r}"
            if not len(patch.cell):
                raise InputError(
                    f"{where}: it lies on nothing; is the part covered by later parts, or its rectangle beside it?"
                )
            _take(taken, patch, area, where, name)
            heated[h] = patch
    return PlateFace(name, tuple(groups), heated, tuple(_films(layout, section, name, area, groups, heated)))


def _take(taken: dict[str, Patch], patch: Patch, area: Array, where: str, face: str) -> None:
    """Record where something lies. Raises InputError where it takes more of a cell, with what lies there already, than
    the cell has."""
    for other, there in taken.items():
        both = there.by_cell(area.shape) + patch.by_cell(area.shape)
        if (both > (1 + COVERED) * area).any():
            raise InputError(f"{where}: it lies on {other}, on the {face}; give each a place of its own")
    taken[where] = patch


def _films(
    layout: Layout, section: Section, name: str, area: Array, groups: Sequence[FinGroup], heated: dict[int, Patch]
) -> list[tuple[int, Patch]]:
    """The environment on each part's face, where neither fins stand nor heat enters; and that between fins."""
    free: dict[int, Array] = {}
    for number, part in enumerate(section.parts):
        if getattr(part, name) is not None and layout.properties.solid[number]:
            free[number] = np.zeros(area.size)
            cell, own = layout.part_cells(number, area)
            free[number][cell] = own
    for patch in (*(g.patch for g in groups), *heated.values()):
        for number, left in free.items():
            on = patch.part == number
            np.subtract.at(left, patch.cell[on], patch.area[on])
    out = []
    for number, left in free.items():
        cell = np.nonzero(left > COVERED * area.ravel())[0]
        if len(cell):
            terminal = section.fixed_names.index(getattr(section.parts[number], name))
            out.append((terminal, Patch(cell, np.full(len(cell), number), left[cell])))
    return out + [(g.terminal, Patch(g.patch.cell, g.patch.part, (1 - g.share) * g.patch.area)) for g in groups]
