"""Air that is driven: along a plate, between fins, down onto fins; from dimensions, and a speed or a fan, to a film."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

from fdm.errors import InputError, require_types
from fdm.surroundings.air import Air, air_at, notes, rayleigh
from fdm.surroundings.channels import (
    BEND_LOSS,
    LAMINAR,
    TURBULENT,
    channel_film,
    flow_at,
    pressure_drop,
    reynolds,
    speed_at,
    speed_in_free_stream,
)
from fdm.surroundings.fans import HOUR, Fan, at_density, flow_with_more_drop, operating_points
from fdm.surroundings.film import (
    FACE,
    USED_ALL_THE_SAME,
    Conditions,
    Film,
    Number,
    combined,
    doubled_outside,
    outside,
    require_positive,
)
from fdm.surroundings.finned import finned, walls
from fdm.surroundings.fins import FinArray
from fdm.surroundings.forced import plate_disturbed, plate_laminar
from fdm.surroundings.natural import channel
from fdm.surroundings.radiation import radiative_film

PLATE, UNDISTURBED = 0.15, 0.10  # relative standard uncertainties
CHANNELS = 0.06  # three published forms differ by 11 % in the worked sink
DROP, BYPASS, FREE_STREAM, IMPINGING = 0.10, 0.08, 0.3, 0.10  # of pressure drop, film, speed, film
NOTHING: tuple[str, ...] = ()
BUOYANT = 0.5  # share of natural convection beside the forced one from which a note is due
NO_SPEED = "give exactly one of speed (between the fins), approach, volume_flow and fan"


@dataclass(frozen=True)
class AlongPlate:
    """Air of a `speed` (m/s) along a face, `length` long in its direction (m); `undisturbed` where no fan and no blunt
    edge is before it."""

    length: float
    speed: float
    undisturbed: bool = False

    def __post_init__(self) -> None:
        require_types(self)
        require_positive("length", self.length)
        require_positive("speed", self.speed)

    def film(self, at: Conditions) -> Film:
        air = air_at(at.mean, at.altitude)
        re, pr = float(reynolds(air, self.speed, self.length)), float(air.prandtl)
        if self.undisturbed:
            nu, unsure, relation = float(plate_laminar(re, pr)), UNDISTURBED, "laminar plate, 0.664 Re^(1/2) Pr^(1/3)"
            beyond = outside("Re", re, 1e3, 5e5, USED_ALL_THE_SAME)
        else:
            nu, unsure, relation = float(plate_disturbed(re, pr)), PLATE, "disturbed plate, VDI Heat Atlas"
            beyond = outside("Re", re, 10, 1e7, USED_ALL_THE_SAME)
        told = (*notes(air), *beyond)
        if at.surface is not None:
            buoyancy = float(rayleigh(air, at.surface - at.temperature, self.length)) / pr / re**2
            if buoyancy > 0.1:
                told += (f"Gr/Re2 is {buoyancy:.2g}, above 0.1: natural convection, not counted, matters too",)
        convective, radiative = nu * float(air.conductivity) / self.length, 0.0
        if at.emissivity is not None:
            radiative = float(radiative_film(at.emissivity, at.needed_surface("radiation"), at.temperature))
        unsure = combined(convective, doubled_outside(unsure, beyond), radiative)
        numbers = (Number("reynolds", "Re", re), Number("nusselt", "Nu", nu))
        return Film(convective + radiative, unsure, convective, radiative, FACE, relation, numbers, told)


@dataclass(frozen=True)
class Channels:
    """Air driven through the channels between fins: by a `speed` between them (m/s), an `approach` speed before them, a
    `volume_flow` (m3/s) or a `fan`.

    All of it goes between the fins; or passes a duct that is higher than they are by a `clearance` (m); or the fins
    stand `open` in a stream of the approach speed. `conductivity` of the fins asks for the film of the base.
    """

    fins: FinArray
    speed: float | None = None
    approach: float | None = None
    volume_flow: float | None = None
    fan: Fan | None = None
    clearance: float = 0.0
    open: bool = False
    conductivity: float | None = None

    def __post_init__(self) -> None:
        require_types(self)
        if sum(x is not None for x in (self.speed, self.approach, self.volume_flow, self.fan)) != 1:
            raise InputError(f"channels: {NO_SPEED}")
        for key in ("speed", "approach", "volume_flow", "conductivity"):
            require_positive(key, getattr(self, key))
        require_positive("clearance", self.clearance, or_zero=True)
        _require_width(self.fins, self.volume_flow, self.fan)
        if self.open and self.approach is None:
            raise InputError("open: fins that stand free in a stream need its speed; give approach (m/s)")
        if self.open and self.clearance:
            raise InputError("open: a clearance belongs to a duct; give one of them")

    def film(self, at: Conditions) -> Film:
        air, fins = air_at(at.temperature, at.altitude), self.fins
        speed, told = self._speed(air)
        film, film_unsure = float(channel_film(air, fins, speed)), CHANNELS
        through = speed * fins.flow_area
        whole = math.nan if self.open else flow_at(air, fins, self.clearance, speed)
        if self.open:
            film_unsure = math.hypot(
                CHANNELS, abs(float(channel_film(air, fins, speed * (1 + FREE_STREAM))) / film - 1)
            )
        elif self.clearance:
            film_unsure = math.hypot(CHANNELS, BYPASS)
        if self.fan is not None:
            less = flow_with_more_drop(
                at_density(self.fan, float(air.density)), partial(self.drop_at, air), whole, DROP
            )
            slower = float(channel_film(air, fins, speed_at(air, fins, self.clearance, less)))
            film_unsure = math.hypot(film_unsure, slower / film - 1)
        numbers, beyond = _in_between(air, fins, speed, film)
        drop = Number("pressure_drop", "pressure drop", float(pressure_drop(air, fins, speed)), "Pa")
        numbers = (
            Number("speed", "speed between the fins", speed, "m/s"),
            *([Number("volume_flow", "flow between the fins", HOUR * through, "m3/h")] if fins.count else []),
            *([Number("share", "share of the flow between the fins", through / whole)] if self.clearance else []),
            *([] if self.open else [drop]),
            *numbers,
        )
        told = (*notes(air), *told, *beyond, *_buoyancy(at, fins, film))
        relation = "Teertstra, Yovanovich and Culham 2000"
        unsure = doubled_outside(film_unsure, beyond)
        return finned(fins, at, self.conductivity, walls(film, unsure, relation, numbers, told))

    def with_flow(self, volume_flow: float) -> "Channels":
        """The same fins in a given flow (m3/s) through their duct."""
        return replace(self, speed=None, approach=None, fan=None, volume_flow=volume_flow)

    def drop_at(self, air: Air, volume_flow: float) -> float:
        """Pa, at a flow (m3/s) through the duct."""
        return float(pressure_drop(air, self.fins, speed_at(air, self.fins, self.clearance, volume_flow)))

    def _speed(self, air: Air) -> tuple[float, tuple[str, ...]]:
        """The speed between the fins, and notes."""
        fins, told = self.fins, NOTHING
        if self.speed is not None:
            return self.speed, ()
        if self.approach is not None and self.open:
            return speed_in_free_stream(air, fins, self.approach), (
                "fins that stand free in a stream: an estimate of what enters them, good to 30 %",
            )
        if self.approach is not None:
            flow = self.approach * fins.width * (fins.height + self.clearance)
        elif self.volume_flow is not None:
            flow = self.volume_flow
        else:
            assert self.fan is not None
            flow, told = _met(self.fan, air, partial(self.drop_at, air))
        return speed_at(air, fins, self.clearance, flow), told


@dataclass(frozen=True)
class Impinging:
    """A fan, or a `volume_flow` (m3/s), that blows down onto fins; the air leaves at both ends."""

    fins: FinArray
    volume_flow: float | None = None
    fan: Fan | None = None
    conductivity: float | None = None

    def __post_init__(self) -> None:
        require_types(self)
        if (self.volume_flow is None) == (self.fan is None):
            raise InputError("impinging: give exactly one of volume_flow and fan")
        require_positive("volume_flow", self.volume_flow)
        require_positive("conductivity", self.conductivity)
        if self.fins.count is None:
            raise InputError("width: missing; how the flow is shared among the channels depends on it")

    @property
    def half(self) -> FinArray:
        """The fins as far as one half of the air passes them."""
        return replace(self.fins, length=self.fins.length / 2)

    def film(self, at: Conditions) -> Film:
        air, half = air_at(at.temperature, at.altitude), self.half
        told: tuple[str, ...] = ()
        if self.volume_flow is not None:
            flow = self.volume_flow
        else:
            assert self.fan is not None
            flow, told = _met(self.fan, air, partial(self.drop_at, air))
        leaving = flow / 2 / half.flow_area
        high, low = (float(channel_film(air, half, u)) for u in (leaving, leaving / 2))
        film = (high + low) / 2
        unsure = math.hypot((high - low) / film / math.sqrt(12), IMPINGING)
        numbers, beyond = _in_between(air, half, leaving, film, ends=2)
        numbers = (
            Number("volume_flow", "flow", HOUR * flow, "m3/h"),
            Number("speed", "speed where it leaves the fins", leaving, "m/s"),
            Number("pressure_drop", "pressure drop", self.drop_at(air, flow), "Pa"),
            Number("film_low", "film with half that speed", low, "W/(m2 K)"),
            Number("film_high", "film with all of it", high, "W/(m2 K)"),
            *numbers,
        )
        said = "air blown down onto fins: the middle between two bounds; the dead zone below a hub is not in it"
        told = (*notes(air), *told, said, *beyond, *_buoyancy(at, self.fins, film))
        relation = "Teertstra, Yovanovich and Culham 2000, in each half"
        unsure = doubled_outside(unsure, beyond)
        return finned(self.fins, at, self.conductivity, walls(film, unsure, relation, numbers, told))

    def with_flow(self, volume_flow: float) -> "Impinging":
        return replace(self, fan=None, volume_flow=volume_flow)

    def drop_at(self, air: Air, volume_flow: float) -> float:
        """Pa, at a flow (m3/s): a bend, a contraction, friction and exit of each half."""
        half = self.half
        entrance = BEND_LOSS + 0.42 * (1 - half.open_share)
        return float(pressure_drop(air, half, volume_flow / 2 / half.flow_area, entrance))


def _require_width(fins: FinArray, volume_flow: float | None, fan: Fan | None) -> None:
    if fins.count is None and (volume_flow is not None or fan is not None):
        raise InputError("width: missing; how the flow is shared among the channels depends on it")


def _met(fan: Fan, air: Air, drop: Callable[[float], float]) -> tuple[float, tuple[str, ...]]:
    """The flow (m3/s) of a fan against a drop, and notes on it."""
    flows = operating_points(at_density(fan, float(air.density)), drop)
    told: tuple[str, ...] = ()
    if len(fan.flow) == 2:
        told += ("a straight line between free flow and shut-off pressure stands for the fan's curve",)
    if len(flows) > 1:
        told += (
            f"the fan's curve is met at {', '.join(f'{HOUR * q:.3g}' for q in flows)} m3/h: the least is taken; "
            + "the fan may swing between them",
        )
    return flows[0], told


def _in_between(
    air: Air, fins: FinArray, speed: float, film: float, ends: int = 1
) -> tuple[tuple[Number, ...], tuple[str, ...]]:
    """Reynolds and Nusselt numbers of channels and how much the air warms; notes on what is outside of a range. The air
    leaves at so many `ends`, each with this speed."""
    re = float(reynolds(air, speed, fins.hydraulic_diameter))
    star = float(speed * fins.gap**2 / (air.kinematic_viscosity * fins.length))
    capacity = float(air.density * air.specific_heat) * speed * fins.flow_area * ends
    numbers = [
        Number("reynolds", "Re, of the hydraulic diameter", re),
        Number("channel_reynolds", "Re*, of the gap, times gap over length", star),
        Number("nusselt", "Nu, of the gap", film * fins.gap / float(air.conductivity)),
    ]
    if fins.count is not None:
        numbers.append(Number("air_rise", "warming of the air, in the film already", 1 / capacity, "K/W"))
    told = outside("Re*", star, 0.1, 100, USED_ALL_THE_SAME)
    if star < 0.1:
        told = ()  # air that leaves as warm as the fins: exact
    told += outside("gap over height", fins.gap / fins.height, 0, 0.5, USED_ALL_THE_SAME)
    if re > LAMINAR:
        where = "between laminar and turbulent" if re < TURBULENT else "turbulent (Gnielinski)"
        told += (f"Re {re:.4g} is above {LAMINAR:g}: the flow is {where}, and its uncertainty doubled",)
    return tuple(numbers), told


def _buoyancy(at: Conditions, fins: FinArray, film: float) -> tuple[str, ...]:
    if at.surface is None or at.surface == at.temperature:
        return ()
    air = air_at(at.mean, at.altitude)
    elenbaas = float(rayleigh(air, at.surface - at.temperature, fins.gap)) * fins.gap / fins.length
    alone = float(channel(elenbaas)) * float(air.conductivity) / fins.gap
    if alone < BUOYANT * film:
        return ()
    return (f"still air alone would give upright fins {alone:.2g} W/(m2 K): natural convection is not counted here",)
