"""What moisture does in a cabinet: what sweats outside, what settles inside, and the latent watts of that.

Water that settles on a cold surface gives its latent heat off there, and what evaporates takes it from the load, or
from the air where that is kept moist. Both are heat into the circuit's nodes, so the state is looked for
again and again, until nothing changes.

With zones of air, all of it is taken as equally moist, by mass: much more air passes between zones than comes in. What
latent heat a drawn sink leaves to the air enters the zone that the air comes from, and not the one behind the sink.

Drawn surfaces are read place by place, in the modules' section by the temperatures of its air and faces; wet, all of
one section are warmer by what the latent watts do at their films as if they were at one temperature. The surfaces of
other sections and of the room are read for whether they sweat, and what settles on them is left out.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fdm.answers.network import Network
from fdm.cabinet.at_work import airs_beside, module_terminals, plate_terminals
from fdm.cabinet.circuit import (
    AIR_DENSITY,
    AIR_HEAT,
    COLD,
    COLD_AIR,
    LOAD,
    Array,
    Circuit,
    load_node,
    met_nodes,
    named,
    plate_nodes,
    terminal_nodes,
)
from fdm.cabinet.model import Cabinet, PlateSink, SectionFile, Sink
from fdm.cabinet.quantities import numbered, section_names
from fdm.cabinet.sections import LumpedSections, SectionSurfaces
from fdm.cabinet.settling import (
    ANYWHERE,
    COLD_SINK,
    MODULE_SECTION,
    ColdPlaces,
    CoolSurface,
    MoistAir,
    Moisture,
    Settled,
    water_balance,
)
from fdm.cabinet.sides import INSIDE, OUTSIDE, sides_of, sides_said, zone_at
from fdm.cabinet.sinks import plate_network
from fdm.cabinet.steady import OperatingPoint, operating_point, settle
from fdm.section.model import Environment
from fdm.surroundings import moist

STEPS = 40
CLOSED = 1e-9  # W of latent heat, and as a share of it
FAR_BELOW = 10.0  # K below the dew point: a load that is to be so much colder cannot give off what it is said to
NEARLY = 1e-4  # W that an iteration may leave open where it ends
KEPT = 5  # states from which the next one is guessed


def with_moisture(dry: Circuit, sections: LumpedSections) -> Circuit:
    """A circuit with the latent heat of water in its nodes, that of the state with the modules always on, and what
    there is to say of moisture; as it is where the room's humidity is not known. Films keep their values.

    Raises ArithmeticError where there is no steady state.
    """
    cabinet = dry.cabinet
    if not cabinet.moist:
        return dry
    states = _States(dry, sections)
    found, always_on, point = states.settled({})
    held = point.temperature[dry.air] <= cabinet.setpoint
    at_setpoint = states.settled({dry.air: cabinet.setpoint})[1] if held else None
    room = cabinet.room_pressure
    humidity, settles = float(moist.relative_humidity(cabinet.room, room)), float(moist.settling_point(room))
    return replace(found, moisture=Moisture(humidity, settles, always_on, at_setpoint))


@dataclass(frozen=True)
class _States:
    """The steady states of a circuit that has no latent heat in its nodes yet."""

    c: Circuit
    sections: LumpedSections

    def settled(self, held: Mapping[str, float]) -> tuple[Circuit, MoistAir, OperatingPoint]:
        """The circuit with the latent heat of a steady state with some nodes `held`, and that state."""
        c, places, supply = self.c, list(cold_places(self.c, self.sections)), self.c.cabinet.bank.supply
        nodes, temperatures = len(c.nodes), None
        now, tried, changes = np.zeros(nodes + len(places)), list[Array](), list[Array]()
        for _ in range(STEPS):
            heat, own = now[:nodes], now[nodes:]
            temperatures = settle(with_heat(c, heat), supply, held, temperatures)
            found = _air(c, places, temperatures, own)
            change = np.concatenate([found.heat, found.own]) - now
            if abs(change).max() <= CLOSED * (1 + abs(heat).max()):
                break
            tried, changes = [*tried, now][-KEPT:], [*changes, change][-KEPT:]
            now = _next(tried, changes)
        else:
            if abs(change).max() > NEARLY:
                raise ArithmeticError(
                    "there is no steady state: the water that settles does not come to rest; look at the load's "
                    "moisture (g a day)"
                )
        wet = with_heat(c, heat)
        point = operating_point(wet, c.cabinet.bank.supply, held)
        return wet, self._described(wet, places, point, found), point

    def _described(self, wet: Circuit, places: list[ColdPlaces], point: OperatingPoint, found: "_Air") -> MoistAir:
        """The state, with bands: those of the nodes' temperatures move the places, all alike."""
        c = self.c
        band = np.array([point.band[name] for name in c.names])
        t = np.array([point.temperature[name] for name in c.names])
        lower, upper = (_air(c, places, t + sign * band, found.own) for sign in (-1, 1))
        inside = _Point(found.temperature, found.settling_point, abs(upper.settling_point - lower.settling_point) / 2)
        room = _Point(c.cabinet.room, float(moist.settling_point(c.cabinet.room_pressure)), 0.0)
        water_band = abs(upper.water - lower.water) / 2
        warmer = {p.name: kelvin for p, kelvin in zip(places, found.own.tolist())}
        surfaces = [*_lumped_surfaces(c, point), *_drawn_surfaces(wet, self.sections, point, warmer)]
        names = {side: iter(numbered(s.name for s in surfaces if s.side == side)) for side in (INSIDE, OUTSIDE)}
        return MoistAir(
            ratio=found.ratio,
            settling_point=inside.settles,
            point_band=inside.band,
            humidity=found.humidity,
            humidity_band=abs(upper.humidity - lower.humidity) / 2,
            exchanged=found.exchanged,
            evaporated=found.evaporated,
            evaporated_band=0.0 if c.cabinet.inside_humidity is None else water_band,
            settled=found.settled,
            water_band=water_band,
            latent=found.latent,
            taken=found.taken,
            heat=found.heat,
            surfaces=tuple(
                _surface(replace(s, name=next(names[s.side])), inside if s.side == INSIDE else room) for s in surfaces
            ),
        )


