"""What moisture does in a cabinet: what sweats outside, what settles inside, and the latent watts of that.

Water that settles on a cold surface gives its latent heat off there, and what evaporates takes it from the load, or
from the air where that is kept moist. Both are heat into the circuit's nodes, so the state is looked for
again and again, until nothing changes.

With zones of air, all of it is taken as equally moist, by mass: much more air passes between zones than comes in. What
latent heat a drawn sink leaves to the air enters the zone that the air comes from, and not the one behind the sink.

Drawn surfaces are read place by place (`cold_places`); wet, all of one section are warmer by what the latent watts do
at their films as if they were at one temperature. The surfaces of other sections and of the room are read for whether
they sweat (`sweating`), and what settles on them is left out.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np

from fdm.cabinet.circuit import Array, Circuit
from fdm.cabinet.cold_places import cold_places
from fdm.cabinet.following import circuit_at_work
from fdm.cabinet.model import Cabinet
from fdm.cabinet.nodes import AIR_DENSITY, AIR_HEAT, LOAD, air_density
from fdm.cabinet.quantities import numbered
from fdm.cabinet.sections import LumpedSections
from fdm.cabinet.settling import ANYWHERE, ColdPlaces, CoolSurface, MoistAir, Moisture, Settled, water_balance
from fdm.cabinet.sides import INSIDE, OUTSIDE
from fdm.cabinet.steady import OperatingPoint, operating_point, settle
from fdm.cabinet.sweating import AirState, cool_surface, drawn_surfaces, lumped_surfaces
from fdm.surroundings import moist

STEPS = 40
CLOSED = 1e-9  # W of latent heat, and as a share of it
FAR_BELOW = 10.0  # K below the dew point: a load that is to be so much colder cannot give off what it is said to
NEARLY = 1e-4  # W that an iteration may leave open where it ends
KEPT = 5  # states from which the next one is guessed

Wanted = Callable[[Array], tuple["_Air", Array]]


def with_moisture(dry: Circuit, sections: LumpedSections, bands: bool = True) -> Circuit:
    """A circuit with the latent heat of water in its nodes, that of the state with the modules always on, and what
    there is to say of moisture; as it is where the room's humidity is not known. Without `bands`, those of the water
    and of the air's humidity are 0, which saves a third of the time.

    Raises ArithmeticError where there is no steady state.
    """
    cabinet = dry.cabinet
    if not cabinet.moist:
        return dry
    states = _States(dry, sections, bands)
    found, always_on, point = states.settled({})
    held = point.temperature[dry.air] <= cabinet.setpoint
    at_setpoint = states.settled({dry.air: cabinet.setpoint})[1] if held else None
    room = cabinet.room_pressure
    humidity, settles = float(moist.relative_humidity(cabinet.room, room)), float(moist.settling_point(room))
    return replace(found, moisture=Moisture(humidity, settles, always_on, at_setpoint))


def with_latent_heat(dry: Circuit, sections: LumpedSections) -> Circuit:
    """The same, without what there is to say of moisture: what films and flows follow."""
    return _States(dry, sections, bands=False).settled_wet({})[0] if dry.cabinet.moist else dry


def moist_circuit_at_work(cabinet: Cabinet, sections: LumpedSections, bands: bool = True) -> Circuit:
    """The circuit of a cabinet with its moisture, whose films and flows follow where it settles.

    Raises InputError where they do not settle, ArithmeticError where there is no steady state.
    """
    return with_moisture(circuit_at_work(cabinet, sections, wet=with_latent_heat), sections, bands)


@dataclass(frozen=True)
class _States:
    """The steady states of a circuit that has no latent heat in its nodes yet."""

    c: Circuit
    sections: LumpedSections
    bands: bool

    def settled(self, held: Mapping[str, float]) -> tuple[Circuit, MoistAir, OperatingPoint]:
        """The circuit with the latent heat of a steady state with some nodes `held`, and that state."""
        wet, places, found = self.settled_wet(held)
        point = operating_point(wet, wet.cabinet.bank.supply, held)
        return wet, self._described(wet, places, point, found), point

    def settled_wet(self, held: Mapping[str, float]) -> tuple[Circuit, list[ColdPlaces], "_Air"]:
        """The circuit with the latent heat of that state, its cold places, and its air."""
        c, places, supply = self.c, list(cold_places(self.c, self.sections)), self.c.cabinet.bank.supply
        nodes = len(c.nodes)
        temperatures: Array | None = None

        def wanted(now: Array) -> tuple[_Air, Array]:
            """The air with latent heat and own warming `now`, and by how much these would have to change."""
            nonlocal temperatures
            temperatures = settle(_with_heat(c, now[:nodes]), supply, held, temperatures)
            found = _air(c, places, temperatures, now[nodes:])
            return found, np.concatenate([found.heat, found.own]) - now

        now = np.zeros(nodes + len(places))
        settled = _settled(wanted, now, nodes)
        if settled is None:
            settled = _settled(wanted, _nearer(wanted, now), nodes)
        if settled is None:
            raise ArithmeticError(
                "there is no steady state: the water that settles does not come to rest; look at the load's moisture "
                "(g a day), or at inside_humidity"
            )
        last, found = settled
        return _with_heat(c, last[:nodes]), places, found

    def _described(self, wet: Circuit, places: list[ColdPlaces], point: OperatingPoint, found: "_Air") -> MoistAir:
        """The state, with bands: those of the nodes' temperatures move the places, all alike."""
        c = self.c
        band = np.array([point.band[name] for name in c.names])
        t = np.array([point.temperature[name] for name in c.names])
        known = np.isfinite(band)  # what is not known of a node leaves all of it open
        lower, upper = found, found
        if self.bands:
            lower, upper = (_air(c, places, t + sign * np.where(known, band, 0.0), found.own) for sign in (-1, 1))
        unknown = math.inf if self.bands and not known.all() else 0.0
        point_band = abs(upper.settling_point - lower.settling_point) / 2 + unknown
        inside = AirState(found.temperature, found.settling_point, point_band)
        room = AirState(c.cabinet.room, float(moist.settling_point(c.cabinet.room_pressure)), 0.0)
        water_band = abs(upper.water - lower.water) / 2 + unknown
        warmer = {p.name: kelvin for p, kelvin in zip(places, found.own.tolist())}
        surfaces = [*lumped_surfaces(c, point), *drawn_surfaces(wet, self.sections, point, warmer)]
        names = {side: iter(numbered(s.name for s in surfaces if s.side == side)) for side in (INSIDE, OUTSIDE)}
        named = [replace(s, name=next(names[s.side])) for s in surfaces]
        return MoistAir(
            ratio=found.ratio,
            settling_point=inside.settles,
            point_band=inside.band,
            humidity=found.humidity,
            humidity_band=abs(upper.humidity - lower.humidity) / 2 + unknown,
            exchanged=found.exchanged,
            evaporated=found.evaporated,
            evaporated_band=0.0 if c.cabinet.inside_humidity is None else water_band,
            settled=found.settled,
            water_band=water_band,
            latent=found.latent,
            taken=found.taken,
            heat=found.heat,
            surfaces=tuple(cool_surface(s, inside if s.side == INSIDE else room) for s in named),
        )


