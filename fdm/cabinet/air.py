"""How much air moves between the zones inside, and what that carries, at given temperatures of a cabinet's nodes.

An exchange is a loop of air between two zones of one temperature each: W = rho cp V' passes W (T_a - T_b) from one to
the other, whichever way round. Where it passes the cold sink, the sink takes G (T_a - T_sink) from the air that comes
from zone a, and this air enters zone b as much colder: a's temperature drives the heat, and b loses it. So the path of
the sink is *driven* by another temperature than that of the node which it takes the heat from. The air cannot leave
colder than the sink: G is at most W.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fdm.cabinet.model import Cabinet
from fdm.cabinet.zones import Exchange, Facing, layer_pairs
from fdm.surroundings.air import air_at, rayleigh
from fdm.surroundings.circulation import COOLED, LAMINAR, channel_flow, grashof, layer_film, plate_flow
from fdm.surroundings.gaps import vertical_gap
from fdm.surroundings.radiation import between_plates, radiative_film

LEAST_DIFFERENCE = 0.01  # K that moves air: with none at all a zone could hang in the void
START = 10.0  # K by which the cold face is taken to be colder than the air, as long as nothing is known
COLDEST, WARMEST = -100.0, 200.0  # degC, of air whose properties are asked for


@dataclass(frozen=True)
class Flow:
    """What an exchange moves: `volume` m3/s, of which by itself `natural`; `carries` W/K; `cooled`, the share of the
    difference to the cold sink by which its natural flow is cooled, and whether that flow is `laminar`."""

    exchange: Exchange
    volume: float
    natural: float
    carries: float
    cooled: float
    laminar: bool = True


def flows(cabinet: Cabinet, at: Mapping[str, float], sink: str) -> tuple[Flow, ...]:
    """All exchanges at temperatures (degC) of zones and of the cold `sink`, the node of that name."""
    return tuple(_flow(x, at[x.between[0]], at[x.between[1]], at[sink], cabinet.altitude) for x in cabinet.exchanges)


def _flow(x: Exchange, first: float, second: float, sink: float, altitude: float) -> Flow:
    mean = (first + (sink if x.along_sink else second)) / 2
    air = air_at(np.clip(mean, COLDEST, WARMEST), altitude)
    natural, cooled, laminar = 0.0, 1.0, True
    if x.height is not None and x.perimeter is not None:
        difference = max(abs(first - sink), LEAST_DIFFERENCE)
        if x.gap is None:
            per_width, cooled = float(plate_flow(air, difference, x.height)), COOLED
        else:
            per_width, cooled = (float(v) for v in channel_flow(air, difference, x.height, x.gap))
        natural = x.factor * x.perimeter * per_width
        laminar = float(grashof(air, difference, x.height)) <= LAMINAR
    volume = x.flow + natural
    return Flow(x, volume, natural, float(air.density * air.specific_heat) * volume, cooled, laminar)


def layer_conductances(cabinet: Cabinet, at: Mapping[str, float]) -> list[tuple[tuple[str, str], float]]:
    """W/K between layers that lie on each other: by what is above and below, linings and load, radiating through the
    plane between them, and by the air at rest, or by plumes, where no exchange moves it.

    As with the films inside, what radiates is taken to have the temperature of its air.
    """
    width, depth, _ = cabinet.inside
    joined = {frozenset(x.between) for x in cabinet.exchanges if x.moves}
    emissivity = between_plates(cabinet.emissivity, cabinet.emissivity) if cabinet.emissivity else 0.0
    out = []
    for below, above, distance in layer_pairs(cabinet.zones):
        film = radiative_film(emissivity, at[below], at[above])
        if {below, above} not in joined:
            air = air_at(np.clip((at[below] + at[above]) / 2, COLDEST, WARMEST), cabinet.altitude)
            film += layer_film(air, at[above] - at[below], distance)
        out.append(((below, above), float(film) * width * depth))
    return out


def facing_conductance(facing: Facing, load: float, plate: float, altitude: float = 0.0) -> float:
    """W/K between the load and the cold plate, by the air between them and by radiation, at temperatures (degC) and an
    altitude (m)."""
    air = air_at(np.clip((load + plate) / 2, COLDEST, WARMEST), altitude)
    nusselt = vertical_gap(rayleigh(air, load - plate, facing.gap), facing.area**0.5 / facing.gap)
    radiation = radiative_film(between_plates(*facing.emissivity), load, plate)
    return facing.area * float(nusselt * air.conductivity / facing.gap + radiation)