def _next(tried: Sequence[Array], changes: Sequence[Array]) -> Array:
    """What to try next where each of `tried` was found to need one of `changes`, by Anderson's method: the last one
    with its change, less what the earlier ones tell of how the change itself changes."""
    step = tried[-1] + changes[-1]
    if len(tried) == 1:
        return step
    by, moved = np.diff(changes, axis=0), np.diff(tried, axis=0)
    weights = np.linalg.lstsq(by.T, changes[-1])[0]
    return np.asarray(step - weights @ (moved + by))


def with_heat(c: Circuit, heat: Array) -> Circuit:
    """The circuit with more watts (N,) given off inside its nodes."""
    return replace(c, nodes=tuple(replace(n, heat=n.heat + float(w)) for n, w in zip(c.nodes, heat)))


# ---- what is cold, and what settles there ----------------------------------------------------------------------------


def cold_places(c: Circuit, sections: LumpedSections) -> Iterator[ColdPlaces]:
    """All inside on which water may settle: the inner faces of the walls, the cold sink, drawn or not, and the load,
    unless it is known what evaporates from it."""
    cabinet, bank = c.cabinet, c.cabinet.bank
    for wall in cabinet.walls:
        for zone, share in cabinet.wall_shares(wall).items():
            if conductance := wall.film_inside * (cabinet.wall_area(wall) * share):
                name = named(cabinet, wall.name, zone)
                weights = _face_of_wall(c, name, "lining", conductance)
                yield ColdPlaces(
                    name, weights[None], np.array([conductance]), float(weights[c.number(zone)]) / conductance
                )
    for zone, share in cabinet.load_shares.items() if not cabinet.load.moisture else ():
        node, conductance = load_node(cabinet, zone), cabinet.load.film * cabinet.load.surface * share
        yield ColdPlaces(node, _only(c, node)[None], np.array([conductance]))
    if isinstance(bank.cold_sink, PlateSink):
        yield _places_of_plate(c, bank.cold_sink, sections)
    if isinstance(bank.cold_sink, Sink):
        if conductance := next(p.conductance for p in c.paths if p.name == COLD_SINK):
            node = COLD if bank.file is None else COLD_AIR
            yield ColdPlaces(COLD_SINK, _only(c, node)[None], np.array([conductance]))
    elif bank.file is not None:
        surfaces = _surfaces_of(sections, bank.file)
        weight = _by_temperatures(sections[bank.file].network, surfaces.finest.rows)
        found = _drawn_places(
            c, surfaces, weight, met_nodes(cabinet, terminal_nodes(cabinet)), bank.inside, bank.supply.modules
        )
        yield found if bank.cold_sink is None else replace(found, name=MODULE_SECTION)


