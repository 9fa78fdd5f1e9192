"""Checks of an assembled section: errors that make it unsolvable, and likely mistakes."""

import numpy as np
import scipy.sparse as sp
from scipy.sparse.csgraph import connected_components

from fdm.conduction.flows import Connected
from fdm.conduction.readings import sensor_point
from fdm.conduction.system import System
from fdm.errors import InputError
from fdm.section.model import Section


def covered_parts(system: System) -> list[str]:
    """Names of the parts that later ones cover wholly."""
    seen = set(np.unique(system.raster.owner).tolist())
    if system.cut is not None:
        seen |= set(np.unique(system.cut.owner).tolist())
    return [p.name for k, p in enumerate(system.section.parts) if k not in seen]


def untouched_environments(section: Section, system: Connected) -> list[str]:
    """Names of the environments that no solid part touches."""
    touched = set(system.boundary.terminal[system.boundary.value > 0].tolist())
    return [e.name for k, e in enumerate(section.environments) if k not in touched]


def refuse_loose_parts(system: System) -> None:
    """Raise InputError where a connected solid region has no path to any given temperature, and where none is left."""
    if not system.solid.any():
        raise InputError(
            "no part has a temperature to be found: each is held, void, or air; draw a solid part between them"
        )
    cells = np.arange(system.solid.size).reshape(system.solid.shape)
    a = np.concatenate([cells[1:][system.gx != 0], cells[:, 1:][system.gy != 0]])
    b = np.concatenate([cells[:-1][system.gx != 0], cells[:, :-1][system.gy != 0]])
    _, region = connected_components(sp.coo_matrix((np.ones(len(a)), (a, b)), (cells.size, cells.size)), directed=False)
    held = np.isin(region, region[system.boundary.cell[system.boundary.value > 0]]) | ~system.solid.ravel()
    if not held.all():
        loose = np.unique(system.raster.owner[1:-1, 1:-1].ravel()[~held])
        names = ", ".join(repr(system.section.parts[k].name) for k in loose)
        raise InputError(
            f"part {names}: nothing ties it to any temperature; "
            "let it touch a solid part, an environment, or a held source"
        )


def refuse_blind_sensors(system: System) -> None:
    """Raise InputError where a sensor's point touches nothing that has a temperature, or its part is wholly covered."""
    for k, sensor in enumerate(system.section.sensors):
        if sensor.at is not None:
            i, j = sensor_point(system, k)
            around = system.raster.owner[i : i + 2, j : j + 2]
            known = system.properties.solid | (system.properties.fixed >= 0)
            drawn = (around >= len(system.section.parts)).any()  # beyond the border
            drawn = drawn or system.layout.drawn_beside(np.array([i]), np.array([j]), known)[0]
            if not drawn or not known[around].any():  # a cell that an edge crosses reaches further than the solid in it
                raise InputError(
                    f"sensor {sensor.name!r}, at: it lies in a void; move it into a solid part or an environment"
                )
        else:
            number = system.part_number(sensor.part)
            if system.properties.fixed[number] < 0 and not len(system.part_cells(number)[0]):
                raise InputError(
                    f"sensor {sensor.name!r}, part: {sensor.part!r} is wholly covered by later parts; draw it later"
                )
