"""The sections of a cabinet where it settles: temperatures and watts of their terminals, and their own films, as far as
these follow.

    sections ──> circuit ──> where it settles ──> sections solved there, whose films follow ──> ...

A few rounds are enough: the films change little with where the cabinet settles.
"""

from collections.abc import Callable

from fdm.cabinet.bank import PlateSink
from fdm.cabinet.circuit import Circuit
from fdm.cabinet.following import Wet, circuit_at_work
from fdm.cabinet.model import Cabinet
from fdm.cabinet.nodes import COLD, COLD_AIR, HOT, HOT_AIR, plate_node
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sections import Sections, lumped
from fdm.cabinet.sides import INSIDE, OUTSIDE, sides_of, zone_at
from fdm.cabinet.steady import OperatingPoint, operating_point
from fdm.errors import InputError, in_file
from fdm.solving.frozen import coefficients_of
from fdm.solving.operating_point import at_operating_point
from fdm.solving.solution import Solution

MOST_ROUNDS = 12
AGREED = 1e-3  # relative, of every film of a section from round to round


def sections_at_work(
    cabinet: Cabinet,
    sections: Sections,
    progress: Callable[[str], None] | None = None,
    wet: Wet | None = None,
) -> tuple[Circuit, Sections]:
    """The circuit of a cabinet, and its sections, which are solved again where their films or other numbers follow the
    temperature. Those of `left_as_drawn` keep what belongs to their files' own temperatures. Where water settles, `wet`
    gives a circuit its latent heat; the circuit that is returned is without.

    Raises InputError where that does not settle.
    """
    by_file = {file: lumped(s) for file, s in sections.items()}
    c = circuit_at_work(cabinet, by_file, wet=wet)
    own = [file for file in _of_modules(cabinet) if sections[file].frozen is not None]
    if len(set(own)) < len(own):
        raise InputError(
            f"module: cold_sink and hot_sink both name {own[-1].path}, with films that follow the temperature, "
            "which differs; give one of them a copy of the file"
        )
    others = [f for f in sections if sections[f].frozen is not None and f not in own and sides_of(cabinet, f)]
    follow = [*own, *others]
    for _ in range(MOST_ROUNDS if follow else 0):
        point = operating_point(wet(c, by_file) if wet else c, cabinet.bank.supply)
        new, change = dict(sections), 0.0
        for file in follow:
            if progress:
                progress(f"{file.path}: films where the cabinet settles")
            with in_file(file.path):
                new[file] = at_operating_point(sections[file], _terminals(c, point, file))
            change = max(change, _changed(sections[file], new[file]))
        sections, by_file = new, {file: lumped(s) for file, s in new.items()}
        c = circuit_at_work(c.cabinet, by_file, wet=wet)
        if change <= AGREED:
            return c, sections
    if follow:
        raise InputError(f"{follow[0].path}: its films do not settle with the cabinet; give them numbers")
    return c, sections


def left_as_drawn(cabinet: Cabinet) -> list[str]:
    """Warnings of sections whose films, or other numbers, do not follow where the cabinet settles, as it is not known
    which of their airs is which."""
    return [
        f"{file.path}: what follows the temperature in it is taken at the temperatures of its own file, as it is not "
        "known which of its environments are the cabinet's air, and which the room's; name them as inside and outside"
        for file in dict.fromkeys(f for f in cabinet.section_files if f is not None)
        if not sides_of(cabinet, file) and coefficients_of(file.section)
    ]


def _changed(before: Solution, after: Solution) -> float:
    """The largest relative change of what follows the temperature."""
    assert before.frozen is not None and after.frozen is not None
    old = {v.coefficient.name: v.value for v in before.frozen.values}
    return max((abs(v.value / old[v.coefficient.name] - 1) for v in after.frozen.values), default=0.0)


def _of_modules(cabinet: Cabinet) -> list[SectionFile]:
    """The sections of the modules and of their plates."""
    files = [cabinet.bank.file, *(sink.file for sink in cabinet.bank.plates.values())]
    return [file for file in files if file is not None]


def _terminals(c: Circuit, point: OperatingPoint, file: SectionFile) -> dict[str, float]:
    key = next((key for key, sink in c.cabinet.bank.plates.items() if sink.file == file), None)
    if key is not None:
        return plate_terminals(c, point, key)
    return module_terminals(c, point) if file == c.cabinet.bank.file else airs_beside(c, point, file)


def airs_beside(c: Circuit, point: OperatingPoint, file: SectionFile) -> dict[str, float]:
    """degC of the airs of the section of a line, a point or the thermostat, by name, as far as it is known which is
    which."""
    t = {INSIDE: point.temperature[zone_at(c.cabinet, file)], OUTSIDE: c.cabinet.room}
    return {name: t[side] for side, airs in sides_of(c.cabinet, file).items() for name in airs}


def module_terminals(c: Circuit, point: OperatingPoint) -> dict[str, float]:
    """degC and W of the terminals of the modules' section, by name, in a steady state."""
    bank, t = c.cabinet.bank, point.temperature
    inside, outside = t.get(COLD_AIR, t[c.cabinet.sink_zones[0]]), t.get(HOT_AIR, c.cabinet.room)
    airs = dict.fromkeys(bank.inside, inside) | dict.fromkeys(bank.outside, outside)
    latent = {face: c.heat[c.number(face)] for face in (COLD, HOT)}  # given off by water that settles, if any
    touching = (p for p in c.paths if p.kind == "load" and COLD in p.ends)  # the load, where it is at the cold face
    from_load = sum(p.conductance * (t[p.ends[0]] - t[p.ends[1]]) for p in touching)
    watts = {
        bank.cold: (latent[COLD] + from_load - point.pumped) / bank.supply.modules,
        bank.hot: (latent[HOT] + point.rejected) / bank.supply.modules,
    }
    plates = {name: t[plate_node(bank, key)] for key, name in bank.faces.items() if name in bank.held}
    return airs | watts | plates


def plate_terminals(c: Circuit, point: OperatingPoint, key: str) -> dict[str, float]:
    """degC and W of the terminals of the plate of a sink, by name, in a steady state; empty places get none."""
    sink = c.cabinet.bank.plates[key]
    empty = dict.fromkeys(sink.file.section.heat_names, 0.0)
    return plate_airs(c, point, sink) | empty | dict.fromkeys(sink.places, plate_watts(c, point, key))


def plate_airs(c: Circuit, point: OperatingPoint, sink: PlateSink) -> dict[str, float]:
    """degC of the airs of a plate."""
    air = point.temperature[c.cabinet.sink_zones[0]]
    return dict.fromkeys(sink.inside, air) | dict.fromkeys(sink.outside, c.cabinet.room)


def plate_watts(c: Circuit, point: OperatingPoint, key: str) -> float:
    """W into each place of a plate: what leaves it by the plate."""
    t, node, name = point.temperature, plate_node(c.cabinet.bank, key), key.replace("_", " ")
    ways = [p for p in c.paths if p.name == name and node in p.ends]
    heat = sum(p.conductance * (2 * t[node] - t[p.drivers[0]] - t[p.drivers[1]]) for p in ways)
    return heat / c.cabinet.bank.supply.modules