def _only(c: Circuit, node: str) -> Array:
    """(N,) weights of one node."""
    return np.asarray(np.arange(len(c.nodes)) == c.number(node), float)


def _face_of_wall(c: Circuit, wall: str, kind: str, film: float) -> Array:
    """(N,) weights of the nodes in the temperature of a wall's face, in the air at the end of a path; `film` (W/K)
    lies between the two."""
    path = next(p for p in c.paths if p.name == wall and p.kind == kind)
    air, lining = path.ends if kind == "lining" else path.ends[::-1]
    share = path.conductance / film
    return (1 - share) * _only(c, air) + share * _only(c, lining)


def _places_of_plate(c: Circuit, sink: PlateSink, sections: LumpedSections) -> ColdPlaces:
    """The surfaces of all plates of the cold sink, whose places of modules get the same watts."""
    bank, surfaces = c.cabinet.bank, _surfaces_of(sections, sink.file)
    own = sections[sink.file].network
    rows, fixed = surfaces.finest.rows, len(own.fixed)
    places = rows[:, [fixed + own.heat.index(name) for name in sink.places]].mean(1, keepdims=True)
    network, node = plate_network(sink, own), met_nodes(c.cabinet, plate_nodes(c.cabinet, "cold_sink", sink))
    by_terminal = _by_temperatures(network, np.hstack([rows[:, :fixed], places]))
    return _drawn_places(c, surfaces, by_terminal, node, sink.inside, bank.supply.modules / len(sink.places))


def _surfaces_of(sections: LumpedSections, file: SectionFile) -> SectionSurfaces:
    surfaces = sections[file].surfaces
    assert surfaces is not None  # of all that is solved
    return surfaces


def _by_temperatures(network: Network, rows: Array) -> dict[str, Array]:
    """(K,) weights of each terminal's temperature in places whose `rows` (K, F + H) are by the temperatures of the
    fixed terminals and the watts of the others."""
    fixed, heat = len(network.fixed), len(network.heat)
    by_face = np.linalg.solve(network.values.resistance[:heat].T, rows[:, fixed:].T).T if heat else rows[:, fixed:]
    columns = np.hstack([rows[:, :fixed] - by_face @ network.values.weight[:heat], by_face])
    return dict(zip((*network.fixed, *network.heat), columns.T))


def _drawn_places(
    c: Circuit,
    surfaces: SectionSurfaces,
    weight: Mapping[str, Array],
    node: Mapping[str, str],
    inside: Sequence[str],
    count: float,
) -> ColdPlaces:
    """The surfaces of `count` sections in their environments `inside`. `weight` (K,) has each terminal's share in the
    temperatures of all places, `node` what each terminal belongs to."""
    environments, places = {e.name: e for e in surfaces.section.environments}, surfaces.finest.places
    convective = np.array([_convective(environments[air]) if air in inside else 0.0 for _, air in places.pairs])
    film = convective[places.pair]
    on = film > 0
    weights = np.zeros((int(on.sum()), len(c.nodes)))
    for terminal, of_places in weight.items():
        weights[:, c.number(node[terminal])] += of_places[on]
    conductance = count * film[on] * places.area[on]
    total, airs = float(conductance.sum()), [c.number(n) for n in {node[name] for name in inside}]
    own = float(conductance @ weights[:, airs].sum(1)) / total**2 if total else 0.0
    return ColdPlaces(COLD_SINK, weights, conductance, own)


