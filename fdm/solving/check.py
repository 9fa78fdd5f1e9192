"""What a solve would refuse or warn of, and in words what it would answer, without solving."""

from dataclasses import dataclass

import numpy as np

from fdm.answers.spreading import direction
from fdm.conduction.faces import Array
from fdm.conduction.readings import part_number, sensor_point
from fdm.conduction.system import System, assemble, refuse_loose_parts
from fdm.errors import InputError
from fdm.grid.lines import first_lines
from fdm.section.model import Section
from fdm.section.rules import UNITS


def warnings_of(system: System) -> tuple[str, ...]:
    """What is likely not meant: parts that are wholly covered, environments that nothing touches."""
    section = system.section
    seen = set(np.unique(system.raster.owner).tolist())
    if system.cut is not None:
        seen |= set(np.unique(system.cut.owner).tolist())
    out = [f"part {p.name!r} is wholly covered by later parts" for k, p in enumerate(section.parts) if k not in seen]
    touched = set(system.boundary.terminal[system.boundary.value > 0].tolist())
    out += [
        f"environment {name!r} touches no solid part"
        for k, name in enumerate(section.fixed_names[: len(section.environments)])
        if k not in touched
    ]
    return tuple(out)


@dataclass(frozen=True)
class SectionCheck:
    """What would be solved, without solving it."""

    text: str
    warnings: tuple[str, ...]


def refuse_bridges(section: Section, x: Array, y: Array) -> None:
    """Raise InputError where the section makes no sense without a bridge's parts."""
    for bridge in section.bridges:
        try:
            refuse_loose_parts(assemble(section.unheated, x, y, without=bridge.remove))
        except InputError as fault:
            parts = ", ".join(map(repr, bridge.remove))
            what, _, _ = str(fault).partition(";")
            raise InputError(
                f"bridge {bridge.name!r}, remove: without {parts}, {what}; leave in place what carries a source, and "
                "remove as well what would hang loose"
            ) from None


def check_section(section: Section) -> SectionCheck:
    """Everything that a solve would refuse or warn of, and what it would answer. Raises InputError like `solve`."""
    x, y = first_lines(section)
    system = assemble(section, x, y)
    refuse(system)
    unit, u = section.unit, UNITS[section.unit]
    low_x, high_x, low_y, high_y = (v / u for v in section.extent)
    view = {
        "section": f"section, {section.depth / u:g} {unit} deep",
        "axisymmetric": "about the y axis",
        "plate": "plate seen face on",
    }
    lines = [
        section.title,
        f"  {view[section.view]}; x = {low_x:g} to {high_x:g} {unit}, y = {low_y:g} to {high_y:g} {unit}",
        f"  {len(section.parts)} parts; coarsest grid {len(x) - 1} x {len(y) - 1} cells",
    ]
    lines += [
        f"  environment {e.name}: {e.temperature:g} degC behind {e.film:g} W/(m2 K)" for e in section.environments
    ]
    lines += [
        f"  source {s.name}: {f'{s.heat:g} W' if s.heat is not None else f'held at {s.temperature:g} degC'}"
        for s in section.sources
    ]
    lines += [
        f"  sensor {s.name}" + (f", should read {s.should_read}" if s.should_read is not None else "")
        for s in section.sensors
    ]
    lines += [
        f"  spreading resistance of {s.name} along {direction(section, k)}" for k, s in enumerate(section.spreading)
    ]
    lines += [f"  bridge: loss that {b.name} causes" for b in section.bridges]
    solves = 1 + len(section.spreading) + len(section.bridges)
    lines.append(
        f"  {len(section.fixed_names) + len(section.heat_names)} unit fields, "
        f"{solves} factorisation{'s' if solves > 1 else ''} a grid"
    )
    return SectionCheck("\n".join(lines), warnings_of(system))


def refuse(system: System) -> None:
    """Raise InputError where an assembled section cannot be solved."""
    refuse_loose_parts(system)
    sensors_in_voids(system)
    refuse_bridges(system.section, system.raster.x, system.raster.y)


def sensors_in_voids(system: System) -> None:
    """Raise InputError where a sensor's point touches nothing that has a temperature, or its part is wholly covered."""
    for k, sensor in enumerate(system.section.sensors):
        if sensor.at is not None:
            i, j = sensor_point(system, k)
            around = system.raster.owner[i : i + 2, j : j + 2]
            if not (system.properties.solid[around] | (system.properties.fixed[around] >= 0)).any():
                raise InputError(
                    f"sensor {sensor.name!r}, at: it lies in a void; move it into a solid part or an environment"
                )
        else:
            number = part_number(system, sensor.part)
            if system.properties.fixed[number] < 0 and not len(system.part_cells(number)[0]):
                raise InputError(
                    f"sensor {sensor.name!r}, part: {sensor.part!r} is wholly covered by later parts; draw it later"
                )
