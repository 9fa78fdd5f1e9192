"""What a solve would refuse, warn of and answer, in words and without solving."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from fdm.answers.rounding import film_in_words
from fdm.answers.spreading import direction
from fdm.conduction.arrays import Array
from fdm.conduction.layout import Variant
from fdm.conduction.linear.multigrid.memory import check_memory, free_memory
from fdm.conduction.protocol import ConductionSystem
from fdm.conduction.systems import conduction_system
from fdm.errors import InputError
from fdm.grid.lines import first_lines
from fdm.section.depths import mixed
from fdm.section.model import UNITS, Environment, Section, Sensor
from fdm.section.rules import fin_pitch
from fdm.solving.assumptions import doubtful_assumptions
from fdm.solving.plausible import implausible_numbers


def warnings_of(system: ConductionSystem) -> tuple[str, ...]:
    """Warnings of likely mistakes: named numbers without use, numbers out of all proportion, parts that are wholly
    covered, environments that nothing touches, solids that are parted from a point on, and what else the drawing takes
    for granted and is likely not meant."""
    return (
        *system.section.unused,
        *implausible_numbers(system.section),
        *(f"part {name!r} is wholly covered by later parts" for name in _covered_parts(system)),
        *(
            f"environment {name!r} touches no solid part{_where_it_may_lie(system.section)}"
            for name in system.untouched_environments()
        ),
        *(
            f"environment {e.name!r}, film: {note}"
            for e in system.section.environments
            if e.film_from is not None
            for note in e.film_from.notes
        ),
        *doubtful_assumptions(system.section, *system.lines[:2]),
    )


def _where_it_may_lie(section: Section) -> str:
    return "; name it as front or back of a part, in [[fins]] or in [border]" if section.view == "plate" else ""


def _covered_parts(system: ConductionSystem) -> list[str]:
    """Names of the parts that are covered wholly; of one in pieces, where all of them are."""
    hidden, parts = set(system.covered_parts()), system.section.parts
    drawn = {p.name: p.name if p.piece is None else p.piece.of.name for p in parts}
    seen = {drawn[p.name] for p in parts if p.name not in hidden}
    return [name for name in dict.fromkeys(drawn.values()) if name not in seen]


MOST_CELLS = 300_000  # the usual limit of a grid
PER_CELL, PER_FIELD = 550.0, 24.0  # bytes a cell, and besides for each unit field (measured up to 1.7e6 cells)


def refuse_large(section: Section, cells: int, max_cells: int) -> None:
    """Raise InputError where a first grid with `cells` cells passes the limit of `max_cells`, or does not fit into
    memory."""
    if cells > max_cells:
        raise InputError(
            f"the drawing alone takes {cells} cells, more than the limit of {max_cells}; draw fewer edges, or allow "
            f"{cells} cells at least (--max-cells)"
        )
    fields = len(section.fixed_names) + len(section.heat_names)
    need, free = cells * (PER_CELL + PER_FIELD * fields), free_memory()
    if need > free:
        raise InputError(
            f"a grid of {cells} cells with {fields} unit fields takes about {need / 1e9:.2g} GB, but only "
            f"{free / 1e9:.2g} GB of memory are free; give fewer cells, or fewer sources and environments"
        )
    if section.spreading:  # plates that spread perfectly are always factorised
        try:
            check_memory(cells)
        except MemoryError as fault:
            raise InputError(str(fault)) from None


def _refuse_bridges(section: Section, lines: tuple[Array, ...]) -> None:
    """Raise InputError where the section cannot be solved without a bridge's parts."""
    for bridge in section.bridges:
        try:
            conduction_system(section.unheated, *lines, variant=Variant(without=bridge.remove)).refuse_unsolvable()
        except InputError as fault:
            parts = ", ".join(map(repr, bridge.remove))
            what, _, _ = str(fault).partition(";")
            raise InputError(
                f"bridge {bridge.name!r}, remove: without {parts}, {what}; leave in place what carries a source, and "
                "remove as well what would hang loose"
            ) from None


def refuse(system: ConductionSystem) -> None:
    """Raise InputError where a section that is laid out cannot be solved."""
    system.refuse_unsolvable()
    _refuse_bridges(system.section, system.lines)


@dataclass(frozen=True)
class SectionCheck:
    """What would be solved, without solving it."""

    text: str
    warnings: tuple[str, ...]