def _convective(e: Environment) -> float:
    """W/(m2 K) of a film without its radiation, as far as that is known; 0 of one without a limit."""
    if not math.isfinite(e.film):
        return 0.0
    if e.film_from is None:
        return e.film
    return e.film * e.film_from.convective / (e.film_from.convective + e.film_from.radiative)


@dataclass(frozen=True)
class _Air:
    """What one set of the nodes' temperatures makes of the air inside."""

    temperature: float  # degC
    ratio: float
    exchanged: float  # kg/s
    evaporated: float  # kg/s
    settled: tuple[Settled, ...]
    latent: float  # W
    taken: float  # W
    heat: Array  # (N,) W into the nodes
    own: Array  # (things,) K by which each of the cold things is warmer, wet

    @property
    def water(self) -> float:
        """kg/s that settle."""
        return sum(s.frozen + s.drained for s in self.settled)

    @property
    def settling_point(self) -> float:
        """degC"""
        return float(moist.settling_point(moist.pressure_of_ratio(self.ratio)))

    @property
    def humidity(self) -> float:
        """%"""
        return float(moist.relative_humidity(self.temperature, moist.pressure_of_ratio(self.ratio)))


def _air(c: Circuit, places: list[ColdPlaces], t: Array, own: Array) -> _Air:
    """The water balance at temperatures (N,) of the nodes, its latent heat, and how much warmer that makes what is
    wet."""
    cabinet, air, kept = c.cabinet, float(t[c.number(c.air)]), c.cabinet.inside_humidity
    room = cabinet.room_pressure
    passing = sum(p.conductance for p in c.paths if p.kind == "air exchange") / (AIR_HEAT * AIR_DENSITY)  # m3/s
    pressure = min(room, float(moist.saturation_over_water(air)))
    surface = [p.weights @ t + kelvin for p, kelvin in zip(places, own)]
    balance = water_balance(
        air,
        [(p.conductance, on) for p, on in zip(places, surface)],
        float(moist.humidity_ratio(room)),
        passing * float(moist.dry_density(air, pressure)),
        cabinet.load.moisture,
        None if kept is None else float(moist.humidity_ratio(moist.vapour_pressure(air, kept))),
    )
    settled, heat, warmer, latent = [], np.zeros(len(t)), np.zeros(len(places)), 0.0
    for k, (p, on, rate) in enumerate(zip(places, surface, balance.settling)):
        if rate.any():
            watts, share = rate * moist.latent_heat(on), moist.frozen_share(on)
            settled.append(Settled(p.name, float(rate @ share), float(rate @ (1 - share))))
            heat += p.heat(watts)
            warmer[k] = p.own * watts.sum()
            latent += float(watts.sum())
    if balance.rest:
        ice, given = float(moist.frozen_share(air)), balance.rest * float(moist.evaporation_heat(air))
        settled.append(Settled(ANYWHERE, balance.rest * ice, balance.rest * (1 - ice)))
        heat[c.number(c.air)] += given
        latent += given
    source = c.load if kept is None else c.air_shares
    taken = max(balance.evaporated, 0.0) * float(moist.evaporation_heat(t @ source))
    heat -= taken * source
    return _Air(air, balance.ratio, balance.exchanged, balance.evaporated, tuple(settled), latent, taken, heat, warmer)


# ---- surfaces, and how far they are from sweating --------------------------------------------------------------------


@dataclass(frozen=True)
class _Point:
    """Air: its temperature, and the point (degC) at which water settles from it, with its band."""

    temperature: float
    settles: float
    band: float


