"""Zones of air inside a cabinet, and how air moves between them: what a file says of it.

A zone is a layer of the inside, given by its `height` from and to, or any other share of the air. It touches the walls
that its layer meets, or those named in its `walls`. An exchange carries air from one zone to another and as much back.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fdm.cabinet.checks import require_known, require_not_negative, require_positive
from fdm.errors import InputError, require_visible

AIR = "air"  # the name of all the air inside, where it is not cut into zones
SINK = "cold sink"
HOUR = 3600.0  # s; flows are given in m3/h
PLACES = (
    *("above ", "around ", "at ", "behind ", "below ", "beside "),
    *("between ", "in ", "near ", "on ", "over ", "under "),
)
CLOSED = 1e-6  # of a height, or of a share, by which a sum may be off


def air_in_words(zone: str) -> str:
    """A zone of air by its name.

    >>> air_in_words("air at the lid"), air_in_words("below the shelf"), air_in_words("drawer 2")
    ('air at the lid', 'air below the shelf', 'air in drawer 2')
    """
    if zone.split()[:1] == [AIR]:
        return zone
    return f"{AIR} {zone}" if zone.startswith(PLACES) else f"{AIR} in {zone}"


@dataclass(frozen=True)
class Zone:
    """Air of one temperature: a layer from and to a `height` (m) above the floor inside, or a `share` of the air.
    `walls` has shares of walls by their names, where a layer does not say it. `inside_heat` W is given off in it."""

    name: str
    height: tuple[float, float] | None = None
    share: float | None = None
    walls: tuple[tuple[str, float], ...] = ()
    inside_heat: float = 0.0

    def __post_init__(self) -> None:
        where = f"zone {self.name!r}"
        require_visible(where, self.name)
        if (self.height is None) == (self.share is None):
            raise InputError(f"{where}: give exactly one of height and share")
        if self.height is not None and not self.height[0] < self.height[1]:
            raise InputError(f"{where}, height: is empty or turned around; give [from, to], from the floor up")
        if self.share is not None and not 0 < self.share <= 1:
            raise InputError(f"{where}, share: {self.share:g} is not a share of the air inside, above 0 and at most 1")
        for wall, share in self.walls:
            if not 0 <= share <= 1:
                raise InputError(f"{where}, walls, {wall}: {share:g} is not a share of the wall, from 0 to 1")
        require_not_negative(f"{where}, inside_heat", self.inside_heat)


@dataclass(frozen=True)
class Exchange:
    """Air that moves from the first of two zones to the second, and as much back: `flow` m3/s, by a fan or as given.

    `along` the "cold sink": on its way there it passes the sink. With the sink's `height` and its `perimeter`, the
    width over which air touches it (m), air also flows by itself, times a `factor`; between fins that stand a `gap` (m)
    apart.
    """

    name: str
    between: tuple[str, str]
    flow: float = 0.0
    along: str | None = None
    height: float | None = None
    perimeter: float | None = None
    gap: float | None = None
    factor: float = 1.0

    def __post_init__(self) -> None:
        where = f"exchange {self.name!r}"
        require_visible(where, self.name)
        if self.along is not None:
            require_known(f"{where}, along", self.along, (SINK,), "thing that air can pass")
        require_not_negative(f"{where}, flow", HOUR * self.flow)
        if self.between[0] == self.between[1]:
            raise InputError(f"{where}, between: names {self.between[0]!r} twice; name two zones")
        natural = self.height is not None
        for key in ("height", "perimeter", "gap"):
            value = getattr(self, key)
            if value is not None:
                require_positive(f"{where}, {key}", value)
                if not natural or not self.along_sink:
                    raise InputError(f'{where}, {key}: belongs to along = "cold sink" with its height and perimeter')
        require_not_negative(f"{where}, factor", self.factor)
        if natural and self.perimeter is None:
            raise InputError(f"{where}, perimeter: missing; give the width over which the air touches the sink")
        if self.along_sink and not self.moves:
            raise InputError(f"{where}: no air passes the cold sink; give its flow, or the sink's height and perimeter")

    @property
    def along_sink(self) -> bool:
        return self.along == SINK

    @property
    def moves(self) -> bool:
        """Whether there is any flow."""
        return self.flow > 0 or (self.height is not None and self.factor > 0)


@dataclass(frozen=True)
class Facing:
    """How the load faces the cold plate: `area` m2, a `gap` of air (m), both emissivities."""

    area: float
    gap: float
    emissivity: tuple[float, float]

    def __post_init__(self) -> None:
        for key in ("area", "gap"):
            require_positive(f"load, cold_plate, {key}", getattr(self, key))
        for value in self.emissivity:
            if not 0 < value <= 1:
                raise InputError(f"load, cold_plate, emissivity: {value:g} is not above 0 and at most 1")


def air_shares(zones: Sequence[Zone], height: float) -> dict[str, float]:
    """The share of each zone in the air inside: as given, and of the rest by the heights of the layers."""
    rest = 1 - sum(z.share for z in zones if z.share is not None)
    return {z.name: z.share if z.share is not None else rest * _part(z, height) for z in zones}


def _part(zone: Zone, height: float) -> float:
    """Of the height that a layer takes."""
    assert zone.height is not None
    return (zone.height[1] - zone.height[0]) / height


def wall_shares(wall: str, areas: Mapping[str, float], zones: Sequence[Zone], height: float) -> dict[str, float]:
    """The share of each zone in a wall: as named in the zone's `walls`, and of the rest by what the layers have of its
    faces; `areas` has the m2 of these, none where the wall only has an area, which is taken to go from bottom to top.

    Raises InputError where the shares come to more than the wall, or to less with no layer to take the rest.

    >>> lower, upper = Zone("lower", (0, 0.1)), Zone("upper", (0.1, 0.4))
    >>> wall_shares("sides", {"left": 0.2, "bottom": 0.1}, (lower, upper), 0.4)
    {'lower': 0.5, 'upper': 0.5}
    """
    named = {z.name: dict(z.walls)[wall] for z in zones if wall in dict(z.walls)}
    areas = areas or {"left": 1.0}
    whole = sum(areas.values())
    layers = {
        z.name: sum(area * _face_share(z.height, face, height) for face, area in areas.items()) / whole
        for z in zones
        if z.height is not None and z.name not in named
    }
    rest, met = 1 - sum(named.values()), sum(layers.values())
    if rest < -CLOSED or (rest > CLOSED and not met):
        raise InputError(
            f"wall {wall!r}: the zones have {100 * (1 - rest):.4g} % of it; give shares in their walls that come to 1"
        )
    by_layer = {name: max(rest, 0.0) * share / met if met else 0.0 for name, share in layers.items()}
    return {name: share for name, share in (by_layer | named).items() if share}


def _face_share(layer: tuple[float, float], face: str, height: float) -> float:
    low, high = layer
    if face == "bottom":
        return float(low <= CLOSED * height)
    if face == "top":
        return float(high >= (1 - CLOSED) * height)
    return (high - low) / height


def layer_pairs(zones: Sequence[Zone]) -> list[tuple[str, str, float]]:
    """Layers that lie on each other, the lower one first, with the metres between their middles."""
    layers = sorted((z.height, z.name) for z in zones if z.height is not None)
    return [(below, above, (high[1] - low[0]) / 2) for (low, below), (high, above) in pairwise(layers)]


def check_zones(zones: Sequence[Zone], exchanges: Sequence[Exchange], height: float, walls: Collection[str]) -> None:
    """Raise InputError unless the layers fill the height, the shares the air, and every zone is joined to another."""
    names = [z.name for z in zones]
    if exchanges and len(zones) < 2:
        raise InputError(f"exchange {exchanges[0].name!r}: there is no other zone; give each a [[zone]], or none")
    layers = sorted((z.height, z.name) for z in zones if z.height is not None)
    reached = 0.0
    for (low, high), name in layers:
        if abs(low - reached) > CLOSED * height:
            raise InputError(
                f"zone {name!r}, height: begins at {low:g} m, but the layers below end at {reached:g} m; let them "
                f"follow one another from 0 to the {height:g} m inside"
            )
        reached = high
    if layers and abs(reached - height) > CLOSED * height:
        raise InputError(
            f"zone {layers[-1][1]!r}, height: ends at {reached:g} m, but the inside is {height:g} m high; let the "
            "layers reach from the floor to the lid"
        )
    given = sum(z.share for z in zones if z.share is not None)
    if zones and not (CLOSED < 1 - given if layers else abs(1 - given) <= CLOSED):
        wanted = "leave some for the layers" if layers else "let them come to 1"
        raise InputError(f"zone: the shares come to {given:g} of the air inside; {wanted}")
    for zone in zones:
        for wall, _ in zone.walls:
            require_known(f"zone {zone.name!r}, walls", wall, walls, "wall")
    for x in exchanges:
        for name in x.between:
            require_known(f"exchange {x.name!r}, between", name, names, "zone")
    floor = {z.name: z.height[0] for z in zones if z.height is not None}
    for x in exchanges:
        above, below = x.between
        if x.height is not None and floor.get(above, height) < floor.get(below, 0.0):
            raise InputError(
                f"exchange {x.name!r}, between: air sinks along a cold sink, but {above!r} lies below {below!r}; name "
                "the upper one first"
            )
    along = [x.name for x in exchanges if x.along_sink]
    if len(along) > 1:
        raise InputError(f"exchange {along[1]!r}, along: {along[0]!r} passes the cold sink already; let one do so")
    joined = [*(x.between for x in exchanges if x.moves), *(pair[:2] for pair in layer_pairs(zones))]
    with_air = set(names[:1])
    while more := {name for pair in joined if with_air & set(pair) for name in pair} - with_air:
        with_air |= more
    for name in names:
        if name not in with_air:
            raise InputError(f"zone {name!r}: no air gets there from {names[0]!r}; join it by an [[exchange]]")