def check_section(section: Section) -> SectionCheck:
    """What a solve would answer and warn of. Raises InputError where `solve` would."""
    section = mixed(section)
    lines = first_lines(section)
    shape = [len(at) - 1 for at in lines]
    refuse_large(section, 4 ** len(shape) * math.prod(shape), MOST_CELLS)
    system = conduction_system(section, *lines)
    refuse(system)
    text = "\n  ".join([section.title, *_in_words(section, shape)])
    return SectionCheck(text, warnings_of(system))


def _in_words(section: Section, shape: Sequence[int]) -> Iterator[str]:
    """Lines on what is drawn, on a coarsest grid of this shape, and on what is asked of it."""
    unit, u = section.unit, UNITS[section.unit]
    low_x, high_x, low_y, high_y = (v / u for v in section.extent)
    view = {
        "section": f"section, {section.depth / u:g} {unit} deep",
        "axisymmetric": "about the y axis",
        "plate": "plate seen face on",
    }
    about = view[section.view] + (", resolved through its thickness" if section.layered else "")
    yield f"{about}; x = {low_x:g} to {high_x:g} {unit}, y = {low_y:g} to {high_y:g} {unit}"
    shallow = {p.piece.of.name: p.piece for p in section.parts if p.piece is not None}
    parts = len(shallow) + sum(p.piece is None for p in section.parts)
    yield f"{parts} part{'s' * (parts != 1)}; coarsest grid {' x '.join(map(str, shape))} cells"
    for name, piece in shallow.items():
        deep = f"{piece.of.count} x {(piece.of.depth or 0.0) / u:.4g} {unit} deep"
        yield f"part {name}: {deep}, {100 * piece.filling[0][0]:.3g} % of the depth"
    for p in section.parts:
        if p.follows:
            yield f"part {p.name}: {'closed air' if p.gap is not None else 'its conductivity'} follows its temperatures"
    for e in section.environments:
        point = f"; {'frost' if e.settling_point < 0 else 'dew'} point {e.settling_point:.3g} degC" if e.moist else ""
        yield f"environment {e.name}: {e.temperature:g} degC behind {_film(e)}{point}"
    for f in section.fins:
        pitch = 1e3 * fin_pitch(f, section.part_named)
        yield f"fins {f.name}: on the {f.face}, {pitch:.4g} mm from one to the next"
    for source in section.sources:
        given = f"{source.heat:g} W" if source.heat is not None else f"held at {source.temperature:g} degC"
        yield f"source {source.name}: {given}"
    for sensor in section.sensors:
        should = f", should read {sensor.should_read}" if sensor.should_read is not None else ""
        yield f"sensor {sensor.name}{should}{_probe(sensor)}"
    for k, plate in enumerate(section.spreading):
        yield f"spreading resistance of {plate.name} along {direction(section, k)}"
    for bridge in section.bridges:
        yield f"bridge: what leaks by {bridge.name}"
    terminals, solves = (*section.fixed_names, *section.heat_names), 1 + len(section.spreading) + len(section.bridges)
    yield f"{len(terminals)} terminals: {', '.join(terminals)}"
    yield f"{len(terminals)} unit fields, {solves} factorisation{'s' if solves > 1 else ''} a grid"


def _film(e: Environment) -> str:
    found = e.film_from
    if found is None:
        return f"{e.film:g} W/(m2 K)"
    told = f"{film_in_words(found)}; {found.relation}"
    if e.follows is None:
        return told
    return f"a film that follows the temperature of its surface: at {found.surface:g} degC {told}"


def _probe(sensor: Sensor) -> str:
    """The stem, bead and watts of a sensor, in words."""
    out, stem, bead = "", sensor.stem, sensor.bead
    if stem is not None:
        what = f"{stem.count} leads" if stem.count > 1 else "a stem"
        film = "what it lies in" if stem.film is None else f"{stem.film:.3g} W/(m2 K)"
        wall = f"{1e3 * stem.through:.3g} mm of wall and " if stem.through else ""
        out += f"; {what} of {stem.material.name}, {1e3 * stem.diameter:.3g} mm, from {stem.to}, behind {wall}"
        out += f"{1e3 * stem.length:.3g} mm in {film}"
    if bead is not None:
        size = "" if bead.diameter is None else f" of {1e3 * bead.diameter:.3g} mm"
        film = "" if bead.film is None else f" behind {bead.film:.3g} W/(m2 K)"
        out += f"; bead{size}{film}"
    return out + (f"; {1e3 * sensor.self_heating:.3g} mW of its own" if sensor.self_heating else "")