@dataclass(frozen=True)
class _Coldest:
    """The coldest place of one thing on one side, before it is compared with that side's air."""

    side: str
    name: str
    part: str
    lowest: float
    band: float
    factor: float = math.nan


def _surface(s: _Coldest, air: _Point) -> CoolSurface:
    from_humidity, *ends = (
        float(moist.relative_humidity(air.temperature, moist.saturation_on_surface(s.lowest + k * s.band)))
        for k in (0, -1, 1)
    )
    margin, band = s.lowest - air.settles, s.band + air.band
    return CoolSurface(
        s.side, s.name, s.part, s.lowest, s.band, margin, band, from_humidity, (ends[1] - ends[0]) / 2, s.factor
    )


def _lumped_surfaces(c: Circuit, point: OperatingPoint) -> Iterator[_Coldest]:
    """Both faces of the walls, the load, and a cold sink that is not drawn."""
    cabinet = c.cabinet
    t, band = (np.array([of[name] for name in c.names]) for of in (point.temperature, point.band))
    for side, kind in ((OUTSIDE, "wall"), (INSIDE, "lining")):
        for wall, zone, share in ((w, z, s) for w in cabinet.walls for z, s in cabinet.wall_shares(w).items()):
            if area := cabinet.wall_area(wall) * share:
                name = named(cabinet, wall.name, zone)
                weights = _face_of_wall(
                    c, name, kind, area * (wall.film_outside if side == OUTSIDE else wall.film_inside)
                )
                lowest, air = float(weights @ t), point.temperature[zone]
                span = cabinet.room - air
                factor = (lowest - air) / span if side == OUTSIDE and span else math.nan
                yield _Coldest(side, name, "", lowest, float(abs(weights) @ band), factor)
    nodes = {n.name: n.name for n in c.nodes if n.kind == LOAD}
    if isinstance(cabinet.bank.cold_sink, Sink):
        nodes[COLD if cabinet.bank.file is None else COLD_AIR] = COLD_SINK
    for node, name in nodes.items():
        yield _Coldest(INSIDE, name, "", point.temperature[node], point.band[node])


def _drawn_surfaces(
    c: Circuit, sections: LumpedSections, point: OperatingPoint, warmer: Mapping[str, float]
) -> Iterator[_Coldest]:
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
        found = _surfaces_of(sections, file).lowest(terminals)
        for side, airs in sides.items():
            coldest = min(((v, b, part) for (part, e), (v, b) in found.items() if e in airs), default=None)
            if coldest is not None and math.isfinite(coldest[0]):
                value, b, part = coldest
                inside = side == INSIDE
                yield _Coldest(side, names[file], part, value + inside * wet, b + (band if inside or own else 0.0))


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


def unlikely_moisture(c: Circuit) -> list[str]:
    """A warning where the load is to give off more water than it can: its surface would be below the dew point."""
    moisture, grams = c.moisture, 86400e3 * c.cabinet.load.moisture
    if moisture is None or not grams:
        return []
    load = _coldest_load(moisture)
    if load.margin > load.margin_band:
        return []
    return [_too_moist(grams, load)]


def impossible_moisture(c: Circuit) -> str:
    """A sentence where what the load is to give off makes it so cold that no answer means anything; else empty."""
    grams = 86400e3 * c.cabinet.load.moisture
    load = None if c.moisture is None or not grams else _coldest_load(c.moisture)
    if load is None or load.margin > -FAR_BELOW:
        return ""
    return f"{_too_moist(grams, load)}; no answer means anything with so much, give less"


def _coldest_load(moisture: Moisture) -> CoolSurface:
    return next(s for s in moisture.always_on.surfaces if s.side == INSIDE and s.name.startswith(LOAD))


def _too_moist(grams: float, load: CoolSurface) -> str:
    return (
        f"load, moisture: it can hardly give off {grams:.4g} g of water a day, as its surface, at {load.lowest:.3g} "
        "degC, would be no warmer than the dew point of the air inside"
    )