def _settled(wanted: Wanted, now: Array, nodes: int) -> tuple[Array, "_Air"] | None:
    """Where nothing would have to change any more, from `now` on, with its air; None where that is not found."""
    tried, changes = list[Array](), list[Array]()
    for _ in range(STEPS):
        try:
            found, change = wanted(now)
        except ArithmeticError:
            if not tried:
                raise
            return None
        last = now
        if abs(change).max() <= CLOSED * (1 + abs(now[:nodes]).max()):
            return now, found
        tried, changes = [*tried, now][-KEPT:], [*changes, change][-KEPT:]
        now = _next(tried, changes)
    return (last, found) if abs(change).max() <= NEARLY else None


def _nearer(wanted: Wanted, now: Array) -> Array:
    """A state nearer to rest, by steps that are halved until each leaves less to change: for air that is kept moist and
    takes its heat from where little comes in, so that the first guesses are many times too large."""
    _, change = wanted(now)
    share = 1.0
    for _ in range(STEPS):
        further, left = now + share * change, None
        with suppress(ArithmeticError):  # so far away there is no steady state
            left = wanted(further)[1]
        if left is not None and np.linalg.norm(left) < np.linalg.norm(change):
            now, change, share = further, left, min(2 * share, 1.0)
        else:
            share /= 2
    return now


def _next(tried: Sequence[Array], changes: Sequence[Array]) -> Array:
    """What to try next where each of `tried` was found to need one of `changes`, by Anderson's method: the last one
    with its change, less what the earlier ones tell of how the change itself changes."""
    step = tried[-1] + changes[-1]
    if len(tried) == 1:
        return step
    by, moved = np.diff(changes, axis=0), np.diff(tried, axis=0)
    weights = np.linalg.lstsq(by.T, changes[-1], rcond=None)[0]
    return np.asarray(step - weights @ (moved + by))


def _with_heat(c: Circuit, heat: Array) -> Circuit:
    """The circuit with more watts (N,) given off inside its nodes."""
    return replace(c, nodes=tuple(replace(n, heat=n.heat + float(w)) for n, w in zip(c.nodes, heat)))


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
    density = air_density(cabinet)
    passing = sum(p.conductance for p in c.paths if p.kind == "air exchange") / (AIR_HEAT * density)  # m3/s
    thinner = AIR_DENSITY / density  # ratios are those at sea level; the same vapour is more of a thinner air
    pressure = min(room, float(moist.saturation_over_water(air)))
    surface = [p.weights @ t + kelvin for p, kelvin in zip(places, own)]
    balance = water_balance(
        air,
        [(p.conductance * thinner, on) for p, on in zip(places, surface)],
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
    source = c.load if kept is None else c.air_at_load
    taken = max(balance.evaporated, 0.0) * float(moist.evaporation_heat(t @ source))
    heat -= taken * source
    return _Air(air, balance.ratio, balance.exchanged, balance.evaporated, tuple(settled), latent, taken, heat, warmer)


def unlikely_moisture(c: Circuit) -> list[str]:
    """A warning where the load is to give off more water than it can: its surface would be below the dew point."""
    moisture, grams = c.moisture, 86400e3 * c.cabinet.load.moisture
    if moisture is None or not grams:
        return []
    load = _coldest_load(moisture)
    if load.margin > load.margin_band or load.margin <= -FAR_BELOW:  # so much is a failed check
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
