"""The coldest places of a cabinet's surfaces, inside and outside, and how far they are from sweating."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from fdm.cabinet.at_work import airs_beside, module_terminals, plate_terminals
from fdm.cabinet.bank import Sink
from fdm.cabinet.circuit import Circuit
from fdm.cabinet.cold_places import face_of_wall, surfaces_of
from fdm.cabinet.model import Cabinet
from fdm.cabinet.nodes import LOAD, named, sink_node
from fdm.cabinet.quantities import section_names
from fdm.cabinet.sections import LumpedSections
from fdm.cabinet.settling import COLD_SINK, MODULE_SECTION, CoolSurface
from fdm.cabinet.sides import INSIDE, OUTSIDE, sides_of, sides_said, zone_at
from fdm.cabinet.steady import OperatingPoint
from fdm.surroundings import moist

ROUNDING = 1e-9  # K


@dataclass(frozen=True)
class AirState:
    """Air: its temperature, and the point (degC) at which water settles from it, with its band."""

    temperature: float
    settles: float
    band: float


@dataclass(frozen=True)
class Coldest:
    """The coldest place of one thing on one side (`INSIDE` or `OUTSIDE`), before it is compared with that side's air:
    degC, with its band, and its temperature factor (`CoolSurface`)."""

    side: str
    name: str
    part: str
    lowest: float
    band: float
    factor: float = math.nan


def cool_surface(s: Coldest, air: AirState) -> CoolSurface:
    """How far a coldest place is from sweating in its air."""
    from_humidity, lower, upper = (
        float(moist.relative_humidity(air.temperature, moist.saturation_on_surface(s.lowest + k)))
        for k in ((0.0, -s.band, s.band) if math.isfinite(s.band) else (0.0, 0.0, 0.0))
    )
    humidity_band = (upper - lower) / 2 if math.isfinite(s.band) else math.inf
    margin, band = s.lowest - air.settles, s.band + air.band
    margin = 0.0 if abs(margin) < ROUNDING else margin  # of the place that the air is as moist as
    return CoolSurface(s.side, s.name, s.part, s.lowest, s.band, margin, band, from_humidity, humidity_band, s.factor)


def lumped_surfaces(c: Circuit, point: OperatingPoint) -> Iterator[Coldest]:
    """Both faces of the walls, the load, and a cold sink that is not drawn."""
    cabinet = c.cabinet
    t, band = (np.array([of[name] for name in c.names]) for of in (point.temperature, point.band))
    for side, kind in ((OUTSIDE, "wall"), (INSIDE, "lining")):
        for wall, zone, share in ((w, z, s) for w in cabinet.walls for z, s in cabinet.wall_shares(w).items()):
            if area := cabinet.wall_area(wall) * share:
                name = named(cabinet, wall.name, zone)
                film = wall.film_outside if side == OUTSIDE else wall.film_inside
                weights = face_of_wall(c, name, kind, area * film)
                lowest, air = float(weights @ t), point.temperature[zone]
                span = cabinet.room - air
                factor = (lowest - air) / span if side == OUTSIDE and span else math.nan
                felt = weights != 0  # a band that is not known counts where it is felt
                yield Coldest(side, name, "", lowest, float(abs(weights[felt]) @ band[felt]), factor)
    nodes = {n.name: n.name for n in c.nodes if n.kind == LOAD}
    if isinstance(cabinet.bank.cold_sink, Sink):
        nodes[sink_node(cabinet.bank)] = COLD_SINK
    for node, name in nodes.items():
        yield Coldest(INSIDE, name, "", point.temperature[node], point.band[node])


def drawn_surfaces(
    c: Circuit, sections: LumpedSections, point: OperatingPoint, warmer: Mapping[str, float]
) -> Iterator[Coldest]:
    """The coldest places of the drawn sections, inside and outside, where it is known which of their airs is which.
    `warmer` has by how many kelvin those of the cold sink are, wet."""
    bank = c.cabinet.bank
    names = dict(zip(sections, section_names(sections)))
    plates = [(sink.file, sides_said(sink.file, sink.inside, sink.outside), key) for key, sink in bank.plates.items()]
    others = [(file, sides_of(c.cabinet, file), "") for file in sections if file not in (p[0] for p in plates)]
    for file, sides, key in (*plates, *others):
        wet, air = 0.0, zone_at(c.cabinet, file)
        if key:
            terminals = plate_terminals(c, point, key)
            wet = warmer[COLD_SINK] if key == "cold_sink" else 0.0
        elif file == bank.file:
            terminals = module_terminals(c, point)
            wet = warmer.get(COLD_SINK if bank.cold_sink is None else MODULE_SECTION, 0.0)
        else:
            terminals = airs_beside(c, point, file)
        own = key != "" or file == bank.file
        band = max(b for n, b in point.band.items() if own or n == air)
        found = surfaces_of(sections, file).lowest(terminals)
        for side, airs in sides.items():
            coldest = min(((v, b, part) for (part, e), (v, b) in found.items() if e in airs), default=None)
            if coldest is not None and math.isfinite(coldest[0]):
                value, b, part = coldest
                inside = side == INSIDE
                yield Coldest(side, names[file], part, value + inside * wet, b + (band if inside or own else 0.0))


def unread_surfaces(cabinet: Cabinet) -> list[str]:
    """Warnings of sections whose surfaces are not compared with the dew points, as it is not known which of their airs
    is which."""
    files = dict.fromkeys(f for f in cabinet.section_files if f is not None) if cabinet.moist else {}
    return [
        f"{file.path}: whether its surfaces sweat is not told, as it is not known which of its environments are the "
        "cabinet's air, and which the room's; name them as inside and outside"
        for file in files
        if not sides_of(cabinet, file)
    ]
